"""Sums over records: made, added, taken off, faded. What learning costs does not grow with the records.

Inside: the sums of `CellStatistics` and their digest. Outside: weights of records (`refinement_rows`),
what is learnt from the sums (`refinement_fit`).

Every summand is rounded to a multiple of `STEP`, a power of two. Sums of such numbers are exact in
double precision up to 2^53 steps, so they do not depend on order, on the program that adds or on what
was added before. To make the same sums elsewhere (in SQL as well): round(x) = floor(x / STEP + 1/2) STEP;
in a session S_i = sum round(w z_i), Q_ij = sum round((w z_i) z_j), W = sum w; then z_i = S_i / W and
om = W / (1 + k W); its summands are W, 1, round((W (n - 1)) / n), round(om), round(om z_i),
round((om z_i) z_j), and for two records or more Q_ij - round(S_i z_j), i >= j. Every operation is one
rounding of a double, in the order of the brackets.
"""

import hashlib
import math
from collections.abc import Callable, Sequence
from dataclasses import replace
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
    found = _collected(records.layout, [one for part in parts for one in part])
    return _exact(found, step)


def added(one: CellStatistics, other: CellStatistics) -> CellStatistics:
    """Sums over the records of both.

    Parameters
    ----------
    one, other : CellStatistics
        Sums over different records, of one layout and coding.

    Returns
    -------
    CellStatistics
        Their sums.

    Raises
    ------
    OutOfRange
        If the layouts differ or a sum grows beyond what is exact.

    References
    ----------
    Definition.

    Examples
    --------
    >>> nothing = no_statistics(Layout(("drum",)))
    >>> added(nothing, nothing).keys
    ()
    """
    return _combined(one, other, np.add)


def taken_off(whole: CellStatistics, part: CellStatistics) -> CellStatistics:
    """Sums over the records of the whole that are not of the part, exactly as if they had never been.

    Parameters
    ----------
    whole : CellStatistics
        Sums over all records.
    part : CellStatistics
        Sums over some of them, whole sessions.

    Returns
    -------
    CellStatistics
        The rest; rows in which no session is left are gone.

    Raises
    ------
    OutOfRange
        If the layouts differ.

    References
    ----------
    Definition.

    Examples
    --------
    >>> nothing = no_statistics(Layout(("drum",)))
    >>> taken_off(nothing, nothing).keys
    ()
    """
    rest = _combined(whole, part, np.subtract)
    return _rows(rest, rest.sessions > 0)


def without_contributor(statistics: CellStatistics, contributor: str) -> CellStatistics:
    """Sums over the records of all others.

    Parameters
    ----------
    statistics : CellStatistics
        Sums over all records.
    contributor : str
        Who is left out.

    Returns
    -------
    CellStatistics
        The rest.

    References
    ----------
    Definition.

    Examples
    --------
    >>> without_contributor(no_statistics(Layout(("drum",))), "a").keys
    ()
    """
    return _rows(statistics, np.array([key.contributor != contributor for key in statistics.keys], dtype=bool))


def faded(statistics: CellStatistics, season: int, half_life_seasons: float) -> CellStatistics:
    """Sums of all seasons as one, older ones with less weight.

    Parameters
    ----------
    statistics : CellStatistics
        Sums by season, none after `season`.
    season : int
        The season in which they are read.
    half_life_seasons : float
        Seasons after which a record counts half, > 0; infinite for no fading. [1]

    Returns
    -------
    CellStatistics
        One row for each contributor, machine, cell and outcome, of this season.

    Raises
    ------
    OutOfRange
        If the half-life is not above 0 or a row is of a later season.

    Notes
    -----
    Sums of a season a years ago are multiplied by 2^(-a / half-life).

    References
    ----------
    Ibrahim, J. G., Chen, M.-H. (2000). Power prior distributions for regression models. Statistical Science
    15, 46-60. Recalled.

    Examples
    --------
    >>> faded(no_statistics(Layout(("drum",))), 2026, 3.0).keys
    ()
    """
    if not half_life_seasons > 0:
        raise OutOfRange("half_life_seasons", half_life_seasons, 0, None, "1", reason="not_above")
    rows: dict[StatisticKey, Array] = {}
    for key, sums in zip(statistics.keys, statistics.sums, strict=True):
        within("season", season - key.season, 0, math.inf, "1")
        now = key._replace(season=season)
        share = 2.0 ** (-(season - key.season) / half_life_seasons)
        rows[now] = rows[now] + share * sums if now in rows else share * sums
    return _collected(statistics.layout, list(rows.items()))


def digest(statistics: CellStatistics) -> str:
    """Fingerprint of sums, by which a draft says what it was made from.

    Parameters
    ----------
    statistics : CellStatistics
        The sums.

    Returns
    -------
    str
        SHA-256 over layout, keys and sums.

    References
    ----------
    National Institute of Standards and Technology, FIPS 180-4 (2015), Secure Hash Standard.

    Examples
    --------
    >>> digest(no_statistics(Layout(("drum",))))[:18]
    'sha256:9e190b70d88'
    """
    text = repr((statistics.layout.settings, statistics.layout.conditions, [tuple(key) for key in statistics.keys]))
    # minus zero and zero are one number and must have one fingerprint
    content = text.encode() + (statistics.sums + 0.0).astype("<f8").tobytes()
    return "sha256:" + hashlib.sha256(content).hexdigest()


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
    new = np.ones(len(ordered), dtype=bool)
    new[1:] = np.any(ordered[1:] != ordered[:-1], axis=1)
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


def _collected(layout: Layout, rows: Sequence[tuple[StatisticKey, Array]]) -> CellStatistics:
    ordered = sorted(rows, key=lambda row: row[0])
    sums = np.array([row for _, row in ordered]).reshape(len(ordered), layout.width)
    return CellStatistics(layout, tuple(key for key, _ in ordered), sums)


def _combined(one: CellStatistics, other: CellStatistics, how: Callable[[Array, Array], Array]) -> CellStatistics:
    if one.layout != other.layout:
        raise OutOfRange("layout", str(other.layout), reason="layout")
    rows = dict(zip(one.keys, one.sums, strict=True))
    for key, sums in zip(other.keys, other.sums, strict=True):
        rows[key] = how(rows.get(key, np.zeros(one.layout.width)), sums)
    return _exact(_collected(one.layout, list(rows.items())), STEP)


def _exact(statistics: CellStatistics, step: float) -> CellStatistics:
    """Refuse sums that are no longer exact."""
    most = float(np.abs(statistics.sums).max(initial=0.0))
    within("sums", most, 0, step * 2.0**53, "1")
    return statistics


def _rows(statistics: CellStatistics, kept: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> CellStatistics:
    keys = tuple(key for key, keep in zip(statistics.keys, kept, strict=True) if keep)
    return replace(statistics, keys=keys, sums=statistics.sums[kept])
