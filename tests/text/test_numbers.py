"""Numbers and units as readers write them."""

import pytest

from service.domain.types import Quantity
from service.text import LANGUAGES, Language, decimal, quantity, unit_label
from service.units import DECIMALS, UNITS


@pytest.mark.parametrize("lang", LANGUAGES)
@pytest.mark.parametrize("unit", sorted({*UNITS, *DECIMALS}))
def test_every_unit_has_a_label_free_of_code_signs(unit: str, lang: Language) -> None:
    label = unit_label(unit, lang)
    assert not set("[]{}_") & set(label)
    assert label or unit == "1"


@pytest.mark.parametrize(
    ("value", "lang", "places", "written"),
    [
        (1234.5, "en", None, "1,234.5"),
        (1234.5, "de", None, "1.234,5"),
        (0.0, "en", None, "0"),
        (-0.0, "en", 1, "0.0"),
        (2.0, "de", 2, "2,00"),
        (2.5, "en", None, "2.5"),
        (12.34567, "en", None, "12.346"),
        (1200.0, "de", 0, "1.200"),
    ],
)
def test_decimal_follows_the_language(value: float, lang: Language, places: int | None, written: str) -> None:
    assert decimal(value, lang, places) == written


@pytest.mark.parametrize(
    ("amount", "lang", "units", "written"),
    [
        (Quantity(27.5, "m/s"), "en", "metric", "27.5 m/s"),
        (Quantity(27.5, "m/s"), "de", "metric", "27,5 m/s"),
        # below a tenth: 0.05 km, 160.9344 m are a tenth of a mile
        (Quantity(0.05, "km"), "de", "metric", "50 m"),
        (Quantity(0.1, "km"), "en", "metric", "0.1 km"),
        (Quantity(0.05, "km"), "en", "us", "164 ft"),
        (Quantity(0.05, "km"), "de", "us", "164 Fuß"),
        (Quantity(0.160934, "km"), "en", "us", "528 ft"),
        (Quantity(0.160935, "km"), "en", "us", "0.1 mi"),
        (Quantity(0.0, "km"), "en", "us", "0 mi"),
        # a legal bushel of wheat is 60 lb, 27.2155422 kg
        (Quantity(2.72155422, "t", 60.0), "en", "us", "100 bu"),
        (Quantity(2.72155422, "t", 60.0), "en", "metric", "2.72 t"),
        (Quantity(27.2155422, "t/h", 60.0), "de", "us", "1.000 Bushel/h"),
        (Quantity(0.45359237, "t"), "en", "us", "1,000 lb"),
        (Quantity(25.4, "mm"), "en", "us", "1 in"),  # the inch is 25.4 mm by definition
        (Quantity(25.4, "m/s"), "en", "us", "5,000 ft/min"),  # 0.3048 m x 5000 / 60 s
        (Quantity(850.0, "{rev}/min"), "de", "metric", "850 U/min"),
        (Quantity(850.0, "{rev}/min"), "en", "us", "850 rpm"),
        (Quantity(4.0, "deg"), "en", "metric", "4°"),
        (Quantity(1.05, "1"), "de", "metric", "1,05"),
        (Quantity(14.0, "%"), "en", "metric", "14 %"),
        (Quantity(0.0, "kg/har"), "en", "us", "0 lb/ac"),
        # a pound is 0.45359237 kg, an acre 0.40468564224 ha: 10,300 x 0.892179 = 9189.4; 100 m are 328.08 ft
        (Quantity(10_300.0, "kg/har"), "en", "us", "9,189 lb/ac"),
        (Quantity(100.0, "m"), "en", "us", "328.1 ft"),
        (Quantity(30.0, "m"), "en", "us", "98.43 ft"),
        (Quantity(1234.56, "m"), "en", "metric", "1,234.56 m"),
    ],
)
def test_quantity_is_converted_rounded_and_labelled(amount: Quantity, lang: Language, units: str, written: str) -> None:
    assert quantity(amount, lang, "us" if units == "us" else "metric") == written


@pytest.mark.parametrize(
    ("unit", "label"),
    [("{EUR}/har", "EUR/ha"), ("{USD}/[acr_us]", "USD/ac"), ("{CHF}/h", "CHF/h"), ("{money}/h", "money/h")],
)
def test_money_is_labelled_by_its_currency(unit: str, label: str) -> None:
    assert unit_label(unit, "en") == label


def test_unknown_unit_is_an_error() -> None:
    with pytest.raises(KeyError):
        unit_label("furlong", "en")
