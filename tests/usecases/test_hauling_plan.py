"""The hauling plan: cheapest, enough, too few; formula beside simulation; costs; what is refused."""

import math
from dataclasses import replace

import pytest

from service.domain.hauling_chain import hauling_chain
from service.domain.types import Quantity
from service.errors import Contradiction, InvalidInput, OutOfRange, UnknownName
from service.knowledge.load import load_table
from service.usecases.hauling_plan import NUMBERS, plan_hauling
from service.usecases.hauling_terms import MOST_HAULERS
from service.usecases.hauling_types import Haulers, HaulingPlan, HaulingQuestion, Plan

TABLE = load_table()
PLAIN = HaulingQuestion(
    crop="wheat",
    cut_width_m=9.0,
    ground_speed_km_h=6.0,
    yield_t_ha=8.0,
    tank_volume_l=10000.0,
    unloading_rate_l_s=120.0,
    bulk_density_kg_hl=77.0,
    distance_km=6.0,
    haul_speed_km_h=30.0,
    combines=2,
    store_time_min=12.0,
    haulers=(Haulers(capacity_t=18.0),),
)
COSTS: dict[str, object] = {"cost_per_h": 350.0, "haulers": (Haulers(capacity_t=18.0, hauler_cost_per_h=75.0),)}


def ask(**change: object) -> HaulingPlan:
    return plan_hauling(TABLE, replace(PLAIN, **change))  # type: ignore[arg-type]


def codes(answer: HaulingPlan) -> set[str]:
    return {warning.code for warning in answer.warnings}


def test_the_cheapest_number_costs_least_and_its_neighbours_more() -> None:
    answer = ask(**COSTS)
    assert answer.decision.code == "haul.decision_cheapest"
    totals = [one.cost.total for one in answer.plans if one.cost is not None]
    assert len(totals) >= NUMBERS
    assert (answer.decision.params["fewest"], answer.decision.params["most"]) == (1, len(totals))
    assert answer.best.cost is not None
    assert answer.best.cost.total == min(totals)
    assert answer.flat is not None
    assert answer.flat[0] <= answer.best.haulers <= answer.flat[1]
    for one in answer.plans:
        assert one.cost is not None
        # an hour of two combines and of the haulers over what they cut in it
        assert one.cost.total == pytest.approx((2 * 350 + 75 * one.haulers) / one.grain_t_h.value)
        assert one.cost.total == pytest.approx(one.cost.combines + one.cost.haulers + one.cost.delay)


def test_dearer_haulers_are_fewer() -> None:
    cheap, dear = (
        ask(cost_per_h=350.0, haulers=(Haulers(capacity_t=18.0, hauler_cost_per_h=cost),)).best.haulers
        for cost in (5.0, 300.0)
    )
    assert dear < cheap


def test_without_costs_the_fewest_that_cut_about_as_much_as_any() -> None:
    answer = ask()
    assert answer.decision.code == "haul.decision_enough"
    most = max(one.grain_t_h.value for one in answer.plans)
    assert answer.best.grain_t_h.value >= most * 0.98
    fewer = [one for one in answer.plans if one.haulers < answer.best.haulers]
    assert all(one.grain_t_h.value < most * 0.98 for one in fewer)
    assert answer.best.cost is None
    assert answer.hour is None


def test_too_few_are_told() -> None:
    answer = ask(haulers=(Haulers(capacity_t=18.0, hauler_count=2),))
    assert [one.haulers for one in answer.plans] == [1, 2]
    assert answer.needed is None
    assert answer.decision.code == "haul.decision_all"
    assert answer.bottleneck.code == "haul.bottleneck_haulers"
    assert "haul.all_are_too_few" in codes(answer)


def test_more_than_a_plan_looks_at_is_told() -> None:
    answer = ask(combines=12, distance_km=60.0)
    assert answer.needed is None
    assert answer.plans[-1].haulers == MOST_HAULERS
    assert "haul.more_than_looked_at" in codes(answer)
    # no claim that more would not help, nor that it is the cheapest
    assert answer.decision.code == "haul.decision_most_so_far"
    priced = ask(combines=12, distance_km=60.0, **COSTS)
    assert priced.best.haulers == MOST_HAULERS
    assert priced.decision.code == "haul.decision_cheapest_so_far"
    assert priced.decision.params["most"] == MOST_HAULERS
    totals = [one.cost.total for one in priced.plans if one.cost is not None]
    assert totals[-1] < totals[-2]


