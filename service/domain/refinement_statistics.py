"""Sums over records, all that learning needs: what it costs does not grow with the records.

Inside: making the sums of `CellStatistics`. Outside: adding them and taking them off (`refinement_sums`),
weights of records (`refinement_rows`), what is learnt (`refinement_fit`).

Every summand is rounded to a multiple of `STEP`, a power of two. Sums of such numbers are exact in
double precision up to 2^53 steps, so they do not depend on order, on the program that adds or on what
was added before. To make the same sums elsewhere (in SQL as well): round(x) = floor(x / STEP + 1/2) STEP;
in a session S_i = sum round(w z_i), Q_ij = sum round((w z_i) z_j), W = sum w; then z_i = S_i / W and
om = W / (1 + k W); its summands are W, 1, round((W (n - 1)) / n), round(om), round(om z_i),
round((om z_i) z_j), and for two records or more Q_ij - round(S_i z_j), i >= j. Every operation is one
rounding of a double, in the order of the brackets.
"""

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from service.domain.ranges import above, within
from service.domain.refinement_types import Array, CellStatistics, Layout, Places, Records, StatisticKey
from service.errors import OutOfRange

STEP: Final = 2.0**-26  # far below what a record tells; sums stay exact up to 2^27
WEIGHT_STEP: Final = 2.0**-10  # weights come from a belief, whose last bits differ between processors


def no_statistics(layout: Layout) -> CellStatistics:
    """Sums of no records.

    Parameters
    ----------
    layout : Layout
        Which settings and conditions there are.

    Returns
    -------
    CellStatistics
        Without a row.

    References
    ----------
    Definition.

    Examples
    --------
    >>> no_statistics(Layout(("drum",))).keys
    ()
    """
    return CellStatistics(layout, (), np.zeros((0, layout.width)))


def accumulate(records: Records, weights: Array, session_ratio: float, step: float = STEP) -> CellStatistics:
    """Sums over records; a session must be given whole.

    Parameters
    ----------
    records : Records
        Coded records, in any order.
    weights : ndarray, shape (records, outcomes)
        Weight of each, above 0. [1]
    session_ratio : float
        Variance between days over that of one reading, >= 0. [1]
    step : float
        Power of two that every summand is rounded to. [1]

    Returns
    -------
    CellStatistics
        One row for each contributor, machine, cell, outcome and season; the same whatever the order.

    Raises
    ------
    OutOfRange
        If a weight, ratio or step lies outside its range, a reported record is not finite, or a sum grows
        beyond what is exact.

    Notes
    -----
    The sums and their rounding are described at the head of the module. Weights are rounded to 1/1024.

    References
    ----------
    Goldberg, D. (1991). What every computer scientist should know about floating-point arithmetic. ACM
    Computing Surveys 23, 5-48: sums of multiples of one unit are exact below 2^53 units.

    Examples
    --------
    >>> one = Records(Layout(()), ("a",), ("m",), ("c",), ("loss",), *np.zeros((5, 2), int),
    ...     features=np.ones((2, 1)), log_amounts=np.array([[1.0], [3.0]]))
    >>> accumulate(one, np.ones((2, 1)), 0.5).sums[0].tolist()
    [2.0, 1.0, 1.0, 1.0, 1.0, 2.0, 1.0, 2.0, 4.0, 0.0, 0.0, 2.0]
    """
    within("session_ratio", session_ratio, 0, math.inf, "1")
    above("step", step, 0, "1")
    if math.frexp(step)[0] != 0.5:
        raise OutOfRange("step", step, reason="power_of_two")
    parts = [_of_outcome(records, weights, place, session_ratio, step) for place in range(len(records.outcomes))]
    found = collected(records.layout, [one for part in parts for one in part])
    return exact(found, step)


def starts(ordered: Places) -> Places:
    """Places where a row differs from the one before, the first among them.

    Parameters
    ----------
    ordered : ndarray, shape (rows, columns)
        Rows in order. [1]

    Returns
    -------
    ndarray, shape (groups,)
        Rising. [1]

    References
    ----------
    Definition.

    Examples
    --------
    >>> starts(np.array([[1, 1], [1, 1], [1, 2], [3, 2]])).tolist()
    [0, 2, 3]
    """
    rows = np.asarray(ordered)
    new = np.ones(len(rows), dtype=bool)
    new[1:] = np.any(rows[1:] != rows[:-1], axis=1)
    return np.flatnonzero(new)


