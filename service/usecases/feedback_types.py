"""A feedback record on its way in and out. All numbers metric, but settings of a question, which say their unit."""

from collections.abc import Mapping
from dataclasses import dataclass
from dataclasses import field as filled
from datetime import datetime
from typing import Any, Literal
from uuid import UUID

from service.domain.types import Message
from service.knowledge.schema import LocalText
from service.usecases.adjustment_types import SettingTold
from service.usecases.loss_types import FrameSet
from service.usecases.settings_types import SettingsQuestion

Advice = Literal["starting_settings", "next_adjustment", "working_speed"]
TrialArm = Literal["base", "refined", "step_test"]
LossMethod = Literal["frames", "pans", "monitor", "estimate"]
ReturnsLevel = Literal["little", "normal", "much", "overloaded"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedbackQuestion:
    """What a contributor reports.

    `losses` holds what was told by value: machine_loss_kg_ha, machine_loss_bu_ac or machine_loss_pct, and
    the same of the header. Or `frames` say what was found on the ground.
    """

    conditions: SettingsQuestion
    observed_at: datetime
    machine: str
    field: str | None = None
    session_group: str | None = None
    contributor: str | None = None
    settings_used: tuple[SettingTold, ...] = ()
    suggested_settings: tuple[SettingTold, ...] = ()
    advice: Advice | None = None
    advice_revision: str | None = None
    trial_arm: TrialArm | None = None
    trial_randomised: bool = False
    losses: Mapping[str, float] = filled(default_factory=dict)
    loss_method: LossMethod | None = None
    frames: tuple[FrameSet, ...] = ()
    discharge_width_m: float | None = None
    discharge_width_error_pct: float | None = None
    spreading: Literal["swath", "spread"] | None = None
    broken_pct: float | None = None
    foreign_matter_pct: float | None = None
    returns_level: ReturnsLevel | None = None
    grain_throughput_t_h: float | None = None
    grain_throughput_bu_h: float | None = None
    rating: int | None = None
    note: str | None = None
    latitude_deg: float | None = None
    longitude_deg: float | None = None


@dataclass(frozen=True, slots=True)
class LossFound:
    """A loss; its limits where frames gave some."""

    kg_ha: float
    share_pct: float
    low_pct: float | None = None
    high_pct: float | None = None


@dataclass(frozen=True, slots=True)
class Losses:
    """Losses of a record, how they were found, and what to say of them."""

    machine: LossFound | None = None
    header: LossFound | None = None
    method: LossMethod | None = None
    warnings: tuple[Message, ...] = ()


@dataclass(frozen=True, slots=True)
class Entry:
    """A report that was checked: names found, settings metric, losses worked out."""

    question: FeedbackQuestion
    crop: str
    crop_names: LocalText
    machine_class: str
    moisture_band: str
    yield_t_ha: float
    straw_to_grain: float
    settings: Mapping[str, float]
    suggested: Mapping[str, float] | None
    suggested_from: Literal["told", "computed"] | None
    losses: Losses
    grain_throughput_t_h: float | None
    place: tuple[float, float] | None  # latitude and longitude as they are kept
    revision: str
    digest: str
    base: Mapping[str, Any] | None = None  # what the settings are coded by when the record is learnt from


@dataclass(frozen=True, slots=True)
class Submission:
    """A report with the key under which it is done once, and the digest of the request."""

    key: UUID
    fingerprint: bytes


@dataclass(frozen=True, slots=True)
class Receipt:
    """What was recorded."""

    id: UUID
    contributor: str
    received_at: datetime
    season: int
    session: str
    neighbours: int  # records of the same machine, field and day that were there before
    entry: Entry
    say: Message
    notes: tuple[Message, ...]