@pytest.mark.parametrize("cost", [0.0, 2.0, 75.0, 400.0])
def test_only_a_number_with_dearer_neighbours_is_called_the_cheapest(cost: float) -> None:
    answer = ask(cost_per_h=350.0, haulers=(Haulers(capacity_t=18.0, hauler_cost_per_h=cost),))
    numbers = [one.haulers for one in answer.plans]
    assert numbers == list(range(numbers[0], numbers[-1] + 1))
    inside = answer.best.haulers < MOST_HAULERS
    assert answer.decision.code == f"haul.decision_cheapest{'' if inside else '_so_far'}"
    if inside:
        assert answer.best.haulers < numbers[-1]
        assert answer.best.haulers > numbers[0] or numbers[0] == 1


def test_all_that_there_are_are_not_called_enough() -> None:
    some = ask(haulers=(Haulers(capacity_t=18.0, hauler_count=4),))
    assert some.best.links.narrowest == "combines"
    assert some.decision.code == "haul.decision_all_do"
    assert some.bottleneck.code == "haul.bottleneck_combines"
    one = ask(combines=1, distance_km=0.5, store_time_min=2.0, haulers=(Haulers(capacity_t=18.0, hauler_count=1),))
    assert one.decision.code == "haul.decision_only"


@pytest.mark.parametrize(
    "haulers",
    [
        (Haulers(capacity_t=18.0, hauler_count=3),),
        (Haulers(capacity_t=24.0, hauler_count=1), Haulers(capacity_t=9.0, hauler_count=3)),
    ],
)
def test_combines_that_wait_are_not_the_bottleneck_as_they_should_be(haulers: tuple[Haulers, ...]) -> None:
    answer = ask(haulers=haulers)
    best = answer.best
    assert best.links.haulers_t_h > best.links.combines_t_h
    assert best.grain_t_h.value < 0.9 * best.links.combines_t_h
    assert (answer.decision.code, answer.bottleneck.code) == ("haul.decision_all_wait", "haul.bottleneck_uneven")
    reached = round(100 * best.grain_t_h.value / best.links.combines_t_h)
    assert answer.bottleneck.params["reached"] == Quantity(reached, "%")


def test_combines_that_stand_only_to_dock_wait_for_nobody() -> None:
    # called with the full tank each docks standing, 30 s of about twelve minutes
    answer = ask(call_level_pct=100.0, time_variation_pct=0.0, haulers=(Haulers(capacity_t=18.0, hauler_count=12),))
    last = answer.plans[-1]
    assert last.grain_t_h.value < 0.97 * last.links.combines_t_h
    assert answer.bottleneck.code == "haul.bottleneck_combines"


def test_field_efficiency_is_that_of_turning_times_cutting() -> None:
    for one in ask(run_length_m=400.0, turn_time_s=30.0).plans:
        # 240 s a run, 30 s a turn
        assert one.field_efficiency_pct == pytest.approx(240 / 270 * one.cutting_share_pct.value)
        assert one.area_rate_ha_h == pytest.approx(2 * 5.4 * one.field_efficiency_pct / 100)


ONE_TANK: dict[str, object] = {
    "haulers": (Haulers(capacity_t=7.7),),
    "unloading": "standing",
    "distance_km": 0.0,
    "store_time_min": 20.0,
    "docking_s": 0.0,
}


EXPONENTIAL: dict[str, object] = {"time_variation_pct": 100.0, "call_level_pct": 100.0}


def most_t_h(plan: Plan) -> float:
    links = plan.links
    return min(links.combines_t_h, links.haulers_t_h, math.inf if links.store_t_h is None else links.store_t_h)


