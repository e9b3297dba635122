"""What machines.toml may hold: size bands, machine classes, their usual dimensions and capacities.

Inside: shape of the entries, as in `schema.py` for crops. Outside: rules across entries (`checks.py`).
"""

from typing import Annotated, Literal

from pydantic import Field

from service.knowledge.schema import ClassId, Entry, Evidence, Figure, LocalText, Number, SieveDesign, Slug


class SizeBand(Entry):
    """A band of engine power, lower end included, upper end not."""

    id: Slug
    names: LocalText
    power_from_kw: Number
    power_to_kw: Number


class MachineClassEntry(Entry):
    """A threshing and separating principle."""

    id: ClassId
    names: LocalText
    principle: LocalText
    thresher: Literal["drum", "rotor"]
    settings: list[Slug]


class MachineDefaults(Entry):
    """Usual dimensions and capacities of some classes in one size band."""

    classes: Annotated[list[ClassId], Field(min_length=1)]
    band: Slug
    engine_power: Figure
    machine_mass: Figure
    drum_diameter: Figure  # threshing drum, or rotor
    separation_rotor_diameter: Figure | None = None
    channel_width: Figure
    separation_area: Figure
    cleaning_area: Figure
    tank_volume: Figure
    unloading_rate: Figure
    cut_width: Figure
    cut_width_row_crop: Figure


class Specific(Entry):
    """Figures of a class that do not depend on size."""

    classes: Annotated[list[ClassId], Field(min_length=1)]
    separation_capacity_per_area: Figure  # straw and chaff per separating area at the reference loss
    cleaning_capacity_per_area: Figure  # grain and chaff per cleaning area at the reference loss
    fan_air_speed_max: Figure  # air speed at the sieve with the fan at its highest speed
    fan_speed_ratio_min: Figure  # lowest fan speed as share of the highest


class SieveConversion(Evidence):
    """Opening of `design` for the same passage = opening of the standard lip sieve x factor."""

    design: SieveDesign
    sieve: Literal["upper", "lower"]
    factor: Number
    factor_low: Number
    factor_high: Number


class PowerModel(Evidence):
    """Rotary power = a + c x feed; feed is grain or straw and chaff."""

    id: Literal["small_grain", "maize"]
    a_kw: Number
    c_kwh_t: Number
    range_pct: Number
    feed: Literal["grain", "mog"]


class Driving(Entry):
    """Figures for travel, limits and the expected loss band."""

    rolling_resistance: Figure  # share of weight
    drive_efficiency: Figure
    engine_reserve: Figure  # share of rated power kept free
    speed_ceiling: Figure
    field_efficiency: Figure
    unloading_margin: Figure  # unloading rate / grain flow that is needed at the least
    feed_exponent_low: Figure  # loss rises with feed to this power at the least
    feed_exponent_high: Figure


class MachinesFile(Entry):
    """machines.toml."""

    band: list[SizeBand]
    machine_class: list[MachineClassEntry]
    defaults: list[MachineDefaults]
    specific: list[Specific]
    sieve: list[SieveConversion]
    power: list[PowerModel]
    driving: Driving
