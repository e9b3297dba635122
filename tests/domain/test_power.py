"""Power: the limited speed uses up exactly what is there; slopes never give power back."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.power import power_limited_speed_km_h, propulsion_power_kw, rotary_power_kw
from service.errors import OutOfRange

relaxed = settings(deadline=None)
GOOD = {
    "available_kw": 250.0,
    "a_kw": 20.0,
    "c_kwh_t": 3.6,
    "feed_t_h_per_km_h": 7.2,
    "mass_t": 20.0,
    "rolling_resistance": 0.1,
    "slope_deg": 0.0,
    "efficiency": 0.7,
}


@relaxed
@given(
    st.fixed_dictionaries(
        {
            "available_kw": st.floats(60, 500),
            "a_kw": st.floats(0, 50),
            "c_kwh_t": st.floats(0.5, 10),
            "feed_t_h_per_km_h": st.floats(0.5, 15),
            "mass_t": st.floats(5, 35),
            "rolling_resistance": st.floats(0.02, 0.3),
            "slope_deg": st.floats(-15, 15),
            "efficiency": st.floats(0.5, 1),
        }
    )
)
def test_both_powers_use_up_what_is_available(case: dict[str, float]) -> None:
    speed = power_limited_speed_km_h(**case)
    rotary = rotary_power_kw(case["feed_t_h_per_km_h"] * speed, case["a_kw"], case["c_kwh_t"])
    travel = {name: case[name] for name in ("mass_t", "rolling_resistance", "slope_deg", "efficiency")}
    assert rotary + propulsion_power_kw(speed_km_h=speed, **travel) == pytest.approx(case["available_kw"], rel=1e-9)


@relaxed
@given(st.floats(-29, 29), st.floats(0.01, 1))
def test_steeper_uphill_never_takes_less(slope: float, more: float) -> None:
    assert propulsion_power_kw(20, 5, 0.1, slope + more, 0.7) >= propulsion_power_kw(20, 5, 0.1, slope, 0.7)


@relaxed
@given(st.floats(-30, 30))
def test_propulsion_is_never_negative(slope: float) -> None:
    assert propulsion_power_kw(20, 5, 0.1, slope, 0.7) >= 0


@relaxed
@given(st.floats(1, 14), st.floats(0.1, 5))
def test_more_crop_never_raises_the_speed(feed: float, more: float) -> None:
    assert power_limited_speed_km_h(**{**GOOD, "feed_t_h_per_km_h": feed + more}) < power_limited_speed_km_h(
        **{**GOOD, "feed_t_h_per_km_h": feed}
    )


def test_engine_that_cannot_run_empty_is_refused() -> None:
    with pytest.raises(OutOfRange) as refused:
        power_limited_speed_km_h(**{**GOOD, "available_kw": 20.0})
    assert refused.value.field == "available_kw"
    assert refused.value.facts["low"] == 20


@pytest.mark.parametrize(
    ("name", "bad"),
    [
        *[(name, value) for name in GOOD for value in (math.nan, math.inf)],
        ("available_kw", -1.0),
        ("a_kw", -0.1),
        ("c_kwh_t", 0.0),
        ("feed_t_h_per_km_h", 0.0),
        ("mass_t", 0.0),
        ("rolling_resistance", -0.01),
        ("rolling_resistance", 1.01),
        ("slope_deg", -30.1),
        ("slope_deg", 30.1),
        ("efficiency", 0.0),
        ("efficiency", 1.01),
    ],
)
def test_impossible_input_is_refused_by_name(name: str, bad: float) -> None:
    with pytest.raises(OutOfRange) as refused:
        power_limited_speed_km_h(**{**GOOD, name: bad})
    assert refused.value.field == name or (name, refused.value.field) == ("a_kw", "available_kw")


@pytest.mark.parametrize("bad", [(-1, 20, 3.6), (20, -1, 3.6), (20, 20, -1), (math.nan, 20, 3.6)])
def test_rotary_power_takes_nothing_negative(bad: tuple[float, float, float]) -> None:
    with pytest.raises(OutOfRange):
        rotary_power_kw(*bad)


@pytest.mark.parametrize("speed", [-0.1, math.nan, math.inf])
def test_propulsion_takes_no_impossible_speed(speed: float) -> None:
    with pytest.raises(OutOfRange):
        propulsion_power_kw(20, speed, 0.1, 0, 0.7)
