"""What economics.toml may hold: figures of machine cost and of delay.

Inside: shape and rules that concern one entry alone. Outside: rules across files (`checks.py`).
"""

from typing import Annotated

from pydantic import Field, model_validator

from service.knowledge.schema import Entry, Figure, RowId, Slug


class MachineCost(Entry):
    """Figures from which the cost of an hour is worked out."""

    repair_rf1: Figure  # accumulated repair over list price after the first 1000 h
    repair_rf2: Figure  # exponent of the hours
    remaining_c1: Figure  # remaining value = (c1 - c2 sqrt(years) - c3 sqrt(hours a year))^2
    remaining_c2: Figure
    remaining_c3: Figure
    interest: Figure  # a year, on the value that is left
    taxes_insurance_housing: Figure  # a year, over list price
    fuel_per_rated_power: Figure  # mean over a season
    oil_over_fuel: Figure


class Speed(Entry):
    """Figures of the choice of a ground speed."""

    step_limit: Figure  # the most that tests may be extrapolated by, even where they lie further apart
    flat_cost: Figure  # cost above the least that still counts as the same
    forms_alike: Figure  # misfit of the second form over that of the first up to which they count as alike


class Timeliness(Entry):
    """Share of a crop's value that a day of delay costs."""

    id: RowId
    crop: Slug
    loss_per_day: Figure


class EconomicsFile(Entry):
    """economics.toml."""

    machine_cost: MachineCost
    speed: Speed
    timeliness: Annotated[list[Timeliness], Field(min_length=1)]

    @model_validator(mode="after")
    def _one_a_crop(self) -> "EconomicsFile":
        crops = [row.crop for row in self.timeliness]
        twice = sorted({crop for crop in crops if crops.count(crop) > 1})
        if twice:
            raise ValueError(f"two rows of timeliness for {', '.join(twice)}")
        return self
