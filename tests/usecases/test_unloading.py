"""Unloading: balance of the ways, the call, what is assumed and what is refused."""

from dataclasses import replace

import pytest
from hypothesis import given, seed, settings
from hypothesis import strategies as st

from service.errors import Contradiction, InvalidInput, OutsideWindow, UnknownName
from service.knowledge.load import load_table
from service.usecases.unloading import advise_unloading
from service.usecases.unloading_terms import tonnes_of
from service.usecases.unloading_types import Unloading, UnloadingQuestion, Way, WayCode

TABLE = load_table()
PLAIN = UnloadingQuestion(
    crop="wheat",
    cut_width_m=9.0,
    ground_speed_km_h=6.0,
    yield_t_ha=8.0,
    tank_volume_l=10000.0,
    unloading_rate_l_s=100.0,
    bulk_density_kg_hl=77.0,
)


def ask(**change: object) -> Unloading:
    return advise_unloading(TABLE, replace(PLAIN, **change))  # type: ignore[arg-type]


def way(answer: Unloading, code: WayCode) -> Way:
    return answer.way(code)


def codes(answer: Unloading) -> set[str]:
    return {warning.code for warning in answer.warnings}


def test_the_worked_example_of_filling() -> None:
    """9 m, 6 km/h, 8 t/ha, 10 m3 of 0.77: 43.2 t/h, 10.69 min, 1069 m; share 0.865 at 100 L/s without docking."""
    answer = ask(docking_s=0.0)
    assert answer.filling.grain_t_h == pytest.approx(43.2)
    assert round(answer.filling.time_min, 2) == 10.69
    assert round(answer.filling.distance_m) == 1069
    assert round((way(answer, "standing").cutting_share_pct or 0) / 100, 3) == 0.865


def test_a_stop_of_four_minutes_leaves_the_share_of_the_worked_example() -> None:
    # 100 s of unloading and 140 s more
    assert round((way(ask(docking_s=140.0), "standing").cutting_share_pct or 0) / 100, 3) == 0.728


QUESTIONS = st.builds(
    lambda **given: replace(PLAIN, **given),
    yield_t_ha=st.floats(1, 12),
    cut_width_m=st.floats(4, 14),
    ground_speed_km_h=st.floats(2, 8),
    tank_volume_l=st.floats(4000, 18000),
    unloading_rate_l_s=st.floats(30, 200),
    docking_s=st.floats(0, 90),
    run_length_m=st.one_of(st.none(), st.floats(100, 3000)),
    cart_arrival_min=st.one_of(st.none(), st.floats(0, 40)),
)


@seed(1)
@settings(max_examples=60, deadline=None, database=None)
@given(QUESTIONS)
def test_ways_stand_in_the_order_that_time_lost_gives(question: UnloadingQuestion) -> None:
    answer = advise_unloading(TABLE, question)
    standing, edge = way(answer, "standing"), way(answer, "edge")
    assert standing.gain_pct == pytest.approx(0)
    assert (edge.gain_pct or 0) < 0
    assert (way(answer, "standing_reduced").gain_pct or 0) < 0
    for one in answer.ways:
        if one.possible:
            assert one.area_rate_ha_h is not None
            assert one.grain_t_h == pytest.approx(one.area_rate_ha_h * answer.yield_t_ha)
            assert 0 < (one.cutting_share_pct or 0) <= 100
            assert 0 < (one.load_pct or 0) <= 100
        else:
            assert one.why is not None
            assert one.area_rate_ha_h is None
    moving = way(answer, "moving")
    if moving.possible:
        assert (moving.gain_pct or 0) > 0
        assert moving.unload_s is not None
        assert standing.unload_s is not None
        assert moving.unload_s.value >= standing.unload_s.value
    assert 0 <= answer.call.level_pct <= 100


def test_at_the_headland_the_tank_is_as_full_as_whole_runs_make_it() -> None:
    headland = way(ask(run_length_m=400.0), "headland")
    assert headland.runs == 2
    assert headland.load_pct == pytest.approx(100 * 800 / 1069.44, rel=1e-4)
    longer = way(ask(run_length_m=1200.0), "headland")
    assert not longer.possible
    assert longer.why is not None
    assert longer.why.code == "unloading.why_run_too_long"
    assert "headland" not in {one.code for one in ask().ways}


