"""Conditions of the field as the responses of the table see them."""

import math
from dataclasses import dataclass, replace

from service.domain.losses import bushels_per_tonne
from service.domain.settings import interpolate
from service.errors import Contradiction, InvalidInput, OutOfRange, OutsideWindow
from service.knowledge.schema import LEVELS, CropFile, Factor, Response
from service.knowledge.table import KnowledgeTable
from service.units import mass_kg_ha
from service.usecases.settings_types import SettingsQuestion

# order in which contributions are told: the crop first, then the ground, then the wishes
FACTORS: tuple[Factor, ...] = (
    "grain_moisture",
    "straw_condition",
    "yield_ratio",
    "stand",
    "slope_along",
    "slope_across",
    "use",
    "priority",
)

REFERENCE_USE = "feed"

# Frid, University of South Bohemia lecture text: hillside machines work up to 20 degrees
SLOPE_LIMIT_DEG = 20.0


@dataclass(frozen=True, slots=True)
class Conditions:
    """State of crop, ground and wishes. Ratios are per mass of grain."""

    moisture_pct: float
    yield_t_ha: float
    straw_to_grain: float
    straw_condition: str
    stand: str
    slope_along_deg: float
    slope_across_deg: float
    use: str
    priority: str


def conditions(table: KnowledgeTable, question: SettingsQuestion, crop: CropFile) -> Conditions:
    """Read and check the conditions of a question.

    Raises
    ------
    OutsideWindow
        If the grain is too dry or too wet to combine, or too wet for the use.
    OutOfRange
        If a slope is steeper than hillside machines work on.
    Contradiction
        If statements exclude each other.
    InvalidInput
        If the yield is missing, or given in bushels for a crop without a legal bushel.
    """
    yield_t_ha = yield_of(crop, question.yield_t_ha, question.yield_bu_ac)
    if question.use == "malting" and not _malts(crop):
        raise Contradiction(["use", "crop"], "reason.use_crop", use=question.use, crop=crop.names)
    steepest = steepest_slope_deg(question.slope_along_deg, question.slope_across_deg)
    if steepest > SLOPE_LIMIT_DEG:
        along = abs(question.slope_along_deg) >= abs(question.slope_across_deg)
        field = "slope_along_deg" if along else "slope_across_deg"
        raise OutOfRange(field, steepest, -SLOPE_LIMIT_DEG, SLOPE_LIMIT_DEG, "deg", "reason.slope")
    _refuse_moisture(table, question, crop)
    return Conditions(
        question.grain_moisture_pct,
        yield_t_ha,
        _straw_ratio(question, crop, yield_t_ha),
        question.straw_condition,
        question.stand,
        question.slope_along_deg,
        question.slope_across_deg,
        question.use,
        question.priority,
    )


def steepest_slope_deg(along_deg: float, across_deg: float) -> float:
    """Slope of the ground that has these slopes along and across. [deg]"""
    return math.degrees(math.atan(math.hypot(math.tan(math.radians(along_deg)), math.tan(math.radians(across_deg)))))


def _malts(crop: CropFile) -> bool:
    """Say whether the table has anything on malting for this crop."""
    rows = any(row.use == "malting" for row in crop.row)
    return rows or any(limit.use == "malting" for limit in crop.use_ceiling)


def _refuse_moisture(table: KnowledgeTable, question: SettingsQuestion, crop: CropFile) -> None:
    """Refuse grain too dry or too wet for the crop, or too wet for the use."""
    moisture, floor, ceiling = question.grain_moisture_pct, crop.moisture.floor.value, crop.moisture.ceiling.value
    band = table.moisture_band(crop, moisture)
    if band in ("too_dry", "too_wet"):
        raise OutsideWindow("grain_moisture_pct", moisture, floor, ceiling, band.removeprefix("too_"), crop.id)
    for limit in crop.use_ceiling:
        if limit.use == question.use and moisture > limit.ceiling.value:
            raise OutsideWindow("grain_moisture_pct", moisture, floor, limit.ceiling.value, limit.use, crop.id)


