"""Straw and chaff over HTTP: refusals by pointer, twins, the chart, any question at all."""

import copy
import json
import math
import xml.etree.ElementTree as ET
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st

from service.api.examples_residue import RESIDUE_AMOUNT, RESIDUE_SPREAD
from service.api.limits import LIMITS
from service.knowledge.load import load_table
from service.units import convert

SPREAD, AMOUNT = "/v1/residue-spread", "/v1/residue-amount"
Refused = Callable[..., dict[str, Any]]
SPREADS = [case["value"] for case in RESIDUE_SPREAD.values()]
AMOUNTS = [case["value"] for case in RESIDUE_AMOUNT.values()]
SVG = "{http://www.w3.org/2000/svg}"
CROPS = sorted(load_table().crops)


def wheat(**change: Any) -> dict[str, Any]:
    """The wheat example with some fields changed; None takes one away."""
    body: dict[str, Any] = copy.deepcopy(SPREADS[0]) | change
    return {name: value for name, value in body.items() if value is not None}


def parts(node: Any) -> Iterator[dict[str, Any]]:
    if isinstance(node, dict):
        yield node
        for inner in node.values():
            yield from parts(inner)
    elif isinstance(node, list):
        for inner in node:
            yield from parts(inner)


CASES = [(SPREAD, body) for body in SPREADS] + [(AMOUNT, body) for body in AMOUNTS]


@pytest.mark.parametrize(("path", "body"), CASES, ids=[*RESIDUE_SPREAD, *RESIDUE_AMOUNT])
@pytest.mark.parametrize("lang", ["en", "de"])
def test_examples_are_answered_in_both_languages(path: str, body: dict[str, Any], lang: str, ask: Any) -> None:
    answer = ask("POST", path, json=body, params={"lang": lang})
    assert answer.status_code == 200, answer.text[:500]
    assert answer.headers["content-language"] == lang
    found = answer.json()
    cited = {place["id"] for part in parts(found) for place in part.get("sources", []) if "at" in place}
    assert cited == {source["id"] for source in found["sources"]}
    assert "null" not in answer.text
    assert ask("POST", path, json=body, params={"lang": lang}).content == answer.content


@pytest.mark.parametrize("body", SPREADS, ids=RESIDUE_SPREAD)
def test_every_correction_has_a_pattern_for_every_place(body: dict[str, Any], ask: Any) -> None:
    found = ask("POST", SPREAD, json=body).json()
    codes = {one["code"] for one in found["corrections"]}
    steps = {f"{side}_{way}" for side in ("left", "right", "both") for way in ("outward", "inward")}
    assert codes >= steps | {"throw_further", "throw_shorter"}
    places = len(found["places"])
    back = body.get("driving") != "round_and_round"
    for one in found["corrections"]:
        assert len(one["pattern"]) == places
        assert ("return_pattern" in one) == ("after_turn" in one) == back
        assert not back or len(one["return_pattern"]) == places
    assert found["corrections"] == sorted(found["corrections"], key=lambda one: -one["gain"]["value"])
    positions = [one["position"]["value"] for one in found["places"]]
    assert positions == pytest.approx([-place for place in reversed(positions)])
    step = positions[1] - positions[0]
    # relative to the even layer over the cut: the mean over the cut, and what lies beside it, make the cut
    assert sum(one["measured"]["value"] for one in found["places"]) * step == pytest.approx(
        found["cut_width"]["value"], rel=0.03
    )


def test_the_caution_on_the_mode_is_told(ask: Any) -> None:
    cautions = ask("POST", SPREAD, json=wheat()).json()["cautions"]
    (mode,) = [one for one in cautions if one["code"] == "caution.spreader_mode_stopped"]
    for word in ("swath", "road", "threshing drive", "run down"):
        assert word in mode["text"]


