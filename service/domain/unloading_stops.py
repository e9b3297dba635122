"""Emptying the grain tank: how long it takes, when to call for it, how much work is left around it.

Inside: emptying while cutting or standing, what fits into a cart, the level at which to call, the share of
the time that remains, runs to a tank and breaks at their ends. Outside: filling (`unloading`), waiting for
few carts (`finite_source_queue` and on).
"""

import math
from dataclasses import dataclass

from service.domain.ranges import INF, above, within
from service.errors import OutOfRange
from service.units import convert


@dataclass(frozen=True, slots=True)
class Call:
    """When to call: level of the tank, and what remains to wait for where even an empty tank is too late."""

    level_pct: float
    wait_min: float


def emptying_time_s(volume_l: float, unloading_rate_l_s: float, inflow_t_h: float, bulk_density_kg_hl: float) -> float:
    """Time in which the auger empties a tank into which grain may still flow.

    Parameters
    ----------
    volume_l : float
        Grain in the tank, 0 or more. [L]
    unloading_rate_l_s : float
        Volume rate of the unloading auger, above 0. [L/s]
    inflow_t_h : float
        Grain that flows in meanwhile, 0 when the machine stands. [t/h]
    bulk_density_kg_hl : float
        Bulk density of the grain, above 0. [kg/hL]

    Returns
    -------
    float
        Time. [s]

    Raises
    ------
    OutOfRange
        If an input lies outside its range, or the auger is no faster than what flows in (reason
        `not_above`).

    Notes
    -----
    V / (q - Q / rho).

    References
    ----------
    Mass balance of the tank.

    Examples
    --------
    Standing, and cutting 43.2 t/h:

    >>> emptying_time_s(10_000, 100, 0, 77)
    100.0
    >>> round(emptying_time_s(10_000, 100, 43.2, 77), 1)
    118.5
    """
    within("volume_l", volume_l, 0, INF, "L")
    above("unloading_rate_l_s", unloading_rate_l_s, 0, "L/s")
    within("inflow_t_h", inflow_t_h, 0, INF, "t/h")
    above("bulk_density_kg_hl", bulk_density_kg_hl, 0, "kg/hL")
    inflow_l_s = convert(inflow_t_h, "t/h", "kg/s") / bulk_density_kg_hl * 100
    if unloading_rate_l_s <= inflow_l_s:
        raise OutOfRange("unloading_rate_l_s", unloading_rate_l_s, inflow_l_s, None, "L/s", reason="not_above")
    return volume_l / (unloading_rate_l_s - inflow_l_s)


def content_that_fits_t(capacity_t: float, unloading_t_h: float, inflow_t_h: float) -> float:
    """Grain that a tank may hold when unloading begins, so that a cart takes all of it and what is cut meanwhile.

    Parameters
    ----------
    capacity_t : float
        Room in the cart, above 0. [t]
    unloading_t_h : float
        Mass rate of the unloading auger, above 0. [t/h]
    inflow_t_h : float
        Grain that flows in meanwhile, 0 when the machine stands. [t/h]

    Returns
    -------
    float
        Grain in the tank. [t]

    Raises
    ------
    OutOfRange
        If an input lies outside its range, or the auger is no faster than what flows in (reason
        `not_above`).

    Notes
    -----
    C (1 - Q / q): the auger runs C / q until the cart is full, and Q of that is cut meanwhile.

    References
    ----------
    Mass balance of tank and cart.

    Examples
    --------
    Half of what the auger moves flows in meanwhile:

    >>> content_that_fits_t(6.0, 100.0, 50.0)
    3.0
    """
    above("capacity_t", capacity_t, 0, "t")
    above("unloading_t_h", unloading_t_h, 0, "t/h")
    within("inflow_t_h", inflow_t_h, 0, INF, "t/h")
    if unloading_t_h <= inflow_t_h:
        raise OutOfRange("unloading_t_h", unloading_t_h, inflow_t_h, None, "t/h", reason="not_above")
    return capacity_t * (1 - inflow_t_h / unloading_t_h)


