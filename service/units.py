"""Unit codes (UCUM) and exact conversions.

Inside: every factor between units, what a metric unit becomes for a United States reader, and how
many decimals a unit is served with. Outside: what a quantity means, texts, rounding for print.

The factors are exact rationals; tests compare them with an independent UCUM parser.
"""

from fractions import Fraction
from typing import Final, Literal

from service.errors import OutOfRange, UnknownName

UnitSystem = Literal["metric", "us"]

_FOOT: Final = Fraction(3048, 10000)
_INCH: Final = Fraction(254, 10000)
_MILE: Final = Fraction(1609344, 1000)
_POUND: Final = Fraction(45359237, 100000000)
_SURVEY_FOOT: Final = Fraction(1200, 3937)
_ACRE: Final = 43560 * _SURVEY_FOOT**2
_HECTARE: Final = Fraction(10000)
_GALLON: Final = Fraction(231) * _INCH**3
_BUSHEL: Final = Fraction(215042, 100) * _INCH**3

# code -> (dimension, factor to the coherent SI unit of that dimension)
UNITS: Final[dict[str, tuple[str, Fraction]]] = {
    "1": ("number", Fraction(1)),
    "%": ("number", Fraction(1, 100)),
    "m": ("length", Fraction(1)),
    "km": ("length", Fraction(1000)),
    "[mi_i]": ("length", _MILE),
    "cm": ("length", Fraction(1, 100)),
    "mm": ("length", Fraction(1, 1000)),
    "[in_i]": ("length", _INCH),
    "[ft_i]": ("length", _FOOT),
    "m2": ("area", Fraction(1)),
    "[sft_i]": ("area", _FOOT**2),
    "har": ("area", _HECTARE),
    "[acr_us]": ("area", _ACRE),
    "L": ("volume", Fraction(1, 1000)),
    "m3": ("volume", Fraction(1)),
    "[gal_us]": ("volume", _GALLON),
    "[bu_us]": ("volume", _BUSHEL),
    "L/s": ("volume rate", Fraction(1, 1000)),
    "[gal_us]/min": ("volume rate", _GALLON / 60),
    "L/h": ("volume rate", Fraction(1, 3600000)),
    "[gal_us]/h": ("volume rate", _GALLON / 3600),
    "[bu_us]/h": ("volume rate", _BUSHEL / 3600),
    "L/har": ("volume per area", Fraction(1, 1000) / _HECTARE),
    "[gal_us]/[acr_us]": ("volume per area", _GALLON / _ACRE),
    "L/(kW.h)": ("volume per energy", Fraction(1, 1000) / 3600000),
    "g": ("mass", Fraction(1, 1000)),
    "kg": ("mass", Fraction(1)),
    "t": ("mass", Fraction(1000)),
    "[lb_av]": ("mass", _POUND),
    "s": ("time", Fraction(1)),
    "min": ("time", Fraction(60)),
    "h": ("time", Fraction(3600)),
    "m/s": ("speed", Fraction(1)),
    "km/h": ("speed", Fraction(1000, 3600)),
    "[mi_i]/h": ("speed", _MILE / 3600),
    "[ft_i]/min": ("speed", _FOOT / 60),
    "{rev}/min": ("rotation", Fraction(1, 60)),
    "kg/m3": ("density", Fraction(1)),
    "kg/hL": ("density", Fraction(10)),
    "[lb_av]/[bu_us]": ("density", _POUND / _BUSHEL),
    "t/har": ("mass per area", 1000 / _HECTARE),
    "kg/har": ("mass per area", 1 / _HECTARE),
    "g/m2": ("mass per area", Fraction(1, 1000)),
    "[lb_av]/[acr_us]": ("mass per area", _POUND / _ACRE),
    "{kernel}/m2": ("number per area", Fraction(1)),
    "{kernel}/[sft_i]": ("number per area", 1 / _FOOT**2),
    "t/h": ("mass rate", Fraction(1000, 3600)),
    "kg/s": ("mass rate", Fraction(1)),
    "[lb_av]/h": ("mass rate", _POUND / 3600),
    "g/s": ("mass rate", Fraction(1, 1000)),
    "[lb_av]/min": ("mass rate", _POUND / 60),
    "{kernel}/s": ("number rate", Fraction(1)),
    "har/h": ("area rate", _HECTARE / 3600),
    "[acr_us]/h": ("area rate", _ACRE / 3600),
    "kW": ("power", Fraction(1000)),
    "[HP]": ("power", Fraction(550) * _FOOT * _POUND * Fraction(980665, 100000)),
    "kW.h/t": ("specific energy", Fraction(3600)),
    "t/(h.m2)": ("mass rate per area", Fraction(1000, 3600)),
    "kg/(s.m)": ("mass rate per length", Fraction(1)),
    "[lb_av]/(s.[ft_i])": ("mass rate per length", _POUND / _FOOT),
    "deg": ("angle", Fraction(1)),
    "[ston_av]": ("mass", 2000 * _POUND),
    "d": ("time", Fraction(86400)),
    "1/h": ("frequency", Fraction(1, 3600)),
    "1/d": ("frequency", Fraction(1, 86400)),
    "%/d": ("frequency", Fraction(1, 8640000)),
    "kg/t": ("number", Fraction(1, 1000)),
    "[lb_av]/[ston_av]": ("number", Fraction(1, 2000)),
    "L/t": ("volume per mass", Fraction(1, 1000000)),
    "[gal_us]/[ston_av]": ("volume per mass", _GALLON / (2000 * _POUND)),
    "MJ/kg": ("specific energy", Fraction(1000000)),
    "[Btu_IT]/[lb_av]": ("specific energy", Fraction(105505585262, 100000000) / _POUND),
    "MJ/L": ("energy per volume", Fraction(1000000000)),
    "m2/kg": ("area per mass", Fraction(1)),
    "Cel": ("temperature", Fraction(1)),
    "[degF]": ("temperature", Fraction(5, 9)),
}

