"""The base table as refinement sees it: which settings of a crop and class, their start and room, the cells.

Inside: layout, cells, what a record is coded against. Outside: coding records (`refinement_records`), what is
learnt (`domain`). A record is coded against the start for its own conditions, so that the table's responses to
moisture, straw and wishes are not learnt a second time; a local number is a shift of all starts of its cell.
"""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

from service.domain.refinement_types import Layout
from service.errors import NotCovered
from service.knowledge.schema import CropFile, LocalText
from service.knowledge.schema_refinement import RefinementFile
from service.knowledge.table import KnowledgeTable
from service.usecases.settings_types import SettingsQuestion, StartingSettings
from service.usecases.starting_settings import recommend

CELLS: Final = ("dry", "best", "damp")
CONDITIONS: Final = ("moisture", "straw", "feed")
_SPEED: Final = "ground_speed"


@dataclass(frozen=True, slots=True)
class BaseSetting:
    """Start and envelope of a setting at the conditions that the rows of the crop hold at."""

    setting: str
    unit: str
    start: float
    low: float
    high: float

    @property
    def half(self) -> float:
        """Half the width of the envelope: what a coded 1 is."""
        return (self.high - self.low) / 2


@dataclass(frozen=True, slots=True)
class Base:
    """What is refined of a crop and class; `coding` is the digest of all that records are coded by."""

    crop: str
    machine_class: str
    coding: str
    settings: tuple[BaseSetting, ...]
    moisture_middles: Mapping[str, float]
    moisture_scale: float

    @property
    def layout(self) -> Layout:
        """Features of a record."""
        return Layout(tuple(one.setting for one in self.settings), CONDITIONS)


def refinement_file(table: KnowledgeTable) -> RefinementFile:
    """Return the figures of refinement.

    Raises
    ------
    NotCovered
        If the table has none.
    """
    if table.refinement is None:
        raise NotCovered("crop", "refinement", "", LocalText(en="the table has no figures of refinement"))
    return table.refinement


@lru_cache(maxsize=512)
def base_of(table: KnowledgeTable, crop_id: str, class_id: str) -> Base:
    """Return what is refined of a crop and class.

    Raises
    ------
    UnknownName, NotCovered
        If the table has no settings for them, or none that are refined.
    """
    figures = refinement_file(table)
    crop = table.crop(crop_id)
    answer = recommend(table, at_reference(crop, class_id))
    left = {entry.setting for entry in figures.not_refined}
    settings = tuple(
        BaseSetting(one.id, one.unit, one.start, one.low, one.high)
        for one in answer.settings
        if one.id not in left and one.high > one.low
    )
    window = crop.moisture
    ends = [window.floor.value, window.best_low.value, window.best_high.value, window.ceiling.value]
    middles = {cell: (low + high) / 2 for cell, low, high in zip(CELLS, ends[:-1], ends[1:], strict=True)}
    scale = figures.figures.moisture_scale.value
    return Base(crop.id, class_id, _coding(table, crop, class_id, left), settings, middles, scale)


def at_reference(crop: CropFile, class_id: str) -> SettingsQuestion:
    """Return the question whose answer is the rows themselves."""
    physical = crop.physical
    return SettingsQuestion(
        crop=crop.id,
        machine_class=class_id,
        grain_moisture_pct=physical.reference_moisture.value,
        yield_t_ha=physical.reference_yield.value,
    )


def _coding(table: KnowledgeTable, crop: CropFile, class_id: str, left: set[str]) -> str:
    """Digest of what a start depends on; a change of anything else of the table leaves sums as they are."""
    parts = (
        crop.model_dump_json(),
        table.responses.model_dump_json(),
        table.machines.model_dump_json(),
        refinement_file(table).figures.moisture_scale.model_dump_json(),
        repr((class_id, sorted(left))),
    )
    return "sha256:" + hashlib.sha256("\n".join(parts).encode()).hexdigest()


def starts_for_record(table: KnowledgeTable, start: StartingSettings) -> dict[str, Any] | None:
    """Return what a record is coded by, to be kept with it; None where nothing is refined."""
    try:
        base = base_of(table, start.crop, start.machine_class)
    except NotCovered:
        return None
    return {"coding": base.coding, **starts_of(start)}


def starts_of(start: StartingSettings) -> dict[str, Any]:
    """Return start and envelope of each setting for some conditions, and the throughput that goes with them."""
    output = {one.code: one.value.value for one in start.output}
    return {
        "settings": {one.id: [one.start, one.low, one.high] for one in start.settings},
        "grain_throughput_t_h": output.get("grain_throughput"),
    }


def question_of(conditions: Mapping[str, Any]) -> SettingsQuestion:
    """Return the question that a record was made with, asked of the table of today."""
    return SettingsQuestion(**{name: value for name, value in conditions.items() if name != "revision"})
