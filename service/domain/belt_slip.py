"""Belt slip: what a driven shaft should turn at, how far it falls short, and what that turns into heat.

Inside: exact definitions, and the interval that errors of reading leave. Outside: how much slip is usual
(the knowledge table).
"""

import math
from collections.abc import Sequence
from typing import Final

from service.domain.ranges import INF, above, within
from service.domain.types import Interval

_NORMAL: Final = 1.959963984540054  # quantile of the standard normal that leaves 2.5 % above it


def pulley_ratio(driver_diameter_mm: float, driven_diameter_mm: float) -> float:
    """Revolutions of the driven shaft for one of the driving shaft, without slip.

    Parameters
    ----------
    driver_diameter_mm : float
        Effective diameter of the pulley that drives, above 0. [mm]
    driven_diameter_mm : float
        Effective diameter of the pulley that is driven, above 0. [mm]

    Returns
    -------
    float
        Ratio of speeds. [1]

    Raises
    ------
    OutOfRange
        If a diameter is not above 0.

    Notes
    -----
    i = d1 / d2. The belt has one speed on both pulleys; effective is the diameter at its tension cords.

    References
    ----------
    Khurmi, R. S.; Gupta, J. K. Theory of Machines, chapter 11, example 11.1.

    Examples
    --------
    >>> round(pulley_ratio(750, 450), 4)
    1.6667
    """
    above("driver_diameter_mm", driver_diameter_mm, 0, "mm")
    above("driven_diameter_mm", driven_diameter_mm, 0, "mm")
    return driver_diameter_mm / driven_diameter_mm


def speed_without_slip_rpm(driver_rpm: float, ratio: float) -> float:
    """Speed that the driven shaft would have if the belt did not slip.

    Parameters
    ----------
    driver_rpm : float
        Speed of the driving shaft, above 0. [{rev}/min]
    ratio : float
        Revolutions of the driven shaft for one of the driving shaft, above 0. [1]

    Returns
    -------
    float
        Speed of the driven shaft. [{rev}/min]

    Raises
    ------
    OutOfRange
        If an input is not above 0.

    Notes
    -----
    n2 = n1 i.

    References
    ----------
    Khurmi, R. S.; Gupta, J. K. Theory of Machines, chapter 11, example 11.1.

    Examples
    --------
    >>> round(speed_without_slip_rpm(150, pulley_ratio(750, 450)), 1)
    250.0
    """
    above("driver_rpm", driver_rpm, 0, "{rev}/min")
    above("ratio", ratio, 0, "1")
    return driver_rpm * ratio


def slip_pct(expected_rpm: float, measured_rpm: float) -> float:
    """Slip: what a driven shaft lacks of its speed without slip, as a share of that.

    Parameters
    ----------
    expected_rpm : float
        Speed without slip, above 0. [{rev}/min]
    measured_rpm : float
        Speed as measured, >= 0. [{rev}/min]

    Returns
    -------
    float
        Slip; below 0 where the shaft turns faster than it can. [%]

    Raises
    ------
    OutOfRange
        If the speed without slip is not above 0 or the other below 0.

    Notes
    -----
    s = 100 (1 - n / n0). It counts the creep of a stretching belt, which no tension takes away.

    References
    ----------
    Khurmi, R. S.; Gupta, J. K. Theory of Machines, chapter 11: N2/N1 = d1/d2 (1 - s/100).

    Examples
    --------
    >>> slip_pct(1500, 1440)
    4.0
    """
    above("expected_rpm", expected_rpm, 0, "{rev}/min")
    within("measured_rpm", measured_rpm, 0, INF, "{rev}/min")
    return 100 * (expected_rpm - measured_rpm) / expected_rpm


def slip_limits(expected_rpm: float, measured_rpm: float, error_pct: float) -> Interval:
    """Slip with the 95 % limits that the errors of both speeds leave.

    Parameters
    ----------
    expected_rpm : float
        Speed without slip, above 0. [{rev}/min]
    measured_rpm : float
        Speed as measured, >= 0. [{rev}/min]
    error_pct : float
        Standard error of the ratio of the two, 0 to 50. [%]

    Returns
    -------
    Interval
        Slip with its limits. [%]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    The ratio is 1 - s, so the limits are s -+ 1.96 e (1 - s), first order. A belt that stands has none.

    References
    ----------
    JCGM 100:2008, Guide to the expression of uncertainty in measurement, 5.1.6.

    Examples
    --------
    >>> limits = slip_limits(1000, 970, 0.5)
    >>> round(limits.low, 2), round(limits.value, 2), round(limits.high, 2)
    (2.05, 3.0, 3.95)
    """
    within("error_pct", error_pct, 0, 50, "%")
    slip = slip_pct(expected_rpm, measured_rpm)
    reach = _NORMAL * error_pct * (1 - slip / 100)
    return Interval(slip, slip - reach, slip + reach)


def combined_error_pct(errors_pct: Sequence[float]) -> float:
    """Standard error of a product or quotient of readings that err on their own.

    Parameters
    ----------
    errors_pct : sequence of float
        Standard error of each reading, each >= 0. [%]

    Returns
    -------
    float
        Standard error of the product. [%]

    Raises
    ------
    OutOfRange
        If an error is below 0 or not finite.

    Notes
    -----
    Root of the sum of squares, first order.

    References
    ----------
    JCGM 100:2008, Guide to the expression of uncertainty in measurement, 5.1.6.

    Examples
    --------
    >>> combined_error_pct([0.3, 0.4])
    0.5
    """
    for error_pct in errors_pct:
        within("error_pct", error_pct, 0, INF, "%")
    return math.hypot(*errors_pct)


def slip_heat_kw(power_kw: float, slip_pct: float) -> float:
    """Power that slip turns into heat in belt and pulleys.

    Parameters
    ----------
    power_kw : float
        Power that the driving shaft gives to the belt, >= 0. [kW]
    slip_pct : float
        Slip, 0 to 100. [%]

    Returns
    -------
    float
        Heat. [kW]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    P s / 100: both pulleys feel the same pull, so powers are as rim speeds. Bending of the belt comes on top.

    References
    ----------
    Definition of power as force times speed.

    Examples
    --------
    >>> slip_heat_kw(60, 5)
    3.0
    """
    within("power_kw", power_kw, 0, INF, "kW")
    within("slip_pct", slip_pct, 0, 100, "%")
    return power_kw * slip_pct / 100
