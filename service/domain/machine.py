"""Speeds and rates of a combine harvester, and the front for its power and its grain tank.

Inside: rotation and peripheral speed, reel speed, area and mass rates, the band of loss at another
feed rate; `power.py` and `unloading.py` are handed on. Outside: sizes and coefficients (the
knowledge table), the choice of the limiting speed.
"""

import math
from dataclasses import dataclass
from typing import Final

from service.domain.power import power_limited_speed_km_h, propulsion_power_kw, rotary_power_kw
from service.domain.ranges import INF, above, within
from service.domain.unloading import tank_fill_distance_m, tank_fill_time_min, unloading_limited_speed_km_h
from service.units import convert

__all__ = [
    "LossBand",
    "area_rate_ha_h",
    "centrifugal_ratio",
    "effective_area_rate_ha_h",
    "expected_loss_band",
    "peripheral_speed_m_s",
    "power_limited_speed_km_h",
    "propulsion_power_kw",
    "reel_tip_speed_m_s",
    "rotary_power_kw",
    "rotational_speed_rpm",
    "speed_for_throughput_km_h",
    "tank_fill_distance_m",
    "tank_fill_time_min",
    "throughput_t_h",
    "unloading_limited_speed_km_h",
]

GRAVITY_M_S2: Final = 9.80665


@dataclass(frozen=True, slots=True)
class LossBand:
    """Loss expected at another feed rate, low_pct <= high_pct.

    Attributes
    ----------
    low_pct, high_pct : float
        Lower and upper end. [%]
    """

    low_pct: float
    high_pct: float


def peripheral_speed_m_s(diameter_mm: float, speed_rpm: float) -> float:
    """Speed at the edge of a drum or rotor.

    Parameters
    ----------
    diameter_mm : float
        Diameter over the bars, above 0. [mm]
    speed_rpm : float
        Rotational speed, 0 or more. [{rev}/min]

    Returns
    -------
    float
        Peripheral speed. [m/s]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    v = pi D n. The same rotational speed on another diameter is another speed.

    References
    ----------
    Definition of uniform rotation.

    Examples
    --------
    1725 ft/min at 300 revolutions per minute of a 22 inch cylinder, NDSU Extension EB-25:

    >>> round(peripheral_speed_m_s(558.8, 300), 1)
    8.8
    """
    above("diameter_mm", diameter_mm, 0, "mm")
    within("speed_rpm", speed_rpm, 0, INF, "{rev}/min")
    return math.pi * diameter_mm / 1000 * speed_rpm / 60


def rotational_speed_rpm(diameter_mm: float, speed_m_s: float) -> float:
    """Rotational speed of a drum or rotor with a given peripheral speed.

    Parameters
    ----------
    diameter_mm : float
        Diameter over the bars, above 0. [mm]
    speed_m_s : float
        Peripheral speed, 0 or more. [m/s]

    Returns
    -------
    float
        Rotational speed. [{rev}/min]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    n = v / (pi D).

    References
    ----------
    Definition of uniform rotation.

    Examples
    --------
    >>> round(rotational_speed_rpm(600, 14.14))
    450
    """
    above("diameter_mm", diameter_mm, 0, "mm")
    within("speed_m_s", speed_m_s, 0, INF, "m/s")
    return 60 * speed_m_s / (math.pi * diameter_mm / 1000)


def centrifugal_ratio(diameter_mm: float, speed_m_s: float) -> float:
    """Centripetal acceleration at the edge of a drum or rotor over gravity.

    Parameters
    ----------
    diameter_mm : float
        Diameter, above 0. [mm]
    speed_m_s : float
        Peripheral speed, 0 or more. [m/s]

    Returns
    -------
    float
        How many times its weight presses a kernel outwards. [1]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    2 v^2 / (D g) with standard gravity, 9.80665 m/s2.

    References
    ----------
    Definition of uniform rotation.

    Examples
    --------
    >>> round(centrifugal_ratio(600, 31.416), 1)
    335.5
    """
    above("diameter_mm", diameter_mm, 0, "mm")
    within("speed_m_s", speed_m_s, 0, INF, "m/s")
    return 2 * speed_m_s**2 / (diameter_mm / 1000) / GRAVITY_M_S2


def reel_tip_speed_m_s(index: float, ground_speed_km_h: float) -> float:
    """Speed of the reel tips at a given reel index.

    Parameters
    ----------
    index : float
        Reel tip speed over ground speed, above 0. [1]
    ground_speed_km_h : float
        Ground speed, 0 or more. [km/h]

    Returns
    -------
    float
        Reel tip speed. [m/s]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    References
    ----------
    Definition of the reel index.

    Examples
    --------
    >>> round(reel_tip_speed_m_s(1.25, 5.0), 2)
    1.74
    """
    above("index", index, 0, "1")
    within("ground_speed_km_h", ground_speed_km_h, 0, INF, "km/h")
    return index * convert(ground_speed_km_h, "km/h", "m/s")


def area_rate_ha_h(speed_km_h: float, width_m: float, field_efficiency_pct: float = 100.0) -> float:
    """Area worked per hour.

    Parameters
    ----------
    speed_km_h : float
        Ground speed, 0 or more. [km/h]
    width_m : float
        Cut width, above 0. [m]
    field_efficiency_pct : float
        Share of the time that cuts at full width, above 0 to 100. [%]

    Returns
    -------
    float
        Area rate. [har/h]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    C = S w eta / 10.

    References
    ----------
    Estimating the Field Capacity of Farm Machines, Iowa State University Extension PM 696.

    Examples
    --------
    >>> round(area_rate_ha_h(6.0, 9.0, 70), 2)
    3.78
    """
    within("speed_km_h", speed_km_h, 0, INF, "km/h")
    above("width_m", width_m, 0, "m")
    above("field_efficiency_pct", field_efficiency_pct, 0, "%")
    within("field_efficiency_pct", field_efficiency_pct, 0, 100, "%")
    return speed_km_h * width_m / 10 * field_efficiency_pct / 100


