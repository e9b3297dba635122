"""Relearning and belt slip over HTTP: complete answers, the list a form is built from, refusals with their place."""

import datetime
import re
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st

from service.api.examples_relearn import BELT_SLIP, RELEARN
from service.api.limits import LIMITS
from service.knowledge.load import load_table
from service.units import convert

RELEARNING, SLIP, TASKS = "/v1/relearn", "/v1/belt-slip", "/v1/relearn-tasks"
CASES = [pytest.param(RELEARNING, case["value"], id=name) for name, case in RELEARN.items()]
CASES += [pytest.param(SLIP, case["value"], id=name) for name, case in BELT_SLIP.items()]
LISTS = ("now", "soon", "unknown", "not_due", "not_fitted")
TODAY = datetime.date(2026, 7, 20)
Refused = Callable[..., dict[str, Any]]
FEW = settings(
    max_examples=60, deadline=None, database=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


@pytest.mark.parametrize(("path", "body"), CASES)
def test_the_same_question_has_the_same_bytes(path: str, body: dict[str, Any], ask: Any) -> None:
    one, other = ask("POST", path, json=body), ask("POST", path, json=body)
    assert one.status_code == 200, one.text[:400]
    assert one.content == other.content
    assert one.headers["cache-control"] == "no-store"


@pytest.mark.parametrize(("path", "body"), CASES)
def test_every_text_is_german_where_that_is_asked_for(path: str, body: dict[str, Any], ask: Any) -> None:
    english, german = (ask("POST", path, params={"lang": lang}, json=body).json() for lang in ("en", "de"))
    for name in ("warnings", "cautions"):
        assert [one["code"] for one in english[name]] == [one["code"] for one in german[name]]
        assert not {one["text"] for one in english[name]} & {one["text"] for one in german[name]}
    assert english["say"]["text"] != german["say"]["text"]
    assert not re.search(r"[{}]", ask("POST", path, params={"lang": "de"}, json=body).json()["say"]["text"])


@pytest.mark.parametrize("body", [case["value"] for case in RELEARN.values()], ids=RELEARN.keys())
def test_every_task_stands_in_one_list_with_what_a_person_needs(body: dict[str, Any], ask: Any) -> None:
    answer = ask("POST", RELEARNING, json=body).json()
    ids = [one["id"] for name in LISTS for one in answer[name]]
    assert sorted(ids) == sorted(one["id"] for one in ask("GET", TASKS).json()["tasks"])
    cautions = {one["code"] for one in answer["cautions"]}
    cited = {one["id"] for one in answer["sources"]}
    for place, one in enumerate(answer["now"], 1):
        assert one["place"] == place
        assert set(one["cautions"]) <= cautions
        assert one["how"] != one["stale"]
    for name in LISTS:
        for one in answer[name]:
            assert one["reasons"], one["id"]
            assert {source["id"] for source in one["sources"]} <= cited
            assert ("place" in one) == (name == "now")
            assert ("if_fitted" in one) <= (name == "unknown")
    assert [task for step in answer["steps"] for task in step["tasks"]] == [one["id"] for one in answer["now"]]


def test_a_form_can_be_built_from_the_list(ask: Any) -> None:
    """Every id that the list offers is taken by the question, and every name it refers to is in it."""
    catalogue = ask("GET", TASKS).json()
    fittings = {one["id"]: one for one in catalogue["fittings"]}
    events = {one["id"]: one for one in catalogue["events"]}
    states = {one["id"] for one in catalogue["machine_states"]}
    tasks = {one["id"]: one for one in catalogue["tasks"]}
    for task in tasks.values():
        assert task["machine_state"] in states
        assert set(task["needs"]) <= set(fittings)
        assert set(task["after"]) <= set(tasks)
        assert set(task["cautions"]) <= {one["code"] for one in catalogue["cautions"]}
        assert task["rules"]
        for rule in task["rules"]:
            for name in rule["events"]:
                event, _, part = name.partition(".")
                assert not part or part in {one["id"] for one in events[event]["parts"]}
    told = [{"event": event} for event in events]
    told += [{"event": event, "part": part["id"]} for event, one in events.items() for part in one["parts"]]
    body = {
        "fitted": list(fittings),
        "events": told[:50],
        "last_done": [{"task": task, "hours_ago": 1} for task in tasks],
    }
    assert ask("POST", RELEARNING, json=body).status_code == 200
    assert ask("POST", RELEARNING, json={"fitted": list(fittings), "events": told[-50:]}).status_code == 200


def test_what_the_list_refers_to_can_be_asked(ask: Any, document: dict[str, Any]) -> None:
    referred = {one["see"] for one in ask("GET", TASKS).json()["tasks"] if "see" in one}
    assert referred == {SLIP, "/v1/monitor-calibration", "/v1/residue-spread"}
    assert referred <= set(document["paths"])


def test_the_description_names_nothing_that_the_table_has_not(document: dict[str, Any]) -> None:
    table = load_table().relearn
    assert table is not None
    schemas = document["components"]["schemas"]
    events = schemas["MachineEventRequest"]["properties"]
    assert set(events["event"]["examples"]) <= {one.id for one in table.event}
    assert set(events["part"]["examples"]) <= {part.id for one in table.event for part in one.parts}
    assert set(schemas["LastDoneRequest"]["properties"]["task"]["examples"]) <= {one.id for one in table.task}
    request = schemas["RelearnRequest"]["properties"]
    named = {name for field in ("fitted", "not_fitted") for each in request[field]["examples"] for name in each}
    assert named <= {one.id for one in table.fitting}


def test_a_belt_in_united_states_units_is_the_same_belt(ask: Any) -> None:
    metric = {"driver_rpm": 600, "driven_rpm": 340, "load": "loaded", "driver_diameter_mm": 190.5}
    metric |= {"driven_diameter_mm": 317.5, "transmitted_power_kw": 10.0}
    us = {"driver_rpm": 600, "driven_rpm": 340, "load": "loaded", "driver_diameter_in": 7.5, "driven_diameter_in": 12.5}
    us |= {"transmitted_power_hp": convert(10.0, "kW", "[HP]")}
    one, other = ask("POST", SLIP, json=metric), ask("POST", SLIP, json=us)
    assert one.content == other.content
    assert one.json()["heat"] == {"value": 0.6, "unit": "kW"}  # 10 kW x 20 / 360


@pytest.mark.parametrize(
    ("path", "change", "pointers", "code"),
    [
        (RELEARNING, {"fitted": ["yeild_sensor"]}, ["/fitted/0"], "unknown_name"),
        (RELEARNING, {"events": [{"event": "belt_replacd"}]}, ["/events/0/event"], "unknown_name"),
        (RELEARNING, {"events": [{"event": "belt_replaced", "part": "fam"}]}, ["/events/0/part"], "unknown_name"),
        (RELEARNING, {"last_done": [{"task": "belt", "never": True}]}, ["/last_done/0/task"], "unknown_name"),
        (RELEARNING, {"machine_class": "axiall"}, ["/machine_class"], "unknown_name"),
        (
            RELEARNING,
            {"fitted": ["yield_sensor"], "not_fitted": ["slope_sensor", "yield_sensor"]},
            ["/fitted/0", "/not_fitted/1"],
            "contradiction",
        ),
        (
            RELEARNING,
            {"fitted": ["walker_speed_sensor"], "machine_class": "axial"},
            ["/fitted/0", "/machine_class"],
            "contradiction",
        ),
        (
            RELEARNING,
            {"not_fitted": ["sieve_actuators"], "events": [{"event": "sieve_actuator_worked_on"}]},
            ["/events/0/event", "/not_fitted"],
            "contradiction",
        ),
        (RELEARNING, {"last_done": [{"task": "belts"}]}, ["/last_done/0"], "invalid_input"),
        (
            RELEARNING,
            {"last_done": [{"task": "belts", "hours_ago": 1}, {"task": "belts", "hours_ago": 2}]},
            ["/last_done/0/task", "/last_done/1/task"],
            "contradiction",
        ),
        (RELEARNING, {"last_done": [{"task": "belts", "at_hours": 5}]}, ["/hours_now"], "invalid_input"),
        (RELEARNING, {"last_done": [{"task": "belts", "date": "2026-07-01"}]}, ["/today"], "invalid_input"),
        (RELEARNING, {"today": "2026-02-30"}, ["/today"], "wrong_type"),
        (RELEARNING, {"today": "20.7.2026"}, ["/today"], "wrong_type"),
        (RELEARNING, {"today": 20260720}, ["/today"], "wrong_type"),
        (RELEARNING, {"today": None}, ["/today"], "wrong_type"),
        (SLIP, {"load": "loaded", "driven_rpm": 1}, ["/expected_driven_rpm"], "invalid_input"),
        (
            SLIP,
            {"load": "loaded", "driven_rpm": 980, "driver_rpm": 1000, "speed_ratio": 1, "expected_driven_rpm": 1000},
            ["/expected_driven_rpm", "/speed_ratio"],
            "contradiction",
        ),
        (
            SLIP,
            {
                "load": "loaded",
                "driven_rpm": 900,
                "driver_rpm": 1000,
                "driver_diameter_in": 7,
                "driven_diameter_in": 10,
            },
            ["/driven_rpm", "/driver_diameter_in", "/driven_diameter_in"],
            "contradiction",
        ),
        (
            SLIP,
            {"load": "loaded", "driven_rpm": 900, "driver_rpm": 1000, "driver_diameter_in": 7},
            ["/driven_diameter_mm"],
            "invalid_input",
        ),
    ],
)
@pytest.mark.parametrize("lang", ["en", "de"])
def test_a_refusal_names_its_fields(
    path: str, change: dict[str, Any], pointers: list[str], code: str, lang: str, ask: Any, refused: Refused
) -> None:
    least = {"events": []} if path == RELEARNING else {}
    problem = refused(ask("POST", path, params={"lang": lang}, json=least | change), 422)
    assert [item["pointer"] for item in problem["errors"]] == pointers
    assert problem["code"] == code
    assert not re.search(r"[{}]", problem["detail"])


def test_a_misspelt_name_brings_the_nearest(ask: Any, refused: Refused) -> None:
    (item,) = refused(ask("POST", RELEARNING, json={"events": [{"event": "tires_changed"}]}), 422)["errors"]
    assert item["nearest"][0] == "tyres_changed"


TABLE = load_table().relearn
assert TABLE is not None
EVENTS = [(one.id, [part.id for part in one.parts]) for one in TABLE.event]


def number(field: str) -> st.SearchStrategy[float]:
    limit = LIMITS[field]
    return st.one_of(st.floats(limit.low, limit.high), st.sampled_from([limit.low, limit.high]))


@st.composite
def times(draw: st.DrawFn) -> dict[str, Any]:
    told: dict[str, Any] = {}
    for name in ("hours_ago", "at_hours"):
        if draw(st.integers(0, 2)) == 0:
            told[name] = draw(number(name))
    if draw(st.integers(0, 2)) == 0:
        told["date"] = draw(st.dates(min_value=TODAY.replace(year=2024), max_value=TODAY)).isoformat()
    return told


@st.composite
def machines(draw: st.DrawFn) -> dict[str, Any]:
    fittings, tasks = [one.id for one in TABLE.fitting], [one.id for one in TABLE.task]
    body: dict[str, Any] = {"today": TODAY.isoformat(), "hours_now": draw(number("hours_now"))}
    body["fitted"] = draw(st.lists(st.sampled_from(fittings), max_size=6))
    body["not_fitted"] = draw(st.lists(st.sampled_from(fittings), max_size=2))
    body["events"] = []
    for event, parts in draw(st.lists(st.sampled_from(EVENTS), max_size=4)):
        part = draw(st.sampled_from([None, *parts]))
        body["events"].append({"event": event} | ({} if part is None else {"part": part}) | draw(times()))
    body["last_done"] = [
        {"task": task} | (draw(times()) or {"never": True})
        for task in draw(st.lists(st.sampled_from(tasks), max_size=4, unique=True))
    ]
    return body


@seed(3)
@FEW
@given(body=machines())
def test_any_machine_is_answered_or_refused(body: dict[str, Any], ask: Any, refused: Refused) -> None:
    answer = ask("POST", RELEARNING, json=body)
    if answer.status_code != 200:
        assert refused(answer, 422)["errors"]


@st.composite
def belts(draw: st.DrawFn) -> dict[str, Any]:
    names = ["driver_rpm", "expected_driven_rpm", "expected_driver_rpm", "speed_ratio", "driver_diameter_mm"]
    names += ["driven_diameter_mm", "speed_error_pct", "diameter_error_pct", "transmitted_power_kw"]
    body: dict[str, Any] = {
        "driven_rpm": draw(number("driven_rpm")),
        "load": draw(st.sampled_from(["empty", "loaded"])),
    }
    for name in draw(st.lists(st.sampled_from(names), max_size=5, unique=True)):
        body[name] = draw(number(name))
    if draw(st.booleans()):
        body["expected_driven_rpm"] = max(1.0, body["driven_rpm"])
    return body


@seed(4)
@FEW
@given(body=belts())
def test_any_belt_is_answered_or_refused(body: dict[str, Any], ask: Any, refused: Refused) -> None:
    answer = ask("POST", SLIP, json=body)
    if answer.status_code != 200:
        assert refused(answer, 422)["errors"]
        return
    slip = answer.json()["slip"]
    assert slip["low"] <= slip["value"] <= slip["high"]
