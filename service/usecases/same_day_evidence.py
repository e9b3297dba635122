"""What was measured on both sides of one setting: every day on which it was changed, on one scale.

Inside: days with a change, each outcome as a share of that day's level. Outside: what is learnt from all records
(`domain.refinement_*`), drawing (`console`). Only a reviewer of the organisation sees it, and no name stands at a dot.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from typing import Final

from service.knowledge.table import KnowledgeTable
from service.store import Session, same_day
from service.store.feedback import InSession, carried_on
from service.usecases.access import Caller

OUTCOMES: Final = {"loss": "machine_loss_pct", "broken": "broken_pct", "foreign_matter": "foreign_matter_pct"}
_LEAST_DOTS: Final = 4  # a mean of fewer says nothing
_STEPS: Final = 6


@dataclass(frozen=True, slots=True)
class Dots:
    """Of one outcome: (setting, amount over the day's level), and the means of these in steps of the setting."""

    outcome: str
    dots: tuple[tuple[float, float], ...]
    means: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class SameDay:
    """Days on which a setting was changed, and what came of it; outcomes without a dot are left out."""

    days: int
    outcomes: tuple[Dots, ...]


def same_day_evidence(
    session: Session,
    table: KnowledgeTable,
    caller: Caller,
    crop: str,
    machine_class: str,
    band: str | None,
    setting: str,
) -> SameDay:
    """Return what the newest records of a row tell of one setting.

    Raises
    ------
    ScopeMissing
        If the key is not one to review.
    """
    caller.needs("review")
    offset = 0.0 if table.refinement is None else table.refinement.figures.log_offset.value
    rows = same_day.newest(session, caller.organisation_id, crop, machine_class, band)
    days = [
        [one for one in carried_on(iter(list(group))) if setting in one.settings]
        for _, group in groupby(rows, key=lambda row: (row.member_id, row.session_key))
    ]
    changed = [day for day in days if len({one.settings[setting] for one in day}) > 1]
    outcomes = (Dots(name, *_dots(changed, setting, column, offset)) for name, column in OUTCOMES.items())
    return SameDay(len(changed), tuple(one for one in outcomes if one.dots))


def _dots(
    days: list[list[InSession]], setting: str, column: str, offset: float
) -> tuple[tuple[tuple[float, float], ...], tuple[tuple[float, float], ...]]:
    dots = [dot for day in days for dot in _of_day(day, setting, column, offset)]
    return tuple(dots), _means(dots)


def _of_day(day: list[InSession], setting: str, column: str, offset: float) -> Iterator[tuple[float, float]]:
    """Amounts over their geometric mean, so that days with much and days with little loss lie on one scale."""
    told = [(one.settings[setting], getattr(one.row, column)) for one in day]
    logs = [(place, math.log(amount + offset)) for place, amount in told if amount is not None and amount + offset > 0]
    if len({place for place, _ in logs}) < 2:
        return
    level = math.fsum(log for _, log in logs) / len(logs)
    yield from ((place, math.exp(log - level)) for place, log in logs)


def _means(dots: list[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    if len(dots) < 2 * _LEAST_DOTS:
        return ()
    low, high = min(dots)[0], max(dots)[0]
    steps: dict[int, list[tuple[float, float]]] = {}
    for place, ratio in dots:
        steps.setdefault(min(_STEPS - 1, int((place - low) / (high - low) * _STEPS)), []).append((place, ratio))
    return tuple(
        (
            math.fsum(place for place, _ in inside) / len(inside),
            math.exp(math.fsum(math.log(ratio) for _, ratio in inside) / len(inside)),
        )
        for _, inside in sorted(steps.items())
        if len(inside) >= _LEAST_DOTS
    )
