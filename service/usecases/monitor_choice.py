"""Which pairs of a calibration belong to the line, and the line through them.

Inside: pairs at full scale, a stray pair, the bend above which a display stops following, refusals of pairs
that tell nothing. Outside: the tests themselves (`domain.monitor_line`), what follows (`monitor_calibration`).
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import sqrt
from statistics import stdev
from typing import Final, Literal

from service.domain.linear_fit import Line, with_common_error
from service.domain.monitor_line import (
    Bend,
    ErrorModel,
    MonitorLine,
    Stray,
    least_fitting_pair,
    monitor_line,
    upper_bend,
)
from service.domain.types import Message, Quantity
from service.errors import Contradiction, InvalidInput
from service.knowledge.schema_monitor import MonitorFigures
from service.usecases.monitor_points import Display, Point
from service.usecases.monitor_types import MonitorQuestion, Role

FEW_READINGS: Final = 3  # readings without loss that tell a scatter


@dataclass(slots=True)
class Choice:
    """Pairs still on the line, and what became of the others."""

    kept: list[Point]
    roles: dict[int, tuple[Role, Message]] = field(default_factory=dict)
    further_stray: Point | None = None

    def drop(self, point: Point, role: Role, why: Message) -> None:
        """Take a pair off the line."""
        self.kept = [one for one in self.kept if one.index != point.index]
        self.roles[point.index] = (role, why)


@dataclass(frozen=True, slots=True)
class Chosen:
    """The line of the pairs that belong, with the error that all of them share."""

    drawn: MonitorLine
    line: Line
    used: tuple[Point, ...]
    roles: dict[int, tuple[Role, Message]]
    further_stray: Point | None
    saturated: Literal["yes", "no", "unknown"]


def choose(points: Sequence[Point], question: MonitorQuestion, display: Display, figures: MonitorFigures) -> Chosen:
    """Draw the line through the pairs that belong to it.

    Raises
    ------
    InvalidInput
        If too few pairs are left, all read or lost the same, or the reading falls while the loss rises.
    Contradiction
        If the display reads more without loss than with the largest.
    """
    choice = Choice(list(points))
    errors = error_model(question, figures)
    _off_full_scale(choice, question)
    _tells_something(choice.kept, question, figures)
    _leave_out(choice, display, errors, figures)
    _tells_something(choice.kept, question, figures)
    drawn = monitor_line([point.pair for point in choice.kept], errors)
    if drawn.line.slope <= 0:
        raise InvalidInput("pairs", reason="monitor.falls")
    common = max(point.measured.common for point in choice.kept)
    return Chosen(
        drawn,
        with_common_error(drawn.line, common),
        tuple(choice.kept),
        choice.roles,
        choice.further_stray,
        _saturated(choice, figures),
    )


def error_model(question: MonitorQuestion, figures: MonitorFigures) -> ErrorModel:
    """Errors of readings as told, or as readings without loss scatter."""
    error = question.reading_error
    if error is None:
        error = stdev(question.no_loss_readings) if len(question.no_loss_readings) >= FEW_READINGS else 0.0
    return ErrorModel(error, figures.reading_share_ignored.value / 100, figures.pan_error_floor.value / 100)


def _off_full_scale(choice: Choice, question: MonitorQuestion) -> None:
    full = question.reading_full_scale
    if full is None:
        return
    for point in tuple(choice.kept):
        if point.pair.reading >= full:
            choice.drop(point, "full_scale", Message("monitor.pair.full_scale", {"pair": point.index + 1}))


def _tells_something(points: Sequence[Point], question: MonitorQuestion, figures: MonitorFigures) -> None:
    fewest = int(figures.fewest_pairs.value)
    if len(points) < fewest:
        reason = "monitor.too_few_pairs" if len(question.pairs) < fewest else "monitor.too_few_left"
        raise InvalidInput("pairs", reason=reason, fewest=fewest, left=len(points))
    if len({point.pair.reading for point in points}) < 2:
        raise InvalidInput("pairs", reason="monitor.one_reading")
    if len({point.pair.loss for point in points}) < 2:
        raise InvalidInput("pairs", reason="monitor.one_loss")
    idle = question.no_loss_readings
    if idle and sum(idle) / len(idle) >= max(point.pair.reading for point in points):
        raise Contradiction(["no_loss_readings", "pairs"], "monitor.no_loss_reads_more")


def _leave_out(choice: Choice, display: Display, errors: ErrorModel, figures: MonitorFigures) -> None:
    """One stray pair at most, and everything above a bend: first the stray, which hides a bend."""
    found = _stray(choice.kept, errors, figures)
    if found is not None:
        _drop_stray(choice, found, display, errors)
    bend = _bend(choice.kept, errors, figures)
    if bend is not None:
        for point in [one for one in choice.kept if one.pair.reading > bend.reading]:
            choice.drop(point, "beyond", Message("monitor.pair.beyond", {"pair": point.index + 1}))
    again = _stray(choice.kept, errors, figures)
    if again is None:
        return
    if any(role == "stray" for role, _ in choice.roles.values()):
        choice.further_stray = choice.kept[again.index]
    else:
        _drop_stray(choice, again, display, errors)


def _stray(points: Sequence[Point], errors: ErrorModel, figures: MonitorFigures) -> Stray | None:
    """The pair that does not belong: beyond chance, and beyond what a pan of its kind may be off."""
    if len(points) <= int(figures.fewest_pairs.value):
        return None
    pairs = [point.pair for point in points]
    worst = least_fitting_pair(pairs, errors)
    if worst.p >= figures.stray_level.value / 100:
        return None
    rest = [*pairs[: worst.index], *pairs[worst.index + 1 :]]
    own_error = sqrt(monitor_line(rest, errors).variance_of(pairs[worst.index]))
    return worst if abs(worst.residual) > figures.stray_least_errors.value * own_error else None


def _drop_stray(choice: Choice, found: Stray, display: Display, errors: ErrorModel) -> None:
    point = choice.kept[found.index]
    others = [one for one in choice.kept if one is not point]
    if found.residual > 0 and point.pair.reading >= max(one.pair.reading for one in others):
        choice.drop(point, "beyond", Message("monitor.pair.beyond", {"pair": point.index + 1}))
        return
    said = monitor_line([one.pair for one in others], errors).line.at(point.pair.reading)
    losses = {
        "measured": Quantity(point.measured.loss_kg_ha, "kg/har"),
        "expected": Quantity(display.loss_kg_ha(said, point.width_m, point.speed_km_h), "kg/har"),
    }
    choice.drop(point, "stray", Message("monitor.pair.stray", {"pair": point.index + 1, **losses}))


def _bend(points: Sequence[Point], errors: ErrorModel, figures: MonitorFigures) -> Bend | None:
    """A bend beyond chance whose top pair lies farther off the lower line than its pan may be."""
    if len(points) < int(figures.fewest_pairs_for_bend.value):
        return None
    found = upper_bend([point.pair for point in points], errors)
    if found is None or found.p >= figures.bend_level.value / 100:
        return None
    lower = monitor_line([point.pair for point in points if point.pair.reading <= found.reading], errors)
    top = max((point.pair for point in points), key=lambda pair: (pair.reading, pair.loss))
    above = top.loss - lower.line.at(top.reading)
    return found if above > figures.stray_least_errors.value * sqrt(lower.variance_of(top)) else None


def _saturated(choice: Choice, figures: MonitorFigures) -> Literal["yes", "no", "unknown"]:
    if any(role in ("beyond", "full_scale") for role, _ in choice.roles.values()):
        return "yes"
    return "no" if len(choice.kept) >= int(figures.fewest_pairs_for_bend.value) else "unknown"
