"""Every field of every request, taken from the OpenAPI document, against every usual slip."""

import json
import math
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from service.api.app import create_app
from service.api.limits import TWINS
from service.api.requests_hauling import HaulerRequest
from service.api.requests_speed import DropTestRequest
from service.api.requests_window import WeatherRequest
from service.config import Settings

DOCUMENT = create_app(Settings()).openapi()
SCHEMAS = DOCUMENT["components"]["schemas"]
# a batch answers for each of its reports alone: test_feedback.py
BATCH = "/v1/feedback/batch"
POSTS = {
    path: item["post"]
    for path, item in DOCUMENT["paths"].items()
    if "requestBody" in item.get("post", {}) and path != BATCH
}
GETS = {path: item["get"] for path, item in DOCUMENT["paths"].items() if "get" in item and path.startswith("/v1")}
JSON = {"content-type": "application/json"}
MARK = '"@"'

# as written in the body; the first six are what a sensor, a spreadsheet or a sum gives
NOT_NUMBERS = ["NaN", "Infinity", "-Infinity", "1e999", "-1e999", '"NaN"', "true", "false", '"16.5"']
NOT_NUMBERS += ['"16,5"', "null", "[1]", "{}", '""']
HUGE = "1" + "0" * 400
NOT_NUMBERS_IN_QUERY = ["NaN", "inf", "-Infinity", "1e999", "16,5", "1_0", "", " 1", "0x10", "true", "null", "١٢"]


def resolved(schema: dict[str, Any]) -> dict[str, Any]:
    return SCHEMAS[schema["$ref"].rsplit("/", 1)[1]] if "$ref" in schema else schema


def body_of(path: str) -> tuple[dict[str, Any], dict[str, Any]]:
    """Schema and first example of a body."""
    content = POSTS[path]["requestBody"]["content"]["application/json"]
    return resolved(content["schema"]), next(iter(content["examples"].values()))["value"]


