"""What a working-speed request may hold.

Inside: the request and its drop tests. Outside: the kinds of field (`fields`), bounds (`limits`), turning a
request into a question (`questions_speed`).
"""

from typing import Annotated, Literal

from pydantic import Field

from service.api import fields_cost as cost
from service.api.fields import Given, Name, Number
from service.api.requests import RequestModel, SizeBandId
from service.knowledge.schema import ClassId


class DropTestRequest(RequestModel):
    """Loss that was measured at one ground speed, each loss in one of its units."""

    ground_speed_km_h: Annotated[float | None, Number("ground_speed_km_h")] = Field(
        None, description="Ground speed of the test. This or `ground_speed_mph` is required.", examples=[5.0]
    )
    ground_speed_mph: Annotated[float | None, Number("ground_speed_mph")] = Field(
        None, description="The same as `ground_speed_km_h` in miles per hour."
    )
    machine_loss_kg_ha: Annotated[float | None, Number("machine_loss_kg_ha")] = Field(
        None, description="What left the rear of the machine. This or one of its twins is required.", examples=[60.0]
    )
    machine_loss_lb_ac: Annotated[float | None, Number("machine_loss_lb_ac")] = Field(
        None, description="The same as `machine_loss_kg_ha` in pounds per acre."
    )
    machine_loss_bu_ac: Annotated[float | None, Number("machine_loss_bu_ac")] = Field(
        None, description="The same as `machine_loss_kg_ha` in legal bushels per acre."
    )
    machine_loss_pct: Annotated[float | None, Number("machine_loss_pct")] = Field(
        None, description="The same as `machine_loss_kg_ha` in percent of all that grew."
    )
    machine_loss_error_kg_ha: Annotated[float | None, Number("machine_loss_error_kg_ha")] = Field(
        None, description="Standard error of the machine loss, above 0; in all tests or in none."
    )
    machine_loss_error_lb_ac: Annotated[float | None, Number("machine_loss_error_lb_ac")] = Field(
        None, description="The same as `machine_loss_error_kg_ha` in pounds per acre."
    )
    machine_loss_error_pct: Annotated[float | None, Number("machine_loss_error_pct")] = Field(
        None, description="The same as `machine_loss_error_kg_ha` in percent of all that grew."
    )
    header_loss_kg_ha: Annotated[float | None, Number("header_loss_kg_ha")] = Field(
        None, description="What fell at the header; in all tests or in none. It rises with speed too."
    )
    header_loss_lb_ac: Annotated[float | None, Number("header_loss_lb_ac")] = Field(
        None, description="The same as `header_loss_kg_ha` in pounds per acre."
    )
    header_loss_bu_ac: Annotated[float | None, Number("header_loss_bu_ac")] = Field(
        None, description="The same as `header_loss_kg_ha` in legal bushels per acre."
    )
    header_loss_pct: Annotated[float | None, Number("header_loss_pct")] = Field(
        None, description="The same as `header_loss_kg_ha` in percent of all that grew."
    )


