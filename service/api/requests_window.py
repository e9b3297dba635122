"""What a request for a harvest window may hold. The series are columns: one figure an hour in each."""

from datetime import datetime
from typing import Annotated, Literal

from pydantic import Field

from service.api.fields import Given, Name, Number
from service.api.moments import Moment
from service.api.requests import RequestModel
from service.domain.equilibrium import Form

HOURS_AT_MOST = 240


def _column(description: str) -> list[float]:
    column: list[float] = Field([], max_length=HOURS_AT_MOST, description=description)
    return column


class WeatherRequest(RequestModel):
    """Weather hour after hour, measured and foreseen, without a gap; all columns have the same length."""

    start: Annotated[datetime, Moment()] = Field(
        description="Begin of the first hour, RFC 3339 with offset.", examples=["2026-07-20T06:00:00+02:00"]
    )
    temperature_c: list[Annotated[float, Number("temperature_c")]] = _column(
        "Air temperature of each hour. This or `temperature_f` is required."
    )
    temperature_f: list[Annotated[float, Number("temperature_f")]] = _column("The same in degrees Fahrenheit.")
    relative_humidity_pct: list[Annotated[float, Number("relative_humidity_pct")]] = _column(
        "Relative humidity in percent: 65, not 0.65. This or the dew point is required."
    )
    dew_point_c: list[Annotated[float, Number("dew_point_c")]] = _column("Dew point, at most the temperature.")
    dew_point_f: list[Annotated[float, Number("dew_point_f")]] = _column("The same in degrees Fahrenheit.")
    wind_m_s: list[Annotated[float, Number("wind_m_s")]] = _column("Mean wind; tells whether the pace may change.")
    wind_mph: list[Annotated[float, Number("wind_mph")]] = _column("The same in miles per hour.")
    rain_mm: list[Annotated[float, Number("rain_mm")]] = _column("Rain of each hour; hours with rain are not fit.")
    rain_in: list[Annotated[float, Number("rain_in")]] = _column("The same in inches.")


class ReadingRequest(RequestModel):
    """Grain moisture of a sample mixed from several places."""

    time: Annotated[datetime, Moment()] = Field(
        description="When it was taken, inside the weather series.", examples=["2026-07-20T10:00:00+02:00"]
    )
    moisture_pct: Annotated[float, Number("moisture_pct")] = Field(
        description="Wet basis, in percent.", examples=[21.5]
    )


class HarvestWindowRequest(RequestModel):
    """Crop, weather and own readings for which hours fit to combine are wanted."""

    crop: Annotated[str, Name()] = Field(
        description="Crop by id, name, alias or EPPO code; see `GET /v1/crops`.", examples=["wheat"]
    )
    weather: WeatherRequest = Field(description="Weather hour after hour, past the readings and on from them.")
    readings: list[ReadingRequest] = Field(
        min_length=1,
        max_length=2,
        description=(
            "Two readings, some hours apart, tell how fast this crop dries. With one, a pace of the table is taken "
            "for the crops that have one. The last one is now."
        ),
    )
    target_moisture_pct: Annotated[float | None, Number("target_moisture_pct")] = Field(
        None, description="Moisture to combine at or below. Without it the wet end of the crop's best window."
    )
    delivery_moisture_pct: Annotated[float | None, Number("delivery_moisture_pct")] = Field(
        None, description="Moisture that is paid in full; drying goes down to it. Without it that of the market."
    )
    market: Annotated[Literal["us", "ca", "eu", "au", "int"] | None, Given()] = Field(
        None, description="Market whose trade moisture is taken; without it the first that the table has."
    )
    equilibrium_grain: Annotated[str | None, Name(40)] = Field(
        None,
        description=(
            "Grain class of the equilibrium constants, as `wheat_soft`; also one of another crop, if you decide so."
        ),
    )
    equilibrium_form: Annotated[Form | None, Given()] = Field(None, description="Equation, if not the usual one.")
    equilibrium_source: Annotated[str | None, Name(120)] = Field(
        None, description="Source of the constants, as an answer lists them, where an equation has several."
    )
    reading_error_pct: Annotated[float | None, Number("reading_error_pct")] = Field(
        None, description="How far one reading may be off, either way, in points."
    )
    wet_hours: Annotated[float | None, Number("wet_hours")] = Field(
        None, description="Hours of drying air, after rain or dew, until the crop is dry on the outside."
    )
    loss_pct_per_day: Annotated[float | None, Number("loss_pct_per_day")] = Field(
        None, description="What the ripe crop loses a day, in percent of yield, if you know better than the table."
    )
    price_per_t: Annotated[float | None, Number("price_per_t")] = Field(
        None, description="Grain price. With it and a price of drying, waiting is weighed against drying."
    )
    price_per_bu: Annotated[float | None, Number("price_per_bu")] = Field(
        None, description="The same as `price_per_t`, per legal bushel."
    )
    currency: Annotated[str | None, Name(3, "^[A-Z]{3}$")] = Field(
        None, description="Currency of all prices, three letters of ISO 4217.", examples=["EUR"]
    )
    yield_t_ha: Annotated[float | None, Number("yield_t_ha")] = Field(
        None, description="Expected yield at delivery moisture."
    )
    yield_bu_ac: Annotated[float | None, Number("yield_bu_ac")] = Field(
        None, description="The same in bushels by the crop's legal bushel."
    )
    area_ha: Annotated[float | None, Number("area_ha")] = Field(None, description="Area still to be harvested.")
    area_ac: Annotated[float | None, Number("area_ac")] = Field(None, description="The same in acres.")
    fuel_price_per_l: Annotated[float | None, Number("fuel_price_per_l")] = Field(
        None, description="Price of liquefied gas for the dryer."
    )
    fuel_price_per_gal: Annotated[float | None, Number("fuel_price_per_gal")] = Field(
        None, description="The same per US gallon."
    )
    fuel_l_t_point: Annotated[float | None, Number("fuel_l_t_point")] = Field(
        None, description="Gas per tonne as harvested and point of moisture, if your dryer's is known."
    )
    fuel_gal_bu_point: Annotated[float | None, Number("fuel_gal_bu_point")] = Field(
        None, description="The same in US gallons per legal bushel."
    )
    drying_cost_per_t_point: Annotated[float | None, Number("drying_cost_per_t_point")] = Field(
        None, description="Charge per tonne as harvested and point of moisture, instead of a fuel price."
    )
    drying_cost_per_bu_point: Annotated[float | None, Number("drying_cost_per_bu_point")] = Field(
        None, description="The same per legal bushel."
    )
