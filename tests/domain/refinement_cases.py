"""Records for the tests of refinement: a small cooperative drawn from a seed, and method figures."""

from dataclasses import replace

import numpy as np

from service.domain.refinement_choice import Room
from service.domain.refinement_coding import features
from service.domain.refinement_fit import Fit, fit
from service.domain.refinement_rows import chosen
from service.domain.refinement_statistics import accumulate
from service.domain.refinement_types import Array, CellStatistics, Layout, Method, Outcome, Records
from service.knowledge.load import load_table
from service.usecases.refinement_method import refinement_method, refinement_outcomes

LAYOUT = Layout(("drum", "gap"), ("moisture",))
CELLS = ("north.damp", "north.dry", "south.dry")
NAMES = ("loss", "broken", "foreign_matter")


def figures_of_the_table() -> tuple[Method, tuple[Outcome, ...]]:
    refinement = load_table().refinement
    assert refinement is not None
    prices = {"loss": 1.0, "broken": 0.35, "foreign_matter": 0.40}
    return refinement_method(refinement.figures), refinement_outcomes(refinement.figures, prices)


METHOD, OUTCOMES = figures_of_the_table()


def drawn(
    seed: int,
    count: int = 240,
    *,
    members: int = 8,
    slope: float = -0.8,
    missing: float = 0.2,
    scatter: float = 0.2,
    machines: int = 2,
) -> Records:
    """Pairs and single records of a cooperative in which more drum loses less and breaks a little more."""
    rng = np.random.default_rng(seed)
    session = np.arange(count) // 2
    contributor = rng.integers(0, members, count)[session]
    cell = rng.integers(0, len(CELLS), count)[session]
    settings = rng.normal(0, 0.25, (count, 2))[session]
    settings[1::2, 0] += 0.25
    settings = np.clip(settings, -1, 1)
    moisture = rng.uniform(-0.4, 0.4, count)[session]
    # levels of members and days as wide as the method believes them: variance half that of a reading
    levels = [rng.normal(0, np.sqrt(0.5) * scatter, (size, len(NAMES))) for size in (members, max(count, 1))]
    level = levels[0][contributor] + levels[1][session]
    effect = np.stack((slope * settings[:, 0], 0.3 * settings[:, 0], 0.2 * settings[:, 1]), axis=1)
    bend = 0.4 * (settings**2).sum(axis=1, keepdims=True)
    logs = effect + bend + level + 0.2 * moisture[:, None] + rng.normal(0, scatter, (count, len(NAMES)))
    hidden = rng.random(logs.shape) < missing
    hidden[hidden.all(axis=1), 0] = False
    return Records(
        layout=LAYOUT,
        contributors=tuple(f"grower {place}" for place in range(members)),
        machines=tuple(f"machine {place}" for place in range(machines)),
        cells=CELLS,
        outcomes=NAMES,
        contributor=contributor,
        machine=rng.integers(0, machines, count)[session],
        cell=cell,
        session=session,
        season=rng.integers(2024, 2027, count)[session],
        features=features(LAYOUT, settings, moisture[:, None]),
        log_amounts=np.where(hidden, np.nan, logs),
    )


def sums(records: Records, weights: Array | None = None) -> CellStatistics:
    given = np.ones(records.log_amounts.shape) if weights is None else weights
    return accumulate(records, given, METHOD.model.session_ratio)


def learnt(records: Records, method: Method = METHOD) -> Fit:
    return fit(sums(replace(records, season=records.season * 0)), CELLS, OUTCOMES, method)


def of_contributor(records: Records, name: str, *, others: bool = False) -> Records:
    own = records.contributor == records.contributors.index(name)
    return chosen(records, ~own if others else own)


def rooms(now: float = 0.0, low: float = -1.0, high: float = 1.0, step: float = 0.05) -> dict[str, Room]:
    one = np.ones(len(LAYOUT.settings))
    return {cell: Room(now * one, low * one, high * one, step * one) for cell in CELLS}
