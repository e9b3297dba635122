"""What was measured on both sides of one setting: every day on which it was changed, on one scale.

Inside: days with a change, the setting as a shift from the base table's start for the conditions of its record (coded
as the fit codes it), each outcome as a share of that day's level. Outside: what is learnt from all records
(`domain.refinement_*`), drawing (`console`). Only a reviewer of the organisation sees it, and even there no mean is
that of fewer than five contributors: what a single grower measured cannot be read from it.
"""

import math
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from typing import Final
from uuid import UUID

from service.domain.refinement_coding import coded_setting
from service.knowledge.table import KnowledgeTable
from service.store import Session, same_day
from service.store.feedback import InSession, carried_on
from service.store.tables import Feedback
from service.usecases.access import Caller
from service.usecases.local_documents import contributors_band

OUTCOMES: Final = {"loss": "machine_loss_pct", "broken": "broken_pct", "foreign_matter": "foreign_matter_pct"}
_LEAST_IN_STEP: Final = 8  # a mean of fewer says little
_MOST_STEPS: Final = 5
_Z80: Final = 1.2815515655446004  # normal quantile of 0.90

_DECIMALS: Final = 9  # coded; a setting that was carried on has the very same

Day = list[tuple[float, Feedback]]


@dataclass(frozen=True, slots=True)
class Dot:
    """One measurement: the setting coded, the logarithm over the level of its day, and whose record it is."""

    coded: float
    log: float
    record: Feedback

    @property
    def order(self) -> tuple[float, float, UUID]:
        """By the setting; of equal settings by the time, not by what they gave nor by who sent them."""
        return self.coded, self.record.observed_at.timestamp(), self.record.id


@dataclass(frozen=True, slots=True)
class Step:
    """Mean of measurements about one coded setting, over the level of their days, with an 80 % interval."""

    coded: float
    ratio: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Measured:
    """Of one outcome: how many measurements, and their means by the setting."""

    outcome: str
    count: int
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class SameDay:
    """Days on which a setting was changed, and what came of it; outcomes with too few measurements are left out."""

    days: int
    outcomes: tuple[Measured, ...]


def same_day_evidence(
    session: Session,
    table: KnowledgeTable,
    caller: Caller,
    crop: str,
    machine_class: str,
    band: str | None,
    setting: str,
    without: Collection[str] = (),
) -> SameDay:
    """Return what the newest records of a row tell of one setting, contributors `without` left out.

    Raises
    ------
    ScopeMissing
        If the key is not one to review.
    """
    caller.needs("review")
    offset = 0.0 if table.refinement is None else table.refinement.figures.log_offset.value
    rows = same_day.newest(session, caller.organisation_id, crop, machine_class, band, without)
    days = [
        _coded(carried_on(group), setting)
        for _, group in groupby(rows, key=lambda row: (row.member_id, row.session_key))
    ]
    changed = [day for day in days if len({place for place, _ in day}) > 1]
    outcomes = []
    for name, column in OUTCOMES.items():
        found = (dot for day in changed for dot in _of_day(day, column, offset))
        dots = sorted(found, key=lambda dot: dot.order)
        if steps := _steps(dots):
            outcomes.append(Measured(name, len(dots), steps))
    return SameDay(len(changed), tuple(outcomes))


def _coded(day: Iterable[InSession], setting: str) -> Day:
    """Records of a day with the setting coded; one that came without the starts of its conditions is left out."""
    found = []
    for one in day:
        starts = (one.row.base or {}).get("settings", {})
        if setting in one.settings and setting in starts:
            coded = coded_setting(one.settings[setting], *starts[setting])
            found.append((round(coded, _DECIMALS), one.row))
    return found


def _of_day(day: Day, column: str, offset: float) -> Iterator[Dot]:
    """Logarithms of amounts less their mean, so that days with much and days with little loss lie on one scale."""
    told = [(place, getattr(row, column), row) for place, row in day]
    logs = [
        (place, math.log(amount + offset), row)
        for place, amount, row in told
        if amount is not None and amount + offset > 0
    ]
    if len({place for place, _, _ in logs}) < 2:
        return
    level = math.fsum(log for _, log, _ in logs) / len(logs)
    yield from (Dot(place, log - level, row) for place, log, row in logs)


def _steps(dots: Sequence[Dot]) -> tuple[Step, ...]:
    """Means of measurements in the order of the setting, as many in each step; fewer steps where few sent them."""
    for count in range(min(_MOST_STEPS, len(dots) // _LEAST_IN_STEP), 1, -1):
        ends = [len(dots) * n // count for n in range(count + 1)]
        parts = [dots[low:high] for low, high in pairwise(ends)]
        if all(_of_enough(part) for part in parts):
            return tuple(_step(part) for part in parts)
    return ()


def _of_enough(dots: Iterable[Dot]) -> bool:
    """Whether so many contributors stand behind a mean, and none with more than half of it, that it may be told."""
    counts = Counter(dot.record.member_id for dot in dots)
    return contributors_band(len(counts)) is not None and 2 * max(counts.values()) <= counts.total()


def _step(dots: Sequence[Dot]) -> Step:
    place, mean = math.fsum(dot.coded for dot in dots) / len(dots), math.fsum(dot.log for dot in dots) / len(dots)
    variance = math.fsum((dot.log - mean) ** 2 for dot in dots) / (len(dots) - 1)
    half = _Z80 * math.sqrt(variance / len(dots))
    return Step(place, math.exp(mean), math.exp(mean - half), math.exp(mean + half))
