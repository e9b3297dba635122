"""How sure a dry-down path is: every uncertain input moved to its ends, the path computed again.

Inside: the band around the path and around the rate constant, from readings or from a rate taken from
elsewhere; when a path or an end of the band first comes down to a moisture. Outside: the path itself
(`drydown.py`), how large the uncertainties are (the knowledge table).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from service.domain.drydown import MOISTURE_MAX_PCT, RATE_MAX_PER_H, fitted_rate, moisture_path
from service.domain.ranges import within
from service.domain.types import Interval
from service.errors import Contradiction


@dataclass(frozen=True, slots=True)
class Forecast:
    """A path with its band, at the start and after each step, and the rate it rests on.

    `several` says that a faster rate explains the readings as well. `unbounded` says that the readings
    with their errors set no lower or no upper limit to the rate.
    """

    rate_per_h: Interval
    moistures_pct: tuple[Interval, ...]
    several: bool
    unbounded: bool


@dataclass(frozen=True, slots=True)
class _World:
    """One consistent set of inputs, and the path it leads to."""

    rate: float
    path: tuple[float, ...]
    several: bool = False
    fits: bool = True


def forecast_from_readings(
    moisture_1_pct: float,
    moisture_2_pct: float,
    equilibrium_pct: Sequence[float],
    hours: Sequence[float],
    *,
    learning_steps: int,
    rewetting_factor: Interval,
    reading_error_pct: float,
    equilibrium_error_pct: float,
) -> Forecast:
    """Path through two readings and on, with its band.

    Parameters
    ----------
    moisture_1_pct, moisture_2_pct : float
        Readings at the start and after `learning_steps` steps, 0 to 95. [%]
    equilibrium_pct : sequence of float, one a step
        Equilibrium moisture of each step, 0 to 95. [%]
    hours : sequence of float, one a step
        Length of each step, above 0. [h]
    learning_steps : int
        Steps between the readings, 1 up to all.
    rewetting_factor : Interval
        Rate of taking up water per rate of drying, 0 to 1. [1]
    reading_error_pct : float
        Error of one reading either way, 0 to 10. [%]
    equilibrium_error_pct : float
        Error of the equilibrium moistures, all the same way, 0 to 10. [%]

    Returns
    -------
    Forecast
        Rate and moistures with their limits; the values are those without any error.

    Raises
    ------
    OutOfRange
        If an input lies outside its range.
    Contradiction
        If no rate leads from the first reading to the second.

    Notes
    -----
    Each uncertain input is moved to either end, alone: the rate is fitted again and the whole path is
    computed again, so that a higher equilibrium comes with the faster rate that it implies. The
    deviations that point the same way add as the root of their squares. Where a moved reading allows
    no rate, the limit that lies that way is taken: no drying, or as fast as the air.

    References
    ----------
    First-order propagation of independent errors, here with both ends instead of a derivative: JCGM
    100:2008, Guide to the expression of uncertainty in measurement, 5.1.

    Examples
    --------
    >>> none = Interval(0.5, 0.5, 0.5)
    >>> found = forecast_from_readings(
    ...     18.0, 16.0, [12.0] * 6, [1.0] * 6, learning_steps=3, rewetting_factor=none,
    ...     reading_error_pct=0.5, equilibrium_error_pct=0.0,
    ... )
    >>> round(found.rate_per_h.value, 4), round(found.rate_per_h.low, 3), round(found.rate_per_h.high, 3)
    (0.1352, 0.086, 0.187)
    """
    within("reading_error_pct", reading_error_pct, 0, 10, "%")
    within("equilibrium_error_pct", equilibrium_error_pct, 0, 10, "%")
    within("learning_steps", learning_steps, 1, len(hours), "1")

    def world(first: float = 0.0, second: float = 0.0, air: float = 0.0, factor: float | None = None) -> _World:
        shifted = [_held(one + air) for one in equilibrium_pct]
        readings = _held(moisture_1_pct + first), _held(moisture_2_pct + second)
        wetting = rewetting_factor.value if factor is None else factor
        return _learned(readings, shifted, hours, learning_steps, wetting)

    centre = world()
    if not centre.fits:  # the moved worlds may fail, this one may not
        fitted_rate(
            moisture_1_pct,
            moisture_2_pct,
            equilibrium_pct[:learning_steps],
            hours[:learning_steps],
            rewetting_factor.value,
        )
    error, spread = reading_error_pct, equilibrium_error_pct
    moved = [
        [world(first=error), world(first=-error)],
        [world(second=error), world(second=-error)],
        [world(air=spread), world(air=-spread)],
        [world(factor=rewetting_factor.low), world(factor=rewetting_factor.high)],
    ]
    return _joined(centre, moved)


def forecast_from_rate(
    moisture_pct: float,
    equilibrium_pct: Sequence[float],
    hours: Sequence[float],
    *,
    rate_per_h: Interval,
    rewetting_factor: Interval,
    reading_error_pct: float,
    equilibrium_error_pct: float,
) -> Forecast:
    """Path from one reading with a rate taken from elsewhere, with its band.

    Parameters
    ----------
    moisture_pct : float
        Reading at the start, 0 to 95. [%]
    equilibrium_pct : sequence of float, one a step
        Equilibrium moisture of each step, 0 to 95. [%]
    hours : sequence of float, one a step
        Length of each step, above 0. [h]
    rate_per_h : Interval
        Rate constant, 0 to 3. [1/h]
    rewetting_factor : Interval
        Rate of taking up water per rate of drying, 0 to 1. [1]
    reading_error_pct : float
        Error of the reading either way, 0 to 10. [%]
    equilibrium_error_pct : float
        Error of the equilibrium moistures, all the same way, 0 to 10. [%]

    Returns
    -------
    Forecast
        Rate as given, and moistures with their limits.

    Raises
    ------
    OutOfRange
        If an input lies outside its range.
    Contradiction
        If there are not as many equilibrium moistures as steps.

    Notes
    -----
    As `forecast_from_readings`, with the rate as one more uncertain input.

    References
    ----------
    First-order propagation of independent errors: JCGM 100:2008, Guide to the expression of
    uncertainty in measurement, 5.1.

    Examples
    --------
    >>> found = forecast_from_rate(
    ...     18.0, [12.0], [3.0], rate_per_h=Interval(0.1352, 0.1352, 0.1352),
    ...     rewetting_factor=Interval(0.5, 0.5, 0.5), reading_error_pct=0.5, equilibrium_error_pct=0.0,
    ... )
    >>> round(found.moistures_pct[-1].value, 1), round(found.moistures_pct[-1].high, 2)
    (16.0, 16.33)
    """
    within("reading_error_pct", reading_error_pct, 0, 10, "%")
    within("equilibrium_error_pct", equilibrium_error_pct, 0, 10, "%")

    def world(reading: float = 0.0, air: float = 0.0, rate: float | None = None, factor: float | None = None) -> _World:
        pace = rate_per_h.value if rate is None else rate
        wetting = rewetting_factor.value if factor is None else factor
        shifted = [_held(one + air) for one in equilibrium_pct]
        path = moisture_path(_held(moisture_pct + reading), shifted, hours, pace, wetting)
        return _World(pace, path.moistures_pct)

    error, spread = reading_error_pct, equilibrium_error_pct
    moved = [
        [world(reading=error), world(reading=-error)],
        [world(air=spread), world(air=-spread)],
        [world(rate=rate_per_h.low), world(rate=rate_per_h.high)],
        [world(factor=rewetting_factor.low), world(factor=rewetting_factor.high)],
    ]
    return _joined(world(), moved)


def first_time_below_h(times_h: Sequence[float], moistures_pct: Sequence[float], limit_pct: float) -> float:
    """Time at which a path first comes down to a moisture.

    Parameters
    ----------
    times_h : sequence of float
        Times in rising order. [h]
    moistures_pct : sequence of float, as many
        Moisture at each time, 0 to 100. [%]
    limit_pct : float
        Moisture to come down to, 0 to 100. [%]

    Returns
    -------
    float
        Time; the first one if the path starts there, infinite if it never comes down. [h]

    Raises
    ------
    OutOfRange
        If the moisture to come down to lies outside its range.
    Contradiction
        If there are not as many moistures as times.

    Notes
    -----
    Straight lines between the points; within an hour the exponential differs by minutes.

    References
    ----------
    Linear interpolation.

    Examples
    --------
    >>> first_time_below_h([0.0, 1.0, 2.0], [18.0, 16.0, 14.0], 15.0)
    1.5
    """
    within("limit_pct", limit_pct, 0, 100, "%")
    if len(times_h) != len(moistures_pct):
        raise Contradiction(("times_h", "moistures_pct"), "lengths_differ")
    for place, moisture in enumerate(moistures_pct):
        if moisture <= limit_pct:
            if place == 0:
                return times_h[0]
            before, began = moistures_pct[place - 1], times_h[place - 1]
            return began + (times_h[place] - began) * (before - limit_pct) / (before - moisture)
    return math.inf


def _learned(
    readings: tuple[float, float],
    equilibrium: Sequence[float],
    hours: Sequence[float],
    steps: int,
    factor: float,
) -> _World:
    first, second = readings
    several, fits = False, True
    try:
        found = fitted_rate(first, second, equilibrium[:steps], hours[:steps], factor)
        rate, several = found.rate_per_h, found.several
    except Contradiction as error:
        rate, fits = (RATE_MAX_PER_H if error.facts["reason"] == "reason.reading_too_dry" else 0.0), False
    before = moisture_path(first, equilibrium[:steps], hours[:steps], rate, factor).moistures_pct
    after: tuple[float, ...] = (second,)
    if steps < len(hours):
        after = moisture_path(second, equilibrium[steps:], hours[steps:], rate, factor).moistures_pct
    return _World(rate, before[:-1] + after, several, fits)


def _held(moisture_pct: float) -> float:
    return min(max(moisture_pct, 0.0), MOISTURE_MAX_PCT)


def _joined(centre: _World, moved: Sequence[Sequence[_World]]) -> Forecast:
    """Deviations that point the same way, as the root of their squares."""
    moistures = tuple(
        _limits(value, [[world.path[place] for world in pair] for pair in moved], MOISTURE_MAX_PCT)
        for place, value in enumerate(centre.path)
    )
    rate = _limits(centre.rate, [[world.rate for world in pair] for pair in moved], RATE_MAX_PER_H)
    unbounded = not all(world.fits for pair in moved for world in pair)
    return Forecast(rate, moistures, centre.several, unbounded)


def _limits(value: float, moved: Sequence[Sequence[float]], highest: float) -> Interval:
    up = math.hypot(*(max(0.0, *(one - value for one in pair)) for pair in moved))
    down = math.hypot(*(max(0.0, *(value - one for one in pair)) for pair in moved))
    return Interval(value, max(0.0, value - down), min(highest, value + up))