@pytest.mark.parametrize(
    ("change", "code", "pointers"),
    [
        ({"cut_width_m": None}, "invalid_input", ["/cut_width_m"]),
        ({"cut_width_ft": 30}, "contradiction", ["/cut_width_m", "/cut_width_ft"]),
        ({"cut_width_m": 900}, "out_of_range", ["/cut_width_m"]),
        ({"standing_crop": None}, "required", ["/standing_crop"]),
        ({"standing_crop": "behind"}, "unknown_name", ["/standing_crop"]),
        ({"positions_m": None}, "invalid_input", ["/positions_m"]),
        ({"positions_m": []}, "invalid_input", ["/positions_m"]),
        ({"positions_m": [*range(-8, 8), 7]}, "invalid_input", ["/positions_m/16"]),
        ({"positions_m": [*range(-8, 8), 7.01]}, "invalid_input", ["/positions_m/16"]),
        ({"positions_m": [float(x) for x in range(1, 18)]}, "invalid_input", ["/positions_m"]),
        ({"positions_m": [x / 1 for x in range(-30, 31)]}, "contradiction", ["/positions_m", "/straw_g"]),
        ({"positions_m": [x * 3 for x in range(-8, 9)]}, "contradiction", ["/positions_m", "/cut_width_m"]),
        ({"positions_m": [-31, 0, 1]}, "out_of_range", ["/positions_m/0"]),
        ({"straw_g": None}, "invalid_input", ["/straw_g"]),
        ({"chaff_g": None}, "invalid_input", ["/chaff_g"]),
        ({"straw_g": None, "chaff_g": None}, "invalid_input", ["/residue_g"]),
        ({"residue_g": [1.0] * 17}, "contradiction", ["/residue_g", "/straw_g", "/chaff_g"]),
        ({"straw_g": [0.0] * 17}, "invalid_input", ["/straw_g"]),
        ({"straw_g": [-1.0] * 17}, "out_of_range", [f"/straw_g/{place}" for place in range(17)]),
        ({"straw_g": [1.0] * 102}, "wrong_length", ["/straw_g"]),
        ({"swath_spacings_m": [9.0] * 9}, "wrong_length", ["/swath_spacings_m"]),
        ({"swath_spacings_m": [0.1]}, "out_of_range", ["/swath_spacings_m/0"]),
        ({"tray_area_m2": 2500}, "out_of_range", ["/tray_area_m2"]),
        ({"tray_area_ft2": 2.5}, "contradiction", ["/tray_area_m2", "/tray_area_ft2"]),
        ({"lateral_offset_m": 4.0}, "out_of_range", ["/lateral_offset_m"]),
        ({"lateral_offset_ft": 20.0}, "out_of_range", ["/lateral_offset_ft"]),
        ({"lateral_offset_m": 1.0, "lateral_offset_max_m": 0.5}, "out_of_range", ["/lateral_offset_m"]),
        ({"crosswind_m_s": 21}, "out_of_range", ["/crosswind_m_s"]),
        ({"crosswind_mph": 5}, "contradiction", ["/crosswind_m_s", "/crosswind_mph"]),
        ({"slope_across_deg": 21}, "out_of_range", ["/slope_across_deg"]),
        ({"driving": "in_circles"}, "unknown_name", ["/driving"]),
        ({"crop": "wheet"}, "unknown_name", ["/crop"]),
        ({"mode": "spread"}, "unknown_field", ["/mode"]),
    ],
    ids=lambda value: str(value)[:50],
)
@pytest.mark.parametrize("lang", ["en", "de"])
def test_what_cannot_be_is_refused_by_name(
    change: dict[str, Any], code: str, pointers: list[str], lang: str, ask: Any, refused: Refused
) -> None:
    problem = refused(ask("POST", SPREAD, json=wheat(**change), params={"lang": lang}), 422)
    assert problem["code"] == code
    assert sorted(item["pointer"] for item in problem["errors"]) == sorted(pointers)


@pytest.mark.parametrize(
    ("change", "code", "pointers"),
    [
        ({"yield_t_ha": None}, "invalid_input", ["/yield_t_ha"]),
        ({"yield_bu_ac": 100}, "contradiction", ["/yield_t_ha", "/yield_bu_ac"]),
        ({"laid_width_m": None}, "invalid_input", ["/laid_width_m"]),
        ({"cut_width_m": None}, "invalid_input", ["/cut_width_m"]),
        ({"laid_width_m": 10}, "out_of_range", ["/laid_width_m"]),
        ({"laid_width_ft": 6}, "contradiction", ["/laid_width_m", "/laid_width_ft"]),
        ({"residue_moisture_pct": 0.12}, "out_of_range", ["/residue_moisture_pct"]),
        ({"straw_intake_share_pct": 101}, "out_of_range", ["/straw_intake_share_pct"]),
        ({"chaff_to_grain": 6}, "out_of_range", ["/chaff_to_grain"]),
        ({"crop": "wheet"}, "unknown_name", ["/crop"]),
    ],
    ids=lambda value: str(value)[:50],
)
def test_an_amount_that_cannot_be_is_refused_by_name(
    change: dict[str, Any], code: str, pointers: list[str], ask: Any, refused: Refused
) -> None:
    body = {name: value for name, value in (AMOUNTS[0] | change).items() if value is not None}
    problem = refused(ask("POST", AMOUNT, json=body), 422)
    assert problem["code"] == code
    assert sorted(item["pointer"] for item in problem["errors"]) == sorted(pointers)


