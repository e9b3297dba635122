"""Arithmetic of explained settings: lines between knots, parts that add up as printed, envelopes.

Inside: interpolation, contributions rounded so that the printed parts sum to the printed total,
bounds that say whether they held. Outside: which contributions a setting has (the use cases), all
figures (the knowledge table).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

from service.domain.ranges import within
from service.errors import Contradiction, OutOfRange

DECIMALS_MAX: Final = 6
VALUE_MAX: Final = 1e9  # with six decimals still far inside the integers a float holds exactly


@dataclass(frozen=True, slots=True)
class Contribution:
    """One part of a total.

    Attributes
    ----------
    code : str
        Stable code of the part.
    value : float
        The part, rounded; in the unit of the total.
    """

    code: str
    value: float


@dataclass(frozen=True, slots=True)
class AddedUp:
    """A total and the rounded parts that sum to it exactly.

    Attributes
    ----------
    total : float
        Sum of the rounded parts.
    contributions : tuple of Contribution
        The parts in the order given.
    decimals : int
        Decimals of the parts and of the total.
    """

    total: float
    contributions: tuple[Contribution, ...]
    decimals: int


@dataclass(frozen=True, slots=True)
class Bounded:
    """A value inside an envelope.

    Attributes
    ----------
    value : float
        The value, moved to the nearer end if it lay outside.
    bound : str
        Which end held it: `none`, `low` or `high`.
    """

    value: float
    bound: Literal["none", "low", "high"]


def interpolate(knots: Sequence[tuple[float, float]], x: float) -> float:
    """Value at a place between knots: straight lines between, flat outside.

    Parameters
    ----------
    knots : Sequence[tuple[float, float]]
        Places and values, at least one, places rising without repeating. [unit of x, unit of answer]
    x : float
        The place. [unit of x]

    Returns
    -------
    float
        The value there. [unit of answer]

    Raises
    ------
    OutOfRange
        If there is no knot, a number is not finite, or the places do not rise.

    Notes
    -----
    Flat outside, so that nothing is extrapolated beyond what the table states.

    References
    ----------
    Definition of linear interpolation.

    Examples
    --------
    >>> interpolate([(12.0, -5.0), (14.0, 0.0), (18.0, 8.0)], 16.0)
    4.0
    """
    within("x", x, -math.inf, math.inf, "1")
    if not knots:
        raise OutOfRange("knots", 0, 1, None, "1", reason="no_knot")
    for place, value in knots:
        within("knots", place, -math.inf, math.inf, "1")
        within("knots", value, -math.inf, math.inf, "1")
    if any(right[0] <= left[0] for left, right in pairwise(knots)):
        raise OutOfRange("knots", [place for place, _ in knots], reason="not_rising")
    if x <= knots[0][0]:
        return knots[0][1]
    for (x0, y0), (x1, y1) in pairwise(knots):
        if x == x1:  # exactly the stated value, free of rounding
            return y1
        if x < x1:
            share = (x - x0) / (x1 - x0)
            return y0 + (y1 - y0) * share
    return knots[-1][1]


def add_up(contributions: Sequence[tuple[str, float]], decimals: int) -> AddedUp:
    """Round parts and sum them so that the printed parts add up to the printed total.

    Parameters
    ----------
    contributions : Sequence[tuple[str, float]]
        Code and value of each part, each within a thousand million. [unit of the total]
    decimals : int
        Decimals to keep, 0 to 6.

    Returns
    -------
    AddedUp
        Total and rounded parts.

    Raises
    ------
    OutOfRange
        If a value or `decimals` lies outside its range.

    Notes
    -----
    The parts are rounded first and summed as whole numbers of the last decimal. The total may
    therefore differ from the rounded sum of the unrounded parts by half a last digit per part.

    References
    ----------
    None; whole-number arithmetic.

    Examples
    --------
    >>> add_up([("base", 27.5), ("moisture", -0.126), ("straw", 1.004)], 2).total
    28.37
    """
    units = [_in_last_digits(value, decimals) for _, value in contributions]
    parts = tuple(Contribution(code, unit / 10**decimals) for (code, _), unit in zip(contributions, units, strict=True))
    return AddedUp(sum(units) / 10**decimals, parts, decimals)


def telescope(values: Sequence[tuple[str, float]], decimals: int) -> AddedUp:
    """Turn a chain of successive values into a base and steps that add up to the last value.

    Parameters
    ----------
    values : Sequence[tuple[str, float]]
        Code of each step and the value after it, the base first, at least one. [unit of the total]
    decimals : int
        Decimals to keep, 0 to 6.

    Returns
    -------
    AddedUp
        The rounded last value as total; the base and the change of each step as parts.

    Raises
    ------
    OutOfRange
        If there is no value, or a value or `decimals` lies outside its range.

    Notes
    -----
    The values are rounded, not the steps, so that the total is the last value as it would be
    printed alone.

    References
    ----------
    None; whole-number arithmetic.

    Examples
    --------
    >>> [part.value for part in telescope([("base", 10.0), ("slope", 9.26), ("ceiling", 8.0)], 1).contributions]
    [10.0, -0.7, -1.3]
    """
    if not values:
        raise OutOfRange("values", 0, 1, None, "1", reason="no_value")
    units = [_in_last_digits(value, decimals) for _, value in values]
    steps = [units[0], *(after - before for before, after in pairwise(units))]
    parts = tuple(Contribution(code, step / 10**decimals) for (code, _), step in zip(values, steps, strict=True))
    return AddedUp(units[-1] / 10**decimals, parts, decimals)


def bound(value: float, low: float, high: float) -> Bounded:
    """Hold a value inside an envelope and say whether it had to be held.

    Parameters
    ----------
    value : float
        The value. [any unit, the same for all]
    low, high : float
        Ends of the envelope, low <= high. [any unit, the same for all]

    Returns
    -------
    Bounded
        The value inside, and the end that held it.

    Raises
    ------
    OutOfRange
        If a number is not finite.
    Contradiction
        If low lies above high.

    References
    ----------
    None; a comparison.

    Examples
    --------
    >>> bound(31.2, 25.0, 30.0)
    Bounded(value=30.0, bound='high')
    """
    for name, number in (("value", value), ("low", low), ("high", high)):
        within(name, number, -math.inf, math.inf, "1")
    if low > high:
        raise Contradiction(["low", "high"], reason="low_above_high", low=low, high=high)
    if value < low:
        return Bounded(low, "low")
    if value > high:
        return Bounded(high, "high")
    return Bounded(value, "none")


def _in_last_digits(value: float, decimals: int) -> int:
    """Value as a whole number of the last decimal kept."""
    within("decimals", decimals, 0, DECIMALS_MAX, "1")
    within("value", value, -VALUE_MAX, VALUE_MAX, "1")
    # round() to decimals first: a value is then printed the same alone and as a part
    last_digits: int = round(round(value, decimals) * 10**decimals)
    return last_digits
