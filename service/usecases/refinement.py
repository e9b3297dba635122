"""Refinement: drafts of an organisation's table, decisions on their rows, publishing.

Inside: one function for each thing that a reviewer does. Outside: figures of a draft (`refinement_compute`), sums
(`refinement_fold`), published tables (`local_tables`). Nothing is published without a person who accepted it.

A draft is named by its number in the organisation. Its version rises with every decision: whoever decides says
which version was looked at, and of two at once only one is heard.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from service import __version__
from service.domain.refinement_sums import digest
from service.errors import Closed, InvalidInput, NotCovered, NotFound, Stale, UnknownName
from service.knowledge.table import KnowledgeTable
from service.store import Session, Store, audit, cell_sums
from service.store import refinements as rows
from service.store.tables_local import Refinement, RefinementDecision
from service.usecases.access import Caller
from service.usecases.feedback import season_of
from service.usecases.local_documents import contributors_band
from service.usecases.local_tables import active, add_revision
from service.usecases.local_types import LocalTable
from service.usecases.refinement_base import base_of, refinement_file
from service.usecases.refinement_compute import Drafted, Part, all_rows, drafted
from service.usecases.refinement_evidence import check_apart, evidence_of, recorded
from service.usecases.refinement_fold import FoldReport, fold, read_sums, season_now
from service.usecases.refinement_method import method_digest, refinement_method, refinement_outcomes, usual_prices
from service.usecases.refinement_publish import next_rows

_TRIES: Final = 3


@dataclass(frozen=True, slots=True)
class Reviewer:
    """Who drafts, decides and publishes, and for which organisation."""

    organisation_id: int
    organisation: str
    season_starts_month: int
    actor: str


@dataclass(frozen=True, slots=True)
class Decision:
    """Whether a row is accepted, and why not."""

    accepted: bool
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class DraftView:
    """A draft with the decisions on it."""

    draft: Refinement
    decisions: Mapping[str, RefinementDecision]
    standings: Sequence[rows.Standing]
    outdated: bool

    @property
    def standings_told(self) -> list[rows.Standing]:
        """Standings of contributors; where they are too few to be counted they are not listed either."""
        found = [one for one in self.standings if one.told]
        counts = Counter((one.crop, one.machine_class) for one in found)
        return [one for one in found if contributors_band(counts[one.crop, one.machine_class]) is not None]


def reviewer(caller: Caller) -> Reviewer:
    """Return the holder of a key as a reviewer.

    Raises
    ------
    ScopeMissing
        If the key is not one to review.
    """
    caller.needs("review")
    return Reviewer(caller.organisation_id, caller.organisation, caller.season_starts_month, caller.actor)


def refine(
    store: Store, table: KnowledgeTable, who: Reviewer, now: datetime, prices: Mapping[str, float] | None = None
) -> tuple[int, FoldReport]:
    """Fold what has come in, and draft a revision; returns the number of the draft.

    Raises
    ------
    NotCovered
        If the table has no figures of refinement.
    UnknownName
        If a price is for no outcome.
    """
    report = fold(store, table, who.organisation_id, who.season_starts_month, now)
    told = usual_prices(refinement_file(table).figures) | dict(prices or {})
    for _ in range(_TRIES):
        with store.reading() as session:
            number = rows.next_number(session, who.organisation_id)
            local = active(session, who.organisation_id)
            parts = _parts(session, table, who, now)
        inputs = _inputs(table, told, number, parts, local)
        found = [_drafted(table, inputs, part, local) for part in parts]
        # a contributor may have been erased meanwhile: then what was drafted is dropped
        with suppress(Stale), store.writing() as session:
            rows.hold(session, who.organisation_id)
            if rows.next_number(session, who.organisation_id) == number:
                _keep(session, table, who, now, inputs, parts, found, local)
                return number, report
    raise Stale  # others drafted in the meantime, again and again


def _parts(session: Session, table: KnowledgeTable, who: Reviewer, now: datetime) -> list[Part]:
    season, parts = season_of(now, who.season_starts_month), []
    for crop, machine_class in cell_sums.crops_and_classes(session, who.organisation_id):
        try:
            base = base_of(table, crop, machine_class)
        except (NotCovered, UnknownName):
            continue
        found = read_sums(base.layout, cell_sums.sums(session, who.organisation_id, crop, machine_class))
        parts.append(Part(base, found, season_now(found, season)))
    return parts


def _inputs(
    table: KnowledgeTable, prices: Mapping[str, float], number: int, parts: Sequence[Part], local: LocalTable | None
) -> dict[str, Any]:
    """All that a draft is made from, but the sums themselves."""
    figures = refinement_file(table).figures
    method = refinement_method(figures)
    return {
        "number": number,
        "prices": dict(prices),
        "seed": method.seed,
        "method": method_digest(method, refinement_outcomes(figures, prices)),
        "code": __version__,
        "base_digest": table.digest,
        "local": None if local is None else {"number": local.number, "digest": local.digest},
        "parts": [
            {
                "crop": part.base.crop,
                "machine_class": part.base.machine_class,
                "season": part.season,
                "coding": part.base.coding,
                "sums": digest(part.sums),
                "contributors": len({key.contributor for key in part.sums.keys}),
            }
            for part in parts
        ],
    }


def _drafted(table: KnowledgeTable, inputs: Mapping[str, Any], part: Part, local: LocalTable | None) -> Drafted:
    figures = refinement_file(table).figures
    outcomes = refinement_outcomes(figures, inputs["prices"])
    # the same sums draw the same, so that a row below the bar does not pass it by trying again
    return drafted(part, local, outcomes, refinement_method(figures), int(digest(part.sums)[-7:], 16))


def _document(found: Sequence[Drafted]) -> dict[str, Any]:
    return {"rows": all_rows(found), "overall": [one.overall for one in found]}


def _keep(
    session: Session,
    table: KnowledgeTable,
    who: Reviewer,
    now: datetime,
    inputs: dict[str, Any],
    parts: Sequence[Part],
    found: Sequence[Drafted],
    local: LocalTable | None,
) -> None:
    draft = Refinement(
        organisation_id=who.organisation_id,
        number=inputs["number"],
        state="open",
        version=1,
        made_at=now,
        made_by=who.actor,
        on_revision=None if local is None else local.number,
        base_revision=table.revision,
        base_digest=table.digest,
        inputs=inputs,
        document=_document(found),
    )
    evidence = [
        row for part, one in zip(parts, found, strict=True) for row in evidence_of(who.organisation_id, part, one)
    ]
    rows.add(session, draft, evidence)
    proposed = sum(row["reason"] == "proposed" for row in draft.document["rows"])
    _audit(session, who, now, "refinement drafted", inputs["number"], proposed=proposed)


def _audit(session: Session, who: Reviewer, now: datetime, action: str, number: int, **facts: object) -> None:
    audit.record(
        session,
        now,
        organisation_id=who.organisation_id,
        actor=who.actor,
        action=action,
        subject=f"refinement {number}",
        **facts,
    )


def find(session: Session, table: KnowledgeTable, who: Reviewer, number: int) -> DraftView:
    """Return a draft with its decisions.

    Raises
    ------
    NotFound
        If the organisation has none of this number.
    """
    draft = rows.one(session, who.organisation_id, number)
    if draft is None:
        raise NotFound
    found = rows.decisions(session, draft.id)
    return DraftView(draft, found, rows.standings(session, draft.id), _outdated(session, table, who, draft))


def newest(session: Session, who: Reviewer) -> Sequence[Refinement]:
    """Return the drafts of an organisation, newest first."""
    return rows.newest(session, who.organisation_id)


def _outdated(session: Session, table: KnowledgeTable, who: Reviewer, draft: Refinement) -> bool:
    """Whether the table that a draft stands on, or its base, is no longer the one that holds."""
    held = rows.active(session, who.organisation_id)
    return draft.base_digest != table.digest or draft.on_revision != (None if held is None else held.number)


def decide(
    session: Session,
    table: KnowledgeTable,
    who: Reviewer,
    number: int,
    version: int,
    decisions: Mapping[str, Decision],
    now: datetime,
) -> DraftView:
    """Accept or refuse rows of a draft; a later decision on a row takes the place of an earlier one.

    Raises
    ------
    NotFound
        If there is no such draft.
    UnknownName
        If there is no such row in it.
    InvalidInput
        If a row is not proposed, or is refused without a reason.
    Closed
        If the draft was published.
    Stale
        If it was changed since it was looked at.
    """
    view = find(session, table, who, number)
    draft, known = view.draft, {row["id"]: row for row in view.draft.document["rows"]}
    for place, (row, one) in enumerate(decisions.items()):
        if row not in known:
            raise UnknownName(f"decisions.{place}.row", row, sorted(known))
        if known[row]["reason"] != "proposed":
            raise InvalidInput(f"decisions.{place}.row", reason="reason.row_not_proposed")
        if not one.accepted and one.reason is None:
            raise InvalidInput(f"decisions.{place}.reason", reason="reason.refused_without_reason")
    _advance(session, draft, version)
    for row, one in decisions.items():
        rows.decide(
            session,
            RefinementDecision(
                refinement_id=draft.id,
                row=row,
                accepted=one.accepted,
                reason=one.reason,
                decided_by=who.actor,
                decided_at=now,
            ),
        )
        _audit(session, who, now, f"row {'accepted' if one.accepted else 'refused'}", number, row=row)
    return find(session, table, who, number)


def _advance(session: Session, draft: Refinement, version: int, state: str = "open") -> None:
    """Change a draft that is still as it was looked at."""
    closed = draft.state != "open"
    if version != draft.version:
        raise Stale
    if closed:
        raise Closed
    if not rows.advance(session, draft, version, state):
        raise Stale


def publish(
    session: Session, table: KnowledgeTable, who: Reviewer, number: int, version: int, now: datetime
) -> LocalTable:
    """Publish the accepted rows of a draft, over the rows that hold already.

    Raises
    ------
    NotFound
        If there is no such draft.
    InvalidInput
        If no row is accepted, or too few contributors have added anything since an earlier revision.
    Closed
        If it was published, or the table or its base has changed since it was made.
    Stale
        If it was changed since it was looked at.
    """
    rows.hold(session, who.organisation_id)
    view = find(session, table, who, number)
    if version != view.draft.version:
        raise Stale
    if view.outdated and view.draft.state == "open":
        raise Closed
    accepted = [row for row in view.draft.document["rows"] if _accepted(view, row["id"])]
    if not accepted and view.draft.state == "open":
        raise InvalidInput("", reason="reason.nothing_accepted")
    _advance(session, view.draft, version, "published")
    least = int(refinement_file(table).figures.least_contributors.value)
    check_apart(session, view.draft, {(row["crop"], row["machine_class"]) for row in accepted}, least)
    local = active(session, who.organisation_id)
    made = add_revision(
        session,
        who.organisation_id,
        who.organisation,
        next_rows(local, accepted),
        (table.revision, table.digest),
        now,
        who.actor,
        from_refinement=number,
    )
    _audit(session, who, now, "revision published", number, revision=made.number, digest=made.digest)
    return made


def _accepted(view: DraftView, row: str) -> bool:
    found = view.decisions.get(row)
    return found is not None and found.accepted


def accept_all(session: Session, table: KnowledgeTable, who: Reviewer, number: int, now: datetime) -> DraftView:
    """Accept every row that is proposed."""
    view = find(session, table, who, number)
    wanted = {row["id"]: Decision(accepted=True) for row in view.draft.document["rows"] if row["reason"] == "proposed"}
    return decide(session, table, who, number, view.draft.version, wanted, now) if wanted else view


def repeated(session: Session, table: KnowledgeTable, who: Reviewer, number: int) -> bool:
    """Make a draft again from what was recorded of it; whether it comes out the same to the last digit.

    Raises
    ------
    NotFound
        If there is no such draft.
    Closed
        If its inputs are no longer there: the base table or method is another one, or a contributor was erased.
    """
    view = find(session, table, who, number)
    inputs, local = view.draft.inputs, None
    if inputs["local"] is not None:
        local = active(session, who.organisation_id, inputs["local"]["number"])
    figures = refinement_file(table).figures
    same = method_digest(refinement_method(figures), refinement_outcomes(figures, inputs["prices"]))
    if inputs["base_digest"] != table.digest or inputs["method"] != same:
        raise Closed
    kept = rows.evidence(session, view.draft.id)
    parts = []
    for told in inputs["parts"]:
        base = base_of(table, told["crop"], told["machine_class"])
        own = [one for one in kept if (one.crop, one.machine_class) == (base.crop, base.machine_class)]
        sums = recorded(base.layout, own)
        if digest(sums) != told["sums"]:
            raise Closed
        parts.append(Part(base, sums, told["season"]))
    found = _document([_drafted(table, inputs, part, local) for part in parts])
    return found == view.draft.document