def test_an_area_in_square_centimetres_is_named_with_what_was_meant(ask: Any, refused: Refused) -> None:
    problem = refused(ask("POST", SPREAD, json=wheat(tray_area_m2=2500)), 422)
    assert problem["errors"][0]["suggested"] == 0.25


TRIANGLE = [10.0 - abs(place) for place in range(-10, 11)]
SKEWED = [0.0, 0, 1, 2, 4, 6, 8, 9, 10, 10, 9, 7, 4, 2, 1, 0, 0]
# D_j = sum over k of d(j + k S) at the trays, s with n - 1; reckoned on the formula, outside of this program
ALONG = {8: 6.05, 10: 0.0, 12: 7.82, 14: 19.69, 16: 33.31, 20: 59.82}
SKEWED_ALONG, SKEWED_BACK = {8: 9.15, 10: 30.32, 12: 52.2}, {8: 8.84, 10: 29.51, 12: 51.05}


@pytest.mark.parametrize(
    ("masses", "driving", "expected"),
    [
        (TRIANGLE, "round_and_round", ALONG),
        (SKEWED, "round_and_round", SKEWED_ALONG),
        (SKEWED, "back_and_forth", SKEWED_BACK),
    ],
)
@pytest.mark.parametrize("units", ["metric", "us"])
def test_overlapped_trays_vary_as_spreader_tests_define_it(
    masses: list[float], driving: str, expected: dict[int, float], units: str, ask: Any
) -> None:
    half = (len(masses) - 1) // 2
    body = {
        "crop": "wheat",
        "cut_width_m": 10.0,
        "standing_crop": "right",
        "positions_m": [float(place) for place in range(-half, half + 1)],
        "residue_g": masses,
        "driving": driving,
        "swath_spacings_m": [float(spacing) for spacing in expected],
    }
    answer = ask("POST", SPREAD, json=body, params={"units": units}).json()
    found = [one for one in answer["overlaps"] if one["code"] == driving]
    assert [one["evenness"]["variation"]["value"] for one in found] == list(expected.values())
    assert all(one["at_trays"] for one in found)
    # in still air the layer lies as it was measured
    assert answer["now"]["variation"] == found[0]["evenness"]["variation"]
    assert answer["now"]["variation_between"] == found[0]["variation_between"]


@pytest.mark.parametrize("lang", ["en", "de"])
@pytest.mark.parametrize("standing", ["left", "both", "none"])
def test_the_setting_of_the_way_back_is_told(lang: str, standing: str, ask: Any) -> None:
    """Thrown 0.6 m to the right by the machine, with wind from the left: not the mirror image."""
    places = [place + 0.6 for place in SPREADS[0]["positions_m"]]
    body = wheat(positions_m=places, standing_crop=standing, crosswind_m_s=2.0)
    answer = ask("POST", SPREAD, json=body, params={"lang": lang}).json()
    (offset,) = [one for one in answer["corrections"] if one["code"] == "lateral_offset"]
    back = offset["return_offset"]["value"]
    assert back != -offset["offset"]["value"]
    assert offset["after_turn"] == "change"
    number = f"{abs(back):g}"
    assert (number if lang == "en" else number.replace(".", ",")) in offset["after_turn_text"]
    assert ("standing crop" in offset["after_turn_text"]) == (lang == "en" and standing == "left")
    assert ("den Bestand" in offset["after_turn_text"]) == (lang == "de" and standing == "left")
    assert ("mirror" in offset["after_turn_text"]) is False
    assert ("spiegel" in offset["after_turn_text"]) is False


def test_the_limit_of_the_wind_is_its_careful_end(ask: Any) -> None:
    for limit in ask("POST", SPREAD, json=wheat()).json()["air"]["limits"]:
        assert limit["wind"]["value"] == limit["wind"]["low"] < limit["wind"]["high"]


