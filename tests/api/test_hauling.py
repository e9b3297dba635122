"""POST /v1/unloading and /v1/hauling-plan: JSON or SVG, both unit systems, refusals under the caller's names."""

import math
import time
from typing import Any
from xml.etree import ElementTree

import pytest
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st
from starlette.requests import Request

from service.api.draw_hauling import draw_unloading
from service.api.examples_hauling import HAULING_PLAN, UNLOADING
from service.api.limits import LIMITS, TWINS
from service.api.reader import Reader
from service.api.requests_hauling import HaulerRequest, HaulingPlanRequest, UnloadingRequest
from service.knowledge.load import load_table
from service.usecases.unloading import advise_unloading
from service.usecases.unloading_types import UnloadingQuestion

TANK, PLAN = "/v1/unloading", "/v1/hauling-plan"
CASES = [
    *(pytest.param(TANK, case["value"], id=name) for name, case in UNLOADING.items()),
    *(pytest.param(PLAN, case["value"], id=name) for name, case in HAULING_PLAN.items()),
]
CART: dict[str, Any] = UNLOADING["wheat, cart 400 m away"]["value"]
TRUCKS: dict[str, Any] = HAULING_PLAN["wheat, two combines, store with one pit"]["value"]
MIXED: dict[str, Any] = HAULING_PLAN["maize, mixed trucks in bushels"]["value"]
SVG = {"accept": "image/svg+xml"}
TEXT = "{http://www.w3.org/2000/svg}text"


def without(body: dict[str, Any], *names: str) -> dict[str, Any]:
    return {name: value for name, value in body.items() if name not in names}


@pytest.mark.parametrize(("url", "body"), CASES)
@pytest.mark.parametrize(("lang", "units"), [("en", "us"), ("de", "metric")])
def test_an_example_is_answered_and_drawn(url: str, body: dict[str, Any], lang: str, units: str, ask: Any) -> None:
    url = f"{url}?lang={lang}&units={units}"
    written, drawing = ask("POST", url, json=body), ask("POST", url, json=body, headers=SVG)
    assert written.status_code == drawing.status_code == 200, written.text[:300]
    assert drawing.headers["content-type"] == "image/svg+xml"
    root = ElementTree.fromstring(drawing.content)
    assert root.get("{http://www.w3.org/XML/1998/namespace}lang") == lang
    said = root.find("{http://www.w3.org/2000/svg}desc")
    assert said is not None
    assert said.text == written.json()["decision"]["text"]
    area = {"us": "ac", "metric": "ha"}[units]
    assert any(area in (element.text or "") for element in root.iter(TEXT))
    for answer in (written, drawing):
        assert answer.headers["content-language"] == lang
        assert answer.headers["cache-control"] == "no-store"


@pytest.mark.parametrize(("url", "body"), [(TANK, CART), (PLAN, TRUCKS)])
def test_the_same_request_has_the_same_bytes(url: str, body: dict[str, Any], ask: Any) -> None:
    for headers in ({}, SVG):
        one, other = (ask("POST", url, json=body, headers=headers).content for _ in range(2))
        assert one == other


def test_a_plan_takes_a_bounded_time(ask: Any) -> None:
    """The largest question: every link near every other, twelve combines, twenty haulers of four kinds."""
    body = TRUCKS | {
        "combines": 12,
        "haulers": [{"capacity_t": size, "hauler_count": 5, "hauler_cost_per_h": 70.0} for size in (30, 24, 18, 12)],
        "distance_km": 25.0,
        "store_places": 6,
    }
    begun = time.process_time()
    assert ask("POST", PLAN, json=body).status_code == 200
    # processor time, so that a busy machine does not count; about half a second where it was measured
    assert time.process_time() - begun < 3


def test_a_drawn_plan_shows_what_it_knows(ask: Any) -> None:
    def labels(body: dict[str, Any]) -> set[str]:
        root = ElementTree.fromstring(ask("POST", PLAN, json=body, headers=SVG).content)
        return {element.text or "" for element in root.iter(TEXT)}

    priced = labels(TRUCKS)
    assert {"Cost per tonne, EUR", "store never idle", "store taking grain in", "advised"} <= priced
    assert "delay" not in priced
    plain = labels(HAULING_PLAN["carts to trucks at the edge of the field"]["value"])
    assert "formula, exponential times" in plain
    assert not any(label.startswith("Cost") for label in plain)
    assert "store taking grain in" not in plain


