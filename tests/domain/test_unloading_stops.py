"""Emptying, calling and stopping: limits and conservation."""

import pytest
from hypothesis import given, seed, settings
from hypothesis import strategies as st

from service.domain.unloading_stops import (
    breaks_at_headlands,
    call_level,
    content_that_fits_t,
    emptying_time_s,
    whole_runs,
    working_share,
)
from service.errors import OutOfRange

FEW = settings(max_examples=60, deadline=None, database=None)


@seed(1)
@FEW
@given(st.floats(100, 20000), st.floats(20, 300), st.floats(0, 60), st.floats(40, 85))
def test_what_flows_in_and_what_was_there_is_what_leaves(
    volume_l: float, rate_l_s: float, inflow_t_h: float, density_kg_hl: float
) -> None:
    inflow_l_s = inflow_t_h / 3.6 / density_kg_hl * 100
    if rate_l_s <= inflow_l_s * (1 + 1e-9):
        return
    time_s = emptying_time_s(volume_l, rate_l_s, inflow_t_h, density_kg_hl)
    assert rate_l_s * time_s == pytest.approx(volume_l + inflow_l_s * time_s)
    assert time_s >= emptying_time_s(volume_l, rate_l_s, 0, density_kg_hl)


def test_an_auger_as_fast_as_the_flow_never_empties_the_tank() -> None:
    with pytest.raises(OutOfRange) as refused:
        emptying_time_s(1000, 10, 36, 100)
    assert refused.value.field == "unloading_rate_l_s"


@seed(2)
@FEW
@given(st.floats(1, 60), st.floats(0, 120), st.floats(0, 50))
def test_a_cart_called_at_the_level_comes_before_the_tank_is_full(
    fill_min: float, arrival_min: float, reserve_pct: float
) -> None:
    call = call_level(fill_min, arrival_min, reserve_pct)
    assert 0 <= call.level_pct <= 100 - reserve_pct
    left_min = fill_min * (1 - call.level_pct / 100)
    assert left_min + call.wait_min >= arrival_min * (1 - 1e-9) - 1e-9
    if call.wait_min > 0:
        assert call.level_pct == 0


@seed(4)
@FEW
@given(st.floats(0.5, 40), st.floats(50, 600), st.floats(0, 0.99))
def test_what_fits_and_what_is_cut_meanwhile_fill_the_cart(
    capacity_t: float, unloading_t_h: float, part: float
) -> None:
    inflow_t_h = unloading_t_h * part
    content_t = content_that_fits_t(capacity_t, unloading_t_h, inflow_t_h)
    # of 1000 kg/hL a tonne is 100 L and a t/h a 36th of a litre a second: the balance of the tank is another way
    time_s = emptying_time_s(content_t * 100, unloading_t_h / 36, inflow_t_h, 1000)
    assert unloading_t_h * time_s / 3600 == pytest.approx(capacity_t)


@seed(3)
@FEW
@given(st.floats(1, 60), st.floats(0, 30), st.floats(0, 30))
def test_a_longer_stop_leaves_less(fill_min: float, one: float, other: float) -> None:
    shorter, longer = sorted((one, other))
    assert working_share(fill_min, longer) <= working_share(fill_min, shorter) <= 1


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: emptying_time_s(-1, 100, 0, 77), "volume_l"),
        (lambda: emptying_time_s(1000, 0, 0, 77), "unloading_rate_l_s"),
        (lambda: emptying_time_s(1000, 100, -1, 77), "inflow_t_h"),
        (lambda: emptying_time_s(1000, 100, 0, 0), "bulk_density_kg_hl"),
        (lambda: working_share(0, 1), "fill_min"),
        (lambda: working_share(1, -1), "lost_min"),
        (lambda: call_level(0, 1, 10), "fill_min"),
        (lambda: call_level(10, -1, 10), "arrival_min"),
        (lambda: call_level(10, 1, 100), "reserve_pct"),
        (lambda: call_level(10, 1, 10, 0), "most_pct"),
        (lambda: call_level(10, 1, 10, 101), "most_pct"),
        (lambda: content_that_fits_t(0, 100, 0), "capacity_t"),
        (lambda: content_that_fits_t(5, 0, 0), "unloading_t_h"),
        (lambda: content_that_fits_t(5, 100, -1), "inflow_t_h"),
        (lambda: content_that_fits_t(5, 100, 100), "unloading_t_h"),
        (lambda: breaks_at_headlands(-1, 400), "unloading_distance_m"),
        (lambda: breaks_at_headlands(100, 0), "run_length_m"),
        (lambda: whole_runs(0, 400), "fill_distance_m"),
        (lambda: whole_runs(1000, 0), "run_length_m"),
    ],
)
def test_what_cannot_be_is_refused(call: object, field: str) -> None:
    with pytest.raises(OutOfRange) as refused:
        call()  # type: ignore[operator]
    assert refused.value.field == field
