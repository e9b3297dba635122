"""Question and answer of a loss-monitor calibration. All numbers metric; readings in the unit of the display."""

from dataclasses import dataclass
from typing import Literal

from service.domain.line_limits import Place
from service.domain.types import Interval, Message
from service.knowledge.schema import LocalText
from service.knowledge.schema_monitor import Sensor
from service.usecases.settings_types import Proof

ReadingUnit = Literal["index", "percent", "kg_ha", "lb_ac", "bu_ac"]
Role = Literal["used", "stray", "beyond", "full_scale"]
Direction = Literal["raise", "lower", "leave", "unknown"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PairGiven:
    """A reading and what was found for it: a loss, or the contents of pans that caught this stream alone.

    `error_pct` is the standard error of the loss. Speed and width, where left out, are those of the question.
    """

    reading: float
    measured_loss_kg_ha: float | None = None
    measured_loss_bu_ac: float | None = None
    kernels: tuple[int, ...] = ()
    masses_g: tuple[float, ...] = ()
    area_m2: float | None = None
    error_pct: float | None = None
    ground_speed_km_h: float | None = None
    cut_width_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MonitorQuestion:
    """What was read and what was found.

    `ground_speed_km_h` and `cut_width_m` are those the answer is for. `speed_corrected` says whether a
    display without unit already divides by speed and width; displays of loss per area or of percent do.
    """

    crop: str
    sensor: Sensor
    pairs: tuple[PairGiven, ...]
    cut_width_m: float
    ground_speed_km_h: float
    reading_unit: ReadingUnit = "index"
    speed_corrected: bool | None = None
    reading_full_scale: float | None = None
    reading_error: float | None = None
    no_loss_readings: tuple[float, ...] = ()
    discharge_width_m: float | None = None
    discharge_width_error_pct: float = 5.0
    thousand_kernel_mass_g: float | None = None
    thousand_kernel_mass_error_pct: float = 5.0
    yield_t_ha: float | None = None
    yield_bu_ac: float | None = None
    target_loss_kg_ha: float | None = None
    target_loss_pct: float | None = None
    revision: str | None = None


@dataclass(frozen=True, slots=True)
class PairSeen:
    """A pair as it was used: loss with its standard error, and what became of it."""

    index: int
    reading: float
    loss_kg_ha: float
    error_kg_ha: float
    loss_at_asked_kg_ha: float  # what as much grain a second is at the speed and width of the question
    speed_km_h: float
    role: Role
    why: Message | None


@dataclass(frozen=True, slots=True)
class LineSeen:
    """Loss on reading. `slope` is loss for each step of the display: `unit` g/s, kg/ha or, where the display
    has the unit of a loss, 1.

    `reading_without_loss` is where the line meets no loss; where that is below zero, `hidden_kg_ha` is the
    loss that a reading of zero leaves unseen. `scatter_ratio` is the scatter over the errors that were given.
    """

    method: Literal["loss_on_reading", "errors_in_both"]
    unit: str
    slope: Interval
    reading_without_loss: Place
    hidden_kg_ha: Interval | None
    residual_kg_ha: float
    scatter_ratio: float
    r_squared: float
    pairs: int
    shown: bool  # whether the slope differs from zero beyond chance
    note: Message


@dataclass(frozen=True, slots=True)
class Span:
    """Readings and losses between which the line was seen to hold, and whether the display stops above."""

    reading_low: float
    reading_high: float
    loss_low_kg_ha: float  # at the speed and width of the question
    loss_high_kg_ha: float
    saturated: Literal["yes", "no", "unknown"]
    note: Message


@dataclass(frozen=True, slots=True)
class Detection:
    """Least loss that stands out from readings without loss, at the speed and width of the question."""

    rate_g_s: Interval
    loss_kg_ha: Interval
    kernels_per_s: Interval
    origin: Literal["no_loss_readings", "reading_error"]
    proof: Proof


@dataclass(frozen=True, slots=True)
class Target:
    """The loss of this stream that shall not be passed."""

    loss_kg_ha: float
    share_pct: float
    origin: Literal["request", "crop"]
    proof: Proof | None


@dataclass(frozen=True, slots=True)
class Hold:
    """Reading that equals the target at a speed, and the loss there if the reading of the asked speed is kept.

    `shown` says that the display can show it: it follows that far, and its scale reaches that far.
    """

    speed_km_h: float
    reading: Place
    loss_at_same_reading_kg_ha: float
    extrapolated: bool
    shown: bool


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """Which way to move the sensitivity and by what share; no share where it cannot be told."""

    direction: Direction
    change: Place | None  # percent
    why: Message


@dataclass(frozen=True, slots=True)
class Noted:
    """A text with how it is known."""

    message: Message
    proof: Proof


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """The line and its limits at a reading, at the speed and width of the question."""

    reading: float
    loss_kg_ha: Interval


@dataclass(frozen=True, slots=True)
class MonitorCalibration:
    """The whole answer."""

    crop: str
    crop_names: LocalText
    sensor: Sensor
    summary: Message
    reading_unit: ReadingUnit
    follows: Literal["rate", "area", "share"]
    speed_km_h: float
    cut_width_m: float
    yield_t_ha: float
    bushel_lb: float | None
    thousand_kernel_mass_g: Interval
    kernel_mass_origin: Literal["request", "default", "rule"]
    pairs: tuple[PairSeen, ...]
    line: LineSeen
    span: Span
    detection: Detection | None
    target: Target
    hold: tuple[Hold, ...]
    sensitivity: Sensitivity
    more_pairs: int | None
    redo: tuple[Noted, ...]
    findings: tuple[Noted, ...]
    warnings: tuple[Message, ...]
    cautions: tuple[Message, ...]
    curve: tuple[CurvePoint, ...]
    revision: str
    digest: str
