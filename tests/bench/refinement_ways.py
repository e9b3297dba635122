"""Ways to a local table from the same reports: the service's refinement, and what else one might do.

Every way gives a table of coded settings, cells by settings.
  base      the base table, unchanged
  mean      the mean of the settings that were reported in the cell
  weighted  the same, weighted by one over the cost that was reported
  ours      refinement: records folded in six nights, then four revisions, each drafted from the last
"""

from dataclasses import replace

import numpy as np

from service.domain.refinement_choice import Room
from service.domain.refinement_coding import features
from service.domain.refinement_fit import Fit, fit
from service.domain.refinement_proposal import propose
from service.domain.refinement_rows import chosen, row_weights
from service.domain.refinement_statistics import accumulate, no_statistics
from service.domain.refinement_sums import added
from service.domain.refinement_types import Layout, Method, Outcome, Records
from service.knowledge.load import load_table
from service.usecases.refinement_method import refinement_method, refinement_outcomes
from tests.bench.refinement_world import CELLS, PRICES, SETTINGS, Array, Reports

NIGHTS = 6
REVISIONS = 4
STEP = 0.05
LAYOUT = Layout(SETTINGS, ("moisture", "straw", "feed"))
NAMES = tuple(f"cell {cell}" for cell in range(CELLS))
OUTCOMES = ("loss", "broken", "foreign_matter")


def figures() -> tuple[Method, tuple[Outcome, ...]]:
    """The method of the knowledge table, and the outcomes at the prices of the world."""
    refinement = load_table().refinement
    if refinement is None:
        raise SystemExit("the knowledge table has no refinement.toml")
    prices = dict(zip(OUTCOMES, PRICES.tolist(), strict=True))
    return refinement_method(refinement.figures), refinement_outcomes(refinement.figures, prices)


def base(_: Reports) -> Array:
    """Nothing learnt."""
    return np.zeros((CELLS, len(SETTINGS)))


def mean(told: Reports) -> Array:
    """Mean of the reported settings."""
    return _averages(told, np.ones(len(told)))


def weighted(told: Reports) -> Array:
    """Mean weighted by one over the reported cost; what was not reported is taken for the median."""
    filled = np.where(np.isnan(told.amounts), np.nanmedian(told.amounts, axis=0), told.amounts)
    return _averages(told, 1 / (filled @ PRICES + 0.05))


def _averages(told: Reports, weights: Array) -> Array:
    table = base(told)
    for cell in np.unique(told.cell):
        own = told.cell == cell
        table[cell] = weights[own] @ told.settings[own] / weights[own].sum()
    return table


def ours(told: Reports, method: Method, outcomes: tuple[Outcome, ...]) -> Array:
    """The table after the last revision."""
    fitted, table = learnt(coded(told, method), method, outcomes), base(told)
    for revision in range(1, REVISIONS + 1):
        rooms = {name: _room(table[cell]) for cell, name in enumerate(NAMES)}
        draft = propose(fitted, rooms, method, revision)
        table = np.array([[setting.proposed for setting in row.settings] for row in draft.cells])
    return table


def coded(told: Reports, method: Method) -> Records:
    """Reports as records."""
    count = len(told)
    conditions = np.column_stack((told.moisture, told.hardness, told.feed))
    return Records(
        layout=LAYOUT,
        contributors=tuple(f"farm {farm:03}" for farm in range(int(told.farm.max()) + 1)),
        machines=("machine",),
        cells=NAMES,
        outcomes=OUTCOMES,
        contributor=told.farm,
        machine=np.zeros(count, dtype=np.int64),
        cell=told.cell,
        session=told.session,
        season=np.zeros(count, dtype=np.int64),
        features=features(LAYOUT, told.settings, conditions),
        log_amounts=np.log(told.amounts + method.model.log_offset_pct),
    )


def learnt(records: Records, method: Method, outcomes: tuple[Outcome, ...]) -> Fit:
    """Fold night after night, each record weighed by what is believed that night."""
    ratio = method.model.session_ratio
    sums = no_statistics(LAYOUT)
    fitted = fit(sums, NAMES, outcomes, method)
    _, first, inverse = np.unique(records.session, return_index=True, return_inverse=True)
    rank = np.argsort(np.argsort(first))[inverse]
    nights = max(1, min(NIGHTS, len(first) // 8))
    for night in range(nights):
        new = chosen(records, rank * nights // len(first) == night)
        sums = added(sums, accumulate(new, row_weights(new, fitted, sums, method.rows, ratio), ratio))
        fitted = fit(sums, NAMES, outcomes, method)
    return fitted


def without(method: Method, name: str) -> Method:
    """The method with one part of it taken out, to see what the part is worth."""
    if name == "choices":
        model = method.model
        spread = (replace(model.all_cells_sd, choice=1e-3), replace(model.own_cell_sd, choice=1e-3))
        return replace(method, model=replace(model, all_cells_sd=spread[0], own_cell_sd=spread[1]))
    if name == "weights of records":
        return replace(method, rows=replace(method.rows, freedom=1e12, stray_square=1e12))
    if name == "test of contributors":
        rule = replace(method.contributors, largest_share=1.0, freedom=1e12, set_aside_level=1 - 1e-300)
        return replace(method, contributors=rule)
    raise ValueError(name)


def _room(now: Array) -> Room:
    one = np.ones(len(SETTINGS))
    return Room(now, -one, one, STEP * one)
