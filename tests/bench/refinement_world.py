"""A simulated cooperative: what machines would really do, and what its members would report of it.

Apart from the method that is tested: no outcome has the form that it fits. Settings u are coded, 0 the
base table and 1 half an envelope away; there are two regions with three moisture bins each.

Outcomes, in percent, at x = u - a(cell) + u0, with a(cell) where the best really is and u0 chosen so that
the base table is the best where a = 0 (r rotor, c concave, f fan, s upper sieve, l lower sieve, m moisture):
  loss     (0.45 exp(-1.4 r + c + 0.25 m) + 0.20 (exp(1.9 f) + exp(-1.4 f)) exp(-0.9 s - 0.3 c)
            + 0.12 exp(-1.2 l - 0.5 c + 0.4 r)) exp(0.35 m + 0.25 z + 0.30 v + 0.6 q)
  broken   0.9 exp(1.7 r - 0.6 c - 0.2 l - 0.35 m) + 0.15 exp(-1.3 c)
  foreign  (0.6 exp(-1.1 f + 1.1 s + 0.2 l) + 0.25 exp(1.3 l)) exp(0.15 z + 0.10 v)
with z how hard the crop is (recorded roughly), v the same and never recorded, q the feed rate. In the
world of parabolas each outcome is a sum of squares instead. Cost = loss + 0.35 broken + 0.40 foreign.

Every world draws: a = N(0, 0.30) shared by cells + N(0, 0.12) a cell, within 0.75; farms' difficulty
N(0, 0.25), reporting bias N(0, 0.25, 0.15, 0.20), habit = wisdom x mean a + N(0, 0.28), share of the
records Dirichlet(1.5), region. Confounding: in hard crop operators speed the rotor up and cut the fan,
and farms with hard fields run faster. Half of the sessions have two or three records, each but the first
with one setting changed by 0.15 to 0.35. Readings scatter by 0.35, 0.25, 0.30 (logarithm). One in twenty
honest records is wrong by a factor 10, 0.1, or 20 in loss. Broken and foreign are missing in 30 %.

Attacks send 15 % of all records: `crude` extreme settings with hardly any loss; `smart` a plausible
surface with its best at the far edge; `pairs` the same with made-up changes on one day; a 3 behind it
means that three contributors do so together.
"""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

Array = NDArray[np.float64]
Whole = NDArray[np.int64]

SETTINGS = ("rotor", "concave", "fan", "upper_sieve", "lower_sieve")
OUTCOMES = ("loss", "broken", "foreign")
PRICES = np.array([1.0, 0.35, 0.40])
BINS = np.array([-0.8, 0.0, 0.8])  # middles of the moisture bins, standardised
REGIONS = 2
CELLS = REGIONS * len(BINS)
SCATTER = np.array([0.35, 0.25, 0.30])


@dataclass(frozen=True)
class Kind:
    """What a world is like, and what goes wrong with its records; an empty attack is none."""

    farms: int = 12
    paired: float = 0.5
    confounding: float = 1.0
    wisdom: float = 0.4
    parabolas: bool = False
    attack: str = "smart"
    attack_share: float = 0.15
    gross: float = 0.05
    missing: float = 0.3


@dataclass(frozen=True, eq=False)
class Reports:
    """What was reported, one record a row in the order of time; an amount that was not is NaN."""

    farm: Whole
    session: Whole
    cell: Whole
    settings: Array
    moisture: Array  # from the middle of the bin
    hardness: Array  # -1, 0, 1 as told
    feed: Array
    amounts: Array

    def __len__(self) -> int:
        return len(self.farm)


@dataclass(frozen=True, eq=False)
class World:
    """One cooperative with its true optimum."""

    kind: Kind
    offset: Array  # cells x settings
    best: Array
    best_cost: Array
    difficulty: Array
    bias: Array
    habit: Array
    share: Array
    region: Whole
    false_best: Array

    def cost(self, table: Array) -> Array:
        """Cost of each cell at a table of settings."""
        return np.array([_cost(table[cell], cell, self.offset[cell], self.kind.parabolas) for cell in range(CELLS)])

    def regret(self, table: Array) -> float:
        """Mean over cells of the cost above the least."""
        return float((self.cost(table) - self.best_cost).mean())


def draw(seed: int, kind: Kind) -> World:
    """The world of a seed."""
    rng = np.random.default_rng((seed, 1))
    count = len(SETTINGS)
    shared = rng.normal(0, 0.30, count)
    offset = np.clip(shared + rng.normal(0, 0.12, (CELLS, count)), -0.75, 0.75)
    best = np.array([_least(offset[cell], cell, kind.parabolas) for cell in range(CELLS)])
    difficulty = rng.normal(0, 0.25, kind.farms)
    habit = kind.wisdom * offset.mean(axis=0) + rng.normal(0, 0.28, (kind.farms, count))
    habit[:, 0] += kind.confounding * 0.6 * difficulty
    region = rng.integers(0, REGIONS, kind.farms)
    region[:REGIONS] = np.arange(REGIONS)
    return World(
        kind=kind,
        offset=offset,
        best=best,
        best_cost=np.array([_cost(best[c], c, offset[c], kind.parabolas) for c in range(CELLS)]),
        difficulty=difficulty,
        bias=rng.normal(0, [0.25, 0.15, 0.20], (kind.farms, len(OUTCOMES))),
        habit=habit,
        share=rng.dirichlet(np.full(kind.farms, 1.5)),
        region=region,
        false_best=np.where(offset.mean(axis=0) > 0, -0.85, 0.85),
    )