def test_the_example_where_both_take_the_same_agrees(ask: Any) -> None:
    answer = ask("POST", PLAN, json=HAULING_PLAN["formula and simulation take the same"]["value"]).json()
    assert answer["formula"]["code"] == "haul.formula_agrees"
    inside = [
        one["cutting_share"]["low"] <= one["exact"]["cutting_share"]["value"] <= one["cutting_share"]["high"]
        for one in answer["plans"]
    ]
    # 95 % intervals on the same draws
    assert len(inside) >= 7
    assert sum(inside) >= len(inside) - 1


def test_money_is_counted_as_the_reader_counts(ask: Any) -> None:
    metric, us = (ask("POST", f"{PLAN}?units={units}", json=TRUCKS).json() for units in ("metric", "us"))
    for one, other in zip(metric["plans"], us["plans"], strict=True):
        assert one["cost"]["total"]["unit"] == "{EUR}/t"
        assert other["cost"]["total"]["unit"] == "{EUR}/[bu_us]"
        # a legal bushel of wheat is 60 lb
        bushel_t = 60 * 0.45359237 / 1000
        assert other["cost"]["total"]["value"] == pytest.approx(one["cost"]["total"]["value"] * bushel_t, abs=2e-4)
        assert one["haulers"] == other["haulers"]


def test_grain_is_counted_in_bushels_where_the_reader_and_the_crop_have_them(ask: Any) -> None:
    """A legal bushel of wheat is 60 lb or 27.2155422 kg; 9000 L of 80 kg/hL are 7.2 t, 9 m at 6 km/h 43.2 t/h."""
    body = CART | {"tank_volume_l": 9000.0, "bulk_density_kg_hl": 80.0}
    body = without(body, "grain_moisture_pct", "run_length_m", "turn_time_s") | {"cart_capacity_t": 5.0}
    us = ask("POST", f"{TANK}?units=us", json=body).json()
    assert us["filling"]["tank"] == {"value": round(7200 / 27.2155422, 1), "unit": "[bu_us]"}
    assert us["filling"]["grain_throughput"] == {"value": round(43200 / 27.2155422), "unit": "[bu_us]/h"}
    assert us["cart"]["capacity"] == {"value": round(5000 / 27.2155422, 1), "unit": "[bu_us]"}
    assert us["ways"][0]["grain_rate"]["unit"] == "[bu_us]/h"
    small = next(one for one in us["warnings"] if one["code"] == "unloading.cart_too_small")
    assert small["params"]["tank"] == us["filling"]["tank"]
    assert "264.6 bu" in small["text"]
    metric = ask("POST", TANK, json=body).json()
    assert metric["filling"]["tank"] == {"value": 7.2, "unit": "t"}
    plan = ask("POST", f"{PLAN}?units=us", json=TRUCKS).json()
    told = [plan["tank"], plan["round"]["payload"], plan["best"]["capacity"]]
    rates = [plan["best"]["grain_rate"], plan["best"]["links"]["combines"], plan["best"]["links"]["store"]]
    assert {one["unit"] for one in told} == {"[bu_us]"}
    assert {one["unit"] for one in rates} == {"[bu_us]/h"}
    assert plan["best"]["capacity"]["value"] == pytest.approx(plan["best"]["haulers"] * 18000 / 27.2155422, abs=0.06)


@pytest.mark.parametrize(("arrival", "level"), [(2.0, 90.0), (0.0, 90.0), (30.0, 100.0), (None, 100.0)])
def test_the_chart_begins_on_the_move_with_the_reserve_that_the_call_leaves(
    arrival: float | None, level: float
) -> None:
    table = load_table()
    question = UnloadingQuestion(
        crop="wheat",
        cut_width_m=9.0,
        ground_speed_km_h=6.0,
        yield_t_ha=8.0,
        tank_volume_l=9000.0,
        unloading_rate_l_s=100.0,
        bulk_density_kg_hl=80.0,
        cart_arrival_min=arrival,
    )
    reader = Reader(Request({"type": "http"}), table, "en", "metric", None)
    tank = draw_unloading(advise_unloading(table, question), reader).panels[0]
    moving, standing = (max(y for _, y in row.points) for row in tank.series[:2])
    assert (moving, standing) == (pytest.approx(level), 100.0)
    full_min, _ = next(point for point in tank.series[0].points if point[1] == pytest.approx(level))
    # 10 min a tank; 90 % of 9000 L at 100 less 15 L/s
    assert full_min == pytest.approx(level / 10)
    assert tank.series[0].points[3][0] == pytest.approx(level / 10 + level * 90 / 85 / 60)


