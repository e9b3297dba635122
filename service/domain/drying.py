"""Drying after harvest: fuel and what it costs, by points of moisture and by water.

Inside: fuel per tonne from points or from water, cost by fuel price, the figures per bushel that
extension bulletins print. Outside: water and shrink (`moisture.py`), whether drying pays
(`waiting.py`), the figures themselves (the knowledge table).

A point is one percent of moisture, wet basis. Tonnes are tonnes of grain as it comes from the field.
"""

from service.domain.losses import bushels_per_tonne
from service.domain.moisture import water_removed_kg_t
from service.domain.ranges import INF, above, within
from service.units import convert


def fuel_per_point_l_t(fuel_gal_bu_point: float, bushel_lb: float) -> float:
    """Fuel per tonne and point from gallons per bushel and point.

    Parameters
    ----------
    fuel_gal_bu_point : float
        Fuel per bushel and point of moisture, 0 or more. [[gal_us]/[bu_us]]
    bushel_lb : float
        Legal mass of the bushel, above 0. [[lb_av]]

    Returns
    -------
    float
        Fuel per tonne and point. [L/t]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    The printed figures are per bushel, a mass of 56 lb for maize, and not per wet tonne.

    References
    ----------
    Iowa State University Extension IC-492(20), 2004: 0.018, range 0.010 to 0.025 gal per bushel and
    point for maize.

    Examples
    --------
    >>> round(fuel_per_point_l_t(0.018, 56), 2)
    2.68
    """
    within("fuel_gal_bu_point", fuel_gal_bu_point, 0, INF, "[gal_us]/[bu_us]")
    return convert(fuel_gal_bu_point, "[gal_us]", "L") * bushels_per_tonne(bushel_lb)


def fuel_by_points_l_t(moisture_pct: float, target_moisture_pct: float, fuel_l_t_point: float) -> float:
    """Fuel to dry a tonne of wet grain, by points.

    Parameters
    ----------
    moisture_pct : float
        Moisture before drying, 0 to 95. [%]
    target_moisture_pct : float
        Moisture after drying, 0 up to `moisture_pct`. [%]
    fuel_l_t_point : float
        Fuel per tonne and point, 0 or more. [L/t]

    Returns
    -------
    float
        Fuel per tonne of wet grain. [L/t]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    References
    ----------
    Points times fuel per point, as South Dakota State University and Iowa State University Extension
    reckon.

    Examples
    --------
    >>> round(fuel_by_points_l_t(25.0, 15.0, 3.53), 1)
    35.3
    """
    within("moisture_pct", moisture_pct, 0, 95, "%")
    within("target_moisture_pct", target_moisture_pct, 0, moisture_pct, "%")
    within("fuel_l_t_point", fuel_l_t_point, 0, INF, "L/t")
    return (moisture_pct - target_moisture_pct) * fuel_l_t_point


def fuel_by_water_l_t(moisture_pct: float, target_moisture_pct: float, energy_mj_kg: float, heat_mj_l: float) -> float:
    """Fuel to dry a tonne of wet grain, by the water that leaves it.

    Parameters
    ----------
    moisture_pct : float
        Moisture before drying, 0 to 95. [%]
    target_moisture_pct : float
        Moisture after drying, 0 up to `moisture_pct`. [%]
    energy_mj_kg : float
        Heat per water removed, 0 or more; evaporation alone needs about 2.5. [MJ/kg]
    heat_mj_l : float
        Heat of the fuel, above 0. [MJ/L]

    Returns
    -------
    float
        Fuel per tonne of wet grain. [L/t]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    References
    ----------
    Conservation of dry matter, and heat per water as dryer audits print it.

    Examples
    --------
    Heat-recovery dryer at 4.28 MJ/kg, liquefied gas at 23.5 MJ/L:

    >>> round(fuel_by_water_l_t(25.0, 15.0, 4.28, 23.5), 1)
    21.4
    """
    within("energy_mj_kg", energy_mj_kg, 0, INF, "MJ/kg")
    above("heat_mj_l", heat_mj_l, 0, "MJ/L")
    return water_removed_kg_t(moisture_pct, target_moisture_pct) * energy_mj_kg / heat_mj_l


def fuel_cost(fuel_price: float, fuel_per_point: float, points: float) -> float:
    """Fuel cost per mass of grain for so many points.

    Parameters
    ----------
    fuel_price : float
        Money per volume of fuel, 0 or more. [money/volume]
    fuel_per_point : float
        Volume of fuel per mass of grain and point, same volume, 0 or more. [volume/mass]
    points : float
        Points of moisture removed, 0 to 95. [%]

    Returns
    -------
    float
        Money per mass of grain. [money/mass]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    References
    ----------
    Rule of South Dakota State University Extension: 1.60 a gallon times 0.02 gallons is 0.032 per
    bushel and point.

    Examples
    --------
    >>> round(fuel_cost(1.60, 0.02, 10), 2)
    0.32
    """
    within("fuel_price", fuel_price, 0, INF, "1")
    within("fuel_per_point", fuel_per_point, 0, INF, "1")
    within("points", points, 0, 95, "%")
    return fuel_price * fuel_per_point * points