class WorkingSpeedRequest(RequestModel):
    """Drop tests at two ground speeds or more, and what time and grain are worth."""

    crop: Annotated[str, Name()] = Field(
        description="Crop by id, name, alias or EPPO code; see `GET /v1/crops`.", examples=["wheat"]
    )
    drop_tests: list[DropTestRequest] = Field(
        min_length=1,
        max_length=40,
        description="Drop tests at two different speeds or more, in the same crop and settings.",
    )
    cut_width_m: Annotated[float | None, Number("cut_width_m")] = Field(
        None, description="Width that is cut. This or `cut_width_ft` is required."
    )
    cut_width_ft: Annotated[float | None, Number("cut_width_ft")] = Field(
        None, description="The same as `cut_width_m` in feet."
    )
    yield_t_ha: Annotated[float | None, Number("yield_t_ha")] = Field(
        None, description="Harvested yield. This or `yield_bu_ac` is required."
    )
    yield_bu_ac: Annotated[float | None, Number("yield_bu_ac")] = Field(
        None, description="Harvested yield in bushels by the crop's legal bushel."
    )
    form: Annotated[Literal["exponential", "power", "quadratic"] | None, Given()] = Field(
        None, description="Form of the loss curve, if it is not to be chosen by how well it predicts."
    )
    speed_step_km_h: Annotated[float | None, Number("speed_step_km_h")] = Field(
        None, description="How far beyond the speeds tested the curve may be used, if not the step between them."
    )
    speed_step_mph: Annotated[float | None, Number("speed_step_mph")] = Field(
        None, description="The same as `speed_step_km_h` in miles per hour."
    )
    loss_level_pct: Annotated[float | None, Number("loss_level_pct")] = Field(
        None, description="Machine loss at which capacity is asked for, if not the crop's usual target."
    )
    field_efficiency_pct: Annotated[float | None, Number("field_efficiency_pct")] = Field(
        None, description="Share of the time in the field that is spent cutting, if runs and stops are not given."
    )
    run_length_m: Annotated[float | None, Number("run_length_m")] = Field(
        None, description="Length of a run across the field; with `turn_time_s`, instead of `field_efficiency_pct`."
    )
    run_length_ft: Annotated[float | None, Number("run_length_ft")] = Field(
        None, description="The same as `run_length_m` in feet."
    )
    turn_time_s: Annotated[float | None, Number("turn_time_s")] = Field(
        None, description="Time of a turn at the end of a run."
    )
    unloading_stop_min: Annotated[float | None, Number("unloading_stop_min")] = Field(
        None, description="Minutes that the machine stands to empty a tank; 0 when it unloads on the move."
    )
    tank_volume_l: Annotated[float | None, Number("tank_volume_l")] = Field(
        None, description="Grain tank; goes with `unloading_stop_min`."
    )
    tank_volume_gal: Annotated[float | None, Number("tank_volume_gal")] = Field(
        None, description="The same as `tank_volume_l` in US gallons."
    )
    tank_volume_bu: Annotated[float | None, Number("tank_volume_bu")] = Field(
        None, description="The same as `tank_volume_l` in US bushels by volume."
    )
    bulk_density_kg_hl: Annotated[float | None, Number("bulk_density_kg_hl")] = Field(
        None, description="Test weight, if it was weighed."
    )
    bulk_density_lb_bu: Annotated[float | None, Number("bulk_density_lb_bu")] = Field(
        None, description="The same as `bulk_density_kg_hl` in pounds per bushel."
    )
    price_per_t: Annotated[float | None, Number("price_per_t")] = Field(
        None, description="Price of a tonne of grain. This or `price_per_bu` is required."
    )
    price_per_bu: cost.PricePerBu = None
    currency: cost.Currency = None
    cost_per_h: Annotated[float | None, Number("cost_per_h")] = Field(
        None, description="Cost of an hour of machine and driver. This, or list price, age, hours, wage and fuel price."
    )
    list_price: cost.ListPrice = None
    machine_age_years: cost.MachineAgeYears = None
    hours_per_year: cost.HoursPerYear = None
    hours_counted: cost.HoursCounted = "all"
    interest_pct: cost.InterestPct = None
    wage_per_h: cost.WagePerH = None
    fuel_price_per_l: cost.FuelPricePerL = None
    fuel_price_per_gal: cost.FuelPricePerGal = None
    area_left_ha: Annotated[float | None, Number("area_left_ha")] = Field(
        None, description="Area that still stands, for the cost of delay; with `hours_per_day`."
    )
    area_left_ac: cost.AreaLeftAc = None
    hours_per_day: cost.HoursPerDay = None
    workday_share_pct: cost.WorkdaySharePct = 100.0
    delay_loss_pct_per_day: cost.DelayLossPctPerDay = None
    delay_timing: cost.DelayTiming = "all_late"
    machine_class: Annotated[ClassId | None, Given()] = Field(
        None, description="Threshing and separating principle, for engine power and fuel."
    )
    size_band: SizeBandId = Field(None, description="Size of the machine; see `GET /v1/machine-classes`.")
    engine_power_kw: Annotated[float | None, Number("engine_power_kw")] = Field(None, description="Rated engine power.")
    engine_power_hp: Annotated[float | None, Number("engine_power_hp")] = Field(
        None, description="The same as `engine_power_kw` in horsepower."
    )
    machine_mass_t: Annotated[float | None, Number("machine_mass_t")] = Field(
        None, description="Mass with header and half a tank."
    )
    machine_mass_lb: Annotated[float | None, Number("machine_mass_lb")] = Field(
        None, description="The same as `machine_mass_t` in pounds."
    )
    slope_along_deg: Annotated[float, Number("slope_along_deg")] = Field(
        0.0, description="Slope in driving direction; uphill is positive."
    )
    straw_to_grain: Annotated[float | None, Number("straw_to_grain")] = Field(
        None, description="Straw per grain by mass, if not the crop's usual ratio."
    )