def test_turns_count_where_they_are_told() -> None:
    plain, turning = (ask(run_length_m=400.0, turn_time_s=turn) for turn in (None, 30.0))
    # Hunt: a run of 400 m at 6 km/h takes 240 s, a turn 30 s
    rate = way(plain, "moving").area_rate_ha_h or 0
    assert way(turning, "moving").area_rate_ha_h == pytest.approx(rate * 240 / 270)


def test_the_edge_takes_the_measured_drive_or_that_of_the_field() -> None:
    assert way(ask(), "edge").drive_s == 128 + 80
    assert way(ask(edge_distance_m=500.0), "edge").drive_s == pytest.approx(2 * 500 / (6 / 3.6))
    assert way(ask(edge_distance_m=500.0, edge_speed_km_h=12.0), "edge").drive_s == pytest.approx(300)
    assert way(ask(), "edge").proofs[0].sources[0].id == "tihanov-2017"
    assert way(ask(edge_distance_m=500.0), "edge").proofs == ()


def test_a_slow_auger_cannot_unload_on_the_move() -> None:
    # 43.2 t/h of 77 kg/hL flow in at 15.6 L/s
    answer = ask(unloading_rate_l_s=15.0)
    assert answer.decision.code == "unloading.decision_standing"
    assert way(answer, "moving").why is not None
    hardly = ask(unloading_rate_l_s=20.0)
    assert "unloading.auger_hardly_faster" in codes(hardly)
    assert not way(hardly, "moving_reduced").possible


def test_the_range_of_an_unmeasured_auger_is_carried_through() -> None:
    answer = ask(unloading_rate_l_s=None)
    assert "unloading.rate_assumed" in codes(answer)
    unload = way(answer, "standing").unload_s
    assert unload is not None
    assert (unload.low, unload.value, unload.high) == pytest.approx((10000 / 180, 10000 / 140, 10000 / 110))
    usual = ask(unloading_rate_l_s=None, machine_class="axial", size_band="large")
    assert next(one for one in usual.used if one.code == "unloading_rate").origin == "class"


def test_wet_grain_is_lighter_and_fills_the_tank_sooner() -> None:
    dry, wet = (ask(bulk_density_kg_hl=None, grain_moisture_pct=moisture) for moisture in (12.0, 18.0))
    assert wet.filling.tank_t < dry.filling.tank_t
    # D241.4, hard red winter wheat: 691.8 at 16 % over 709.5 at 14 %
    curve = ask(bulk_density_kg_hl=None, grain_moisture_pct=16.0)
    usual = ask(bulk_density_kg_hl=None)
    assert curve.filling.tank_t / usual.filling.tank_t == pytest.approx(691.8 / 708.6, abs=0.001)
    assert "unloading.density_no_curve" in codes(
        ask(crop="field_pea", yield_t_ha=4.0, bulk_density_kg_hl=None, grain_moisture_pct=16.0)
    )


def test_wetter_than_the_curve_reaches_is_told() -> None:
    answer = ask(crop="maize", bulk_density_kg_hl=None, grain_moisture_pct=33.0)
    held = ask(crop="maize", bulk_density_kg_hl=None, grain_moisture_pct=34.0)
    assert "unloading.density_held" in codes(answer)
    assert answer.filling.tank_t == held.filling.tank_t


def test_the_cart_is_called_so_that_it_comes_in_time() -> None:
    near, far = ask(cart_distance_m=400.0, cart_speed_km_h=12.0), ask(cart_arrival_min=25.0)
    assert near.call.arrival_min == pytest.approx(2.0)
    assert near.call.level_pct == pytest.approx(90 - 100 * 2 / 10.694, abs=0.01)
    assert far.call.level_pct == 0
    assert far.call.wait_min == pytest.approx(25 - 10.694, abs=0.01)
    assert far.decision.code == "unloading.decision_far"
    assert {"unloading.one_cart_too_few", "unloading.edge_beats_waiting"} <= codes(far)
    along = ask(cart_arrival_min=10.0)
    assert (along.call.level_pct, along.call.wait_min) == (0, 0)
    # without a way the usual level of the table
    assert ask().call.level_pct == 75
    assert ask().call.arrival_min is None


