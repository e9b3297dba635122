"""A loss monitor in figures: the rate its sensor sees, the least it can tell, where to set it.

Inside: loss per area to rate and back, kernels per second, scatter of readings without loss, detection
limit, the change of sensitivity, pairs still missing. Outside: the line itself (`monitor_line`), losses
from counts (`kernel_counts`, `losses`).

A sensor counts impacts per second. The same loss per area is a larger rate when driving faster or cutting
wider, so that a display without correction reads worse although no more grain lies on the ground.
"""

import math
from collections.abc import Sequence
from typing import Final

from scipy import special

from service.domain.intervals import propagated, scaled
from service.domain.line_limits import student_t
from service.domain.linear_fit import Line
from service.domain.ranges import INF, above, within
from service.domain.types import Interval

_TAIL: Final = 0.025
_G_S_PER: Final = 36.0  # kg/ha x m x km/h over g/s: 1 kg/ha = 0.1 g/m2, 1 km/h = 1 / 3.6 m/s


def loss_rate_g_s(loss_kg_ha: float, cut_width_m: float, speed_km_h: float) -> float:
    """Grain that is lost each second.

    Parameters
    ----------
    loss_kg_ha : float
        Loss per area of field, >= 0. [kg/har]
    cut_width_m : float
        Width that is cut, > 0. [m]
    speed_km_h : float
        Ground speed, > 0. [km/h]

    Returns
    -------
    float
        Rate of loss. [g/s]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    q = loss x width x speed / 36.

    References
    ----------
    Definition: area per second times loss per area.

    Examples
    --------
    >>> loss_rate_g_s(36.0, 9.0, 5.0)
    45.0
    """
    within("loss_kg_ha", loss_kg_ha, 0, INF, "kg/har")
    above("cut_width_m", cut_width_m, 0, "m")
    above("speed_km_h", speed_km_h, 0, "km/h")
    return loss_kg_ha * cut_width_m * speed_km_h / _G_S_PER


def loss_at_rate_kg_ha(rate_g_s: float, cut_width_m: float, speed_km_h: float) -> float:
    """Loss per area that a rate of loss leaves.

    Parameters
    ----------
    rate_g_s : float
        Rate of loss, >= 0. [g/s]
    cut_width_m : float
        Width that is cut, > 0. [m]
    speed_km_h : float
        Ground speed, > 0. [km/h]

    Returns
    -------
    float
        Loss per area of field. [kg/har]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    Inverse of `loss_rate_g_s`.

    References
    ----------
    As `loss_rate_g_s`.

    Examples
    --------
    >>> loss_at_rate_kg_ha(45.0, 9.0, 5.0)
    36.0
    """
    within("rate_g_s", rate_g_s, 0, INF, "g/s")
    above("cut_width_m", cut_width_m, 0, "m")
    above("speed_km_h", speed_km_h, 0, "km/h")
    return rate_g_s * _G_S_PER / (cut_width_m * speed_km_h)


def kernel_rate_per_s(rate_g_s: float, thousand_kernel_mass_g: float) -> float:
    """Kernels that are lost each second.

    Parameters
    ----------
    rate_g_s : float
        Rate of loss, >= 0. [g/s]
    thousand_kernel_mass_g : float
        Thousand-kernel mass, > 0. [g]

    Returns
    -------
    float
        Kernels per second. [{kernel}/s]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    References
    ----------
    Definition of the thousand-kernel mass.

    Examples
    --------
    >>> kernel_rate_per_s(45.0, 45.0)
    1000.0
    """
    within("rate_g_s", rate_g_s, 0, INF, "g/s")
    above("thousand_kernel_mass_g", thousand_kernel_mass_g, 0, "g")
    return 1000 * rate_g_s / thousand_kernel_mass_g


