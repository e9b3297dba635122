"""POST /v1/working-speed: JSON or SVG, both unit systems, refusals under the names that the caller wrote."""

import math
from typing import Any
from xml.etree import ElementTree

import pytest
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st

from service.api.drawn_route import wants_svg
from service.api.examples_speed import WORKING_SPEED
from service.api.limits import LIMITS, TWINS
from service.api.requests_speed import DropTestRequest, WorkingSpeedRequest
from service.units import convert

URL = "/v1/working-speed"
BODIES = [pytest.param(case["value"], id=name) for name, case in WORKING_SPEED.items()]
CANOLA: dict[str, Any] = WORKING_SPEED["canola, two speeds"]["value"]
WHEAT: dict[str, Any] = WORKING_SPEED["wheat, five speeds"]["value"]
SVG = {"accept": "image/svg+xml"}


def without(body: dict[str, Any], *names: str) -> dict[str, Any]:
    return {name: value for name, value in body.items() if name not in names}


@pytest.mark.parametrize("body", BODIES)
@pytest.mark.parametrize("lang", ["en", "de"])
@pytest.mark.parametrize("units", ["metric", "us"])
def test_an_example_is_answered_and_drawn(body: dict[str, Any], lang: str, units: str, ask: Any) -> None:
    url = f"{URL}?lang={lang}&units={units}"
    written = ask("POST", url, json=body)
    drawing = ask("POST", url, json=body, headers=SVG)
    assert written.status_code == drawing.status_code == 200, written.text[:300]
    assert drawing.headers["content-type"] == "image/svg+xml"
    for answer in (written, drawing):
        assert answer.headers["content-language"] == lang
        assert answer.headers["cache-control"] == "no-store"
        assert "Accept," in answer.headers["vary"]
    root = ElementTree.fromstring(drawing.content)
    assert root.get("{http://www.w3.org/XML/1998/namespace}lang") == lang
    speed = "mph" if units == "us" else "km/h"
    assert any(speed in (element.text or "") for element in root.iter("{http://www.w3.org/2000/svg}text"))
    assert ask("POST", url, json=body, headers=SVG).content == drawing.content


@pytest.mark.parametrize(
    ("accept", "svg"),
    [
        (None, False),
        ("", False),
        ("*/*", False),
        ("application/json", False),
        ("image/svg+xml", True),
        ("image/*", True),
        ("image/svg+xml, application/json", False),
        ("image/svg+xml, application/json;q=0.9", True),
        ("image/svg+xml;q=0.5, */*;q=0.6", False),
        ("text/html, image/svg+xml;q=0.9, */*;q=0.8", True),
        ("image/svg+xml;q=0", False),
    ],
)
def test_the_drawing_is_for_who_prefers_it(accept: str | None, svg: bool) -> None:
    assert wants_svg(accept) is svg


@pytest.mark.parametrize("accept", ["text/html", "image/png", "image/svg+xml;q=0, application/json;q=0"])
def test_nothing_else_is_served(accept: str, ask: Any, refused: Any) -> None:
    assert refused(ask("POST", URL, json=CANOLA, headers={"accept": accept}), 406)["code"] == "not_acceptable"


def test_a_refusal_is_a_problem_also_for_who_asked_for_a_drawing(ask: Any, refused: Any) -> None:
    problem = refused(ask("POST", URL, json=CANOLA | {"crop": "weat"}, headers=SVG), 422)
    assert problem["errors"][0]["nearest"][0] == "wheat"


def test_the_other_routes_do_not_draw(ask: Any, refused: Any) -> None:
    refused(ask("GET", "/v1/crops", headers=SVG), 406)


def test_an_opened_drawing_may_use_its_own_style_and_nothing_else(ask: Any) -> None:
    policy = ask("POST", URL, json=CANOLA, headers=SVG).headers["content-security-policy"]
    assert policy == "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'"


