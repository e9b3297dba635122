"""Look-ups in residue.toml, and the rules that tie it to the crops.

Inside: which line over yield and which cover answer for a crop, faults across files. Outside: shape of
the file (`schema_residue.py`), formulas.
"""

from collections import Counter
from collections.abc import Iterator
from typing import Final

from service.knowledge.schema import CropFile, LocalText
from service.knowledge.schema_residue import Cover, ResidueFile, YieldLine
from service.knowledge.tree import RESIDUE, KnowledgeTree, fault

_OWN_CROP: Final = LocalText(
    en="The table has no line over yield for this crop.", de="Die Tabelle hat für diese Frucht keine Ertragsgerade."
)
FIGURE_UNITS: Final = {
    "residue_slope": "1",
    "residue_intercept": "t/har",
    "cover_per_mass": "m2/kg",
    "straw_fall_speed": "m/s",
    "chaff_fall_speed": "m/s",
    "discharge_speed": "m/s",
    "discharge_height": "m",
    "stream_gain": "1",
    "reach_share": "%",
    "widest_angle": "deg",
    "blade_step": "deg",
    "throw_step": "%",
    "offset_step": "m",
    "offset_range": "%",
    "edge_layer": "%",
    "cv_good": "%",
    "cv_watch": "%",
    "ratio_no_till": "1",
    "ratio_worst": "1",
    "index_attainable": "1",
    "index_flail": "1",
    "coverage_least": "%",
    "standing_good": "%",
    "standing_watch": "%",
    "side_good": "%",
    "side_watch": "%",
    "gain_least": "%",
    "wind_tolerance": "%",
    "even_width": "m",
    "even_width_light": "m",
    "wind_height_share": "%",
    "still_wind": "m/s",
    "told_speed_share": "%",
    "fullest_least": "g",
}


def lines_of(residue: ResidueFile, crop: CropFile) -> tuple[YieldLine, ...]:
    """Return the lines over yield of a crop; none where none was found."""
    return tuple(line for line in residue.yield_line if line.crop == crop.id)


def why_no_line(residue: ResidueFile, crop: CropFile) -> LocalText:
    """Return why a crop has no line over yield."""
    return next((entry.why for entry in residue.no_yield_line if entry.crop == crop.id), _OWN_CROP)


def cover_of(residue: ResidueFile, crop: CropFile) -> Cover | None:
    """Return how well the residue of a crop covers, None where nothing was found."""
    return next((entry for entry in residue.cover if crop.id in entry.crops), None)


def residue_faults(tree: KnowledgeTree) -> Iterator[str]:
    """Yield faults that concern residue.toml together with the crops."""
    residue = tree.residue
    if residue is None:
        return
    crops = {crop.id for name, crop in tree.crops.items() if name not in tree.local}
    lines = Counter((line.crop, line.kind) for line in residue.yield_line)
    for (crop, kind), count in lines.items():
        if count > 1:
            yield fault(RESIDUE, ("yield_line",), f"crop {crop}, kind {kind}, stands {count} times")
    answered = {line.crop for line in residue.yield_line}
    without = [entry.crop for entry in residue.no_yield_line]
    for crop in sorted(crops - answered - {*without}):
        yield fault(RESIDUE, ("yield_line",), f"crop {crop} has neither a line nor a reason why not")
    for crop in sorted(answered & {*without}):
        yield fault(RESIDUE, ("no_yield_line",), f"crop {crop} has a line and a reason why not")
    covered = [crop for entry in residue.cover for crop in entry.crops]
    for crop, count in Counter(covered).items():
        if count > 1:
            yield fault(RESIDUE, ("cover",), f"crop {crop} stands {count} times")
    for crop in sorted({*answered, *without, *covered} - crops):
        yield fault(RESIDUE, (), f"there is no crop {crop}")
    figures = residue.figures
    for low, high in (("cv_good", "cv_watch"), ("standing_good", "standing_watch"), ("side_good", "side_watch")):
        if getattr(figures, low).value >= getattr(figures, high).value:
            yield fault(RESIDUE, ("figures", high), f"is not above {low}")
