"""The answer to what to change next."""

from pydantic import Field

from service.api.answers import Amount, Answer, Estimate, Evidence, LocalTableOut, Named, Note, Part, Reference
from service.api.answers_settings import LocalNumberOut


class OperatingCheckOut(Evidence):
    """A mistake to rule out before any setting, and what points to it."""

    code: str = Field(
        description="Send it in `checks_done` once it is ruled out.",
        examples=["wrong_sieve_declared", "wrong_concave", "low_engine_speed"],
    )
    note: Note
    pointing: list[Note]


class ExpectedEffectOut(Part):
    """What a change is expected to do to one outcome."""

    outcome: str = Field(examples=["cracked", "separation_loss", "time_per_area"])
    name: str
    direction: str = Field(examples=["falls", "unchanged", "rises"])
    change: Estimate = Field(description="Of its present amount; below zero is less. The range is an 80 % interval.")
    amount_now: Amount = Field(description="What is believed of it now; 1 is the limit of what is tolerable.")
    cost_change: Amount = Field(description="Its part in the change of the weighted cost; below zero is a gain.")
    row: str | None = Field(
        None, description="Row of the influence table; left out where it says that there is no effect."
    )
    overruled: bool = Field(description="Whether this machine's own history has turned the sign of that row.")
    evidence: Evidence | None = Field(None, description="Left out where arithmetic says it.")


class SameChangeOut(Part):
    """The same change said in another way."""

    code: str = Field(examples=["rotational_speed", "fan_speed"])
    name: str
    from_value: Amount
    to_value: Amount


class LinkedSettingOut(Part):
    """A setting that moves along, so that its ratio to the one that is changed stays."""

    setting: str
    name: str
    from_value: Amount
    to_value: Amount


class MoveOut(Evidence):
    """A change of one setting; the evidence is that of its step."""

    setting: str = Field(examples=["threshing_speed", "lower_sieve_opening"])
    name: str
    direction: str = Field(examples=["up", "down"])
    from_value: Amount
    to_value: Amount
    gain: Estimate = Field(
        description="Expected fall of the weighted cost, of the cost now. The range is an 80 % interval."
    )
    lever: str = Field(description="Row of the influence table that says the step.")
    table: str = Field(description="Whose number the start is that steps are counted from.", examples=["base", "local"])
    local: LocalNumberOut | None = Field(None, description="Left out for a start of the base table.")


class ChangeOut(MoveOut):
    """The one change to make, why, what it does elsewhere, and when to take it back."""

    reason: str = Field(examples=["gain", "undo", "outside_envelope"])
    step: Amount = Field(description="One step of this setting.")
    steps: float = Field(description="Steps that the change makes; below zero is down.")
    doubt: Amount = Field(
        description="Taken off the gain because the effects are not known exactly. With the `cost_change` of all "
        "effects it adds up to minus the gain."
    )
    why: list[Note]
    effects: list[ExpectedEffectOut]
    equivalents: list[SameChangeOut]
    linked: list[LinkedSettingOut]
    undo_when: list[Note]


class AlternativeOut(MoveOut):
    """The best change of another setting."""

    rank: int = Field(description="From 2; the change itself is 1.")
    worthwhile: bool = Field(description="Whether it is expected to gain enough for a change.")


class LookAtOut(Part):
    """What to look at, and where."""

    outcome: str
    name: str
    where: str


class CheckDistanceOut(Evidence):
    """How far to drive at steady speed before looking, and where to look then."""

    distance: Estimate
    look_at: list[LookAtOut] = Field(description="What should become less first, then what may become more.")


class NextAdjustmentAnswer(Answer):
    """One change, or something to rule out first, or the advice to leave the settings alone."""

    kind: str = Field(
        description=(
            "`check`: rule out `checks` first, `change` is for when they find nothing. `change`: make it. `leave`: "
            "leave the settings alone."
        ),
        examples=["check", "change", "leave"],
    )
    say: Note
    checks: list[OperatingCheckOut]
    change: ChangeOut | None = Field(None, description="Left out where nothing is worth a change.")
    alternatives: list[AlternativeOut] = Field(description="Other settings, the best first.")
    check_after: CheckDistanceOut
    crop: Named
    machine_class: Named
    priority: str = Field(description="What was weighed by.", examples=["balanced", "loss", "sample"])
    contradictions: list[Note] = Field(description="What in the question does not go together, and which was taken.")
    warnings: list[Note]
    cautions: list[Note]
    sources: list[Reference] = Field(description="Every source that is cited above.")
    local: LocalTableOut | None = Field(None, description="Left out where `table` was not asked for.")
    notes: list[Note] = Field(description="What makes the table better.")
