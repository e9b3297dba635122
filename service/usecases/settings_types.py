"""Question and answer of starting settings. All numbers metric; the edge turns them into the reader's units."""

from dataclasses import dataclass
from typing import Literal

from service.domain.types import Message, Quantity
from service.knowledge.schema import Basis, Citation, Known, LocalText
from service.usecases.local_types import ContributorsBand, LocalTable

Bound = Literal["none", "low", "high"]
Origin = Literal["request", "default", "scaled"]  # scaled: the default, grown with the given channel width


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingsQuestion:
    """What a caller knows. Give `yield_t_ha` or `yield_bu_ac`, and at most one of the straw figures."""

    crop: str
    machine_class: str
    grain_moisture_pct: float
    yield_t_ha: float | None = None
    yield_bu_ac: float | None = None
    straw_condition: str = "normal"
    straw_yield_t_ha: float | None = None  # above-ground straw, stubble included, chaff not
    straw_to_grain: float | None = None
    stand: str = "upright"
    slope_along_deg: float = 0.0  # uphill positive
    slope_across_deg: float = 0.0
    use: str = "feed"
    priority: str = "balanced"
    thousand_kernel_mass_g: float | None = None
    bulk_density_kg_hl: float | None = None
    header: str | None = None
    size_band: str | None = None
    engine_power_kw: float | None = None
    machine_mass_t: float | None = None
    cut_width_m: float | None = None
    drum_diameter_mm: float | None = None  # threshing drum, or rotor
    separation_rotor_diameter_mm: float | None = None
    channel_width_mm: float | None = None
    separation_area_m2: float | None = None
    cleaning_area_m2: float | None = None
    tank_volume_l: float | None = None
    unloading_rate_l_s: float | None = None
    fan_speed_min_rpm: float | None = None
    fan_speed_max_rpm: float | None = None
    upper_sieve_design: str | None = None  # not declared: the standard lip sieve is assumed, with a warning
    lower_sieve_design: str | None = None
    sieve_rear_section: bool = True
    revision: str | None = None


@dataclass(frozen=True, slots=True)
class Proof:
    """How a number is known: basis, mark, and the places it stands."""

    basis: Basis
    known: Known
    sources: tuple[Citation, ...]


@dataclass(frozen=True, slots=True)
class Part:
    """One contribution to a start value, in the setting's unit; `origin` is the row or response id."""

    code: str
    value: float
    origin: str
    proof: Proof


@dataclass(frozen=True, slots=True)
class LocalMark:
    """What a local number rests on, in the setting's unit and for the standard sieve.

    `start` with its 80 % interval and `base_start` are as published; `stale` says that the base table has
    another start today.
    """

    origin: str  # organisation@number
    records: int
    contributors_band: ContributorsBand
    start: float
    low: float | None
    high: float | None
    base_start: float
    stale: bool


@dataclass(frozen=True, slots=True)
class Equivalent:
    """The same setting said in another way: rpm, fan level, reel tip speed, other sieve design."""

    code: str
    start: Quantity
    low: Quantity
    high: Quantity


@dataclass(frozen=True, slots=True)
class SettingAnswer:
    """One setting. `parts` add up exactly to `summed`; `start` is `summed` held inside low to high."""

    id: str
    unit: str
    start: float
    low: float
    high: float
    summed: float
    bound: Bound
    parts: tuple[Part, ...]
    row: str
    proof: Proof
    ends: Proof  # how low and high are known
    equivalents: tuple[Equivalent, ...]
    notes: tuple[Message, ...]
    row_note: str | None
    local: LocalMark | None = None  # None: a number of the base table


@dataclass(frozen=True, slots=True)
class Limit:
    """A ground speed limit in km/h with the range its capacity figures allow."""

    code: str  # separation, cleaning, power, header, unloading, ceiling
    speed_km_h: float
    low_km_h: float
    high_km_h: float
    proof: Proof


@dataclass(frozen=True, slots=True)
class GroundSpeed:
    """The limits, and which of them binds; the ground speed setting equals the smallest."""

    limits: tuple[Limit, ...]
    binding: str


@dataclass(frozen=True, slots=True)
class Output:
    """A figure of the work at the advised ground speed."""

    # grain_throughput, straw_throughput, channel_load, area_rate, engine_power, engine_power_share, tank_fill_time
    code: str
    value: Quantity
    low: float | None
    high: float | None
    proof: Proof  # of the figure that it hangs on most


@dataclass(frozen=True, slots=True)
class LossBand:
    """Machine loss to expect at the advised speed, percent of yield."""

    low_pct: float
    high_pct: float
    reference_pct: float
    feed_ratio: float
    proof: Proof


@dataclass(frozen=True, slots=True)
class AirWindow:
    """Terminal velocities at this moisture and kernel mass, and the machine's own ceiling."""

    chaff_m_s: float
    kernel_m_s: float
    machine_maximum_m_s: float
    method: str
    kernel_proof: Proof
    chaff_proof: Proof


@dataclass(frozen=True, slots=True)
class MachineItem:
    """A dimension that was used, and where it comes from."""

    code: str
    value: Quantity
    origin: Origin
    proof: Proof | None


@dataclass(frozen=True, slots=True)
class FirstStep:
    """Which setting to try first, which way, by how much, and why."""

    setting: str
    direction: Literal["up", "down"]
    step: Quantity
    also: tuple[tuple[str, Quantity], ...]  # the same step in rpm, by equivalent code
    why: Message
    proof: Proof


@dataclass(frozen=True, slots=True)
class StartingSettings:
    """The whole answer."""

    crop: str
    crop_names: LocalText
    machine_class: str
    machine_names: LocalText
    size_band: str
    moisture_band: str
    coverage: str
    yield_t_ha: float
    bushel_lb: float | None
    settings: tuple[SettingAnswer, ...]
    ground_speed: GroundSpeed
    first_step: FirstStep
    output: tuple[Output, ...]
    expected_loss: LossBand
    air: AirWindow
    upper_sieve_design: str
    lower_sieve_design: str
    machine: tuple[MachineItem, ...]
    checklist: tuple[Message, ...]
    cautions: tuple[Message, ...]
    warnings: tuple[Message, ...]
    notes: tuple[Message, ...]
    revision: str
    digest: str
    local: LocalTable | None = None
