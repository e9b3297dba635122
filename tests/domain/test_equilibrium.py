"""Choice of form by name, wet basis, and humidity from the dew point."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.equilibrium import (
    FORMS,
    equilibrium_moisture_wb_pct,
    equilibrium_relative_humidity_pct,
    relative_humidity_from_dew_point_pct,
    saturation_pressure_kpa,
)
from service.domain.moisture import wet_basis_pct
from service.domain.sorption import oswin_moisture_db_pct
from service.errors import OutOfRange, UnknownName

relaxed = settings(deadline=None)
DURUM = {"A": 13.101, "B": -0.052626, "C": 2.9987}
SETS = {
    "henderson": {"A": 6.6612e-5, "B": 1.9677, "C": 42.143},
    "chung_pfost": {"A": 797.33, "B": 0.18159, "C": 52.238},
    "halsey": {"A": 2.87, "B": -0.0054, "C": 1.38},
    "oswin": DURUM,
}


def test_every_form_is_known_by_name() -> None:
    assert set(FORMS) == set(SETS)


@pytest.mark.parametrize("form", FORMS)
@relaxed
@given(humidity=st.floats(10.5, 94.5), temperature=st.floats(0, 45))
def test_humidity_comes_back(form: str, humidity: float, temperature: float) -> None:
    wet = equilibrium_moisture_wb_pct(form, humidity, temperature, **SETS[form])
    assert equilibrium_relative_humidity_pct(form, wet, temperature, **SETS[form]) == pytest.approx(humidity, rel=1e-9)


def test_answer_is_on_the_wet_basis() -> None:
    dry = oswin_moisture_db_pct(70, 25, **DURUM)
    assert equilibrium_moisture_wb_pct("oswin", 70, 25, **DURUM) == wet_basis_pct(dry) < dry


@pytest.mark.parametrize("form", ["hendersen", "Oswin", ""])
def test_unknown_form_is_refused(form: str) -> None:
    with pytest.raises(UnknownName) as refused:
        equilibrium_moisture_wb_pct(form, 70, 25, **DURUM)
    assert refused.value.facts["allowed"] == list(FORMS)
    with pytest.raises(UnknownName):
        equilibrium_relative_humidity_pct(form, 14, 25, **DURUM)


def test_near_name_is_offered() -> None:
    with pytest.raises(UnknownName) as refused:
        equilibrium_moisture_wb_pct("hendersen", 70, 25, **DURUM)
    assert refused.value.facts["nearest"] == ["henderson"]


@pytest.mark.parametrize("moisture_pct", [0, -1, 1, 60, 95.1, math.nan])
def test_moisture_outside_the_form_is_refused(moisture_pct: float) -> None:
    with pytest.raises(OutOfRange):
        equilibrium_relative_humidity_pct("oswin", moisture_pct, 25, **DURUM)


@relaxed
@given(st.floats(-20, 64), st.floats(0.01, 1))
def test_warm_air_holds_more_water(temperature: float, warmer: float) -> None:
    assert saturation_pressure_kpa(temperature + warmer) > saturation_pressure_kpa(temperature)


@relaxed
@given(st.floats(-20, 65), st.floats(0, 85))
def test_humidity_is_a_share(temperature: float, depression: float) -> None:
    dew_point = max(-20.0, temperature - depression)
    assert 0 < relative_humidity_from_dew_point_pct(temperature, dew_point) <= 100


@pytest.mark.parametrize("temperature", [-20.1, 65.1, math.nan, math.inf])
def test_impossible_temperature_is_refused(temperature: float) -> None:
    with pytest.raises(OutOfRange):
        saturation_pressure_kpa(temperature)
    with pytest.raises(OutOfRange):
        relative_humidity_from_dew_point_pct(temperature, -20)


@pytest.mark.parametrize("dew_point", [20.01, -20.1, math.nan])
def test_dew_point_above_the_air_is_refused(dew_point: float) -> None:
    with pytest.raises(OutOfRange) as refused:
        relative_humidity_from_dew_point_pct(20, dew_point)
    assert refused.value.field == "dew_point_c"
