"""Settings, conditions and amounts as the numbers that refinement adds up.

Inside: coding against the base table, features of a record, and sums turned to another coding when the
base table changed. Outside: adding up (`refinement_statistics`), which records count (`refinement_rows`).
"""

import math
from collections.abc import Sequence

import numpy as np

from service.domain.ranges import INF, above, within
from service.domain.refinement_types import Array, CellStatistics, Layout
from service.errors import OutOfRange


def coded_setting(value: float, start: float, low: float, high: float) -> float:
    """Setting in half envelopes from the start of the base table.

    Parameters
    ----------
    value : float
        The setting. [any]
    start, low, high : float
        Start and envelope of the base table, low < high, low <= start <= high. [any]

    Returns
    -------
    float
        0 at the start; not bounded, a record may lie outside the envelope. [1]

    Raises
    ------
    OutOfRange
        If a number is not finite or the envelope is not in order.

    Notes
    -----
    u = (x - b) / h with h = (U - L) / 2. The base table codes, never the refined one, so that sums of
    different revisions add.

    References
    ----------
    Myers, R. H., Montgomery, D. C., Anderson-Cook, C. M. (2009). Response surface methodology, 3rd ed.,
    Wiley: coded variables.

    Examples
    --------
    >>> coded_setting(900.0, 800.0, 600.0, 1000.0)
    0.5
    """
    _check_envelope(start, low, high)
    within("value", value, -INF, INF, "1")
    return (value - start) / ((high - low) / 2)


def setting_of(coded: float, start: float, low: float, high: float) -> float:
    """Setting that a coded one stands for.

    Parameters
    ----------
    coded : float
        Half envelopes from the start. [1]
    start, low, high : float
        Start and envelope of the base table, low < high, low <= start <= high. [any]

    Returns
    -------
    float
        The setting. [any]

    Raises
    ------
    OutOfRange
        If a number is not finite or the envelope is not in order.

    Notes
    -----
    x = b + u h with h = (U - L) / 2.

    References
    ----------
    As `coded_setting`.

    Examples
    --------
    >>> setting_of(0.5, 800.0, 600.0, 1000.0)
    900.0
    """
    _check_envelope(start, low, high)
    within("coded", coded, -INF, INF, "1")
    return start + coded * (high - low) / 2


def log_amount(amount_pct: float, log_offset_pct: float) -> float:
    """Logarithm of an amount, a little added so that zero counts.

    Parameters
    ----------
    amount_pct : float
        Amount, 0 <= x <= 100. [%]
    log_offset_pct : float
        What is added, > 0; below anything that can be measured. [%]

    Returns
    -------
    float
        Natural logarithm. [1]

    Raises
    ------
    OutOfRange
        If a number is not finite or lies outside its range.

    Notes
    -----
    ln(Y + e). Losses go as powers and exponentials of what causes them, so logarithms add.

    References
    ----------
    Nyborg, E. O. (1967). Thesis, Michigan State University, abstract: percent loss as a product of powers
    of feed rate and grain-straw ratio.

    Examples
    --------
    >>> round(log_amount(0.95, 0.05), 6)
    0.0
    """
    within("amount_pct", amount_pct, 0, 100, "%")
    above("log_offset_pct", log_offset_pct, 0, "%")
    return math.log(amount_pct + log_offset_pct)


def features(layout: Layout, settings: Array, conditions: Array) -> Array:
    """Features of records: 1, settings, their squares, conditions.

    Parameters
    ----------
    layout : Layout
        Which settings and conditions there are.
    settings : ndarray, shape (records, settings)
        Coded settings. [1]
    conditions : ndarray, shape (records, conditions)
        Conditions about the middle of the cell. [1]

    Returns
    -------
    ndarray, shape (records, layout.features)
        One row a record. [1]

    Raises
    ------
    OutOfRange
        If the shapes do not fit the layout.

    Notes
    -----
    A full quadratic without products of two settings: the sum of several outcomes on the log scale
    brings some of them back.

    References
    ----------
    Myers, Montgomery and Anderson-Cook (2009), second-order models.

    Examples
    --------
    >>> features(Layout(("drum",), ("moisture",)), [[0.5]], [[-1.0]]).tolist()
    [[1.0, 0.5, 0.25, -1.0]]
    """
    u, v = np.asarray(settings, dtype=np.float64), np.asarray(conditions, dtype=np.float64)
    if u.ndim != 2 or u.shape[1] != len(layout.settings):
        raise OutOfRange("settings", u.shape[-1] if u.ndim else 0, len(layout.settings), len(layout.settings), "1")
    if v.shape != (len(u), len(layout.conditions)):
        raise OutOfRange("conditions", v.shape[-1] if v.ndim else 0, len(layout.conditions), len(layout.conditions))
    return np.hstack((np.ones((len(u), 1)), u, u * u, v))


def recoded(statistics: CellStatistics, scale: Sequence[float], shift: Sequence[float]) -> CellStatistics:
    """Sums as if the records had been coded against another base table.

    Parameters
    ----------
    statistics : CellStatistics
        Sums in the old coding.
    scale : sequence of float
        Half envelope of the old table over that of the new, one a setting, > 0. [1]
    shift : sequence of float
        Old start less new start in new half envelopes, one a setting. [1]

    Returns
    -------
    CellStatistics
        Sums in the new coding.

    Raises
    ------
    OutOfRange
        If the lengths do not fit the layout or a number lies outside its range.

    Notes
    -----
    u' = a u + d and u'^2 = a^2 u^2 + 2 a d u + d^2 are linear in the features, z' = K z, so sums of z go
    to K sums and sums of z z^T to K sums K^T. Records of one session keep being of one session.

    References
    ----------
    Linear algebra.

    Examples
    --------
    >>> from service.domain.refinement_statistics import no_statistics
    >>> recoded(no_statistics(Layout(("drum",))), [2.0], [0.1]).sums.shape
    (0, 28)
    """
    layout = statistics.layout
    within("scale", len(scale), len(layout.settings), len(layout.settings), "1")
    within("shift", len(shift), len(layout.settings), len(layout.settings), "1")
    turn = np.eye(layout.entries)
    for j, (a, d) in enumerate(zip(scale, shift, strict=True)):
        above("scale", a, 0, "1")
        within("shift", d, -INF, INF, "1")
        linear, square = layout.slopes.start + j, layout.curvatures.start + j
        turn[linear, [0, linear]] = d, a
        turn[square, [0, linear, square]] = d * d, 2 * a * d, a * a
    row, column = np.tril_indices(layout.entries)
    parts = (
        statistics.sums[:, :4],
        statistics.session_sum @ turn.T,
        (turn @ statistics.between @ turn.T)[:, row, column],
        (turn @ statistics.within @ turn.T)[:, row, column],
    )
    return CellStatistics(layout, statistics.keys, np.hstack(parts))


def _check_envelope(start: float, low: float, high: float) -> None:
    within("low", low, -INF, INF, "1")
    above("high", high, low, "1")
    within("start", start, low, high, "1")
