"""A simulated field for advice: what a machine would really do, apart from the table.

Every outcome is a sum of causes, and every cause an exponential of the settings: cleaning loss is
grain that rides on the mat plus grain that is blown out, cracking is the bars plus the returns. No
outcome is of the form that the advice fits. The exponents below are of the size that drum, sieve and
speed trials print (damage goes as speed to the power 2 to 5, unthreshed falls by a third per 5 % of
speed, loss as feed to the power 1 to 4); they are written here on their own, not read from the table.

Every world draws, independently (u is in steps from the table's start):
  sensitivities  each exponent x exp(N(0, 0.3)); one in fourteen is 0, a lever that does nothing
  levels         each cause x exp(N(0, 0.4)); one cause in eight is constant
  optimum        N(0, 1 step), at most 2.5 steps, away from the table's start in every lever
  envelope       4 to 7 whole steps either side of the start
  start          2 to 4 levers 1 to 4 steps away from the optimum, either way; the others N(0, 0.4)
                 steps away; whole steps. Drawn again unless it costs 20 % more than the best
  wish           one of the five priorities, with the table's weights
  measurement    every amount x exp(N(0, 0.09)), the same for before and after
  second sign    the largest cause of an outcome if it is more than half of it and the amount is at
                 least 0.3 of tolerable; where there are several causes, one in seven times a wrong one
The best cost is the minimum over the whole envelope, also between whole steps (the cost is convex).
"""

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

Array = NDArray[np.float64]
CLASSES = ("walker", "hybrid", "axial")
WISHES = ("balanced", "loss", "sample", "output", "straw")
LEVERS = {
    "walker": ("v", "g", "f", "p", "q", "t", "e", "h", "s"),
    "hybrid": ("v", "g", "r", "f", "p", "q", "t", "e", "h", "s"),
    "axial": ("v", "g", "f", "p", "q", "t", "e", "h", "s"),
}
SETTINGS = {
    "v": "threshing_speed",
    "r": "separation_rotor_speed",
    "f": "cleaning_air_speed",
    "p": "upper_sieve_opening",
    "q": "lower_sieve_opening",
    "t": "sieve_rear_opening",
    "e": "reel_index",
    "h": "cutting_height",
    "s": "ground_speed",
}
# outcome, usual amount, exponents per step up, what a person would see
CAUSES: tuple[tuple[str, float, dict[str, float], str | None], ...] = (
    ("unthreshed", 0.40, {"v": -0.35, "g": 0.28, "r": -0.1, "s": 0.08, "t": -0.06}, "heads_in_straw_grain_sound"),
    ("unthreshed", 0.05, {}, None),
    ("cracked", 0.30, {"v": 0.24, "g": -0.12, "r": 0.1, "s": -0.06}, "returns_normal"),
    ("cracked", 0.12, {"v": 0.15, "q": -0.4, "t": 0.15}, "clean_grain_in_returns"),
    ("cracked", 0.05, {}, None),
    ("separation_loss", 0.35, {"s": 0.25, "h": -0.18, "g": 0.15, "v": -0.15, "r": -0.25}, "straw_green_or_damp"),
    ("separation_loss", 0.12, {"v": 0.4, "g": -0.18, "r": 0.3}, "straw_short_and_broken"),
    ("separation_loss", 0.05, {}, None),
    ("cleaning_loss", 0.22, {"f": -0.5, "p": -0.25, "s": 0.2, "v": 0.08, "t": -0.1, "r": 0.1}, "thick_mat_on_sieve"),
    ("cleaning_loss", 0.20, {"f": 0.55, "p": -0.1, "s": -0.05}, "sieve_bare_grain_far_behind"),
    ("cleaning_loss", 0.05, {}, None),
    ("header_loss", 0.20, {"e": 0.4, "s": 0.06}, "seed_on_ground_ahead_of_wheels"),
    ("header_loss", 0.18, {"e": -0.45, "s": 0.12}, "bunches_at_the_knife"),
    ("header_loss", 0.12, {"h": 0.4}, "heads_left_on_stubble"),
    ("dirty_chaff", 0.40, {"f": -0.3, "p": 0.2, "q": 0.25}, "light_chaff"),
    ("dirty_chaff", 0.05, {}, None),
    ("dirty_straw", 0.30, {"v": 0.22, "g": -0.1, "r": 0.12, "p": 0.25, "f": -0.12, "h": -0.06}, None),
    ("dirty_heads", 0.25, {"v": -0.3, "g": 0.22, "q": 0.35, "p": 0.1}, "white_caps"),
    ("returns_overload", 0.30, {"p": 0.2, "q": -0.32, "t": 0.35, "v": 0.06}, None),
    ("returns_overload", 0.05, {}, None),
    ("returns_grain", 0.20, {"q": -0.45, "f": 0.2}, "returns_mostly_grain"),
    ("straw_broken", 0.30, {"v": 0.25, "g": -0.15, "r": 0.2}, None),
    ("uneven_feeding", 0.15, {"e": -0.3, "s": 0.12}, None),
    ("uneven_feeding", 0.05, {"e": 0.25, "h": -0.1}, None),
    ("plugging", 0.12, {"s": 0.25, "h": -0.25, "v": -0.12, "g": -0.1}, None),
    ("power_high", 0.40, {"v": 0.12, "s": 0.18, "h": -0.12, "r": 0.1}, None),
    ("time_per_area", 0.90, {"s": -0.1}, None),
)
OUTCOMES = tuple(dict.fromkeys(cause[0] for cause in CAUSES))
# told by eye in grades, also where losses and sample are measured
GRADED = frozenset({"returns_overload", "returns_grain", "straw_broken", "uneven_feeding", "plugging", "power_high"})
NOISE_LOG = 0.09
WORST_START = 0.2
SIGN_FROM, SIGN_WRONG = 0.3, 1 / 7


