"""What requests on unloading and hauling may hold.

Inside: the two requests, and the haulers of the second. Outside: the kinds of field (`fields`), bounds
(`limits`), turning a request into a question (`questions_hauling`).
"""

from typing import Annotated, Literal

from pydantic import Field

from service.api import fields_cost as cost
from service.api.fields import Given, Name, Number, Whole
from service.api.requests import RequestModel, SizeBandId
from service.knowledge.schema import ClassId


class TankRequest(RequestModel):
    """Crop, cut, tank and auger, which both requests ask for."""

    crop: Annotated[str, Name()] = Field(
        description="Crop by id, name, alias or EPPO code; see `GET /v1/crops`.", examples=["wheat"]
    )
    yield_t_ha: Annotated[float | None, Number("yield_t_ha")] = Field(
        None, description="Yield as harvested. This or `yield_bu_ac` is required."
    )
    yield_bu_ac: Annotated[float | None, Number("yield_bu_ac")] = Field(
        None, description="Yield in bushels by the crop's legal bushel."
    )
    cut_width_m: Annotated[float | None, Number("cut_width_m")] = Field(
        None, description="Width that is cut. This or `cut_width_ft` is required."
    )
    cut_width_ft: Annotated[float | None, Number("cut_width_ft")] = Field(
        None, description="The same as `cut_width_m` in feet."
    )
    ground_speed_km_h: Annotated[float | None, Number("ground_speed_km_h")] = Field(
        None, description="Ground speed while cutting. This or `ground_speed_mph` is required."
    )
    ground_speed_mph: Annotated[float | None, Number("ground_speed_mph")] = Field(
        None, description="The same as `ground_speed_km_h` in miles per hour."
    )
    grain_moisture_pct: Annotated[float | None, Number("grain_moisture_pct")] = Field(
        None, description="Grain moisture, wet basis: wet grain is lighter. Not needed where the test weight is given."
    )
    bulk_density_kg_hl: Annotated[float | None, Number("bulk_density_kg_hl")] = Field(
        None, description="Test weight, if it was weighed."
    )
    bulk_density_lb_bu: Annotated[float | None, Number("bulk_density_lb_bu")] = Field(
        None, description="The same as `bulk_density_kg_hl` in pounds per bushel."
    )
    machine_class: Annotated[ClassId | None, Given()] = Field(
        None, description="Threshing and separating principle, for the usual tank and auger of such a machine."
    )
    size_band: SizeBandId = Field(None, description="Size of the machine; see `GET /v1/machine-classes`.")
    engine_power_kw: Annotated[float | None, Number("engine_power_kw")] = Field(
        None, description="Rated engine power; with `machine_class`, instead of `size_band`."
    )
    engine_power_hp: Annotated[float | None, Number("engine_power_hp")] = Field(
        None, description="The same as `engine_power_kw` in horsepower."
    )
    tank_volume_l: Annotated[float | None, Number("tank_volume_l")] = Field(
        None, description="Grain tank. This, a twin of it, or `machine_class` is required."
    )
    tank_volume_gal: Annotated[float | None, Number("tank_volume_gal")] = Field(
        None, description="The same as `tank_volume_l` in US gallons."
    )
    tank_volume_bu: Annotated[float | None, Number("tank_volume_bu")] = Field(
        None, description="The same as `tank_volume_l` in US bushels by volume."
    )
    unloading_rate_l_s: Annotated[float | None, Number("unloading_rate_l_s")] = Field(
        None, description="Rate of the unloading auger: a full tank over the time it takes to empty."
    )
    unloading_rate_gal_min: Annotated[float | None, Number("unloading_rate_gal_min")] = Field(
        None, description="The same as `unloading_rate_l_s` in US gallons per minute."
    )
    docking_s: Annotated[float | None, Number("docking_s")] = Field(
        None, description="Tube out, lined up, run empty and in again, beside the unloading itself."
    )
    cart_distance_m: Annotated[float | None, Number("cart_distance_m")] = Field(
        None, description="From where carts or trucks wait in the field to the machine, on average."
    )
    cart_distance_ft: Annotated[float | None, Number("cart_distance_ft")] = Field(
        None, description="The same as `cart_distance_m` in feet."
    )
    cart_speed_km_h: Annotated[float | None, Number("cart_speed_km_h")] = Field(
        None, description="Speed on that way; goes with the distance."
    )
    cart_speed_mph: Annotated[float | None, Number("cart_speed_mph")] = Field(
        None, description="The same as `cart_speed_km_h` in miles per hour."
    )
    run_length_m: Annotated[float | None, Number("run_length_m")] = Field(
        None, description="Length of a run across the field."
    )
    run_length_ft: Annotated[float | None, Number("run_length_ft")] = Field(
        None, description="The same as `run_length_m` in feet."
    )
    turn_time_s: Annotated[float | None, Number("turn_time_s")] = Field(
        None, description="Time of a turn at the end of a run; goes with the run length."
    )


