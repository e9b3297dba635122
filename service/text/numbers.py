"""Numbers and units as a reader writes them.

Inside: decimal sign and grouping of a language, the label of each unit, conversion to the reader's
unit system on the way out. Outside: exact factors and decimals (`units`), sentences (`catalogue`).
"""

import re
from typing import Final, Literal

from babel.numbers import format_decimal

from service.domain.types import Quantity
from service.units import DECIMALS, UnitSystem, convert, served, shown_grain

Language = Literal["en", "de"]

# UCUM code -> label; one text where the languages agree
_LABELS: Final[dict[str, str | dict[Language, str]]] = {
    "1": "",
    "%": "%",
    "m": "m",
    "km": "km",
    "[mi_i]": {"en": "mi", "de": "Meilen"},
    "cm": "cm",
    "mm": "mm",
    "[in_i]": {"en": "in", "de": "Zoll"},
    "[ft_i]": {"en": "ft", "de": "Fuß"},
    "m2": "m²",
    "[sft_i]": {"en": "ft²", "de": "Quadratfuß"},
    "har": "ha",
    "[acr_us]": {"en": "ac", "de": "acre"},
    "L": "L",
    "m3": "m³",
    "[gal_us]": {"en": "gal", "de": "US-Gallonen"},
    "[bu_us]": {"en": "bu", "de": "Bushel"},
    "[bu_us]/h": {"en": "bu/h", "de": "Bushel/h"},
    "L/s": "L/s",
    "[gal_us]/min": {"en": "gal/min", "de": "US-Gallonen/min"},
    "L/h": "L/h",
    "[gal_us]/h": {"en": "gal/h", "de": "US-Gallonen/h"},
    "L/har": "L/ha",
    "[gal_us]/[acr_us]": {"en": "gal/ac", "de": "US-Gallonen/acre"},
    "L/(kW.h)": "L/kWh",
    "g": "g",
    "kg": "kg",
    "t": "t",
    "[lb_av]": "lb",
    "s": "s",
    "min": "min",
    "h": "h",
    "m/s": "m/s",
    "km/h": "km/h",
    "[mi_i]/h": "mph",
    "[ft_i]/min": {"en": "ft/min", "de": "Fuß/min"},
    "{rev}/min": {"en": "rpm", "de": "U/min"},
    "kg/m3": "kg/m³",
    "kg/hL": "kg/hl",
    "[lb_av]/[bu_us]": {"en": "lb/bu", "de": "lb/Bushel"},
    "t/har": "t/ha",
    "kg/har": "kg/ha",
    "g/m2": "g/m²",
    "[lb_av]/[acr_us]": {"en": "lb/ac", "de": "lb/acre"},
    "[bu_us]/[acr_us]": {"en": "bu/ac", "de": "Bushel/acre"},
    "{kernel}/m2": {"en": "kernels/m²", "de": "Körner/m²"},
    "{kernel}/[sft_i]": {"en": "kernels/ft²", "de": "Körner/Quadratfuß"},
    "t/h": "t/h",
    "kg/s": "kg/s",
    "[lb_av]/h": "lb/h",
    "g/s": "g/s",
    "[lb_av]/min": "lb/min",
    "{kernel}/s": {"en": "kernels/s", "de": "Körner/s"},
    "har/h": "ha/h",
    "[acr_us]/h": {"en": "ac/h", "de": "acre/h"},
    "kW": "kW",
    "[HP]": {"en": "hp", "de": "hp"},
    "kW.h/t": "kWh/t",
    "t/(h.m2)": "t/(h·m²)",
    "deg": "°",
    "[ston_av]": {"en": "short tons", "de": "Short Tons"},
    "d": {"en": "days", "de": "Tage"},
    "1/h": {"en": "per hour", "de": "je Stunde"},
    "1/d": {"en": "per day", "de": "je Tag"},
    "%/d": {"en": "% a day", "de": "% je Tag"},
    "kg/t": "kg/t",
    "[lb_av]/[ston_av]": {"en": "lb/short ton", "de": "lb/Short Ton"},
    "L/t": "L/t",
    "[gal_us]/[ston_av]": {"en": "gal/short ton", "de": "US-Gallonen/Short Ton"},
    "MJ/kg": "MJ/kg",
    "[Btu_IT]/[lb_av]": "Btu/lb",
    "MJ/L": "MJ/L",
    "m2/kg": "m²/kg",
    "Cel": "°C",
    "[degF]": "°F",
    "kg/(s.m)": "kg/(s·m)",
    "[lb_av]/(s.[ft_i])": {"en": "lb/(s·ft)", "de": "lb/(s·Fuß)"},
}

# a driver tells a short way in the smaller unit: below this much of the first, in whole ones of the second
_SHORT: Final = {"km": "m", "[mi_i]": "[ft_i]"}
_SHORT_BELOW: Final = 0.1

# UCUM has no currencies: an amount of money stands in braces, as a count
_MONEY: Final = re.compile(r"\{(?P<currency>[A-Z]{3}|money)\}/(?P<per>har|\[acr_us\]|h)")


def unit_label(unit: str, lang: Language) -> str:
    """Return the label of a UCUM code: `{rev}/min` is rpm in English, U/min in German; `{EUR}/har` is EUR/ha."""
    if money := _MONEY.fullmatch(unit):
        return f"{money['currency']}/{unit_label(money['per'], lang)}"
    label = _LABELS[unit]
    return label if isinstance(label, str) else label[lang]


_THREE_DIGITS: Final = 100
_FOUR_DIGITS: Final = 1000


def decimal(value: float, lang: Language, places: int | None = None) -> str:
    """Write a number with the language's decimal sign.

    With `places` the decimals are fixed; without, up to three are shown and trailing zeros dropped.
    """
    pattern = "#,##0.###" if places is None else "#,##0" + ("." + "0" * places if places else "")
    return str(format_decimal(value + 0.0, format=pattern, locale=lang))


def quantity(amount: Quantity, lang: Language, units: UnitSystem) -> str:
    """Write a quantity in the reader's units: 25 mm is `0.984 in` for a reader in the United States.

    A way of less than a tenth of a kilometre or mile is told in metres or feet.
    """
    value, unit = shown_grain(amount.value, amount.unit, units, amount.bushel_lb)
    if unit in _SHORT and 0 < abs(value) < _SHORT_BELOW:
        value, unit = round(convert(value, unit, _SHORT[unit])), _SHORT[unit]
    if unit in DECIMALS:
        value = served(value, unit)
    if unit != amount.unit:  # conversion makes no figure more exact
        value = round(value, 0 if abs(value) >= _FOUR_DIGITS else 1 if abs(value) >= _THREE_DIGITS else 3)
    number = decimal(value, lang)
    label = unit_label(unit, lang)
    return number + label if label in ("", "°") else f"{number} {label}"
