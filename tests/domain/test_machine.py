"""Speeds and rates: inverse pairs, mass balance, band of loss."""

import math
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain import machine
from service.errors import OutOfRange

relaxed = settings(deadline=None)
diameters = st.floats(200, 1200)
speeds = st.floats(0.5, 12)
widths = st.floats(1, 15)


@relaxed
@given(diameters, st.floats(0, 45))
def test_rotation_and_edge_speed_turn_into_each_other(diameter_mm: float, speed_m_s: float) -> None:
    rpm = machine.rotational_speed_rpm(diameter_mm, speed_m_s)
    assert machine.peripheral_speed_m_s(diameter_mm, rpm) == pytest.approx(speed_m_s, rel=1e-12)


@relaxed
@given(diameters, st.floats(1.01, 3), st.floats(1, 45))
def test_larger_drum_turns_slower_and_presses_less(diameter_mm: float, ratio: float, speed_m_s: float) -> None:
    assert machine.rotational_speed_rpm(diameter_mm * ratio, speed_m_s) < machine.rotational_speed_rpm(
        diameter_mm, speed_m_s
    )
    assert machine.centrifugal_ratio(diameter_mm * ratio, speed_m_s) < machine.centrifugal_ratio(diameter_mm, speed_m_s)


@relaxed
@given(speeds, widths, st.floats(0.1, 30))
def test_speed_and_throughput_turn_into_each_other(speed_km_h: float, width_m: float, mass_t_ha: float) -> None:
    flow = machine.throughput_t_h(speed_km_h, width_m, mass_t_ha)
    assert machine.speed_for_throughput_km_h(flow, width_m, mass_t_ha) == pytest.approx(speed_km_h, rel=1e-12)


@relaxed
@given(speeds, widths, st.floats(0.5, 15))
def test_mass_is_area_times_yield(speed_km_h: float, width_m: float, yield_t_ha: float) -> None:
    area = machine.area_rate_ha_h(speed_km_h, width_m)
    assert machine.throughput_t_h(speed_km_h, width_m, yield_t_ha) == pytest.approx(area * yield_t_ha)


@relaxed
@given(
    speeds,
    widths,
    st.fixed_dictionaries(
        {
            "run_m": st.floats(50, 1000),
            "width_share": st.floats(0.5, 1),
            "unproductive_h_ha": st.floats(0, 0.2),
            "turn_s": st.floats(0, 60),
        }
    ),
)
def test_effective_rate_never_exceeds_the_theoretical(
    speed_km_h: float, width_m: float, losses: dict[str, float]
) -> None:
    effective = machine.effective_area_rate_ha_h(speed_km_h, width_m, **losses)
    assert 0 < effective <= machine.area_rate_ha_h(speed_km_h, width_m) * (1 + 1e-12)


@relaxed
@given(st.floats(0, 20), st.floats(0.1, 3), st.floats(0, 4), st.floats(0, 4))
def test_band_holds_every_power_between(loss: float, ratio: float, one: float, other: float) -> None:
    least, most = sorted((one, other))
    band = machine.expected_loss_band(loss, ratio, least, most)
    middle = loss * ratio ** ((least + most) / 2)
    assert band.low_pct <= middle * (1 + 1e-12)
    assert middle <= band.high_pct * (1 + 1e-12)


@relaxed
@given(st.floats(0.1, 20), st.floats(0.1, 2.9), st.floats(0.01, 0.1))
def test_more_feed_never_lowers_the_band(loss: float, ratio: float, more: float) -> None:
    before = machine.expected_loss_band(loss, ratio, 1, 3)
    after = machine.expected_loss_band(loss, ratio + more, 1, 3)
    assert after.low_pct > before.low_pct
    assert after.high_pct > before.high_pct


def test_hunts_field_efficiency() -> None:
    """The printed example gives 79.17 % from 1.90 over 2.40 ha/h."""
    assert machine.area_rate_ha_h(4.8, 5, 79.17) == pytest.approx(1.90, abs=0.005)


@pytest.mark.parametrize("bad", [0, -1, math.nan, math.inf])
@pytest.mark.parametrize(
    "call",
    [
        lambda x: machine.peripheral_speed_m_s(x, 500),
        lambda x: machine.rotational_speed_rpm(x, 20),
        lambda x: machine.centrifugal_ratio(x, 20),
        lambda x: machine.reel_tip_speed_m_s(x, 5),
        lambda x: machine.area_rate_ha_h(5, x),
        lambda x: machine.area_rate_ha_h(5, 9, x),
        lambda x: machine.throughput_t_h(5, x, 8),
        lambda x: machine.speed_for_throughput_km_h(20, x, 8),
        lambda x: machine.speed_for_throughput_km_h(20, 9, x),
        lambda x: machine.expected_loss_band(1, x, 1, 3),
        lambda x: machine.effective_area_rate_ha_h(x, 5, 400, width_share=1, unproductive_h_ha=0, turn_s=0),
        lambda x: machine.effective_area_rate_ha_h(5, x, 400, width_share=1, unproductive_h_ha=0, turn_s=0),
        lambda x: machine.effective_area_rate_ha_h(5, 5, x, width_share=1, unproductive_h_ha=0, turn_s=0),
        lambda x: machine.effective_area_rate_ha_h(5, 5, 400, width_share=x, unproductive_h_ha=0, turn_s=0),
    ],
)
def test_what_must_be_positive_is(call: Callable[[float], object], bad: float) -> None:
    with pytest.raises(OutOfRange):
        call(bad)


@pytest.mark.parametrize("bad", [-0.01, math.nan, math.inf])
@pytest.mark.parametrize(
    "call",
    [
        lambda x: machine.peripheral_speed_m_s(600, x),
        lambda x: machine.rotational_speed_rpm(600, x),
        lambda x: machine.centrifugal_ratio(600, x),
        lambda x: machine.reel_tip_speed_m_s(1, x),
        lambda x: machine.area_rate_ha_h(x, 9),
        lambda x: machine.throughput_t_h(x, 9, 8),
        lambda x: machine.throughput_t_h(5, 9, x),
        lambda x: machine.speed_for_throughput_km_h(x, 9, 8),
        lambda x: machine.expected_loss_band(x, 1, 1, 3),
        lambda x: machine.expected_loss_band(1, 1, x, 3),
        lambda x: machine.effective_area_rate_ha_h(5, 5, 400, width_share=1, unproductive_h_ha=x, turn_s=0),
        lambda x: machine.effective_area_rate_ha_h(5, 5, 400, width_share=1, unproductive_h_ha=0, turn_s=x),
    ],
)
def test_what_must_not_be_negative_is_not(call: Callable[[float], object], bad: float) -> None:
    call(0)
    with pytest.raises(OutOfRange):
        call(bad)


@pytest.mark.parametrize(
    "call",
    [
        lambda: machine.area_rate_ha_h(5, 9, 100.1),
        lambda: machine.effective_area_rate_ha_h(5, 5, 400, width_share=1.01, unproductive_h_ha=0, turn_s=0),
        lambda: machine.expected_loss_band(100.1, 1, 1, 3),
        lambda: machine.expected_loss_band(1, 1, 3, 2.9),
    ],
)
def test_upper_ends_hold(call: Callable[[], object]) -> None:
    with pytest.raises(OutOfRange):
        call()


def test_power_and_tank_are_handed_on() -> None:
    from service.domain import power, unloading  # noqa: PLC0415 (only here, to compare the names)

    assert machine.rotary_power_kw is power.rotary_power_kw
    assert machine.tank_fill_time_min is unloading.tank_fill_time_min
