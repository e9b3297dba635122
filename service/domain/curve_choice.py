"""Which form of loss curve to take.

Inside: leave-one-out comparison of the forms, and the order of preference where it cannot tell. Outside:
fitting one form (`curve_fit`).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from service.domain.curve_fit import PARAMETERS, Curve, fit, poisson_deviance
from service.domain.feed_curve import Form, loss_at
from service.domain.ranges import INF, above, within
from service.errors import OutOfRange, ServiceError

_ROUNDING: Final = 1e-10
PREFERENCE: Final[tuple[Form, ...]] = ("power", "exponential", "quadratic")


@dataclass(frozen=True, slots=True)
class Candidate:
    """A form that was tried: its curve and its leave-one-out score, None where it cannot be told."""

    curve: Curve
    score: float | None


@dataclass(frozen=True, slots=True)
class Choice:
    """Forms that fit, the best first. `reason`: two_tests, leave_one_out, or too_few to leave one out."""

    candidates: tuple[Candidate, ...]
    reason: str


def leave_one_out(form: Form, feeds: Sequence[float], losses: Sequence[float], errors: Sequence[float] = ()) -> float:
    """Mean misfit of a form at tests that it was not fitted to.

    Parameters
    ----------
    form : str
        `exponential`, `power` or `quadratic`.
    feeds : sequence of float
        Feed rate or ground speed of the tests, above 0. [any]
    losses : sequence of float
        Loss of each test, 0 or more. [any]
    errors : sequence of float
        Standard error of each loss, above 0, or none at all. [any]

    Returns
    -------
    float
        Mean over the tests, each left out in turn; infinite where a prediction falls below zero. [1]

    Raises
    ------
    OutOfRange
        If the tests that remain cannot be fitted.
    UnknownName
        If there is no such form.

    Notes
    -----
    Poisson deviance 2 (y ln(y/m) - y + m) of the left-out loss y against its prediction m; with errors
    ((y - m) / s)^2. Either is least for the true mean, and compares forms of unlike scales.

    References
    ----------
    Stone, M. (1974). Cross-validatory choice and assessment of statistical predictions. Journal of the
    Royal Statistical Society B 36, 111-147.

    Examples
    --------
    >>> round(leave_one_out("exponential", (2.0, 3.0, 4.0, 5.0), (0.5, 1.0, 2.0, 4.0)), 6)
    0.0
    """
    misfits = []
    for left in range(len(feeds)):
        rest = [place for place in range(len(feeds)) if place != left]
        curve = fit(form, _at(feeds, rest), _at(losses, rest), _at(errors, rest) if errors else ())
        predicted, found = loss_at(form, curve.coefficients, feeds[left]), losses[left]
        if errors:
            misfits.append(((found - predicted) / errors[left]) ** 2)
        else:
            misfits.append(poisson_deviance(found, predicted) if predicted > 0 else math.inf)
    return math.fsum(misfits) / len(misfits)


def choose(
    feeds: Sequence[float], losses: Sequence[float], errors: Sequence[float] = (), *, low: float, high: float
) -> Choice:
    """Forms that can be fitted to these tests, the one that predicts best first.

    Parameters
    ----------
    feeds : sequence of float
        Feed rate or ground speed of the tests, above 0. [any]
    losses : sequence of float
        Loss of each test, 0 or more; above 0 at two different feeds or more. [any]
    errors : sequence of float
        Standard error of each loss, above 0, or none at all. [any]
    low, high : float
        Range over which the curve is to be used, above 0: a form that falls below zero there is left
        out. [any]

    Returns
    -------
    Choice
        Candidates with their scores, and why the first is first.

    Raises
    ------
    OutOfRange
        If an input lies outside its range, the tests are too few for any form, or losses rise too steeply
        for any (reason `too_steep`).
    UnknownName
        If there is no such form.

    Notes
    -----
    Where forms predict alike, or nothing can be left out, the power of feed comes first: it is the form
    with the widest published support.

    References
    ----------
    As `leave_one_out`; for the preference Nyborg, E. O. (1967), thesis, Michigan State University.

    Examples
    --------
    >>> choice = choose((2.0, 3.0, 4.0, 5.0), (0.5, 1.0, 2.0, 4.0), low=1.0, high=6.0)
    >>> choice.candidates[0].curve.form
    'exponential'
    """
    above("low", low, 0, "1")
    within("high", high, low, INF, "1")
    different = len(set(feeds))
    candidates = []
    for form in PREFERENCE:
        if PARAMETERS[form] > max(2, different):
            continue
        try:
            curve = fit(form, feeds, losses, errors)
        except OutOfRange as refused:
            if refused.facts["reason"] != "too_steep":
                raise
            continue
        if usable(curve, low, high):
            candidates.append(Candidate(curve, _score(form, feeds, losses, errors)))
    if not candidates:
        raise OutOfRange("losses", max(losses), reason="too_steep")
    told = [one for one in candidates if one.score is not None]
    if len(feeds) == 2 or not told:
        return Choice(tuple(candidates), "two_tests" if len(feeds) == 2 else "too_few")
    # rounded, so that what differs in the last bits alone counts as the same and the preference holds
    ranked = sorted(told, key=lambda one: float(f"{one.score:.6e}"))
    return Choice((*ranked, *(one for one in candidates if one.score is None)), "leave_one_out")


def _score(form: Form, feeds: Sequence[float], losses: Sequence[float], errors: Sequence[float]) -> float | None:
    # one test is left out, so one different feed fewer may remain
    remaining = min(len(set(feeds[:place]) | set(feeds[place + 1 :])) for place in range(len(feeds)))
    if remaining < PARAMETERS[form]:
        return None
    try:
        score = leave_one_out(form, feeds, losses, errors)
    except ServiceError:
        return None
    if not math.isfinite(score):
        return None
    # what is left of a perfect fit is rounding, and says nothing of the form
    unit = 1.0 if errors else max(losses)
    return score if score > _ROUNDING * unit else 0.0


def usable(curve: Curve, low: float, high: float) -> bool:
    """Say whether a curve gives a loss everywhere in a range: a number, and not below zero.

    Parameters
    ----------
    curve : Curve
        A fitted curve. [any]
    low, high : float
        Range, above 0. [any]

    Returns
    -------
    bool
        Whether it may be used there.

    Raises
    ------
    OutOfRange
        If the range does not lie above 0.
    UnknownName
        If there is no such form.

    Notes
    -----
    Exponential and power are monotone, a quadratic has its least at -c1 / (2 c2): the ends and that place
    decide.

    References
    ----------
    Definition.

    Examples
    --------
    >>> usable(Curve("quadratic", (24.0, -10.0, 1.0), None, None, None), 3.0, 7.0)
    False
    """
    above("low", low, 0, "1")
    within("high", high, low, INF, "1")
    places = [low, high]
    if curve.form == "quadratic":
        c1, c2 = curve.coefficients[1:]
        if c2 > 0 and low < -c1 / (2 * c2) < high:
            places.append(-c1 / (2 * c2))
    try:
        return all(loss_at(curve.form, curve.coefficients, place) >= 0 for place in places)
    except OutOfRange:
        return False


def _at(values: Sequence[float], places: Sequence[int]) -> tuple[float, ...]:
    return tuple(values[place] for place in places)
