"""The four forms that tie grain moisture, air humidity and temperature together.

Inside: modified Henderson, Chung-Pfost, Halsey and Oswin equations, moisture from humidity and
humidity from moisture. Outside: choice by name and the wet basis (`equilibrium.py`), coefficient
sets (the knowledge table).

Moisture is on the dry basis, percent, as the standard writes it.
"""

import math
from typing import Final

from service.domain.ranges import above, within
from service.errors import OutOfRange

# every form breaks down towards dry and saturated air
HUMIDITY_MIN_PCT: Final = 10.0
HUMIDITY_MAX_PCT: Final = 95.0
TEMPERATURE_MIN_C: Final = -10.0
TEMPERATURE_MAX_C: Final = 65.0


def henderson_moisture_db_pct(
    relative_humidity_pct: float, temperature_c: float, A: float, B: float, C: float
) -> float:
    """Equilibrium moisture after the modified Henderson equation.

    Parameters
    ----------
    relative_humidity_pct : float
        Relative humidity, 10 to 95. [%]
    temperature_c : float
        Temperature of air and grain, -10 to 65, and above -C. [Cel]
    A, B, C : float
        Coefficients of the set, A above 0, B 0.1 to 20. [of the form]

    Returns
    -------
    float
        Moisture, dry basis. [%]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    M = [-ln(1 - RH) / (A (T + C))]^(1/B), M in percent of dry matter.

    References
    ----------
    ASAE D245, Moisture Relationships of Plant-based Agricultural Products. Form read in a public
    transcription.

    Examples
    --------
    Maize at 70 degrees Fahrenheit and 30 %, printed as 8.7 % wet basis:

    >>> round(henderson_moisture_db_pct(30, 21.1, 6.6612e-5, 1.9677, 42.143), 1)
    9.5
    """
    humidity = _humidity(relative_humidity_pct)
    warmth = _warmth(temperature_c, C)
    above("A", A, 0, "1")
    _exponent("B", B)
    return float((-math.log(1 - humidity) / (A * warmth)) ** (1 / B))


def henderson_relative_humidity_pct(
    moisture_db_pct: float, temperature_c: float, A: float, B: float, C: float
) -> float:
    """Relative humidity in equilibrium with grain after the modified Henderson equation.

    Parameters
    ----------
    moisture_db_pct : float
        Moisture, dry basis, above 0 to 1900. [%]
    temperature_c : float
        Temperature of air and grain, -10 to 65, and above -C. [Cel]
    A, B, C : float
        Coefficients of the set, A above 0, B 0.1 to 20. [of the form]

    Returns
    -------
    float
        Relative humidity, 10 to 95. [%]

    Raises
    ------
    OutOfRange
        If an input lies outside its range, or the humidity comes out below 10 or above 95 %.

    Notes
    -----
    RH = 1 - exp(-A (T + C) M^B).

    References
    ----------
    ASAE D245, Moisture Relationships of Plant-based Agricultural Products. Form read in a public
    transcription.

    Examples
    --------
    >>> round(henderson_relative_humidity_pct(9.53, 21.1, 6.6612e-5, 1.9677, 42.143))
    30
    """
    _moisture(moisture_db_pct)
    warmth = _warmth(temperature_c, C)
    above("A", A, 0, "1")
    _exponent("B", B)
    return _as_percent(1 - math.exp(-A * warmth * moisture_db_pct**B), moisture_db_pct)


def chung_pfost_moisture_db_pct(
    relative_humidity_pct: float, temperature_c: float, A: float, B: float, C: float
) -> float:
    """Equilibrium moisture after the modified Chung-Pfost equation.

    Parameters
    ----------
    relative_humidity_pct : float
        Relative humidity, 10 to 95. [%]
    temperature_c : float
        Temperature of air and grain, -10 to 65, and above -C. [Cel]
    A, B, C : float
        Coefficients of the set, A and B above 0; B for moisture in percent. [of the form]

    Returns
    -------
    float
        Moisture, dry basis. [%]

    Raises
    ------
    OutOfRange
        If an input lies outside its range, or the moisture comes out negative, as it does for some
        sets in dry air.

    Notes
    -----
    M = (1/B) ln[A / ((T + C)(-ln RH))]. Some books print B for moisture as a decimal, a hundred
    times larger.

    References
    ----------
    ASAE D245, Moisture Relationships of Plant-based Agricultural Products. Form read in a public
    transcription.

    Examples
    --------
    Maize at 60 degrees Fahrenheit and 80 %, printed as 16.06 % wet basis:

    >>> round(chung_pfost_moisture_db_pct(80, 15.56, 374.34, 0.18662, 31.696), 2)
    19.13
    """
    humidity = _humidity(relative_humidity_pct)
    warmth = _warmth(temperature_c, C)
    above("A", A, 0, "1")
    above("B", B, 0, "1")
    moisture_db_pct = math.log(A / (warmth * -math.log(humidity))) / B
    if moisture_db_pct <= 0:
        raise OutOfRange("relative_humidity_pct", relative_humidity_pct, unit="%", reason="outside_the_form")
    return moisture_db_pct


