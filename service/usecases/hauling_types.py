"""Question and answer of the hauling plan. All numbers metric; money in the caller's currency."""

from dataclasses import dataclass
from typing import Literal

from service.domain.hauling_work import LinkRates
from service.domain.types import Interval, Message
from service.knowledge.schema import LocalText
from service.usecases.hour_types import Hour, HourQuestion
from service.usecases.settings_types import Proof
from service.usecases.unloading_types import Known, Used

UnloadingMode = Literal["moving", "standing"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Haulers:
    """Carts or trucks of one kind; without a number there are as many as are wanted."""

    capacity_t: float | None = None
    capacity_bu: float | None = None
    hauler_count: int | None = None
    hauler_cost_per_h: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HaulingQuestion(HourQuestion):
    """What a caller knows. Haulers join in the order in which they are given."""

    crop: str
    cut_width_m: float
    ground_speed_km_h: float
    distance_km: float
    haul_speed_km_h: float
    haulers: tuple[Haulers, ...]
    combines: int = 1
    yield_t_ha: float | None = None
    yield_bu_ac: float | None = None
    grain_moisture_pct: float | None = None
    bulk_density_kg_hl: float | None = None
    machine_class: str | None = None
    size_band: str | None = None
    engine_power_kw: float | None = None
    tank_volume_l: float | None = None
    unloading_rate_l_s: float | None = None
    unloading: UnloadingMode = "moving"
    docking_s: float | None = None
    call_level_pct: float | None = None
    # field time
    field_efficiency_pct: float | None = None
    run_length_m: float | None = None
    turn_time_s: float | None = None
    # the way
    cart_distance_m: float | None = None
    cart_speed_km_h: float | None = None
    return_speed_km_h: float | None = None
    store_time_min: float | None = None
    store_rate_t_h: float | None = None
    store_rate_bu_h: float | None = None
    store_places: int | None = None
    time_variation_pct: float | None = None
    revision: str | None = None


@dataclass(frozen=True, slots=True)
class PlanCost:
    """Money per tonne by kind."""

    combines: float
    haulers: float
    delay: float
    total: float


@dataclass(frozen=True, slots=True)
class Exact:
    """What the formula says for exponential times and a call with the full tank."""

    grain_t_h: float
    cutting_share_pct: float
    wait_min: float


@dataclass(frozen=True, slots=True)
class Plan:
    """One number of haulers."""

    haulers: int
    capacity_t: float  # of all of them
    grain_t_h: Interval
    area_rate_ha_h: float
    cutting_share_pct: Interval  # of the time that is no turn and no corner
    field_efficiency_pct: float
    wait_min: float  # per unloading
    waiting_share_pct: float  # of the combines' time that is no turn
    hauler_use_pct: float
    store_use_pct: float | None  # None where nobody waits there
    store_wait_min: float | None  # per load
    links: LinkRates
    exact: Exact | None
    cost: PlanCost | None
    hours_on_area: float | None


@dataclass(frozen=True, slots=True)
class RoundTimes:
    """A round of the first hauler, nobody waiting."""

    payload_t: float
    unloadings: int
    at_combine_min: float
    way_min: float
    store_min: float
    total_min: float
    load_min: float  # time in which the combines fill it


@dataclass(frozen=True, slots=True)
class HaulingPlan:
    """The whole answer."""

    crop: str
    crop_names: LocalText
    yield_t_ha: float
    bushel_lb: float | None
    currency: str
    combines: int
    decision: Message
    bottleneck: Message
    best: Plan
    flat: tuple[int, int] | None  # fewest and most haulers that cost about the same
    needed: int | None  # if nothing varied; None where all that may be had are too few
    round: RoundTimes
    tank_t: float
    fill_min: float
    plans: tuple[Plan, ...]
    formula: Message
    formula_proof: Proof
    hour: Hour | None
    used: tuple[Used, ...]
    findings: tuple[Known, ...]
    warnings: tuple[Message, ...]
    cautions: tuple[Message, ...]