def test_a_field_and_its_twin_give_the_same_answer(ask: Any) -> None:
    # 1 ft = 0.3048 m, 1 mi = 1.609344 km, 1 gal = 3.785411784 L, 1 lb = 0.45359237 kg
    us = without(CART, "cut_width_m", "ground_speed_km_h", "tank_volume_l", "cart_distance_m", "cart_capacity_t") | {
        "cut_width_ft": 9 / 0.3048,
        "ground_speed_mph": 6 / 1.609344,
        "tank_volume_gal": 10000 / 3.785411784,
        "cart_distance_ft": 400 / 0.3048,
        "cart_capacity_lb": 20000 / 0.45359237,
    }
    assert ask("POST", TANK, json=us).json() == ask("POST", TANK, json=CART).json()
    far = without(TRUCKS, "distance_km", "haul_speed_km_h", "haulers") | {
        "distance_mi": 6 / 1.609344,
        "haul_speed_mph": 30 / 1.609344,
        "haulers": [{"capacity_lb": 18000 / 0.45359237, "hauler_cost_per_h": 75.0}],
    }
    assert ask("POST", PLAN, json=far).json() == ask("POST", PLAN, json=TRUCKS).json()


REFUSED: list[tuple[str, dict[str, Any], list[str], str]] = [
    (TANK, CART | {"cart_arrival_min": 3.0}, ["/cart_arrival_min", "/cart_distance_m"], "contradiction"),
    (
        TANK,
        without(CART, "cart_distance_m") | {"cart_arrival_min": 3.0, "cart_speed_mph": 8.0},
        ["/cart_arrival_min", "/cart_speed_mph"],
        "contradiction",
    ),
    (TANK, CART | {"cart_distance_ft": 900.0}, ["/cart_distance_ft", "/cart_distance_m"], "contradiction"),
    (TANK, CART | {"cart_capacity_bu": 700.0}, ["/cart_capacity_bu", "/cart_capacity_t"], "contradiction"),
    (TANK, CART | {"yield_bu_ac": 100.0}, ["/yield_bu_ac", "/yield_t_ha"], "contradiction"),
    (TANK, CART | {"edge_speed_mph": 8.0}, ["/edge_speed_mph"], "invalid_input"),
    (TANK, without(CART, "run_length_m"), ["/turn_time_s"], "invalid_input"),
    (TANK, without(CART, "tank_volume_l"), ["/tank_volume_l"], "invalid_input"),
    (TANK, without(CART, "cut_width_m"), ["/cut_width_m"], "invalid_input"),
    (TANK, without(CART, "ground_speed_km_h"), ["/ground_speed_km_h"], "invalid_input"),
    (TANK, without(CART, "yield_t_ha"), ["/yield_t_ha"], "invalid_input"),
    (TANK, CART | {"grain_moisture_pct": 40.0}, ["/grain_moisture_pct"], "outside_window"),
    (TANK, CART | {"machine_class": "axle"}, ["/machine_class"], "unknown_name"),
    (TANK, CART | {"size_band": "large"}, ["/machine_class"], "invalid_input"),
    (TANK, CART | {"tank_fill_pct": 101.0}, ["/tank_fill_pct"], "out_of_range"),
    (TANK, CART | {"combines": 2}, ["/combines"], "unknown_field"),
    (PLAN, TRUCKS | {"haulers": []}, ["/haulers"], "wrong_length"),
    (PLAN, TRUCKS | {"haulers": [{"hauler_cost_per_h": 75.0}]}, ["/haulers/0/capacity_t"], "invalid_input"),
    (
        PLAN,
        TRUCKS | {"haulers": [{"capacity_lb": 9000.0, "capacity_bu": 300.0, "hauler_cost_per_h": 75.0}]},
        ["/haulers/0/capacity_bu", "/haulers/0/capacity_lb"],
        "contradiction",
    ),
    (PLAN, TRUCKS | {"haulers": [{"capacity_t": 18.0}]}, ["/haulers/0/hauler_cost_per_h"], "invalid_input"),
    (
        PLAN,
        MIXED | {"haulers": [without(MIXED["haulers"][0], "hauler_count"), MIXED["haulers"][1]]},
        ["/haulers/0/hauler_count"],
        "invalid_input",
    ),
    (
        PLAN,
        TRUCKS | {"haulers": [{"capacity_t": 18.0, "hauler_count": 0}]},
        ["/haulers/0/hauler_count"],
        "out_of_range",
    ),
    (PLAN, without(TRUCKS, "cost_per_h"), ["/cost_per_h"], "invalid_input"),
    (PLAN, TRUCKS | {"wage_per_h": 30.0}, ["/cost_per_h", "/wage_per_h"], "contradiction"),
    (PLAN, TRUCKS | {"price_per_bu": 5.0}, ["/price_per_bu"], "invalid_input"),
    (PLAN, TRUCKS | {"combines": 13}, ["/combines"], "out_of_range"),
    (PLAN, TRUCKS | {"combines": 1.5}, ["/combines"], "wrong_type"),
    (PLAN, without(TRUCKS, "distance_km"), ["/distance_km"], "invalid_input"),
    (PLAN, without(TRUCKS, "haul_speed_km_h"), ["/haul_speed_km_h"], "invalid_input"),
    (PLAN, without(TRUCKS, "store_time_min", "store_rate_t_h"), ["/store_time_min"], "invalid_input"),
    (PLAN, TRUCKS | {"store_rate_bu_h": 4000.0}, ["/store_rate_bu_h", "/store_rate_t_h"], "contradiction"),
    (PLAN, TRUCKS | {"unloading_rate_l_s": 10.0}, ["/unloading_rate_l_s"], "out_of_range"),
    (PLAN, TRUCKS | {"unloading": "flying"}, ["/unloading"], "unknown_name"),
    (PLAN, TRUCKS | {"run_length_ft": 900.0}, ["/field_efficiency_pct", "/run_length_ft"], "contradiction"),
    (PLAN, without(TRUCKS, "cart_distance_m") | {"cart_speed_mph": 8.0}, ["/cart_speed_mph"], "invalid_input"),
    (PLAN, TRUCKS | {"call_level_pct": 0.75}, ["/call_level_pct"], "out_of_range"),
]


