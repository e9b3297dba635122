"""The loss monitor over HTTP: answers, charts, twins, refusals with their place, and any question at all."""

import json
import math
import xml.etree.ElementTree as ET
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st

from service.api.examples_monitor import MONITOR_CALIBRATION
from service.api.limits import LIMITS
from service.knowledge.load import load_table
from service.units import TO_US, convert

PATH = "/v1/monitor-calibration"
SVG = "image/svg+xml"
EXAMPLES = [pytest.param(case["value"], id=name) for name, case in MONITOR_CALIBRATION.items()]
WHEAT: dict[str, Any] = MONITOR_CALIBRATION["wheat, separation, bars"]["value"]
CROPS = sorted(load_table().crops)
Refused = Callable[..., dict[str, Any]]


@pytest.mark.parametrize("body", EXAMPLES)
def test_the_same_question_has_the_same_bytes(body: dict[str, Any], ask: Any) -> None:
    one, other = ask("POST", PATH, json=body), ask("POST", PATH, json=body)
    assert one.status_code == 200
    assert one.content == other.content
    assert one.headers["cache-control"] == "no-store"
    assert "Accept" in one.headers["vary"].split(", ")


@pytest.mark.parametrize("body", EXAMPLES)
def test_readings_stay_the_display_s_own_in_every_unit_system(body: dict[str, Any], ask: Any) -> None:
    metric, us = (ask("POST", f"{PATH}?units={units}", json=body).json() for units in ("metric", "us"))
    assert [hold.get("reading") for hold in metric["hold"]] == [hold.get("reading") for hold in us["hold"]]
    assert any("reading" in hold for hold in metric["hold"])
    assert [pair["reading"] for pair in metric["pairs"]] == [pair["reading"] for pair in us["pairs"]]
    assert metric["sensitivity"]["direction"] == us["sensitivity"]["direction"]
    assert metric["sensitivity"].get("change") == us["sensitivity"].get("change")
    one, other = metric["target"]["loss"], us["target"]["loss"]
    assert other["unit"] == TO_US[one["unit"]]
    assert other["value"] == pytest.approx(convert(one["value"], one["unit"], other["unit"]), abs=0.02)


def test_a_question_in_united_states_units_is_the_same_question(ask: Any) -> None:
    twins = {
        **{name: value for name, value in WHEAT.items() if name not in ("cut_width_m", "ground_speed_km_h", "pairs")},
        "cut_width_ft": 9.0 / 0.3048,
        "ground_speed_mph": 5.0 / 1.609344,
        "pairs": [
            {
                "reading": pair["reading"],
                "measured_loss_lb_ac": convert(pair["measured_loss_kg_ha"], "kg/har", "[lb_av]/[acr_us]"),
                "ground_speed_mph": pair["ground_speed_km_h"] / 1.609344,
            }
            for pair in WHEAT["pairs"]
        ],
    }
    one, other = ask("POST", PATH, json=WHEAT).json(), ask("POST", PATH, json=twins).json()
    assert other["line"] == one["line"]
    assert other["hold"] == one["hold"]


@pytest.mark.parametrize("body", EXAMPLES)
@pytest.mark.parametrize("lang", ["en", "de"])
@pytest.mark.parametrize("units", ["metric", "us"])
def test_the_chart_is_whole_and_stands_alone(body: dict[str, Any], lang: str, units: str, ask: Any) -> None:
    query = {"lang": lang, "units": units}
    drawn = ask("POST", PATH, params=query, json=body, headers={"accept": SVG})
    assert drawn.status_code == 200
    assert drawn.headers["content-type"].startswith(SVG)
    assert drawn.headers["content-language"] == lang
    assert "default-src 'none'" in drawn.headers["content-security-policy"]
    root = ET.fromstring(drawn.content)
    name = {"n": "http://www.w3.org/2000/svg"}
    assert root.get("role") == "img"
    title = root.findtext("n:title", namespaces=name)
    told = root.findtext("n:desc", namespaces=name)
    answer = ask("POST", PATH, params=query, json=body).json()
    assert title is not None
    assert answer["sensor"]["name"] in title
    assert told is not None
    assert f"{answer['line']['pairs']}" in told
    shapes = [el for el in root.iter() if (el.get("class") or "").startswith("dot")]
    # one dot a pair, and one more in the legend for each kind of pair
    kinds = {"used" if pair["role"] == "used" else pair["role"] for pair in answer["pairs"]}
    assert len(shapes) == len(answer["pairs"]) + len(kinds)
    assert b"<script" not in drawn.content
    assert b"href" not in drawn.content
    assert ask("POST", PATH, params=query, json=body, headers={"accept": SVG}).content == drawn.content