def chung_pfost_relative_humidity_pct(
    moisture_db_pct: float, temperature_c: float, A: float, B: float, C: float
) -> float:
    """Relative humidity in equilibrium with grain after the modified Chung-Pfost equation.

    Parameters
    ----------
    moisture_db_pct : float
        Moisture, dry basis, above 0 to 1900. [%]
    temperature_c : float
        Temperature of air and grain, -10 to 65, and above -C. [Cel]
    A, B, C : float
        Coefficients of the set, A and B above 0; B for moisture in percent. [of the form]

    Returns
    -------
    float
        Relative humidity, 10 to 95. [%]

    Raises
    ------
    OutOfRange
        If an input lies outside its range, or the humidity comes out below 10 or above 95 %.

    Notes
    -----
    RH = exp[-A/(T + C) exp(-B M)].

    References
    ----------
    ASAE D245, Moisture Relationships of Plant-based Agricultural Products. Form read in a public
    transcription.

    Examples
    --------
    >>> round(chung_pfost_relative_humidity_pct(19.13, 15.56, 374.34, 0.18662, 31.696))
    80
    """
    _moisture(moisture_db_pct)
    warmth = _warmth(temperature_c, C)
    above("A", A, 0, "1")
    above("B", B, 0, "1")
    return _as_percent(math.exp(-A / warmth * math.exp(-B * moisture_db_pct)), moisture_db_pct)


def halsey_moisture_db_pct(relative_humidity_pct: float, temperature_c: float, A: float, B: float, C: float) -> float:
    """Equilibrium moisture after the modified Halsey equation.

    Parameters
    ----------
    relative_humidity_pct : float
        Relative humidity, 10 to 95. [%]
    temperature_c : float
        Temperature of air and grain, -10 to 65. [Cel]
    A, B, C : float
        Coefficients of the set, C 0.1 to 20. [of the form]

    Returns
    -------
    float
        Moisture, dry basis. [%]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    M = [exp(A + B T) / (-ln RH)]^(1/C). The best of the forms for oilseeds.

    References
    ----------
    ASAE D245, Moisture Relationships of Plant-based Agricultural Products. Form read in a public
    transcription.

    Examples
    --------
    Soybean at 60 degrees Fahrenheit and 80 %, printed as 18.25 % wet basis:

    >>> round(halsey_moisture_db_pct(80, 15.56, 2.87, -0.0054, 1.38), 2)
    22.33
    """
    humidity = _humidity(relative_humidity_pct)
    _temperature(temperature_c)
    _exponent("C", C)
    return float((_exp(A + B * temperature_c) / -math.log(humidity)) ** (1 / C))


def halsey_relative_humidity_pct(moisture_db_pct: float, temperature_c: float, A: float, B: float, C: float) -> float:
    """Relative humidity in equilibrium with grain after the modified Halsey equation.

    Parameters
    ----------
    moisture_db_pct : float
        Moisture, dry basis, above 0 to 1900. [%]
    temperature_c : float
        Temperature of air and grain, -10 to 65. [Cel]
    A, B, C : float
        Coefficients of the set, C 0.1 to 20. [of the form]

    Returns
    -------
    float
        Relative humidity, 10 to 95. [%]

    Raises
    ------
    OutOfRange
        If an input lies outside its range, or the humidity comes out below 10 or above 95 %.

    Notes
    -----
    RH = exp[-exp(A + B T) / M^C].

    References
    ----------
    ASAE D245, Moisture Relationships of Plant-based Agricultural Products. Form read in a public
    transcription.

    Examples
    --------
    >>> round(halsey_relative_humidity_pct(22.32, 15.56, 2.87, -0.0054, 1.38))
    80
    """
    _moisture(moisture_db_pct)
    _temperature(temperature_c)
    _exponent("C", C)
    return _as_percent(math.exp(-_exp(A + B * temperature_c) / moisture_db_pct**C), moisture_db_pct)


