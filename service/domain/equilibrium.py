"""Equilibrium of grain with the air: by form name, on the wet basis; humidity from the dew point.

Inside: the dispatcher over the forms of `sorption.py`, saturation pressure, relative humidity.
Outside: the equations themselves, coefficient sets (the knowledge table), how fast grain follows
the air.

Show results to half a point: sets of one crop differ by a point or more.
"""

import math
from collections.abc import Callable
from typing import Final, Literal, get_args

from service.domain import sorption
from service.domain.moisture import dry_basis_pct, wet_basis_pct
from service.domain.ranges import within
from service.errors import UnknownName

Form = Literal["henderson", "chung_pfost", "halsey", "oswin"]
FORMS: Final[tuple[str, ...]] = get_args(Form)

_TO_MOISTURE: Final[dict[str, Callable[[float, float, float, float, float], float]]] = {
    "henderson": sorption.henderson_moisture_db_pct,
    "chung_pfost": sorption.chung_pfost_moisture_db_pct,
    "halsey": sorption.halsey_moisture_db_pct,
    "oswin": sorption.oswin_moisture_db_pct,
}
_TO_HUMIDITY: Final[dict[str, Callable[[float, float, float, float, float], float]]] = {
    "henderson": sorption.henderson_relative_humidity_pct,
    "chung_pfost": sorption.chung_pfost_relative_humidity_pct,
    "halsey": sorption.halsey_relative_humidity_pct,
    "oswin": sorption.oswin_relative_humidity_pct,
}


def equilibrium_moisture_wb_pct(
    form: str, relative_humidity_pct: float, temperature_c: float, *, A: float, B: float, C: float
) -> float:
    """Equilibrium moisture on the wet basis, after the named form.

    Parameters
    ----------
    form : str
        One of `FORMS`.
    relative_humidity_pct : float
        Relative humidity, 10 to 95. [%]
    temperature_c : float
        Temperature of air and grain, -10 to 65. [Cel]
    A, B, C : float
        Coefficients of the set. [of the form]

    Returns
    -------
    float
        Moisture, wet basis. [%]

    Raises
    ------
    UnknownName
        If there is no such form.
    OutOfRange
        If an input lies outside the range of the form.

    Notes
    -----
    Grain that dries comes to rest about 0.5 to 1.5 points above grain that takes up water; the sets
    do not tell the two apart.

    References
    ----------
    ASAE D245, Moisture Relationships of Plant-based Agricultural Products.

    Examples
    --------
    >>> round(equilibrium_moisture_wb_pct("halsey", 50, 21.11, A=2.87, B=-0.0054, C=1.38), 1)
    8.8
    """
    if form not in _TO_MOISTURE:
        raise UnknownName("form", form, FORMS)
    return wet_basis_pct(_TO_MOISTURE[form](relative_humidity_pct, temperature_c, A, B, C))


def equilibrium_relative_humidity_pct(
    form: str, moisture_pct: float, temperature_c: float, *, A: float, B: float, C: float
) -> float:
    """Relative humidity in equilibrium with grain, after the named form.

    Parameters
    ----------
    form : str
        One of `FORMS`.
    moisture_pct : float
        Moisture, wet basis, above 0. [%]
    temperature_c : float
        Temperature of air and grain, -10 to 65. [Cel]
    A, B, C : float
        Coefficients of the set. [of the form]

    Returns
    -------
    float
        Relative humidity, 10 to 95. [%]

    Raises
    ------
    UnknownName
        If there is no such form.
    OutOfRange
        If an input lies outside the range of the form, or the humidity comes out below 10 or above
        95 %.

    Notes
    -----
    The inverse of `equilibrium_moisture_wb_pct`.

    References
    ----------
    ASAE D245, Moisture Relationships of Plant-based Agricultural Products.

    Examples
    --------
    >>> round(equilibrium_relative_humidity_pct("halsey", 8.77, 21.11, A=2.87, B=-0.0054, C=1.38))
    50
    """
    if form not in _TO_HUMIDITY:
        raise UnknownName("form", form, FORMS)
    return _TO_HUMIDITY[form](dry_basis_pct(moisture_pct), temperature_c, A, B, C)


def saturation_pressure_kpa(temperature_c: float) -> float:
    """Saturation pressure of water vapour over water.

    Parameters
    ----------
    temperature_c : float
        Temperature, -20 to 65. [Cel]

    Returns
    -------
    float
        Saturation pressure. [kPa]

    Raises
    ------
    OutOfRange
        If the input lies outside its range.

    Notes
    -----
    0.6108 exp[17.27 T / (T + 237.3)]. Below zero this is the pressure over undercooled water.

    References
    ----------
    Tetens, as equation 11 of Allen, R. G. et al., Crop evapotranspiration, FAO Irrigation and
    Drainage Paper 56, 1998.

    Examples
    --------
    Printed as 3.168 kPa in FAO 56, example 5:

    >>> round(saturation_pressure_kpa(25.0), 3)
    3.168
    """
    within("temperature_c", temperature_c, -20, 65, "Cel")
    return 0.6108 * math.exp(17.27 * temperature_c / (temperature_c + 237.3))


def relative_humidity_from_dew_point_pct(temperature_c: float, dew_point_c: float) -> float:
    """Relative humidity from air temperature and dew point.

    Parameters
    ----------
    temperature_c : float
        Temperature of the air, -20 to 65. [Cel]
    dew_point_c : float
        Dew point, -20 up to the temperature. [Cel]

    Returns
    -------
    float
        Relative humidity, up to 100. [%]

    Raises
    ------
    OutOfRange
        If an input lies outside its range, or the dew point above the temperature.

    Notes
    -----
    Ratio of the saturation pressures at the dew point and at the temperature.

    References
    ----------
    Definition of the dew point; Tetens as in FAO Irrigation and Drainage Paper 56, 1998.

    Examples
    --------
    >>> relative_humidity_from_dew_point_pct(20.0, 20.0)
    100.0
    """
    within("temperature_c", temperature_c, -20, 65, "Cel")
    within("dew_point_c", dew_point_c, -20, temperature_c, "Cel")
    # the ratio first: exactly 1 where the dew point is the temperature
    return 100 * (saturation_pressure_kpa(dew_point_c) / saturation_pressure_kpa(temperature_c))
