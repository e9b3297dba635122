"""The line between what a loss monitor shows and what was lost.

Inside: how sure each measured loss is, the choice between a line with exact readings and one with errors
in both, the pair that does not belong, the bend where the display stops following. Outside: fitting
(`linear_fit`), limits (`line_limits`), rates and advice (`loss_monitor`).

Loss stands on the reading and not the reading on loss: the pan is far less sure than the display, and a
line through pairs is drawn without bias only along the axis that scatters. A sensitivity 1 / slope then
has exact limits too, because they are those of the slope turned round.

With three to ten pairs no robust scale can be told (the median of three residuals is one of them), so a
bad pair is not weighed down but tested: drawn without it, does it lie where the others say?
"""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from typing import Final, Literal

from scipy import special

from service.domain.line_limits import misfit
from service.domain.linear_fit import Line, line_with_errors_in_both, weighted_line
from service.domain.ranges import INF, above, within

Method = Literal["loss_on_reading", "errors_in_both"]

_ROUNDS: Final = 30
_SETTLED: Final = 1e-10
_FEWEST: Final = 3
_NOTHING: Final = 1e-9  # losses this far below another are none beside it


@dataclass(frozen=True, slots=True)
class MonitorPair:
    """A reading and the loss that was measured for it.

    `relative_error` is the standard error of the loss over the loss. `grain` is the loss that one kernel
    stands for, times how much more than by chance kernels scatter; 0 where nothing was counted.
    """

    reading: float
    loss: float
    relative_error: float
    grain: float = 0.0


@dataclass(frozen=True, slots=True)
class ErrorModel:
    """What is taken for granted about errors.

    `reading_error` is the standard error of a reading, 0 where not known. Below `reading_share_ignored`
    of the scatter it is left out. `floor_share` of the mean loss is the least that errors are counted for.
    """

    reading_error: float = 0.0
    reading_share_ignored: float = 0.1
    floor_share: float = 0.1


@dataclass(frozen=True, slots=True)
class MonitorLine:
    """Loss on reading. `variances` are those of the losses, `reading_share` what readings add to the scatter."""

    line: Line
    method: Method
    variances: tuple[float, ...]
    reading_share: float
    errors: ErrorModel
    mean_loss: float

    def variance_of(self, pair: MonitorPair) -> float:
        """Variance of a pair about the line, on the scale of the given errors."""
        variance = _variance(pair, self.line, self.errors.floor_share * self.mean_loss)
        if self.method == "errors_in_both":
            variance += (self.line.slope * self.errors.reading_error) ** 2
        return variance


@dataclass(frozen=True, slots=True)
class Stray:
    """The pair that fits the others least, and the chance that one of them would lie as far off."""

    index: int
    residual: float
    p: float


@dataclass(frozen=True, slots=True)
class Bend:
    """Where the display stops following: the highest reading that still does, and the chance of a mere look of it."""

    reading: float
    p: float


def monitor_line(pairs: Sequence[MonitorPair], errors: ErrorModel) -> MonitorLine:
    """Line of loss on reading through all pairs given.

    Parameters
    ----------
    pairs : sequence of MonitorPair
        Three or more, not all at one reading.
    errors : ErrorModel
        What is known of the errors.

    Returns
    -------
    MonitorLine
        The line, how it was drawn and how sure each loss is.

    Raises
    ------
    OutOfRange
        If there are too few pairs, all readings are the same or all losses zero.

    Notes
    -----
    Variances come from the line and not from the pair, (r m)^2 + k m with m the height of the line: a pan
    that caught too little would else be trusted more because it caught little. Drawn again until it stays.

    References
    ----------
    Carroll, R. J., Ruppert, D. (1988). Transformation and weighting in regression, Chapman and Hall,
    ch. 2 (generalized least squares). York et al. (2004), as in `linear_fit`.

    Examples
    --------
    >>> pairs = [MonitorPair(s, q, 0.2) for s, q in ((1, 12), (3, 28), (5, 55), (8, 80))]
    >>> found = monitor_line(pairs, ErrorModel())
    >>> found.method, round(found.line.slope, 1)
    ('loss_on_reading', 9.7)
    """
    within("pairs", len(pairs), _FEWEST, INF, "1")
    mean_loss = sum(pair.loss for pair in pairs) / len(pairs)
    above("mean_loss", mean_loss, 0, "1")
    line, variances = _settled(pairs, errors.floor_share * mean_loss, 0.0)
    reading_part = (line.slope * errors.reading_error) ** 2
    share = median(reading_part / (reading_part + variance) for variance in variances)
    method: Method = "loss_on_reading"
    if share > errors.reading_share_ignored:
        method = "errors_in_both"
        line, variances = _settled(pairs, errors.floor_share * mean_loss, errors.reading_error)
    return MonitorLine(line, method, variances, share, errors, mean_loss)


