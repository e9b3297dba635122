"""Drafts, decisions and published revisions, as statements.

Inside: rows in and out, always of one organisation; a draft is changed only by who holds its version. Outside:
what may be decided (`usecases.refinement`).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import CursorResult, func, select, update
from sqlalchemy.orm import Session

from service.store.tables import Member, Organisation
from service.store.tables_local import (
    LocalRevision,
    Refinement,
    RefinementDecision,
    RefinementEvidence,
)


@dataclass(frozen=True, slots=True)
class Standing:
    """How a contributor stands in a draft; one who was erased since is not there."""

    crop: str
    machine_class: str
    pseudonym: str
    told: dict[str, Any]


def hold(session: Session, organisation_id: int) -> None:
    """Keep others from making drafts and revisions of an organisation until the transaction ends."""
    session.execute(select(Organisation.id).where(Organisation.id == organisation_id).with_for_update(key_share=True))


def next_number(session: Session, organisation_id: int) -> int:
    """Return the number of the next draft."""
    query = select(func.max(Refinement.number)).where(Refinement.organisation_id == organisation_id)
    return (session.scalar(query) or 0) + 1


def add(session: Session, draft: Refinement, evidence: Sequence[RefinementEvidence]) -> None:
    """Add a draft with the sums that it was made from."""
    session.add(draft)
    session.flush()
    for one in evidence:
        one.refinement_id = draft.id
    session.add_all(evidence)
    session.flush()


def one(session: Session, organisation_id: int, number: int) -> Refinement | None:
    """Find a draft."""
    return session.scalar(
        select(Refinement).where(Refinement.organisation_id == organisation_id, Refinement.number == number)
    )


def newest(session: Session, organisation_id: int, limit: int = 50) -> Sequence[Refinement]:
    """Return drafts, newest first."""
    query = select(Refinement).where(Refinement.organisation_id == organisation_id)
    return session.scalars(query.order_by(Refinement.number.desc()).limit(limit)).all()


def published(session: Session, organisation_id: int) -> Sequence[Refinement]:
    """Return the drafts that were published, newest first."""
    query = select(Refinement).where(Refinement.organisation_id == organisation_id, Refinement.state == "published")
    return session.scalars(query.order_by(Refinement.number.desc())).all()


def evidence(session: Session, refinement_id: int) -> Sequence[RefinementEvidence]:
    """Return the sums that a draft was made from; those of an erased contributor are gone."""
    query = select(RefinementEvidence).where(RefinementEvidence.refinement_id == refinement_id)
    order = (RefinementEvidence.crop, RefinementEvidence.machine_class, RefinementEvidence.member_id)
    return session.scalars(query.order_by(*order)).all()


def standings(session: Session, refinement_id: int) -> list[Standing]:
    """Return how each contributor stands in a draft."""
    columns = (RefinementEvidence.crop, RefinementEvidence.machine_class, Member.pseudonym, RefinementEvidence.standing)
    query = (
        select(*columns)
        .join(Member, Member.id == RefinementEvidence.member_id)
        .where(RefinementEvidence.refinement_id == refinement_id)
        .order_by(*columns[:3])
    )
    return [Standing(*found) for found in session.execute(query)]


def decisions(session: Session, refinement_id: int) -> dict[str, RefinementDecision]:
    """Return the decisions on a draft, by row."""
    query = select(RefinementDecision).where(RefinementDecision.refinement_id == refinement_id)
    return {found.row: found for found in session.scalars(query)}


def advance(session: Session, draft: Refinement, version: int, state: str = "open") -> bool:
    """Raise the version of an open draft; False where it is no longer the one that the caller holds."""
    wanted = (Refinement.id == draft.id, Refinement.version == version, Refinement.state == "open")
    done: CursorResult[Any] = session.execute(  # type: ignore[assignment]
        update(Refinement).where(*wanted).values(version=version + 1, state=state)
    )
    session.expire(draft)
    return done.rowcount == 1


def decide(session: Session, decision: RefinementDecision) -> None:
    """Write a decision, over an earlier one."""
    session.merge(decision)
    session.flush()


def active(session: Session, organisation_id: int) -> LocalRevision | None:
    """Return the revision that holds: the newest one."""
    query = select(LocalRevision).where(LocalRevision.organisation_id == organisation_id)
    return session.scalar(query.order_by(LocalRevision.number.desc()).limit(1))


def revision(session: Session, organisation_id: int, number: int) -> LocalRevision | None:
    """Find a revision."""
    return session.get(LocalRevision, (organisation_id, number))


def revisions(session: Session, organisation_id: int) -> Sequence[LocalRevision]:
    """Return every revision, newest first."""
    query = select(LocalRevision).where(LocalRevision.organisation_id == organisation_id)
    return session.scalars(query.order_by(LocalRevision.number.desc())).all()


def publish(
    session: Session,
    organisation_id: int,
    number: int,
    document: str,
    digest: str,
    now: datetime,
    by: str,
    *,
    from_refinement: int | None = None,
    repeats: int | None = None,
) -> LocalRevision:
    """Add a revision; the number is unique, so of two at once only one gets in."""
    row = LocalRevision(
        organisation_id=organisation_id,
        number=number,
        digest=digest,
        document=document,
        published_at=now,
        published_by=by,
        from_refinement=from_refinement,
        repeats=repeats,
    )
    session.add(row)
    session.flush()
    return row