def amounts(node: Any, where: str = "") -> Any:
    if isinstance(node, dict):
        if "unit" in node:
            yield where, node
        for name, inner in node.items():
            yield from amounts(inner, f"{where}/{name}")
    elif isinstance(node, list):
        for place, inner in enumerate(node):
            yield from amounts(inner, f"{where}/{place}")


@pytest.mark.parametrize("body", BODIES)
def test_both_unit_systems_say_the_same(body: dict[str, Any], ask: Any) -> None:
    metric, us = (dict(amounts(ask("POST", f"{URL}?units={units}", json=body).json())) for units in ("metric", "us"))
    assert metric.keys() == us.keys() - {"/crop_yield/bushel_mass"}
    # NIST Handbook 44, appendix C: one hectare is 2.471 acres, one gallon 3.785412 litres
    acres = {"/har": "/[acr_us]"}
    for where, one in metric.items():
        other = us[where]
        if one["unit"].startswith("{"):
            assert other["unit"] == one["unit"].replace("/har", acres["/har"])
            factor = 1 / 2.471054 if "/har" in one["unit"] else 1.0
            assert other["value"] == pytest.approx(one["value"] * factor, abs=0.011), where
        elif other["unit"] != "[bu_us]/[acr_us]":
            for name in ("value", "low", "high"):
                if name in one:
                    expected = convert(one[name], one["unit"], other["unit"])
                    assert other[name] == pytest.approx(expected, rel=0.02, abs=0.085), where
    assert metric["/best/ground_speed"]["unit"] == "km/h"
    assert us["/best/ground_speed"]["unit"] == "[mi_i]/h"


def test_a_field_and_its_twin_give_the_same_answer(ask: Any) -> None:
    # 1 ft = 0.3048 m, 1 mi = 1.609344 km, 1 acre = 0.404687261 ha, 1 gal = 3.785411784 L, 1 hp = 0.745699872 kW,
    # 1 lb = 0.45359237 kg
    tests = [
        {
            "ground_speed_mph": test["ground_speed_km_h"] / 1.609344,
            "machine_loss_lb_ac": test["machine_loss_kg_ha"] / 0.45359237 * 0.404687261,
            "header_loss_lb_ac": test["header_loss_kg_ha"] / 0.45359237 * 0.404687261,
        }
        for test in WHEAT["drop_tests"]
    ]
    names = ("cut_width_m", "run_length_m", "tank_volume_l", "fuel_price_per_l", "engine_power_kw", "area_left_ha")
    us = without(WHEAT, *names) | {
        "drop_tests": tests,
        "cut_width_ft": 7.5 / 0.3048,
        "run_length_ft": 400 / 0.3048,
        "tank_volume_gal": 10000 / 3.785411784,
        "fuel_price_per_gal": 1.1 * 3.785411784,
        "engine_power_hp": 300 / 0.745699872,
        "area_left_ac": 120 / 0.404687261,
    }
    one, other = ask("POST", URL, json=WHEAT).json(), ask("POST", URL, json=us).json()
    assert other["best"] == one["best"]
    assert other["hour"] == one["hour"]


def test_a_price_of_a_gallon_is_refused_without_a_unit(ask: Any, refused: Any) -> None:
    assert LIMITS["fuel_price_per_gal"].unit == ""
    assert TWINS["fuel_price_per_gal"].metric_value(3.785411784) == pytest.approx(1.0)
    refused(ask("POST", URL, json=without(WHEAT, "fuel_price_per_l") | {"fuel_price_per_gal": -1.0}), 422)


