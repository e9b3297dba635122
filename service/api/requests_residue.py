"""What requests on straw and chaff behind the machine may hold. Trays are columns: one figure a tray in each."""

from typing import Annotated, Literal

from pydantic import Field

from service.api.fields import Name, Number
from service.api.requests import RequestModel

TRAYS_AT_MOST = 101
TRAYS_AT_LEAST = 5
SPACINGS_AT_MOST = 8


def _trays(description: str) -> list[float]:
    column: list[float] = Field([], max_length=TRAYS_AT_MOST, description=description)
    return column


def _spacings(description: str) -> list[float]:
    column: list[float] = Field([], max_length=SPACINGS_AT_MOST, description=description)
    return column


class ResidueSpreadRequest(RequestModel):
    """A row of trays across the travel, filled by one pass in still air on level ground.

    Right is positive everywhere, seen in the direction of travel.
    """

    crop: Annotated[str, Name()] = Field(
        description="Crop by id, name, alias or EPPO code; see `GET /v1/crops`.", examples=["wheat"]
    )
    cut_width_m: Annotated[float | None, Number("cut_width_m")] = Field(
        None, description="Width that is cut. This or `cut_width_ft` is required.", examples=[9.0]
    )
    cut_width_ft: Annotated[float | None, Number("cut_width_ft")] = Field(None, description="The same in feet.")
    standing_crop: Literal["left", "right", "both", "none"] = Field(
        description="Side on which crop stands beside the cut; both when a field is opened.", examples=["right"]
    )
    positions_m: list[Annotated[float, Number("positions_m")]] = _trays(
        "Middles of the trays from left to right, 0 at the middle of the cut; 5 or more of them inside the cut. "
        "This or `positions_ft` is required."
    )
    positions_ft: list[Annotated[float, Number("positions_ft")]] = _trays("The same in feet.")
    residue_g: list[Annotated[float, Number("residue_g")]] = _trays(
        "Straw and chaff together in each tray, where they were not weighed apart."
    )
    straw_g: list[Annotated[float, Number("straw_g")]] = _trays("Straw in each tray; goes with `chaff_g`.")
    chaff_g: list[Annotated[float, Number("chaff_g")]] = _trays("Chaff in each tray; goes with `straw_g`.")
    tray_area_m2: Annotated[float | None, Number("tray_area_m2")] = Field(
        None, description="Area of one tray; with it the layer is told in mass per area."
    )
    tray_area_ft2: Annotated[float | None, Number("tray_area_ft2")] = Field(
        None, description="The same in square feet."
    )
    driving: Literal["back_and_forth", "round_and_round"] = Field(
        "back_and_forth", description="Whether neighbouring passes are driven in opposite directions or in one."
    )
    swath_spacings_m: list[Annotated[float, Number("swath_spacings_m")]] = _spacings(
        "Distances between neighbouring passes to look at; the first one is judged. Without it the cut width."
    )
    swath_spacings_ft: list[Annotated[float, Number("swath_spacings_ft")]] = _spacings("The same in feet.")
    lateral_offset_m: Annotated[float, Number("lateral_offset_m")] = Field(
        0.0, description="Sideways offset that was set when the trays were filled; 0 is neutral."
    )
    lateral_offset_ft: Annotated[float | None, Number("lateral_offset_ft")] = Field(
        None, description="The same in feet."
    )
    lateral_offset_max_m: Annotated[float | None, Number("lateral_offset_max_m")] = Field(
        None, description="How far the offset goes from neutral to either side. Without it a share of the cut width."
    )
    lateral_offset_max_ft: Annotated[float | None, Number("lateral_offset_max_ft")] = Field(
        None, description="The same in feet."
    )
    crosswind_m_s: Annotated[float, Number("crosswind_m_s")] = Field(
        0.0, description="Wind across the travel at the height of the discharge; from left to right is positive."
    )
    crosswind_mph: Annotated[float | None, Number("crosswind_mph")] = Field(
        None, description="The same in miles per hour."
    )
    slope_across_deg: Annotated[float, Number("slope_across_deg")] = Field(
        0.0, description="Slope across; falling to the right is positive."
    )
    discharge_height_m: Annotated[float | None, Number("discharge_height_m")] = Field(
        None, description="Height at which straw and chaff leave the machine."
    )
    discharge_height_ft: Annotated[float | None, Number("discharge_height_ft")] = Field(
        None, description="The same in feet."
    )
    discharge_speed_m_s: Annotated[float | None, Number("discharge_speed_m_s")] = Field(
        None, description="Speed at which they leave it, if you know it."
    )


class ResidueAmountRequest(RequestModel):
    """A yield, from which straw and chaff are reckoned."""

    crop: Annotated[str, Name()] = Field(
        description="Crop by id, name, alias or EPPO code; see `GET /v1/crops`.", examples=["wheat"]
    )
    yield_t_ha: Annotated[float | None, Number("yield_t_ha")] = Field(
        None, description="Grain yield. This or `yield_bu_ac` is required.", examples=[8.0]
    )
    yield_bu_ac: Annotated[float | None, Number("yield_bu_ac")] = Field(
        None, description="The same in bushels by the crop's legal bushel."
    )
    grain_moisture_pct: Annotated[float | None, Number("grain_moisture_pct")] = Field(
        None, description="Moisture at which the yield was weighed. Without it the crop's reference moisture."
    )
    residue_moisture_pct: Annotated[float | None, Number("residue_moisture_pct")] = Field(
        None, description="Moisture of straw and chaff; with it masses are told as they are, too."
    )
    straw_to_grain: Annotated[float | None, Number("straw_to_grain")] = Field(
        None, description="Straw without chaff per grain, stubble included, dry matter, if not the crop's usual ratio."
    )
    chaff_to_grain: Annotated[float | None, Number("chaff_to_grain")] = Field(
        None, description="Chaff per grain, dry matter, if not the crop's usual ratio."
    )
    straw_intake_share_pct: Annotated[float | None, Number("straw_intake_share_pct")] = Field(
        None, description="Part of the straw that is cut off and goes through the machine; the rest is stubble."
    )
    cut_width_m: Annotated[float | None, Number("cut_width_m")] = Field(
        None, description="Width that is cut; with `laid_width_m` the load of that strip is told."
    )
    cut_width_ft: Annotated[float | None, Number("cut_width_ft")] = Field(None, description="The same in feet.")
    laid_width_m: Annotated[float | None, Number("laid_width_m")] = Field(
        None, description="Width on which the material lies, as of a swath or a narrow spread."
    )
    laid_width_ft: Annotated[float | None, Number("laid_width_ft")] = Field(None, description="The same in feet.")