def yield_of(crop: CropFile, yield_t_ha: float | None, yield_bu_ac: float | None) -> float:
    """Yield in t/ha from whichever of the two was given."""
    if yield_t_ha is not None and yield_bu_ac is not None:
        raise Contradiction(
            ["yield_t_ha", "yield_bu_ac"], "reason.both_given", first="yield_t_ha", second="yield_bu_ac"
        )
    if yield_t_ha is not None:
        return yield_t_ha
    if yield_bu_ac is None:
        raise InvalidInput("yield_t_ha", reason="reason.yield_missing")
    if crop.physical.bushel_mass is None:
        raise InvalidInput("yield_bu_ac", reason="reason.no_bushel", crop=crop.names)
    return mass_kg_ha(yield_bu_ac, crop.physical.bushel_mass.value) / 1000


def price_of(crop: CropFile, price_per_t: float | None, price_per_bu: float | None) -> float:
    """Price per tonne from whichever of the two was given."""
    if price_per_t is not None and price_per_bu is not None:
        first, second = "price_per_t", "price_per_bu"
        raise Contradiction([first, second], "reason.both_given", first=first, second=second)
    if price_per_t is not None:
        return price_per_t
    if price_per_bu is None:
        raise InvalidInput("price_per_t", reason="reason.one_of", fields=["price_per_t", "price_per_bu"])
    if crop.physical.bushel_mass is None:
        raise InvalidInput("price_per_bu", reason="loss.price_no_bushel", crop=crop.names)
    return price_per_bu * bushels_per_tonne(crop.physical.bushel_mass.value)


def _straw_ratio(question: SettingsQuestion, crop: CropFile, yield_t_ha: float) -> float:
    """Above-ground straw per grain: given, from the straw yield, or the crop's usual ratio."""
    if question.straw_yield_t_ha is not None and question.straw_to_grain is not None:
        raise Contradiction(
            ["straw_to_grain", "straw_yield_t_ha"],
            "reason.both_given",
            first="straw_to_grain",
            second="straw_yield_t_ha",
        )
    if question.straw_yield_t_ha is not None:
        return question.straw_yield_t_ha / yield_t_ha
    return question.straw_to_grain if question.straw_to_grain is not None else crop.physical.straw_to_grain.value


def reference(crop: CropFile) -> Conditions:
    """Return the conditions at which the rows of the crop hold."""
    physical = crop.physical
    return Conditions(
        moisture_pct=physical.reference_moisture.value,
        yield_t_ha=physical.reference_yield.value,
        straw_to_grain=physical.straw_to_grain.value,
        straw_condition="normal",
        stand="upright",
        slope_along_deg=0.0,
        slope_across_deg=0.0,
        use=REFERENCE_USE,
        priority="balanced",
    )


def steps(start: Conditions, end: Conditions) -> list[tuple[str, Conditions]]:
    """Go from one state to another one condition at a time, in the order contributions are told."""
    order = (
        ("grain_moisture", ("moisture_pct",)),
        ("straw_condition", ("straw_condition",)),
        ("yield_ratio", ("yield_t_ha",)),
        ("straw_amount", ("straw_to_grain",)),
        ("stand", ("stand",)),
        ("slope_along", ("slope_along_deg",)),
        ("slope_across", ("slope_across_deg",)),
        ("use", ("use",)),
        ("priority", ("priority",)),
    )
    states, state = [], start
    for code, names in order:
        state = replace(state, **{name: getattr(end, name) for name in names})
        states.append((code, state))
    return states


def change(response: Response, crop: CropFile, state: Conditions) -> float:
    """Change that a response gives in these conditions, in percent or in its unit."""
    if response.factor in LEVELS:
        level: str = getattr(state, response.factor)
        return response.levels.get(level, 0.0)
    return interpolate(response.knots, _number(response.factor, crop, state))


def _number(factor: Factor, crop: CropFile, state: Conditions) -> float:
    if factor == "grain_moisture":
        return state.moisture_pct - crop.physical.reference_moisture.value
    if factor == "yield_ratio":
        return state.yield_t_ha / crop.physical.reference_yield.value
    return state.slope_along_deg if factor == "slope_along" else abs(state.slope_across_deg)
