"""POST /v1/next-adjustment: both languages and unit systems, refusals by field, promises on any question."""

import math
from typing import Any, get_args

import pytest
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st

from service.api.examples_adjustment import NEXT_ADJUSTMENT
from service.api.limits import LIMITS
from service.api.requests import StartingSettingsRequest
from service.api.requests_adjustment import (
    CurrentSettingRequest,
    MeasuredRequest,
    NextAdjustmentRequest,
    PastChangeRequest,
    SymptomRequest,
)
from service.knowledge.load import load_table
from service.knowledge.schema import ClassId, Priority, Straw, Use
from service.units import DECIMALS, TO_US, UNITS

URL = "/v1/next-adjustment"
START = "/v1/starting-settings"
TABLE = load_table()
BODIES = [pytest.param(case["value"], id=name) for name, case in NEXT_ADJUSTMENT.items()]
CASE: dict[str, Any] = NEXT_ADJUSTMENT["wheat, cracked kernels"]["value"]
CONDITIONS = {name: value for name, value in CASE.items() if name in StartingSettingsRequest.model_fields}
OUTCOMES = [outcome.id for outcome in TABLE.influence.outcomes if outcome.symptom]
TELL_TALES = TABLE.influence.file.tell_tale


def asked(**more: Any) -> dict[str, Any]:
    return CONDITIONS | more


def standing(setting: str, value: float, unit: str) -> dict[str, Any]:
    return {"setting": setting, "value": value, "unit": unit}


def seen(symptom: str, severity: int, **more: Any) -> dict[str, Any]:
    return {"symptom": symptom, "severity": severity, **more}


def tried(setting: str, before: float, after: float, unit: str, **more: Any) -> dict[str, Any]:
    return {"setting": setting, "from_value": before, "to_value": after, "unit": unit, **more}


def conditions_of(body: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in body.items() if name in StartingSettingsRequest.model_fields}


@pytest.mark.parametrize("body", BODIES)
@pytest.mark.parametrize("lang", ["en", "de"])
@pytest.mark.parametrize("units", ["metric", "us"])
def test_an_example_is_answered_in_full(body: dict[str, Any], lang: str, units: str, ask: Any) -> None:
    answer = ask("POST", f"{URL}?lang={lang}&units={units}", json=body)
    assert answer.status_code == 200, answer.text[:300]
    assert answer.headers["content-language"] == lang
    assert answer.headers["cache-control"] == "no-store"
    found = answer.json()
    change = found["change"]
    assert change["why"]
    assert change["undo_when"]
    assert found["alternatives"]
    # one line for each outcome that this crop can have, each with its row or what says that there is none
    group = TABLE.crop(body["crop"]).group
    outcomes = [o.id for o in TABLE.influence.outcomes if not o.groups or group in o.groups]
    assert [effect["outcome"] for effect in change["effects"]] == outcomes
    for effect in change["effects"]:
        assert "evidence" in effect or effect["outcome"] == "time_per_area"
        assert effect["change"]["low"] <= effect["change"]["value"] <= effect["change"]["high"]
    assert [other["rank"] for other in found["alternatives"]] == list(range(2, len(found["alternatives"]) + 2))
    cited = {place["id"] for part in (change, *found["alternatives"]) for place in part["sources"]}
    assert cited <= {source["id"] for source in found["sources"]}
    assert {"caution.machine_manual_first", "caution.stop_before_reaching_in"} <= {n["code"] for n in found["cautions"]}


def test_the_answer_is_read_aloud_in_german_and_in_the_units_of_the_united_states(ask: Any) -> None:
    # 7 mm = 0.276 in, 9 mm = 0.354 in, 100 m = 328.08 ft, told as 328.1 ft
    german = ask("POST", f"{URL}?lang=de", json=CASE).json()
    expected = "Öffnung Untersieb: weiter öffnen, von 7 mm auf 9 mm. 100 m gleichmäßig fahren, dann prüfen."
    assert german["say"]["text"] == expected
    american = ask("POST", f"{URL}?units=us", json=CASE).json()
    expected = (
        "Lower sieve opening: open it further, from 0.28 in to 0.35 in. Drive 328.1 ft at steady speed, then check."
    )
    assert american["say"]["text"] == expected
    assert american["change"]["from_value"] == {"value": 0.28, "unit": "[in_i]"}
    assert american["change"]["step"] == {"value": 0.04, "unit": "[in_i]"}
    both = ask("POST", f"{URL}?units=us&lang=de", json=CASE).json()
    assert "von 0,28 Zoll auf 0,35 Zoll" in both["say"]["text"]
    assert both["change"]["why"][0]["text"] == "Das Zeichen weist auf diese Einstellung: Überkehr voll sauberen Korns."