@pytest.mark.parametrize(
    "change", [{}, {"combines": 1}, {"haulers": (Haulers(capacity_t=4.0),), "store_time_min": 9.0}]
)
def test_where_formula_and_simulation_take_the_same_they_agree(change: dict[str, object]) -> None:
    answer = ask(**ONE_TANK | EXPONENTIAL | change)
    assert answer.formula.code == "haul.formula_agrees"
    assert answer.formula_proof.sources[0].id == "management-science-waiting-lines"
    inside = [
        one.cutting_share_pct.low <= one.exact.cutting_share_pct <= one.cutting_share_pct.high
        for one in answer.plans
        if one.exact is not None
    ]
    assert len(inside) == len(answer.plans)
    # each is a 95 % interval, and all rest on the same draws
    assert sum(inside) >= len(inside) - 1


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"docking_s": 1.0}, "close"),
        ({"cart_distance_m": 10.0}, "close"),
        ({"distance_km": 0.1}, "close"),
        ({"unloading": "moving"}, "close"),
        ({"time_variation_pct": 99.0}, "applies"),
        ({"call_level_pct": 99.0}, "applies"),
    ],
)
def test_the_formula_is_told_as_agreeing_only_where_both_take_the_same(change: dict[str, object], code: str) -> None:
    assert ask(**ONE_TANK | EXPONENTIAL | change).formula.code == f"haul.formula_{code}"


CLOSE = [
    # docking alone, a way in the field, both; haulers of a tank and of a part of one; the last row is all defaults
    {"combines": 1, "cart_distance_m": 1000.0, "unloading": "standing"},
    {"combines": 1, "cart_distance_m": 400.0, "unloading": "moving"},
    {"combines": 2, "cart_distance_m": 400.0, "unloading": "moving", "docking_s": 0.0},
    {"combines": 2, "cart_distance_m": 1000.0, "unloading": "standing", "haulers": (Haulers(capacity_t=5.0),)},
    {"combines": 2, "cart_distance_m": 400.0, "unloading": "moving", "haulers": (Haulers(capacity_t=5.0),)},
    {"combines": 3, "unloading": "standing"},
    {"combines": 2, "unloading": "moving"},
]


@pytest.mark.parametrize("change", CLOSE)
def test_with_docking_and_a_way_formula_and_simulation_lie_as_close_as_told(change: dict[str, object]) -> None:
    near = {"haulers": (Haulers(capacity_t=8.0),), "distance_km": 0.6, "haul_speed_km_h": 12.0, "store_time_min": 4.0}
    answer = ask(**near | EXPONENTIAL | change)
    assert answer.formula.code == "haul.formula_close"
    within = answer.formula.params["within"]
    assert isinstance(within, Quantity)
    # one sample of a single hauler is itself no surer than this
    assert within == Quantity(10.0, "%")
    for one in answer.plans:
        assert one.exact is not None
        assert one.exact.grain_t_h == pytest.approx(one.grain_t_h.value, rel=within.value / 100)
        assert one.exact.grain_t_h <= most_t_h(one) * (1 + 1e-9)
        assert one.grain_t_h.high <= most_t_h(one)


def test_the_formula_never_tells_more_than_a_link_can_move() -> None:
    """Haulers of 2 t: each docks for 30 s with a small load, so that 14 of them move 51.1 t/h at most."""
    answer = ask(haulers=(Haulers(capacity_t=2.0),), store_time_min=8.0)
    first = answer.plans[0]
    assert first.haulers == 14
    # 0.5 min docking, 2 t at 120 L/s of 77 kg/hL, 24 min of way, 8 min at the store
    assert first.links.haulers_t_h == pytest.approx(14 * 2 / ((0.5 + 2000 / 92.4 / 60 + 24 + 8) / 60))
    for one in answer.plans:
        assert one.exact is not None
        assert one.exact.grain_t_h <= most_t_h(one) * (1 + 1e-9)
        assert one.exact.cutting_share_pct == pytest.approx(100 * one.exact.grain_t_h / (2 * 43.2 * 0.85))


@pytest.mark.parametrize("unloading", ["moving", "standing"])
def test_the_formula_counts_docking_and_the_way_in_the_field_as_standing(unloading: str) -> None:
    """One combine, one hauler: a tank takes the longer of filling and way away, then cart way, docking, emptying."""
    answer = ask(
        **EXPONENTIAL | {"combines": 1, "haulers": (Haulers(capacity_t=8.0, hauler_count=1),)},
        unloading=unloading,
        cart_distance_m=1000.0,
        distance_km=0.6,
        haul_speed_km_h=12.0,
        store_time_min=4.0,
    )
    exact = answer.plans[0].exact
    assert exact is not None
    flow, auger = 43.2 * 0.85, 120 * 0.77 * 3.6
    emptying = 7.7 / (auger - flow if unloading == "moving" else auger)
    payload = min(8.0, emptying * auger)
    part = payload / (emptying * auger)
    fill, away, way = 7.7 / flow * part, 10 / 60, 1 / 12
    longer = fill + away - 1 / (1 / fill + 1 / away)
    cycle = longer + way + 30 / 3600 + emptying * part
    assert exact.grain_t_h == pytest.approx(payload / cycle)
    assert exact.wait_min == pytest.approx(60 * (longer - fill + way))


