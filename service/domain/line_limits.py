"""What a fitted line says, with 95 % limits.

Inside: limits of the slope, of the height at a place and of the place where the line has a height; how
badly a pair fits a line that was drawn without it. Outside: fitting (`linear_fit`).

All limits are Student's with the degrees of freedom of the line. They are exact where the heights are
normal with variances known up to one factor.
"""

import math
from dataclasses import dataclass
from typing import Final

from scipy import special

from service.domain.linear_fit import Line
from service.domain.ranges import INF, above, within
from service.domain.types import Interval

_TAIL: Final = 0.025


@dataclass(frozen=True, slots=True)
class Place:
    """Where a line has a height. Without limits nothing bounds the place: the slope may be zero."""

    value: float
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Misfit:
    """Distance of a pair from a line drawn without it, and the chance of one as large."""

    residual: float
    p: float


def student_t(degrees_of_freedom: int) -> float:
    """Student's t that leaves 2.5 % above it.

    Parameters
    ----------
    degrees_of_freedom : int
        Degrees of freedom, >= 1.

    Returns
    -------
    float
        The quantile. [1]

    Raises
    ------
    OutOfRange
        If there are no degrees of freedom.

    References
    ----------
    Student (1908). The probable error of a mean. Biometrika 6, 1-25.

    Examples
    --------
    >>> round(student_t(4), 3)
    2.776
    """
    within("degrees_of_freedom", degrees_of_freedom, 1, INF, "1")
    return float(special.stdtrit(degrees_of_freedom, 1 - _TAIL))


def slope_limits(line: Line) -> Interval:
    """Slope with its limits.

    Parameters
    ----------
    line : Line
        Fitted line.

    Returns
    -------
    Interval
        Slope. [y/x]

    Raises
    ------
    OutOfRange
        If the line has no degrees of freedom.

    References
    ----------
    Draper, N. R., Smith, H. (1998). Applied regression analysis, 3rd ed., Wiley, ch. 1.

    Examples
    --------
    >>> limits = slope_limits(Line(0.0, 2.0, 0.1, 0.2, 0.0, 1.0, 4, 0.9))
    >>> round(limits.low, 3), round(limits.high, 3)
    (1.445, 2.555)
    """
    half = student_t(line.degrees_of_freedom) * line.slope_error
    return Interval(line.slope, line.slope - half, line.slope + half)


def height_limits(line: Line, x: float) -> Interval:
    """Height of the line at a place with its limits.

    Parameters
    ----------
    line : Line
        Fitted line.
    x : float
        Place. [x]

    Returns
    -------
    Interval
        Height of the line itself, not of the next pair. [y]

    Raises
    ------
    OutOfRange
        If the place is not finite or the line has no degrees of freedom.

    References
    ----------
    Draper and Smith (1998), as in `slope_limits`.

    Examples
    --------
    >>> limits = height_limits(Line(1.0, 2.0, 0.1, 0.2, -0.01, 1.0, 4, 0.9), 0.0)
    >>> round(limits.low, 3), round(limits.high, 3)
    (0.722, 1.278)
    """
    within("x", x, -INF, INF, "1")
    half = student_t(line.degrees_of_freedom) * math.sqrt(line.variance_at(x))
    return Interval(line.at(x), line.at(x) - half, line.at(x) + half)


def place_of_height(line: Line, y: float, y_error: float = 0.0) -> Place:
    """Place where the line has a height, with its limits.

    Parameters
    ----------
    line : Line
        Fitted line, slope not zero.
    y : float
        Height. [y]
    y_error : float
        Standard error of the height, >= 0; 0 for a height that is chosen. [y]

    Returns
    -------
    Place
        Place, with limits where the slope differs from zero beyond chance. [x]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    Every place x with (a + b x - y)^2 <= t^2 (var(a + b x) + var y), which is exact although the place is
    a ratio. A slope that may be zero leaves the place without limits.

    References
    ----------
    Fieller, E. C. (1954). Some problems in interval estimation. Journal of the Royal Statistical Society
    B 16, 175-185.

    Examples
    --------
    >>> place = place_of_height(Line(1.0, 2.0, 0.1, 0.05, -0.004, 1.0, 4, 0.9), 5.0)
    >>> place.value, round(place.low, 2), round(place.high, 2)
    (2.0, 1.91, 2.09)
    """
    within("y", y, -INF, INF, "1")
    within("y_error", y_error, 0, INF, "1")
    above("slope", abs(line.slope), 0, "1")
    value = (y - line.intercept) / line.slope
    # about the place itself, so that the quadratic keeps its digits: with x = value + d it is
    # (b d)^2 <= t^2 (var(value) + var y + 2 d cov(value, b) + d^2 var b)
    t2 = student_t(line.degrees_of_freedom) ** 2
    lead = line.slope**2 - t2 * line.slope_error**2
    if lead <= 0:
        return Place(value, None, None)
    half_linear = t2 * (line.covariance + value * line.slope_error**2)
    constant = t2 * (line.variance_at(value) + y_error**2)
    root = math.sqrt(half_linear**2 + lead * constant)
    return Place(value, value + (half_linear - root) / lead, value + (half_linear + root) / lead)


def misfit(line: Line, x: float, y: float, y_variance: float) -> Misfit:
    """How badly a pair fits a line that was drawn without it.

    Parameters
    ----------
    line : Line
        Line through the other pairs.
    x : float
        Place of the pair. [x]
    y : float
        Height of the pair. [y]
    y_variance : float
        Variance of its height on the scale of the fit, >= 0. [y2]

    Returns
    -------
    Misfit
        Height above the line, and the two-sided chance of a distance as large.

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    The deleted residual over its standard error is Student's t with the degrees of freedom of the line
    through the others, exactly, however few they are.

    References
    ----------
    Cook, R. D., Weisberg, S. (1982). Residuals and influence in regression, Chapman and Hall, 2.2.2.

    Examples
    --------
    >>> found = misfit(Line(0.0, 1.0, 0.1, 0.1, 0.0, 1.0, 2, 0.9), 1.0, 4.0, 0.04)
    >>> found.residual, round(found.p, 4)
    (3.0, 0.0066)
    """
    within("x", x, -INF, INF, "1")
    within("y", y, -INF, INF, "1")
    within("y_variance", y_variance, 0, INF, "1")
    within("degrees_of_freedom", line.degrees_of_freedom, 1, INF, "1")
    residual = y - line.at(x)
    error = math.sqrt(line.scale**2 * y_variance + line.variance_at(x))
    if error == 0:
        return Misfit(residual, 1.0 if residual == 0 else 0.0)
    return Misfit(residual, 2 * float(special.stdtr(line.degrees_of_freedom, -abs(residual) / error)))