def least_fitting_pair(pairs: Sequence[MonitorPair], errors: ErrorModel) -> Stray:
    """The pair that fits the line through all others least.

    Parameters
    ----------
    pairs : sequence of MonitorPair
        Four or more.
    errors : ErrorModel
        What is known of the errors.

    Returns
    -------
    Stray
        Which pair, its distance from the line of the others, and the chance.

    Raises
    ------
    OutOfRange
        If there are too few pairs, or the others share one reading.

    Notes
    -----
    Each pair is left out in turn and held against the line through the rest. The chance is that of the
    least fitting of all n, n times its own (Bonferroni), at most 1. One bad pair cannot hide, for it is not
    in the line it is held against; two can hide each other.

    References
    ----------
    Cook, R. D., Weisberg, S. (1982). Residuals and influence in regression, Chapman and Hall, 2.2.2.

    Examples
    --------
    >>> pairs = [MonitorPair(s, q, 0.2) for s, q in ((1, 10), (3, 31), (5, 49), (6, 10), (8, 81))]
    >>> least_fitting_pair(pairs, ErrorModel()).index
    3
    """
    within("pairs", len(pairs), _FEWEST + 1, INF, "1")
    found = []
    for index, pair in enumerate(pairs):
        rest = [*pairs[:index], *pairs[index + 1 :]]
        if len({other.reading for other in rest}) < 2 or not any(other.loss > _NOTHING * pair.loss for other in rest):
            continue  # this pair alone tells the slope: nothing is left to hold it against
        drawn = monitor_line(rest, errors)
        off = misfit(drawn.line, pair.reading, pair.loss, drawn.variance_of(pair))
        found.append(Stray(index, off.residual, off.p))
    if not found:
        return Stray(0, 0.0, 1.0)
    worst = min(found, key=lambda one: (one.p, -abs(one.residual)))
    return Stray(worst.index, worst.residual, min(1.0, len(pairs) * worst.p))


def upper_bend(pairs: Sequence[MonitorPair], errors: ErrorModel) -> Bend | None:
    """Reading above which losses rise faster than the display.

    Parameters
    ----------
    pairs : sequence of MonitorPair
        Five or more.
    errors : ErrorModel
        What is known of the errors.

    Returns
    -------
    Bend or None
        The likeliest bend with its chance; None where no reading has three pairs at or below it and one
        above, or no bend goes up.

    Raises
    ------
    OutOfRange
        If there are too few pairs or all readings are the same.

    Notes
    -----
    At each reading a second slope is tried for the pairs above it. Its t is that of one more coefficient,
    one-sided, for a display that sticks makes losses rise faster; the chance is multiplied by the number of
    readings tried.

    References
    ----------
    Seber, G. A. F., Lee, A. J. (2003). Linear regression analysis, 2nd ed., Wiley, 7.3 (piecewise lines).

    Examples
    --------
    >>> pairs = [MonitorPair(s, q, 0.1) for s, q in ((1, 10), (3, 31), (5, 49), (7, 71), (8, 79), (9, 160))]
    >>> upper_bend(pairs, ErrorModel()).reading
    8
    """
    within("pairs", len(pairs), _FEWEST + 2, INF, "1")
    drawn = monitor_line(pairs, errors)
    variances = [drawn.variance_of(pair) for pair in pairs]
    tries = [_second_slope(pairs, variances, knot) for knot in _knots(pairs)]
    rising = [bend for bend in tries if bend is not None]
    if not rising:
        return None
    best = min(rising, key=lambda bend: (bend.p, bend.reading))
    return Bend(best.reading, min(1.0, len(tries) * best.p))


def _settled(pairs: Sequence[MonitorPair], floor: float, reading_error: float) -> tuple[Line, tuple[float, ...]]:
    readings, losses = [pair.reading for pair in pairs], [pair.loss for pair in pairs]
    variances = [_variance_at(pair, max(pair.loss, floor)) for pair in pairs]
    line = weighted_line(readings, losses, variances)
    for _ in range(_ROUNDS):
        before = line
        variances = [_variance(pair, line, floor) for pair in pairs]
        line = (
            line_with_errors_in_both(readings, losses, [reading_error**2] * len(pairs), variances, before.slope)
            if reading_error > 0
            else weighted_line(readings, losses, variances)
        )
        if abs(line.slope - before.slope) <= _SETTLED * abs(line.slope):
            break
    return line, tuple(variances)


def _variance(pair: MonitorPair, line: Line, floor: float) -> float:
    return _variance_at(pair, max(line.at(pair.reading), floor, pair.grain))


def _variance_at(pair: MonitorPair, loss: float) -> float:
    return (pair.relative_error * loss) ** 2 + pair.grain * loss


def _knots(pairs: Sequence[MonitorPair]) -> list[float]:
    """Readings with a line below them, three pairs at two readings, and at least one pair above."""
    readings = sorted(pair.reading for pair in pairs)
    return [
        knot
        for knot in sorted(set(readings))
        if sum(reading <= knot for reading in readings) >= _FEWEST
        and len({reading for reading in readings if reading <= knot}) >= 2
        and knot < readings[-1]
    ]


def _second_slope(pairs: Sequence[MonitorPair], variances: Sequence[float], knot: float) -> Bend | None:
    """t of a further slope above the knot: what is left of losses on what is left of the hinge."""
    readings = [pair.reading for pair in pairs]
    hinge = [max(0.0, reading - knot) for reading in readings]
    of_loss = weighted_line(readings, [pair.loss for pair in pairs], variances)
    of_hinge = weighted_line(readings, hinge, variances)
    left = [
        (1 / variance, pair.loss - of_loss.at(pair.reading), up - of_hinge.at(pair.reading))
        for pair, up, variance in zip(pairs, hinge, variances, strict=True)
    ]
    across = sum(w * h * h for w, _, h in left)
    if not across > 0:
        return None
    slope = sum(w * e * h for w, e, h in left) / across
    if slope <= 0:
        return None
    degrees = len(pairs) - 3
    rest = max(0.0, sum(w * e * e for w, e, _ in left) - slope**2 * across)
    if rest == 0:
        return Bend(knot, 0.0)
    return Bend(knot, float(special.stdtr(degrees, -slope * (across * degrees / rest) ** 0.5)))