def test_no_output_is_told_that_the_store_cannot_take_in() -> None:
    answer = ask(store_time_min=3.0, store_rate_t_h=50.0, store_places=1)
    # two tanks of 7.7 t, with what is cut meanwhile, in 3 min and at 50 t/h
    load = 2 * 7.7 / (1 - 43.2 * 0.85 / (120 * 0.77 * 3.6))
    store = load / (3 / 60 + load / 50)
    assert {one.links.narrowest for one in answer.plans} == {"haulers", "store"}
    for one in answer.plans:
        assert one.links.store_t_h == pytest.approx(store)
        assert one.grain_t_h.high <= store * (1 + 1e-12)
        assert one.area_rate_ha_h * 8 <= most_t_h(one) * (1 + 1e-12)


def test_the_formula_is_that_of_the_chain() -> None:
    answer = ask(**ONE_TANK)
    assert answer.formula.code == "haul.formula_applies"
    assert ask(**ONE_TANK, time_variation_pct=100.0).formula.code == "haul.formula_applies"
    for one in answer.plans:
        assert one.exact is not None
        # 7.7 t at 43.2 t/h and 85 %, 120 L/s, 20 min away
        chain = hauling_chain(2, one.haulers, 7.7 / (43.2 * 0.85), 10000 / 120 / 3600, 20 / 60)
        assert one.exact.cutting_share_pct == pytest.approx(100 * chain.filling_share)


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({}, "haul.formula_several_tanks"),
        ({"haulers": (Haulers(capacity_t=8.0, hauler_count=1), Haulers(capacity_t=9.0))}, "haul.formula_mixed"),
        (ONE_TANK | {"store_places": 1}, "haul.formula_store"),
    ],
)
def test_where_no_formula_reaches_the_simulation_goes_on(change: dict[str, object], code: str) -> None:
    answer = ask(**change)
    assert answer.formula.code == code
    assert answer.plans[-1].exact is None
    assert all(one.grain_t_h.value > 0 for one in answer.plans)


def test_a_narrow_store_is_the_bottleneck_and_more_haulers_do_not_help() -> None:
    answer = ask(store_places=1, store_time_min=24.0, combines=3)
    last = answer.plans[-1]
    assert last.links.narrowest == "store"
    # a load of 18 t every 24 min, less where the last tank does not fit
    assert last.grain_t_h.value == pytest.approx(last.links.store_t_h, rel=0.06)
    assert (last.store_use_pct or 0) > 95
    assert (last.store_wait_min or 0) > 10
    wide = ask(store_time_min=24.0, combines=3).plans[-1]
    assert wide.grain_t_h.value > last.grain_t_h.value * 1.2
    assert wide.store_use_pct is None


def test_one_combine_more_needs_more_haulers() -> None:
    needed = [ask(combines=count).needed or 0 for count in (1, 2, 4)]
    assert needed == sorted(needed)
    assert needed[0] < needed[2]


def test_small_haulers_take_a_part_of_a_tank() -> None:
    answer = ask(haulers=(Haulers(capacity_t=4.0),), distance_km=1.0, store_time_min=3.0)
    assert answer.round.unloadings == 1
    assert answer.round.payload_t == 4
    assert "haul.holds_less_than_a_tank" in codes(answer)


def test_the_cost_of_an_hour_is_that_of_the_working_speed() -> None:
    answer = ask(
        haulers=(Haulers(capacity_t=18.0, hauler_cost_per_h=75.0),),
        machine_class="hybrid",
        list_price=420000.0,
        machine_age_years=5.0,
        hours_per_year=250.0,
        wage_per_h=25.0,
        fuel_price_per_l=1.1,
        area_left_ha=120.0,
        hours_per_day=9.0,
        price_per_t=200.0,
    )
    assert answer.hour is not None
    assert answer.hour.origin == "computed"
    assert answer.hour.delay_per_h > 0
    best = answer.best
    assert best.cost is not None
    assert best.cost.combines == pytest.approx(2 * answer.hour.machine_per_h / best.grain_t_h.value)
    assert best.cost.delay == pytest.approx(answer.hour.delay_per_h / best.grain_t_h.value)
    assert best.hours_on_area == pytest.approx(120 / best.area_rate_ha_h)


