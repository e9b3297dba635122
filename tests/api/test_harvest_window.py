"""The harvest window over HTTP: refusals by pointer, twins, the chart."""

import copy
import re
import xml.etree.ElementTree as ET
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from service.api.app import create_app
from service.api.examples_window import HARVEST_WINDOW
from service.config import Settings
from service.knowledge.tree import PACKAGE_FOLDER
from service.units import convert

PATH = "/v1/harvest-window"
Refused = Callable[..., dict[str, Any]]
EXAMPLES = [case["value"] for case in HARVEST_WINDOW.values()]
SVG = "{http://www.w3.org/2000/svg}"


def wheat() -> dict[str, Any]:
    return copy.deepcopy(EXAMPLES[0])


def changed(path: str, value: Any) -> dict[str, Any]:
    """The wheat example with one place of it changed; None takes it away."""
    body: Any = wheat()
    *steps, last = [int(step) if step.isdigit() else step for step in path.split("/")]
    inner = body
    for step in steps:
        inner = inner[step]
    if value is None:
        del inner[last]
    else:
        inner[last] = value
    return body


@pytest.mark.parametrize("body", EXAMPLES, ids=HARVEST_WINDOW)
@pytest.mark.parametrize("lang", ["en", "de"])
def test_examples_are_answered_in_both_languages(body: dict[str, Any], lang: str, ask: Any) -> None:
    answer = ask("POST", PATH, json=body, params={"lang": lang})
    assert answer.status_code == 200, answer.text[:500]
    assert answer.headers["content-language"] == lang
    found = answer.json()
    weather = body["weather"]
    assert len(found["hours"]) == len(weather.get("temperature_c") or weather["temperature_f"])
    cited = {place["id"] for part in parts(found) for place in part.get("sources", []) if "at" in place}
    assert cited == {source["id"] for source in found["sources"]}


def parts(node: Any) -> Any:
    if isinstance(node, dict):
        yield node
        for inner in node.values():
            yield from parts(inner)
    elif isinstance(node, list):
        for inner in node:
            yield from parts(inner)


def test_the_same_question_gives_the_same_bytes(ask: Any) -> None:
    assert ask("POST", PATH, json=wheat()).content == ask("POST", PATH, json=wheat()).content


def test_moments_keep_the_offset_of_the_weather(ask: Any) -> None:
    found = ask("POST", PATH, json=wheat()).json()
    assert found["hours"][0]["start"] == "2026-07-20T06:00:00+02:00"
    for moment in (found["now"], found["spans"][0]["start"], found["reach"]["expected"]):
        assert (
            datetime.fromisoformat(moment).utcoffset()
            == datetime.fromisoformat("2026-07-20T06:00:00+02:00").utcoffset()
        )