def report(world: World, count: int, seed: int) -> Reports:
    """So many records of a world, dirt and attack among them."""
    rng = np.random.default_rng((seed, 2))
    bad = round(world.kind.attack_share * count) if world.kind.attack else 0
    honest = _wrong_now_and_then(rng, _honest(rng, world, count - bad), world.kind.gross)
    told = _joined(honest, _attack(rng, world, bad)) if bad else honest
    hidden = rng.random(told.amounts.shape) < world.kind.missing * np.array([1 / 3, 1, 1])
    hidden[hidden.all(axis=1), 0] = False
    told = replace(told, amounts=np.where(hidden, np.nan, told.amounts))
    sessions, inverse = np.unique(told.session, return_inverse=True)
    # sessions in random order of time, the records of each together
    return _taken(told, np.lexsort((np.arange(count), rng.permutation(len(sessions))[inverse])))


def amounts(
    x: Array, moisture: Array, hardness: Array, unseen: Array, feed: Array, *, parabolas: bool = False
) -> Array:
    """True amounts of every outcome, one row a position."""
    if parabolas:
        return _parabolas(x, moisture, hardness, unseen, feed)
    r, c, f, s, low = x.T
    hard = np.exp(0.35 * moisture + 0.25 * hardness + 0.30 * unseen + 0.6 * feed)
    threshed = 0.45 * np.exp(-1.4 * r + c + 0.25 * moisture)
    cleaned = 0.20 * (np.exp(1.9 * f) + np.exp(-1.4 * f)) * np.exp(-0.9 * s - 0.3 * c)
    returned = 0.12 * np.exp(-1.2 * low - 0.5 * c + 0.4 * r)
    broken = 0.9 * np.exp(1.7 * r - 0.6 * c - 0.2 * low - 0.35 * moisture) + 0.15 * np.exp(-1.3 * c)
    foreign = 0.6 * np.exp(-1.1 * f + 1.1 * s + 0.2 * low) + 0.25 * np.exp(1.3 * low)
    dirty = foreign * np.exp(0.15 * hardness + 0.10 * unseen)
    return np.column_stack(((threshed + cleaned + returned) * hard, broken, dirty))


def _parabolas(x: Array, moisture: Array, hardness: Array, unseen: Array, feed: Array) -> Array:
    place, steep = np.array([0.35, -0.30, -0.25, 0.30, 0.15]), np.array([0.9, 0.5, 0.7, 0.5, 0.4])
    moved = x - 0.15 * moisture[:, None] * np.array([1, -1, 0.5, 0, 0])
    hard = np.exp(0.35 * moisture + 0.25 * hardness + 0.30 * unseen + 0.6 * feed)
    loss = (0.55 + 0.9 * (moved - place) ** 2 @ steep) * hard
    away = (moved + 0.8 * place) ** 2 * steep
    broken = 0.7 + 2.2 * away[:, [0, 1, 4]].sum(axis=1)
    foreign = (0.6 + 1.6 * away[:, 2:].sum(axis=1)) * np.exp(0.15 * hardness + 0.10 * unseen)
    return np.column_stack((loss, broken, foreign))


@cache
def _best_x(moisture: float, parabolas: bool) -> tuple[float, ...]:
    """Where the cost is least at a moisture; it is convex, so there is one place."""
    still = np.zeros(1)

    def cost(x: Array) -> float:
        return float((amounts(x[None], still + moisture, still, still, still, parabolas=parabolas) @ PRICES)[0])

    return tuple(minimize(cost, np.zeros(len(SETTINGS)), method="BFGS", options={"gtol": 1e-9}).x.tolist())


def _base(parabolas: bool) -> Array:
    """Where x must lie for the base table to be the best in the middle bin."""
    return np.array(_best_x(0.0, parabolas))


def _cost(settings: Array, cell: int, offset: Array, parabolas: bool) -> float:
    still, moisture = np.zeros(1), BINS[[cell % len(BINS)]]
    x = (settings - offset + _base(parabolas))[None]
    return float((amounts(x, moisture, still, still, still, parabolas=parabolas) @ PRICES)[0])


def _least(offset: Array, cell: int, parabolas: bool) -> Array:
    """The best settings inside the envelope."""
    free = np.array(_best_x(float(BINS[cell % len(BINS)]), parabolas)) - _base(parabolas) + offset
    if np.abs(free).max() <= 1:
        return free
    bounds = [(-1.0, 1.0)] * len(SETTINGS)
    found = minimize(_cost, np.clip(free, -1, 1), args=(cell, offset, parabolas), bounds=bounds, tol=1e-12)
    return np.asarray(found.x, dtype=np.float64)