REFUSED: list[tuple[dict[str, Any], list[str], str]] = [
    (CANOLA | {"drop_tests": CANOLA["drop_tests"][:1]}, ["/drop_tests"], "invalid_input"),
    (
        CANOLA | {"drop_tests": [{"ground_speed_mph": 3.0}, CANOLA["drop_tests"][1]]},
        ["/drop_tests/0/machine_loss_kg_ha"],
        "invalid_input",
    ),
    (
        CANOLA | {"drop_tests": [{"machine_loss_bu_ac": 3.0}, CANOLA["drop_tests"][1]]},
        ["/drop_tests/0/ground_speed_km_h"],
        "invalid_input",
    ),
    (
        CANOLA | {"drop_tests": [{**CANOLA["drop_tests"][0], "ground_speed_km_h": 5.0}, CANOLA["drop_tests"][1]]},
        ["/drop_tests/0/ground_speed_km_h", "/drop_tests/0/ground_speed_mph"],
        "contradiction",
    ),
    (
        CANOLA | {"drop_tests": [{**CANOLA["drop_tests"][0], "machine_loss_pct": 2.0}, CANOLA["drop_tests"][1]]},
        ["/drop_tests/0/machine_loss_bu_ac", "/drop_tests/0/machine_loss_pct"],
        "contradiction",
    ),
    (
        CANOLA | {"drop_tests": [{**CANOLA["drop_tests"][0], "header_loss_lb_ac": 9.0}, CANOLA["drop_tests"][1]]},
        ["/drop_tests/1"],
        "invalid_input",
    ),
    (
        CANOLA | {"drop_tests": [{"ground_speed_mph": 30.0, "machine_loss_bu_ac": 1.0}, CANOLA["drop_tests"][1]]},
        ["/drop_tests/0/ground_speed_mph"],
        "out_of_range",
    ),
    (without(CANOLA, "cut_width_ft"), ["/cut_width_m"], "invalid_input"),
    (without(CANOLA, "price_per_bu"), ["/price_per_t"], "invalid_input"),
    (without(CANOLA, "cost_per_h"), ["/cost_per_h"], "invalid_input"),
    (CANOLA | {"price_per_t": 500.0}, ["/price_per_t", "/price_per_bu"], "contradiction"),
    (CANOLA | {"yield_t_ha": 2.0}, ["/yield_t_ha", "/yield_bu_ac"], "contradiction"),
    (CANOLA | {"list_price": 400000.0}, ["/cost_per_h", "/list_price"], "contradiction"),
    (CANOLA | {"fuel_price_per_gal": 4.0}, ["/cost_per_h", "/fuel_price_per_gal"], "contradiction"),
    (CANOLA | {"run_length_ft": 1000.0}, ["/field_efficiency_pct", "/run_length_ft"], "contradiction"),
    (CANOLA | {"engine_power_hp": 400.0}, ["/machine_class"], "invalid_input"),
    (CANOLA | {"workday_share_pct": 0.6}, ["/workday_share_pct"], "out_of_range"),
    (CANOLA | {"drop_tests": []}, ["/drop_tests"], "wrong_length"),
    (CANOLA | {"form": "linear"}, ["/form"], "unknown_name"),
    (CANOLA | {"currency": "Dollar"}, ["/currency"], "wrong_length"),
    (CANOLA | {"cost_per_hour": 300.0}, ["/cost_per_hour"], "unknown_field"),
]


@pytest.mark.parametrize(("body", "pointers", "code"), REFUSED, ids=lambda value: str(value)[:40])
@pytest.mark.parametrize("lang", ["en", "de"])
def test_a_refusal_names_the_field_that_the_caller_wrote(
    body: dict[str, Any], pointers: list[str], code: str, lang: str, ask: Any, refused: Any
) -> None:
    problem = refused(ask("POST", f"{URL}?lang={lang}", json=body), 422)
    assert sorted(item["pointer"] for item in problem["errors"]) == sorted(pointers)
    assert problem["code"] == code


def test_a_fraction_for_a_percent_is_told_with_the_percent_that_was_meant(ask: Any, refused: Any) -> None:
    problem = refused(ask("POST", URL, json=CANOLA | {"workday_share_pct": 0.6}), 422)
    assert problem["errors"][0]["suggested"] == 60.0


@pytest.mark.parametrize("model", [WorkingSpeedRequest, DropTestRequest])
def test_every_number_of_a_request_has_a_limit(model: type[WorkingSpeedRequest]) -> None:
    text = {"crop", "drop_tests", "form", "currency", "hours_counted", "delay_timing", "machine_class", "size_band"}
    assert set(model.model_fields) - text <= set(LIMITS)


