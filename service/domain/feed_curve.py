"""Loss as a curve over feed rate or ground speed: three forms, their slope and their inverse.

Inside: the forms, the two that pass through two tests, and where a curve reaches a stated loss. Outside:
fitting three tests or more and choosing a form (`curve_fit`), what a speed costs (`working_speed`).

At one yield and one cut width the feed rate is proportional to ground speed, and each form stays of its
kind when its axis is scaled: the same curve serves for both.
"""

import math
from collections.abc import Callable, Sequence
from typing import Final, Literal, get_args

from service.domain.ranges import above
from service.errors import OutOfRange, UnknownName

Form = Literal["exponential", "power", "quadratic"]
FORMS: Final[tuple[Form, ...]] = get_args(Form)


def exponential_rate(feed_1: float, loss_1: float, feed_2: float, loss_2: float) -> float:
    """Rate of the exponential through two tests.

    Parameters
    ----------
    feed_1 : float
        Feed rate or ground speed of the first test, above 0. [any]
    loss_1 : float
        Its loss, above 0. [any]
    feed_2 : float
        Feed rate or ground speed of the second test, above 0, another than the first. [any]
    loss_2 : float
        Its loss, above 0. [any]

    Returns
    -------
    float
        k of L = a exp(k F); below zero where loss falls with feed. [1/any]

    Raises
    ------
    OutOfRange
        If an input lies outside its range or the feeds are the same.

    Notes
    -----
    k = ln(L2/L1) / (F2 - F1). Two tests cannot tell the forms apart.

    References
    ----------
    Definition. The form is one of three compared in Transactions of the CSAE 27 (2011), article 20110904.

    Examples
    --------
    One bushel an acre at 3 mph and three at 4 mph:

    >>> round(exponential_rate(3, 1, 4, 3), 4)
    1.0986
    """
    _check_tests(feed_1, loss_1, feed_2, loss_2)
    return math.log(loss_2 / loss_1) / (feed_2 - feed_1)


def power_exponent(feed_1: float, loss_1: float, feed_2: float, loss_2: float) -> float:
    """Exponent of the power of feed through two tests.

    Parameters
    ----------
    feed_1 : float
        Feed rate or ground speed of the first test, above 0. [any]
    loss_1 : float
        Its loss, above 0. [any]
    feed_2 : float
        Feed rate or ground speed of the second test, above 0, another than the first. [any]
    loss_2 : float
        Its loss, above 0. [any]

    Returns
    -------
    float
        b of L = a F^b; below zero where loss falls with feed. [1]

    Raises
    ------
    OutOfRange
        If an input lies outside its range or the feeds are the same.

    Notes
    -----
    b = ln(L2/L1) / ln(F2/F1). Two tests cannot tell the forms apart.

    References
    ----------
    Definition. Nyborg, E. O. (1967), thesis, Michigan State University: walker, shoe and cylinder losses as
    a F^b (G/S)^c, which at one grain to straw ratio is this form.

    Examples
    --------
    >>> round(power_exponent(3, 1, 4, 3), 2)
    3.82
    """
    _check_tests(feed_1, loss_1, feed_2, loss_2)
    return math.log(loss_2 / loss_1) / math.log(feed_2 / feed_1)


def loss_at(form: str, coefficients: Sequence[float], feed: float) -> float:
    """Loss that a curve gives at a feed rate.

    Parameters
    ----------
    form : str
        `exponential`, `power` or `quadratic`.
    coefficients : sequence of float
        Coefficients of the form, lowest order first. [any]
    feed : float
        Feed rate or ground speed, above 0. [any]

    Returns
    -------
    float
        Loss; a quadratic can fall below zero outside the tests it was fitted to. [any]

    Raises
    ------
    OutOfRange
        If the feed is not above 0, or the loss there is no number any more (reason `too_steep`).
    UnknownName
        If there is no such form.

    Notes
    -----
    a exp(k F); a F^b; c0 + c1 F + c2 F^2.

    References
    ----------
    Forms compared in Transactions of the CSAE 27 (2011), article 20110904.

    Examples
    --------
    >>> loss_at("quadratic", (1.0, 0.5, 0.25), 2.0)
    3.0
    """
    above("feed", feed, 0, "1")
    try:
        loss = _loss(_known(form), coefficients, feed)
    except OverflowError:
        loss = math.inf
    if not math.isfinite(loss):
        raise OutOfRange("feed", feed, reason="too_steep")
    return loss