@pytest.mark.parametrize(
    ("path", "value", "code", "pointers"),
    [
        ("weather/start", "2026-07-20T06:00:00", "wrong_type", ["/weather/start"]),
        ("weather/start", "20 July", "wrong_type", ["/weather/start"]),
        ("weather/start", "2026-02-30T06:00:00Z", "wrong_type", ["/weather/start"]),
        ("weather/start", "9999-12-31T23:00:00Z", "wrong_type", ["/weather/start"]),
        ("weather/start", 1784523600, "wrong_type", ["/weather/start"]),
        ("weather/temperature_c/7", "warm", "wrong_type", ["/weather/temperature_c/7"]),
        ("weather/temperature_c/7", 71, "out_of_range", ["/weather/temperature_c/7"]),
        ("weather/relative_humidity_pct/3", 0.65, "out_of_range", ["/weather/relative_humidity_pct/3"]),
        ("weather/temperature_c", None, "invalid_input", ["/weather/temperature_c"]),
        ("weather/relative_humidity_pct", None, "invalid_input", ["/weather/relative_humidity_pct"]),
        ("weather/rain_mm", [0.0], "contradiction", ["/weather/temperature_c", "/weather/rain_mm"]),
        ("weather/temperature_c", [20.0] * 241, "wrong_length", ["/weather/temperature_c"]),
        ("weather/humidity", [50], "unknown_field", ["/weather/humidity"]),
        ("weather/dew_point_c", [40.0] * 96, "out_of_range", ["/weather/dew_point_c/0"]),
        ("readings", [], "wrong_length", ["/readings"]),
        ("readings/0/time", "2026-07-21T09:00:00+02:00", "contradiction", ["/readings/0/time", "/readings/1/time"]),
        ("readings/0/time", "2026-07-20T18:00:00+02:00", "contradiction", ["/readings/0/time", "/readings/1/time"]),
        ("readings/0/time", "2026-07-19T09:00:00+02:00", "contradiction", ["/readings/0/time", "/weather/start"]),
        ("readings/1/time", "2026-08-01T09:00:00+02:00", "contradiction", ["/readings/1/time", "/weather/start"]),
        ("readings/1/moisture_pct", 20.5, "contradiction", ["/readings/0/moisture_pct", "/readings/1/moisture_pct"]),
        ("readings/1/moisture_pct", 6.0, "contradiction", ["/readings/0/moisture_pct", "/readings/1/moisture_pct"]),
        ("readings/1/moisture_pct", 25.0, "contradiction", ["/readings/0/moisture_pct", "/readings/1/moisture_pct"]),
        ("readings/1/moisture_pct", 0.19, "out_of_range", ["/readings/1/moisture_pct"]),
        ("crop", "field pea", "not_covered", ["/crop"]),
        ("crop", "wheet", "unknown_name", ["/crop"]),
        ("market", "mars", "unknown_name", ["/market"]),
        ("market", "int", "unknown_name", ["/market"]),
        ("delivery_moisture_pct", 14.0, "contradiction", ["/market", "/delivery_moisture_pct"]),
        ("weather/relative_humidity_pct", [5.0] * 96, "invalid_input", ["/weather/relative_humidity_pct/0"]),
        ("equilibrium_form", "halsey", "unknown_name", ["/equilibrium_form"]),
        ("equilibrium_grain", "spelt", "unknown_name", ["/equilibrium_grain"]),
        ("equilibrium_source", "hearsay", "unknown_name", ["/equilibrium_source"]),
        ("price_per_bu", 5.0, "contradiction", ["/price_per_t", "/price_per_bu"]),
        ("fuel_price_per_gal", 2.5, "contradiction", ["/fuel_price_per_l", "/fuel_price_per_gal"]),
        ("drying_cost_per_t_point", 3.0, "contradiction", ["/drying_cost_per_t_point", "/fuel_price_per_l"]),
        ("drying_cost_per_bu_point", 0.05, "contradiction", ["/drying_cost_per_bu_point", "/fuel_price_per_l"]),
    ],
)
@pytest.mark.parametrize("lang", ["en", "de"])
def test_what_cannot_be_is_refused_by_name(
    path: str, value: Any, code: str, pointers: list[str], lang: str, ask: Any, refused: Refused
) -> None:
    problem = refused(ask("POST", PATH, json=changed(path, value), params={"lang": lang}), 422)
    assert problem["code"] == code
    assert sorted(item["pointer"] for item in problem["errors"]) == sorted(pointers)


def test_a_gap_in_a_column_is_refused_at_its_hour(ask: Any, refused: Refused) -> None:
    body = wheat()
    body["weather"]["temperature_c"][5] = None
    problem = refused(ask("POST", PATH, json=body), 422)
    assert [item["pointer"] for item in problem["errors"]] == ["/weather/temperature_c/5"]


def test_a_fraction_for_percent_is_named_with_what_was_meant(ask: Any, refused: Refused) -> None:
    problem = refused(ask("POST", PATH, json=changed("weather/relative_humidity_pct/3", 0.65)), 422)
    assert problem["errors"][0]["suggested"] == 65


TWINS = {
    "temperature_c": ("temperature_f", "Cel", "[degF]"),
    "dew_point_c": ("dew_point_f", "Cel", "[degF]"),
    "wind_m_s": ("wind_mph", "m/s", "[mi_i]/h"),
    "rain_mm": ("rain_in", "mm", "[in_i]"),
}


@pytest.mark.parametrize("field", TWINS)
def test_a_column_in_customary_units_gives_the_same_answer(field: str, ask: Any) -> None:
    twin, unit, customary = TWINS[field]
    body = wheat()
    weather = body["weather"]
    if field == "dew_point_c":
        del weather["relative_humidity_pct"]
        weather[field] = [12.0] * 96
        body["readings"][1]["moisture_pct"] = 19.0
    metric = ask("POST", PATH, json=body)
    assert metric.status_code == 200, metric.text[:300]
    weather[twin] = [convert(value, unit, customary) for value in weather.pop(field)]
    assert ask("POST", PATH, json=body).json() == metric.json()


