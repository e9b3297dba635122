"""The sums that a draft was made from, by contributor: kept with it, read back, held against earlier ones.

Inside: rows of evidence, and whether a revision, held against one that was published before, would tell what few
contributors added. Outside: the order of drafting and publishing (`refinement`), statements (`store.refinements`).
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from service.domain.refinement_types import CellStatistics, Layout, StatisticKey
from service.errors import InvalidInput
from service.store import Session
from service.store import refinements as rows
from service.store.tables_local import Refinement, RefinementEvidence
from service.usecases.refinement_compute import Drafted, Part
from service.usecases.refinement_fold import packed

Place = tuple[str, str]  # crop and machine class
_SESSIONS: Final = 1  # column of the sums that counts sessions


def evidence_of(organisation_id: int, part: Part, found: Drafted) -> Iterable[RefinementEvidence]:
    """Yield sums by contributor, so that those of one who is erased can go."""
    for name in sorted({key.contributor for key in part.sums.keys}):
        own = [place for place, key in enumerate(part.sums.keys) if key.contributor == name]
        yield RefinementEvidence(
            crop=part.base.crop,
            machine_class=part.base.machine_class,
            member_id=int(name),
            organisation_id=organisation_id,
            keys=[list(part.sums.keys[place][1:]) for place in own],
            sums=packed(part.sums.sums[own]),
            standing=found.standing.get(int(name), {}),
        )


def recorded(layout: Layout, kept: Sequence[RefinementEvidence]) -> CellStatistics:
    """Return the sums that evidence holds, in their one order."""
    keys, sums = [], []
    for one in kept:
        values = np.frombuffer(one.sums, dtype="<f8").reshape(-1, layout.width)
        for key, row in zip(one.keys, values, strict=True):
            machine, cell, outcome, season = key
            keys.append(StatisticKey(f"{one.member_id:012}", machine, cell, outcome, season))
            sums.append(row)
    order = sorted(range(len(keys)), key=lambda place: keys[place])
    rowwise = np.array([sums[place] for place in order]).reshape(len(keys), layout.width)
    return CellStatistics(layout, tuple(keys[place] for place in order), rowwise)


def check_apart(session: Session, draft: Refinement, places: set[Place], least: int) -> None:
    """Let rows be published only if what was added since each earlier revision comes from nobody, or from enough.

    Two revisions held against each other tell what lies between them; of few contributors that is never told.

    Raises
    ------
    InvalidInput
        If it comes from some, but fewer than `least`.
    """
    now = rows.evidence(session, draft.id)
    for earlier in rows.published(session, draft.organisation_id):
        if earlier.id == draft.id:
            continue
        before = rows.evidence(session, earlier.id)
        for place in sorted(places & _published_places(session, earlier)):
            added = _who_added(_side(earlier, before, place), _side(draft, now, place))
            if 0 < added < least:
                raise InvalidInput("", reason="reason.too_few_added", number=earlier.number, least=least)


@dataclass(frozen=True, slots=True)
class _Side:
    """What a draft has of a crop and class: what it was made from, and the evidence that is still there."""

    coding: str
    contributors: int
    kept: dict[int, RefinementEvidence]


def _side(draft: Refinement, kept: Sequence[RefinementEvidence], place: Place) -> _Side:
    (told,) = [part for part in draft.inputs["parts"] if (part["crop"], part["machine_class"]) == place]
    own = {one.member_id: one for one in kept if (one.crop, one.machine_class) == place}
    return _Side(told["coding"], told["contributors"], own)


def _published_places(session: Session, draft: Refinement) -> set[Place]:
    taken = {row for row, one in rows.decisions(session, draft.id).items() if one.accepted}
    return {(row["crop"], row["machine_class"]) for row in draft.document["rows"] if row["id"] in taken}


def _who_added(before: _Side, now: _Side) -> int:
    """Count contributors that differ, those who were erased among them."""
    gone = before.contributors - len(before.kept)
    if gone or before.coding != now.coding:  # every sum is another one, so sessions are counted
        first, second = ({who: _sessions(one) for who, one in side.kept.items()} for side in (before, now))
    else:
        first, second = ({who: [(one.keys, one.sums)] for who, one in side.kept.items()} for side in (before, now))
    return gone + sum(first.get(who) != second.get(who) for who in first.keys() | second.keys())


def _sessions(one: RefinementEvidence) -> list[tuple[Any, Any]]:
    values = np.frombuffer(one.sums, dtype="<f8").reshape(len(one.keys), -1)
    return sorted((list(key), float(row[_SESSIONS])) for key, row in zip(one.keys, values, strict=True))
