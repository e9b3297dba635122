"""What relearn.toml may hold: fittings, events, machine states, tasks, and the rules that make a task due.

Inside: shape, and rules that concern one entry alone. Outside: rules across entries (`relearn_checks.py`),
what follows for a machine (`usecases/relearn.py`).

Rules name an event as `belt_replaced`, or one part of it as `belt_replaced.fan`.
"""

from typing import Annotated, Literal

from pydantic import Field, model_validator

from service.knowledge.influence_schema import ALL_CLASSES
from service.knowledge.schema import ClassId, Entry, Evidence, Figure, LocalText, Number, RowId, Slug

EventName = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*(\.[a-z][a-z0-9_]*)?$", max_length=80)]
# event: something happened. season: an event that begins one, or the last time lies too many days back.
# hours, days: so long after the last time. run_in: so many hours after an event.
Trigger = Literal["event", "season", "hours", "days", "run_in"]
_UNITS = {"hours": "h", "days": "d", "run_in": "h"}


class Fitting(Entry):
    """Something that a machine has or has not."""

    id: Slug
    names: LocalText
    classes: list[ClassId] = Field(default=[*ALL_CLASSES])  # that can have it


class EventPart(Entry):
    """What an event happened to; without it the event counts for every part."""

    id: Slug
    names: LocalText
    needs: list[Slug] = Field(default=[])
    classes: list[ClassId] = Field(default=[*ALL_CLASSES])  # that have the part


class RelearnEvent(Entry):
    """Something that happens to a machine and makes what it learned doubtful."""

    id: Slug
    names: LocalText
    meaning: LocalText
    needs: list[Slug] = Field(default=[])  # fittings without which it cannot happen
    parts: list[EventPart] = Field(default=[])


class MachineState(Entry):
    """What state the machine must be in; the order in the file is the order of the work."""

    id: Slug
    names: LocalText
    meaning: LocalText
    cautions: list[Slug] = Field(default=[])  # text is message code caution.<code>


class RelearnTask(Evidence):
    """Something to relearn or to check; the evidence is that of how and why."""

    id: Slug
    names: LocalText
    kind: Literal["relearn", "check"]
    state: Slug
    needs: list[Slug] = Field(default=[])  # fittings
    after: list[Slug] = Field(default=[])  # tasks that come first where both are due
    how: LocalText
    stale: LocalText  # what goes wrong where it is not done
    cautions: list[Slug] = Field(default=[])
    see: Annotated[str, Field(pattern=r"^/v1/[a-z-]+$")] | None = None  # address that helps with it


class RelearnRule(Evidence):
    """What makes a task due; the evidence is that of the rule and its interval."""

    id: RowId
    task: Slug
    on: Trigger
    events: list[EventName] = Field(default=[])
    interval: Number | None = None
    low: Number | None = None
    high: Number | None = None
    unit: Literal["h", "d"] | None = None
    why: LocalText

    @model_validator(mode="after")
    def _shape(self) -> "RelearnRule":
        if bool(self.events) != (self.on in ("event", "season", "run_in")):
            raise ValueError(f"on {self.on} {'has no' if self.events else 'needs'} events")
        if self.unit != _UNITS.get(self.on) or (self.interval is None) != (self.unit is None):
            raise ValueError(f"on {self.on} needs {_UNITS.get(self.on, 'no')} interval and unit")
        ends = [end for end in (self.low, self.interval, self.high) if end is not None]
        if ends != sorted(ends) or any(end <= 0 for end in ends) or (ends and self.interval is None):
            raise ValueError(f"0 < low {self.low} <= interval {self.interval} <= high {self.high} does not hold")
        return self


class RelearnFigures(Entry):
    """Figures that hold for every task, and those that belt slip is judged by."""

    soon_share: Figure  # of an interval
    season_gap: Figure  # no two days of one harvest lie so far apart
    slip_usual: Figure
    slip_fault: Figure
    slip_burning: Figure
    speed_reading_error: Figure  # standard error of a shaft speed
    diameter_error: Figure  # standard error of an effective diameter


class RelearnFile(Entry):
    """relearn.toml."""

    figures: RelearnFigures
    fitting: list[Fitting]
    event: list[RelearnEvent]
    state: list[MachineState]
    task: list[RelearnTask]
    rule: list[RelearnRule]
