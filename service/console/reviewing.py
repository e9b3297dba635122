"""What a reviewer does, by the use cases of refinement.

Inside: from their results to what the pages show, and from the pages' forms to what they ask for. What few growers
reported is not told here either: below five contributors there is no count but that.
"""

import json
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from service.console.review import (
    Decision,
    DraftLine,
    DraftShown,
    EffectShown,
    NumberShown,
    PublishedNumber,
    RevisionLine,
    RowShown,
    StaleError,
    StandingShown,
    TestShown,
)
from service.errors import Contradiction, NotCovered, Stale, UnknownName
from service.knowledge.table import KnowledgeTable
from service.store import Session, Store
from service.store import refinements as rows
from service.store.tables_local import LocalRevision, Refinement, RefinementDecision
from service.usecases import local_tables, refinement
from service.usecases.access import Caller
from service.usecases.coop_overview import band
from service.usecases.local_documents import contributors_band, read_table
from service.usecases.local_types import LocalRow
from service.usecases.paired_tests import advise_tests
from service.usecases.refinement import DraftView, reviewer
from service.usecases.refinement_base import base_of
from service.usecases.same_day_evidence import OUTCOMES


def drafts(session: Session, caller: Caller) -> tuple[DraftLine, ...]:
    """Return every draft, newest first."""
    who, published = reviewer(caller), _published(session, caller)
    return tuple(
        _line(draft, rows.decisions(session, draft.id), published.get(draft.number))
        for draft in refinement.newest(session, who)
    )


def draft(session: Session, table: KnowledgeTable, caller: Caller, number: int) -> DraftShown:
    """Return a draft of the caller's organisation."""
    view = refinement.find(session, table, reviewer(caller), number)
    return _shown(view, _published(session, caller).get(number))


def make(store: Store, table: KnowledgeTable, caller: Caller, now: datetime) -> int:
    """Make a draft, in transactions of its own, and return its number."""
    number, _ = refinement.refine(store, table, reviewer(caller), now)
    return number


def decide(
    session: Session,
    table: KnowledgeTable,
    caller: Caller,
    number: int,
    tag: str,
    said: Mapping[str, Decision],
    now: datetime,
) -> None:
    """Keep decisions, all or none."""
    told = {
        row: refinement.Decision(one.choice == "accepted", one.reason or None)
        for row, one in said.items()
        if one.choice is not None
    }
    try:
        refinement.decide(session, table, reviewer(caller), number, int(tag), told, now)
    except Stale:
        raise StaleError from None


def publish(session: Session, table: KnowledgeTable, caller: Caller, number: int, tag: str, now: datetime) -> int:
    """Publish the accepted rows and return the number of the revision."""
    try:
        return refinement.publish(session, table, reviewer(caller), number, int(tag), now).number
    except Stale:
        raise StaleError from None


def revisions(session: Session, caller: Caller) -> tuple[RevisionLine, ...]:
    """Return every published table, newest first."""
    caller.needs("review")
    return tuple(_revision(one) for one in local_tables.history(session, caller.organisation))


def revision(
    session: Session, table: KnowledgeTable, caller: Caller, number: int
) -> tuple[RevisionLine, tuple[PublishedNumber, ...]]:
    """Return a published table."""
    caller.needs("review")
    kept = local_tables.revision(session, caller.organisation, number)
    found = read_table(kept.document, kept.digest)
    return _revision(kept), tuple(_published_number(table, row) for row in found.rows)


def roll_back(session: Session, caller: Caller, number: int, newest: int, now: datetime) -> int:
    """Publish an earlier table again, if `newest` is still the newest; returns the number of the new one."""
    try:
        return local_tables.roll_back(session, caller, caller.organisation, number, newest, now).number
    except (Contradiction, Stale):
        raise StaleError from None


def tests(
    session: Session, table: KnowledgeTable, caller: Caller, crop: str, machine_class: str, now: datetime
) -> tuple[TestShown, ...]:
    """Return settings by what a paired test of them is worth, the most valuable first."""
    try:
        found = advise_tests(session, table, caller, crop, machine_class, now)
    except NotCovered:
        return ()
    tests = [
        TestShown(
            one.setting,
            cell.moisture_band,
            one.before.unit,
            one.before.value,
            one.after.value,
            one.value_pct / 100,
            found.pairs,
        )
        for cell in found.cells
        for one in cell.tests
    ]
    return tuple(sorted(tests, key=lambda test: -test.worth))


def _published(session: Session, caller: Caller) -> dict[int, int]:
    """Which draft became which revision."""
    kept = local_tables.history(session, caller.organisation)
    return {one.from_refinement: one.number for one in kept if one.from_refinement is not None}


