"""What a hectare costs at a ground speed, and the speed at which it costs least.

Inside: time per hectare, the sum of time and loss, its minimum and the flat part about it. Outside: the
loss curve (`feed_curve`, `curve_fit`), the cost of an hour and of delay (`economics`), limits of the machine.

Delay enters as a cost per hour: by the timeliness equation a field loses value in proportion to the hours
that each of its hectares takes.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

from scipy.optimize import brentq, minimize_scalar

from service.domain.feed_curve import loss_at
from service.domain.ranges import INF, above, within

Edge = Literal["none", "low", "high"]

_CELLS: Final = 96
_SPEED_HAIR: Final = 1e-9  # relative, of the bounded search


@dataclass(frozen=True, slots=True)
class SpeedCost:
    """Cost of a hectare by kind. [currency/har]"""

    time: float
    loss: float
    total: float


@dataclass(frozen=True, slots=True)
class BestSpeed:
    """The speed of least cost, and the speeds about it that cost hardly more. [km/h, currency/har]

    `edge` says that the least cost lies at an end of the range searched: the true best may lie beyond.
    `flat_to_low` and `flat_to_high` say that the flat part reaches that end.
    """

    speed_km_h: float
    cost_per_ha: float
    edge: Edge
    flat_low_km_h: float
    flat_high_km_h: float
    flat_to_low: bool
    flat_to_high: bool


def hours_per_ha(speed_km_h: float, cutting_h_ha: float, standing_h_ha: float) -> float:
    """Time that a hectare takes.

    Parameters
    ----------
    speed_km_h : float
        Ground speed, above 0. [km/h]
    cutting_h_ha : float
        Time at 1 km/h of what goes with speed, above 0: 10 over width and efficiency. [(h/har).(km/h)]
    standing_h_ha : float
        Time of what does not go with speed, such as turns and stops, 0 or more. [h/har]

    Returns
    -------
    float
        Time. [h/har]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    t = c / S + s. With c = 10 / (w E) and s = D + 2.7778 t / (w L E) it is the reciprocal of Hunt's
    effective field capacity; with c = 10 / (w eta) and s = 0 of the plain one.

    References
    ----------
    Hunt, D. Farm Power and Machinery Management, problem 1.3, read in published worked solutions.

    Examples
    --------
    Hunt's 1.90 ha/h:

    >>> time = hours_per_ha(4.8, cutting_h_ha=10 / (5 * 0.95), standing_h_ha=4 / 60 + 15 / 0.36 / (5 * 400 * 0.95))
    >>> round(1 / time, 2)
    1.9
    """
    above("speed_km_h", speed_km_h, 0, "km/h")
    above("cutting_h_ha", cutting_h_ha, 0, "1")
    within("standing_h_ha", standing_h_ha, 0, INF, "1")
    return cutting_h_ha / speed_km_h + standing_h_ha


def speed_cost(
    form: str,
    coefficients: Sequence[float],
    speed_km_h: float,
    *,
    price_per_kg: float,
    cost_per_h: float,
    cutting_h_ha: float,
    standing_h_ha: float = 0.0,
) -> SpeedCost:
    """Cost of a hectare at a ground speed.

    Parameters
    ----------
    form : str
        Form of the loss curve over ground speed.
    coefficients : sequence of float
        Coefficients of the loss curve. [kg/har over km/h]
    speed_km_h : float
        Ground speed, above 0. [km/h]
    price_per_kg : float
        Price of the lost grain, 0 or more. [currency/kg]
    cost_per_h : float
        Machine, labour and delay, 0 or more. [currency/h]
    cutting_h_ha : float
        As in `hours_per_ha`, above 0. [(h/har).(km/h)]
    standing_h_ha : float
        As in `hours_per_ha`, 0 or more. [h/har]

    Returns
    -------
    SpeedCost
        Time, loss and their sum. [currency/har]

    Raises
    ------
    OutOfRange
        If an input lies outside its range, or the curve is below zero there.
    UnknownName
        If there is no such form.

    Notes
    -----
    C(v) = H t(v) + P L(v).

    References
    ----------
    Definition. Data of the example: adviser's example of the Prairie Agricultural Machinery Institute in
    a farm weekly, Harvest losses can add up at higher speeds, 2016.

    Examples
    --------
    300 an hour, 40 ft, 10 a bushel, in mph, acres and bushels throughout; 1 bu/ac at 3 mph:

    >>> cost = speed_cost("power", (1 / 27, 3), 3, price_per_kg=10, cost_per_h=300, cutting_h_ha=8.25 / 40)
    >>> round(cost.time, 3), round(cost.loss, 3), round(cost.total, 3)
    (20.625, 10.0, 30.625)
    """
    loss = loss_at(form, coefficients, speed_km_h)
    within("loss", loss, 0, INF, "kg/har")
    within("price_per_kg", price_per_kg, 0, INF, "1")
    within("cost_per_h", cost_per_h, 0, INF, "1")
    time = cost_per_h * hours_per_ha(speed_km_h, cutting_h_ha, standing_h_ha)
    return SpeedCost(time, price_per_kg * loss, time + price_per_kg * loss)


def best_speed(
    form: str,
    coefficients: Sequence[float],
    *,
    price_per_kg: float,
    cost_per_h: float,
    cutting_h_ha: float,
    standing_h_ha: float = 0.0,
    low_km_h: float,
    high_km_h: float,
    tolerance_pct: float = 2.0,
) -> BestSpeed:
    """Ground speed at which a hectare costs least, inside a range.

    Parameters
    ----------
    form : str
        Form of the loss curve over ground speed.
    coefficients : sequence of float
        Coefficients of the loss curve. [kg/har over km/h]
    price_per_kg : float
        Price of the lost grain, 0 or more. [currency/kg]
    cost_per_h : float
        Machine, labour and delay, 0 or more. [currency/h]
    cutting_h_ha : float
        As in `hours_per_ha`, above 0. [(h/har).(km/h)]
    standing_h_ha : float
        As in `hours_per_ha`, 0 or more. [h/har]
    low_km_h, high_km_h : float
        Range that the curve may be used in, above 0, low below high. [km/h]
    tolerance_pct : float
        How much more than the least cost still counts as flat, 0 to 50. [%]

    Returns
    -------
    BestSpeed
        Speed, cost, whether it lies at an edge, and the flat part. [km/h and currency/har]

    Raises
    ------
    OutOfRange
        If an input lies outside its range, or the curve is below zero in it.
    UnknownName
        If there is no such form.

    Notes
    -----
    A grid finds the cell of the least cost, bounded Brent search refines it: a quadratic can have two
    minima. Where loss rises by exp(k v) the condition is H c / v^2 = P k a exp(k v).

    References
    ----------
    Brent, R. P. (1973). Algorithms for Minimization without Derivatives, chapters 4 and 5.

    Examples
    --------
    300 an hour, 40 ft, 10 a bushel; 1 bu/ac at 3 mph and 3 bu/ac at 4 mph:

    >>> best = best_speed(
    ...     "exponential", (1 / 27, math.log(3)), price_per_kg=10, cost_per_h=300, cutting_h_ha=8.25 / 40,
    ...     low_km_h=2, high_km_h=5,
    ... )
    >>> round(best.speed_km_h, 2), round(best.cost_per_ha, 2)
    (2.74, 30.1)
    """
    above("low_km_h", low_km_h, 0, "km/h")
    above("high_km_h", high_km_h, low_km_h, "km/h")
    within("tolerance_pct", tolerance_pct, 0, 50, "%")

    def cost(speed_km_h: float) -> float:
        return speed_cost(
            form,
            coefficients,
            speed_km_h,
            price_per_kg=price_per_kg,
            cost_per_h=cost_per_h,
            cutting_h_ha=cutting_h_ha,
            standing_h_ha=standing_h_ha,
        ).total

    grid = [low_km_h + (high_km_h - low_km_h) * cell / _CELLS for cell in range(_CELLS)] + [high_km_h]
    costs = [cost(speed) for speed in grid]
    place = min(range(len(grid)), key=costs.__getitem__)
    speed, edge = _refined(cost, grid, costs, place)
    most = cost(speed) * (1 + tolerance_pct / 100)
    flat_low = _flat_end(cost, [speed, *reversed([one for one in grid if one < speed])], most)
    flat_high = _flat_end(cost, [speed, *(one for one in grid if one > speed)], most)
    return BestSpeed(speed, cost(speed), edge, flat_low, flat_high, flat_low == low_km_h, flat_high == high_km_h)


def _refined(
    cost: Callable[[float], float], grid: Sequence[float], costs: Sequence[float], place: int
) -> tuple[float, Edge]:
    """Refine the cheapest point of the grid between its neighbours."""
    low, high = grid[max(place - 1, 0)], grid[min(place + 1, len(grid) - 1)]
    found = minimize_scalar(cost, bounds=(low, high), method="bounded", options={"xatol": _SPEED_HAIR * high})
    speed = float(found.x)
    # the bounded search never tries the ends themselves
    if cost(speed) < costs[place] and not math.isclose(speed, grid[place], rel_tol=10 * _SPEED_HAIR):
        return speed, "none"
    if place == 0:
        return grid[0], "low"
    return grid[place], "high" if place == len(grid) - 1 else "none"


def _flat_end(cost: Callable[[float], float], path: Sequence[float], most: float) -> float:
    """Walk from the best speed until the cost passes `most`, and return where it does, or the end."""
    for before, here in pairwise(path):
        if cost(here) > most:
            if cost(before) >= most:
                return before
            return float(brentq(lambda speed: cost(speed) - most, before, here, xtol=1e-12))
    return path[-1]
