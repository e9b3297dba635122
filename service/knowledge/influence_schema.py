"""What influence.toml may hold: one frozen model per kind of entry.

Inside: shape, and rules that concern one entry alone. Outside: rules across entries
(`influence_checks.py`), reading and look-ups (`influence.py`), the arithmetic of advice (`domain`).

An effect is a change of the natural logarithm of an amount for one step up of the setting, at the
table's start: 0.10 is 10.5 % more. Curvature bends it: the effect of a step grows by this much for
every step further up. A slope that would turn within a few steps is a valley; any other has a sign
that is known, and advice keeps it until a machine's own history outweighs it.
"""

from typing import Annotated, Literal

from pydantic import AfterValidator, Field, model_validator

from service.knowledge.schema import (
    ClassId,
    Entry,
    Evidence,
    Figure,
    Group,
    LocalText,
    Number,
    Priority,
    RowId,
    Slug,
    Unit,
    Use,
)

ALL_CLASSES: tuple[ClassId, ...] = ("walker", "hybrid", "axial", "twin_axial")

Measure = Literal[
    "unthreshed_pct",
    "separation_loss_pct",
    "cleaning_loss_pct",
    "header_loss_pct",
    "broken_pct",
    "chaff_pct",
    "straw_pct",
    "pods_pct",
    "heads_pct",
]
Condition = Literal[
    "sieve_not_declared",  # the request names no sieve design
    "ground_speed_outside",  # faster than the highest, or slower than the lowest, that the table supports
    "thin_crop",  # much less yield than the crop's reference
    "settings_without_effect",  # two changes tried, none noticed
]


VALLEY_STEPS = 4  # a slope that turns nearer to the table's start than this has no sign of its own


def _not_negative(value: float) -> float:
    if value < 0:
        raise ValueError("must not be negative")
    return value


Spread = Annotated[Number, AfterValidator(_not_negative)]


def scopes(groups: list[Group]) -> list[str]:
    """Return the crop groups an entry speaks for; "" stands for every group without one of its own."""
    return [*groups] or [""]


class Lever(Evidence):
    """A setting that advice may move: the step, the most steps in one change, what moves along."""

    id: RowId
    setting: Slug
    step: Annotated[Number, Field(gt=0)]
    unit: Unit  # % means percent of the table's start
    max_steps: Annotated[int, Field(ge=1, le=4, strict=True)]
    groups: list[Group] = Field(default=[])
    moves_with: Slug | None = None  # a setting that keeps its ratio to this one
    no_effect: list[Slug] = Field(default=[])  # outcomes that this setting leaves alone


class Outcome(Evidence):
    """Something that can be wrong. Amounts are relative to what is tolerable, so 1 is the limit."""

    id: Slug
    names: LocalText
    look: LocalText | None = None  # where a person looks first
    kind: Literal["loss", "damage", "dirt", "returns", "straw", "feeding", "cost"]
    usual: Annotated[Number, Field(gt=0)]  # amount to expect at the table's start, before anything is seen
    usual_log_sd: Annotated[Number, Field(gt=0)]
    groups: list[Group] = Field(default=[])  # crop groups that can have it; empty means every one
    measured_as: Measure | None = None
    symptom: bool = True  # whether a person can report it
    tolerable_share: Number | None = None  # of the crop's target named next
    tolerable_of: Literal["machine_loss", "header_loss"] | None = None
    tolerable_pct: dict[Use, Number] = Field(default={})  # by use of the grain

    @model_validator(mode="after")
    def _tolerable(self) -> "Outcome":
        if self.symptom and (self.look is None or self.look.de is None):
            raise ValueError("a symptom needs where to look first, in both languages")
        shared = self.tolerable_share is not None and self.tolerable_of is not None
        if self.measured_as is not None and shared == bool(self.tolerable_pct):
            raise ValueError("a measured outcome needs a share of a target or percentages by use, not both")
        if self.tolerable_pct and set(self.tolerable_pct) != {"feed", "milling", "malting", "seed"}:
            raise ValueError("tolerable_pct needs feed, milling, malting and seed")
        return self


class Effect(Evidence):
    """What one step up does to the logarithm of an outcome's amount, for some classes and groups."""

    id: RowId
    setting: Slug
    outcome: Slug
    classes: list[ClassId] = Field(default=[*ALL_CLASSES])
    groups: list[Group] = Field(default=[])  # empty: every group without an effect of its own
    slope: Number
    slope_sd: Spread
    curvature: Number = 0.0
    curvature_sd: Spread = 0.02

    @property
    def sign(self) -> Literal[-1, 0, 1]:
        """1 if more of the setting is more of the outcome, -1 if it is less, 0 for a valley."""
        if self.slope == 0 or abs(self.slope) < VALLEY_STEPS * abs(self.curvature):
            return 0
        return 1 if self.slope > 0 else -1


class Unrelated(Evidence):
    """How sure it is that a setting leaves an outcome alone."""

    slope_sd: Spread
    curvature: Number
    curvature_sd: Spread


class Pull(Entry):
    """A setting that a cause asks to move; `spare` says that the cause is not there."""

    setting: Slug
    direction: Literal["up", "down", "spare"]
    share: Annotated[Number, Field(ge=0, le=1)] = 1.0  # of a first move's strength


class TellTale(Evidence):
    """A second sign that says which cause is behind a symptom, and what to move first."""

    id: Slug
    symptom: Slug
    pulls: list[Pull] = Field(default=[])
    excludes: list[Slug] = Field(default=[])  # outcomes of which the sign says that they are not wrong
    check: Slug | None = None  # a mistake to rule out before any setting
    stop_when: Slug | None = None  # the outcome that says stop


class Mistake(Evidence):
    """Something wrong that no setting mends; it is ruled out first."""

    id: Slug
    symptoms: list[Slug] = Field(default=[])  # outcomes that point to it
    needs: Annotated[int, Field(ge=1, le=6, strict=True)] = 1  # how many of them must be there
    least_severity: Annotated[int, Field(ge=1, le=5, strict=True)] = 2
    condition: Condition | None = None
    classes: list[ClassId] = Field(default=[*ALL_CLASSES])

    @model_validator(mode="after")
    def _reachable(self) -> "Mistake":
        if self.symptoms and self.needs > len(self.symptoms):
            raise ValueError(f"needs {self.needs} of {len(self.symptoms)} symptoms")
        return self


class Weighting(Evidence):
    """How much a unit of each outcome counts under a wish."""

    priority: Priority
    weights: dict[Slug, Spread]


class AdviceFigures(Entry):
    """Figures of the method itself."""

    check_distance: Figure  # driven at steady speed before looking
    start_sd: Figure  # how far the best setting usually lies from the table's start, steps
    measured_log_sd: Figure  # of one drop test or sample analysis
    severity_log_sd: Figure  # of a severity told by a person
    tell_tale_slope: Figure  # a tell-tale's first move changes the log amount so much per step
    tell_tale_slope_sd: Figure
    kept_share: Figure  # of its slope that a known sign keeps where the machine's history does not outweigh it
    least_saving: Figure  # of a change while nothing is above its limit, in limits of a loss
    least_first_saving: Figure  # the same where nothing was tried yet


class InfluenceFile(Entry):
    """influence.toml."""

    method: AdviceFigures
    unrelated: Unrelated
    lever: list[Lever]
    outcome: list[Outcome]
    effect: list[Effect]
    tell_tale: list[TellTale]
    mistake: list[Mistake]
    weighting: list[Weighting]