@cache
def nominal(machine_class: str) -> Array:
    """Exponents of every cause, levers of the class in order."""
    return np.array([[cause[2].get(lever, 0.0) for lever in LEVERS[machine_class]] for cause in CAUSES])


@dataclass(frozen=True, eq=False)
class World:
    """One field with one machine."""

    machine_class: str
    wish: str
    weights: dict[str, float]
    level: Array  # log of every cause at u = 0
    exponents: Array
    low: Array
    high: Array
    start: Array
    optimum: Array
    best: float

    def causes(self, at: Array) -> Array:
        """Amount of every cause."""
        found: Array = np.exp(self.level + self.exponents @ at)
        return found

    def amounts(self, at: Array) -> dict[str, float]:
        """True amount of every outcome."""
        found = dict.fromkeys(OUTCOMES, 0.0)
        for cause, amount in zip(CAUSES, self.causes(at), strict=True):
            found[cause[0]] += float(amount)
        return found

    def cost(self, at: Array) -> float:
        """True weighted cost."""
        return self.weigh(self.amounts(at))

    def weigh(self, amounts: dict[str, float]) -> float:
        """Weighted cost of amounts."""
        return sum(self.weights[name] * amount for name, amount in amounts.items())

    def measured(self, at: Array, noise: np.random.Generator) -> dict[str, float]:
        """Amounts as measured."""
        drawn = np.exp(NOISE_LOG * noise.normal(size=len(OUTCOMES)))
        return {name: amount * float(k) for (name, amount), k in zip(self.amounts(at).items(), drawn, strict=True)}

    def signs(self, at: Array, noise: np.random.Generator) -> list[str]:
        """Second signs that a person would report."""
        told = []
        parts = self.causes(at)
        for outcome, total in self.amounts(at).items():
            own = [(amount, c[3]) for c, amount in zip(CAUSES, parts, strict=True) if c[0] == outcome and c[3]]
            wrong, pick = noise.random() < SIGN_WRONG, noise.integers(max(len(own), 1))  # drawn in any case
            if not own or total < SIGN_FROM:
                continue
            amount, sign = max(own)
            if len(own) > 1 and wrong:
                sign = own[pick][1]
            if amount > total / 2 and sign is not None:
                told.append(sign)
        return told


def draw(seed: int, weights: dict[str, dict[str, float]]) -> World:
    """Draw one world; `weights` are those of each wish."""
    rng = np.random.default_rng(seed)
    machine_class, wish = str(rng.choice(CLASSES)), str(rng.choice(WISHES))
    while True:
        world = _draw(rng, machine_class, wish, {name: weights[wish][name] for name in OUTCOMES})
        if world.cost(world.start) >= (1 + WORST_START) * world.best:
            return world


def _draw(rng: np.random.Generator, machine_class: str, wish: str, weights: dict[str, float]) -> World:
    base = nominal(machine_class)
    n = base.shape[1]
    exponents = base * np.exp(0.3 * rng.normal(size=base.shape)) * (rng.random(base.shape) > 1 / 14)
    level = np.array([math.log(cause[1]) for cause in CAUSES]) + 0.4 * rng.normal(size=len(CAUSES))
    exponents[-1], level[-1] = base[-1], math.log(CAUSES[-1][1])  # time per area is arithmetic
    w = np.array([weights[cause[0]] for cause in CAUSES])
    centre = _lowest(w, level, exponents, np.zeros(n), [(-3.0, 3.0)] * n)[0]
    optimum = np.clip(rng.normal(size=n), -2.5, 2.5)
    level = level + exponents @ (centre - optimum)
    low, high = -rng.integers(4, 8, n).astype(float), rng.integers(4, 8, n).astype(float)
    optimum, best = _lowest(w, level, exponents, optimum, list(zip(low, high, strict=True)))
    away = 0.4 * rng.normal(size=n)
    count = int(rng.integers(2, 5))
    wrong = rng.choice(n, count, replace=False)
    away[wrong] = rng.choice([-1, 1], count) * rng.integers(1, 5, count)
    start = np.clip(np.round(optimum + away), low, high)
    return World(machine_class, wish, weights, level, exponents, low, high, start, optimum, best)


def _lowest(
    w: Array, level: Array, exponents: Array, near: Array, bounds: list[tuple[float, float]]
) -> tuple[Array, float]:
    """Place and value of the least cost inside bounds; convex, so there is one."""

    def cost(u: Array) -> tuple[float, Array]:
        parts = w * np.exp(level + exponents @ u)
        return float(parts.sum()), exponents.T @ parts

    found = minimize(cost, near, jac=True, bounds=bounds, method="L-BFGS-B", options={"ftol": 1e-10})
    return np.asarray(found.x), float(found.fun)
