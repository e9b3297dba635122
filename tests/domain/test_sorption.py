"""The four equations: inverse pairs, the right way with humidity and warmth, refusal at the ends."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain import sorption
from service.errors import OutOfRange

relaxed = settings(deadline=None)
# ASAE D245 sets: maize, sorghum, soybean, durum wheat
SETS = {
    "henderson": {"A": 6.6612e-5, "B": 1.9677, "C": 42.143},
    "chung_pfost": {"A": 797.33, "B": 0.18159, "C": 52.238},
    "halsey": {"A": 2.87, "B": -0.0054, "C": 1.38},
    "oswin": {"A": 13.101, "B": -0.052626, "C": 2.9987},
}
forms = pytest.mark.parametrize("form", SETS)
humidities = st.floats(10.5, 94.5)
temperatures = st.floats(-10, 65)


def moisture(form: str, humidity: float, temperature: float, **change: float) -> float:
    function = getattr(sorption, f"{form}_moisture_db_pct")
    answer: float = function(humidity, temperature, **{**SETS[form], **change})
    return answer


def humidity_of(form: str, moisture_db_pct: float, temperature: float, **change: float) -> float:
    function = getattr(sorption, f"{form}_relative_humidity_pct")
    answer: float = function(moisture_db_pct, temperature, **{**SETS[form], **change})
    return answer


@forms
@relaxed
@given(humidity=humidities, temperature=temperatures)
def test_moisture_and_humidity_turn_into_each_other(form: str, humidity: float, temperature: float) -> None:
    there = moisture(form, humidity, temperature)
    assert humidity_of(form, there, temperature) == pytest.approx(humidity, rel=1e-9)


@forms
@relaxed
@given(humidity=st.floats(10, 94), more=st.floats(0.01, 1), temperature=temperatures)
def test_damper_air_makes_damper_grain(form: str, humidity: float, more: float, temperature: float) -> None:
    assert moisture(form, humidity + more, temperature) > moisture(form, humidity, temperature)


@forms
@relaxed
@given(humidity=humidities, temperature=st.floats(-10, 64), warmer=st.floats(0.01, 1))
def test_warmer_air_makes_drier_grain(form: str, humidity: float, temperature: float, warmer: float) -> None:
    assert moisture(form, humidity, temperature + warmer) < moisture(form, humidity, temperature)


@forms
@pytest.mark.parametrize("humidity", [9.99, 95.01, 0, 100, math.nan, math.inf])
def test_dry_and_saturated_air_are_refused(form: str, humidity: float) -> None:
    with pytest.raises(OutOfRange) as refused:
        moisture(form, humidity, 20)
    assert refused.value.field == "relative_humidity_pct"
    assert (refused.value.facts["low"], refused.value.facts["high"]) == (10, 95)


@forms
def test_ends_of_humidity_and_temperature_are_allowed(form: str) -> None:
    assert 0 < moisture(form, 10, 20) < moisture(form, 95, 20)
    assert 0 < moisture(form, 50, 65) < moisture(form, 50, -10)


@forms
@pytest.mark.parametrize("temperature", [-10.01, 65.01, math.nan, math.inf])
def test_impossible_temperature_is_refused(form: str, temperature: float) -> None:
    with pytest.raises(OutOfRange):
        moisture(form, 50, temperature)
    with pytest.raises(OutOfRange):
        humidity_of(form, 12, temperature)


@forms
@pytest.mark.parametrize("moisture_db_pct", [0, -1, 0.001, 500, 1900.1, math.nan, math.inf])
def test_moisture_outside_the_form_is_refused(form: str, moisture_db_pct: float) -> None:
    with pytest.raises(OutOfRange) as refused:
        humidity_of(form, moisture_db_pct, 20)
    assert refused.value.field == "moisture_db_pct"


@pytest.mark.parametrize(
    ("form", "name", "bad"),
    [
        ("henderson", "A", 0),
        ("henderson", "B", 0.09),
        ("henderson", "B", 20.1),
        ("henderson", "C", -20),
        ("chung_pfost", "A", -1),
        ("chung_pfost", "B", 0),
        ("chung_pfost", "C", -20),
        ("halsey", "A", 60),
        ("halsey", "C", 0),
        ("oswin", "A", 0.5),
        ("oswin", "C", math.nan),
    ],
)
def test_coefficients_that_break_the_form_are_refused(form: str, name: str, bad: float) -> None:
    with pytest.raises(OutOfRange):
        moisture(form, 50, 20, **{name: bad})
    with pytest.raises(OutOfRange):
        humidity_of(form, 12, 20, **{name: bad})


def test_negative_moisture_of_chung_pfost_is_refused() -> None:
    """Rapeseed fits of this form go below zero in dry air."""
    with pytest.raises(OutOfRange) as refused:
        moisture("chung_pfost", 10, 40, A=150)
    assert refused.value.facts["reason"] == "outside_the_form"


def test_coefficient_for_decimal_moisture_is_a_hundred_times_larger() -> None:
    """Oats in Storage of Cereal Grains: B is printed as 21.581 for decimal moisture, 0.21581 for percent."""
    right = moisture("chung_pfost", 70, 25, A=433.157, B=0.21581, C=41.439)
    wrong = moisture("chung_pfost", 70, 25, A=433.157, B=21.581, C=41.439)
    assert wrong * 100 == pytest.approx(right)
    assert 13 < right < 15