@pytest.mark.parametrize(
    ("accept", "media"),
    [
        ("image/svg+xml, application/json;q=0.5", SVG),
        ("application/json, image/svg+xml;q=0.5", "application/json"),
        ("*/*", "application/json"),
        ("image/*", SVG),
    ],
)
def test_the_accept_header_chooses_answer_or_chart(accept: str, media: str, ask: Any) -> None:
    answer = ask("POST", PATH, json=WHEAT, headers={"accept": accept})
    assert answer.headers["content-type"].split(";")[0] == media


def test_neither_answer_nor_chart_is_refused_and_so_is_a_bad_question_for_a_chart(ask: Any, refused: Refused) -> None:
    assert refused(ask("POST", PATH, json=WHEAT, headers={"accept": "text/html"}), 406)["code"] == "not_acceptable"
    bad = WHEAT | {"pairs": WHEAT["pairs"][:2]}
    assert refused(ask("POST", PATH, json=bad, headers={"accept": SVG}), 422)["code"] == "invalid_input"


@pytest.mark.parametrize(
    ("change", "code", "pointers"),
    [
        ({"pairs": WHEAT["pairs"][:2]}, "invalid_input", ["/pairs"]),
        ({"pairs": []}, "wrong_length", ["/pairs"]),
        ({"pairs": WHEAT["pairs"] * 6}, "wrong_length", ["/pairs"]),
        ({"reading_full_scale": 6.0}, "contradiction", ["/pairs/6/reading", "/reading_full_scale"]),
        ({"no_loss_readings": [8, 9]}, "contradiction", ["/no_loss_readings", "/pairs"]),
        ({"reading_unit": "kg_ha", "speed_corrected": False}, "contradiction", ["/speed_corrected", "/reading_unit"]),
        ({"target_loss_kg_ha": 30, "target_loss_pct": 1}, "contradiction", ["/target_loss_kg_ha", "/target_loss_pct"]),
        (
            {"pairs": [{"reading": 1, "kernels": [3], "masses_g": [1.0], "area_ft2": 1}]},
            "contradiction",
            ["/pairs/0/kernels", "/pairs/0/masses_g"],
        ),
        (
            {"pairs": [{"reading": 1, "measured_loss_lb_ac": 3, "area_ft2": 1}]},
            "contradiction",
            ["/pairs/0/area_ft2", "/pairs/0/measured_loss_lb_ac"],
        ),
        ({"pairs": [{"reading": 1, "kernels": [3], "area_m2": 1}]}, "invalid_input", ["/discharge_width_m"]),
        ({"pairs": [{"reading": 1, "kernels": [3]}], "discharge_width_m": 2}, "invalid_input", ["/pairs/0/area_m2"]),
        ({"pairs": [{"reading": 1}]}, "invalid_input", ["/pairs/0/measured_loss_kg_ha"]),
        ({"sensor": "returns"}, "unknown_name", ["/sensor"]),
        ({"reading_full_scale": 0}, "out_of_range", ["/reading_full_scale"]),
    ],
)
@pytest.mark.parametrize("lang", ["en", "de"])
def test_contradictions_are_refused_where_they_stand(
    change: dict[str, Any], code: str, pointers: list[str], lang: str, ask: Any, refused: Refused
) -> None:
    problem = refused(ask("POST", PATH, params={"lang": lang}, json=WHEAT | change), 422)
    assert problem["code"] == code
    assert [item["pointer"] for item in problem["errors"]] == pointers


def test_speed_and_width_are_asked_for(ask: Any, refused: Refused) -> None:
    for field, twin in (("cut_width_m", "cut_width_ft"), ("ground_speed_km_h", "ground_speed_mph")):
        bare = {name: value for name, value in WHEAT.items() if name != field}
        (item,) = refused(ask("POST", PATH, json=bare), 422)["errors"]
        assert item["pointer"] == f"/{field}"
        assert twin in item["detail"]


def within(field: str, *, usual: tuple[float, float] = (0.5, 60.0)) -> st.SearchStrategy[float]:
    """Mostly what is found in a field, sometimes what the limits of the field still allow."""
    limit = LIMITS[field]
    plain = st.floats(max(limit.low, usual[0]), min(limit.high, usual[1]))
    odd = st.one_of(st.floats(limit.low, limit.high), st.sampled_from([limit.low, limit.high]))
    return st.integers(0, 24).flatmap(lambda chance: odd if chance == 0 else plain)


