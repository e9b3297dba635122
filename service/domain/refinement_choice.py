"""The best settings that the evidence allows, for one cell.

Inside: draws of the cost, the search, the gate. Outside: what is believed (`refinement_fit`), which cells
may be answered at all and what is told of them (`refinement_proposal`).
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from service.domain.ranges import within
from service.domain.refinement_chance import normal_draws
from service.domain.refinement_pooling import Normals
from service.domain.refinement_types import Array, Gate, Layout, Outcome
from service.errors import OutOfRange

_MOST_LOG: Final = 4.605170185988092  # ln 100: no amount is more than all of it
_SWEEPS: Final = 4
_SAME: Final = 1e-9  # coded
_LAST_BITS: Final = 1e-12  # on the diagonal, so that rounding cannot make a covariance negative


@dataclass(frozen=True, slots=True, eq=False)
class CostDraws:
    """Draws of the coefficients that settings act through.

    `prices` has one number an outcome, `coefficients` the shape (outcomes, 1 + 2 settings, draws): level,
    slopes, curvatures.
    """

    prices: Array
    coefficients: Array


@dataclass(frozen=True, slots=True, eq=False)
class Room:
    """Where the settings of a cell stand and may go, coded, one number a setting.

    `low` and `high` are the envelope of the base table, `step` the smallest change that can be set.
    """

    now: Array
    low: Array
    high: Array
    step: Array


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """Where to go, and how sure it is to be better.

    Attributes
    ----------
    best : ndarray, shape (settings,)
        Settings of the move, coded.
    wanted : ndarray, shape (settings,)
        What the search wanted before moves that are not sure were dropped.
    own_probability : ndarray, shape (settings,)
        That the move of this setting alone makes it better; 1 where none was wanted.
    probability : float
        That the whole move makes it better.
    gain, gain_low, gain_high : float
        Share of the cost that it saves, with an 80 % interval.
    """

    best: Array
    wanted: Array
    own_probability: Array
    probability: float
    gain: float
    gain_low: float
    gain_high: float


def rows(settings: Array) -> Array:
    """Level, settings and their squares, as the coefficients ask for them.

    Parameters
    ----------
    settings : ndarray, shape (positions, settings)
        Coded settings. [1]

    Returns
    -------
    ndarray, shape (positions, 1 + 2 settings)
        One row a position. [1]

    References
    ----------
    Definition.

    Examples
    --------
    >>> rows(np.array([[0.5]])).tolist()
    [[1.0, 0.5, 0.25]]
    """
    return np.hstack((np.ones((len(settings), 1)), settings, settings * settings))


def cost_draws(
    belief: Normals, layout: Layout, outcomes: tuple[Outcome, ...], count: int, seed: int, name: str
) -> CostDraws:
    """Draws of what settings do, from a belief.

    Parameters
    ----------
    belief : Normals
        Means (outcomes, coefficients) and covariances.
    layout : Layout
        Which coefficient is which.
    outcomes : tuple of Outcome
        With their prices.
    count : int
        How many draws, >= 2.
    seed : int
        Seed, >= 0.
    name : str
        Of the cell; the same seed and name give the same draws.

    Returns
    -------
    CostDraws
        At middle conditions, operators' choices left out.

    Raises
    ------
    OutOfRange
        If the seed or the number of draws lies outside its range.

    References
    ----------
    Definition.

    Examples
    --------
    >>> sure = Normals(np.zeros((1, 4)), np.zeros((1, 4, 4)))
    >>> cost_draws(sure, Layout(("drum",)), (Outcome("loss", 1.0, 1.0, 0.4),), 5, 1, "dry").coefficients.shape
    (1, 3, 5)
    """
    within("count", count, 2, 1e6, "1")
    upto = layout.curvatures.stop
    raw = normal_draws(seed, f"cost of {name}", len(outcomes) * upto * count).reshape(len(outcomes), upto, count)
    root = np.linalg.cholesky(belief.covariance[:, :upto, :upto] + _LAST_BITS * np.eye(upto))
    prices = np.array([outcome.price for outcome in outcomes])
    return CostDraws(prices, belief.mean[:, :upto, None] + root @ raw)


def costs(draws: CostDraws, settings: Array) -> Array:
    """Cost at each position, by draw.

    Parameters
    ----------
    draws : CostDraws
        Prices and coefficients.
    settings : ndarray, shape (positions, settings)
        Coded settings. [1]

    Returns
    -------
    ndarray, shape (positions, draws)
        Sum of price times amount. [any]

    Notes
    -----
    No amount is taken for more than 100 %.

    References
    ----------
    Definition.

    Examples
    --------
    >>> costs(CostDraws(np.array([2.0]), np.zeros((1, 3, 2))), np.array([[0.5]])).tolist()
    [[2.0, 2.0]]
    """
    row = rows(settings)
    total = np.zeros((len(row), draws.coefficients.shape[2]))
    for price, drawn in zip(draws.prices, draws.coefficients, strict=True):
        total += price * np.exp(np.minimum(row @ drawn, _MOST_LOG))
    return total


def ways(room: Room, setting: int, largest_move: float) -> Array:
    """Positions that a setting may have in the next revision; where it stands is among them.

    Parameters
    ----------
    room : Room
        Where it stands and may go.
    setting : int
        Its place.
    largest_move : float
        Coded, >= 0. [1]

    Returns
    -------
    ndarray, shape (positions,)
        Rising; whole steps from the start of the base table, inside the envelope and the largest move. [1]

    Raises
    ------
    OutOfRange
        If the step is not above 0.

    References
    ----------
    Definition.

    Examples
    --------
    >>> one = Room(np.array([0.0]), np.array([-0.1]), np.array([1.0]), np.array([0.1]))
    >>> ways(one, 0, 0.25).round(9).tolist()
    [-0.1, 0.0, 0.1, 0.2]
    """
    step, now = float(room.step[setting]), float(room.now[setting])
    if not step > 0:
        raise OutOfRange("step", step, 0, None, "1", reason="not_above")
    low = max(float(room.low[setting]), now - largest_move)
    high = min(float(room.high[setting]), now + largest_move)
    found = step * np.arange(np.ceil((low - _SAME) / step), np.floor((high + _SAME) / step) + 1)
    other = np.clip(found[np.abs(found - now) > _SAME], low, high)
    return np.sort(np.append(other, now))


def least_at(draws: CostDraws, room: Room, place: Array, setting: int, widening: float) -> tuple[float, float]:
    """Where the cost is least along one setting, the others held, with 80 % probability.

    Parameters
    ----------
    draws : CostDraws
        What is believed of the cost.
    room : Room
        Where the settings may go.
    place : ndarray, shape (settings,)
        Where the others stand, coded. [1]
    setting : int
        Place of the setting.
    widening : float
        Of the interval about its middle, > 0. [1]

    Returns
    -------
    tuple of float
        Low and high end, inside the envelope. [1]

    Raises
    ------
    OutOfRange
        If a step is not above 0.

    Notes
    -----
    Each draw has its least among the positions of the envelope; from the tenth to the ninetieth percentile.

    References
    ----------
    Definition.

    Examples
    --------
    >>> sure = CostDraws(np.ones(1), np.array([[[0.0] * 2, [-0.4] * 2, [0.5] * 2]]))
    >>> one = Room(np.array([0.0]), np.array([-1.0]), np.array([1.0]), np.array([0.05]))
    >>> [round(end, 9) for end in least_at(sure, one, np.array([0.0]), 0, 1.2)]
    [0.4, 0.4]
    """
    low, high = float(room.low[setting]), float(room.high[setting])
    steps = ways(room, setting, high - low)
    there = np.repeat(np.asarray(place, dtype=float)[None], len(steps), axis=0)
    there[:, setting] = steps
    found = steps[np.argmin(costs(draws, there), axis=0)]
    ends, middle = np.quantile(found, (0.1, 0.9)), float(np.median(found))
    wide = np.clip(middle + widening * (ends - middle), low, high)
    return float(wide[0]), float(wide[1])


def choose(draws: CostDraws, room: Room, gate: Gate, probability: float) -> Choice:
    """Best move of a cell for which each setting that moves is likely to be better.

    Parameters
    ----------
    draws : CostDraws
        What is believed of the cost.
    room : Room
        Where the settings stand and may go.
    gate : Gate
        Caution, largest move, widening of the interval.
    probability : float
        That is asked of the move of each setting, 0 <= x <= 1. [1]

    Returns
    -------
    Choice
        The move; where nothing is better the settings stand.

    Raises
    ------
    OutOfRange
        If a step is not above 0.

    Notes
    -----
    Least mean of cost - cost now plus caution times its standard deviation, by one setting after another,
    at most four times round. Whether the whole is sure and large enough is for the caller to judge.

    References
    ----------
    Fiedler, C. et al. (2024). On safety in safe Bayesian optimization. Transactions on Machine Learning
    Research, abstract: why guarantees are not claimed; the small steps and the gate are ours.

    Examples
    --------
    >>> sure = CostDraws(np.ones(1), np.array([[[0.0] * 2, [-0.4] * 2, [0.5] * 2]]))
    >>> one = Room(np.array([0.0]), np.array([-1.0]), np.array([1.0]), np.array([0.05]))
    >>> gate = Gate(5, 40.0, 0.9, 0.7, 0.85, 0.6, 200.0, 1.0, 0.01, 0.25, 2, 1.2)
    >>> choose(sure, one, gate, 0.7).best.round(9).tolist()
    [0.25]
    """
    now = costs(draws, room.now[None])[0]
    wanted = _search(draws, room, gate, now)
    best, own = wanted.copy(), np.ones(len(wanted))
    for j in np.flatnonzero(wanted != room.now):
        back = best.copy()
        back[j] = room.now[j]
        moved, stayed = costs(draws, np.array([best, back]))
        own[j] = np.mean(moved < stayed)
        if own[j] < probability:
            best = back
    cost = costs(draws, best[None])[0]
    gain = float((now - cost).mean() / now.mean())
    low, high = np.quantile((now - cost) / now, (0.1, 0.9)).tolist()
    wide = gate.interval_factor
    sure = float(np.mean(cost < now))
    return Choice(best, wanted, own, sure, gain, gain + wide * (low - gain), gain + wide * (high - gain))


def _search(draws: CostDraws, room: Room, gate: Gate, now: Array) -> Array:
    place = room.now.copy()
    free = [ways(room, j, gate.largest_move) for j in range(len(place))]
    for _ in range(_SWEEPS):
        before = place.copy()
        for j, steps in enumerate(free):
            there = np.repeat(place[None], len(steps), axis=0)
            there[:, j] = steps
            change = costs(draws, there) - now
            place[j] = steps[np.argmin(change.mean(axis=1) + gate.caution * change.std(axis=1))]
        if np.array_equal(before, place):
            break
    return place
