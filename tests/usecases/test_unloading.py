"""Unloading: balance of the ways, the call, what is assumed and what is refused."""

from dataclasses import replace

import pytest
from hypothesis import given, seed, settings
from hypothesis import strategies as st

from service.domain.types import Message, Quantity
from service.errors import Contradiction, InvalidInput, OutsideWindow, UnknownName
from service.knowledge.load import load_table
from service.usecases.unloading import advise_unloading
from service.usecases.unloading_terms import tonnes_of
from service.usecases.unloading_types import CartLoad, Unloading, UnloadingQuestion, Way, WayCode
from service.usecases.unloading_words import call_words, cart_words

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


def start(answer: Unloading) -> str:
    """Code of the first sentence."""
    first = answer.decision.params["start"]
    assert isinstance(first, Message)
    return first.code


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
        # nothing is lost on the move but what the ends of short runs cost
        assert ((moving.gain_pct or 0) > 0) or moving.breaks
        assert (moving.lost_min or 0) * 60 == pytest.approx((moving.breaks or 0) * (question.docking_s or 0))
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
    assert start(late) == "unloading.start_call_now"


@pytest.mark.parametrize(
    ("level", "arrival", "code"),
    [
        (100.0, 2.0, "start_full"),
        (100.0, None, "start_full"),
        (80.0, None, "start_call_now"),  # past the usual 75 %
        (75.0, None, "start_call_now"),
        (74.9, None, "start_filling"),
        (72.0, 2.0, "start_call_now"),  # 90 % less the 18.7 % that two minutes of 10.69 are
        (71.0, 2.0, "start_filling"),
        (90.0, 2.0, "start_call_late"),  # full in 1.07 min
    ],
)
def test_what_cannot_wait_comes_first(level: float, arrival: float | None, code: str) -> None:
    assert start(ask(tank_fill_pct=level, cart_arrival_min=arrival)) == f"unloading.{code}"


def test_a_cart_holds_whole_tanks_and_a_rest() -> None:
    cart = ask(cart_capacity_bu=660.0).cart
    assert cart is not None
    # 660 bushels of 60 lb are 17.96 t, a tank is 7.7 t
    assert cart.capacity_t == pytest.approx(660 * 60 * 0.45359237 / 1000)
    assert cart.whole_tanks == 2
    assert cart.rest_pct == pytest.approx(33.3, abs=0.1)


# 9000 L of 80 kg/hL are 7.2 t; 43.2 t/h or 15 L/s flow in, 100 L/s or 80 kg/s leave
ROUND: dict[str, object] = {"tank_volume_l": 9000.0, "bulk_density_kg_hl": 80.0, "docking_s": 30.0}


def test_a_cart_that_holds_less_than_a_tank_is_called_for_what_fits() -> None:
    """5.1 t take 63.75 s at 80 kg/s; 12 kg/s flow in meanwhile, 0.765 t: 4.335 t of 7.2 t may be there."""
    answer = ask(**ROUND, cart_capacity_t=5.1, cart_arrival_min=2.0)
    assert answer.call.cart_limits
    assert answer.call.level_pct == pytest.approx(100 * 4.335 / 7.2 - 20)
    assert call_words(answer.call).code == "unloading.call_small"
    cart = told(answer)
    assert (cart.whole_tanks, cart.unloadings) == (0, 1)
    assert cart.unloading_t == pytest.approx(5.1)
    assert cart_words(cart).code == "unloading.cart_below_tank"
    assert "unloading.cart_too_small" in codes(answer)
    moving, standing = way(answer, "moving"), way(answer, "standing")
    assert moving.unload_s is not None
    assert moving.unload_s.value == pytest.approx(63.75)
    assert moving.load_pct == pytest.approx(100 * 4.335 / 7.2)
    assert standing.load_pct == pytest.approx(100 * 5.1 / 7.2)
    # each stop empties less and docks as long: 5.1 t in 7.083 min of cutting, 30 s and 63.75 s lost
    assert standing.cutting_share_pct == pytest.approx(100 * 425 / (425 + 93.75))
    # a truck at the edge is another vehicle
    assert way(answer, "edge").load_pct == 100


def test_a_small_cart_without_a_way_is_alongside_before_the_usual_call() -> None:
    answer = ask(**ROUND, cart_capacity_t=5.1)
    assert answer.call.level_pct == pytest.approx(100 * 4.335 / 7.2)
    assert call_words(answer.call).code == "unloading.call_small_way"
    far = ask(**ROUND, cart_capacity_t=5.1, cart_arrival_min=7.0)
    assert far.call.level_pct == 0
    assert call_words(far.call).code == "unloading.call_along_small"