def test_the_same_question_has_the_same_answer() -> None:
    assert ask(**COSTS) == ask(**COSTS)


def test_haulers_join_in_the_order_of_the_list() -> None:
    kinds = (Haulers(capacity_t=24.0, hauler_count=1), Haulers(capacity_bu=400.0, hauler_count=2))
    capacities = [one.capacity_t for one in ask(haulers=kinds).plans]
    bushels = 400 * 60 * 0.45359237 / 1000
    assert capacities == pytest.approx([24, 24 + bushels, 24 + 2 * bushels])


def test_an_intake_rate_counts_by_the_load() -> None:
    answer = ask(store_time_min=5.0, store_rate_t_h=60.0, haulers=(Haulers(capacity_t=7.7),))
    assert answer.round.store_min == pytest.approx(5 + answer.round.payload_t)
    bushels = ask(store_time_min=None, store_rate_bu_h=1000.0, haulers=(Haulers(capacity_t=7.7),))
    assert bushels.round.store_min == pytest.approx(bushels.round.payload_t / (60 * 0.45359237) * 60, rel=1e-6)


@pytest.mark.parametrize(
    ("change", "error", "field"),
    [
        ({"crop": "weat"}, UnknownName, "crop"),
        ({"revision": "1999.1.1"}, UnknownName, "revision"),
        ({"store_time_min": None}, InvalidInput, "store_time_min"),
        ({"store_rate_t_h": 60.0, "store_rate_bu_h": 2000.0}, Contradiction, "store_rate_t_h"),
        ({"unloading_rate_l_s": 12.0}, OutOfRange, "unloading_rate_l_s"),
        ({"haulers": (Haulers(),)}, InvalidInput, "haulers.0.capacity_t"),
        ({"haulers": (Haulers(capacity_t=9.0, capacity_bu=300.0),)}, Contradiction, "haulers.0.capacity_t"),
        (
            {"haulers": (Haulers(capacity_t=9.0), Haulers(capacity_t=18.0))},
            InvalidInput,
            "haulers.0.hauler_count",
        ),
        (
            {"haulers": (Haulers(capacity_t=9.0, hauler_count=15), Haulers(capacity_t=18.0, hauler_count=6))},
            OutOfRange,
            "haulers",
        ),
        ({"cost_per_h": 350.0}, InvalidInput, "haulers.0.hauler_cost_per_h"),
        ({"haulers": (Haulers(capacity_t=18.0, hauler_cost_per_h=75.0),)}, InvalidInput, "cost_per_h"),
        (COSTS | {"list_price": 400000.0}, Contradiction, "cost_per_h"),
        (COSTS | {"price_per_t": 200.0}, InvalidInput, "price_per_t"),
        (COSTS | {"area_left_ha": 100.0, "hours_per_day": 9.0}, InvalidInput, "price_per_t"),
        (COSTS | {"area_left_ha": 100.0, "price_per_t": 200.0}, InvalidInput, "hours_per_day"),
        ({"area_left_ha": 100.0, "price_per_t": 200.0}, InvalidInput, "price_per_t"),
        ({"hours_per_day": 9.0}, InvalidInput, "hours_per_day"),
        ({"delay_loss_pct_per_day": 1.0}, InvalidInput, "delay_loss_pct_per_day"),
        (
            {"field_efficiency_pct": 80.0, "run_length_m": 400.0, "turn_time_s": 20.0},
            Contradiction,
            "field_efficiency_pct",
        ),
        ({"run_length_m": 400.0}, InvalidInput, "turn_time_s"),
        ({"turn_time_s": 20.0}, InvalidInput, "turn_time_s"),
        ({"cart_speed_km_h": 12.0}, InvalidInput, "cart_speed_km_h"),
    ],
)
def test_what_cannot_be_is_refused(change: dict[str, object], error: type[InvalidInput], field: str) -> None:
    with pytest.raises(error) as refused:
        ask(**change)
    assert type(refused.value) is error
    assert refused.value.field == field
