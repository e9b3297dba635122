"""Which records count, and how much.

Inside: refusal of records that cannot be, weights of those that hardly can. Outside: what is believed
(`refinement_fit`), adding up (`refinement_statistics`).
"""

from dataclasses import dataclass

import numpy as np

from service.domain.refinement_fit import Fit
from service.domain.refinement_types import Array, CellStatistics, Places, Records, RowRule


def row_weights(records: Records, fit: Fit, statistics: CellStatistics, rule: RowRule, session_ratio: float) -> Array:
    """Weight of each record and outcome, by how far it is from what is believed.

    Parameters
    ----------
    records : Records
        Coded records.
    fit : Fit
        What is believed before them.
    statistics : CellStatistics
        Sums of earlier records, for the level of each contributor and machine.
    rule : RowRule
        Student's t and the limit.
    session_ratio : float
        Variance between days over that of one reading, >= 0. [1]

    Returns
    -------
    ndarray, shape (records, outcomes)
        Above 0 and at most 1; 1 where an outcome was not reported. [1]
    """
    eq, layout = fit.setup.equations, fit.setup.layout
    ratio = fit.setup.contributor_ratio
    x = np.column_stack((records.features, records.features[:, layout.slopes]))
    weights = np.ones(records.log_amounts.shape)
    levels = _levels(statistics)
    cell = np.array([eq.cells.index(name) for name in records.cells])[records.cell]
    for place, name in enumerate(records.outcomes):
        outcome = eq.outcomes.index(name)
        noise = fit.setup.noise_variance[outcome]
        m, my, mx = _earlier(records, levels, name, layout.coefficients, layout)
        mean = fit.belief.cells.mean[cell, outcome]
        level = ratio * (my - (mx * mean).sum(axis=1)) / (1 + ratio * m)
        off = records.log_amounts[:, place] - (x * mean).sum(axis=1) - level
        covariance = fit.belief.cells.covariance[cell, outcome]
        far = (x * (covariance @ x[..., None])[..., 0]).sum(axis=1)
        variance = noise * (1 + session_ratio) + ratio * noise / (1 + ratio * m) + far
        square = off**2 / variance
        weight = np.minimum(1.0, (rule.freedom + 1) / (rule.freedom + square))
        weight = np.where(square > rule.stray_square, rule.stray_weight, weight)
        weights[:, place] = np.where(np.isnan(off), 1.0, weight)
    return weights


def _levels(statistics):
    found = {}
    for key, m, s in zip(statistics.keys, statistics.session_weight, statistics.session_sum):
        k = key[:4]
        a = found.get(k)
        found[k] = (m, s) if a is None else (a[0] + m, a[1] + s)
    return found


def _earlier(records, levels, outcome, count, layout):
    n = len(records.contributor)
    m = np.zeros(n); my = np.zeros(n); mx = np.zeros((n, count))
    owner = np.column_stack((records.contributor, records.machine, records.cell))
    u, inv = np.unique(owner, axis=0, return_inverse=True)
    M = np.zeros(len(u)); S = np.zeros((len(u), layout.entries))
    for i, (g, a, c) in enumerate(u):
        k = (records.contributors[g], records.machines[a], records.cells[c], outcome)
        if k in levels:
            M[i], S[i] = levels[k]
    s = S[inv]
    return M[inv], s[:, -1], np.hstack((s[:, :-1], s[:, layout.slopes]))