def working_share(fill_min: float, lost_min: float) -> float:
    """Share of the time that is left for cutting where each tank costs a stop.

    Parameters
    ----------
    fill_min : float
        Time in which the tank fills, above 0. [min]
    lost_min : float
        Time that a stop takes, 0 or more. [min]

    Returns
    -------
    float
        Share, above 0 to 1. [1]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    t_fill / (t_fill + t_lost).

    References
    ----------
    Definition.

    Examples
    --------
    >>> round(working_share(10.69, 100 / 60), 3)
    0.865
    """
    above("fill_min", fill_min, 0, "min")
    within("lost_min", lost_min, 0, INF, "min")
    return fill_min / (fill_min + lost_min)


def call_level(fill_min: float, arrival_min: float, reserve_pct: float, most_pct: float = 100.0) -> Call:
    """Level of the tank at which to call, so that the cart is there before it is full.

    Parameters
    ----------
    fill_min : float
        Time in which the tank fills, above 0. [min]
    arrival_min : float
        Time from the call until the cart is alongside, 0 or more. [min]
    reserve_pct : float
        Part of the tank that should be free still when the cart arrives, 0 to below 100. [%]
    most_pct : float
        Level that the cart can take all of, above 0 to 100. [%]

    Returns
    -------
    Call
        Level [%] and minutes that the machine would stand if it called with an empty tank [min].

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    The lower of 100 - reserve and what the cart takes, less 100 t_arrival / t_fill, and 0 where that is below
    0: then the cart must come along unasked. The wait is what of the way is longer than the filling.

    References
    ----------
    Definition.

    Examples
    --------
    >>> call_level(12.0, 3.0, 10.0)
    Call(level_pct=65.0, wait_min=0.0)
    >>> call_level(12.0, 3.0, 10.0, most_pct=60.0)
    Call(level_pct=35.0, wait_min=0.0)
    """
    above("fill_min", fill_min, 0, "min")
    within("arrival_min", arrival_min, 0, INF, "min")
    within("reserve_pct", reserve_pct, 0, 99.9, "%")
    above("most_pct", most_pct, 0, "%")
    within("most_pct", most_pct, 0, 100, "%")
    level_pct = min(100 - reserve_pct, most_pct) - 100 * arrival_min / fill_min
    return Call(max(0.0, level_pct), max(0.0, arrival_min - fill_min))


def whole_runs(fill_distance_m: float, run_length_m: float) -> int:
    """Whole runs across the field that one tank lasts for.

    Parameters
    ----------
    fill_distance_m : float
        Distance of cutting that fills the tank, above 0. [m]
    run_length_m : float
        Length of a run, above 0. [m]

    Returns
    -------
    int
        Runs, 0 where the tank is full before the end of the first. [1]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    The whole part of the quotient.

    References
    ----------
    Definition.

    Examples
    --------
    >>> whole_runs(1069, 400)
    2
    """
    above("fill_distance_m", fill_distance_m, 0, "m")
    above("run_length_m", run_length_m, 0, "m")
    # forgives the binary form of a decimal
    return int(fill_distance_m / run_length_m * (1 + 1e-12))


def breaks_at_headlands(unloading_distance_m: float, run_length_m: float) -> int:
    """Times that unloading on the move is broken off at the end of a run and begun again on the next.

    Parameters
    ----------
    unloading_distance_m : float
        Distance that is cut while the tank is unloaded, 0 or more. [m]
    run_length_m : float
        Length of a run, above 0. [m]

    Returns
    -------
    int
        Breaks, 0 where one run is long enough; unloading begins with a run. [1]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    Runs that it takes, rounded up, less one.

    References
    ----------
    Definition.

    Examples
    --------
    >>> breaks_at_headlands(490, 400), breaks_at_headlands(400, 400)
    (1, 0)
    """
    within("unloading_distance_m", unloading_distance_m, 0, INF, "m")
    above("run_length_m", run_length_m, 0, "m")
    # forgives the binary form of a decimal
    return max(0, math.ceil(unloading_distance_m / run_length_m * (1 - 1e-12)) - 1)