@st.composite
def pairs(draw: st.DrawFn, reading: float) -> dict[str, Any]:
    """A pair of a display that follows the loss more or less."""
    pair: dict[str, Any] = {"reading": reading}
    loss = max(0.0, reading * draw(st.floats(0.5, 2)))
    kind = draw(st.sampled_from(["told", "told", "odd", "kernels", "masses_g"]))
    if kind == "kernels":
        pair[kind] = draw(st.lists(st.integers(0, 1 + int(min(loss, 1e4) * 4)), min_size=1, max_size=3))
    elif kind == "masses_g":
        pair[kind] = draw(st.lists(st.floats(0, 0.1 + min(loss, 1e4) / 20), min_size=1, max_size=3))
    elif kind == "odd":
        pair["measured_loss_bu_ac"] = draw(within("measured_loss_bu_ac", usual=(0, 3)))
    else:
        pair["measured_loss_kg_ha"] = min(loss, LIMITS["measured_loss_kg_ha"].high)
    if kind in ("kernels", "masses_g"):
        pair["area_m2"] = draw(st.floats(0.2, 2))
    if draw(st.booleans()):
        pair["ground_speed_km_h"] = draw(within("ground_speed_km_h", usual=(2, 9)))
    return pair


@st.composite
def questions(draw: st.DrawFn) -> dict[str, Any]:
    cut = draw(st.floats(2, 14))
    readings = draw(st.lists(within("reading"), min_size=3, max_size=9))
    fields: dict[str, Any] = {
        "crop": draw(st.sampled_from(CROPS)),
        "sensor": draw(st.sampled_from(["separation", "cleaning"])),
        "reading_unit": draw(st.sampled_from(["index", "index", "percent", "kg_ha", "lb_ac", "bu_ac"])),
        "pairs": [draw(pairs(reading)) for reading in readings],
        "cut_width_m": cut,
        "discharge_width_m": draw(st.floats(0.5, min(cut, 3))),
        "ground_speed_km_h": draw(within("ground_speed_km_h", usual=(2, 9))),
        "yield_t_ha": draw(st.floats(1, 12)),
    }
    for name in ("reading_error", "target_loss_pct", "thousand_kernel_mass_error_pct"):
        if draw(st.integers(0, 2)) == 0:
            fields[name] = draw(within(name, usual=(0.2, 5)))
    if draw(st.integers(0, 2)) == 0:
        fields["reading_full_scale"] = min(100000.0, max(0.001, *readings) * draw(st.floats(0.98, 1.5)))
    if draw(st.booleans()):
        fields["no_loss_readings"] = draw(st.lists(st.floats(0, 5), max_size=6))
    return fields


def ranges_hold(node: Any, where: str = "") -> None:
    if isinstance(node, dict):
        low, high, value = (node.get(name) for name in ("low", "high", "value"))
        if isinstance(value, float):
            assert low is None or low <= value + 1e-9 * abs(value), where
            assert high is None or high >= value - 1e-9 * abs(value), where
        for name, inner in node.items():
            ranges_hold(inner, f"{where}/{name}")
    elif isinstance(node, list):
        for place, inner in enumerate(node):
            ranges_hold(inner, f"{where}/{place}")


@seed(3)
@settings(
    max_examples=100,
    deadline=None,
    database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(question=questions(), lang=st.sampled_from(["en", "de"]), units=st.sampled_from(["metric", "us"]))
def test_any_question_is_answered_and_drawn_or_refused(
    question: dict[str, Any], lang: str, units: str, ask: Any, refused: Refused
) -> None:
    query = {"lang": lang, "units": units}
    answer = ask("POST", PATH, params=query, json=question)
    if answer.status_code != 200:
        assert refused(answer, 422)["errors"]
        return
    body = json.loads(answer.content, parse_constant=pytest.fail)
    ranges_hold(body)
    assert body["line"]["loss_per_step"]["value"] >= 0
    held = [hold["reading"] for hold in body["hold"] if "reading" in hold]
    full = question.get("reading_full_scale", math.inf)
    assert all(0 <= one.get("low", 0) <= one["value"] <= full for one in held)
    assert len(body["pairs"]) == len(question["pairs"])
    assert ask("POST", PATH, params=query, json=question, headers={"accept": SVG}).status_code == 200