# what a unit counts from, in its own steps above absolute zero; temperatures only, never their differences
_ZERO: Final[dict[str, Fraction]] = {"Cel": Fraction(27315, 100), "[degF]": Fraction(45967, 100)}

# what a reader in the United States gets instead of the metric unit
TO_US: Final[dict[str, str]] = {
    "m": "[ft_i]",
    "km": "[mi_i]",
    "cm": "[in_i]",
    "mm": "[in_i]",
    "m2": "[sft_i]",
    "har": "[acr_us]",
    "L": "[gal_us]",
    "L/s": "[gal_us]/min",
    "L/h": "[gal_us]/h",
    "L/har": "[gal_us]/[acr_us]",
    "kg": "[lb_av]",
    "t": "[lb_av]",
    "m/s": "[ft_i]/min",
    "km/h": "[mi_i]/h",
    "kg/hL": "[lb_av]/[bu_us]",
    "t/har": "[lb_av]/[acr_us]",
    "kg/har": "[lb_av]/[acr_us]",
    "{kernel}/m2": "{kernel}/[sft_i]",
    "t/h": "[lb_av]/h",
    "g/s": "[lb_av]/min",
    "har/h": "[acr_us]/h",
    "kW": "[HP]",
    "kg/t": "[lb_av]/[ston_av]",
    "L/t": "[gal_us]/[ston_av]",
    "Cel": "[degF]",
    "kg/(s.m)": "[lb_av]/(s.[ft_i])",
}