@pytest.mark.parametrize(("url", "body", "pointers", "code"), REFUSED, ids=lambda value: str(value)[-50:])
@pytest.mark.parametrize("lang", ["en", "de"])
def test_a_refusal_names_the_field_that_the_caller_wrote(
    url: str, body: dict[str, Any], pointers: list[str], code: str, lang: str, ask: Any, refused: Any
) -> None:
    problem = refused(ask("POST", f"{url}?lang={lang}", json=body), 422)
    assert sorted(item["pointer"] for item in problem["errors"]) == sorted(pointers)
    assert problem["code"] == code


def test_a_fraction_for_a_percent_is_told_with_the_percent_that_was_meant(ask: Any, refused: Any) -> None:
    problem = refused(ask("POST", PLAN, json=TRUCKS | {"call_level_pct": 0.75}), 422)
    assert problem["errors"][0]["suggested"] == 75.0


def test_a_slow_auger_is_refused_with_what_flows_in(ask: Any, refused: Any) -> None:
    problem = refused(ask("POST", f"{PLAN}?units=us", json=TRUCKS | {"unloading_rate_l_s": 10.0}), 422)
    # 43.2 t/h times 0.85 of 77 kg/hL are 13.25 L/s
    assert problem["errors"][0]["low"] == pytest.approx(13.25, abs=0.01)
    assert "standing" in problem["errors"][0]["detail"]


@pytest.mark.parametrize("model", [UnloadingRequest, HaulingPlanRequest, HaulerRequest])
def test_every_number_of_a_request_has_a_limit(model: type[Any]) -> None:
    text = {"crop", "machine_class", "size_band", "unloading", "haulers", "currency", "hours_counted", "delay_timing"}
    assert set(model.model_fields) - text <= set(LIMITS) | {"yield_bu_ac", "price_per_bu"}


@pytest.mark.parametrize("name", sorted(name for name in TWINS if name in UnloadingRequest.model_fields))
def test_a_field_and_its_twin_exclude_each_other(name: str, ask: Any, refused: Any) -> None:
    metric = TWINS[name].metric
    family = {metric, *(other for other, twin in TWINS.items() if twin.metric == metric)}
    body = {field: value for field, value in CART.items() if field not in family}
    problem = refused(ask("POST", TANK, json=body | {field: LIMITS[field].high / 2 for field in (metric, name)}), 422)
    assert problem["code"] == "contradiction"
    assert {item["pointer"] for item in problem["errors"]} == {f"/{metric}", f"/{name}"}


