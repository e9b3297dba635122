"""Question and answer of the next adjustment.

All numbers metric, but for the settings of a question, which say their unit: it depends on the setting.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from service.domain.advice_types import Verdict
from service.domain.types import Message, Quantity
from service.knowledge.schema import LocalText
from service.usecases.local_types import LocalTable
from service.usecases.settings_types import LocalMark, Proof, SettingsQuestion

Kind = Literal["check", "change", "leave"]
Reason = Literal["gain", "undo", "outside_envelope"]
Direction = Literal["up", "down"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Symptom:
    """Something a person sees: 0 looked for and absent, 1 acceptable, 5 unbearable; and a second sign."""

    symptom: str
    severity: int
    tell_tale: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingTold:
    """Where a setting stands; without a unit, in the metric one of the table."""

    setting: str
    value: float
    unit: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PastChange:
    """A change that was tried, oldest first. Say the effect, or give amounts or symptoms of both times."""

    setting: str
    from_value: float
    to_value: float
    unit: str | None = None  # None: the metric one of the table
    effect: Verdict | None = None
    measured_before: Mapping[str, float] = field(default_factory=dict)
    measured_after: Mapping[str, float] = field(default_factory=dict)
    symptoms_before: tuple[Symptom, ...] = ()
    symptoms_after: tuple[Symptom, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class AdjustmentQuestion:
    """What a caller knows: the field and machine as for starting settings, and what is wrong now.

    A setting that is not told is taken at the table's start. `measured` holds percentages:
    unthreshed_pct, separation_loss_pct, cleaning_loss_pct and header_loss_pct of the yield; broken_pct,
    chaff_pct, straw_pct, pods_pct, heads_pct, or foreign_matter_pct for all dirt at once, of the sample.
    """

    conditions: SettingsQuestion
    current_settings: tuple[SettingTold, ...] = ()
    symptoms: tuple[Symptom, ...] = ()
    measured: Mapping[str, float] = field(default_factory=dict)
    checks_done: tuple[str, ...] = ()
    history: tuple[PastChange, ...] = ()

    @property
    def standing(self) -> dict[str, float]:
        """Values of the settings told, by id."""
        return {told.setting: told.value for told in self.current_settings}


@dataclass(frozen=True, slots=True)
class OperatingCheck:
    """Something to rule out before any setting, and what points to it."""

    code: str
    what: Message
    pointing: tuple[Message, ...]
    proof: Proof


@dataclass(frozen=True, slots=True)
class ExpectedEffect:
    """What a change does to one outcome.

    `change_pct` is of its present amount, with its 80 % interval; `amount_now` is relative to what is
    tolerable; `cost_change_pct` is its share in the change of the weighted cost, negative is good.
    `row` is the influence row, None where the table says there is no effect; `overruled` says that the
    machine's own history turned its sign; `proof` says how the row is known, None for what arithmetic says.
    """

    outcome: str
    names: LocalText
    direction: Literal["falls", "unchanged", "rises"]
    change_pct: float
    low_pct: float
    high_pct: float
    amount_now: float
    cost_change_pct: float
    row: str | None
    overruled: bool
    proof: Proof | None


@dataclass(frozen=True, slots=True)
class LinkedChange:
    """A setting that keeps its ratio to the one that is changed."""

    setting: str
    unit: str
    from_value: float
    to_value: float


@dataclass(frozen=True, slots=True)
class SameChange:
    """The same change said in another way: rpm."""

    code: str
    from_value: Quantity
    to_value: Quantity


@dataclass(frozen=True, slots=True)
class LookAt:
    """What to look at after the change, and where."""

    outcome: str
    names: LocalText
    where: LocalText


@dataclass(frozen=True, slots=True)
class Change:
    """One change of one setting, what it is expected to do, and when to take it back.

    The gain is the expected fall of the weighted cost as percent of the cost now, with its 80 %
    interval; `doubt_pct` is what is taken off it for not knowing the effects exactly.
    """

    setting: str
    names: LocalText
    direction: Direction
    unit: str
    from_value: float
    to_value: float
    step: float
    steps: float
    reason: Reason
    gain_pct: float
    gain_low_pct: float
    gain_high_pct: float
    doubt_pct: float
    why: tuple[Message, ...]
    effects: tuple[ExpectedEffect, ...]
    same: tuple[SameChange, ...]
    linked: tuple[LinkedChange, ...]
    undo_when: tuple[Message, ...]
    look_at: tuple[LookAt, ...]
    lever: str
    proof: Proof
    local: LocalMark | None = None  # of the start that steps are counted from


@dataclass(frozen=True, slots=True)
class Alternative:
    """Another change, in order of merit; `worthwhile` if its gain reaches the least worth a change."""

    setting: str
    names: LocalText
    direction: Direction
    unit: str
    from_value: float
    to_value: float
    gain_pct: float
    gain_low_pct: float
    gain_high_pct: float
    worthwhile: bool
    lever: str
    proof: Proof
    local: LocalMark | None = None


@dataclass(frozen=True, slots=True)
class CheckDistance:
    """How far to drive at steady speed before looking."""

    value: Quantity
    low: float | None
    high: float | None
    proof: Proof


@dataclass(frozen=True, slots=True)
class NextAdjustment:
    """The whole answer.

    check: rule out `checks` first; `change` is what comes after if they find nothing. change: make
    it. leave: leave the settings alone and measure again.
    """

    kind: Kind
    say: Message
    checks: tuple[OperatingCheck, ...]
    change: Change | None
    alternatives: tuple[Alternative, ...]
    check_after: CheckDistance
    look_at: tuple[LookAt, ...]
    crop: str
    crop_names: LocalText
    machine_class: str
    machine_names: LocalText
    priority: str
    contradictions: tuple[Message, ...]
    warnings: tuple[Message, ...]
    cautions: tuple[Message, ...]
    notes: tuple[Message, ...]
    revision: str
    digest: str
    local: LocalTable | None = None
