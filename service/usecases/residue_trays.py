"""From tray readings to patterns of straw and chaff, and what each of them is like.

Inside: checks of a row of trays, straw and chaff apart or split by the ratios of the crop, the figures of
one pass. Outside: overlap, wind, corrections.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from service.domain.residue_amount import residue_by_ratio
from service.domain.spread_change import together
from service.domain.spread_evenness import uniformity
from service.domain.spread_overlap import Overlap, overlap
from service.domain.spread_pattern import (
    SpreadPattern,
    centre_m,
    covered,
    layer_at,
    mass_between,
    spread_pattern,
)
from service.domain.types import Quantity
from service.errors import Contradiction, InvalidInput, OutOfRange
from service.knowledge.schema import CropFile
from service.knowledge.schema_residue import ResidueFigures
from service.usecases.residue_types import Described, SpreadQuestion

NODES_ACROSS: Final = 60
NODES_AT_MOST: Final = 240
LEAST_GAP_M: Final = 0.05
LEAST_IN_CUT: Final = 5
SAMPLES_PER_PASS: Final = 24
EQUAL_GAPS: Final = 0.02  # of the distance of trays, by which they may differ and count as equal


@dataclass(frozen=True, slots=True)
class Trays:
    """Checked readings and their patterns."""

    question: SpreadQuestion
    figures: ResidueFigures
    step_m: float
    materials: dict[str, SpreadPattern]  # straw and chaff
    readings: dict[str, tuple[float, ...]]
    apart: bool
    beyond_pct: float  # of the mass, that was put beyond the outermost trays

    @property
    def whole(self) -> SpreadPattern:
        """Straw and chaff together."""
        return together(tuple(self.materials.values()))

    def on_the_line(self, passes: Sequence[SpreadPattern], spacing_m: float) -> Overlap:
        """Overlap along the lines between the trays: finer than these, so that nothing is missed."""
        return overlap(passes, spacing_m, min(self.step_m / 2, spacing_m / SAMPLES_PER_PASS))

    def at_the_trays(self, passes: Sequence[SpreadPattern], spacing_m: float) -> Overlap | None:
        """Overlap at places that lie as the trays do, as spreader tests define it.

        None where the trays do not lie at equal distances, or the layer is so narrow that all of them miss it.
        """
        gaps = np.diff(self.question.positions_m)
        if gaps.max() - gaps.min() > EQUAL_GAPS * self.step_m:
            return None
        first = min(self.question.positions_m, key=abs)
        if abs(abs(first) - self.step_m / 2) <= EQUAL_GAPS * self.step_m:
            # two trays lie as near: half a step of the places, so that the mirror image is compared alike
            first = spacing_m * len(passes) / round(max(3, spacing_m * len(passes) / self.step_m)) / 2
        try:
            return overlap(passes, spacing_m, self.step_m, first)
        except OutOfRange:
            return None

    @property
    def half_m(self) -> float:
        """Half the cut width."""
        return self.question.cut_width_m / 2

    @property
    def even_layer(self) -> float:
        """Reading of a tray if everything lay even over the cut."""
        return mass_between(self.whole, -math.inf, math.inf) / self.question.cut_width_m


def trays_of(question: SpreadQuestion, crop: CropFile, figures: ResidueFigures) -> Trays:
    """Check the readings and make their patterns.

    Raises
    ------
    Contradiction
        If masses exclude each other or the columns have different lengths.
    InvalidInput
        If masses are missing or all nothing, or the trays do not lie across the cut.
    """
    readings, apart = _readings(question)
    _check_places(question)
    if not apart:
        chaff_share = _chaff_share(crop)
        whole = readings["residue"]
        readings["straw"] = tuple(one * (1 - chaff_share) for one in whole)
        readings["chaff"] = tuple(one * chaff_share for one in whole)
    else:
        readings["residue"] = tuple(a + b for a, b in zip(readings["straw"], readings["chaff"], strict=True))
    inside_cut = [
        one for place, one in zip(question.positions_m, readings["residue"], strict=True) if _within(question, place)
    ]
    if not any(inside_cut):
        raise InvalidInput("straw_g" if apart else "residue_g", reason="reason.trays_empty_inside")
    across = question.positions_m[-1] - question.positions_m[0]
    cell = max(question.cut_width_m / NODES_ACROSS, across / NODES_AT_MOST)
    materials = {
        code: spread_pattern(question.positions_m, readings[code], cell)
        for code in ("straw", "chaff")
        if max(readings[code]) > 0
    }
    step = float(np.median(np.diff(question.positions_m)))
    whole_pattern = together(tuple(materials.values()))
    mass = mass_between(whole_pattern, -math.inf, math.inf)
    inside = mass_between(whole_pattern, question.positions_m[0], question.positions_m[-1])
    return Trays(question, figures, step, materials, readings, apart, 100 * (1 - inside / mass))


def _readings(question: SpreadQuestion) -> tuple[dict[str, tuple[float, ...]], bool]:
    given = {"residue": question.residue_g, "straw": question.straw_g, "chaff": question.chaff_g}
    named = [code for code, column in given.items() if column]
    if "residue" in named and len(named) > 1:
        fields = [f"{code}_g" for code in named]
        raise Contradiction(fields, "reason.both_given", first=fields[0], second=fields[1])
    if named not in (["residue"], ["straw", "chaff"]):
        missing = "residue_g" if not named else "chaff_g" if named == ["straw"] else "straw_g"
        raise InvalidInput(missing, reason="reason.residue_masses")
    for code in named:
        if len(given[code]) != len(question.positions_m):
            facts = {"positions": len(question.positions_m), "others": len(given[code])}
            raise Contradiction(["positions_m", f"{code}_g"], "reason.tray_lengths", **facts)
        if not max(given[code]) > 0:
            raise InvalidInput(f"{code}_g", reason="reason.trays_empty")
    return {code: given[code] for code in named}, named != ["residue"]


def _check_places(question: SpreadQuestion) -> None:
    places = question.positions_m
    for number, (before, after) in enumerate(pairwise(places), 1):
        if after <= before:
            raise InvalidInput(f"positions_m.{number}", reason="reason.trays_not_rising")
        if after - before < LEAST_GAP_M:
            least = Quantity(LEAST_GAP_M, "m")
            raise InvalidInput(f"positions_m.{number}", reason="reason.trays_too_close", least=least)
    if not places[0] < 0 < places[-1]:
        raise InvalidInput("positions_m", reason="reason.trays_one_sided")
    inside = [place for place in places if _within(question, place)]
    if len(inside) < LEAST_IN_CUT:
        facts = {"inside": len(inside), "least": LEAST_IN_CUT}
        raise Contradiction(["positions_m", "cut_width_m"], "reason.trays_outside_cut", **facts)


def _within(question: SpreadQuestion, place_m: float) -> bool:
    return abs(place_m) <= question.cut_width_m / 2


def _chaff_share(crop: CropFile) -> float:
    physical = crop.physical
    parts = residue_by_ratio(
        1.0, physical.straw_to_grain.value, physical.chaff_to_grain.value, physical.straw_intake_share.value
    )
    return parts.chaff_t_ha / parts.through_machine_t_ha


def described(trays: Trays, code: str) -> Described | None:
    """Return the figures of the whole, of straw or of chaff; None if nothing of it lies in the cut."""
    pattern = trays.whole if code == "residue" else trays.materials[code]
    inside = [
        one
        for place, one in zip(trays.question.positions_m, trays.readings[code], strict=True)
        if _within(trays.question, place)
    ]
    if not any(inside):
        return None
    whole = mass_between(trays.whole, -math.inf, math.inf)
    mass = mass_between(pattern, -math.inf, math.inf)
    past_left = 100 * mass_between(pattern, -math.inf, -trays.half_m) / mass
    past_right = 100 * mass_between(pattern, trays.half_m, math.inf) / mass
    edge = trays.figures.edge_layer.value / 100 * mass / trays.question.cut_width_m
    anywhere = covered(pattern, edge, -math.inf, math.inf)
    in_cut = covered(pattern, edge, -trays.half_m, trays.half_m)
    left = 100 * mass_between(pattern, -math.inf, 0.0) / mass
    area = trays.question.tray_area_m2
    return Described(
        code=code,
        share_pct=100 * mass / whole,
        evenness=uniformity(inside),
        left_pct=left,
        right_pct=100 - left,
        centre_m=centre_m(pattern),
        width_m=0.0 if anywhere is None else anywhere.right_m - anywhere.left_m,
        coverage_pct=0.0 if in_cut is None else 100 * in_cut.length_m / trays.question.cut_width_m,
        past_left_pct=past_left,
        past_right_pct=past_right,
        standing_pct=standing_share_pct(trays.question.standing_crop, past_left, past_right),
        gap_left_m=trays.half_m if in_cut is None else in_cut.left_m + trays.half_m,
        gap_right_m=trays.half_m if in_cut is None else trays.half_m - in_cut.right_m,
        # grams per square metre to tonnes per hectare
        layer_t_ha=None if area is None else mass / trays.question.cut_width_m / area / 100,
    )


def standing_share_pct(standing: str, past_left: float, past_right: float) -> float | None:
    """Return what falls past the edge to the standing crop; None where no side is said to have any."""
    return {"left": past_left, "right": past_right, "both": past_left + past_right}.get(standing)


def relative(pattern: SpreadPattern, even_layer: float, places: tuple[float, ...]) -> tuple[float, ...]:
    """Return the layer at places, 1 where it is as thick as an even one."""
    return tuple(one / even_layer for one in layer_at(pattern, places))