class UnloadingRequest(TankRequest):
    """One machine: its tank, its auger, the cart, the field."""

    reduced_rate_pct: Annotated[float | None, Number("reduced_rate_pct")] = Field(
        None, description="Reduced rate over the full one, if not half as with one of two cross augers off."
    )
    tank_fill_pct: Annotated[float | None, Number("tank_fill_pct")] = Field(
        None, description="How full the tank is now."
    )
    cart_arrival_min: Annotated[float | None, Number("cart_arrival_min")] = Field(
        None, description="Minutes from the call until the cart is alongside, instead of its distance and speed."
    )
    cart_capacity_t: Annotated[float | None, Number("cart_capacity_t")] = Field(
        None, description="Payload of the cart, or the room that is left in it."
    )
    cart_capacity_lb: Annotated[float | None, Number("cart_capacity_lb")] = Field(
        None, description="The same as `cart_capacity_t` in pounds."
    )
    cart_capacity_bu: Annotated[float | None, Number("cart_capacity_bu")] = Field(
        None, description="The same as `cart_capacity_t` in bushels by the crop's legal bushel."
    )
    edge_distance_m: Annotated[float | None, Number("edge_distance_m")] = Field(
        None, description="From where the tank is full to a vehicle at the edge of the field, on average."
    )
    edge_distance_ft: Annotated[float | None, Number("edge_distance_ft")] = Field(
        None, description="The same as `edge_distance_m` in feet."
    )
    edge_speed_km_h: Annotated[float | None, Number("edge_speed_km_h")] = Field(
        None, description="Speed of the machine on that way, if not its ground speed while cutting."
    )
    edge_speed_mph: Annotated[float | None, Number("edge_speed_mph")] = Field(
        None, description="The same as `edge_speed_km_h` in miles per hour."
    )


class HaulerRequest(RequestModel):
    """Carts, trailers or trucks of one kind."""

    capacity_t: Annotated[float | None, Number("capacity_t")] = Field(
        None, description="Payload. This or a twin of it is required.", examples=[18.0]
    )
    capacity_lb: Annotated[float | None, Number("capacity_lb")] = Field(
        None, description="The same as `capacity_t` in pounds."
    )
    capacity_bu: Annotated[float | None, Number("capacity_bu")] = Field(
        None, description="The same as `capacity_t` in bushels by the crop's legal bushel."
    )
    hauler_count: Annotated[int | None, Whole("hauler_count")] = Field(
        None, description="How many can be had. The last kind may leave it out: then as many as are wanted."
    )
    hauler_cost_per_h: Annotated[float | None, Number("hauler_cost_per_h")] = Field(
        None, description="Cost of an hour of one of them with its driver, waiting included; for all kinds or none."
    )


class HaulingPlanRequest(TankRequest):
    """Combines that are all alike, the way of the grain, and what may haul it."""

    combines: Annotated[int, Whole("combines")] = Field(1, description="Combines in the field, all alike.")
    unloading: Literal["moving", "standing"] = Field(
        "moving", description="`moving`: unloads while cutting. `standing`: stops to unload when the tank is full."
    )
    call_level_pct: Annotated[float | None, Number("call_level_pct")] = Field(
        None, description="Level of the tank at which a hauler is called."
    )
    field_efficiency_pct: Annotated[float | None, Number("field_efficiency_pct")] = Field(
        None,
        description="Share of the time that is cutting, unloading and waiting left out; or run length and turn time.",
    )
    haulers: list[HaulerRequest] = Field(
        min_length=1,
        max_length=4,
        description="Kinds of hauler. Plans take the first of the list first: 1, 2, 3 haulers and so on, at most 20.",
    )
    distance_km: Annotated[float | None, Number("distance_km")] = Field(
        None, description="From the field to where it is unloaded, one way. This or `distance_mi` is required."
    )
    distance_mi: Annotated[float | None, Number("distance_mi")] = Field(
        None, description="The same as `distance_km` in miles."
    )
    haul_speed_km_h: Annotated[float | None, Number("haul_speed_km_h")] = Field(
        None, description="Mean speed on the way, loaded. This or `haul_speed_mph` is required."
    )
    haul_speed_mph: Annotated[float | None, Number("haul_speed_mph")] = Field(
        None, description="The same as `haul_speed_km_h` in miles per hour."
    )
    return_speed_km_h: Annotated[float | None, Number("return_speed_km_h")] = Field(
        None, description="Mean speed on the way back, if not the same."
    )
    return_speed_mph: Annotated[float | None, Number("return_speed_mph")] = Field(
        None, description="The same as `return_speed_km_h` in miles per hour."
    )
    store_time_min: Annotated[float | None, Number("store_time_min")] = Field(
        None,
        description="Time of a load where it is unloaded, queue not counted. This or the rate is required, or both: "
        "then this is weighing and driving, and the rate tells the rest.",
    )
    store_rate_t_h: Annotated[float | None, Number("store_rate_t_h")] = Field(
        None, description="Rate at which a place takes grain in."
    )
    store_rate_bu_h: Annotated[float | None, Number("store_rate_bu_h")] = Field(
        None, description="The same as `store_rate_t_h` in bushels by the crop's legal bushel."
    )
    store_places: Annotated[int | None, Whole("store_places")] = Field(
        None, description="Loads that can be taken in at once. Without it nobody waits there."
    )
    time_variation_pct: Annotated[float | None, Number("time_variation_pct")] = Field(
        None, description="How much times vary, standard deviation over mean; 100 is what waiting-line formulas assume."
    )
    price_per_t: Annotated[float | None, Number("price_per_t")] = Field(
        None, description="Price of a tonne of grain, for the cost of delay; goes with the area left."
    )
    price_per_bu: cost.PricePerBu = None
    currency: cost.Currency = None
    cost_per_h: Annotated[float | None, Number("cost_per_h")] = Field(
        None,
        description="Cost of an hour of one combine and driver. This, or list price, age, hours, wage and fuel price.",
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
        None, description="Area that still stands, for the hours it takes and, with costs, the cost of delay."
    )
    area_left_ac: cost.AreaLeftAc = None
    hours_per_day: cost.HoursPerDay = None
    workday_share_pct: cost.WorkdaySharePct = 100.0
    delay_loss_pct_per_day: cost.DelayLossPctPerDay = None
    delay_timing: cost.DelayTiming = "all_late"