def test_settings_in_other_units_give_the_same_answer(ask: Any) -> None:
    # 1 ft = 0.3048 m, 1 in = 25.4 mm, 1 mi = 1.609344 km
    us = CASE | {
        "current_settings": [
            standing("threshing_speed", 25.8 / 0.3048 * 60, "[ft_i]/min"),
            standing("concave_clearance_inlet", 10 / 25.4, "[in_i]"),
            standing("lower_sieve_opening", 7 / 25.4, "[in_i]"),
            standing("ground_speed", 4.1 / 1.609344, "[mi_i]/h"),
        ],
        "history": [
            CASE["history"][0]
            | {"from_value": 27.1 / 0.3048 * 60, "to_value": 25.8 / 0.3048 * 60, "unit": "[ft_i]/min"}
        ],
    }
    metric, other = (ask("POST", URL, json=body).json() for body in (CASE, us))
    assert other["change"] == metric["change"]
    assert other["alternatives"] == metric["alternatives"]


def test_a_setting_left_out_is_taken_at_the_start_and_said(ask: Any) -> None:
    body = asked(symptoms=[seen("cracked", 4)])
    answer = ask("POST", URL, json=body).json()
    start = {one["id"]: one["start"] for one in ask("POST", START, json=conditions_of(body)).json()["settings"]}
    assert answer["change"]["from_value"] == start[answer["change"]["setting"]]
    assert "warning.settings_not_given" in {note["code"] for note in answer["warnings"]}


def test_nothing_told_is_said(ask: Any) -> None:
    empty = ask("POST", URL, json=CONDITIONS).json()
    assert {"warning.nothing_told", "warning.settings_not_given"} <= {note["code"] for note in empty["warnings"]}


def test_opposite_symptoms_are_named_and_weighed(ask: Any) -> None:
    answer = ask("POST", URL, json=asked(symptoms=[seen("cracked", 4), seen("unthreshed", 4)])).json()
    assert answer["kind"] == "check"
    assert "wrong_concave" in {check["code"] for check in answer["checks"]}
    assert "warning.opposite_symptoms" in {note["code"] for note in answer["warnings"]}
    done = asked(symptoms=[seen("cracked", 4), seen("unthreshed", 4)], checks_done=["wrong_concave"])
    assert ask("POST", URL, json=done).json()["kind"] == "change"


CONTRADICTIONS = [
    (
        {
            "current_settings": [standing("threshing_speed", 26, "m/s")],
            "history": [tried("threshing_speed", 28, 29, "m/s", effect="better")],
        },
        "history_gap",
    ),
    ({"measured": {"broken_pct": 0.1}, "symptoms": [seen("cracked", 5)]}, "grade_against_figure"),
    ({"current_settings": [standing("threshing_speed", 40, "m/s")]}, "outside_envelope"),
    (
        {
            "current_settings": [standing("threshing_speed", 26, "m/s")],
            "history": [
                tried(
                    "threshing_speed",
                    27,
                    26,
                    "m/s",
                    effect="worse",
                    measured_before={"broken_pct": 6},
                    measured_after={"broken_pct": 2},
                )
            ],
        },
        "effect_against_figures",
    ),
]


@pytest.mark.parametrize(("more", "code"), CONTRADICTIONS, ids=[code for _, code in CONTRADICTIONS])
@pytest.mark.parametrize("lang", ["en", "de"])
def test_what_does_not_go_together_is_named_in_the_answer(more: dict[str, Any], code: str, lang: str, ask: Any) -> None:
    answer = ask("POST", f"{URL}?lang={lang}", json=asked(**more)).json()
    assert [note["code"] for note in answer["contradictions"]] == [f"contradiction.{code}"]
    assert answer["contradictions"][0]["text"]