def _line(draft: Refinement, decisions: Mapping[str, RefinementDecision], published_as: int | None) -> DraftLine:
    proposed = sum(row["reason"] == "proposed" for row in draft.document["rows"])
    accepted = sum(one.accepted for one in decisions.values())
    return DraftLine(
        number=draft.number,
        made_at=draft.made_at,
        made_by=draft.made_by,
        published_as=published_as,
        open=draft.state == "open",
        proposed=proposed,
        accepted=accepted,
        refused=len(decisions) - accepted,
        left=len(draft.document["rows"]) - proposed,
    )


def _shown(view: DraftView, published_as: int | None) -> DraftShown:
    draft = view.draft
    return DraftShown(
        line=_line(draft, view.decisions, published_as),
        tag=str(draft.version),
        base_revision=draft.base_revision,
        on_revision=draft.on_revision,
        outdated=view.outdated,
        prices=draft.inputs["prices"],
        rows=tuple(_row(row, view.decisions.get(row["id"])) for row in draft.document["rows"]),
        standing=_standing(view),
    )


def _standing(view: DraftView) -> tuple[StandingShown, ...]:
    """Who does not agree comes first."""
    found = [StandingShown(one.pseudonym, one.crop, one.machine_class, **one.told) for one in view.standings_told]
    return tuple(sorted(found, key=lambda one: (one.crop, one.machine_class, not one.set_aside, -one.disagreement)))


def _row(told: Mapping[str, Any], decision: RefinementDecision | None) -> RowShown:
    evidence = told["evidence"]
    enough = contributors_band(evidence["contributors"]) is not None
    alone = enough and evidence["own"]  # else the figures are those of this cell's few
    return RowShown(
        id=told["id"],
        crop=told["crop"],
        machine_class=told["machine_class"],
        band=told["moisture_band"],
        why=told["reason"],
        numbers=tuple(_number(one, told["stale"]) for one in told["settings"]),
        effects=_in_order(EffectShown(**one) for one in told["effects"]),
        gain=told["gain"],
        gain_low=told["gain_low"],
        gain_high=told["gain_high"],
        probability=told["probability"],
        least_gain_without=told["least_gain_without"],
        records=evidence["records"] if enough else None,
        contributors=band(evidence["contributors"]),
        comparisons=evidence["comparisons"] if alone else None,
        largest_share=evidence["largest_share"] if alone else None,
        own=evidence["own"],
        decision=_decision(decision),
    )


def _in_order(effects: Iterable[EffectShown]) -> tuple[EffectShown, ...]:
    """Loss first, as everywhere."""
    return tuple(sorted(effects, key=lambda one: list(OUTCOMES).index(one.outcome)))


def _number(told: Mapping[str, Any], stale: list[str]) -> NumberShown:
    return NumberShown(
        setting=told["setting"],
        unit=told["unit"],
        base=told["base_start"],
        now=told["now"],
        proposed=told["proposed"],
        envelope_low=told["low"],
        envelope_high=told["high"],
        likely=None if told["likely"] is None else (told["likely"][0], told["likely"][1]),
        why=told["reason"],
        probability=told["probability"],
        same_day_share=told["same_day_share"],
        choice_effect=told["choice"],
        base_moved=told["setting"] in stale,
    )


def _decision(kept: RefinementDecision | None) -> Decision:
    if kept is None:
        return Decision(None)
    return Decision("accepted" if kept.accepted else "refused", kept.reason or "", kept.decided_by, kept.decided_at)


def _revision(kept: LocalRevision) -> RevisionLine:
    document = json.loads(kept.document)
    return RevisionLine(
        number=kept.number,
        published_at=kept.published_at,
        published_by=kept.published_by,
        from_draft=kept.from_refinement,
        repeats=kept.repeats,
        numbers=len(document["rows"]),
        digest=kept.digest,
        base_revision=document["base_revision"],
    )


def _published_number(table: KnowledgeTable, row: LocalRow) -> PublishedNumber:
    return PublishedNumber(
        crop=row.crop,
        machine_class=row.machine_class,
        band=row.moisture_band,
        setting=row.setting,
        unit=row.unit,
        base=row.base_start,
        start=row.start,
        records=row.records,
        contributors=row.contributors_band,
        effects=_in_order(EffectShown(one.outcome, one.factor, one.low, one.high, None) for one in row.effects),
        base_now=_base_now(table, row),
    )


def _base_now(table: KnowledgeTable, row: LocalRow) -> float | None:
    try:
        base = base_of(table, row.crop, row.machine_class)
    except (NotCovered, UnknownName):
        return None
    return next((one.start for one in base.settings if one.setting == row.setting), None)
