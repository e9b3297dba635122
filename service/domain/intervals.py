"""Arithmetic with estimates that have 95 % limits.

Inside: sums and differences of independent estimates, products with an uncertain factor, scaling,
monotone mapping. Outside: where limits come from (`sampling`).

Limits here may be negative where a difference is; who reports a loss decides what that means.
"""

import math
from collections.abc import Sequence

from service.domain.ranges import within
from service.domain.types import Interval
from service.errors import OutOfRange


def scaled(estimate: Interval, factor: float) -> Interval:
    """An estimate times an exact factor.

    Parameters
    ----------
    estimate : Interval
        Estimate with limits. [any]
    factor : float
        Exact factor, >= 0. [1]

    Returns
    -------
    Interval
        Value and limits, each times the factor. [any]

    Raises
    ------
    OutOfRange
        If the factor is negative or not finite.

    References
    ----------
    Definition.

    Examples
    --------
    >>> scaled(Interval(10, 5, 18), 0.5)
    Interval(value=5.0, low=2.5, high=9.0)
    """
    within("factor", factor, 0, math.inf, "1")
    return Interval(estimate.value * factor, estimate.low * factor, estimate.high * factor)


def combined(terms: Sequence[tuple[float, Interval]]) -> Interval:
    """Weighted sum of independent estimates.

    Parameters
    ----------
    terms : sequence of (float, Interval)
        Exact weight, either sign, and estimate with limits. [any]

    Returns
    -------
    Interval
        Sum with limits; 0 to 0 without terms. [any]

    Notes
    -----
    Method of variance estimates recovery: low = L - sqrt(sum (c x - min(c l, c u))^2), high the same
    with max. It keeps the skewness of the parts and needs no normal distribution.

    References
    ----------
    Zou, G. Y., Donner, A. (2008). Construction of confidence limits about effect measures: a general
    approach. Statistics in Medicine 27, 1693-1702. For weighted sums: Zou, G. Y., Huang, W.,
    Zhang, X. (2009). A note on confidence interval estimation for a linear function of binomial
    proportions. Computational Statistics and Data Analysis 53, 1080-1085.

    Examples
    --------
    >>> combined([(1, Interval(10, 7, 14)), (1, Interval(20, 16, 23))])
    Interval(value=30.0, low=25.0, high=35.0)
    """
    value = math.fsum(c * x.value for c, x in terms)
    below = math.hypot(*(c * x.value - min(c * x.low, c * x.high) for c, x in terms))
    over = math.hypot(*(max(c * x.low, c * x.high) - c * x.value for c, x in terms))
    return Interval(value, value - below, value + over)


def difference(first: Interval, second: Interval) -> Interval:
    """Difference of two independent estimates.

    Parameters
    ----------
    first : Interval
        Estimate with limits. [any]
    second : Interval
        Estimate with limits, taken from the first. [any]

    Returns
    -------
    Interval
        Difference with limits. [any]

    Notes
    -----
    `combined` with weights 1 and -1.

    References
    ----------
    Zou and Donner (2008), as in `combined`; for two Poisson rates: Li, H.-Q., Tang, M.-L., Poon,
    W.-Y., Tang, N.-S. (2011). Confidence intervals for difference between two Poisson rates.
    Communications in Statistics - Simulation and Computation 40, 1478-1493.

    Examples
    --------
    >>> difference(Interval(20, 16, 23), Interval(10, 7, 14))
    Interval(value=10.0, low=4.343145750507619, high=14.242640687119284)
    """
    return combined([(1, first), (-1, second)])


def propagated(estimate: Interval, factor: Interval) -> Interval:
    """An estimate times an independent factor that is itself uncertain.

    Parameters
    ----------
    estimate : Interval
        Estimate with limits, either sign. [any]
    factor : Interval
        Factor with limits, low >= 0. [any]

    Returns
    -------
    Interval
        Product with limits; not negative where the estimate is not. [any]

    Raises
    ------
    OutOfRange
        If the factor's lower limit is negative.

    Notes
    -----
    Distance to a limit = sqrt((F dx)^2 + (x dF)^2 + (dx dF)^2), each side with the distances that
    lead there. The last term keeps the factor's uncertainty alive where nothing was found (x = 0).

    References
    ----------
    Goodman, L. A. (1960). On the exact variance of products. Journal of the American Statistical
    Association 55, 708-713; taken side by side as in Zou and Donner (2008).

    Examples
    --------
    >>> product = propagated(Interval(100, 80, 125), Interval(2.0, 1.8, 2.2))
    >>> product.value, round(product.low), round(product.high)
    (200.0, 155, 254)
    """
    if not 0 <= factor.low <= factor.value <= factor.high:
        raise OutOfRange("factor", factor.low, 0, factor.value, "1")
    value = estimate.value * factor.value
    # a larger factor drives a negative estimate further down
    shrink, grow = factor.value - factor.low, factor.high - factor.value
    if estimate.value < 0:
        shrink, grow = grow, shrink
    below = _product_distance(estimate.value, estimate.value - estimate.low, factor.value, shrink)
    over = _product_distance(estimate.value, estimate.high - estimate.value, factor.value, grow)
    low = value - below
    return Interval(value, max(0.0, low) if estimate.low >= 0 else low, value + over)


def _product_distance(x: float, dx: float, factor: float, dfactor: float) -> float:
    return math.hypot(factor * dx, x * dfactor, dx * dfactor)
