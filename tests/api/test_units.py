"""One switch for both unit systems, everywhere: the same answer, converted."""

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pytest

from service.api import examples
from service.api.examples_adjustment import NEXT_ADJUSTMENT
from service.api.examples_hauling import HAULING_PLAN, UNLOADING
from service.api.examples_monitor import MONITOR_CALIBRATION
from service.api.examples_relearn import BELT_SLIP, RELEARN
from service.api.examples_residue import RESIDUE_AMOUNT, RESIDUE_SPREAD
from service.api.examples_window import HARVEST_WINDOW
from service.api.limits import LIMITS, TWINS
from service.units import DECIMALS, TO_US, UNITS, convert

SETTINGS = [case["value"] for case in examples.STARTING_SETTINGS.values()]
LOSSES = [case["value"] for case in examples.GROUND_LOSS.values()]
WINDOWS = [case["value"] for case in HARVEST_WINDOW.values()]
QUESTIONS: list[tuple[str, str, Any]] = [
    *(("POST", "/v1/starting-settings", value) for value in SETTINGS),
    *(("POST", "/v1/ground-loss", value) for value in LOSSES),
    *(("POST", "/v1/harvest-window", value) for value in WINDOWS),
    *(("POST", "/v1/residue-spread", case["value"]) for case in RESIDUE_SPREAD.values()),
    *(("POST", "/v1/residue-amount", case["value"]) for case in RESIDUE_AMOUNT.values()),
    *(("POST", "/v1/hauling-plan", case["value"]) for case in HAULING_PLAN.values()),
    *(("POST", "/v1/unloading", case["value"]) for case in UNLOADING.values()),
    *(("POST", "/v1/monitor-calibration", case["value"]) for case in MONITOR_CALIBRATION.values()),
    *(("POST", "/v1/next-adjustment", case["value"]) for case in NEXT_ADJUSTMENT.values()),
    *(("POST", "/v1/relearn", case["value"]) for case in RELEARN.values() if "last_done" in case["value"]),
    *(("POST", "/v1/belt-slip", case["value"]) for case in BELT_SLIP.values()),
    ("GET", "/v1/relearn-tasks", None),
    ("GET", "/v1", None),
    ("GET", "/v1/crops", None),
    ("GET", "/v1/crops/wheat", None),
    ("GET", "/v1/crops/soybean", None),
    ("GET", "/v1/crops/maize", None),
    ("GET", "/v1/machine-classes", None),
    ("GET", "/v1/symptoms", None),
    ("GET", "/v1/sources", None),
    ("GET", "/v1/knowledge", None),
]
NUMBERS = ("value", "low", "high", "start")
GRAIN = {"[bu_us]": "t", "[bu_us]/h": "t/h"}


def pairs(metric: Any, us: Any, where: str = "") -> Iterator[tuple[str, dict[str, Any], dict[str, Any]]]:
    """Objects with a unit, side by side; everything that has no unit must be the same."""
    assert type(metric) is type(us), where
    if isinstance(metric, list):
        assert len(metric) == len(us), where
        for place, (one, other) in enumerate(zip(metric, us, strict=True)):
            yield from pairs(one, other, f"{where}/{place}")
    elif isinstance(metric, dict):
        if isinstance(metric.get("unit"), str):
            yield where, metric, us
        names = set(metric) | set(us)
        free = {"text", "after_turn_text", "bushel_mass"} | (
            {"unit", *NUMBERS, "knots", "levels"} if "unit" in metric else set()
        )
        for name in names - free:
            yield from pairs(metric[name], us[name], f"{where}/{name}")
    else:
        assert metric == us, where


def step(unit: str) -> float:
    """Half a unit of the last decimal that is served."""
    return float(Decimal(5).scaleb(-DECIMALS.get(unit, 3) - 1))


@pytest.mark.parametrize(("method", "path", "body"), QUESTIONS, ids=lambda value: str(value)[:70])
def test_an_answer_in_united_states_units_is_the_metric_one_converted(
    method: str, path: str, body: Any, ask: Any
) -> None:
    more = {} if body is None else {"json": body}
    metric, us = (ask(method, f"{path}?units={units}", **more) for units in ("metric", "us"))
    assert metric.status_code == us.status_code == 200, us.text[:300]
    compared = 0
    for where, one, other in pairs(metric.json(), us.json()):
        unit, shown = one["unit"], other["unit"]
        if unit.startswith("{") and not unit.startswith(("{kernel}", "{rev}")):
            continue  # money, see below
        if shown == "[bu_us]/[acr_us]" and unit == "t/har":
            pounds = other["bushel_mass"]["value"]
            back = convert(other["value"] * pounds, "[lb_av]/[acr_us]", "t/har")
            assert back == pytest.approx(one["value"], abs=step(unit) + 1e-4), where
            continue
        factor = 1.0
        if GRAIN.get(shown) == unit:
            # a mass of grain in bushels of the crop's legal mass, which the yield tells
            factor, shown = us.json()["crop_yield"]["bushel_mass"]["value"], TO_US[unit]
        assert shown == TO_US.get(unit, unit), where
        for name in NUMBERS:
            assert (name in one) == (name in other), where
            if name in one and unit == "[bu_us]/[acr_us]":
                assert one[name] == other[name], where
            elif name in one:
                slack = convert(step(unit), unit, shown) + step(other["unit"]) * factor
                if "/contributions/" in where:  # the step between two rounded sums
                    slack *= 2
                expected = convert(one[name], unit, shown)
                assert other[name] * factor == pytest.approx(expected, abs=slack * 1.001, rel=1e-5), f"{where}/{name}"
                compared += 1
    assert compared or path in ("/v1", "/v1/crops", "/v1/sources", "/v1/knowledge")