REFUSED: list[tuple[dict[str, Any], list[str], str]] = [
    ({"current_settings": [standing("drum", 27, "m/s")]}, ["/current_settings/0/setting"], "unknown_name"),
    (
        {"current_settings": [standing("separation_rotor_speed", 20, "m/s")]},
        ["/current_settings/0/setting"],
        "unknown_name",
    ),
    ({"current_settings": [standing("threshing_speed", 27, "rpm")]}, ["/current_settings/0/unit"], "unknown_name"),
    ({"current_settings": [standing("threshing_speed", 27, "km/h")]}, ["/current_settings/0/unit"], "unknown_name"),
    ({"current_settings": [standing("threshing_speed", 900, "m/s")]}, ["/current_settings/0/value"], "out_of_range"),
    (
        {"current_settings": [standing("reel_index", 1.1, "1"), standing("reel_index", 1.2, "1")]},
        ["/current_settings/0/setting", "/current_settings/1/setting"],
        "contradiction",
    ),
    ({"current_settings": [{"setting": "reel_index", "value": 1.1}]}, ["/current_settings/0/unit"], "required"),
    ({"symptoms": [seen("crackd", 3)]}, ["/symptoms/0/symptom"], "unknown_name"),
    ({"symptoms": [seen("dirty_pods", 3)]}, ["/symptoms/0/symptom"], "unknown_name"),  # wheat has none
    ({"symptoms": [seen("time_per_area", 3)]}, ["/symptoms/0/symptom"], "unknown_name"),  # nobody sees it
    ({"symptoms": [seen("cracked", 6)]}, ["/symptoms/0/severity"], "out_of_range"),
    (
        {"symptoms": [seen("cracked", 0), seen("cracked", 3)]},
        ["/symptoms/0/severity", "/symptoms/1/severity"],
        "contradiction",
    ),
    (
        {"symptoms": [seen("cracked", 3, tell_tale="light_chaff")]},
        ["/symptoms/0/symptom", "/symptoms/0/tell_tale"],
        "contradiction",
    ),
    (
        {"symptoms": [seen("cracked", 0, tell_tale="returns_normal")]},
        ["/symptoms/0/severity", "/symptoms/0/tell_tale"],
        "contradiction",
    ),
    ({"symptoms": [seen("cracked", 3, tell_tale="hunch")]}, ["/symptoms/0/tell_tale"], "unknown_name"),
    ({"measured": {"broken_pct": 101}}, ["/measured/broken_pct"], "out_of_range"),
    ({"measured": {"pods_pct": 1}}, ["/measured/pods_pct"], "unknown_name"),
    ({"measured": {"brokn_pct": 1}}, ["/measured/brokn_pct"], "unknown_field"),
    (
        {"measured": {"foreign_matter_pct": 3, "chaff_pct": 1, "straw_pct": 1}},
        ["/measured/chaff_pct", "/measured/foreign_matter_pct", "/measured/straw_pct"],
        "contradiction",
    ),
    (
        {"measured": {"separation_loss_pct": 60, "cleaning_loss_pct": 50}},
        ["/measured/cleaning_loss_pct", "/measured/separation_loss_pct"],
        "contradiction",
    ),
    (
        {"measured": {"broken_pct": 60, "chaff_pct": 50}},
        ["/measured/broken_pct", "/measured/chaff_pct"],
        "contradiction",
    ),
    ({"checks_done": ["wrong_concave", "luck"]}, ["/checks_done/1"], "unknown_name"),
    ({"history": [tried("threshing_speed", 27, 26, "m/s")]}, ["/history/0/effect"], "invalid_input"),
    (
        {"history": [tried("threshing_speed", 27, 26, "m/s", measured_before={"broken_pct": 3})]},
        ["/history/0/effect"],
        "invalid_input",
    ),
    (
        {"history": [tried("threshing_speed", 27, 27, "m/s", effect="same")]},
        ["/history/0/from_value", "/history/0/to_value"],
        "contradiction",
    ),
    (
        {"history": [tried("concave_clearance_outlet", 9, 8, "mm", effect="same")]},
        ["/history/0/setting"],
        "invalid_input",
    ),
    ({"history": [tried("drum", 27, 26, "m/s", effect="same")]}, ["/history/0/setting"], "unknown_name"),
    ({"history": [tried("threshing_speed", 27, 26, "mm", effect="same")]}, ["/history/0/unit"], "unknown_name"),
    ({"history": [tried("threshing_speed", 27, 2.6, "m/s", effect="same")]}, ["/history/0/to_value"], "out_of_range"),
    ({"history": [tried("threshing_speed", 27, 26, "m/s", effect="fine")]}, ["/history/0/effect"], "unknown_name"),
    (
        {"history": [tried("threshing_speed", 27, 26, "m/s", effect="same", symptoms_after=[seen("mood", 1)])]},
        ["/history/0/symptoms_after/0/symptom"],
        "unknown_name",
    ),
    ({"grain_moisture_pct": 4.0}, ["/grain_moisture_pct"], "outside_window"),
    ({"yield_bu_ac": 100.0}, ["/yield_bu_ac", "/yield_t_ha"], "contradiction"),
    ({"engine_power_hp": 500.0, "size_band": "small"}, ["/engine_power_hp", "/size_band"], "contradiction"),
    ({"current_setting": []}, ["/current_setting"], "unknown_field"),
]


