"""Grain moisture on both bases, and what a mass of grain becomes when only its water changes.

Inside: exact dry-matter arithmetic, shrink, water to remove, the linear shrink rule of United
States crop insurance. Outside: equilibrium with the air (`equilibrium.py`), trade moistures (the
knowledge table), handling loss, which is no water.

Moisture is on the wet basis, percent, unless a name says `db`.
"""

from service.domain.ranges import INF, above, within
from service.errors import OutOfRange

# no grain is weighed or traded wetter; also keeps every divisor well away from zero
MOISTURE_MAX_PCT = 95.0


def dry_basis_pct(moisture_pct: float) -> float:
    """Moisture on the dry basis from moisture on the wet basis.

    Parameters
    ----------
    moisture_pct : float
        Water per total mass, 0 to 95. [%]

    Returns
    -------
    float
        Water per dry matter. [%]

    Raises
    ------
    OutOfRange
        If the input lies outside its range.

    Notes
    -----
    M_db = 100 M_wb / (100 - M_wb). Exact, by definition of the two bases.

    References
    ----------
    Definition of moisture on the wet and on the dry basis.

    Examples
    --------
    >>> dry_basis_pct(20.0)
    25.0
    """
    within("moisture_pct", moisture_pct, 0, MOISTURE_MAX_PCT, "%")
    return 100 * moisture_pct / (100 - moisture_pct)


def wet_basis_pct(moisture_db_pct: float) -> float:
    """Moisture on the wet basis from moisture on the dry basis.

    Parameters
    ----------
    moisture_db_pct : float
        Water per dry matter, 0 to 1900. [%]

    Returns
    -------
    float
        Water per total mass, 0 to 95. [%]

    Raises
    ------
    OutOfRange
        If the input lies outside its range.

    Notes
    -----
    M_wb = 100 M_db / (100 + M_db). Exact, by definition of the two bases.

    References
    ----------
    Definition of moisture on the wet and on the dry basis.

    Examples
    --------
    >>> wet_basis_pct(25.0)
    20.0
    """
    within("moisture_db_pct", moisture_db_pct, 0, 1900, "%")
    return 100 * moisture_db_pct / (100 + moisture_db_pct)


def mass_at_moisture(mass: float, moisture_pct: float, target_moisture_pct: float) -> float:
    """Mass that the same dry matter has at another moisture.

    Parameters
    ----------
    mass : float
        Mass as weighed, 0 or more. [any unit of mass]
    moisture_pct : float
        Moisture as weighed, 0 to 95. [%]
    target_moisture_pct : float
        Moisture of the answer, 0 to 95; 0 gives the dry matter. [%]

    Returns
    -------
    float
        Mass at the target moisture. [unit of `mass`]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    m2 = m1 (100 - M1) / (100 - M2). The divisor is the moisture of the answer. Taking the water off
    and adding the target percentage of the dry matter is the usual mistake: 10 000 lb of maize at
    20 % would come out as 9240 lb at 15.5 % instead of 9467 lb.

    References
    ----------
    Conservation of dry matter. Mulvaney, M. J.; Devkota, P. J. Adjusting Crop Yield to a Standard
    Moisture Content, UF/IFAS AG442, 2020, shows the mistake.

    Examples
    --------
    The worked example of the International Rice Research Institute, printed there as 872 kg:

    >>> round(mass_at_moisture(1000, 25, 14))
    872
    """
    within("mass", mass, 0, INF, "kg")
    within("moisture_pct", moisture_pct, 0, MOISTURE_MAX_PCT, "%")
    within("target_moisture_pct", target_moisture_pct, 0, MOISTURE_MAX_PCT, "%")
    return mass * (100 - moisture_pct) / (100 - target_moisture_pct)


def yield_at_moisture_t_ha(yield_t_ha: float, moisture_pct: float, target_moisture_pct: float) -> float:
    """Yield restated at another moisture with the same dry matter.

    Parameters
    ----------
    yield_t_ha : float
        Yield as weighed, 0 or more. [t/har]
    moisture_pct : float
        Moisture as weighed, 0 to 95. [%]
    target_moisture_pct : float
        Moisture of the answer, 0 to 95. [%]

    Returns
    -------
    float
        Yield at the target moisture. [t/har]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    Loss and yield must stand at the same moisture before one is divided by the other.

    References
    ----------
    Conservation of dry matter.

    Examples
    --------
    >>> round(yield_at_moisture_t_ha(8.0, 18.0, 14.5), 3)
    7.673
    """
    within("yield_t_ha", yield_t_ha, 0, INF, "t/har")
    return mass_at_moisture(yield_t_ha, moisture_pct, target_moisture_pct)


