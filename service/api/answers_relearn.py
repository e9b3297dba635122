"""The answers to what to relearn, to how much a belt slips, and the list of tasks an app builds its form from."""

from pydantic import Field

from service.api.answers import Amount, Answer, Estimate, Evidence, Named, Note, Part, Reference


class ReasonOut(Part):
    """Why a task stands where it does."""

    note: Note
    rule: str | None = Field(None, description="Rule of the table; left out where the request itself says it.")
    because: str | None = Field(None, description="What the rule rests on, in words.")
    evidence: Evidence | None = None


class NextDueOut(Part):
    """How long until the task is due if nothing happens before."""

    hours: Amount | None = Field(None, description="Machine hours.")
    days: Amount | None = None


class RelearnTaskOut(Evidence):
    """A task and how it stands; the evidence is that of how and why it is done."""

    id: str = Field(examples=["sieve_end_stops", "yield_weighed"])
    name: str
    kind: str = Field(examples=["relearn", "check"])
    due: str = Field(examples=["due_now", "due_soon", "unknown", "not_due", "not_fitted"])
    place: int | None = Field(None, description="Place in the order of the work, from 1; only for what is due now.")
    if_fitted: str | None = Field(None, description="How it stands if the machine has what it needs.")
    machine_state: Named
    how: str
    stale: str = Field(description="What goes wrong where it is not done.")
    reasons: list[ReasonOut]
    waits_for: list[str] = Field(description="Tasks of the same list that come first.")
    rests_on: list[str] = Field(description="Tasks that ought to be in order first and are not known to be.")
    next_due: NextDueOut | None = None
    again_when: list[str] = Field(description="What would make it due again, in words.")
    cautions: list[str] = Field(description="Codes of the cautions that belong to it.")
    see: str | None = Field(None, description="Address of this service that helps with it.")


class RelearnStepOut(Part):
    """A machine state, and what to do in it in this order."""

    machine_state: Named
    meaning: str
    tasks: list[str]


class RelearnAnswer(Answer):
    """What is due, in the order of the work, with the state the machine must be in."""

    say: Note
    steps: list[RelearnStepOut] = Field(description="What is due now by machine state, in the order of the work.")
    now: list[RelearnTaskOut]
    soon: list[RelearnTaskOut]
    unknown: list[RelearnTaskOut] = Field(description="Not told when it was done, or whether it is fitted.")
    not_due: list[RelearnTaskOut]
    not_fitted: list[RelearnTaskOut]
    warnings: list[Note]
    cautions: list[Note]
    sources: list[Reference] = Field(description="Every source that is cited above.")


class FittingOut(Part):
    """Something that a machine has or has not."""

    id: str
    name: str
    classes: list[str] = Field(description="Machine classes that can have it.")


class EventPartOut(Part):
    """What an event happened to."""

    id: str
    name: str
    needs: list[str] = Field(description="Fittings without which it cannot happen.")
    classes: list[str]


class EventOut(Part):
    """Something that happens to a machine."""

    id: str
    name: str
    meaning: str
    needs: list[str] = Field(description="Fittings without which it cannot happen.")
    parts: list[EventPartOut]


class MachineStateOut(Part):
    """What state the machine must be in."""

    id: str
    name: str
    meaning: str
    cautions: list[str]


class RelearnRuleOut(Evidence):
    """What makes a task due."""

    id: str
    on: str = Field(examples=["event", "season", "hours", "days", "run_in"])
    events: list[str] = Field(description="Ids, with a part as `belt_replaced.fan`.")
    interval: Estimate | None = Field(None, description="Since the last time; for `run_in` since the event.")
    because: str


class TaskEntryOut(Evidence):
    """A task as the table has it."""

    id: str
    name: str
    kind: str = Field(examples=["relearn", "check"])
    machine_state: str
    needs: list[str] = Field(description="Fittings.")
    after: list[str] = Field(description="Tasks that come first where both are due.")
    how: str
    stale: str
    cautions: list[str]
    see: str | None = None
    rules: list[RelearnRuleOut]


class RelearnTaskList(Answer):
    """Every task, event, fitting and machine state, in the order of the work."""

    tasks: list[TaskEntryOut]
    events: list[EventOut]
    fittings: list[FittingOut]
    machine_states: list[MachineStateOut]
    soon_share: Estimate = Field(description="Share of an interval that is left when a task is due soon.")
    cautions: list[Note] = Field(description="Every caution that a task names.")
    sources: list[Reference]


class SlipLevelOut(Evidence):
    """A level of slip."""

    level: str = Field(examples=["watch", "fault", "burning"])
    name: str
    above: Amount = Field(description="Slip above which it begins.")


class BeltSlipAnswer(Answer):
    """How much a belt slips, what that means, and what to do."""

    say: Note
    slip: Estimate = Field(description="Of the speed without slip, with its 95 % interval; below 0 is within error.")
    level: str = Field(examples=["usual", "watch", "fault", "burning", "standing"])
    sure: bool = Field(description="Whether both shafts were measured and the whole interval lies at this level.")
    expected_speed: Amount = Field(description="Of the driven shaft at the driving speed that was measured.")
    measured_speed: Amount
    speed_ratio: float | None = Field(None, description="Driven per driving revolution without slip, as taken.")
    error: Amount = Field(description="Standard error of measured over expected speed.")
    way: str = Field(examples=["speeds", "ratio", "pulleys"], description="How the expected speed was told.")
    heat: Amount | None = Field(None, description="Power that slip turns into heat.")
    to_do: list[Note] = Field(description="In this order.")
    levels: list[SlipLevelOut]
    assumed_errors: list[Evidence] = Field(description="How the errors are known that were taken from the table.")
    warnings: list[Note]
    cautions: list[Note]
    sources: list[Reference] = Field(description="Every source that is cited above.")