def slope_at(form: str, coefficients: Sequence[float], feed: float) -> float:
    """Loss that one unit more of feed adds.

    Parameters
    ----------
    form : str
        `exponential`, `power` or `quadratic`.
    coefficients : sequence of float
        Coefficients of the form, lowest order first. [any]
    feed : float
        Feed rate or ground speed, above 0. [any]

    Returns
    -------
    float
        Slope; below zero where loss falls with feed. [any]

    Raises
    ------
    OutOfRange
        If the feed is not above 0, or the loss there is no number any more (reason `too_steep`).
    UnknownName
        If there is no such form.

    Notes
    -----
    k L; b L / F; c1 + 2 c2 F.

    References
    ----------
    Derivative of `loss_at`.

    Examples
    --------
    >>> slope_at("quadratic", (1.0, 0.5, 0.25), 2.0)
    1.5
    """
    loss = loss_at(form, coefficients, feed)
    match _known(form):
        case "exponential":
            return coefficients[1] * loss
        case "power":
            return coefficients[1] * loss / feed
        case "quadratic":
            return coefficients[1] + 2 * coefficients[2] * feed


def feed_at_loss(form: str, coefficients: Sequence[float], loss: float) -> float:
    """Feed rate at which a rising curve reaches a loss: capacity at a stated loss.

    Parameters
    ----------
    form : str
        `exponential`, `power` or `quadratic`.
    coefficients : sequence of float
        Coefficients of the form, lowest order first. [any]
    loss : float
        Loss, above 0. [any]

    Returns
    -------
    float
        Feed rate or ground speed, above 0, on the branch where loss rises. [any]

    Raises
    ------
    OutOfRange
        If the curve never reaches this loss while rising; the reason is `not_reached`.
    UnknownName
        If there is no such form.

    Notes
    -----
    ln(L/a) / k; (L/a)^(1/b); (-c1 + sqrt(c1^2 - 4 c2 (c0 - L))) / (2 c2), which is the rising branch for
    either sign of c2. Capacity at a stated loss is defined so in ISO 8210; the level belongs to the answer.

    References
    ----------
    Inverse of `loss_at`.

    Examples
    --------
    >>> feed_at_loss("quadratic", (1.0, 0.5, 0.25), 3.0)
    2.0
    """
    above("loss", loss, 0, "1")
    inverses: dict[Form, Callable[[Sequence[float], float], float]] = {
        "exponential": _exponential_inverse,
        "power": _power_inverse,
        "quadratic": _quadratic_inverse,
    }
    feed = inverses[_known(form)](coefficients, loss)
    if not (math.isfinite(feed) and feed > 0):
        raise OutOfRange("loss", loss, reason="not_reached")
    return feed


def _loss(form: Form, coefficients: Sequence[float], feed: float) -> float:
    first, second, *rest = coefficients
    match form:
        case "exponential":
            return first * math.exp(second * feed)
        case "power":
            return float(first * feed**second)
        case "quadratic":
            return first + second * feed + rest[0] * feed**2


def _exponential_inverse(coefficients: Sequence[float], loss: float) -> float:
    a, k = coefficients
    return math.log(loss / a) / k if k > 0 and a > 0 else math.nan


def _power_inverse(coefficients: Sequence[float], loss: float) -> float:
    a, b = coefficients
    if not (b > 0 and a > 0):
        return math.nan
    logarithm = math.log(loss / a) / b
    return math.exp(logarithm) if logarithm < math.log(1e300) else math.nan


def _quadratic_inverse(coefficients: Sequence[float], loss: float) -> float:
    c0, c1, c2 = coefficients
    root = c1**2 - 4 * c2 * (c0 - loss)
    if root < 0:
        return math.nan
    # the same root written without a difference of near numbers, good for c2 = 0 as well
    if c1 > 0:
        return 2 * (loss - c0) / (c1 + math.sqrt(root))
    return (-c1 + math.sqrt(root)) / (2 * c2) if c2 > 0 else math.nan


def _known(form: str) -> Form:
    for one in FORMS:
        if one == form:
            return one
    raise UnknownName("form", form, FORMS)


def _check_tests(feed_1: float, loss_1: float, feed_2: float, loss_2: float) -> None:
    for name, feed in (("feed_1", feed_1), ("feed_2", feed_2)):
        above(name, feed, 0, "1")
    for name, loss in (("loss_1", loss_1), ("loss_2", loss_2)):
        above(name, loss, 0, "1")
    if feed_1 == feed_2:
        raise OutOfRange("feed_2", feed_2, reason="same_feed")
