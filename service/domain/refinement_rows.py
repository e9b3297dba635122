"""Which records count, and how much.

Inside: refusal of records that cannot be, little weight for those that hardly can. Outside: what is
believed (`refinement_fit`), adding up (`refinement_statistics`).
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from service.domain.ranges import INF, above, within
from service.domain.refinement_fit import Fit
from service.domain.refinement_types import Array, CellStatistics, Places, Records, RowRule
from service.errors import UnknownName


def refusals(records: Records, rule: RowRule) -> list[str]:
    """Why each record cannot be used; empty where it can.

    Parameters
    ----------
    records : Records
        Coded records.
    rule : RowRule
        How far a setting may be from the start.

    Returns
    -------
    list of str
        One a record: `incomplete` where a setting or condition is not told, `setting_far`,
        `nothing_reported` where no outcome is.

    Raises
    ------
    OutOfRange
        If the limit is not above 0.

    References
    ----------
    Definition; the limit is ours.

    Examples
    --------
    >>> from service.domain.refinement_example import METHOD, invented_records
    >>> set(refusals(invented_records(), METHOD.rows))
    {''}
    """
    above("coded_limit", rule.coded_limit, 0, "1")
    settings = records.features[:, records.layout.slopes]
    found = np.full(len(settings), "", dtype=object)
    found[~np.isfinite(records.log_amounts).any(axis=1)] = "nothing_reported"
    found[~(np.abs(settings) <= rule.coded_limit).all(axis=1)] = "setting_far"
    found[~np.isfinite(records.features).all(axis=1)] = "incomplete"
    return found.tolist()


def chosen(records: Records, kept: NDArray[np.bool_]) -> Records:
    """Some of the records.

    Parameters
    ----------
    records : Records
        Coded records.
    kept : ndarray, shape (records,)
        Which of them. [1]

    Returns
    -------
    Records
        Those, in their order.

    References
    ----------
    Definition.

    Examples
    --------
    >>> from service.domain.refinement_example import invented_records
    >>> len(chosen(invented_records(), np.arange(96) < 5).session)
    5
    """
    return replace(
        records,
        contributor=records.contributor[kept],
        machine=records.machine[kept],
        cell=records.cell[kept],
        session=records.session[kept],
        season=records.season[kept],
        features=records.features[kept],
        log_amounts=records.log_amounts[kept],
    )


def row_weights(records: Records, fit: Fit, statistics: CellStatistics, rule: RowRule, session_ratio: float) -> Array:
    """Weight of each record and outcome, by how far it is from what is believed.

    Parameters
    ----------
    records : Records
        Coded records, of cells and outcomes that the fit has.
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

    Raises
    ------
    OutOfRange
        If a figure of the rule lies outside its range.
    UnknownName
        If the fit does not know a cell or an outcome.

    Notes
    -----
    r = y - x' mean - level, level = k (sum om y - sum om x' mean) / (1 + k m) of the earlier records, and
    q = r^2 / (v (1 + session ratio) + k v / (1 + k m) + x' S x). Weight min(1, (f + 1) / (f + q)); above
    the limit that of a stray, as a factor ten is 2.3 on this scale.

    References
    ----------
    Lange, K. L., Little, R. J. A., Taylor, J. M. G. (1989). Robust statistical modeling using the t
    distribution. Journal of the American Statistical Association 84, 881-896. Recalled.

    Examples
    --------
    >>> from service.domain.refinement_example import METHOD, invented_fit, invented_records
    >>> from service.domain.refinement_statistics import no_statistics
    >>> told = invented_records()
    >>> told.log_amounts[0] += 2.3  # a slip of the decimal point
    >>> row_weights(told, invented_fit(), no_statistics(told.layout), METHOD.rows, 0.5)[:2, 0].round(2).tolist()
    [0.02, 0.99]
    """
    within("session_ratio", session_ratio, 0, INF, "1")
    for name in ("freedom", "stray_square", "stray_weight"):
        above(name, getattr(rule, name), 0, "1")
    within("stray_weight", rule.stray_weight, 0, 1, "1")
    x = np.hstack((records.features, records.features[:, records.layout.slopes]))
    cell = _places("cell", records.cells, fit.setup.equations.cells)[records.cell]
    outcomes = _places("outcome", records.outcomes, fit.setup.equations.outcomes)
    owners, owner = np.unique(
        np.column_stack((records.contributor, records.machine, records.cell)), axis=0, return_inverse=True
    )
    alike = [(one, np.flatnonzero(cell == one)) for one in np.unique(cell).tolist()]
    parts = [(one, own, x[own]) for one, own in alike]
    noise, ratio = fit.setup.noise_variance, fit.setup.contributor_ratio
    square = np.zeros(records.log_amounts.shape)
    for place, outcome in enumerate(outcomes.tolist()):
        weight, level = _earlier(records, owners, statistics, place, fit, outcome)
        weight, level = weight[owner.ravel()], level[owner.ravel()]
        off, spread = records.log_amounts[:, place].copy(), np.zeros(len(x))
        for one, own, known in parts:
            off[own] -= (known * fit.belief.cells.mean[one, outcome]).sum(axis=1)
            spread[own] = ((known @ fit.belief.cells.covariance[one, outcome]) * known).sum(axis=1)
        off -= ratio * level / (1 + ratio * weight)
        each = float(noise[outcome])
        square[:, place] = off**2 / (each * (1 + session_ratio) + ratio * each / (1 + ratio * weight) + spread)
    likely = np.minimum(1.0, (rule.freedom + 1) / (rule.freedom + square))
    weights = np.where(square > rule.stray_square, rule.stray_weight, likely)
    return np.where(np.isnan(records.log_amounts), 1.0, weights)


def _places(field: str, names: tuple[str, ...], known: tuple[str, ...]) -> Places:
    for name in names:
        if name not in known:
            raise UnknownName(field, name, known)
    return np.array([known.index(name) for name in names], dtype=np.int64)


def _earlier(
    records: Records, owners: Places, statistics: CellStatistics, place: int, fit: Fit, outcome: int
) -> tuple[Array, Array]:
    """Weight of each contributor and machine in a cell so far, and how far off its session means were in sum."""
    sums: dict[tuple[str, str, str], Array] = {}
    both = np.column_stack((statistics.session_weight, statistics.session_sum))
    for key, row in zip(statistics.keys, both, strict=True):
        if key.outcome == records.outcomes[place]:
            sums[key[:3]] = sums.get(key[:3], 0.0) + row
    nothing = np.zeros(1 + records.layout.entries)
    names = [(records.contributors[a], records.machines[b], records.cells[c]) for a, b, c in owners.tolist()]
    found = np.array([sums.get(name, nothing) for name in names]).reshape(len(names), len(nothing))
    cell = _places("cell", records.cells, fit.setup.equations.cells)[owners[:, 2]]
    total = found[:, 1:]
    # features as coefficients see them: slopes again for the operators' choices
    seen = np.hstack((total[:, :-1], total[:, records.layout.slopes]))
    return found[:, 0], total[:, -1] - (seen * fit.belief.cells.mean[cell, outcome]).sum(axis=1)
