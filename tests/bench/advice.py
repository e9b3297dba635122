"""Advice against habit in simulated fields: python -m tests.bench.advice [worlds] [first seed]

Prints, for the same worlds and the same measurement noise: the share of worlds within 10 % of the
best attainable cost after at most 8 changes, the mean excess cost after each change, and harm.
Every change of a setting counts as one of the 8; putting one back counts in the first row, and does not
in the second, where it is done at the check as the rivals do it. The worlds are described in
advice_world.py. The figures of the method were settled on seeds below 450,000; the default seeds
are above.

Rivals, which put a change back at once without it counting, on an exact sum of measured amounts:
  cycling  each lever in turn, one step up, kept if the measured cost fell, else one step down
  random   a random lever, direction and size of 1 or 2 steps, kept if the measured cost fell
  nobody   nothing is changed
  start    every lever back to the table's start, as if all at once
The second table has no measurements: only grades of 0 to 5 told by eye, before and after each change.
"""

import math
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from rich.console import Console
from rich.table import Table

from service.domain.advice import choose, is_calm
from service.domain.advice_history import replay, verdict
from service.domain.advice_model import believe
from service.domain.advice_scale import severity_log_amount
from service.domain.advice_signs import settle
from service.domain.advice_types import Belief, LevelSeen, Lever, Move, Seen, Trial
from service.knowledge.influence import InfluenceTable
from service.knowledge.load import load_table
from service.usecases.adjustment_model import known_signs, outcome_priors, policy, sign_slopes
from tests.bench.advice_world import GRADED, LEVERS, OUTCOMES, SETTINGS, WISHES, Array, World, draw

CHANGES = 8
WITHIN = 0.10
FIRST_SEED = 500_000
MAX_STEPS = 2
GROUP = "cereal"
EYE_LOG = 0.2  # a grade by eye: the amount is seen to a fifth, then rounded to a whole grade


@dataclass(frozen=True)
class Tried:
    """One change with what was measured before and after."""

    lever: int
    start: float
    end: float
    before: dict[str, float]
    after: dict[str, float]
    signs: Sequence[str]  # before


def settings_of(world: World) -> tuple[str, ...]:
    """Setting ids of a world's levers."""
    gap = "concave_clearance" if world.machine_class == "axial" else "concave_clearance_inlet"
    return tuple(SETTINGS.get(lever, gap) for lever in LEVERS[world.machine_class])


class Adviser:
    """The service's advice, asked anew before every change with the whole history."""

    def __init__(self, influence: InfluenceTable, *, by_eye: bool = False) -> None:
        self.influence = influence
        self.by_eye = by_eye
        self.policy = policy(influence)
        self._beliefs: dict[tuple[str, str], Belief] = {}

    def next(
        self, world: World, at: Array, amounts: dict[str, float], signs: Sequence[str], tried: Sequence[Tried]
    ) -> tuple[int, Move] | None:
        """Lever and move, or None to leave it."""
        names = settings_of(world)
        levers = [
            Lever(name, float(at[j]), float(world.low[j]), float(world.high[j]), MAX_STEPS)
            for j, name in enumerate(names)
        ]
        steps = replay(levers, [(names[t.lever], t.start, t.end) for t in tried])
        judged = [verdict(t.before, t.after, world.weights) for t in tried]
        trials = [
            Trial(names[t.lever], t.start, t.end, v, s.put_back) for t, v, s in zip(tried, judged, steps, strict=True)
        ]
        here = tuple(float(x) for x in at)
        tells = [self.influence.tell_tale(name) for name in signs]
        now = Seen(tuple(self._levels(here, amounts)), sign_slopes(self.influence, tells, names, here))
        past = Seen(
            tuple(
                level
                for t, step in zip(tried, steps, strict=True)
                for level in self._levels(step.before, t.before)
                if level not in now.levels
            )
        )
        signs_known = known_signs(self.influence, OUTCOMES, names, world.machine_class, GROUP, tells)
        belief = settle(self._belief(world, names), now, past, signs_known, levers, trials).belief
        calm = is_calm(belief, here, amounts, self.policy)
        choice = choose(belief, levers, trials, self.policy, calm=calm)
        return (names.index(choice.best.lever), choice.best) if choice.best else None

    def _belief(self, world: World, names: tuple[str, ...]) -> Belief:
        key = world.machine_class, world.wish
        if key not in self._beliefs:
            priors = outcome_priors(self.influence, names, world.machine_class, GROUP, world.wish, 0.1)
            self._beliefs[key] = believe(priors, self.influence.file.method.start_sd.value)
        return self._beliefs[key]

    def _levels(self, at: tuple[float, ...], amounts: dict[str, float]) -> list[LevelSeen]:
        method = self.influence.file.method
        by_eye = GRADED if not self.by_eye else OUTCOMES
        return [
            LevelSeen(name, at, math.log(amounts[name]), method.severity_log_sd.value)
            if name in by_eye
            else LevelSeen(name, at, math.log(amounts[name] + 0.02), method.measured_log_sd.value)
            for name in OUTCOMES
            if name != "time_per_area"
        ]


