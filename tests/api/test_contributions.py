"""Every crop and class over HTTP: contributions add up as printed, ranges hold, nothing is missing."""

import json
import math
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pytest

from service.knowledge.load import load_table

TABLE = load_table()
CASES = sorted(
    (crop.id, machine_class)
    for crop in TABLE.crops.values()
    if crop.coverage["starting_settings"].level != "none"
    for machine_class in crop.coverage["starting_settings"].classes
)
CONDITIONS: list[dict[str, Any]] = [
    {},
    {"straw_condition": "tough", "use": "seed", "priority": "loss", "slope_across_deg": 8.0},
    {"straw_condition": "dry", "priority": "output", "stand": "lodged", "slope_along_deg": -6.0},
    {"upper_sieve_design": "deep_lip", "lower_sieve_design": "round_hole", "priority": "sample"},
]


def numbers(node: Any) -> Iterator[float]:
    if isinstance(node, bool):
        return
    if isinstance(node, int | float):
        yield node
    elif isinstance(node, dict):
        for inner in node.values():
            yield from numbers(inner)
    elif isinstance(node, list):
        for inner in node:
            yield from numbers(inner)


@pytest.mark.parametrize(("crop", "machine_class"), CASES)
def test_contributions_add_up_exactly_in_both_unit_systems(crop: str, machine_class: str, ask: Any) -> None:
    entry = TABLE.crops[crop]
    window, usual = entry.moisture, entry.physical.reference_yield.value
    for place, conditions in enumerate(CONDITIONS):
        moisture = window.floor.value + (window.ceiling.value - window.floor.value) * (place + 0.5) / len(CONDITIONS)
        question = {"crop": crop, "machine_class": machine_class, "grain_moisture_pct": round(moisture, 2)}
        question |= {"yield_t_ha": round(usual * (0.6 + 0.3 * place), 3), **conditions}
        for units in ("metric", "us"):
            answer = ask("POST", f"/v1/starting-settings?units={units}", json=question)
            assert answer.status_code == 200, answer.text[:500]
            body = json.loads(answer.content, parse_float=Decimal)
            for setting in body["settings"]:
                check_setting(setting)
            check_speed(body)
            assert all(math.isfinite(one) for one in numbers(answer.json()))
            cited = {source["id"] for source in body["sources"]}
            assert cited == places(body)


def check_setting(setting: dict[str, Any]) -> None:
    where, total = setting["id"], setting["sum"]["value"]
    added = sum((Decimal(part["amount"]["value"]) for part in setting["contributions"]), Decimal(0))
    assert added == total, where
    low, start, high = (setting[name]["value"] for name in ("low", "start", "high"))
    assert low <= start <= high, where
    assert start == min(max(total, low), high), where
    assert setting["bound"] == ("low" if total < low else "high" if total > high else "none"), where
    assert {setting[name]["unit"] for name in ("low", "start", "high", "sum")} == {
        part["amount"]["unit"] for part in setting["contributions"]
    }
    assert [part["code"] in ("base", "reference") for part in setting["contributions"]].count(True) == 1
    assert len({part["code"] for part in setting["contributions"]}) == len(setting["contributions"])


def check_speed(body: dict[str, Any]) -> None:
    limits = {limit["code"]: limit["speed"]["value"] for limit in body["ground_speed"]["limits"]}
    speed = next(one for one in body["settings"] if one["id"] == "ground_speed")
    assert limits[body["ground_speed"]["binding"]] == min(limits.values())
    assert speed["start"]["value"] == min(limits.values())


def places(node: Any) -> set[str]:
    """Ids of every place cited below a node, the bibliography left out."""
    found: set[str] = set()
    if isinstance(node, dict):
        for name, inner in node.items():
            if name == "sources" and inner and set(inner[0]) == {"id", "at"}:
                found |= {place["id"] for place in inner}
            else:
                found |= places(inner)
    elif isinstance(node, list):
        for inner in node:
            found |= places(inner)
    return found


@pytest.mark.parametrize("crop", sorted(TABLE.crops))
@pytest.mark.parametrize("units", ["metric", "us"])
def test_every_crop_is_served_with_every_figure(crop: str, units: str, ask: Any) -> None:
    entry, body = TABLE.crops[crop], ask("GET", f"/v1/crops/{crop}?units={units}").json()
    assert {row["id"] for row in body["rows"]} == {row.id for row in entry.row}
    assert {one["id"] for one in body["responses"]} == {one.id for one in entry.response}
    assert set(body["coverage"]) == set(entry.coverage)
    physical = {name for name in type(entry.physical).model_fields if getattr(entry.physical, name) is not None}
    assert set(body["physical"]) == physical - {"kernel_air"}
    for figure in [*body["physical"].values(), *body["moisture"].values(), *body["targets"].values(), *body["rows"]]:
        assert figure["known"] in ("read", "read_secondhand", "memory", "computed", "derived", "practice")
        assert figure["sources"]
    assert {source["id"] for source in body["sources"]} == places(body)
    if units == "metric":
        assert body["physical"]["thousand_kernel_mass"]["value"] == entry.physical.thousand_kernel_mass.value
        stored = {row.id: (row.low, row.start, row.high) for row in entry.row}
        assert {row["id"]: (row["low"], row["start"], row["high"]) for row in body["rows"]} == stored


def test_the_catalogue_counts_what_the_table_holds(ask: Any) -> None:
    crops = {crop["id"]: crop for crop in ask("GET", "/v1/crops").json()["crops"]}
    assert list(crops) == sorted(TABLE.crops)
    assert {source["id"] for source in ask("GET", "/v1/sources").json()["sources"]} == set(TABLE.sources)
    classes = ask("GET", "/v1/machine-classes").json()
    assert [one["id"] for one in classes["machine_classes"]] == [one.id for one in TABLE.machines.machine_class]
    knowledge = ask("GET", "/v1/knowledge").json()
    assert [one["name"] for one in knowledge["marks"]] == list(crops)
    for one in [*knowledge["marks"], *knowledge["shared_marks"]]:
        assert one["total"] == sum(one["counts"].values()) > 0


@pytest.mark.parametrize("crop", sorted(TABLE.crops))
def test_a_crop_is_found_by_every_name_it_is_listed_with(crop: str, ask: Any) -> None:
    listed = next(one for one in ask("GET", "/v1/crops").json()["crops"] if one["id"] == crop)
    for name in [listed["name"], *listed["aliases"], *([listed["eppo"]] if "eppo" in listed else [])]:
        assert ask("GET", f"/v1/crops/{name}").json()["id"] == crop, name