def test_the_tank_as_it_stands() -> None:
    answer = ask(tank_fill_pct=50.0, cart_arrival_min=2.0)
    assert answer.now is not None
    assert answer.now.to_full_min == pytest.approx(10.694 / 2, abs=0.01)
    assert answer.now.to_call_min == pytest.approx((answer.call.level_pct - 50) / 100 * 10.694, abs=0.01)
    late = ask(tank_fill_pct=95.0)
    assert late.now is not None
    assert late.now.to_call_min == 0
    assert "unloading.call_now" in codes(late)


def test_a_cart_holds_whole_tanks_and_a_rest() -> None:
    cart = ask(cart_capacity_bu=660.0).cart
    assert cart is not None
    # 660 bushels of 60 lb are 17.96 t, a tank is 7.7 t
    assert cart.capacity_t == pytest.approx(660 * 60 * 0.45359237 / 1000)
    assert cart.whole_tanks == 2
    assert cart.rest_pct == pytest.approx(33.3, abs=0.1)


def test_unloading_over_more_than_a_run_is_told() -> None:
    assert "unloading.longer_than_run" in codes(ask(run_length_m=150.0))
    assert "unloading.longer_than_run" not in codes(ask(run_length_m=400.0))


@pytest.mark.parametrize(
    ("change", "error", "field"),
    [
        ({"crop": "weat"}, UnknownName, "crop"),
        ({"revision": "1999.1.1"}, UnknownName, "revision"),
        ({"yield_t_ha": None}, InvalidInput, "yield_t_ha"),
        ({"yield_bu_ac": 100.0}, Contradiction, "yield_t_ha"),
        ({"tank_volume_l": None}, InvalidInput, "tank_volume_l"),
        ({"size_band": "large"}, InvalidInput, "machine_class"),
        ({"engine_power_kw": 300.0}, InvalidInput, "machine_class"),
        ({"machine_class": "axial", "size_band": "huge"}, UnknownName, "size_band"),
        ({"machine_class": "axial", "size_band": "small", "engine_power_kw": 400.0}, Contradiction, "size_band"),
        ({"grain_moisture_pct": 40.0}, OutsideWindow, "grain_moisture_pct"),
        ({"grain_moisture_pct": 4.0}, OutsideWindow, "grain_moisture_pct"),
        ({"cart_arrival_min": 3.0, "cart_distance_m": 300.0}, Contradiction, "cart_arrival_min"),
        ({"cart_arrival_min": 3.0, "cart_speed_km_h": 10.0}, Contradiction, "cart_arrival_min"),
        ({"cart_speed_km_h": 10.0}, InvalidInput, "cart_speed_km_h"),
        ({"turn_time_s": 20.0}, InvalidInput, "turn_time_s"),
        ({"edge_speed_km_h": 10.0}, InvalidInput, "edge_speed_km_h"),
        ({"cart_capacity_t": 10.0, "cart_capacity_bu": 400.0}, Contradiction, "cart_capacity_t"),
    ],
)
def test_what_cannot_be_is_refused(change: dict[str, object], error: type[InvalidInput], field: str) -> None:
    with pytest.raises(error) as refused:
        ask(**change)
    assert type(refused.value) is error
    assert refused.value.field == field


def test_bushels_of_a_crop_without_a_legal_bushel_are_refused() -> None:
    wheat = TABLE.crop("wheat")
    without = wheat.model_copy(update={"physical": wheat.physical.model_copy(update={"bushel_mass": None})})
    with pytest.raises(InvalidInput) as refused:
        tonnes_of(without, "capacity_t", None, "capacity_bu", 300.0, "haulers.1.")
    assert refused.value.field == "haulers.1.capacity_bu"
    assert tonnes_of(without, "capacity_t", 9.0, "capacity_bu", None) == 9.0