Path = list[float]


def advised(world: World, adviser: Adviser, noise: np.random.Generator, *, back_free: bool = False) -> Path:
    """True cost after each change; putting back the change just made counts unless `back_free`."""
    at, tried = world.start.copy(), list[Tried]()
    path, asked = [world.cost(at)], 0
    seen, signs = _look(world, at, adviser, noise)
    while asked < CHANGES or (tried and back_free):
        advice = adviser.next(world, at, seen, signs, tried)
        if advice is None or (asked >= CHANGES and advice[1].reason != "undo"):
            break
        j, move = advice
        start, at = float(at[j]), at.copy()
        at[j] += move.steps
        if move.reason == "undo" and back_free:
            seen, signs = tried[-1].before, tried[-1].signs
            path[-1] = world.cost(at)
            continue
        before, told = seen, signs
        seen, signs = _look(world, at, adviser, noise)
        tried.append(Tried(j, start, float(at[j]), before, seen, told))
        path.append(world.cost(at))
        asked += 1
    return path + [path[-1]] * (CHANGES + 1 - len(path))


def _look(world: World, at: Array, adviser: Adviser, noise: np.random.Generator) -> tuple[dict[str, float], list[str]]:
    """What a person would tell: measured amounts, and grades where no one measures."""
    seen = world.measured(at, noise)
    eye = np.exp(EYE_LOG * noise.normal(size=len(OUTCOMES)))
    for (name, amount), k in zip([*seen.items()], eye, strict=True):
        if (adviser.by_eye or name in GRADED) and name != "time_per_area":
            seen[name] = math.exp(severity_log_amount(graded(amount * float(k))))
    return seen, world.signs(at, noise)


def graded(amount: float) -> int:
    """The nearest grade of an amount."""
    return min(max(round(1 + math.log(amount / 0.8) / math.log(1.6)), 0), 5)


def kept_if_better(
    world: World, noise: np.random.Generator, propose: Callable[[int, list[bool]], tuple[int, float]]
) -> Path:
    """A rival: change, measure, keep if the measured cost fell."""
    at, path, kept = world.start.copy(), [world.cost(world.start)], list[bool]()
    seen = world.weigh(world.measured(at, noise))
    while len(path) <= CHANGES:
        j, steps = propose(len(path) - 1, kept)
        there = at.copy()
        there[j] = min(max(there[j] + steps, world.low[j]), world.high[j])
        found = world.weigh(world.measured(there, noise))
        kept.append(found < seen)
        if found < seen:
            at, seen = there, found
        path.append(world.cost(at))
    return path


def cycling(world: World, noise: np.random.Generator) -> Path:
    """Each lever up, else down, then the next."""
    state = {"lever": 0, "direction": 1.0}

    def propose(_: int, kept: list[bool]) -> tuple[int, float]:
        if kept:
            if not kept[-1] and state["direction"] > 0:
                state["direction"] = -1.0
            else:
                state["lever"], state["direction"] = (state["lever"] + 1) % len(world.start), 1.0
        return int(state["lever"]), state["direction"]

    return kept_if_better(world, noise, propose)