@pytest.mark.parametrize("field", TWINS)
def test_a_column_and_its_twin_exclude_each_other(field: str, ask: Any, refused: Refused) -> None:
    body = wheat()
    body["weather"].setdefault(field, [10.0] * 96)
    body["weather"][TWINS[field][0]] = [1.0] * 96
    if field.endswith("_c"):
        body["weather"][TWINS[field][0]] = [50.0] * 96
    problem = refused(ask("POST", PATH, json=body), 422)
    assert {item["pointer"] for item in problem["errors"]} == {f"/weather/{field}", f"/weather/{TWINS[field][0]}"}


def test_a_refusal_names_the_column_as_it_was_written(ask: Any, refused: Refused) -> None:
    body = copy.deepcopy(EXAMPLES[1])
    body["weather"]["dew_point_f"][9] = 90.0
    item = refused(ask("POST", PATH, json=body), 422)["errors"][0]
    assert item["pointer"] == "/weather/dew_point_f/9"
    assert item["unit"] == "[degF]"
    assert item["high"] == pytest.approx(body["weather"]["temperature_f"][9], abs=1e-3)


def test_customary_prices_and_amounts_give_the_same_balance(ask: Any) -> None:
    """A bushel of wheat is 60 lb: 36.74371 to the tonne."""
    body = wheat()
    metric = ask("POST", PATH, json=body).json()["balance"]
    bushels = 1000 / (60 * 0.45359237)
    body["price_per_bu"] = body.pop("price_per_t") / bushels
    body["yield_bu_ac"] = body.pop("yield_t_ha") * bushels * convert(1, "[acr_us]", "har")
    body["area_ac"] = convert(body.pop("area_ha"), "har", "[acr_us]")
    body["fuel_price_per_gal"] = body.pop("fuel_price_per_l") * 3.785411784
    customary = ask("POST", PATH, json=body).json()["balance"]
    assert customary["better"] == metric["better"]
    for name in ("gain", "gain_per_area", "gain_total", "tolerable_loss", "break_even_price"):
        assert customary[name]["unit"] == metric[name]["unit"]
        assert customary[name]["value"] == pytest.approx(metric[name]["value"], abs=0.011), name


def test_money_is_per_bushel_and_acre_for_a_reader_in_the_united_states(ask: Any) -> None:
    metric, us = (ask("POST", PATH, json=wheat(), params={"units": units}).json() for units in ("metric", "us"))
    one, other = metric["balance"]["options"][0], us["balance"]["options"][0]
    assert (one["net"]["unit"], other["net"]["unit"]) == ("{EUR}/t", "{EUR}/[bu_us]")
    assert other["net"]["value"] == pytest.approx(one["net"]["value"] * 60 * 0.45359237 / 1000, abs=1e-3)
    # NIST Handbook 44 appendix C: 1 hectare = 2.471 acres
    assert other["net_per_area"]["value"] == pytest.approx(one["net_per_area"]["value"] / 2.471, rel=1e-4)
    assert other["net_total"] == one["net_total"]


def test_a_crop_without_a_bushel_is_reckoned_in_short_tons(asking: Any, tmp_path: Path) -> None:
    """2000 lb of 0.45359237 kg: a short ton costs 0.9072 of a tonne."""
    text = (PACKAGE_FOLDER / "crops" / "wheat.toml").read_text(encoding="utf-8")
    own = re.sub(r"\[physical\.bushel_mass\].*?(?=\n\[)", "", text, count=1, flags=re.DOTALL)
    own = re.sub(r"\[eppo\].*?(?=\n\[)", "", own, count=1, flags=re.DOTALL)
    own = re.sub(r"(?m)^names = .*$", 'names = { en = "Emmer", de = "Emmer" }', own, count=1)
    own = re.sub(r"aliases = \[.*?\]", "aliases = []", own, count=1, flags=re.DOTALL)
    own = re.sub(r'"wheat\.', '"emmer.', own).replace('id = "wheat"', 'id = "emmer"', 1)
    (tmp_path / "emmer.toml").write_text(own, encoding="utf-8")
    client = asking(create_app(Settings(extra_crops=tmp_path)))
    body = wheat() | {"crop": "emmer", "equilibrium_grain": "wheat", "loss_pct_per_day": 1.0}
    metric, us = (client("POST", PATH, json=body, params={"units": units}) for units in ("metric", "us"))
    assert metric.status_code == 200, metric.text[:500]
    one, other = (answer.json()["balance"]["options"][0]["net"] for answer in (metric, us))
    assert other["unit"] == "{EUR}/[ston_av]"
    assert other["value"] == pytest.approx(one["value"] * 0.90718474, abs=0.01)
    refusal = client("POST", PATH, json=body | {"price_per_bu": 5.0})
    assert refusal.status_code == 422
    del body["price_per_t"]
    item = client("POST", PATH, json=body | {"price_per_bu": 5.0}).json()["errors"][0]
    assert item["pointer"] == "/price_per_bu"
    assert "price_per_t" in item["detail"]


