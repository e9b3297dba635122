"""Question and answer of unloading. All numbers metric."""

from dataclasses import dataclass
from typing import Literal

from service.domain.types import Interval, Message
from service.knowledge.schema import LocalText
from service.usecases.settings_types import Proof

WayCode = Literal["moving", "moving_reduced", "standing", "standing_reduced", "headland", "edge"]
Origin = Literal["request", "class", "table", "computed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class UnloadingQuestion:
    """What a caller knows. Tank and auger come from the request, or from the machine class."""

    crop: str
    cut_width_m: float
    ground_speed_km_h: float
    yield_t_ha: float | None = None
    yield_bu_ac: float | None = None
    grain_moisture_pct: float | None = None
    bulk_density_kg_hl: float | None = None
    machine_class: str | None = None
    size_band: str | None = None
    engine_power_kw: float | None = None
    tank_volume_l: float | None = None
    unloading_rate_l_s: float | None = None
    reduced_rate_pct: float | None = None
    docking_s: float | None = None
    tank_fill_pct: float | None = None
    # cart
    cart_arrival_min: float | None = None
    cart_distance_m: float | None = None
    cart_speed_km_h: float | None = None
    cart_capacity_t: float | None = None
    cart_capacity_bu: float | None = None
    # field
    run_length_m: float | None = None
    turn_time_s: float | None = None
    edge_distance_m: float | None = None
    edge_speed_km_h: float | None = None
    revision: str | None = None


@dataclass(frozen=True, slots=True)
class Used:
    """A figure that the answer was worked out with; `proof` is None for the caller's own."""

    code: str
    amount: Interval
    unit: str
    origin: Origin
    proof: Proof | None


@dataclass(frozen=True, slots=True)
class Filling:
    """How the tank fills."""

    tank_t: float
    grain_t_h: float
    time_min: float
    distance_m: float
    runs: float | None  # across the field, where their length is known


@dataclass(frozen=True, slots=True)
class CallCart:
    """When to call; the way of the cart is None where nothing tells it."""

    level_pct: float
    arrival_min: float | None
    before_full_min: float
    before_full_m: float
    wait_min: float  # that remains even if an empty tank calls
    cart_limits: bool  # whether the cart, not the tank, sets the level


@dataclass(frozen=True, slots=True)
class Now:
    """Where the tank stands."""

    level_pct: float
    to_full_min: float
    to_full_m: float
    to_call_min: float  # 0: call now


@dataclass(frozen=True, slots=True)
class CartLoad:
    """How many tanks a cart holds."""

    capacity_t: float
    tanks: float
    whole_tanks: int
    rest_pct: float  # of a tank, after the whole ones
    unloading_t: float  # that one unloading brings, with what is cut meanwhile
    unloadings: int  # after which it must leave
    # of one that drives off and is back; None where its way is not told
    away_min: float | None  # at the earliest
    wait_min: float | None  # of the machine, per load
    most_t_h: float | None  # that one such cart moves, with that wait


@dataclass(frozen=True, slots=True)
class Way:
    """One way of unloading; figures are None where it is not possible, `why` says why."""

    code: WayCode
    possible: bool
    why: Message | None
    rate_l_s: float | None = None
    unload_s: Interval | None = None
    distance_m: float | None = None  # that is cut meanwhile
    runs: float | None = None  # that this takes; at the headland those between two unloadings
    breaks: int | None = None  # at the ends of runs, each with the cart docked anew
    drive_s: float | None = None  # to the edge of the field and back
    load_pct: float | None = None  # of the tank, each time
    lost_min: float | None = None  # each time, not cutting
    cutting_share_pct: float | None = None  # turns left out
    area_rate_ha_h: float | None = None
    grain_t_h: float | None = None
    gain_pct: float | None = None  # of area rate, against standing at full rate
    proofs: tuple[Proof, ...] = ()


@dataclass(frozen=True, slots=True)
class Known:
    """Something measured or known beside the computed."""

    code: str
    proof: Proof


@dataclass(frozen=True, slots=True)
class Unloading:
    """The whole answer."""

    crop: str
    crop_names: LocalText
    yield_t_ha: float
    bushel_lb: float | None
    decision: Message
    filling: Filling
    call: CallCart
    now: Now | None
    cart: CartLoad | None
    ways: tuple[Way, ...]
    used: tuple[Used, ...]
    findings: tuple[Known, ...]
    warnings: tuple[Message, ...]
    cautions: tuple[Message, ...]

    def way(self, code: WayCode) -> Way:
        """Return one way."""
        return next(way for way in self.ways if way.code == code)