# decimals that a value is served with; contributions use the same, so that they add up as printed
DECIMALS: Final[dict[str, int]] = {
    "1": 2,
    "%": 2,
    "m": 2,
    "cm": 0,
    "km": 2,
    "[mi_i]": 2,
    "mm": 1,
    "[in_i]": 2,
    "[ft_i]": 2,
    "m2": 2,
    "[sft_i]": 2,
    "har": 2,
    "[acr_us]": 2,
    "L": 0,
    "m3": 2,
    "[bu_us]": 1,
    "[bu_us]/h": 0,
    "[gal_us]": 0,
    "L/s": 1,
    "[gal_us]/min": 0,
    "L/h": 1,
    "[gal_us]/h": 2,
    "L/har": 1,
    "L/(kW.h)": 3,
    "[gal_us]/[acr_us]": 2,
    "g": 2,
    "kg": 1,
    "t": 2,
    "[lb_av]": 1,
    "s": 1,
    "min": 1,
    "h": 2,
    "m/s": 1,
    "km/h": 1,
    "[mi_i]/h": 1,
    "[ft_i]/min": 0,
    "{rev}/min": 0,
    "kg/m3": 0,
    "kg/hL": 1,
    "[lb_av]/[bu_us]": 1,
    "t/har": 2,
    "kg/har": 2,
    "g/m2": 2,
    "[lb_av]/[acr_us]": 2,
    "[bu_us]/[acr_us]": 2,
    "{kernel}/m2": 2,
    "{kernel}/[sft_i]": 2,
    "t/h": 1,
    "kg/s": 2,
    "[lb_av]/h": 0,
    "g/s": 2,
    "[lb_av]/min": 3,
    "{kernel}/s": 1,
    "har/h": 2,
    "[acr_us]/h": 2,
    "kW": 1,
    "[HP]": 1,
    "kW.h/t": 1,
    "t/(h.m2)": 1,
    "deg": 1,
    "[ston_av]": 2,
    "d": 1,
    "1/h": 4,
    "1/d": 3,
    "%/d": 2,
    "kg/t": 1,
    "[lb_av]/[ston_av]": 1,
    "L/t": 2,
    "[gal_us]/[ston_av]": 2,
    "MJ/kg": 2,
    "MJ/L": 1,
    "[Btu_IT]/[lb_av]": 0,
    "m2/kg": 2,
    "Cel": 1,
    "[degF]": 1,
    "kg/(s.m)": 2,
    "[lb_av]/(s.[ft_i])": 2,
}


def dimension(unit: str) -> str:
    """Return the kind of quantity that a unit code measures.

    Raises
    ------
    UnknownName
        If the code is not in the table.
    """
    try:
        return UNITS[unit][0]
    except KeyError:
        raise UnknownName("unit", unit, sorted(UNITS)) from None


def convert(value: float, unit: str, to: str) -> float:
    """Convert a value between two units of the same dimension.

    Parameters
    ----------
    value : float
        Any finite number. [unit]
    unit, to : str
        UCUM codes of this module.

    Raises
    ------
    UnknownName
        If a code is not in the table.
    OutOfRange
        If the two units do not measure the same thing.
    """
    if dimension(unit) != dimension(to):
        raise OutOfRange("unit", to, reason=f"{unit} measures {dimension(unit)}, {to} measures {dimension(to)}")
    if unit == to:
        return value
    factor = UNITS[unit][1] / UNITS[to][1]
    if unit in _ZERO:
        shift = _ZERO[unit] * factor - _ZERO[to]
        # one division at the end, so that 25 Cel is 77 [degF] to the last digit
        return (value * factor.numerator * shift.denominator + shift.numerator * factor.denominator) / (
            factor.denominator * shift.denominator
        )
    return value * factor.numerator / factor.denominator


def shown_unit(unit: str, system: UnitSystem) -> str:
    """Return the unit that a reader of this unit system gets for a metric one."""
    return TO_US.get(unit, unit) if system == "us" else unit


def served(value: float, unit: str) -> float:
    """Round to the decimals that values in this unit are served with; never gives minus zero."""
    return round(value, DECIMALS[unit]) + 0.0


def shown_grain(value: float, unit: str, system: UnitSystem, bushel_lb: float | None = None) -> tuple[float, str]:
    """Return a value and its unit as a reader of this unit system gets them, not rounded.

    A mass of grain or per hour, in tonnes, is counted in bushels in the United States where `bushel_lb` tells
    the legal mass of one.
    """
    shown = shown_unit(unit, system)
    bushels = {"t": "[bu_us]", "t/h": "[bu_us]/h"}.get(unit)
    if system == "us" and bushel_lb is not None and bushels is not None:
        return convert(value, unit, shown) / bushel_lb, bushels
    return convert(value, unit, shown), shown


def bushels_per_acre(mass_kg_ha: float, bushel_lb: float) -> float:
    """Mass per area as bushels per acre, with the crop's legal bushel mass in pounds."""
    return convert(mass_kg_ha, "kg/har", "[lb_av]/[acr_us]") / bushel_lb


def mass_kg_ha(bushels_ac: float, bushel_lb: float) -> float:
    """Bushels per acre as kilograms per hectare, with the crop's legal bushel mass in pounds."""
    return convert(bushels_ac * bushel_lb, "[lb_av]/[acr_us]", "kg/har")