@pytest.mark.parametrize(("more", "pointers", "code"), REFUSED, ids=lambda value: str(value)[:60])
@pytest.mark.parametrize("lang", ["en", "de"])
def test_a_refusal_names_the_fields_that_the_caller_wrote(
    more: dict[str, Any], pointers: list[str], code: str, lang: str, ask: Any, refused: Any
) -> None:
    problem = refused(ask("POST", f"{URL}?lang={lang}", json=asked(**more)), 422)
    assert sorted(item["pointer"] for item in problem["errors"]) == pointers
    assert problem["code"] == code


def test_an_unknown_name_is_answered_with_those_that_are_known(ask: Any, refused: Any) -> None:
    problem = refused(ask("POST", URL, json=asked(symptoms=[seen("crackd", 3)])), 422)
    assert problem["errors"][0]["nearest"] == ["cracked"]
    problem = refused(ask("POST", URL, json=asked(current_settings=[standing("threshing_speed", 900, "rpm")])), 422)
    assert problem["errors"][0]["allowed"] == ["m/s", "[ft_i]/min", "{rev}/min"]


def test_limits_of_a_setting_are_told_in_the_unit_that_was_written(ask: Any, refused: Any) -> None:
    body = asked(current_settings=[standing("ground_speed", 20, "[mi_i]/h")])
    (item,) = refused(ask("POST", URL, json=body), 422)["errors"]
    # 15 km/h over 1.609344
    assert (item["unit"], item["high"]) == ("[mi_i]/h", pytest.approx(9.32057))
    assert "mph" in item["detail"]


def examples_of(model: Any, field: str) -> set[str]:
    return set(model.model_fields[field].examples)


def test_names_in_the_description_are_those_of_the_table() -> None:
    settings_of_classes = {name for entry in TABLE.machines.machine_class for name in entry.settings}
    assert examples_of(CurrentSettingRequest, "setting") == settings_of_classes
    assert examples_of(SymptomRequest, "symptom") == set(OUTCOMES)
    assert examples_of(SymptomRequest, "tell_tale") == {tell.id for tell in TELL_TALES}
    units = {entry.unit for entry in TABLE.vocabulary.values() if entry.setting}
    known = units | {TO_US[unit] for unit in units if unit in TO_US} | {"{rev}/min"}
    assert examples_of(CurrentSettingRequest, "unit") == known
    measured = {outcome.measured_as for outcome in TABLE.influence.outcomes} - {None}
    assert set(MeasuredRequest.model_fields) == measured | {"foreign_matter_pct"}