@pytest.mark.parametrize(
    ("capacity", "whole", "unloadings", "code"),
    [
        (7.1, 0, 1, "cart_below_tank"),
        (7.2, 1, 1, "cart_one_tank"),
        (9.0, 1, 1, "cart_one_tank"),
        # 90 % of 7.2 t when the cart is there, over 0.85: 7.62 t each
        (15.2, 2, 1, "cart_tanks"),
        (15.3, 2, 2, "cart_tanks"),
        (22.9, 3, 3, "cart_tanks"),
    ],
)
def test_after_how_many_unloadings_the_cart_leaves(capacity: float, whole: int, unloadings: int, code: str) -> None:
    answer = ask(**ROUND, cart_capacity_t=capacity, cart_arrival_min=2.0)
    cart = told(answer)
    assert (cart.whole_tanks, cart.unloadings) == (whole, unloadings)
    assert cart_words(cart).code == f"unloading.{code}"
    assert ("unloading.cart_too_small" in codes(answer)) == (whole == 0)


@seed(5)
@settings(max_examples=60, deadline=None, database=None)
@given(QUESTIONS, st.floats(0.5, 40))
def test_no_cart_runs_over(question: UnloadingQuestion, capacity_t: float) -> None:
    answer = advise_unloading(TABLE, replace(question, cart_capacity_t=capacity_t))
    cart = told(answer)
    assert cart.unloading_t <= capacity_t * (1 + 1e-9)
    assert cart.unloading_t * cart.unloadings <= capacity_t * (1 + 1e-9)
    for one in answer.ways:
        if one.code == "edge" or one.unload_s is None or one.rate_l_s is None:
            continue
        # what the auger moves in that time
        moved_t = one.rate_l_s * one.unload_s.value * 77 / 100 / 1000
        assert moved_t <= capacity_t * (1 + 1e-9)
    without = advise_unloading(TABLE, question)
    assert answer.call.level_pct <= without.call.level_pct


def told(answer: Unloading) -> CartLoad:
    assert answer.cart is not None
    return answer.cart


@pytest.mark.parametrize(
    ("capacity", "arrival", "wait", "most"),
    [
        # 0.5 t are 0.425 t or 0.59 min of cutting and 6.25 s of unloading; 10 min until it is back
        (0.5, 5.0, 10 - 0.425 / 43.2 * 60, 0.5 / (0.5 / 43.2 + (10 - 0.425 / 43.2 * 60) / 60)),
        (2.0, 2.0, 4 - 1.7 / 43.2 * 60, 2.0 / (2.0 / 43.2 + (4 - 1.7 / 43.2 * 60) / 60)),
        # a whole tank is 10 min of cutting: enough for twice 5 min, not for twice 6
        (9.0, 5.0, 0.0, 43.2),
        (9.0, 6.0, 2.0, 7.2 / 0.85 / (7.2 / 0.85 / 43.2 + 2 / 60)),
        # two tanks a load, so that it drives off half as often
        (18.0, 6.0, 2.0, 14.4 / 0.85 / (14.4 / 0.85 / 43.2 + 2 / 60)),
    ],
)
def test_one_cart_moves_no_more_than_its_way_allows(capacity: float, arrival: float, wait: float, most: float) -> None:
    answer = ask(**ROUND, cart_capacity_t=capacity, cart_arrival_min=arrival)
    cart = told(answer)
    assert (cart.away_min, cart.wait_min) == (2 * arrival, pytest.approx(wait))
    assert cart.most_t_h == pytest.approx(most)
    # twice its way and its load bound it, however the machine works
    assert cart.most_t_h is not None
    assert cart.most_t_h <= cart.capacity_t / (2 * arrival / 60)
    slow = wait > 0
    assert (answer.decision.code == "unloading.decision_cart_slow") == slow
    assert ("unloading.cart_slower_than_cut" in codes(answer)) == slow
    assert (answer.decision.code == "unloading.decision_moving") != slow


def test_a_cart_whose_way_is_not_told_has_no_wait() -> None:
    cart = told(ask(**ROUND, cart_capacity_t=0.5))
    assert (cart.away_min, cart.wait_min, cart.most_t_h) == (None, None, None)


def test_a_cart_beside_a_machine_that_stands_takes_that_time_too() -> None:
    """12 L/s are slower than 15 L/s: 12.5 min of unloading, 30 s of docking, 10 min of cutting, 2 min of waiting."""
    cart = told(ask(**ROUND | {"unloading_rate_l_s": 12.0}, cart_capacity_t=7.2, cart_arrival_min=6.0))
    assert cart.most_t_h == pytest.approx(7.2 / (10 + 0.5 + 12.5 + 2) * 60)


def test_an_auger_hardly_faster_than_the_inflow_is_not_advised_on_the_move() -> None:
    """22 L/s over 15 L/s are 1.47, below the 1.5 wanted; 22.5 L/s are not."""
    hardly = ask(**ROUND | {"unloading_rate_l_s": 22.0})
    assert hardly.decision.code == "unloading.decision_hardly"
    assert hardly.decision.params["ratio"] == 1.47
    # 30 s and 9000 L at 22 L/s
    stop = hardly.decision.params["stop"]
    assert isinstance(stop, Quantity)
    assert stop.value == pytest.approx((30 + 9000 / 22) / 60)
    assert "gain" not in hardly.decision.params
    assert "unloading.auger_hardly_faster" in codes(hardly)
    assert ask(**ROUND | {"unloading_rate_l_s": 22.6}).decision.code == "unloading.decision_moving"