def effective_area_rate_ha_h(
    speed_km_h: float, width_m: float, run_m: float, *, width_share: float, unproductive_h_ha: float, turn_s: float
) -> float:
    """Area worked per hour with turns and stops counted.

    Parameters
    ----------
    speed_km_h : float
        Ground speed, above 0. [km/h]
    width_m : float
        Cut width, above 0. [m]
    run_m : float
        Length of a run across the field, above 0. [m]
    width_share : float
        Share of the width that is used, above 0 to 1. [1]
    unproductive_h_ha : float
        Time lost per area, such as unloading, 0 or more. [h/har]
    turn_s : float
        Time for a turn at the end of a run, 0 or more. [s]

    Returns
    -------
    float
        Area rate. [har/h]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    C = S w L E / (10 L + D S w L E + 2.7778 S t), where 2.7778 = 10 000/3600.

    References
    ----------
    Hunt, D. Farm Power and Machinery Management, problem 1.3, read in published worked solutions.

    Examples
    --------
    Printed as 1.90 ha/h:

    >>> round(effective_area_rate_ha_h(4.8, 5, 400, width_share=0.95, unproductive_h_ha=4 / 60, turn_s=15), 2)
    1.9
    """
    above("speed_km_h", speed_km_h, 0, "km/h")
    above("width_m", width_m, 0, "m")
    above("run_m", run_m, 0, "m")
    above("width_share", width_share, 0, "1")
    within("width_share", width_share, 0, 1, "1")
    within("unproductive_h_ha", unproductive_h_ha, 0, INF, "h/har")
    within("turn_s", turn_s, 0, INF, "s")
    worked = speed_km_h * width_m * run_m * width_share
    return worked / (10 * run_m + unproductive_h_ha * worked + 10_000 / 3600 * speed_km_h * turn_s)


def throughput_t_h(speed_km_h: float, width_m: float, mass_t_ha: float) -> float:
    """Mass that enters the machine per hour while it cuts.

    Parameters
    ----------
    speed_km_h : float
        Ground speed, 0 or more. [km/h]
    width_m : float
        Cut width, above 0. [m]
    mass_t_ha : float
        Mass per area that enters, grain or straw or both, 0 or more. [t/har]

    Returns
    -------
    float
        Mass rate. [t/h]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    Q = S w y / 10.

    References
    ----------
    Definition of the mass rate. Srivastava, A. K. et al., Engineering Principles of Agricultural
    Machines, 2006, ch. 15.

    Examples
    --------
    >>> throughput_t_h(6.0, 9.0, 8.0)
    43.2
    """
    within("mass_t_ha", mass_t_ha, 0, INF, "t/har")
    return area_rate_ha_h(speed_km_h, width_m) * mass_t_ha


def speed_for_throughput_km_h(throughput_t_h: float, width_m: float, mass_t_ha: float) -> float:
    """Ground speed at which a given mass rate enters the machine.

    Parameters
    ----------
    throughput_t_h : float
        Mass rate, 0 or more. [t/h]
    width_m : float
        Cut width, above 0. [m]
    mass_t_ha : float
        Mass per area that enters, above 0. [t/har]

    Returns
    -------
    float
        Ground speed. [km/h]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    S = 10 Q / (w y).

    References
    ----------
    Definition of the mass rate.

    Examples
    --------
    >>> speed_for_throughput_km_h(43.2, 9.0, 8.0)
    6.0
    """
    within("throughput_t_h", throughput_t_h, 0, INF, "t/h")
    above("width_m", width_m, 0, "m")
    above("mass_t_ha", mass_t_ha, 0, "t/har")
    return 10 * throughput_t_h / (width_m * mass_t_ha)


def expected_loss_band(loss_ref_pct: float, feed_ratio: float, exponent_low: float, exponent_high: float) -> LossBand:
    """Loss at another feed rate, as a band between two powers of the feed ratio.

    Parameters
    ----------
    loss_ref_pct : float
        Loss at the reference feed rate, 0 to 100. [%]
    feed_ratio : float
        Feed rate over the reference feed rate, above 0. [1]
    exponent_low : float
        Loss rises with feed to this power at the least, 0 or more. [1]
    exponent_high : float
        Loss rises with feed to this power at the most, `exponent_low` or more. [1]

    Returns
    -------
    LossBand
        Lower and upper end, percent; not held below 100, use near a ratio of 1.

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    loss = ref r^b. Below the reference the high power gives the low end, above it the high end.

    References
    ----------
    Power form: Nyborg, E. O., MSc thesis, Michigan State University, 1967. Its coefficients are not
    printed in what was read; the exponents come from the knowledge table.

    Examples
    --------
    >>> expected_loss_band(1.0, 2.0, 1.0, 3.0)
    LossBand(low_pct=2.0, high_pct=8.0)
    """
    within("loss_ref_pct", loss_ref_pct, 0, 100, "%")
    above("feed_ratio", feed_ratio, 0, "1")
    within("feed_ratio", feed_ratio, 0, 100, "1")
    within("exponent_low", exponent_low, 0, 20, "1")
    within("exponent_high", exponent_high, exponent_low, 20, "1")
    ends = (loss_ref_pct * feed_ratio**exponent_low, loss_ref_pct * feed_ratio**exponent_high)
    return LossBand(min(ends), max(ends))