@pytest.mark.parametrize("model", [CurrentSettingRequest, SymptomRequest, MeasuredRequest, PastChangeRequest])
def test_every_number_of_a_request_has_a_limit(model: Any) -> None:
    words = {"setting", "unit", "symptom", "tell_tale", "effect"}
    parts = {"measured_before", "measured_after", "symptoms_before", "symptoms_after"}
    assert set(model.model_fields) - words - parts <= set(LIMITS)


def test_every_field_of_starting_settings_is_taken_here_too() -> None:
    assert set(StartingSettingsRequest.model_fields) <= set(NextAdjustmentRequest.model_fields)


CROPS = sorted(crop.id for crop in TABLE.crops.values() if crop.coverage["starting_settings"].level != "none")


@st.composite
def observations(draw: st.DrawFn, outcomes: list[str]) -> tuple[dict[str, float], list[dict[str, Any]]]:
    """Some measurements and symptoms that a crop can have."""
    names = draw(st.lists(st.sampled_from(outcomes), max_size=4, unique=True))
    symptoms = []
    for name in names:
        grade = draw(st.integers(0, 5))
        signs = [tell.id for tell in TELL_TALES if tell.symptom == name]
        sign = {"tell_tale": draw(st.sampled_from(signs))} if grade and signs and draw(st.booleans()) else {}
        symptoms.append(seen(name, grade, **sign))
    fields = [o.measured_as for o in TABLE.influence.outcomes if o.measured_as is not None and o.id in outcomes]
    shares = st.one_of(st.floats(0, 3), st.just(0.0), st.just(12.0))
    measured = {str(name): draw(shares) for name in draw(st.lists(st.sampled_from(fields), max_size=4, unique=True))}
    return measured, symptoms


@st.composite
def questions(draw: st.DrawFn) -> dict[str, Any]:
    crop = TABLE.crops[draw(st.sampled_from(CROPS))]
    machine_class = draw(st.sampled_from(get_args(ClassId)))
    usual = crop.physical.reference_yield.value
    body: dict[str, Any] = {
        "crop": crop.id,
        "machine_class": machine_class,
        "grain_moisture_pct": draw(st.floats(crop.moisture.floor.value, crop.moisture.ceiling.value)),
        "yield_t_ha": draw(st.floats(usual / 4, min(25, 2 * usual))),
        "straw_condition": draw(st.sampled_from(get_args(Straw))),
        "use": draw(st.sampled_from(get_args(Use))),
        "priority": draw(st.sampled_from(get_args(Priority))),
        "slope_across_deg": draw(st.sampled_from([0.0, 0.0, 6.0])),
    }
    names = next(entry.settings for entry in TABLE.machines.machine_class if entry.id == machine_class)
    outcomes = [o.id for o in TABLE.influence.outcomes if o.symptom and (not o.groups or crop.group in o.groups)]
    limits = {name: TABLE.vocabulary[name] for name in names}
    chosen = draw(st.lists(st.sampled_from(names), max_size=5, unique=True))
    body["current_settings"] = [
        standing(name, draw(st.floats(limits[name].minimum, limits[name].maximum)), limits[name].unit)
        for name in chosen
    ]
    body["measured"], body["symptoms"] = draw(observations(outcomes))
    body["history"] = []
    for name in draw(st.lists(st.sampled_from(names), max_size=3)):
        ends = st.floats(limits[name].minimum, limits[name].maximum)
        past = tried(name, draw(ends), draw(ends), limits[name].unit)
        if draw(st.booleans()):
            past["effect"] = draw(st.sampled_from(["better", "same", "worse"]))
        else:
            past["measured_before"], past["symptoms_before"] = draw(observations(outcomes))
            past["measured_after"], past["symptoms_after"] = draw(observations(outcomes))
        body["history"].append(past)
    return body


def numbers_are_sound(node: Any, where: str = "") -> None:
    if isinstance(node, dict):
        if isinstance(node.get("value"), int | float):
            assert math.isfinite(node["value"]), where
            assert node["unit"] in UNITS, where
            assert node.get("low", node["value"]) <= node["value"] <= node.get("high", node["value"]), (where, node)
        for name, inner in node.items():
            numbers_are_sound(inner, f"{where}/{name}")
    elif isinstance(node, list):
        for place, inner in enumerate(node):
            numbers_are_sound(inner, f"{where}/{place}")