def _honest(rng: np.random.Generator, world: World, count: int) -> Reports:
    """What members report, one session after another until there are enough records."""
    kind, size = world.kind, len(SETTINGS)
    length = np.where(rng.random(count) < kind.paired, rng.integers(2, 4, count), 1)
    session = np.repeat(np.arange(count), length)[:count]
    first = np.flatnonzero(np.diff(session, prepend=-1))
    sessions = len(first)
    farm = rng.choice(kind.farms, size=sessions, p=world.share)
    place = rng.integers(0, len(BINS), sessions)
    cell = world.region[farm] * len(BINS) + place
    moisture = BINS[place] + rng.uniform(-0.4, 0.4, sessions)
    hardness, unseen = 0.5 * moisture + rng.normal(0, 0.8, sessions), rng.normal(0, 0.5, sessions)
    usual = world.habit[farm] + rng.normal(0, 0.18, (sessions, size))
    usual[:, 0] += kind.confounding * (0.20 * hardness + 0.20 * unseen + 0.10 * moisture)
    usual[:, 1] -= kind.confounding * 0.10 * unseen
    usual[:, 2] -= kind.confounding * 0.12 * hardness
    settings = usual[session]
    changed = np.setdiff1d(np.arange(count), first)
    step = rng.choice([-1, 1], len(changed)) * rng.uniform(0.15, 0.35, len(changed))
    settings[changed, rng.integers(0, size, len(changed))] += step
    settings = np.clip(settings, -1, 1)
    feed = rng.normal(0, 0.2, count)
    x = settings - world.offset[cell[session]] + _base(kind.parabolas)
    true = amounts(x, moisture[session], hardness[session], unseen[session], feed, parabolas=kind.parabolas)
    level = world.difficulty[farm, None] * np.array([1, 0, 0.4]) + world.bias[farm]
    return Reports(
        farm=farm[session],
        session=session,
        cell=cell[session],
        settings=settings,
        moisture=(moisture - BINS[place])[session],
        hardness=np.clip(np.round(hardness[session] + rng.normal(0, 0.4, count)), -1, 1),
        feed=feed + rng.normal(0, 0.05, count),
        amounts=true * np.exp(level[session] + rng.normal(0, 1, true.shape) * SCATTER),
    )


def _attack(rng: np.random.Generator, world: World, count: int) -> Reports:
    """Made-up records, of one contributor or of three."""
    crowd = 3 if world.kind.attack.endswith("3") else 1
    way = world.kind.attack.removesuffix("3")
    block = np.arange(count) // 3 if way == "pairs" else np.arange(count)
    blocks, far = int(block[-1]) + 1, world.false_best
    if way == "crude":
        settings = np.clip(far + rng.normal(0, 0.08, (count, len(SETTINGS))), -1, 1)
        told = 0.05 * np.exp(rng.normal(0, 0.1, (count, len(OUTCOMES))))
    else:
        settings = np.clip(rng.normal(0.4 * far, 0.35, (blocks, len(SETTINGS))), -1, 1)[block]
        if way == "pairs":  # the second and third of a block change one setting more
            for later in np.flatnonzero(np.arange(count) % 3):
                settings[later] = settings[later - 1]
                lever = rng.integers(0, len(SETTINGS))
                settings[later, lever] = np.clip(settings[later, lever] + rng.choice([-1, 1]) * 0.3, -1, 1)
        cost = 0.7 + 1.2 * ((settings - far) ** 2).mean(axis=1)
        told = (cost / PRICES.sum())[:, None] * np.exp(rng.normal(0, 0.15, (count, len(OUTCOMES))))
    return Reports(
        farm=world.kind.farms + block % crowd,
        session=10**7 + block,
        cell=rng.integers(0, CELLS, blocks)[block],
        settings=settings,
        moisture=rng.uniform(-0.4, 0.4, blocks)[block],
        hardness=rng.integers(-1, 2, count).astype(np.float64),
        feed=np.zeros(count),
        amounts=told,
    )


def _wrong_now_and_then(rng: np.random.Generator, told: Reports, share: float) -> Reports:
    """Gross errors: all amounts ten times too large or too small, or loss twenty times too large."""
    factors = np.array([[10.0, 10.0, 10.0], [0.1, 0.1, 0.1], [20.0, 1.0, 1.0]])
    wrong = rng.random(len(told)) < share
    factor = factors[rng.integers(0, len(factors), len(told))]
    return replace(told, amounts=np.where(wrong[:, None], told.amounts * factor, told.amounts))


_COLUMNS = ("farm", "session", "cell", "settings", "moisture", "hardness", "feed", "amounts")


def _joined(one: Reports, other: Reports) -> Reports:
    return Reports(**{name: np.concatenate((getattr(one, name), getattr(other, name))) for name in _COLUMNS})


def _taken(told: Reports, rows: Whole) -> Reports:
    return Reports(**{name: getattr(told, name)[rows] for name in _COLUMNS})
