"""What a request may hold: flat, unit in the name, nothing unknown, nothing null.

Inside: the request models and their query twins. Outside: the kinds of field (`fields`), bounds
(`limits`), turning a request into a question (`questions`).
"""

from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, create_model

from service.api.fields import Given, Name, Number, Truth, Whole
from service.knowledge.schema import ClassId, Priority, SieveDesign, Stand, Straw, Use

SizeBandId = Annotated[str | None, Name(40)]


class RequestModel(BaseModel):
    """Base of every request: a field that is not known is refused."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class ReaderQuery(RequestModel):
    """Query parameters that every address under /v1 takes."""

    units: Literal["metric", "us"] = Field("metric", description="Unit system of every number in the answer.")
    lang: Annotated[str | None, Name(35)] = Field(
        None,
        description="Language of the texts: `en` or `de`. Without it, the Accept-Language header decides.",
        examples=["en"],
    )
    revision: Annotated[str | None, Name(40)] = Field(
        None, description="Pin the revision of the knowledge table; another one than served is refused."
    )


class OverlaidQuery(ReaderQuery):
    """Query parameters of advice that can rest on the local table of an organisation."""

    table: Annotated[str | None, Name(40)] = Field(
        None,
        description=(
            "Organisation whose published local table is laid over the base table. Without it the base table alone "
            "answers. `local` of the answer says which revision it was, each setting whether its number is local."
        ),
    )


class StartingSettingsRequest(RequestModel):
    """Crop, field and machine for which starting settings are wanted."""

    crop: Annotated[str, Name()] = Field(
        description="Crop by id, name, alias or EPPO code; see `GET /v1/crops`.", examples=["wheat"]
    )
    machine_class: ClassId = Field(description="Threshing and separating principle.", examples=["hybrid"])
    grain_moisture_pct: Annotated[float, Number("grain_moisture_pct")] = Field(
        description="Grain moisture, wet basis, in percent: 14.5, not 0.145.", examples=[14.0]
    )
    yield_t_ha: Annotated[float | None, Number("yield_t_ha")] = Field(
        None, description="Expected grain yield. This or `yield_bu_ac` is required.", examples=[8.0]
    )
    yield_bu_ac: Annotated[float | None, Number("yield_bu_ac")] = Field(
        None, description="Expected grain yield in bushels by the crop's legal bushel."
    )
    straw_condition: Straw = Field("normal", description="State of the straw.")
    straw_yield_t_ha: Annotated[float | None, Number("straw_yield_t_ha")] = Field(
        None, description="Straw above ground, stubble included, chaff not. Instead of `straw_to_grain`."
    )
    straw_yield_lb_ac: Annotated[float | None, Number("straw_yield_lb_ac")] = Field(
        None, description="The same as `straw_yield_t_ha` in pounds per acre."
    )
    straw_to_grain: Annotated[float | None, Number("straw_to_grain")] = Field(
        None, description="Straw per grain by mass, if not the crop's usual ratio."
    )
    stand: Stand = Field("upright", description="How the crop stands.")
    slope_along_deg: Annotated[float, Number("slope_along_deg")] = Field(
        0.0, description="Slope in driving direction; uphill is positive."
    )
    slope_across_deg: Annotated[float, Number("slope_across_deg")] = Field(
        0.0, description="Slope across, either sign."
    )
    use: Use = Field("feed", description="What the grain is for.")
    priority: Priority = Field("balanced", description="What matters most.")
    thousand_kernel_mass_g: Annotated[float | None, Number("thousand_kernel_mass_g")] = Field(
        None, description="Thousand-kernel mass, if it was weighed."
    )
    bulk_density_kg_hl: Annotated[float | None, Number("bulk_density_kg_hl")] = Field(
        None, description="Test weight, if it was weighed."
    )
    bulk_density_lb_bu: Annotated[float | None, Number("bulk_density_lb_bu")] = Field(
        None, description="The same as `bulk_density_kg_hl` in pounds per bushel."
    )
    header: Annotated[Literal["reel", "row_crop", "pickup"] | None, Given()] = Field(
        None, description="Kind of header, if not the crop's usual one."
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
    cut_width_m: Annotated[float | None, Number("cut_width_m")] = Field(None, description="Width that is cut.")
    cut_width_ft: Annotated[float | None, Number("cut_width_ft")] = Field(
        None, description="The same as `cut_width_m` in feet."
    )
    drum_diameter_mm: Annotated[float | None, Number("drum_diameter_mm")] = Field(
        None, description="Diameter of the threshing drum or rotor over the bars."
    )
    drum_diameter_in: Annotated[float | None, Number("drum_diameter_in")] = Field(
        None, description="The same as `drum_diameter_mm` in inches."
    )
    separation_rotor_diameter_mm: Annotated[float | None, Number("separation_rotor_diameter_mm")] = Field(
        None, description="Diameter of the separation rotors behind a drum."
    )
    separation_rotor_diameter_in: Annotated[float | None, Number("separation_rotor_diameter_in")] = Field(
        None, description="The same as `separation_rotor_diameter_mm` in inches."
    )
    channel_width_mm: Annotated[float | None, Number("channel_width_mm")] = Field(
        None, description="Inner width of the threshing channel."
    )
    channel_width_in: Annotated[float | None, Number("channel_width_in")] = Field(
        None, description="The same as `channel_width_mm` in inches."
    )
    separation_area_m2: Annotated[float | None, Number("separation_area_m2")] = Field(
        None, description="Area of walkers or separation grates."
    )
    separation_area_ft2: Annotated[float | None, Number("separation_area_ft2")] = Field(
        None, description="The same as `separation_area_m2` in square feet."
    )
    cleaning_area_m2: Annotated[float | None, Number("cleaning_area_m2")] = Field(
        None, description="Area of the sieves."
    )
    cleaning_area_ft2: Annotated[float | None, Number("cleaning_area_ft2")] = Field(
        None, description="The same as `cleaning_area_m2` in square feet."
    )
    tank_volume_l: Annotated[float | None, Number("tank_volume_l")] = Field(None, description="Grain tank.")
    tank_volume_gal: Annotated[float | None, Number("tank_volume_gal")] = Field(
        None, description="The same as `tank_volume_l` in US gallons."
    )
    tank_volume_bu: Annotated[float | None, Number("tank_volume_bu")] = Field(
        None, description="The same as `tank_volume_l` in US bushels by volume."
    )
    unloading_rate_l_s: Annotated[float | None, Number("unloading_rate_l_s")] = Field(
        None, description="Unloading rate of the tank."
    )
    unloading_rate_gal_min: Annotated[float | None, Number("unloading_rate_gal_min")] = Field(
        None, description="The same as `unloading_rate_l_s` in US gallons per minute."
    )
    fan_speed_min_rpm: Annotated[float | None, Number("fan_speed_min_rpm")] = Field(
        None, description="Lowest speed of the cleaning fan; with `fan_speed_max_rpm` the answer tells fan rpm."
    )
    fan_speed_max_rpm: Annotated[float | None, Number("fan_speed_max_rpm")] = Field(
        None, description="Highest speed of the cleaning fan."
    )
    upper_sieve_design: Annotated[SieveDesign | None, Given()] = Field(
        None, description="Design of the upper sieve. A wrong one makes every opening wrong."
    )
    lower_sieve_design: Annotated[SieveDesign | None, Given()] = Field(None, description="Design of the lower sieve.")
    sieve_rear_section: Annotated[bool, Truth()] = Field(
        default=True, description="Whether the upper sieve has a rear section with an opening of its own."
    )


class FrameRequest(RequestModel):
    """Frames of one size laid in one place: one number per frame."""

    place: Literal["standing", "cut_ahead", "discharge", "outside"] = Field(
        description=(
            "`standing`: in the standing crop. `cut_ahead`: on cut ground ahead of the discharge, machine stopped and "
            "backed up. `discharge`: under the swath or spread. `outside`: on cut ground beside the discharge strip."
        )
    )
    catch: Literal["all", "straw", "chaff"] = Field(
        "all", description="What fell into a discharge frame, where straw and chaff leave apart."
    )
    surface: Literal["ground", "pan"] = Field(
        "ground",
        description="Whether a discharge frame lay on the ground, or was a pan that caught only what left the machine.",
    )
    area_m2: Annotated[float | None, Number("area_m2")] = Field(
        None, description="Area of one frame. This or `area_ft2` is required."
    )
    area_ft2: Annotated[float | None, Number("area_ft2")] = Field(
        None, description="The same as `area_m2` in square feet."
    )
    kernels: list[Annotated[int, Whole("kernels")]] = Field(
        [], max_length=200, description="Kernels counted in each frame; zeros count too. This or `masses_g`."
    )
    masses_g: list[Annotated[float, Number("masses_g")]] = Field(
        [], max_length=200, description="Mass of the grain found in each frame."
    )
    unthreshed_kernels: list[Annotated[int, Whole("unthreshed_kernels")]] = Field(
        [], max_length=200, description="Kernels still in heads, rubbed out and counted apart, for each frame."
    )


class GroundLossRequest(RequestModel):
    """What was found on the ground behind and beside the machine."""

    crop: Annotated[str, Name()] = Field(
        description="Crop by id, name, alias or EPPO code; see `GET /v1/crops`.", examples=["wheat"]
    )
    frames: list[FrameRequest] = Field(min_length=1, max_length=50, description="Frames, grouped by place.")
    cut_width_m: Annotated[float | None, Number("cut_width_m")] = Field(
        None, description="Width that is cut. This or `cut_width_ft` is required."
    )
    cut_width_ft: Annotated[float | None, Number("cut_width_ft")] = Field(
        None, description="The same as `cut_width_m` in feet."
    )
    discharge_width_m: Annotated[float | None, Number("discharge_width_m")] = Field(
        None, description="Width of the swath or spread on the ground. This or `discharge_width_ft` is required."
    )
    discharge_width_ft: Annotated[float | None, Number("discharge_width_ft")] = Field(
        None, description="The same as `discharge_width_m` in feet."
    )
    discharge_width_error_pct: Annotated[float, Number("discharge_width_error_pct")] = Field(
        5.0, description="Uncertainty of the discharge width, as a standard error."
    )
    yield_t_ha: Annotated[float | None, Number("yield_t_ha")] = Field(
        None, description="Harvested yield. This or `yield_bu_ac` is required."
    )
    yield_bu_ac: Annotated[float | None, Number("yield_bu_ac")] = Field(
        None, description="Harvested yield in bushels by the crop's legal bushel."
    )
    spreading: Literal["swath", "spread"] = Field("swath", description="Whether straw was laid in a swath or spread.")
    header: Annotated[Literal["reel", "row_crop", "pickup"] | None, Given()] = Field(
        None, description="Kind of header, if not the crop's usual one."
    )
    machine_class: Annotated[ClassId | None, Given()] = Field(None, description="Threshing and separating principle.")
    thousand_kernel_mass_g: Annotated[float | None, Number("thousand_kernel_mass_g")] = Field(
        None, description="Thousand-kernel mass of this crop; without it the crop's usual one and its spread."
    )
    thousand_kernel_mass_error_pct: Annotated[float, Number("thousand_kernel_mass_error_pct")] = Field(
        5.0, description="Uncertainty of `thousand_kernel_mass_g`, as a standard error."
    )
    rule_kernels_per_ft2_per_bu_ac: Annotated[float | None, Number("rule_kernels_per_ft2_per_bu_ac")] = Field(
        None, description="A count rule you want to use: kernels on a square foot that equal a bushel per acre."
    )
    concentration_scope: Literal["machine", "everything"] = Field(
        "machine",
        description="What the concentration factor was applied to: `everything` is a known mistake and is told so.",
    )
    price_per_t: Annotated[float | None, Number("price_per_t")] = Field(None, description="Price of a tonne of grain.")
    price_per_bu: Annotated[float | None, Number("price_per_bu")] = Field(None, description="Price of a legal bushel.")
    currency: Annotated[str | None, Name(3, "^[A-Z]{3}$")] = Field(
        None, description="Currency of the price, three letters of ISO 4217.", examples=["EUR"]
    )
    ground_speed_km_h: Annotated[float | None, Number("ground_speed_km_h")] = Field(
        None, description="Ground speed, for the money per hour."
    )
    ground_speed_mph: Annotated[float | None, Number("ground_speed_mph")] = Field(
        None, description="The same as `ground_speed_km_h` in miles per hour."
    )
    field_efficiency_pct: Annotated[float | None, Number("field_efficiency_pct")] = Field(
        None, description="Share of the time in the field that is spent cutting."
    )
    area_rate_ha_h: Annotated[float | None, Number("area_rate_ha_h")] = Field(
        None, description="Area per hour, instead of ground speed and field efficiency."
    )
    area_rate_ac_h: Annotated[float | None, Number("area_rate_ac_h")] = Field(
        None, description="The same as `area_rate_ha_h` in acres per hour."
    )


def query_twin(model: type[RequestModel], name: str) -> type[OverlaidQuery]:
    """Return the same fields as query parameters, together with those of advice."""
    fields: dict[str, Any] = {}
    for field, info in model.model_fields.items():
        kind: Any = info.annotation
        for marker in info.metadata:
            kind = Annotated[kind, marker.lax() if hasattr(marker, "lax") else marker]
        fields[field] = (
            kind,
            Field(... if info.is_required() else info.default, description=info.description, examples=info.examples),
        )
    return create_model(name, __base__=OverlaidQuery, __doc__=model.__doc__, **fields)


if TYPE_CHECKING:
    # a class made at run time is no type; nothing but the reader's fields is used by name
    StartingSettingsQuery = OverlaidQuery
else:
    StartingSettingsQuery = query_twin(StartingSettingsRequest, "StartingSettingsQuery")