def at_random(world: World, noise: np.random.Generator) -> Path:
    """Any lever, either way, one or two steps."""
    own = np.random.default_rng(noise.integers(2**32))
    return kept_if_better(
        world,
        noise,
        lambda _, __: (int(own.integers(len(world.start))), float(own.choice([-1, 1]) * own.integers(1, 3))),
    )


def run(worlds: Sequence[World], seeds: Sequence[int], way: Callable[[World, np.random.Generator], Path]) -> Array:
    """Excess over the best cost, worlds by changes; the noise of a world is the same for every way."""
    paths = [way(w, np.random.default_rng((s, 1))) for w, s in zip(worlds, seeds, strict=True)]
    return np.array([np.array(path) / w.best - 1 for path, w in zip(paths, worlds, strict=True)])


@dataclass(frozen=True)
class Result:
    """What a way reached."""

    excess: Array  # worlds by changes

    @property
    def within(self) -> float:
        """Share of worlds within 10 % of the best after the last change."""
        return float(np.mean(self.excess[:, -1] <= WITHIN))

    @property
    def harm(self) -> float:
        """Share of worlds left worse than they were found."""
        return float(np.mean(self.excess[:, -1] > self.excess[:, 0] + 1e-9))

    @property
    def bad_changes(self) -> float:
        """Share of changes that cost more than 2 % of the best."""
        rise = np.diff(self.excess, axis=1)
        made = np.abs(rise) > 1e-12
        return float(np.sum(rise > 0.02) / max(np.sum(made), 1))


def draw_worlds(influence: InfluenceTable, seeds: Sequence[int]) -> list[World]:
    """The worlds of some seeds, with the table's weights."""
    weights = {wish: influence.weights(wish) for wish in WISHES}
    return [draw(seed, weights) for seed in seeds]


def advice_results(
    influence: InfluenceTable, worlds: Sequence[World], seeds: Sequence[int], *, by_eye: bool
) -> dict[str, Result]:
    """Advice over the same worlds, with putting back counted and not."""
    adviser = Adviser(influence, by_eye=by_eye)
    ways: dict[str, Callable[[World, np.random.Generator], Path]] = {
        "advice": lambda world, noise: advised(world, adviser, noise),
        "advice, back free": lambda world, noise: advised(world, adviser, noise, back_free=True),
    }
    return {name: Result(run(worlds, seeds, way)) for name, way in ways.items()}


def rival_results(worlds: Sequence[World], seeds: Sequence[int]) -> dict[str, Result]:
    """Every rival over the same worlds."""
    ways: dict[str, Callable[[World, np.random.Generator], Path]] = {
        "cycling": cycling,
        "random": at_random,
        "nobody": lambda world, _: [world.cost(world.start)] * (CHANGES + 1),
        "start": lambda world, _: [world.cost(world.start)] + [world.cost(world.start * 0)] * CHANGES,
    }
    return {name: Result(run(worlds, seeds, way)) for name, way in ways.items()}


def show(found: dict[str, Result], title: str) -> Table:
    """The table of one run."""
    heads = [f"after {k}" for k in range(1, CHANGES + 1)]
    table = Table("way", "within 10 %", "before", *heads, "harm", "bad changes", title=title)
    for name, result in found.items():
        excess = [f"{100 * x:.1f}" for x in result.excess.mean(axis=0)]
        shares = (f"{100 * result.harm:.1f} %", f"{100 * result.bad_changes:.1f} %")
        table.add_row(name, f"{100 * result.within:.1f} %", *excess, *shares)
    return table


def main(count: int = 500, first_seed: int = FIRST_SEED) -> None:
    """Print both tables."""
    console = Console(width=150)
    influence, seeds = load_table().influence, range(first_seed, first_seed + count)
    worlds = draw_worlds(influence, seeds)
    rivals = rival_results(worlds, seeds)
    for by_eye in (False, True):
        began = time.perf_counter()
        found = advice_results(influence, worlds, seeds, by_eye=by_eye) | rivals
        kind = "grades told by eye" if by_eye else "measured losses and sample, 9 % noise"
        title = f"{count} worlds from seed {first_seed}, {kind}: mean excess over the best cost, %"
        console.print(show(found, title), f"{time.perf_counter() - began:.0f} s\n")


if __name__ == "__main__":
    main(*(int(argument) for argument in sys.argv[1:3]))
