"""Least-squares curves through two drop tests or more, and how sure they are.

Inside: weighted fits of the forms of `feed_curve`, pointwise 95 % intervals. Outside: the forms themselves,
which one to take (`curve_choice`), how a loss was measured (`kernel_counts`, `weighing`).

Why these weights. A loss is counted or weighed from grain on the ground, so its variance grows with the
loss: without stated errors it is taken as proportional to the fitted loss, and a test where nothing was
found takes part as the zero it is. Logarithms of losses, the other custom, cannot do that. With stated
standard errors those are the weights.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit, xlogy

from service.domain.feed_curve import Form, exponential_rate, loss_at, power_exponent
from service.domain.ranges import INF, above, within
from service.domain.types import Interval
from service.errors import OutOfRange

PARAMETERS: Final[dict[Form, int]] = {"power": 2, "exponential": 2, "quadratic": 3}
NORMAL_95: Final = 1.959963984540054
_MOST_STEPS: Final = 200
_SMALLEST_STEP: Final = 1e-12
_LARGEST_EXPONENT: Final = 300.0  # exp of twice as much is still a floating-point number

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Curve:
    """A fitted curve.

    `covariance` belongs to (ln a, k), (ln a, b) or (c0, c1, c2); it and `quantile` are None where as many
    coefficients as tests leave nothing to judge by. `dispersion` is variance over what the weights say.
    """

    form: Form
    coefficients: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...] | None
    quantile: float | None
    dispersion: float | None


def fit(form: Form, feeds: Sequence[float], losses: Sequence[float], errors: Sequence[float] = ()) -> Curve:
    """Weighted least-squares curve of one form.

    Parameters
    ----------
    form : str
        `exponential`, `power` or `quadratic`.
    feeds : sequence of float
        Feed rate or ground speed of the tests, above 0; as many different ones as the form has
        coefficients. [any]
    losses : sequence of float
        Loss of each test, 0 or more; above 0 at two different feeds or more. [any]
    errors : sequence of float
        Standard error of each loss, above 0, or none at all. [any]

    Returns
    -------
    Curve
        Coefficients with their covariance. [any]

    Raises
    ------
    OutOfRange
        If an input lies outside its range, the tests are too few, or losses rise so steeply that the
        coefficients are no numbers any more (reason `too_steep`).

    Notes
    -----
    Fisher scoring with step halving. Without errors Var(L) is proportional to L (quasi-Poisson, log link
    for exponential and power) and the dispersion is Pearson's chi-squared per degree of freedom; with
    errors that ratio only ever widens the interval. Two tests give the closed forms exactly. The
    quadratic takes its weights from the exponential fit, which stays above zero.

    References
    ----------
    McCullagh, P., Nelder, J. A. (1989). Generalized Linear Models, 2nd ed., chapters 2 and 9.

    Examples
    --------
    >>> curve = fit("exponential", (3.0, 4.0, 5.0), (1.0, 2.0, 4.0))
    >>> [round(one, 4) for one in curve.coefficients]
    [0.125, 0.6931]
    """
    _check(form, feeds, losses, errors)
    x, y = np.array(feeds, dtype=float), np.array(losses, dtype=float)
    known = np.array(errors, dtype=float) ** 2 if errors else None
    if form == "quadratic":
        return _quadratic(x, y, known)
    design = np.column_stack([np.ones_like(x), x if form == "exponential" else np.log(x)])
    theta = _closed(form, x, y) if len(x) == 2 else _scored(design, y, known)
    if not float(np.max(np.abs(theta))) <= _LARGEST_EXPONENT:
        raise OutOfRange("losses", float(y.max()), reason="too_steep")
    fitted = _means(design, theta)
    variance = fitted if known is None else known
    # on the scale of the logarithm a test weighs (dL / d ln L)^2 / Var(L)
    covariance, quantile, dispersion = _spread(design, fitted**2 / variance, (y - fitted) ** 2 / variance, known)
    a, k = float(theta[0]), float(theta[1])
    return Curve(form, (math.exp(a), k), covariance, quantile, dispersion)


def interval_at(curve: Curve, feed: float) -> Interval:
    """Loss of a curve with the 95 % limits of its mean.

    Parameters
    ----------
    curve : Curve
        A curve that has a covariance. [any]
    feed : float
        Feed rate or ground speed, above 0. [any]

    Returns
    -------
    Interval
        Loss and limits; those of a quadratic may lie below zero. [any]

    Raises
    ------
    OutOfRange
        If the feed is not above 0, or the curve has no covariance.
    UnknownName
        If there is no such form.

    Notes
    -----
    theta'x -+ q sqrt(x' Cov x), taken back from the logarithm for exponential and power.

    References
    ----------
    McCullagh and Nelder (1989), as `fit`.

    Examples
    --------
    >>> curve = fit("exponential", (3.0, 4.0, 5.0), (1.0, 2.0, 4.0), errors=(0.1, 0.2, 0.4))
    >>> loss = interval_at(curve, 4.0)
    >>> round(loss.low, 2), round(loss.value, 2), round(loss.high, 2)
    (1.79, 2.0, 2.24)
    """
    value = loss_at(curve.form, curve.coefficients, feed)
    if curve.covariance is None or curve.quantile is None:
        raise OutOfRange("curve", len(curve.coefficients), reason="no_covariance")
    rows: dict[Form, tuple[float, ...]] = {
        "exponential": (1.0, feed),
        "power": (1.0, math.log(feed)),
        "quadratic": (1.0, feed, feed**2),
    }
    row = np.array(rows[curve.form])
    reach = curve.quantile * math.sqrt(max(0.0, float(row @ np.array(curve.covariance) @ row)))
    if curve.form == "quadratic":
        return Interval(value, value - reach, value + reach)
    reach = min(reach, _LARGEST_EXPONENT)
    return Interval(value, value * math.exp(-reach), value * math.exp(reach))


def poisson_deviance(found: float, predicted: float) -> float:
    """Misfit of a prediction to what was found, least on average where the prediction is the true mean.

    Parameters
    ----------
    found : float
        What was found, 0 or more. [any]
    predicted : float
        What was predicted, above 0. [any]

    Returns
    -------
    float
        Deviance, 0 where both are the same. [any]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    2 (y ln(y/m) - y + m), with 2 m where nothing was found.

    References
    ----------
    McCullagh, P., Nelder, J. A. (1989). Generalized Linear Models, 2nd ed., table 2.1.

    Examples
    --------
    >>> poisson_deviance(0.0, 1.5)
    3.0
    """
    within("found", found, 0, INF, "1")
    above("predicted", predicted, 0, "1")
    # a difference of logarithms, since a quotient of small losses can be no number
    return 2 * ((found * (math.log(found) - math.log(predicted)) if found > 0 else 0.0) - found + predicted)


def _check(form: Form, feeds: Sequence[float], losses: Sequence[float], errors: Sequence[float]) -> None:
    for feed in feeds:
        above("feeds", feed, 0, "1")
    for loss in losses:
        within("losses", loss, 0, INF, "1")
    for error in errors:
        above("errors", error, 0, "1")
    if len(losses) != len(feeds) or len(errors) not in (0, len(feeds)):
        raise OutOfRange("losses", len(losses), len(feeds), len(feeds), reason="unequal_length")
    different = len(set(feeds))
    if different < PARAMETERS[form]:
        raise OutOfRange("feeds", different, PARAMETERS[form], None, reason="too_few")
    found = len({feed for feed, loss in zip(feeds, losses, strict=True) if loss > 0})
    if found < 2:
        raise OutOfRange("losses", found, 2, None, reason="too_few")


def _closed(form: Form, x: Array, y: Array) -> Array:
    tests = float(x[0]), float(y[0]), float(x[1]), float(y[1])
    if form == "exponential":
        k = exponential_rate(*tests)
        return np.array([math.log(tests[1]) - k * tests[0], k])
    b = power_exponent(*tests)
    return np.array([math.log(tests[1]) - b * math.log(tests[0]), b])


def _scored(design: Array, y: Array, known: Array | None) -> Array:
    """Coefficients on the logarithmic scale by Fisher scoring."""

    def misfit(theta: Array) -> float:
        fitted = _means(design, theta)
        if known is not None:
            return float(np.sum((y - fitted) ** 2 / known))
        # the deviance of `poisson_deviance`, all at once: this is asked thousands of times
        return float(np.sum(surplus - y * np.log(fitted) + fitted))

    surplus = xlogy(y, y) - y
    theta = _start(design, y)
    for _ in range(_MOST_STEPS):
        fitted = _means(design, theta)
        weights = fitted**2 / (fitted if known is None else known)
        step = _solve(design, weights, (y - fitted) / fitted)
        # where a fitted loss is next to nothing a step can be as long as numbers go
        step = np.clip(step, -_LARGEST_EXPONENT, _LARGEST_EXPONENT)
        step = step * _share_of_step(misfit, theta, step)
        theta = theta + step
        if float(np.max(np.abs(step))) <= _SMALLEST_STEP * (1 + float(np.max(np.abs(theta)))):
            break
    return theta


def _means(design: Array, theta: Array) -> Array:
    """Fitted losses, held where they and their squares are numbers above zero."""
    return np.asarray(np.exp(np.clip(design @ theta, -_LARGEST_EXPONENT, _LARGEST_EXPONENT)), dtype=np.float64)


def _share_of_step(misfit: Callable[[Array], float], theta: Array, step: Array) -> float:
    """Return the largest of 1, 1/2, 1/4 ... of a step that makes nothing worse; 0 if none does."""
    # near the least misfit the difference of two is rounding, and must not stop the last step
    most, share = misfit(theta) * (1 + 1e-12) + 1e-300, 1.0
    while share > _SMALLEST_STEP:
        if misfit(theta + share * step) <= most:
            return share
        share /= 2
    return 0.0


def _start(design: Array, y: Array) -> Array:
    found = y > 0
    theta = _solve(design[found], y[found], np.log(y[found]))
    if float(np.max(np.abs(design @ theta))) < _LARGEST_EXPONENT:
        return theta
    # the losses found lie so close together that a line through them leads nowhere
    return np.array([math.log(float(y.mean())), 0.0])


def _solve(design: Array, weights: Array, target: Array) -> Array:
    root = np.sqrt(weights)
    return np.asarray(np.linalg.lstsq(design * root[:, None], target * root, rcond=None)[0], dtype=np.float64)


def _quadratic(x: Array, y: Array, known: Array | None) -> Curve:
    if known is None:
        plain = np.column_stack([np.ones_like(x), x])
        variance = _means(plain, _scored(plain, y, None))
    else:
        variance = known
    # columns of one size keep the sum of squares well conditioned
    scale = np.array([1.0, float(x.max()), float(x.max()) ** 2])
    design = np.column_stack([np.ones_like(x), x, x**2]) / scale
    theta = _solve(design, 1 / variance, y)
    squares = (y - design @ theta) ** 2 / variance
    covariance, quantile, dispersion = _spread(design, 1 / variance, squares, known)
    if covariance is not None:
        covariance = _rows(np.array(covariance) / np.outer(scale, scale))
    return Curve("quadratic", tuple(float(one) for one in theta / scale), covariance, quantile, dispersion)


def _spread(
    design: Array, weights: Array, squares: Array, known: Array | None
) -> tuple[tuple[tuple[float, ...], ...] | None, float | None, float | None]:
    """Covariance, quantile and dispersion from the weighted squares of the residuals."""
    freedom = design.shape[0] - design.shape[1]
    ratio = float(np.sum(squares)) / freedom if freedom > 0 else None
    if known is not None:
        dispersion = max(1.0, ratio or 0.0)
    elif ratio is None:
        return None, None, None
    else:
        dispersion = ratio
    quantile = NORMAL_95 if known is not None and dispersion == 1 else float(stdtrit(freedom, 0.975))
    scaled = design * np.sqrt(weights)[:, None]
    covariance = np.asarray(dispersion * np.linalg.pinv(scaled.T @ scaled), dtype=np.float64)
    return _rows(covariance), quantile, dispersion


def _rows(matrix: Array) -> tuple[tuple[float, ...], ...]:
    return tuple(tuple(float(one) for one in row) for row in matrix)
