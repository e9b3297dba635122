"""Bulk density of grain by moisture.

Inside: the quadratic of the standard and the moisture at which it turns. Outside: its coefficients
(knowledge table), the test weight of a delivery.
"""

from service.domain.ranges import INF, above, within
from service.errors import OutOfRange


def bulk_density_kg_m3(moisture_pct: float, a: float, b: float, c: float) -> float:
    """Bulk density of loose grain at a moisture.

    Parameters
    ----------
    moisture_pct : float
        Grain moisture, wet basis, 0 to where the curve turns. [%]
    a : float
        Density at no moisture, above 0. [kg/m3]
    b : float
        Fall with moisture as a decimal, 0 or more. [kg/m3]
    c : float
        Bend, any number. [kg/m3]

    Returns
    -------
    float
        Bulk density. [kg/m3]

    Raises
    ------
    OutOfRange
        If an input lies outside its range, or the moisture beyond the turn (reason `beyond_turn`).

    Notes
    -----
    rho = a - b M + c M^2 with M as a decimal. Loose fill in a laboratory.

    References
    ----------
    ASAE D241.4, Density, specific gravity and mass-moisture relationships of grain for storage.

    Examples
    --------
    Maize of 15.5 %:

    >>> round(bulk_density_kg_m3(15.5, 1086.3, 2971, 4810), 1)
    741.4
    """
    above("a", a, 0, "kg/m3")
    within("moisture_pct", moisture_pct, 0, 100, "%")
    turn = lightest_moisture_pct(b, c)
    if moisture_pct > turn:
        raise OutOfRange("moisture_pct", moisture_pct, 0, turn, "%", reason="beyond_turn")
    share = moisture_pct / 100
    density = a - b * share + c * share**2
    above("bulk_density_kg_m3", density, 0, "kg/m3")
    return density


def lightest_moisture_pct(b: float, c: float) -> float:
    """Moisture at which the curve of bulk density turns.

    Parameters
    ----------
    b : float
        Fall with moisture as a decimal, 0 or more. [kg/m3]
    c : float
        Bend, any number. [kg/m3]

    Returns
    -------
    float
        Moisture of the least density, 100 where there is no turn. [%]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    100 b / (2 c). Beyond it the fitted curve rises again, which grain does not.

    References
    ----------
    Least point of a parabola.

    Examples
    --------
    >>> round(lightest_moisture_pct(2971, 4810), 1)
    30.9
    """
    within("b", b, 0, INF, "kg/m3")
    within("c", c, -INF, INF, "kg/m3")
    return min(100.0, 100 * b / (2 * c)) if c > 0 else 100.0
