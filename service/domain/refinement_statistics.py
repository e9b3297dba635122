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
from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np

from service.domain.ranges import above, within
from service.domain.refinement_types import Array, CellStatistics, Layout, Places, Records, StatisticKey
from service.errors import OutOfRange

STEP: Final = 2.0**-26  # far below what a record tells; sums stay exact up to 2^27
_RECORDS: Final = 8192  # taken at a time, so that memory does not grow with them
_SESSIONS: Final = 512  # taken at a time, so that their products stay close to the processor
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
    rows: dict[StatisticKey, Array] = {}
    owner = np.vstack((records.session, records.season, records.cell, records.machine, records.contributor))
    order = np.lexsort(owner)
    for place in range(len(records.outcomes)):
        told = order[~np.isnan(records.log_amounts[order, place])]
        for key, sums in _of_outcome(records, weights, place, told, session_ratio, step):
            rows[key] = rows[key] + sums if key in rows else sums
    return exact(collected(records.layout, list(rows.items())), step)


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
    records: Records, weights: Array, place: int, told: Places, session_ratio: float, step: float
) -> Iterator[tuple[StatisticKey, Array]]:
    """Rows of one outcome, sessions of one size after another; a key may come more than once."""
    owner = np.column_stack(
        [part[told] for part in (records.contributor, records.machine, records.cell, records.season, records.session)]
    )
    w = _rounded(np.asarray(weights, dtype=np.float64)[told, place], WEIGHT_STEP)
    z = np.vstack((records.features[told].T, records.log_amounts[told, place]))
    if not ((w > 0).all() and np.isfinite(w).all() and np.isfinite(z).all()):
        raise OutOfRange("records", "not finite", reason="not_finite")
    for rows in _alike(starts(owner), len(told)):
        summed = _session_sums(z[:, rows], w[rows], session_ratio, step)
        groups = owner[rows[0], :4]
        begin = starts(groups)
        found = np.add.reduceat(summed, begin, axis=1) * step
        for group, sums in zip(groups[begin].tolist(), np.ascontiguousarray(found.T), strict=True):
            yield _key(records, group, place), sums


def _alike(first: Places, end: int) -> Iterator[Places]:
    """Places of records of some sessions of one size, shape (records of a session, sessions)."""
    size = np.diff(np.append(first, end))
    for records in np.unique(size).tolist():
        alike = first[size == records]
        most = max(1, min(_SESSIONS, _RECORDS // records))
        for begin in range(0, len(alike), most):
            yield np.arange(records)[:, None] + alike[begin : begin + most]


def _session_sums(z: Array, w: Array, session_ratio: float, step: float) -> Array:
    """Summands of sessions of one size, in steps: z is (entries, records, sessions), w (records, sessions)."""
    entries, count, sessions = z.shape
    triangle = entries * (entries + 1) // 2
    weighted = w * z / step
    single, double, room = np.zeros((entries, sessions)), np.zeros((triangle, sessions)), np.empty((triangle, sessions))
    for record in range(count):
        single += _whole(weighted[:, record].copy())
        double += _whole(_products(weighted[:, record], z[:, record], room))
    weight = w.sum(axis=0)
    mean = single * step / weight
    share = weight / (1 + session_ratio * weight)
    shared = share * mean / step
    found = np.empty((4 + entries + 2 * triangle, sessions))
    found[:4] = weight / step, np.full(sessions, 1 / step), weight * (count - 1) / count / step, share / step
    _whole(found[2:4])
    found[4 : 4 + entries] = shared
    _whole(found[4 : 4 + entries])
    _whole(_products(shared, mean, found[4 + entries : -triangle]))
    inside = found[-triangle:]
    if count > 1:
        np.subtract(double, _whole(_products(single, mean, inside)), out=inside)
    else:
        inside[:] = 0.0  # one record has no deviation, not even a rounding
    return found


def _products(left: Array, right: Array, room: Array) -> Array:
    """Products of each entry of one with each of the other, lower triangle by rows; written into the room."""
    first = 0
    for last in range(1, len(left) + 1):
        np.multiply(left[last - 1], right[:last], out=room[first : first + last])
        first += last
    return room


def _whole(steps: Array) -> Array:
    """Numbers of steps rounded in place."""
    steps += 0.5
    return np.floor(steps, out=steps)


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
