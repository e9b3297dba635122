"""Grain tank and unloading auger: time and distance to fill, and the speed unloading allows.

Inside: exact mass balances. Outside: waiting for carts, unloading rates of machines (the knowledge
table).
"""

from service.domain.ranges import INF, above, within
from service.units import convert


def tank_fill_time_min(volume_l: float, bulk_density_kg_hl: float, grain_t_h: float) -> float:
    """Time in which the grain tank fills.

    Parameters
    ----------
    volume_l : float
        Volume of the grain tank, above 0. [L]
    bulk_density_kg_hl : float
        Bulk density of the grain, above 0. [kg/hL]
    grain_t_h : float
        Grain flow into the tank, above 0. [t/h]

    Returns
    -------
    float
        Time. [min]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    t = V rho / Q.

    References
    ----------
    Mass balance of the tank.

    Examples
    --------
    >>> round(tank_fill_time_min(10_000, 77, 43.2), 2)
    10.69
    """
    above("grain_t_h", grain_t_h, 0, "t/h")
    return convert(_tank_mass_t(volume_l, bulk_density_kg_hl) / grain_t_h, "h", "min")


def tank_fill_distance_m(volume_l: float, bulk_density_kg_hl: float, width_m: float, yield_t_ha: float) -> float:
    """Distance of cutting that fills the grain tank.

    Parameters
    ----------
    volume_l : float
        Volume of the grain tank, above 0. [L]
    bulk_density_kg_hl : float
        Bulk density of the grain, above 0. [kg/hL]
    width_m : float
        Cut width, above 0. [m]
    yield_t_ha : float
        Harvested yield, above 0. [t/har]

    Returns
    -------
    float
        Distance. [m]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    10 000 V rho / (w y).

    References
    ----------
    Mass balance of the tank.

    Examples
    --------
    >>> round(tank_fill_distance_m(10_000, 77, 9, 8))
    1069
    """
    above("width_m", width_m, 0, "m")
    above("yield_t_ha", yield_t_ha, 0, "t/har")
    area_ha = _tank_mass_t(volume_l, bulk_density_kg_hl) / yield_t_ha
    return convert(area_ha, "har", "m2") / width_m


def unloading_limited_speed_km_h(
    unloading_rate_l_s: float, bulk_density_kg_hl: float, width_m: float, yield_t_ha: float, margin: float
) -> float:
    """Ground speed up to which unloading on the go empties the tank.

    Parameters
    ----------
    unloading_rate_l_s : float
        Volume rate of the unloading auger, above 0. [L/s]
    bulk_density_kg_hl : float
        Bulk density of the grain, above 0. [kg/hL]
    width_m : float
        Cut width, above 0. [m]
    yield_t_ha : float
        Harvested yield, above 0. [t/har]
    margin : float
        Unloading rate over grain flow that is wanted at the least, 1 or more. [1]

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
    S = 10 q rho / (margin w y). At a margin of 1 the tank stays as full as it is.

    References
    ----------
    Mass balance of the tank.

    Examples
    --------
    >>> round(unloading_limited_speed_km_h(100, 77, 9, 8, 3), 2)
    12.83
    """
    above("unloading_rate_l_s", unloading_rate_l_s, 0, "L/s")
    above("bulk_density_kg_hl", bulk_density_kg_hl, 0, "kg/hL")
    above("width_m", width_m, 0, "m")
    above("yield_t_ha", yield_t_ha, 0, "t/har")
    within("margin", margin, 1, INF, "1")
    unloading_t_h = convert(unloading_rate_l_s * bulk_density_kg_hl / 100, "kg/s", "t/h")
    return 10 * unloading_t_h / (margin * width_m * yield_t_ha)


def _tank_mass_t(volume_l: float, bulk_density_kg_hl: float) -> float:
    above("volume_l", volume_l, 0, "L")
    above("bulk_density_kg_hl", bulk_density_kg_hl, 0, "kg/hL")
    return convert(volume_l * bulk_density_kg_hl / 100, "kg", "t")
