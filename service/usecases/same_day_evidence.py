"""What was measured on both sides of one setting: every day on which it was changed, on one scale.

Inside: days with a change, the setting as a shift from the base table's start for the conditions of its record (coded
as the fit codes it), each outcome as a share of that day's level. Outside: what is learnt from all records
(`domain.refinement_*`), drawing (`console`). Only a reviewer of the organisation sees it, and no name stands at a dot.
"""

import math
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby, pairwise
from typing import Final

from service.domain.refinement_coding import coded_setting
from service.knowledge.table import KnowledgeTable
from service.store import Session, same_day
from service.store.feedback import InSession, carried_on
from service.store.tables import Feedback
from service.usecases.access import Caller

OUTCOMES: Final = {"loss": "machine_loss_pct", "broken": "broken_pct", "foreign_matter": "foreign_matter_pct"}
_LEAST_IN_STEP: Final = 8  # a mean of fewer says little
_MOST_STEPS: Final = 5
_Z80: Final = 1.2815515655446004  # normal quantile of 0.90

_DECIMALS: Final = 9  # coded; a setting that was carried on has the very same

Dots = list[tuple[float, float]]
Day = list[tuple[float, Feedback]]


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
        dots = sorted(found, key=lambda dot: dot[0])  # of equal settings none comes first by what it gave
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


def _of_day(day: Day, column: str, offset: float) -> Iterator[tuple[float, float]]:
    """Logarithms of amounts less their mean, so that days with much and days with little loss lie on one scale."""
    told = [(place, getattr(row, column)) for place, row in day]
    logs = [(place, math.log(amount + offset)) for place, amount in told if amount is not None and amount + offset > 0]
    if len({place for place, _ in logs}) < 2:
        return
    level = math.fsum(log for _, log in logs) / len(logs)
    yield from ((place, log - level) for place, log in logs)


def _steps(dots: Dots) -> tuple[Step, ...]:
    """Means of measurements in the order of the setting, as many in each step."""
    count = min(_MOST_STEPS, len(dots) // _LEAST_IN_STEP)
    if count < 2:
        return ()
    ends = [len(dots) * n // count for n in range(count + 1)]
    return tuple(_step(dots[low:high]) for low, high in pairwise(ends))


def _step(dots: Dots) -> Step:
    place, mean = (math.fsum(values) / len(dots) for values in zip(*dots, strict=True))
    variance = math.fsum((log - mean) ** 2 for _, log in dots) / (len(dots) - 1)
    half = _Z80 * math.sqrt(variance / len(dots))
    return Step(place, math.exp(mean), math.exp(mean - half), math.exp(mean + half))