def scatter_limits(readings: Sequence[float]) -> Interval:
    """Standard deviation of readings with its limits.

    Parameters
    ----------
    readings : sequence of float
        Readings of the same thing, two or more. [reading]

    Returns
    -------
    Interval
        Standard deviation and limits. [reading]

    Raises
    ------
    OutOfRange
        If there are too few readings, or one is not finite.

    Notes
    -----
    s sqrt((n - 1) / chi2), chi2 at 97.5 % and 2.5 % with n - 1 degrees of freedom.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.3.1 (confidence intervals for the standard
    deviation).

    Examples
    --------
    >>> limits = scatter_limits([0.0, 0.2, 0.4])
    >>> round(limits.value, 3), round(limits.low, 3), round(limits.high, 3)
    (0.2, 0.104, 1.257)
    """
    within("readings", len(readings), 2, INF, "1")
    for reading in readings:
        within("readings", reading, -INF, INF, "1")
    mean = math.fsum(readings) / len(readings)
    squares = math.fsum((reading - mean) ** 2 for reading in readings)
    degrees = len(readings) - 1
    low, high = (math.sqrt(squares / float(special.chdtri(degrees, tail))) for tail in (_TAIL, 1 - _TAIL))
    return Interval(math.sqrt(squares / degrees), low, high)


def detection_limit(scatter: Interval, loss_per_reading: Interval, factor: float) -> Interval:
    """Least loss that stands out from the scatter of readings without loss.

    Parameters
    ----------
    scatter : Interval
        Standard deviation of readings without loss. [reading]
    loss_per_reading : Interval
        Slope of loss on reading, > 0. [loss/reading]
    factor : float
        Standard deviations that count as standing out, > 0. [1]

    Returns
    -------
    Interval
        Loss in the unit of the slope. [loss]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    factor x s x slope, limits by the variances of both. A slope whose lower limit is below zero is taken to
    begin at zero.

    References
    ----------
    International Union of Pure and Applied Chemistry (1978). Nomenclature, symbols, units and their usage
    in spectrochemical analysis, II. Spectrochimica Acta 33B, 241-245 (factor 3).

    Examples
    --------
    >>> detection_limit(Interval(0.2, 0.2, 0.2), Interval(10.0, 10.0, 10.0), 3).value
    6.000000000000001
    """
    within("scatter", scatter.low, 0, scatter.value, "1")
    above("loss_per_reading", loss_per_reading.value, 0, "1")
    above("factor", factor, 0, "1")
    slope = Interval(loss_per_reading.value, max(0.0, loss_per_reading.low), loss_per_reading.high)
    return propagated(scaled(scatter, factor), slope)


def sensitivity_change_pct(shown: float, wanted: float) -> float:
    """By how much the display must show more so that it shows what is wanted.

    Parameters
    ----------
    shown : float
        What the display shows, > 0. [reading]
    wanted : float
        What it should show, >= 0. [reading]

    Returns
    -------
    float
        Change of the sensitivity; negative is less. [%]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    Takes a display that is proportional to its sensitivity.

    References
    ----------
    Definition.

    Examples
    --------
    >>> sensitivity_change_pct(8.0, 10.0)
    25.0
    """
    above("shown", shown, 0, "1")
    within("wanted", wanted, 0, INF, "1")
    return 100 * (wanted / shown - 1)


def pairs_missing(line: Line, relative_error: float, most: int) -> int | None:
    """Further pairs, spread as these are, that would tell the slope as well as wanted.

    Parameters
    ----------
    line : Line
        Line through the pairs so far, slope not zero.
    relative_error : float
        Wanted half-width of the limits over the slope, > 0. [1]
    most : int
        Pairs in all above which nothing is promised.

    Returns
    -------
    int or None
        Pairs to add, 0 if these will do; None if `most` would not do.

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    The standard error falls with the root of the number of pairs, Student's t with the degrees of freedom.

    References
    ----------
    Draper, N. R., Smith, H. (1998). Applied regression analysis, 3rd ed., Wiley, ch. 1 (standard error of
    the slope).

    Examples
    --------
    >>> pairs_missing(Line(0.0, 10.0, 1.0, 1.0, 0.0, 1.0, 2, 0.95), 0.2, 40)
    3
    """
    above("slope", abs(line.slope), 0, "1")
    above("relative_error", relative_error, 0, "1")
    have = line.degrees_of_freedom + 2
    within("most", most, have, INF, "1")
    for pairs in range(have, most + 1):
        half = student_t(pairs - 2) * line.slope_error * math.sqrt(have / pairs)
        if half <= relative_error * abs(line.slope):
            return pairs - have
    return None