def shrink_pct(moisture_pct: float, target_moisture_pct: float) -> float:
    """Share of the wet mass that drying to the target takes away.

    Parameters
    ----------
    moisture_pct : float
        Moisture before drying, 0 to 95. [%]
    target_moisture_pct : float
        Moisture after drying, 0 to 95. [%]

    Returns
    -------
    float
        Loss of mass as percent of the wet mass; negative if the target is wetter. [%]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    Water only. Elevators add a handling loss or use a flat factor per point.

    References
    ----------
    Conservation of dry matter.

    Examples
    --------
    Printed as 11.24 % by South Dakota State University Extension, 2019:

    >>> round(shrink_pct(25.0, 15.5), 2)
    11.24
    """
    return 100 - mass_at_moisture(100, moisture_pct, target_moisture_pct)


def shrink_factor_per_point(target_moisture_pct: float) -> float:
    """Shrink per point of moisture removed, as percent of the wet mass.

    Parameters
    ----------
    target_moisture_pct : float
        Moisture after drying, 0 to 95. [%]

    Returns
    -------
    float
        Percent of the wet mass per point. [%]

    Raises
    ------
    OutOfRange
        If the input lies outside its range.

    Notes
    -----
    100 / (100 - M2). The divisor is the final moisture, so that the factor times the points removed
    is the exact shrink.

    References
    ----------
    Conservation of dry matter.

    Examples
    --------
    >>> round(shrink_factor_per_point(15.5), 4)
    1.1834
    """
    within("target_moisture_pct", target_moisture_pct, 0, MOISTURE_MAX_PCT, "%")
    return 100 / (100 - target_moisture_pct)


def water_removed_kg_t(moisture_pct: float, target_moisture_pct: float) -> float:
    """Water to remove from a tonne of wet grain.

    Parameters
    ----------
    moisture_pct : float
        Moisture before drying, 0 to 95. [%]
    target_moisture_pct : float
        Moisture after drying, 0 up to `moisture_pct`. [%]

    Returns
    -------
    float
        Water per tonne of wet grain. [kg/t]

    Raises
    ------
    OutOfRange
        If an input lies outside its range, or the target is wetter than the grain.

    Notes
    -----
    W = 1000 (M1 - M2) / (100 - M2).

    References
    ----------
    Conservation of dry matter.

    Examples
    --------
    >>> round(water_removed_kg_t(25.0, 15.0), 1)
    117.6
    """
    within("moisture_pct", moisture_pct, 0, MOISTURE_MAX_PCT, "%")
    within("target_moisture_pct", target_moisture_pct, 0, moisture_pct, "%")
    return 1000 * (moisture_pct - target_moisture_pct) / (100 - target_moisture_pct)


def linear_shrink_factor(
    moisture_pct: float, target_moisture_pct: float, rate_pct_per_tenth_point: float = 0.12
) -> float:
    """Factor of the linear shrink rule of United States crop insurance.

    Parameters
    ----------
    moisture_pct : float
        Moisture as weighed, `target_moisture_pct` to 95; drier grain is not marked up. [%]
    target_moisture_pct : float
        Moisture of the insurance standard, 0 to 95. [%]
    rate_pct_per_tenth_point : float
        Percent of the mass per tenth of a point, above 0. [%]

    Returns
    -------
    float
        Insured mass over wet mass. [1]

    Raises
    ------
    OutOfRange
        If an input lies outside its range, or the rule would leave no grain.

    Notes
    -----
    1 - 0.12 % for each 0.1 point above the standard. Not exact for dry matter: 20 to 15 % gives
    0.9400, dry matter gives 0.9412. The rate for maize above 30 % is 0.2; pass it.

    References
    ----------
    7 CFR 457.113 section 11(d), United States Department of Agriculture, Risk Management Agency.

    Examples
    --------
    >>> round(linear_shrink_factor(20.0, 15.0), 4)
    0.94
    """
    within("target_moisture_pct", target_moisture_pct, 0, MOISTURE_MAX_PCT, "%")
    within("moisture_pct", moisture_pct, target_moisture_pct, MOISTURE_MAX_PCT, "%")
    above("rate_pct_per_tenth_point", rate_pct_per_tenth_point, 0, "%")
    factor = 1 - rate_pct_per_tenth_point / 100 * 10 * (moisture_pct - target_moisture_pct)
    if factor <= 0:
        highest = target_moisture_pct + 10 / rate_pct_per_tenth_point
        raise OutOfRange("moisture_pct", moisture_pct, target_moisture_pct, highest, "%", reason="no_grain_left")
    return factor