@pytest.mark.parametrize("body", EXAMPLES, ids=HARVEST_WINDOW)
@pytest.mark.parametrize("lang", ["en", "de"])
@pytest.mark.parametrize("units", ["metric", "us"])
def test_the_chart_is_drawn_where_it_is_asked_for(body: dict[str, Any], lang: str, units: str, ask: Any) -> None:
    answer = ask("POST", PATH, json=body, headers={"Accept": "image/svg+xml"}, params={"lang": lang, "units": units})
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith("image/svg+xml")
    assert answer.headers["content-language"] == lang
    assert "Accept" in answer.headers["vary"]
    root = ET.fromstring(answer.content)
    assert root.tag == f"{SVG}svg"
    assert root.get("role") == "img"
    title, description = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None
    assert description is not None
    spoken = ask("POST", PATH, json=body, params={"lang": lang, "units": units}).json()
    assert spoken["crop"]["name"] in (title.text or "")
    assert spoken["decision"]["text"] in (description.text or "")
    assert (
        answer.content
        == ask(
            "POST", PATH, json=body, headers={"Accept": "image/svg+xml"}, params={"lang": lang, "units": units}
        ).content
    )


def test_rain_is_drawn_in_the_units_of_the_reader_where_some_fell(ask: Any) -> None:
    def drawn(body: dict[str, Any], units: str) -> str:
        return str(ask("POST", PATH, json=body, headers={"Accept": "image/svg+xml"}, params={"units": units}).text)

    assert "Rain, mm" in drawn(EXAMPLES[0], "metric")
    assert "Rain, in" in drawn(EXAMPLES[0], "us")
    assert "Rain" not in drawn(EXAMPLES[1], "metric")
    assert "Rain" not in drawn(changed("weather/rain_mm", [0.0] * 96), "metric")


def test_json_is_the_answer_where_the_reader_does_not_care(ask: Any) -> None:
    for accept in ("*/*", "application/json", "application/json, image/svg+xml;q=0.5"):
        assert ask("POST", PATH, json=wheat(), headers={"Accept": accept}).headers["content-type"] == "application/json"


def test_a_picture_that_is_not_drawn_is_refused(ask: Any, refused: Refused) -> None:
    answer = ask("POST", PATH, json=wheat(), headers={"Accept": "image/png"})
    assert refused(answer, 406)["code"] == "not_acceptable"


def test_a_refusal_is_a_problem_also_where_a_chart_was_asked_for(ask: Any, refused: Refused) -> None:
    refused(ask("POST", PATH, json=changed("crop", "wheet"), headers={"Accept": "image/svg+xml"}), 422)


def test_ten_days_of_every_column_fit_into_the_largest_body(ask: Any) -> None:
    body = wheat()
    columns = {"temperature_c": -9.87, "relative_humidity_pct": 55.55, "wind_m_s": 12.34, "rain_mm": 0.25}
    body["weather"] |= {name: [value] * 240 for name, value in columns.items()}
    body["readings"] = [
        {"time": "2026-07-20T09:00:00+02:00", "moisture_pct": 20.5},
        {"time": "2026-07-21T18:00:00+02:00", "moisture_pct": 18.6},
    ]
    answer = ask("POST", PATH, json=body)
    assert answer.status_code == 200, answer.text[:300]
    assert len(answer.json()["hours"]) == 240