def _of_outcome(
    records: Records, weights: Array, place: int, session_ratio: float, step: float
) -> list[tuple[StatisticKey, Array]]:
    """Rows of one outcome."""
    told = np.flatnonzero(~np.isnan(records.log_amounts[:, place]))
    if not len(told):
        return []
    z = np.column_stack((records.features[told], records.log_amounts[told, place]))
    w = _rounded(np.asarray(weights, dtype=np.float64)[told, place], WEIGHT_STEP)
    if not (np.isfinite(z).all() and (w > 0).all() and np.isfinite(w).all()):
        raise OutOfRange("records", "not finite", reason="not_finite")
    owner = np.column_stack(
        [part[told] for part in (records.contributor, records.machine, records.cell, records.season, records.session)]
    )
    order = np.lexsort(owner.T[::-1])
    owner = owner[order]
    first = starts(owner)
    summed = _session_sums(z[order], w[order], first, session_ratio, step)
    groups = owner[first, :4]
    start = starts(groups)
    sums = np.add.reduceat(summed, start, axis=0)
    return [
        (_key(records, group, place), row)
        for group, row in zip(groups[start].tolist(), sums, strict=True)  # plain ints
    ]


def _session_sums(z: Array, w: Array, first: Places, session_ratio: float, step: float) -> Array:
    """Summands of each session, records of a session standing together from `first`."""
    row, column = np.tril_indices(z.shape[1])
    weighted = w[:, None] * z
    single = np.add.reduceat(_rounded(weighted, step), first, axis=0)
    double = np.add.reduceat(_rounded(weighted[:, row] * z[:, column], step), first, axis=0)
    weight = np.add.reduceat(w, first)
    count = np.diff(np.append(first, len(w))).astype(np.float64)
    mean = single / weight[:, None]
    share = weight / (1 + session_ratio * weight)
    shared = share[:, None] * mean
    inside = double - _rounded(single[:, row] * mean[:, column], step)
    return np.hstack(
        (
            weight[:, None],
            np.ones((len(first), 1)),
            _rounded(weight * (count - 1) / count, step)[:, None],
            _rounded(share, step)[:, None],
            _rounded(shared, step),
            _rounded(shared[:, row] * mean[:, column], step),
            np.where(count[:, None] > 1, inside, 0.0),  # one record has no deviation, not even a rounding
        )
    )


def _rounded(values: Array, step: float) -> Array:
    found: Array = np.floor(values / step + 0.5) * step
    return found


def _key(records: Records, group: Sequence[int], outcome: int) -> StatisticKey:
    contributor, machine, cell, season = group
    return StatisticKey(
        records.contributors[contributor],
        records.machines[machine],
        records.cells[cell],
        records.outcomes[outcome],
        season,
    )


def collected(layout: Layout, rows: Sequence[tuple[StatisticKey, Array]]) -> CellStatistics:
    """Rows of sums in the order of their keys.

    Parameters
    ----------
    layout : Layout
        What the sums mean.
    rows : sequence of (StatisticKey, ndarray)
        In any order, no key twice. [1]

    Returns
    -------
    CellStatistics
        The same rows.

    References
    ----------
    Definition.

    Examples
    --------
    >>> row = (StatisticKey("a", "m", "c", "loss", 2026), np.zeros(12))
    >>> collected(Layout(()), [row]).keys[0].cell
    'c'
    """
    ordered = sorted(rows, key=lambda row: row[0])
    sums = np.array([row for _, row in ordered]).reshape(len(ordered), layout.width)
    return CellStatistics(layout, tuple(key for key, _ in ordered), sums)


def exact(statistics: CellStatistics, step: float = STEP) -> CellStatistics:
    """Refuse sums that are no longer exact.

    Parameters
    ----------
    statistics : CellStatistics
        The sums.
    step : float
        What every summand is a multiple of, > 0. [1]

    Returns
    -------
    CellStatistics
        The same.

    Raises
    ------
    OutOfRange
        If a sum is larger than 2^53 steps.

    References
    ----------
    As `accumulate`.

    Examples
    --------
    >>> exact(no_statistics(Layout(()))).keys
    ()
    """
    most = float(np.abs(statistics.sums).max(initial=0.0))
    within("sums", most, 0, step * 2.0**53, "1")
    return statistics
