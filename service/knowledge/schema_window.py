"""What harvest_window.toml may hold.

Inside: shape of the file. Outside: that its crops and grain classes exist (`window.py`).
"""

from typing import Annotated

from pydantic import Field

from service.knowledge.schema import Entry, Figure, LocalText, RowId, Slug


class CropGrains(Entry):
    """Grain classes of the coefficient table that belong to a crop; the first is taken by default."""

    crop: Slug
    grains: Annotated[list[Slug], Field(min_length=1)]


class CropWithout(Entry):
    """A crop for which nothing was found, and what was looked for."""

    crop: Slug
    why: LocalText


class Pace(Entry):
    """How fast a crop follows the air, where no second reading tells it."""

    id: RowId
    crop: Slug
    rate_per_day: Figure


class WindowFigures(Entry):
    """Figures that hold for every crop."""

    reading_error: Figure  # of one reading, either way
    equilibrium_error: Figure
    rewetting_factor: Figure  # pace of taking up water per pace of drying
    dew_humidity: Figure
    dew_gain: Figure
    rain_error: Figure  # of a forecast from the air alone, just after rain
    wet_hours: Figure  # of drying air, after rain or dew
    dry_off_humidity: Figure  # air damper than this does not count as drying
    reading_gap: Figure  # least time between two readings that tell a pace
    forecast_days: Figure
    model_error: Figure
    share_outside: Figure  # of the hours, outside the temperatures of a coefficient set
    wind_ratio: Figure
    fuel_maize: Figure  # per tonne and point
    drying_energy: Figure  # heat per water
    fuel_heat: Figure
    handling_loss: Figure


class HarvestWindowFile(Entry):
    """harvest_window.toml."""

    equilibrium: list[CropGrains]
    no_equilibrium: list[CropWithout]
    pace: list[Pace]
    figures: WindowFigures
