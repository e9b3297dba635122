"""Question and answer of the working speed. All numbers metric; money in the caller's currency."""

from dataclasses import dataclass
from typing import Literal

from service.domain.types import Interval, Message
from service.knowledge.schema import LocalText
from service.usecases.hour_types import Hour, HourQuestion
from service.usecases.settings_types import MachineItem, Proof

StepCode = Literal["slower", "faster", "between_tests"]
Reached = Literal["inside", "above_range", "below_range", "not_rising"]
FormName = Literal["exponential", "power", "quadratic"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DropTest:
    """Loss that was measured at one ground speed; each loss in one of its units.

    `machine_loss` left the rear, `header_loss` fell at the header. Percent is of all that grew. The
    error is the standard error of the machine loss.
    """

    ground_speed_km_h: float
    machine_loss_kg_ha: float | None = None
    machine_loss_bu_ac: float | None = None
    machine_loss_pct: float | None = None
    machine_loss_error_kg_ha: float | None = None
    machine_loss_error_pct: float | None = None
    header_loss_kg_ha: float | None = None
    header_loss_bu_ac: float | None = None
    header_loss_pct: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeedQuestion(HourQuestion):
    """What a caller knows.

    Give one yield, one price, and the cost of an hour either whole or by list price, age and hours.
    Field time comes from `field_efficiency_pct`, or from runs, turns and stops.
    """

    crop: str
    drop_tests: tuple[DropTest, ...]
    cut_width_m: float
    yield_t_ha: float | None = None
    yield_bu_ac: float | None = None
    form: FormName | None = None
    speed_step_km_h: float | None = None
    loss_level_pct: float | None = None
    # field time
    field_efficiency_pct: float | None = None
    run_length_m: float | None = None
    turn_time_s: float | None = None
    unloading_stop_min: float | None = None
    tank_volume_l: float | None = None
    bulk_density_kg_hl: float | None = None
    # machine
    machine_class: str | None = None
    size_band: str | None = None
    engine_power_kw: float | None = None
    machine_mass_t: float | None = None
    slope_along_deg: float = 0.0
    straw_to_grain: float | None = None
    revision: str | None = None


@dataclass(frozen=True, slots=True)
class Split:
    """Cost of a hectare at one speed by kind; `delay` is part of what the time costs beside the machine."""

    machine: float
    delay: float
    loss: float
    total: float


@dataclass(frozen=True, slots=True)
class At:
    """Everything at one ground speed. `fitted_*` come from the curve; limits are None where nothing tells."""

    ground_speed_km_h: float
    loss_kg_ha: float
    loss_pct: float
    loss_low_pct: float | None
    loss_high_pct: float | None
    area_rate_ha_h: float
    cost: Split
    extrapolated: bool


@dataclass(frozen=True, slots=True)
class TestResult:
    """A drop test beside the curve."""

    ground_speed_km_h: float
    machine_loss_kg_ha: float
    header_loss_kg_ha: float | None
    loss_kg_ha: float  # machine and header
    loss_pct: float
    below: bool  # nothing was found
    at: At


@dataclass(frozen=True, slots=True)
class FormResult:
    """A form that was fitted, with its own best speed. Coefficients are for km/h and kg/ha."""

    form: str
    chosen: bool
    coefficients: tuple[float, ...]
    score: float | None  # mean misfit at tests left out, over that of the best form
    best_speed_km_h: float
    cost_per_ha: float


@dataclass(frozen=True, slots=True)
class Best:
    """The speed of least cost."""

    at: At
    edge: Literal["none", "low", "high"]
    flat_low_km_h: float
    flat_high_km_h: float
    flat_pct: float
    left_out_low_km_h: float | None  # range of the best speed with each test left out in turn
    left_out_high_km_h: float | None
    grain_t_h: float
    straw_and_chaff_t_h: float
    field_efficiency_pct: float


@dataclass(frozen=True, slots=True)
class Step:
    """What one step from the best speed, or from one test to the next, changes."""

    code: StepCode
    from_km_h: float
    to_km_h: float
    time_per_ha: float  # money, below zero is saved
    loss_per_ha: float
    total_per_ha: float
    hours_on_area: float | None  # on the area left
    total_on_area: float | None


@dataclass(frozen=True, slots=True)
class Capacity:
    """Capacity at a stated machine loss."""

    level_pct: float
    level_proof: Proof | None  # None: the caller's own
    reached: Reached
    ground_speed_km_h: float | None
    grain_t_h: float | None
    straw_and_chaff_t_h: float | None
    area_rate_ha_h: float | None
    extrapolated: bool


@dataclass(frozen=True, slots=True)
class Engine:
    """Engine power and fuel at the best speed."""

    power_kw: Interval
    share_pct: Interval
    limit_km_h: float
    limit_counts: bool  # whether it limits the search; tests that were faster overrule it
    fuel_l_h: float
    fuel_l_ha: float
    power_proof: Proof
    fuel_proof: Proof
    items: tuple[MachineItem, ...]


@dataclass(frozen=True, slots=True)
class WorkingSpeed:
    """The whole answer."""

    crop: str
    crop_names: LocalText
    yield_t_ha: float
    bushel_lb: float | None
    cut_width_m: float
    price_per_t: float
    currency: str
    scope: Literal["machine", "machine_and_header"]
    stated_errors: bool
    tested_low_km_h: float
    tested_high_km_h: float
    step_km_h: float
    range_low_km_h: float
    range_high_km_h: float
    tests: tuple[TestResult, ...]
    forms: tuple[FormResult, ...]
    why_form: Message
    best: Best
    steps: tuple[Step, ...]
    hour: Hour
    capacity: Capacity
    engine: Engine | None
    line: tuple[At, ...]
    warnings: tuple[Message, ...]
    cautions: tuple[Message, ...]
    revision: str
    digest: str
