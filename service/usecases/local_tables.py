"""Published tables of an organisation: the one that holds, earlier ones, and the way back.

Inside: reading, adding a revision, publishing an earlier one again. Outside: where its rows come from
(`refinement`), how it is laid over the base table.
"""

from collections.abc import Sequence
from datetime import datetime

from service.errors import Contradiction, NotFound, Stale
from service.store import Session, audit, organisations
from service.store import refinements as rows
from service.store.tables_local import LocalRevision
from service.usecases.access import Caller
from service.usecases.local_documents import canonical, digest_of, read_table, written_rows
from service.usecases.local_types import LocalRow, LocalTable


def active(session: Session, organisation_id: int, number: int | None = None) -> LocalTable | None:
    """Return the table that holds, or the one of a number; None where nothing was published."""
    found = rows.active(session, organisation_id) if number is None else rows.revision(session, organisation_id, number)
    return None if found is None else read_table(found.document, found.digest)


def history(session: Session, organisation: str) -> Sequence[LocalRevision]:
    """Return every published revision, newest first.

    Raises
    ------
    NotFound
        If there is no such organisation.
    """
    return rows.revisions(session, _organisation(session, organisation))


def revision(session: Session, organisation: str, number: int | None = None) -> LocalRevision:
    """Return a published revision, without a number the one that holds.

    Raises
    ------
    NotFound
        If there is no such organisation, or no such revision.
    """
    ident = _organisation(session, organisation)
    found = rows.active(session, ident) if number is None else rows.revision(session, ident, number)
    if found is None:
        raise NotFound
    return found


def _organisation(session: Session, name: str) -> int:
    found = organisations.organisation_named(session, name)
    if found is None:
        raise NotFound
    return found.id


def add_revision(
    session: Session,
    organisation_id: int,
    organisation: str,
    table_rows: Sequence[LocalRow],
    base: tuple[str, str],
    now: datetime,
    by: str,
    *,
    from_refinement: int | None = None,
    repeats: int | None = None,
) -> LocalTable:
    """Publish rows as the next revision; `base` is revision and digest of the base table."""
    held = rows.active(session, organisation_id)
    number = 1 if held is None else held.number + 1
    text = canonical(
        {
            "organisation": organisation,
            "number": number,
            "base_revision": base[0],
            "base_digest": base[1],
            "published_at": now.isoformat(),
            "published_by": by,
            "from_draft": from_refinement,
            "repeats": repeats,
            "rows": written_rows(table_rows),
        }
    )
    kept = rows.publish(
        session,
        organisation_id,
        number,
        text,
        digest_of(text),
        now,
        by,
        from_refinement=from_refinement,
        repeats=repeats,
    )
    return read_table(kept.document, kept.digest)


def roll_back(
    session: Session, caller: Caller, organisation: str, number: int, newest: int, now: datetime
) -> LocalTable:
    """Publish an earlier revision again, as the newest one, if the revision `newest` still holds.

    Raises
    ------
    ScopeMissing
        If the key is not one to review.
    NotFound
        If the organisation is not the caller's, or has no such revision.
    Stale
        If another one holds by now.
    Contradiction
        If it is the one that holds.
    """
    caller.needs("review")
    if organisation != caller.organisation:
        raise NotFound
    rows.hold(session, caller.organisation_id)
    held, wanted = active(session, caller.organisation_id), active(session, caller.organisation_id, number)
    if wanted is None or held is None:
        raise NotFound
    if held.number != newest:
        raise Stale
    if wanted.number == held.number:
        raise Contradiction(["number"], "reason.revision_holds")
    made = add_revision(
        session,
        caller.organisation_id,
        organisation,
        wanted.rows,
        (wanted.base_revision, wanted.base_digest),
        now,
        caller.actor,
        repeats=number,
    )
    audit.record(
        session,
        now,
        organisation_id=caller.organisation_id,
        actor=caller.actor,
        action="revision published again",
        subject=f"revision {number}",
        revision=made.number,
        digest=made.digest,
    )
    return made
