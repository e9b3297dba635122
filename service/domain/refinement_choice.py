"""The best setting that the evidence allows, for one cell.

Inside: draws of the cost, the search, the gate. Outside: what is believed (`refinement_fit`), which cells
may be answered at all and what is told of them (`refinement_proposal`).
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from service.domain.refinement_chance import normal_draws
from service.domain.refinement_pooling import Normals
from service.domain.refinement_types import Array, Gate, Layout, Outcome

_MOST_LOG: Final = 4.605170185988092  # ln 100: no amount is more than all of it
_SWEEPS: Final = 4
_SAME: Final = 1e-9  # coded


@dataclass(frozen=True, slots=True, eq=False)
class CostDraws:
    """Draws of the coefficients that settings act through.

    `coefficients` has the shape (outcomes, 1 + 2 settings, draws): level, slopes, curvatures.
    """

    prices: Array
    coefficients: Array

    def cost(self, settings: Array) -> Array:
        """Cost at each position by draw, shape (positions, draws)."""
        u = np.atleast_2d(settings)
        rows = np.hstack((np.ones((len(u), 1)), u, u * u))
        total = np.zeros((len(u), self.coefficients.shape[2]))
        for price, drawn in zip(self.prices, self.coefficients, strict=True):
            total += price * np.exp(np.minimum(rows @ drawn, _MOST_LOG))
        return total


@dataclass(frozen=True, slots=True, eq=False)
class Room:
    """Where the settings of a cell stand and may go, coded, one number a setting; `step` can be set."""

    now: Array
    low: Array
    high: Array
    step: Array


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """Where to go, what the search alone wanted, and how sure each is to be better."""

    best: Array
    wanted: Array
    own_probability: Array
    probability: float
    gain: float
    gain_low: float
    gain_high: float


def cost_draws(belief: Normals, layout: Layout, outcomes: tuple[Outcome, ...], count: int, seed: int, name: str) -> CostDraws:
    upto = layout.curvatures.stop
    raw = normal_draws(seed, name, len(outcomes) * upto * count).reshape(len(outcomes), upto, count)
    root = np.linalg.cholesky(belief.covariance[:, :upto, :upto] + 1e-12 * np.eye(upto))
    return CostDraws(np.array([o.price for o in outcomes]), belief.mean[:, :upto, None] + root @ raw)


def choose(draws: CostDraws, room: Room, gate: Gate, probability: float) -> Choice:
    now = draws.cost(room.now)[0]
    wanted = _search(draws, room, gate, now)
    best, own = wanted.copy(), np.ones(len(wanted))
    for j in range(len(best)):
        if best[j] == room.now[j]:
            continue
        back = best.copy()
        back[j] = room.now[j]
        found = draws.cost(np.array([best, back]))
        own[j] = (found[0] < found[1]).mean()
        if own[j] < probability:
            best = back
    cost = draws.cost(best)[0]
    change = (now - cost) / now
    middle = float((now - cost).mean() / now.mean())
    low, high = np.quantile(change, (0.1, 0.9))
    wide = gate.interval_factor
    return Choice(
        best, wanted, own, float((cost < now).mean()), middle,
        middle + wide * (float(low) - middle), middle + wide * (float(high) - middle),
    )


def _search(draws: CostDraws, room: Room, gate: Gate, now: Array) -> Array:
    """Coordinate descent over the steps that can be set."""
    place = room.now.copy()
    ways = [_ways(room, j, gate.largest_move) for j in range(len(place))]
    for _ in range(_SWEEPS):
        before = place.copy()
        for j, steps in enumerate(ways):
            there = np.repeat(place[None], len(steps), axis=0)
            there[:, j] = steps
            change = draws.cost(there) - now
            score = change.mean(axis=1) + gate.caution * change.std(axis=1)
            place[j] = steps[np.argmin(score)]
        if np.array_equal(before, place):
            break
    return place


def _ways(room: Room, j: int, largest: float) -> Array:
    """Positions of one setting that can be set, are inside the envelope and near enough; now among them."""
    low = max(room.low[j], room.now[j] - largest)
    high = min(room.high[j], room.now[j] + largest)
    step = room.step[j]
    found = step * np.arange(np.ceil((low - _SAME) / step), np.floor((high + _SAME) / step) + 1)
    near = found[np.abs(found - room.now[j]) > _SAME]
    return np.sort(np.append(near, room.now[j]))