@pytest.mark.parametrize("lang", ["en", "de"])
def test_a_told_speed_against_the_trays_is_named_with_the_one_that_fits(lang: str, ask: Any) -> None:
    answer = ask("POST", SPREAD, json=wheat(discharge_speed_m_s=8.0), params={"lang": lang}).json()
    for flight in answer["air"]["flights"]:
        assert flight["told_discharge_speed"] == {"value": 8.0, "unit": "m/s"}
        fitted = f"{flight['discharge_speed']['value']:g}"
        texts = [one["text"] for one in answer["warnings"] if one["code"] == "warning.residue.told_speed"]
        (text,) = [one for one in texts if flight["name"] in one]
        assert "8 m/s" in text
        assert f"{fitted if lang == 'en' else fitted.replace('.', ',')} m/s" in text
    without = ask("POST", SPREAD, json=wheat()).json()
    assert all("told_discharge_speed" not in flight for flight in without["air"]["flights"])


@pytest.mark.parametrize(("lang", "ours"), [("en", ("of ours",)), ("de", ("eigene Stufe", "von uns"))])
def test_a_verdict_says_that_its_band_is_ours_unless_a_source_has_it(
    lang: str, ours: tuple[str, ...], ask: Any
) -> None:
    found = ask("POST", SPREAD, json=wheat(), params={"lang": lang}).json()["verdicts"]
    assert {one["code"] for one in found} >= {"evenness", "no_till_ratio", "coverage", "balance", "standing_crop"}
    for one in found:
        said = any(word in one["text"] for word in ours)
        assert said != (one["evidence"]["basis"] == "published"), one["text"]


TWINS = {
    "cut_width_m": ("cut_width_ft", "m", "[ft_i]"),
    "positions_m": ("positions_ft", "m", "[ft_i]"),
    "tray_area_m2": ("tray_area_ft2", "m2", "[sft_i]"),
    "swath_spacings_m": ("swath_spacings_ft", "m", "[ft_i]"),
    "lateral_offset_m": ("lateral_offset_ft", "m", "[ft_i]"),
    "lateral_offset_max_m": ("lateral_offset_max_ft", "m", "[ft_i]"),
    "crosswind_m_s": ("crosswind_mph", "m/s", "[mi_i]/h"),
    "discharge_height_m": ("discharge_height_ft", "m", "[ft_i]"),
}
FULL = {"lateral_offset_m": 0.3, "lateral_offset_max_m": 2.0, "discharge_height_m": 1.8, "crosswind_m_s": 2.0}


@pytest.mark.parametrize("field", TWINS)
def test_a_field_in_customary_units_gives_the_same_answer(field: str, ask: Any) -> None:
    twin, unit, customary = TWINS[field]
    body = wheat(**FULL)
    metric = ask("POST", SPREAD, json=body)
    assert metric.status_code == 200, metric.text[:300]
    given = body.pop(field)
    body[twin] = (
        [convert(one, unit, customary) for one in given] if isinstance(given, list) else convert(given, unit, customary)
    )
    other = ask("POST", SPREAD, json=body)
    assert other.status_code == 200, other.text[:300]
    one, two = metric.json(), other.json()
    assert two["decision"] == one["decision"]
    assert two["materials"] == one["materials"]
    assert two["overlaps"] == one["overlaps"]


@pytest.mark.parametrize("field", ["positions_m", "swath_spacings_m"])
def test_a_column_and_its_twin_exclude_each_other(field: str, ask: Any, refused: Refused) -> None:
    body = wheat(**{TWINS[field][0]: [9.0, 10.0]})
    problem = refused(ask("POST", SPREAD, json=body), 422)
    assert {item["pointer"] for item in problem["errors"]} == {f"/{field}", f"/{TWINS[field][0]}"}


def test_a_refusal_names_the_column_as_it_was_written(ask: Any, refused: Refused) -> None:
    body = copy.deepcopy(SPREADS[1])
    body["positions_ft"][3] = body["positions_ft"][2]
    (item,) = refused(ask("POST", SPREAD, json=body), 422)["errors"]
    assert item["pointer"] == "/positions_ft/3"


@pytest.mark.parametrize("body", SPREADS, ids=RESIDUE_SPREAD)
@pytest.mark.parametrize(("lang", "units"), [("en", "metric"), ("de", "us")])
def test_the_chart_is_drawn_where_it_is_asked_for(body: dict[str, Any], lang: str, units: str, ask: Any) -> None:
    params = {"lang": lang, "units": units}
    answer = ask("POST", SPREAD, json=body, headers={"Accept": "image/svg+xml"}, params=params)
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith("image/svg+xml")
    assert "Accept" in answer.headers["vary"]
    root = ET.fromstring(answer.content)
    title, description = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None
    assert description is not None
    spoken = ask("POST", SPREAD, json=body, params=params).json()
    assert spoken["crop"]["name"] in (title.text or "")
    assert spoken["decision"]["text"] in (description.text or "")
    words = {element.text for element in root.iter(f"{SVG}text")}
    assert {"Cut width", "Next pass"} <= words or {"Schnittbreite", "Nachbarbahn"} <= words
    moved = {
        "en": ("Now, in this wind", "Now, on this slope"),
        "de": ("Jetzt, in diesem Wind", "Jetzt, an diesem Hang"),
    }
    by = ("crosswind_m_s" in body, "slope_across_deg" in body)
    assert tuple(one in words for one in moved[lang]) == by
    best = next(one for one in spoken["corrections"] if one["code"] == spoken["best"])
    assert best["text"] in words  # before and after, by the name of the change


