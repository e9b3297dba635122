"""What a loss-monitor request may hold."""

from typing import Annotated, Literal

from pydantic import Field

from service.api.fields import Name, Number, Truth, Whole
from service.api.requests import RequestModel


class MonitorPairRequest(RequestModel):
    """One reading of the display and the loss that was measured for it: as loss per area, or as a pan's contents."""

    reading: Annotated[float, Number("reading")] = Field(
        description="What the display showed while the pan was filled, in `reading_unit`."
    )
    measured_loss_kg_ha: Annotated[float | None, Number("measured_loss_kg_ha")] = Field(
        None, description="Loss of this stream over the cut width. This, a twin, `kernels` or `masses_g`."
    )
    measured_loss_lb_ac: Annotated[float | None, Number("measured_loss_lb_ac")] = Field(
        None, description="The same as `measured_loss_kg_ha` in pounds per acre."
    )
    measured_loss_bu_ac: Annotated[float | None, Number("measured_loss_bu_ac")] = Field(
        None, description="The same as `measured_loss_kg_ha` in bushels by the crop's legal bushel."
    )
    error_pct: Annotated[float | None, Number("error_pct")] = Field(
        None, description="Uncertainty of the measured loss, as a standard error."
    )
    kernels: list[Annotated[int, Whole("kernels")]] = Field(
        [], max_length=50, description="Kernels of this stream in each pan that caught only what left the machine."
    )
    masses_g: list[Annotated[float, Number("masses_g")]] = Field(
        [], max_length=50, description="Mass of the grain in each pan, instead of `kernels`."
    )
    area_m2: Annotated[float | None, Number("area_m2")] = Field(
        None, description="Area of one pan; needed with `kernels` or `masses_g`."
    )
    area_ft2: Annotated[float | None, Number("area_ft2")] = Field(
        None, description="The same as `area_m2` in square feet."
    )
    ground_speed_km_h: Annotated[float | None, Number("ground_speed_km_h")] = Field(
        None, description="Ground speed of this pair, if not that of the question."
    )
    ground_speed_mph: Annotated[float | None, Number("ground_speed_mph")] = Field(
        None, description="The same as `ground_speed_km_h` in miles per hour."
    )
    cut_width_m: Annotated[float | None, Number("cut_width_m")] = Field(
        None, description="Width that was cut, if not that of the question."
    )
    cut_width_ft: Annotated[float | None, Number("cut_width_ft")] = Field(
        None, description="The same as `cut_width_m` in feet."
    )


class MonitorCalibrationRequest(RequestModel):
    """Readings of a loss monitor with the losses that were measured, for one sensor."""

    crop: Annotated[str, Name()] = Field(
        description="Crop by id, name, alias or EPPO code; see `GET /v1/crops`.", examples=["wheat"]
    )
    sensor: Literal["separation", "cleaning"] = Field(
        description="`separation`: behind walkers or rotors. `cleaning`: behind the sieves. One request for each."
    )
    pairs: list[MonitorPairRequest] = Field(
        min_length=1, max_length=40, description="Three pairs or more, at speeds that lose little and much."
    )
    cut_width_m: Annotated[float | None, Number("cut_width_m")] = Field(
        None, description="Width that is cut, for the answer and for pairs without their own. Or `cut_width_ft`."
    )
    cut_width_ft: Annotated[float | None, Number("cut_width_ft")] = Field(
        None, description="The same as `cut_width_m` in feet."
    )
    ground_speed_km_h: Annotated[float | None, Number("ground_speed_km_h")] = Field(
        None, description="Ground speed that the answer is for, and of pairs without their own. Or `ground_speed_mph`."
    )
    ground_speed_mph: Annotated[float | None, Number("ground_speed_mph")] = Field(
        None, description="The same as `ground_speed_km_h` in miles per hour."
    )
    reading_unit: Literal["index", "percent", "kg_ha", "lb_ac", "bu_ac"] = Field(
        "index", description="What the display shows: bars or a number without unit, percent of the yield, or a loss."
    )
    speed_corrected: Annotated[bool | None, Truth()] = Field(
        None,
        description="Whether a display without unit divides by speed and width. Without this it counts as a rate.",
    )
    reading_full_scale: Annotated[float | None, Number("reading_full_scale")] = Field(
        None, description="Highest reading that the display can show."
    )
    reading_error: Annotated[float | None, Number("reading_error")] = Field(
        None, description="Standard error of a reading, if known otherwise than from `no_loss_readings`."
    )
    no_loss_readings: list[Annotated[float, Number("no_loss_readings")]] = Field(
        [], max_length=50, description="Readings with straw going through and no grain lost; three or more."
    )
    discharge_width_m: Annotated[float | None, Number("discharge_width_m")] = Field(
        None, description="Width of the strip that the pans lay in; needed with `kernels` or `masses_g`."
    )
    discharge_width_ft: Annotated[float | None, Number("discharge_width_ft")] = Field(
        None, description="The same as `discharge_width_m` in feet."
    )
    discharge_width_error_pct: Annotated[float, Number("discharge_width_error_pct")] = Field(
        5.0, description="Uncertainty of the discharge width, as a standard error."
    )
    thousand_kernel_mass_g: Annotated[float | None, Number("thousand_kernel_mass_g")] = Field(
        None, description="Thousand-kernel mass of this crop; without it the crop's usual one and its spread."
    )
    thousand_kernel_mass_error_pct: Annotated[float, Number("thousand_kernel_mass_error_pct")] = Field(
        5.0, description="Uncertainty of `thousand_kernel_mass_g`, as a standard error."
    )
    yield_t_ha: Annotated[float | None, Number("yield_t_ha")] = Field(
        None, description="Harvested yield; required where the display shows percent."
    )
    yield_bu_ac: Annotated[float | None, Number("yield_bu_ac")] = Field(
        None, description="Harvested yield in bushels by the crop's legal bushel."
    )
    target_loss_kg_ha: Annotated[float | None, Number("target_loss_kg_ha")] = Field(
        None, description="Loss of this stream that shall not be passed; without it a share of the crop's target."
    )
    target_loss_lb_ac: Annotated[float | None, Number("target_loss_lb_ac")] = Field(
        None, description="The same as `target_loss_kg_ha` in pounds per acre."
    )
    target_loss_pct: Annotated[float | None, Number("target_loss_pct")] = Field(
        None, description="The target in percent of the yield, instead of `target_loss_kg_ha`."
    )
