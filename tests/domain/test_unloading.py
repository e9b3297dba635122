"""Grain tank: time, distance and speed of one mass balance agree."""

import math
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.machine import throughput_t_h
from service.domain.unloading import tank_fill_distance_m, tank_fill_time_min, unloading_limited_speed_km_h
from service.errors import OutOfRange

relaxed = settings(deadline=None)
volumes = st.floats(2000, 20_000)
densities = st.floats(30, 85)
widths = st.floats(2, 15)
yields = st.floats(0.5, 15)


@relaxed
@given(volumes, densities, widths, yields, st.floats(1, 10))
def test_distance_is_time_times_speed(volume: float, density: float, width: float, crop: float, speed: float) -> None:
    minutes = tank_fill_time_min(volume, density, throughput_t_h(speed, width, crop))
    metres = tank_fill_distance_m(volume, density, width, crop)
    assert metres == pytest.approx(speed * 1000 / 60 * minutes, rel=1e-9)


@relaxed
@given(st.floats(30, 200), densities, widths, yields, st.floats(1, 5))
def test_flow_at_the_limit_is_the_auger_over_the_margin(
    rate: float, density: float, width: float, crop: float, margin: float
) -> None:
    speed = unloading_limited_speed_km_h(rate, density, width, crop, margin)
    auger_t_h = rate / 1000 * 3600 * density / 100  # m3/h times t/m3
    assert throughput_t_h(speed, width, crop) * margin == pytest.approx(auger_t_h, rel=1e-9)


@pytest.mark.parametrize("bad", [0, -1, math.nan, math.inf])
@pytest.mark.parametrize(
    "call",
    [
        lambda x: tank_fill_time_min(x, 77, 40),
        lambda x: tank_fill_time_min(10_000, x, 40),
        lambda x: tank_fill_time_min(10_000, 77, x),
        lambda x: tank_fill_distance_m(x, 77, 9, 8),
        lambda x: tank_fill_distance_m(10_000, x, 9, 8),
        lambda x: tank_fill_distance_m(10_000, 77, x, 8),
        lambda x: tank_fill_distance_m(10_000, 77, 9, x),
        lambda x: unloading_limited_speed_km_h(x, 77, 9, 8, 2),
        lambda x: unloading_limited_speed_km_h(100, x, 9, 8, 2),
        lambda x: unloading_limited_speed_km_h(100, 77, x, 8, 2),
        lambda x: unloading_limited_speed_km_h(100, 77, 9, x, 2),
        lambda x: unloading_limited_speed_km_h(100, 77, 9, 8, x),
    ],
)
def test_what_must_be_positive_is(call: Callable[[float], float], bad: float) -> None:
    with pytest.raises(OutOfRange):
        call(bad)


def test_margin_below_one_is_refused() -> None:
    with pytest.raises(OutOfRange):
        unloading_limited_speed_km_h(100, 77, 9, 8, 0.99)
