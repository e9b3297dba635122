"""Any question that passes the field checks, over all crops and classes: an answer or a clear refusal.

The figures reach to the ends of what a field allows and are combined without sense, which is where
formulas meet values that nobody thought of.
"""

import json
import math
from collections.abc import Callable
from decimal import Decimal
from typing import Any, get_args

import httpx
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st

from service.api.limits import LIMITS, TWINS
from service.api.requests import FrameRequest, GroundLossRequest, StartingSettingsRequest
from service.knowledge.load import load_table
from service.knowledge.schema import ClassId, Priority, SieveDesign, Stand, Straw, Use

TABLE = load_table()
CROPS = sorted(TABLE.crops)
SETTINGS = settings(
    max_examples=300,
    deadline=None,
    database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
READER = st.fixed_dictionaries({"units": st.sampled_from(["metric", "us"]), "lang": st.sampled_from(["en", "de"])})


def number(field: str) -> st.SearchStrategy[float]:
    limit = LIMITS[field]
    inside = st.floats(limit.low, limit.high)
    return st.one_of(inside, inside, st.sampled_from([limit.low, limit.high]))


def without_twins(fields: dict[str, Any]) -> dict[str, Any]:
    """Keep one of each family of twins."""
    seen: set[str] = set()
    kept = {}
    for name, value in fields.items():
        metric = TWINS[name].metric if name in TWINS else name
        if metric not in seen:
            kept[name] = value
        seen.add(metric)
    return kept


NAMES = {
    "straw_condition": get_args(Straw),
    "stand": get_args(Stand),
    "use": get_args(Use),
    "priority": get_args(Priority),
    "header": ("reel", "row_crop", "pickup"),
    "size_band": tuple(band.id for band in TABLE.machines.band),
    "upper_sieve_design": get_args(SieveDesign),
    "lower_sieve_design": get_args(SieveDesign),
    "sieve_rear_section": (True, False),
}


@st.composite
def settings_questions(draw: st.DrawFn) -> dict[str, Any]:
    crop = TABLE.crops[draw(st.sampled_from(CROPS))]
    window = crop.moisture
    usual = crop.physical.reference_yield.value
    fields = {
        "crop": crop.id,
        "machine_class": draw(st.sampled_from(get_args(ClassId))),
        "grain_moisture_pct": draw(st.floats(window.floor.value, window.ceiling.value)),
        "yield_t_ha": draw(st.one_of(st.floats(usual / 4, min(25, usual * 3)), number("yield_t_ha"))),
    }
    others = [name for name in StartingSettingsRequest.model_fields if name not in fields and name != "yield_bu_ac"]
    for name in draw(st.lists(st.sampled_from(others), max_size=6, unique=True)):
        fields[name] = draw(st.sampled_from(NAMES[name]) if name in NAMES else number(name))
    return without_twins(fields)


@st.composite
def loss_questions(draw: st.DrawFn) -> dict[str, Any]:
    crop = TABLE.crops[draw(st.sampled_from(CROPS))]
    cut = draw(number("cut_width_m"))
    fields = {
        "crop": crop.id,
        "yield_t_ha": draw(number("yield_t_ha")),
        "cut_width_m": cut,
        "discharge_width_m": draw(st.one_of(st.just(cut), st.floats(0.2, max(0.2, cut)))),
        "frames": draw(st.lists(frames(), min_size=1, max_size=5)),
    }
    others = [
        name for name in GroundLossRequest.model_fields if name not in {*fields, "yield_bu_ac"} and name in LIMITS
    ]
    for name in draw(st.lists(st.sampled_from(others), max_size=4, unique=True)):
        fields[name] = draw(number(name))
    if draw(st.booleans()):
        fields["spreading"] = draw(st.sampled_from(["swath", "spread"]))
    return without_twins(fields)


@st.composite
def frames(draw: st.DrawFn) -> dict[str, Any]:
    count = draw(st.integers(1, 6))
    kernels = st.one_of(st.integers(0, 40), st.integers(0, 1_000_000))
    frame: dict[str, Any] = {
        "place": draw(st.sampled_from(get_args(FrameRequest.model_fields["place"].annotation))),
        "area_m2": draw(number("area_m2")),
    }
    if draw(st.integers(0, 3)):
        frame["kernels"] = draw(st.lists(kernels, min_size=count, max_size=count))
    else:
        frame["masses_g"] = draw(st.lists(number("masses_g"), min_size=count, max_size=count))
    if draw(st.booleans()):
        frame["unthreshed_kernels"] = draw(st.lists(kernels, min_size=count, max_size=count))
    if frame["place"] == "discharge":
        frame["catch"] = draw(st.sampled_from(["all", "straw", "chaff"]))
        frame["surface"] = draw(st.sampled_from(["ground", "pan"]))
    return frame


def answered(answer: httpx.Response, refused: Callable[..., dict[str, Any]]) -> Any:
    """The body of an answer with exact numbers, or None for a refusal that says which field."""
    if answer.status_code != 200:
        problem = refused(answer, 422)
        assert problem["errors"]
        return None

    def no_constant(name: str) -> None:
        raise AssertionError(f"{name} in an answer")

    return json.loads(answer.content, parse_float=Decimal, parse_constant=no_constant)


def ranges_hold(node: Any, where: str = "") -> None:
    if isinstance(node, dict):
        if isinstance(node.get("value"), int | float | Decimal):
            assert math.isfinite(node["value"]), where
            assert node.get("low", node["value"]) <= node["value"] <= node.get("high", node["value"]), (where, node)
        for name, inner in node.items():
            ranges_hold(inner, f"{where}/{name}")
    elif isinstance(node, list):
        for place, inner in enumerate(node):
            ranges_hold(inner, f"{where}/{place}")


@seed(1)
@SETTINGS
@given(question=settings_questions(), reader=READER)
def test_any_settings_question_is_answered_or_refused(
    question: dict[str, Any], reader: dict[str, str], ask: Any, refused: Callable[..., dict[str, Any]]
) -> None:
    body = answered(ask("POST", "/v1/starting-settings", params=reader, json=question), refused)
    if body is None:
        return
    for setting in body["settings"]:
        assert sum(part["amount"]["value"] for part in setting["contributions"]) == setting["sum"]["value"]
        assert setting["low"]["value"] <= setting["start"]["value"] <= setting["high"]["value"]
        for same in setting["equivalents"]:
            assert same["low"]["value"] <= same["start"]["value"] <= same["high"]["value"], same
    ranges_hold(body)


@seed(2)
@SETTINGS
@given(question=loss_questions(), reader=READER)
def test_any_loss_question_is_answered_or_refused(
    question: dict[str, Any], reader: dict[str, str], ask: Any, refused: Callable[..., dict[str, Any]]
) -> None:
    body = answered(ask("POST", "/v1/ground-loss", params=reader, json=question), refused)
    if body is not None:
        ranges_hold(body)
