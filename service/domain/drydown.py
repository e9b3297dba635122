"""Grain in a standing crop following the air: how fast, from two readings, and where it goes from there.

Inside: the first-order lag of grain moisture behind its equilibrium, in closed form for steady air and
step by step for hourly air; the rate constant from two readings. Outside: equilibrium moisture
(`equilibrium.py`), how sure the path is (`drydown_band.py`), water that lies on the grain.

Moisture is on the wet basis, percent. Times are hours; what time of day it is, nobody here knows.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from scipy.optimize import brentq

from service.domain.ranges import above, within
from service.errors import Contradiction

MOISTURE_MAX_PCT: Final = 95.0
# at 3 per hour grain is within 5 % of the air after an hour; hourly weather cannot tell faster ones apart
RATE_MAX_PER_H: Final = 3.0
_RATE_MIN_PER_H: Final = 1e-6
_RATES_TRIED: Final = 48


@dataclass(frozen=True, slots=True)
class Path:
    """Grain moisture at the start and after each step, percent wet basis."""

    moistures_pct: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class FittedRate:
    """The rate constant that leads from one reading to the next; `several` says that another one would too."""

    rate_per_h: float
    several: bool


def moisture_after_pct(moisture_pct: float, equilibrium_pct: float, rate_per_h: float, hours: float) -> float:
    """Grain moisture after a time in steady air.

    Parameters
    ----------
    moisture_pct : float
        Grain moisture at the start, 0 to 95. [%]
    equilibrium_pct : float
        Equilibrium moisture of this air, 0 to 95. [%]
    rate_per_h : float
        Rate constant, 0 to 3. [1/h]
    hours : float
        Time that passes, 0 to 2400. [h]

    Returns
    -------
    float
        Grain moisture at the end, between start and equilibrium. [%]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    M = Me + (M0 - Me) exp(-k t), the solution of dM/dt = -k (M - Me).

    References
    ----------
    First-order drying law, as in Martinez-Feria, R. A. et al., Scientific Reports 9, 2019, for maize
    and soybean in the field, there with a power of its own.

    Examples
    --------
    >>> round(moisture_after_pct(18.0, 12.0, 0.1352, 3.0), 1)
    16.0
    """
    within("moisture_pct", moisture_pct, 0, MOISTURE_MAX_PCT, "%")
    within("equilibrium_pct", equilibrium_pct, 0, MOISTURE_MAX_PCT, "%")
    within("rate_per_h", rate_per_h, 0, RATE_MAX_PER_H, "1/h")
    within("hours", hours, 0, 2400, "h")
    return _step(moisture_pct, equilibrium_pct, rate_per_h * hours)


def rate_in_steady_air_per_h(
    moisture_1_pct: float, moisture_2_pct: float, equilibrium_pct: float, hours: float
) -> float:
    """Rate constant from two readings in steady air.

    Parameters
    ----------
    moisture_1_pct, moisture_2_pct : float
        First and second reading, 0 to 95. [%]
    equilibrium_pct : float
        Equilibrium moisture, 0 to 95, beyond the second reading as seen from the first. [%]
    hours : float
        Time between the readings, above 0. [h]

    Returns
    -------
    float
        Rate constant, above 0. [1/h]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.
    Contradiction
        If the second reading does not lie between the first and the equilibrium.

    Notes
    -----
    k = ln[(M1 - Me) / (M2 - Me)] / t.

    References
    ----------
    First-order drying law solved for the rate.

    Examples
    --------
    >>> round(rate_in_steady_air_per_h(18.0, 16.0, 12.0, 3.0), 4)
    0.1352
    """
    for name, value in (("moisture_1_pct", moisture_1_pct), ("moisture_2_pct", moisture_2_pct)):
        within(name, value, 0, MOISTURE_MAX_PCT, "%")
    within("equilibrium_pct", equilibrium_pct, 0, MOISTURE_MAX_PCT, "%")
    above("hours", hours, 0, "h")
    first, second = moisture_1_pct - equilibrium_pct, moisture_2_pct - equilibrium_pct
    if not (first * second > 0 and abs(first) > abs(second)):
        raise Contradiction(("moisture_1_pct", "moisture_2_pct"), "readings_against_air")
    return math.log(first / second) / hours


def hours_to_moisture_h(moisture_pct: float, target_pct: float, equilibrium_pct: float, rate_per_h: float) -> float:
    """Time until grain reaches a moisture in steady air.

    Parameters
    ----------
    moisture_pct : float
        Grain moisture now, 0 to 95. [%]
    target_pct : float
        Moisture to reach, 0 to 95. [%]
    equilibrium_pct : float
        Equilibrium moisture of this air, 0 to 95. [%]
    rate_per_h : float
        Rate constant, above 0 to 3. [1/h]

    Returns
    -------
    float
        Time; infinite if this air never brings the grain there. [h]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    t = ln[(M - Me) / (Mt - Me)] / k.

    References
    ----------
    First-order drying law solved for the time.

    Examples
    --------
    >>> round(hours_to_moisture_h(16.0, 14.5, 12.0, 0.1352), 2)
    3.48
    """
    for name, value in (
        ("moisture_pct", moisture_pct),
        ("target_pct", target_pct),
        ("equilibrium_pct", equilibrium_pct),
    ):
        within(name, value, 0, MOISTURE_MAX_PCT, "%")
    above("rate_per_h", rate_per_h, 0, "1/h")
    within("rate_per_h", rate_per_h, 0, RATE_MAX_PER_H, "1/h")
    if moisture_pct == target_pct:
        return 0.0
    now, then = moisture_pct - equilibrium_pct, target_pct - equilibrium_pct
    if now * then <= 0 or abs(then) > abs(now):
        return math.inf
    return math.log(now / then) / rate_per_h


def moisture_path(
    moisture_pct: float,
    equilibrium_pct: Sequence[float],
    hours: Sequence[float],
    rate_per_h: float,
    rewetting_factor: float,
) -> Path:
    """Grain moisture through air that is steady within each step.

    Parameters
    ----------
    moisture_pct : float
        Grain moisture at the start, 0 to 95. [%]
    equilibrium_pct : sequence of float, one a step
        Equilibrium moisture of each step, 0 to 95. [%]
    hours : sequence of float, one a step
        Length of each step, above 0. [h]
    rate_per_h : float
        Rate constant of drying, 0 to 3. [1/h]
    rewetting_factor : float
        Rate of taking up water per rate of drying, 0 to 1. [1]

    Returns
    -------
    Path
        Moisture at the start and after each step.

    Raises
    ------
    OutOfRange
        If an input lies outside its range.
    Contradiction
        If there are not as many equilibrium moistures as steps.

    Notes
    -----
    Each step is exact. Grain below its equilibrium takes up water, and more slowly than it dries.

    References
    ----------
    First-order drying law. Rewetting normally slower: University of Missouri Extension, grain
    management pages, without a figure.

    Examples
    --------
    >>> [round(m, 2) for m in moisture_path(18.0, [12.0, 20.0], [3.0, 3.0], 0.1352, 0.5).moistures_pct]
    [18.0, 16.0, 16.73]
    """
    _check_path(moisture_pct, equilibrium_pct, hours, rewetting_factor)
    within("rate_per_h", rate_per_h, 0, RATE_MAX_PER_H, "1/h")
    return Path(_walk(moisture_pct, equilibrium_pct, hours, rate_per_h, rewetting_factor))


def fitted_rate(
    moisture_1_pct: float,
    moisture_2_pct: float,
    equilibrium_pct: Sequence[float],
    hours: Sequence[float],
    rewetting_factor: float,
) -> FittedRate:
    """Rate constant that leads from one reading to the next through hourly air.

    Parameters
    ----------
    moisture_1_pct, moisture_2_pct : float
        Readings at the start of the first and at the end of the last step, 0 to 95. [%]
    equilibrium_pct : sequence of float, one a step
        Equilibrium moisture of each step between the readings, 0 to 95. [%]
    hours : sequence of float, one a step
        Length of each step, above 0. [h]
    rewetting_factor : float
        Rate of taking up water per rate of drying, 0 to 1. [1]

    Returns
    -------
    FittedRate
        The slowest rate that fits, and whether a faster one fits too.

    Raises
    ------
    OutOfRange
        If an input lies outside its range.
    Contradiction
        If no rate up to 3 per hour leads there: equal readings tell nothing, a second one may be wetter
        or drier than this air can make the grain.

    Notes
    -----
    In changing air the moisture at the end is no monotone function of the rate: a fast crop dries by
    day and is wet again at night. The slowest solution is taken, because it asks least of the air.

    References
    ----------
    First-order drying law; root after Brent, R. P., Algorithms for Minimization without Derivatives,
    1973.

    Examples
    --------
    >>> round(fitted_rate(18.0, 16.0, [12.0, 12.0, 12.0], [1.0, 1.0, 1.0], 0.5).rate_per_h, 4)
    0.1352
    """
    _check_path(moisture_1_pct, equilibrium_pct, hours, rewetting_factor)
    within("moisture_2_pct", moisture_2_pct, 0, MOISTURE_MAX_PCT, "%")
    fields = ("moisture_1_pct", "moisture_2_pct")
    if moisture_1_pct == moisture_2_pct:
        raise Contradiction(fields, "reason.readings_equal")

    def miss(rate: float) -> float:
        return _walk(moisture_1_pct, equilibrium_pct, hours, rate, rewetting_factor)[-1] - moisture_2_pct

    rates = _rates()
    misses = [miss(rate) for rate in rates]
    # a rate of the grid that fits exactly ends one bracket and does not begin another
    brackets = [place for place, (one, other) in enumerate(pairwise(misses)) if one * other < 0 or other == 0]
    if not brackets:
        reachable = (min(misses) + moisture_2_pct, max(misses) + moisture_2_pct)
        reason = "reason.reading_too_dry" if misses[0] > 0 else "reason.reading_too_wet"
        raise Contradiction(fields, reason, low_pct=reachable[0], high_pct=reachable[1])
    return FittedRate(_root(miss, rates[brackets[0]], rates[brackets[0] + 1]), len(brackets) > 1)


def _rates() -> list[float]:
    """Rates from next to none to as fast as the air, evenly spread on a logarithmic scale."""
    ratio = RATE_MAX_PER_H / _RATE_MIN_PER_H
    last = _RATES_TRIED - 1
    return [_RATE_MIN_PER_H * ratio ** (place / last) for place in range(last)] + [RATE_MAX_PER_H]


def _root(miss: Callable[[float], float], low: float, high: float) -> float:
    return float(brentq(miss, low, high, xtol=1e-12, rtol=1e-10))


def _walk(
    moisture_pct: float, equilibrium_pct: Sequence[float], hours: Sequence[float], rate: float, rewetting: float
) -> tuple[float, ...]:
    moistures = [moisture_pct]
    for equilibrium, length in zip(equilibrium_pct, hours, strict=True):
        pace = rate if moistures[-1] >= equilibrium else rate * rewetting
        moistures.append(_step(moistures[-1], equilibrium, pace * length))
    return tuple(moistures)


def _step(moisture_pct: float, equilibrium_pct: float, exponent: float) -> float:
    end = equilibrium_pct + (moisture_pct - equilibrium_pct) * math.exp(-exponent)
    # rounding must not carry grain past the air
    return min(max(end, min(moisture_pct, equilibrium_pct)), max(moisture_pct, equilibrium_pct))


def _check_path(
    moisture_pct: float, equilibrium_pct: Sequence[float], hours: Sequence[float], rewetting_factor: float
) -> None:
    within("moisture_pct", moisture_pct, 0, MOISTURE_MAX_PCT, "%")
    within("rewetting_factor", rewetting_factor, 0, 1, "1")
    if len(equilibrium_pct) != len(hours) or not hours:
        raise Contradiction(("equilibrium_pct", "hours"), "lengths_differ")
    for equilibrium in equilibrium_pct:
        within("equilibrium_pct", equilibrium, 0, MOISTURE_MAX_PCT, "%")
    for length in hours:
        above("hours", length, 0, "h")