@pytest.mark.parametrize("name", sorted(name for name in TWINS if name in HaulerRequest.model_fields))
def test_a_field_of_a_hauler_and_its_twin_exclude_each_other(name: str, ask: Any, refused: Any) -> None:
    both = {"capacity_t": 18.0, name: 700.0, "hauler_cost_per_h": 75.0}
    problem = refused(ask("POST", PLAN, json=TRUCKS | {"haulers": [both]}), 422)
    assert problem["code"] == "contradiction"
    assert {item["pointer"] for item in problem["errors"]} == {"/haulers/0/capacity_t", f"/haulers/0/{name}"}


def number(field: str) -> st.SearchStrategy[float]:
    limit = LIMITS[field]
    return st.one_of(st.floats(limit.low, limit.high), st.sampled_from([limit.low, limit.high]))


def some_of(*fields: str) -> dict[str, st.SearchStrategy[float]]:
    return {field: number(field) for field in fields}


NEEDED = some_of("cut_width_m", "ground_speed_km_h", "yield_t_ha", "tank_volume_l")
CROP = {"crop": st.sampled_from(["wheat", "maize", "flax", "field_pea"])}
MAY = some_of("unloading_rate_l_s", "bulk_density_kg_hl", "docking_s", "cart_distance_m")
UNLOADINGS = st.fixed_dictionaries(
    {**CROP, **NEEDED},
    optional=MAY | some_of("tank_fill_pct", "reduced_rate_pct", "cart_capacity_t", "run_length_m", "edge_distance_m"),
)
HAULER = st.fixed_dictionaries(
    some_of("capacity_t"),
    optional={"hauler_count": st.integers(1, 4), "hauler_cost_per_h": st.floats(0, 200)},
)
PLANS = st.fixed_dictionaries(
    {
        **CROP,
        **NEEDED,
        **some_of("distance_km", "haul_speed_km_h", "store_time_min"),
        "haulers": st.lists(HAULER, min_size=1, max_size=3),
        "combines": st.integers(1, 12),
        "unloading": st.sampled_from(["moving", "standing"]),
    },
    optional=MAY
    | some_of("call_level_pct", "field_efficiency_pct", "store_rate_t_h", "time_variation_pct", "cost_per_h")
    | {"store_places": st.integers(1, 5)},
)
FUZZ = settings(deadline=None, database=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


def amounts(node: Any) -> Any:
    if isinstance(node, dict):
        yield from ([node] if isinstance(node.get("unit"), str) else [])
        for inner in node.values():
            yield from amounts(inner)
    elif isinstance(node, list):
        for inner in node:
            yield from amounts(inner)


@seed(3)
@settings(FUZZ, max_examples=50)
@given(question=UNLOADINGS, units=st.sampled_from(["metric", "us"]))
def test_any_tank_is_answered_and_drawn_or_refused(
    question: dict[str, Any], units: str, ask: Any, refused: Any
) -> None:
    answer = ask("POST", f"{TANK}?units={units}", json=question)
    drawing = ask("POST", f"{TANK}?units={units}", json=question, headers=SVG)
    if answer.status_code != 200:
        assert refused(answer, 422)["errors"]
        refused(drawing, 422)
        return
    assert all(math.isfinite(one["value"]) for one in amounts(answer.json()))
    ElementTree.fromstring(drawing.content)


@seed(4)
@settings(FUZZ, max_examples=20)
@given(question=PLANS, units=st.sampled_from(["metric", "us"]))
def test_any_plan_is_answered_or_refused(question: dict[str, Any], units: str, ask: Any, refused: Any) -> None:
    answer = ask("POST", f"{PLAN}?units={units}", json=question)
    if answer.status_code != 200:
        assert refused(answer, 422)["errors"]
        return
    body = answer.json()
    assert all(math.isfinite(one["value"]) for one in amounts(body))
    for plan in body["plans"]:
        assert 0 <= plan["cutting_share"]["value"] <= 100
        assert 0 <= plan["hauler_use"]["value"] <= 100
        assert plan["grain_rate"]["value"] <= plan["links"]["combines"]["value"] * 1.25 + 0.1