@seed(4)
@settings(max_examples=100, deadline=None, database=None, suppress_health_check=list(HealthCheck))
@given(question=questions(), units=st.sampled_from(["metric", "us"]), lang=st.sampled_from(["en", "de"]))
def test_any_question_is_refused_or_answered_inside_the_envelope(
    question: dict[str, Any], units: str, lang: str, ask: Any, refused: Any
) -> None:
    answer = ask("POST", f"{URL}?units={units}&lang={lang}", json=question)
    if answer.status_code != 200:
        assert refused(answer, 422)["errors"]
        return
    found = answer.json()
    numbers_are_sound(found)
    assert (found["kind"] == "check") == bool(found["checks"])
    assert found["kind"] == "check" or (found["kind"] == "change") == ("change" in found)
    start = ask("POST", f"{START}?units={units}", json=conditions_of(question)).json()
    envelope = {one["id"]: one for one in start["settings"]}
    change = found.get("change")
    for move in (*([change] if change else []), *found["alternatives"]):
        own = envelope[move["setting"]]
        assert own["low"]["value"] <= move["to_value"]["value"] <= own["high"]["value"], move
        assert move["to_value"]["unit"] == own["start"]["unit"]
        rises = move["to_value"]["value"] - move["from_value"]["value"]
        assert rises >= 0 if move["direction"] == "up" else rises <= 0
    settings_moved = [move["setting"] for move in found["alternatives"]] + ([change["setting"]] if change else [])
    assert len(settings_moved) == len(set(settings_moved))
    if change is None:
        return
    for linked in change["linked"]:
        own = envelope[linked["setting"]]
        assert own["low"]["value"] <= linked["to_value"]["value"] <= own["high"]["value"]
    total = sum(effect["cost_change"]["value"] for effect in change["effects"]) + change["doubt"]["value"]
    assert total == pytest.approx(-change["gain"]["value"], abs=0.005 * (len(change["effects"]) + 2) + 1e-9)


@seed(5)
@settings(max_examples=12, deadline=None, database=None, suppress_health_check=list(HealthCheck))
@given(
    crop=st.sampled_from(["wheat", "barley", "soybean", "oilseed_rape", "maize"]),
    machine_class=st.sampled_from(get_args(ClassId)),
    names=st.lists(st.sampled_from(["cracked", "unthreshed", "cleaning_loss", "dirty_chaff"]), min_size=1, unique=True),
)
def test_a_failed_step_is_put_back_and_never_proposed_again(
    crop: str, machine_class: str, names: list[str], ask: Any
) -> None:
    entry = TABLE.crops[crop]
    body = {
        "crop": crop,
        "machine_class": machine_class,
        "grain_moisture_pct": entry.moisture.best_high.value,
        "yield_t_ha": entry.physical.reference_yield.value,
        "symptoms": [seen(name, 4) for name in names],
    }
    failed: list[tuple[str, str]] = []
    history: list[dict[str, Any]] = []
    current: dict[str, dict[str, Any]] = {}
    for _ in range(60):
        question = body | {"history": history, "current_settings": list(current.values())}
        answer = ask("POST", URL, json=question)
        assert answer.status_code == 200, answer.text[:300]
        change = answer.json().get("change")
        if change is None:
            break
        name, direction = change["setting"], change["direction"]
        before, after = change["from_value"], change["to_value"]
        current[name] = standing(name, after["value"], after["unit"])
        if change["reason"] == "undo":
            assert failed[-1][0] == name
            assert after["value"] == pytest.approx(history[-1]["from_value"], abs=10.0 ** -DECIMALS[after["unit"]])
            continue
        assert (name, direction) not in failed
        failed.append((name, direction))
        history.append(tried(name, before["value"], after["value"], before["unit"], effect="worse"))
        current.setdefault(name, standing(name, before["value"], before["unit"]))
    else:
        pytest.fail("60 answers and no end")