def places(schema: dict[str, Any], kind: str, pointer: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """JSON Pointers of all fields of a kind, into lists as well."""
    schema = resolved(schema)
    if schema.get("type") == "object":
        for name, inner in schema["properties"].items():
            yield from places(inner, kind, f"{pointer}/{name}")
    elif schema.get("type") == "array":
        yield from places(schema["items"], kind, f"{pointer}/0")
    elif schema.get("type") == kind and (kind != "string" or "enum" not in schema):
        yield pointer, schema


def enums(schema: dict[str, Any], pointer: str = "") -> Iterator[tuple[str, list[str]]]:
    schema = resolved(schema)
    if schema.get("type") == "object":
        for name, inner in schema["properties"].items():
            yield from enums(inner, f"{pointer}/{name}")
    elif schema.get("type") == "array":
        yield from enums(schema["items"], f"{pointer}/0")
    elif "enum" in schema:
        yield pointer, schema["enum"]


def put(path: str, pointer: str, written: str) -> bytes:
    """The example of a body with one field written so."""
    body = json.loads(json.dumps(body_of(path)[1]))
    here: Any = body
    *way, last = pointer.strip("/").split("/")
    for step in way:
        here = here[int(step)] if isinstance(here, list) else here.setdefault(step, [])
    if isinstance(here, list):
        here[:] = ["@"]
    else:
        here[last] = "@"
    return json.dumps(body).replace(MARK, written).encode("utf-8", "surrogatepass")


BODY_FIELDS = [
    (path, kind, *found) for path in POSTS for kind in ("number", "integer") for found in places(body_of(path)[0], kind)
]
QUERY_FIELDS = [
    (path, parameter["name"], parameter["schema"])
    for path, operation in GETS.items()
    for parameter in operation.get("parameters", [])
    if parameter["in"] == "query" and parameter["schema"].get("type") == "number"
]
ENUMS = [(path, *found) for path in POSTS for found in enums(body_of(path)[0])]


def query_of(path: str) -> dict[str, str]:
    """Required query parameters by their examples."""
    return {
        parameter["name"]: str(parameter["schema"]["examples"][0])
        for parameter in GETS[path].get("parameters", [])
        if parameter["in"] == "query" and (parameter["required"] or parameter["name"] == "yield_t_ha")
    }


def test_the_tables_are_not_empty() -> None:
    assert len(BODY_FIELDS) > 50
    assert len(QUERY_FIELDS) > 25
    assert len(ENUMS) > 10


@pytest.mark.parametrize(("path", "kind", "pointer", "schema"), BODY_FIELDS, ids=lambda value: str(value)[:60])
def test_what_is_no_number_is_refused_with_its_field(
    path: str, kind: str, pointer: str, schema: dict[str, Any], ask: Any, refused: Callable[..., dict[str, Any]]
) -> None:
    for written in [*NOT_NUMBERS, "1.5"] if kind == "integer" else [*NOT_NUMBERS, HUGE]:
        problem = refused(ask("POST", path, content=put(path, pointer, written), headers=JSON), 422)
        assert [item["pointer"] for item in problem["errors"]] == [pointer], written
        assert problem["code"] in ("wrong_type", "not_finite"), written


@pytest.mark.parametrize(("path", "kind", "pointer", "schema"), BODY_FIELDS, ids=lambda value: str(value)[:60])
def test_a_number_outside_its_bounds_is_refused_with_the_bounds(
    path: str, kind: str, pointer: str, schema: dict[str, Any], ask: Any, refused: Callable[..., dict[str, Any]]
) -> None:
    low, high = schema["minimum"], schema["maximum"]
    step = 1 if kind == "integer" else 1e-9
    for value in (low - step * max(1, abs(low)), high + step * max(1, abs(high)), -1e300, 1e300):
        number = int(value) if kind == "integer" else value
        written = "9" * 17 if number == int(1e300) else "-" + "9" * 17 if number == int(-1e300) else json.dumps(number)
        problem = refused(ask("POST", path, content=put(path, pointer, written), headers=JSON), 422)
        (item,) = problem["errors"]
        assert (item["pointer"], item["code"], item["low"], item["high"]) == (pointer, "out_of_range", low, high)


@pytest.mark.parametrize(("path", "name", "schema"), QUERY_FIELDS, ids=lambda value: str(value)[:60])
def test_what_is_no_number_in_the_query_is_refused_with_its_parameter(
    path: str, name: str, schema: dict[str, Any], ask: Any, refused: Callable[..., dict[str, Any]]
) -> None:
    for written in NOT_NUMBERS_IN_QUERY:
        problem = refused(ask("GET", path, params=query_of(path) | {name: written}), 422)
        assert [item["parameter"] for item in problem["errors"]] == [name], written
        assert problem["code"] in ("wrong_type", "not_finite"), written
    high = refused(ask("GET", path, params=query_of(path) | {name: repr(schema["maximum"] * 1.001 + 0.001)}), 422)
    assert high["errors"][0]["high"] == schema["maximum"]


@pytest.mark.parametrize(("path", "pointer", "allowed"), ENUMS, ids=lambda value: str(value)[:60])
def test_a_name_outside_a_closed_list_is_refused_with_the_list(
    path: str, pointer: str, allowed: list[str], ask: Any, refused: Callable[..., dict[str, Any]]
) -> None:
    for name in allowed:
        for slip in (name.upper(), f"{name}x", name[1:]):
            problem = refused(ask("POST", path, content=put(path, pointer, json.dumps(slip)), headers=JSON), 422)
            (item,) = problem["errors"]
            assert (item["pointer"], item["allowed"]) == (pointer, allowed)
            assert name in item["nearest"], slip
    for written in ("1", "true", "null", "[]", '"@@@"'):
        problem = refused(ask("POST", path, content=put(path, pointer, written), headers=JSON), 422)
        assert "nearest" not in problem["errors"][0]


@pytest.mark.parametrize("path", POSTS)
def test_a_misspelt_field_is_refused_with_the_nearest_one(
    path: str, ask: Any, refused: Callable[..., dict[str, Any]]
) -> None:
    schema, example = body_of(path)
    for name in schema["properties"]:
        for slip in (name[0] + name[2:], name + "s", name.upper()):
            problem = refused(ask("POST", path, json=example | {slip: 1}), 422)
            item = next(item for item in problem["errors"] if item["pointer"] == f"/{slip}")
            assert item["code"] == "unknown_field"
            assert item["nearest"][0] == name, slip


@pytest.mark.parametrize(
    ("slip", "meant"),
    [
        ("moistrue", "grain_moisture_pct"),
        ("moisture", "grain_moisture_pct"),
        ("yield", "yield_t_ha"),
        ("cutwidth", "cut_width_m"),
        ("machine_clas", "machine_class"),
        ("fan_speed", "fan_speed_min_rpm"),
    ],
)
def test_a_field_is_found_by_what_people_write(
    slip: str, meant: str, ask: Any, refused: Callable[..., dict[str, Any]]
) -> None:
    example = body_of("/v1/starting-settings")[1]
    problem = refused(ask("POST", "/v1/starting-settings", json=example | {slip: 1}), 422)
    assert meant in problem["errors"][0]["nearest"]
    problem = refused(ask("GET", "/v1/starting-settings", params=query_of("/v1/starting-settings") | {slip: "1"}), 422)
    assert problem["errors"][0]["parameter"] == slip
    assert meant in problem["errors"][0]["nearest"]


@pytest.mark.parametrize("path", GETS)
def test_an_unknown_or_repeated_query_parameter_is_refused(
    path: str, ask: Any, refused: Callable[..., dict[str, Any]]
) -> None:
    url = path.replace("{crop}", "wheat").replace("{id}", "00000000-0000-0000-0000-000000000007")
    problem = refused(ask("GET", url, params=query_of(path) | {"unit": "us"}), 422)
    assert problem["errors"][0]["nearest"] == ["units"]
    pairs = [*query_of(path).items(), ("lang", "en"), ("lang", "de")]
    assert refused(ask("GET", url, params=pairs), 422)["code"] == "duplicate_parameter"


TEXTS = {path: next((found for found, _ in places(body_of(path)[0], "string")), None) for path in POSTS}
# the name of a row can only be known from a draft, which a contributor's key does not see: test_refinements.py
BY_DRAFT = "/v1/refinements/{id}/decisions"
FIRST_TEXT = [(path, pointer) for path, pointer in TEXTS.items() if pointer is not None and path != BY_DRAFT]


def test_only_a_question_of_numbers_has_no_text() -> None:
    without = {path for path, pointer in TEXTS.items() if pointer is None}
    assert without == {"/v1/belt-slip", "/v1/refinements", "/v1/tables/{organisation}/rollback"}


@pytest.mark.parametrize(("path", "pointer"), FIRST_TEXT)
def test_text_that_could_poison_a_page_or_a_log_is_refused(
    path: str, pointer: str, ask: Any, refused: Callable[..., dict[str, Any]]
) -> None:
    for written in (r'"wh\u0000eat"', r'"\ud800"', r'"wheat\u001b[31m"', '""', f'"{"x" * 61}"', "5", "null", "[]"):
        problem = refused(ask("POST", path, content=put(path, pointer, written), headers=JSON), 422)
        assert problem["errors"][0]["pointer"] == pointer, written
        assert problem["code"] in ("bad_text", "wrong_length", "wrong_type")
    for clean in ("\u202ewheat\u202c", "🌾", "пшеница", "<script>alert(1)</script>", "%00", "'; drop table"):
        answer = ask("POST", path, content=put(path, pointer, json.dumps(clean)), headers=JSON)
        problem = refused(answer, 422)
        assert problem["code"] == "unknown_name"
        assert clean not in answer.text


@pytest.mark.parametrize(
    ("field", "value", "meant", "unit"),
    [
        ("grain_moisture_pct", 0.145, 14.5, "%"),
        ("yield_t_ha", 8000, 8, "t/har"),
        ("yield_t_ha", 80, 8, "t/har"),
        ("cut_width_m", 750, 7.5, "m"),
        ("cut_width_m", 7500, 7.5, "m"),
        ("drum_diameter_mm", 0.61, 610, "mm"),
        ("drum_diameter_mm", 61, 610, "mm"),
        ("bulk_density_kg_hl", 770, 77, "kg/hL"),
    ],
)
def test_a_figure_in_a_usual_wrong_unit_is_refused_with_what_was_likely_meant(
    field: str, value: float, meant: float, unit: str, ask: Any, refused: Callable[..., dict[str, Any]]
) -> None:
    example = body_of("/v1/starting-settings")[1]
    (item,) = refused(ask("POST", "/v1/starting-settings", json=example | {field: value}), 422)["errors"]
    assert math.isclose(item["suggested"], meant)
    assert item["unit"] == unit
    assert f"{meant:g}" in item["detail"]
    query = query_of("/v1/starting-settings") | {field: str(value)}
    assert refused(ask("GET", "/v1/starting-settings", params=query), 422)["errors"][0]["suggested"] == meant


def test_a_field_and_its_twin_exclude_each_other_and_name_both(
    ask: Any, refused: Callable[..., dict[str, Any]]
) -> None:
    asked = set()
    for path in POSTS:
        schema, example = body_of(path)
        for name, twin in TWINS.items():
            if name not in schema["properties"] or schema["properties"][name].get("type") == "array":
                continue
            fields = schema["properties"]
            both = {field: fields[field]["maximum"] / 2 for field in (name, twin.metric)}
            same = {twin.metric, *(other for other, its in TWINS.items() if its.metric == twin.metric)}
            kept = {field: value for field, value in example.items() if field not in same}
            problem = refused(ask("POST", path, json=kept | both), 422)
            assert {item["pointer"] for item in problem["errors"]} == {f"/{name}", f"/{twin.metric}"}
            assert problem["code"] == "contradiction"
            asked.add(name)
    frame = {"place": "standing", "area_m2": 1, "area_ft2": 10, "kernels": [1]}
    problem = refused(ask("POST", "/v1/ground-loss", json=body_of("/v1/ground-loss")[1] | {"frames": [frame]}), 422)
    assert [item["pointer"] for item in problem["errors"]] == ["/frames/0/area_m2", "/frames/0/area_ft2"]
    monitor = body_of("/v1/monitor-calibration")[1]
    for name in ("measured_loss_lb_ac", "measured_loss_bu_ac"):
        pair = {"reading": 1, "measured_loss_kg_ha": 10, name: 10}
        problem = refused(ask("POST", "/v1/monitor-calibration", json=monitor | {"pairs": [pair]}), 422)
        assert [item["pointer"] for item in problem["errors"]] == ["/pairs/0/measured_loss_kg_ha", f"/pairs/0/{name}"]
        asked.add(name)
    # those of a drop test are asked in test_working_speed.py, the columns of the weather in test_harvest_window.py,
    # those of trays in test_residue.py, those of a hauler in test_hauling.py
    within = (DropTestRequest, WeatherRequest, HaulerRequest)
    inner = {"area_ft2", "positions_ft", "swath_spacings_ft"}
    inner |= {name for name in TWINS if any(name in one.model_fields for one in within)}
    assert asked | inner == set(TWINS)


def test_a_refusal_by_the_use_case_names_the_twin_that_was_written(
    ask: Any, refused: Callable[..., dict[str, Any]]
) -> None:
    example = body_of("/v1/starting-settings")[1] | {"size_band": "small", "engine_power_hp": 500}
    problem = refused(ask("POST", "/v1/starting-settings?units=us", json=example), 422)
    assert {item["pointer"] for item in problem["errors"]} == {"/size_band", "/engine_power_hp"}
    assert "500 hp" in problem["detail"]


def test_a_text_that_names_fields_names_the_twins_that_were_written(
    ask: Any, refused: Callable[..., dict[str, Any]]
) -> None:
    example = body_of("/v1/ground-loss")[1] | {"ground_speed_mph": 3, "area_rate_ac_h": 8}
    del example["area_rate_ha_h"]
    problem = refused(ask("POST", "/v1/ground-loss", json=example), 422)
    assert {item["pointer"] for item in problem["errors"]} == {"/ground_speed_mph", "/area_rate_ac_h"}
    for item in problem["errors"]:
        assert "ground_speed_mph" in item["detail"]
        assert "ground_speed_km_h" not in item["detail"]


def test_one_of_a_required_pair_is_asked_for(ask: Any, refused: Callable[..., dict[str, Any]]) -> None:
    loss = dict(body_of("/v1/ground-loss")[1])
    del loss["cut_width_m"]
    (item,) = refused(ask("POST", "/v1/ground-loss", json=loss), 422)["errors"]
    assert item["pointer"] == "/cut_width_m"
    assert "cut_width_ft" in item["detail"]
    settings = dict(body_of("/v1/starting-settings")[1])
    del settings["yield_t_ha"]
    (item,) = refused(ask("POST", "/v1/starting-settings", json=settings), 422)["errors"]
    assert item["pointer"] == "/yield_t_ha"
    assert "yield_bu_ac" in item["detail"]


def test_errors_are_listed_up_to_fifty(ask: Any, refused: Callable[..., dict[str, Any]]) -> None:
    many = {f"field_{number}": number for number in range(2000)}
    assert len(refused(ask("POST", "/v1/starting-settings", json=many), 422)["errors"]) == 50


def test_guesses_are_made_for_the_first_errors_only(ask: Any, refused: Callable[..., dict[str, Any]]) -> None:
    # a guess compares with every field; hundreds of them would let one request hold up all others
    many = body_of("/v1/starting-settings")[1] | {f"machine_class{number}": 1 for number in range(40)}
    errors = refused(ask("POST", "/v1/starting-settings", json=many), 422)["errors"]
    assert ["nearest" in item for item in errors] == [True] * 10 + [False] * 30
