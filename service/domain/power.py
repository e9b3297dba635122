"""Engine power of a combine harvester, and the ground speed that it allows.

Inside: rotary power for threshing, separating and cleaning, power to propel the machine, the speed
at which both use up what is available. Outside: coefficients and their range, engine reserve (the
knowledge table), fuel.
"""

import math
from typing import Final

from service.domain.ranges import INF, above, within
from service.units import convert

GRAVITY_M_S2: Final = 9.80665
SLOPE_MAX_DEG: Final = 30.0  # steeper than any combine harvester may work


def rotary_power_kw(feed_t_h: float, a_kw: float, c_kwh_t: float) -> float:
    """Power that threshing, separating and cleaning take from the engine.

    Parameters
    ----------
    feed_t_h : float
        Feed rate of the material behind the coefficients, 0 or more. [t/h]
    a_kw : float
        Power of the empty machine, 0 or more. [kW]
    c_kwh_t : float
        Energy per mass fed, 0 or more. [kW.h/t]

    Returns
    -------
    float
        Power. [kW]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    P = a + c F, the form of the standard without its width term, which is zero for combine
    harvesters. Propulsion comes on top.

    References
    ----------
    ASABE D497, Agricultural Machinery Management Data, rotary power. Coefficients recalled.

    Examples
    --------
    Small grain, 20 kW and 3.6 kWh/t:

    >>> rotary_power_kw(20.0, 20.0, 3.6)
    92.0
    """
    within("feed_t_h", feed_t_h, 0, INF, "t/h")
    within("a_kw", a_kw, 0, INF, "kW")
    within("c_kwh_t", c_kwh_t, 0, INF, "kW.h/t")
    return a_kw + c_kwh_t * feed_t_h


def propulsion_power_kw(
    mass_t: float, speed_km_h: float, rolling_resistance: float, slope_deg: float, efficiency: float
) -> float:
    """Power that driving takes from the engine.

    Parameters
    ----------
    mass_t : float
        Mass of the machine with grain, above 0. [t]
    speed_km_h : float
        Ground speed, 0 or more. [km/h]
    rolling_resistance : float
        Rolling resistance over weight, 0 to 1. [1]
    slope_deg : float
        Slope along the way, uphill positive, -30 to 30. [deg]
    efficiency : float
        Power at the wheels over power from the engine, above 0 to 1. [1]

    Returns
    -------
    float
        Power; 0 where the slope drives the machine. [kW]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    P = m g (f cos s + sin s) v / eta. Power that a steep descent gives back is not counted.

    References
    ----------
    Balance of forces on an inclined plane.

    Examples
    --------
    >>> round(propulsion_power_kw(20.0, 5.0, 0.1, 0.0, 0.7), 1)
    38.9
    """
    within("speed_km_h", speed_km_h, 0, INF, "km/h")
    return _tractive_kw_per_km_h(mass_t, rolling_resistance, slope_deg, efficiency) * speed_km_h


def power_limited_speed_km_h(
    *,
    available_kw: float,
    a_kw: float,
    c_kwh_t: float,
    feed_t_h_per_km_h: float,
    mass_t: float,
    rolling_resistance: float,
    slope_deg: float,
    efficiency: float,
) -> float:
    """Ground speed at which rotary power and propulsion use up what is available.

    Parameters
    ----------
    available_kw : float
        Engine power less the reserve, above `a_kw`. [kW]
    a_kw : float
        Power of the empty machine, 0 or more. [kW]
    c_kwh_t : float
        Energy per mass fed, above 0. [kW.h/t]
    feed_t_h_per_km_h : float
        Feed rate per ground speed, above 0. [(t/h)/(km/h)]
    mass_t : float
        Mass of the machine with grain, above 0. [t]
    rolling_resistance : float
        Rolling resistance over weight, 0 to 1. [1]
    slope_deg : float
        Slope along the way, uphill positive, -30 to 30. [deg]
    efficiency : float
        Power at the wheels over power from the engine, above 0 to 1. [1]

    Returns
    -------
    float
        Ground speed. [km/h]

    Raises
    ------
    OutOfRange
        If an input lies outside its range; `available_kw` with reason `not_above` if the machine
        cannot even run empty.

    Notes
    -----
    Both powers are linear in speed: S = (P - a) / (c k + p), k the feed and p the propulsion power
    per km/h.

    References
    ----------
    ASABE D497, Agricultural Machinery Management Data, rotary power; balance of forces.

    Examples
    --------
    >>> speed = power_limited_speed_km_h(
    ...     available_kw=250, a_kw=20, c_kwh_t=3.6, feed_t_h_per_km_h=7.2,
    ...     mass_t=20, rolling_resistance=0.1, slope_deg=0, efficiency=0.7,
    ... )
    >>> round(speed, 2)
    6.82
    """
    within("a_kw", a_kw, 0, INF, "kW")
    above("available_kw", available_kw, a_kw, "kW")
    above("c_kwh_t", c_kwh_t, 0, "kW.h/t")
    above("feed_t_h_per_km_h", feed_t_h_per_km_h, 0, "t/km")
    per_km_h = c_kwh_t * feed_t_h_per_km_h + _tractive_kw_per_km_h(mass_t, rolling_resistance, slope_deg, efficiency)
    return (available_kw - a_kw) / per_km_h


def _tractive_kw_per_km_h(mass_t: float, rolling_resistance: float, slope_deg: float, efficiency: float) -> float:
    above("mass_t", mass_t, 0, "t")
    within("rolling_resistance", rolling_resistance, 0, 1, "1")
    within("slope_deg", slope_deg, -SLOPE_MAX_DEG, SLOPE_MAX_DEG, "deg")
    above("efficiency", efficiency, 0, "1")
    within("efficiency", efficiency, 0, 1, "1")
    slope = math.radians(slope_deg)
    force_kn = mass_t * GRAVITY_M_S2 * (rolling_resistance * math.cos(slope) + math.sin(slope))
    return max(0.0, force_kn) * convert(1, "km/h", "m/s") / efficiency
