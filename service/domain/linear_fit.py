"""Straight lines through pairs: errors in one direction, or in both.

Inside: weighted least squares with intercept, and the best line where both numbers have errors.
Outside: limits of what a line says (`line_limits`), which pairs belong on it (`monitor_line`).

Given variances count by their ratios alone. How large they are together is learnt from the residuals,
so that pairs which scatter more than was said get wider limits.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from service.domain.ranges import INF, above, within
from service.errors import OutOfRange

_FEWEST: Final = 3  # two pairs always lie on a line
_MOST_ROUNDS: Final = 200
_SAME: Final = 4e-15  # a few last digits, between which the slope may go on wandering


@dataclass(frozen=True, slots=True)
class Line:
    """y = intercept + slope x, with standard errors and covariance of the two.

    `scale` is the residual standard deviation in units of the given standard errors; with all
    variances 1 it is the residual standard deviation itself. `r_squared` is weighted as the fit is.
    """

    intercept: float
    slope: float
    intercept_error: float
    slope_error: float
    covariance: float
    scale: float
    degrees_of_freedom: int
    r_squared: float

    def at(self, x: float) -> float:
        """Height of the line at `x`."""
        return self.intercept + self.slope * x

    def variance_at(self, x: float) -> float:
        """Variance of the height at `x`."""
        return max(0.0, self.intercept_error**2 + x * (2 * self.covariance + x * self.slope_error**2))


def weighted_line(x: Sequence[float], y: Sequence[float], y_variances: Sequence[float]) -> Line:
    """Line of least weighted squares, where x is exact and y scatters.

    Parameters
    ----------
    x : sequence of float
        Places, three or more, not all the same. [x]
    y : sequence of float
        Heights, one a place. [y]
    y_variances : sequence of float
        Variance of each height, > 0; their ratios alone matter. [y2]

    Returns
    -------
    Line
        The line with its standard errors.

    Raises
    ------
    OutOfRange
        If there are too few pairs, all at one place, or a number lies outside its range.

    Notes
    -----
    slope = sum w u v / sum w u^2, u and v taken from their weighted means, w = 1 / variance. All sums
    are taken about the means, which keeps the digits that sums of squares from zero lose.

    References
    ----------
    Draper, N. R., Smith, H. (1998). Applied regression analysis, 3rd ed., Wiley, ch. 1 and 9.
    Norris, Statistical Reference Datasets, National Institute of Standards and Technology.

    Examples
    --------
    >>> line = weighted_line([0, 1, 2, 3], [1, 3, 5, 8], [1, 1, 1, 1])
    >>> round(line.intercept, 6), round(line.slope, 6), round(line.scale, 6)
    (0.8, 2.3, 0.387298)
    """
    _check(x, y, y_variances)
    weights = [1 / variance for variance in y_variances]
    total = math.fsum(weights)
    x_mean, y_mean = _mean(weights, x), _mean(weights, y)
    spread = math.fsum(w * (at - x_mean) ** 2 for w, at in zip(weights, x, strict=True))
    above("x", spread, 0, "1")  # places that differ by less than their last digit
    slope = math.fsum(w * (at - x_mean) * (up - y_mean) for w, at, up in zip(weights, x, y, strict=True)) / spread
    return _line(x, y, weights, slope, y_mean - slope * x_mean, (x_mean, 1 / total, 1 / spread))


def line_with_errors_in_both(
    x: Sequence[float],
    y: Sequence[float],
    x_variances: Sequence[float],
    y_variances: Sequence[float],
    first_slope: float | None = None,
) -> Line:
    """Best line where x and y both scatter, independently of each other.

    Parameters
    ----------
    x : sequence of float
        Places, three or more, not all the same. [x]
    y : sequence of float
        Heights, one a place. [y]
    x_variances : sequence of float
        Variance of each place, >= 0. [x2]
    y_variances : sequence of float
        Variance of each height, > 0. [y2]
    first_slope : float, optional
        Slope to begin with, where a near one is known; without it that of the weighted line. [y/x]

    Returns
    -------
    Line
        The line with its standard errors.

    Raises
    ------
    OutOfRange
        If there are too few pairs, all at one place, or a number lies outside its range.

    Notes
    -----
    Equations 13a to 13d of the source without correlation: W = 1 / (var y + b^2 var x), beta = W (U var y
    + b V var x), b = sum W beta V / sum W beta U, until b stays. The standard errors stand at the adjusted
    places and are then scaled by the residuals. With exact places this is `weighted_line`; with x and y
    exchanged it is the same line.

    References
    ----------
    York, D., Evensen, N. M., Martinez, M. L., De Basabe Delgado, J. (2004). Unified equations for the
    slope, intercept, and standard errors of the best straight line. American Journal of Physics 72,
    367-375.

    Examples
    --------
    >>> line = line_with_errors_in_both([0, 1, 2, 3], [1, 3, 5, 8], [0.1] * 4, [1] * 4)
    >>> round(line.slope, 3)
    2.309
    """
    _check(x, y, y_variances)
    within("x_variances", len(x_variances), len(x), len(x), "1")
    for variance in x_variances:
        within("x_variances", variance, 0, INF, "1")
    slope = weighted_line(x, y, y_variances).slope if first_slope is None else first_slope
    for _ in range(_MOST_ROUNDS):
        weights = [1 / (vy + slope**2 * vx) for vx, vy in zip(x_variances, y_variances, strict=True)]
        x_mean, y_mean = _mean(weights, x), _mean(weights, y)
        beta = [
            w * ((at - x_mean) * vy + slope * (up - y_mean) * vx)
            for w, at, up, vx, vy in zip(weights, x, y, x_variances, y_variances, strict=True)
        ]
        up_part = math.fsum(w * b * (up - y_mean) for w, b, up in zip(weights, beta, y, strict=True))
        across = math.fsum(w * b * (at - x_mean) for w, b, at in zip(weights, beta, x, strict=True))
        if across == 0:  # places that scatter as much as they differ
            raise OutOfRange("x", 0.0, 0, None, "1", reason="not_above")
        before, slope = slope, up_part / across
        if abs(slope - before) <= _SAME * abs(slope):
            break
    beta_mean = _mean(weights, beta)
    spread = math.fsum(w * (b - beta_mean) ** 2 for w, b in zip(weights, beta, strict=True))
    facts = (x_mean + beta_mean, 1 / math.fsum(weights), 1 / spread)
    return _line(x, y, weights, slope, y_mean - slope * x_mean, facts)


def with_common_error(line: Line, relative_error: float) -> Line:
    """The same line where all heights may be wrong by one and the same factor.

    Parameters
    ----------
    line : Line
        Line through heights that share a factor.
    relative_error : float
        Standard error of the factor over the factor, >= 0. [1]

    Returns
    -------
    Line
        The line with the larger standard errors.

    Raises
    ------
    OutOfRange
        If the relative error is negative or not finite.

    Notes
    -----
    A factor moves intercept and slope together: their covariance matrix grows by e^2 (a, b)(a, b)^T. No
    scatter of the pairs can tell it, as with one kernel mass for all counts.

    References
    ----------
    Joint Committee for Guides in Metrology (2008). Evaluation of measurement data, Guide to the
    expression of uncertainty in measurement, JCGM 100, 5.2 (correlated input quantities).

    Examples
    --------
    >>> with_common_error(Line(0.0, 2.0, 0.0, 0.0, 0.0, 1.0, 4, 1.0), 0.05).slope_error
    0.1
    """
    within("relative_error", relative_error, 0, INF, "1")
    return Line(
        line.intercept,
        line.slope,
        math.hypot(line.intercept_error, relative_error * line.intercept),
        math.hypot(line.slope_error, relative_error * line.slope),
        line.covariance + relative_error**2 * line.intercept * line.slope,
        line.scale,
        line.degrees_of_freedom,
        line.r_squared,
    )


def _check(x: Sequence[float], y: Sequence[float], y_variances: Sequence[float]) -> None:
    within("x", len(x), _FEWEST, INF, "1")
    within("y", len(y), len(x), len(x), "1")
    within("y_variances", len(y_variances), len(x), len(x), "1")
    for number in (*x, *y):
        within("x", number, -INF, INF, "1")
    for variance in y_variances:
        above("y_variances", variance, 0, "1")
    above("x", max(x) - min(x), 0, "1")


def _mean(weights: Sequence[float], values: Sequence[float]) -> float:
    return math.fsum(w * value for w, value in zip(weights, values, strict=True)) / math.fsum(weights)


def _line(
    x: Sequence[float],
    y: Sequence[float],
    weights: Sequence[float],
    slope: float,
    intercept: float,
    facts: tuple[float, float, float],
) -> Line:
    """Finish a line: residuals, standard errors, share explained.

    `facts` are the place where slope and height are independent, and variances of the height there and
    of the slope, before they are scaled by the residuals.
    """
    place, height_variance, slope_variance = facts
    x_mean, y_mean = _mean(weights, x), _mean(weights, y)
    triples = [(w, at - x_mean, up - y_mean) for w, at, up in zip(weights, x, y, strict=True)]
    rest = math.fsum(w * (v - slope * u) ** 2 for w, u, v in triples)
    degrees = len(x) - 2
    scale2 = rest / degrees
    uu, vv, uv = (
        math.fsum(w * u * u for w, u, _ in triples),
        math.fsum(w * v * v for w, _, v in triples),
        math.fsum(w * u * v for w, u, v in triples),
    )
    return Line(
        intercept,
        slope,
        math.sqrt(scale2 * (height_variance + place**2 * slope_variance)),
        math.sqrt(scale2 * slope_variance),
        -place * scale2 * slope_variance,
        math.sqrt(scale2),
        degrees,
        min(1.0, uv**2 / (uu * vv)) if vv > 0 else 0.0,
    )