def oswin_moisture_db_pct(relative_humidity_pct: float, temperature_c: float, A: float, B: float, C: float) -> float:
    """Equilibrium moisture after the modified Oswin equation.

    Parameters
    ----------
    relative_humidity_pct : float
        Relative humidity, 10 to 95. [%]
    temperature_c : float
        Temperature of air and grain, -10 to 65, with A + B T above 0. [Cel]
    A, B, C : float
        Coefficients of the set, C 0.1 to 20. [of the form]

    Returns
    -------
    float
        Moisture, dry basis. [%]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    M = (A + B T) [RH / (1 - RH)]^(1/C).

    References
    ----------
    ASAE D245, Moisture Relationships of Plant-based Agricultural Products. Form read in a public
    transcription.

    Examples
    --------
    Durum wheat at 70 degrees Fahrenheit and 30 %, printed as 8.3 % wet basis:

    >>> round(oswin_moisture_db_pct(30, 21.1, 13.101, -0.052626, 2.9987), 1)
    9.0
    """
    humidity = _humidity(relative_humidity_pct)
    middle = _oswin_middle(temperature_c, A, B)
    _exponent("C", C)
    return float(middle * (humidity / (1 - humidity)) ** (1 / C))


def oswin_relative_humidity_pct(moisture_db_pct: float, temperature_c: float, A: float, B: float, C: float) -> float:
    """Relative humidity in equilibrium with grain after the modified Oswin equation.

    Parameters
    ----------
    moisture_db_pct : float
        Moisture, dry basis, above 0 to 1900. [%]
    temperature_c : float
        Temperature of air and grain, -10 to 65, with A + B T above 0. [Cel]
    A, B, C : float
        Coefficients of the set, C 0.1 to 20. [of the form]

    Returns
    -------
    float
        Relative humidity, 10 to 95. [%]

    Raises
    ------
    OutOfRange
        If an input lies outside its range, or the humidity comes out below 10 or above 95 %.

    Notes
    -----
    RH = 1 / (1 + [(A + B T)/M]^C); the moisture form solved for the humidity.

    References
    ----------
    ASAE D245, Moisture Relationships of Plant-based Agricultural Products, solved for the humidity.

    Examples
    --------
    >>> round(oswin_relative_humidity_pct(9.04, 21.1, 13.101, -0.052626, 2.9987))
    30
    """
    _moisture(moisture_db_pct)
    middle = _oswin_middle(temperature_c, A, B)
    _exponent("C", C)
    return _as_percent(1 / (1 + (middle / moisture_db_pct) ** C), moisture_db_pct)


def _moisture(moisture_db_pct: float) -> None:
    above("moisture_db_pct", moisture_db_pct, 0, "%")
    within("moisture_db_pct", moisture_db_pct, 0, 1900, "%")


def _humidity(relative_humidity_pct: float) -> float:
    within("relative_humidity_pct", relative_humidity_pct, HUMIDITY_MIN_PCT, HUMIDITY_MAX_PCT, "%")
    return relative_humidity_pct / 100


def _temperature(temperature_c: float) -> None:
    within("temperature_c", temperature_c, TEMPERATURE_MIN_C, TEMPERATURE_MAX_C, "Cel")


def _warmth(temperature_c: float, C: float) -> float:
    _temperature(temperature_c)
    above("temperature_c", temperature_c, -C, "Cel")
    return temperature_c + C


def _oswin_middle(temperature_c: float, A: float, B: float) -> float:
    """Moisture at 50 % humidity."""
    _temperature(temperature_c)
    middle = A + B * temperature_c
    if not middle > 0:
        raise OutOfRange("temperature_c", temperature_c, unit="Cel", reason="outside_the_form")
    return middle


def _exponent(name: str, value: float) -> None:
    # published exponents lie between 1 and 4; the limits keep a wrong set from overflowing
    within(name, value, 0.1, 20, "1")


def _exp(exponent: float) -> float:
    within("A", exponent, -50, 50, "1")
    return math.exp(exponent)


def _as_percent(humidity: float, moisture_db_pct: float) -> float:
    percent = 100 * humidity
    if not HUMIDITY_MIN_PCT <= percent <= HUMIDITY_MAX_PCT:
        raise OutOfRange("moisture_db_pct", moisture_db_pct, unit="%", reason="outside_the_form")
    return percent