@pytest.mark.parametrize("name", sorted(name for name in TWINS if name in DropTestRequest.model_fields))
def test_a_field_of_a_drop_test_and_its_twin_exclude_each_other(name: str, ask: Any, refused: Any) -> None:
    metric = TWINS[name].metric
    said = {"ground_speed_km_h": 5.0, "machine_loss_kg_ha": 50.0}
    family = {metric, *(other for other, twin in TWINS.items() if twin.metric == metric)}
    test = {field: value for field, value in said.items() if field not in family}
    test |= {field: LIMITS[field].high / 2 for field in (metric, name)}
    problem = refused(ask("POST", URL, json=CANOLA | {"drop_tests": [CANOLA["drop_tests"][0], test]}), 422)
    assert problem["code"] == "contradiction"
    assert {item["pointer"] for item in problem["errors"]} == {f"/drop_tests/1/{metric}", f"/drop_tests/1/{name}"}


def number(field: str) -> st.SearchStrategy[float]:
    limit = LIMITS[field]
    return st.one_of(st.floats(limit.low, limit.high), st.sampled_from([limit.low, limit.high]))


def some_of(fields: list[str]) -> st.SearchStrategy[dict[str, float]]:
    return st.fixed_dictionaries({}, optional={field: number(field) for field in fields})


TEST = st.fixed_dictionaries(
    {
        "ground_speed_km_h": number("ground_speed_km_h"),
        "machine_loss_kg_ha": st.one_of(st.just(0.0), st.floats(0, 2000)),
    }
)
QUESTION = st.builds(
    lambda tests, required, more, names: {**required, **more, **names, "drop_tests": tests},
    st.lists(TEST, min_size=2, max_size=7),
    st.fixed_dictionaries({name: number(name) for name in ("cut_width_m", "yield_t_ha", "price_per_t", "cost_per_h")}),
    some_of(["loss_level_pct", "area_left_ha", "hours_per_day", "delay_loss_pct_per_day", "speed_step_km_h"]),
    st.fixed_dictionaries(
        {"crop": st.sampled_from(["wheat", "soybean", "maize", "flax"])},
        optional={
            "form": st.sampled_from(["exponential", "power", "quadratic"]),
            "machine_class": st.sampled_from(["walker", "axial"]),
        },
    ),
)


@seed(3)
@settings(max_examples=60, deadline=None, database=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(question=QUESTION, units=st.sampled_from(["metric", "us"]))
def test_any_question_is_answered_and_drawn_or_refused(
    question: dict[str, Any], units: str, ask: Any, refused: Any
) -> None:
    answer = ask("POST", f"{URL}?units={units}", json=question)
    drawing = ask("POST", f"{URL}?units={units}", json=question, headers=SVG)
    if answer.status_code != 200:
        assert refused(answer, 422)["errors"]
        refused(drawing, 422)
        return
    body = answer.json()
    best, reach = body["best"], body["range"]
    assert reach["low"]["value"] <= best["ground_speed"]["value"] <= reach["high"]["value"]
    assert best["flat"]["low"] <= best["flat"]["value"] <= best["flat"]["high"]
    assert all(math.isfinite(one["value"]) for _, one in amounts(body))
    assert b"nan" not in drawing.content.split(b"</style>")[1]
    ElementTree.fromstring(drawing.content)


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({}, "speed.summary"),
        ({"price_per_bu": 0.05}, "speed.summary_high"),
        ({"price_per_bu": 900.0}, "speed.summary_low"),
        ({"price_per_bu": 0.05, "machine_class": "hybrid", "engine_power_hp": 170.0}, "speed.summary_power"),
    ],
)
def test_the_first_sentence_says_where_the_true_best_may_lie_beyond_the_tests(
    change: dict[str, Any], code: str, ask: Any
) -> None:
    body = CANOLA | change
    for lang in ("en", "de"):
        answer = ask("POST", f"{URL}?lang={lang}", json=body).json()
        assert answer["summary"]["code"] == code
        assert (answer["best"]["edge"] == "none") == (code == "speed.summary")