def test_an_amount_is_not_drawn(ask: Any, refused: Refused) -> None:
    refused(ask("POST", AMOUNT, json=AMOUNTS[0], headers={"Accept": "image/svg+xml"}), 406)


def number(field: str) -> st.SearchStrategy[float]:
    limit = LIMITS[field]
    return st.one_of(st.floats(limit.low, limit.high), st.sampled_from([limit.low, limit.high]))


@st.composite
def spreads(draw: st.DrawFn) -> dict[str, Any]:
    count = draw(st.integers(5, 14))
    places = sorted(draw(st.lists(st.floats(-30, 30), min_size=count, max_size=count, unique=True)))
    if draw(st.booleans()):  # as trays are laid
        step = draw(st.floats(0.2, 2))
        places = [step * (number - (count - 1) / 2) for number in range(count)]
    masses = st.lists(st.one_of(st.floats(0, 200), st.just(0.0), number("straw_g")), min_size=count, max_size=count)
    body: dict[str, Any] = {
        "crop": draw(st.sampled_from(CROPS)),
        "cut_width_m": draw(number("cut_width_m")),
        "standing_crop": draw(st.sampled_from(["left", "right", "both", "none"])),
        "positions_m": places,
        "driving": draw(st.sampled_from(["back_and_forth", "round_and_round"])),
    }
    body |= {"residue_g": draw(masses)} if draw(st.booleans()) else {"straw_g": draw(masses), "chaff_g": draw(masses)}
    others = ["tray_area_m2", "lateral_offset_m", "lateral_offset_max_m", "crosswind_m_s", "slope_across_deg"]
    for name in draw(st.lists(st.sampled_from([*others, "discharge_height_m", "discharge_speed_m_s"]), unique=True)):
        body[name] = draw(number(name))
    if draw(st.booleans()):
        body["swath_spacings_m"] = draw(st.lists(number("swath_spacings_m"), min_size=1, max_size=2))
    return body


def no_constant(name: str) -> None:
    raise AssertionError(f"{name} in an answer")


def ranges_hold(node: Any) -> None:
    for part in parts(node):
        if isinstance(part.get("value"), int | float):
            assert math.isfinite(part["value"])
            assert part.get("low", part["value"]) <= part["value"] <= part.get("high", part["value"]), part


ANY = settings(
    max_examples=12,
    deadline=None,
    database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


@seed(3)
@ANY
@given(body=spreads())
def test_any_spread_is_answered_or_refused(body: dict[str, Any], ask: Any, refused: Refused) -> None:
    answer = ask("POST", SPREAD, json=body)
    if answer.status_code != 200:
        assert refused(answer, 422)["errors"]
        return
    ranges_hold(json.loads(answer.content, parse_constant=no_constant))
    if len(body["positions_m"]) % 3 == 0:  # a chart costs a second answer
        ET.fromstring(ask("POST", SPREAD, json=body, headers={"Accept": "image/svg+xml"}).content)


@seed(4)
@ANY
@given(
    crop=st.sampled_from(CROPS),
    fields=st.lists(
        st.sampled_from(
            ["grain_moisture_pct", "residue_moisture_pct", "straw_to_grain", "chaff_to_grain", "straw_intake_share_pct"]
        ),
        unique=True,
    ),
    data=st.data(),
)
def test_any_amount_is_answered(crop: str, fields: list[str], data: st.DataObject, ask: Any) -> None:
    body: dict[str, Any] = {"crop": crop, "yield_t_ha": data.draw(number("yield_t_ha"))}
    body |= {name: data.draw(number(name)) for name in fields}
    answer = ask("POST", AMOUNT, json=body)
    assert answer.status_code == 200, answer.text[:300]
    ranges_hold(json.loads(answer.content, parse_constant=no_constant))