@pytest.mark.parametrize("body", LOSSES, ids=lambda body: body["crop"])
def test_money_per_acre_is_the_acre_s_part_of_money_per_hectare(body: dict[str, Any], ask: Any) -> None:
    metric, us = (ask("POST", f"/v1/ground-loss?units={units}", json=body).json() for units in ("metric", "us"))
    for one, other in zip(metric["losses"], us["losses"], strict=True):
        # NIST Handbook 44 appendix C: 1 hectare = 2.471 acres
        assert other["money_per_area"]["value"] == pytest.approx(one["money_per_area"]["value"] / 2.471, abs=0.01)
        assert one["money_per_area"]["unit"] == f"{{{body['currency']}}}/har"
        assert other["money_per_area"]["unit"] == f"{{{body['currency']}}}/[acr_us]"
        assert one.get("money_per_hour") == other.get("money_per_hour")


@pytest.mark.parametrize("name", sorted(name for name, twin in TWINS.items() if twin.unit))
def test_a_twin_is_bounded_as_its_metric_field(name: str) -> None:
    twin = TWINS[name]
    for end, metric in (
        (LIMITS[name].low, LIMITS[twin.metric].low),
        (LIMITS[name].high, LIMITS[twin.metric].high),
    ):
        assert twin.metric_value(end) == pytest.approx(metric, rel=1e-5)


US_WHEAT = {
    "crop": "wheat",
    "machine_class": "hybrid",
    "grain_moisture_pct": 14,
    "yield_bu_ac": 119,
    "cut_width_ft": 30,
    "engine_power_hp": 400,
    "machine_mass_lb": 40000,
    "drum_diameter_in": 24,
    "separation_rotor_diameter_in": 17.5,
    "channel_width_in": 56,
    "separation_area_ft2": 40,
    "cleaning_area_ft2": 55,
    "tank_volume_bu": 300,
    "unloading_rate_gal_min": 1800,
    "bulk_density_lb_bu": 60,
    "straw_yield_lb_ac": 7000,
}
# by hand: 1 ft = 0.3048 m, 1 in = 25.4 mm, 1 lb = 0.45359237 kg, 1 bu = 35.2390704 L, 1 gal = 3.785411784 L,
# 1 hp = 745.699872 W, 1 US survey acre = 4046.87261 m2 (NIST Handbook 44, appendix C)
METRIC_WHEAT = {
    "crop": "wheat",
    "machine_class": "hybrid",
    "grain_moisture_pct": 14,
    "yield_t_ha": 119 * 60 * 0.45359237 / 0.404687261 / 1000,
    "cut_width_m": 30 * 0.3048,
    "engine_power_kw": 400 * 0.745699872,
    "machine_mass_t": 40000 * 0.45359237 / 1000,
    "drum_diameter_mm": 24 * 25.4,
    "separation_rotor_diameter_mm": 17.5 * 25.4,
    "channel_width_mm": 56 * 25.4,
    "separation_area_m2": 40 * 0.3048**2,
    "cleaning_area_m2": 55 * 0.3048**2,
    "tank_volume_l": 300 * 35.2390704,
    "unloading_rate_l_s": 1800 * 3.785411784 / 60,
    "bulk_density_kg_hl": 60 * 0.45359237 / 35.2390704 * 100,
    "straw_yield_t_ha": 7000 * 0.45359237 / 0.404687261 / 1000,
}


@pytest.mark.parametrize("units", ["metric", "us"])
def test_the_same_field_asked_in_either_unit_system_has_the_same_answer(units: str, ask: Any) -> None:
    one = ask("POST", f"/v1/starting-settings?units={units}", json=US_WHEAT)
    other = ask("POST", f"/v1/starting-settings?units={units}", json=METRIC_WHEAT)
    assert one.status_code == other.status_code == 200, one.text[:400] + other.text[:400]
    assert one.json() == other.json()


def test_the_same_frames_in_either_unit_system_have_the_same_loss(ask: Any) -> None:
    us = LOSSES[1] | {"ground_speed_mph": 4, "price_per_bu": 11.0}
    frames = [{**frame, "area_m2": frame["area_ft2"] * 0.09290304} for frame in us["frames"]]
    metric = {name: value for name, value in us.items() if TWINS.get(name) is None} | {
        "yield_t_ha": 50 * 60 * 0.45359237 / 0.404687261 / 1000,
        "cut_width_m": 30 * 0.3048,
        "discharge_width_m": 30 * 0.3048,
        "ground_speed_km_h": 4 * 1.609344,
        "price_per_t": 11.0 / (60 * 0.45359237 / 1000),
        "frames": [{name: value for name, value in frame.items() if name != "area_ft2"} for frame in frames],
    }
    one, other = ask("POST", "/v1/ground-loss", json=us), ask("POST", "/v1/ground-loss", json=metric)
    assert one.status_code == other.status_code == 200, one.text[:400] + other.text[:400]
    assert one.json() == other.json()


def test_every_unit_that_is_served_is_known(ask: Any) -> None:
    def units(node: Any) -> Iterator[str]:
        if isinstance(node, dict):
            if isinstance(node.get("unit"), str):
                yield node["unit"]
            for inner in node.values():
                yield from units(inner)
        elif isinstance(node, list):
            for inner in node:
                yield from units(inner)

    for method, path, body in QUESTIONS:
        for system in ("metric", "us"):
            more = {} if body is None else {"json": body}
            for unit in units(ask(method, f"{path}?units={system}", **more).json()):
                money = unit.startswith("{") and unit.split("/")[0][1:-1] in ("EUR", "USD")
                assert unit in UNITS or unit == "[bu_us]/[acr_us]" or money, unit
