"""What residue.toml may hold.

Inside: shape of the file. Outside: that its crops exist (`residue.py`).
"""

from typing import Annotated

from pydantic import Field

from service.knowledge.schema import Entry, Figure, LocalText, RowId, Slug


class YieldLine(Entry):
    """Above-ground residue of a crop as a line over yield, both in dry matter; `kind` where there are several."""

    id: RowId
    crop: Slug
    kind: Slug | None = None
    residue_slope: Figure
    residue_intercept: Figure


class CropWithoutLine(Entry):
    """A crop for which no line was found, and why."""

    crop: Slug
    why: LocalText


class Cover(Entry):
    """Ground that a kilogram of residue would cover if no piece lay on another."""

    id: RowId
    crops: Annotated[list[Slug], Field(min_length=1)]
    cover_per_mass: Figure


class ResidueFigures(Entry):
    """Figures that hold for every crop."""

    straw_fall_speed: Figure  # terminal velocity of a lone piece
    chaff_fall_speed: Figure
    discharge_speed: Figure
    discharge_height: Figure
    stream_gain: Figure  # effective terminal velocity of the stream over that of a lone piece, at most
    reach_share: Figure  # of the mass, inside what counts as the reach
    widest_angle: Figure  # of the outermost blade from straight back
    blade_step: Figure
    throw_step: Figure  # of the distance
    offset_step: Figure
    offset_range: Figure  # either way, of the cut width
    edge_layer: Figure  # layer at which the spread width ends, of the even layer
    cv_good: Figure
    cv_watch: Figure
    ratio_no_till: Figure
    ratio_worst: Figure
    index_attainable: Figure
    index_flail: Figure
    coverage_least: Figure  # of the cut width
    standing_good: Figure  # of the mass, past the edge to the standing crop
    standing_watch: Figure
    side_good: Figure  # points by which one side may differ from half
    side_watch: Figure
    gain_least: Figure  # points by which a change must be better
    wind_tolerance: Figure  # points by which wind may make it worse
    even_width: Figure  # to which machines spread evenly
    even_width_light: Figure  # the same for light residue
    wind_height_share: Figure  # wind at the discharge over that of a weather station
    still_wind: Figure  # up to which trays count as filled in still air
    told_speed_share: Figure  # by which a told discharge speed may differ from the one that goes with the trays
    fullest_least: Figure  # in the fullest tray; with less the row tells little


class ResidueFile(Entry):
    """residue.toml."""

    yield_line: list[YieldLine]
    no_yield_line: list[CropWithoutLine]
    cover: list[Cover]
    figures: ResidueFigures
