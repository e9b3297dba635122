"""Fields on the cost of an hour and of delay, which several requests ask for alike.

Inside: kind, bounds and description of each. Outside: the requests themselves (`requests_speed`,
`requests_hauling`), which give each its place and default.
"""

from typing import Annotated, Literal

from pydantic import Field

from service.api.fields import Name, Number

PricePerBu = Annotated[float | None, Number("price_per_bu"), Field(description="Price of a legal bushel.")]
Currency = Annotated[
    str | None,
    Name(3, "^[A-Z]{3}$"),
    Field(description="Currency of every price, three letters of ISO 4217.", examples=["EUR"]),
]
ListPrice = Annotated[float | None, Number("list_price"), Field(description="Price of such a machine new today.")]
MachineAgeYears = Annotated[float | None, Number("machine_age_years"), Field(description="Age.")]
HoursPerYear = Annotated[
    float | None, Number("hours_per_year"), Field(description="Hours of use a year, of the threshing works.")
]
HoursCounted = Annotated[
    Literal["all", "running"],
    Field(
        description=(
            "`all`: an hour costs its share of depreciation, interest, taxes, insurance and housing too, as for hire "
            "or where the hours saved are used elsewhere. `running`: only what stops when the machine stops."
        )
    ),
]
InterestPct = Annotated[
    float | None,
    Number("interest_pct"),
    Field(description="Interest a year on the value that is left, if not the usual one."),
]
WagePerH = Annotated[float | None, Number("wage_per_h"), Field(description="Driver, with what comes on top.")]
FuelPricePerL = Annotated[float | None, Number("fuel_price_per_l"), Field(description="Price of a litre of fuel.")]
FuelPricePerGal = Annotated[
    float | None, Number("fuel_price_per_gal"), Field(description="The same as `fuel_price_per_l` for a US gallon.")
]
AreaLeftAc = Annotated[float | None, Number("area_left_ac"), Field(description="The same as `area_left_ha` in acres.")]
HoursPerDay = Annotated[
    float | None, Number("hours_per_day"), Field(description="Hours of harvest on a day that allows it.")
]
WorkdaySharePct = Annotated[
    float, Number("workday_share_pct"), Field(description="Share of the days that allow harvest.")
]
DelayLossPctPerDay = Annotated[
    float | None,
    Number("delay_loss_pct_per_day"),
    Field(description="Share of the crop's value that a day of delay costs, if not the table's."),
]
DelayTiming = Annotated[
    Literal["all_late", "about_best_day"],
    Field(description="`all_late`: ripe, and only getting worse. `about_best_day`: half is cut before its best day."),
]