@pytest.mark.parametrize(("run", "told_as"), [(177.0, "begin"), (340.0, "begin"), (360.0, None), (170.0, "longer")])
def test_an_unloading_of_most_of_a_run_is_begun_with_a_new_one(run: float, told_as: str | None) -> None:
    """105.9 s at 6 km/h are 176.5 m: begun anywhere in a run it meets the end as often as that is of the run."""
    answer = ask(**ROUND | {"unloading_rate_l_s": 100.0}, reduced_rate_pct=99.9, run_length_m=run)
    found = {one.code for one in answer.warnings if one.params.get("way") == Message("unloading.way_moving")}
    names = {"begin": {"unloading.begin_with_run"}, "longer": {"unloading.longer_than_run"}, None: set[str]()}
    assert found == names[told_as]


def test_an_empty_tank_that_calls_is_not_said_to_be_full_to_nothing() -> None:
    assert start(ask(**ROUND, cart_capacity_t=0.5, cart_arrival_min=5.0, tank_fill_pct=0.0)) == (
        "unloading.start_call_empty"
    )


def test_a_cart_that_takes_less_than_a_run_brings_cannot_wait_at_the_headland() -> None:
    headland = way(ask(**ROUND, cart_capacity_t=2.5, run_length_m=400.0), "headland")
    assert not headland.possible
    assert headland.why is not None
    # 2.5 t of 8 t/ha over 9 m are 347 m
    assert headland.why.code == "unloading.why_cart_too_small"


def test_unloading_over_more_than_a_run_is_told_for_each_rate() -> None:
    """10 290 L at 50 less 15 L/s are 294 s or 490 m, at 100 less 15 L/s 202 m."""
    answer = ask(**ROUND | {"tank_volume_l": 10290.0}, run_length_m=400.0)
    assert way(answer, "moving_reduced").distance_m == pytest.approx(490)
    assert [way(answer, code).breaks for code in ("moving", "moving_reduced")] == [0, 1]
    found = [one for one in answer.warnings if one.code == "unloading.longer_than_run"]
    assert len(found) == 1
    assert found[0].params["way"] == Message("unloading.way_moving_reduced")
    # 400 of 490 m
    assert found[0].params["level"].value == 81  # type: ignore[attr-defined]
    both = ask(**ROUND | {"tank_volume_l": 10290.0}, run_length_m=150.0)
    assert [one.code for one in both.warnings].count("unloading.longer_than_run") == 2
    assert "unloading.longer_than_run" not in codes(ask(run_length_m=600.0))


def test_short_runs_take_the_gain_of_unloading_on_the_move() -> None:
    """105.9 s or 176.5 m on runs of 100 m: one break of 30 s on 8.47 t, which are 11.76 min of cutting."""
    answer = ask(**ROUND, run_length_m=100.0)
    moving = way(answer, "moving")
    assert (moving.breaks, moving.lost_min) == (1, 0.5)
    cutting_min = 7.2 / 0.85 / 43.2 * 60
    assert moving.cutting_share_pct == pytest.approx(100 * cutting_min / (cutting_min + 0.5))
    # standing cuts 10 of 12 min
    assert moving.gain_pct == pytest.approx(100 * (cutting_min / (cutting_min + 0.5) / (10 / 12) - 1))
    assert answer.decision.code == "unloading.decision_moving"
    # eight breaks are 4 min, twice a stop
    none = ask(**ROUND, run_length_m=20.0)
    assert (way(none, "moving").breaks, none.decision.code) == (8, "unloading.decision_no_gain")
    assert way(none, "moving").gain_pct == pytest.approx(100 * (cutting_min / (cutting_min + 4) / (10 / 12) - 1))
    best = none.decision.params["best"]
    assert best == Message("unloading.way_standing")


def test_an_unusual_rate_is_doubted_and_common_practice_told() -> None:
    assumed = next(one for one in ask(unloading_rate_l_s=None).warnings if one.code == "unloading.rate_assumed")
    # as the trade has it, halved with one of two cross augers off
    assert [assumed.params[name].value for name in ("low", "high")] == [110, 180]  # type: ignore[attr-defined]
    answer = ask(unloading_rate_l_s=None)
    rate, reduced = (
        next(one for one in answer.used if one.code == code) for code in ("unloading_rate", "reduced_rate")
    )
    assert rate.proof is not None
    assert (rate.proof.known, reduced.amount.value) == ("practice", 50)
    of_class = ask(unloading_rate_l_s=None, machine_class="axial", size_band="large")
    assert "unloading.rate_of_class" in codes(of_class)
    for rate_l_s, doubted in ((400.0, True), (100.0, False), (20.0, True)):
        assert ("unloading.rate_unusual" in codes(ask(unloading_rate_l_s=rate_l_s))) == doubted
    assert "unloading.rate_unusual" in codes(
        ask(unloading_rate_l_s=60.0, machine_class="axial", size_band="very_large")
    )


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
