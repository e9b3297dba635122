"""Question and answer of what to relearn or check. Hours are those of the machine, days those of the calendar."""

import datetime
from dataclasses import dataclass
from typing import Literal

from service.domain.types import Message
from service.knowledge.schema import LocalText
from service.knowledge.schema_relearn import MachineState, RelearnTask
from service.usecases.settings_types import Proof

# unknown: it cannot be told, for want of a last time or of whether the machine has the fitting
Due = Literal["due_now", "due_soon", "unknown", "not_due", "not_fitted"]


@dataclass(frozen=True, slots=True, kw_only=True)
class When:
    """When something was: hours ago, or the hour meter then; a day; any of them or none."""

    hours_ago: float | None = None
    at_hours: float | None = None
    date: datetime.date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class EventTold(When):
    """Something that happened; without a time it counts as since everything that was done."""

    event: str
    part: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DoneTold(When):
    """When a task was done last; `never` says that it was not, so far as is known."""

    task: str
    never: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class RelearnQuestion:
    """A machine, what happened to it, and what was done when.

    `events` is complete: what is not in it did not happen. `hours_now` is the hour meter, `today` the day
    that dates are counted back from.
    """

    machine_class: str | None = None
    fitted: tuple[str, ...] = ()
    not_fitted: tuple[str, ...] = ()
    events: tuple[EventTold, ...] = ()
    last_done: tuple[DoneTold, ...] = ()
    hours_now: float | None = None
    today: datetime.date | None = None
    revision: str | None = None


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a task stands where it does; `rule` and `because` are those of the table."""

    message: Message
    rule: str | None = None
    because: LocalText | None = None
    proof: Proof | None = None


@dataclass(frozen=True, slots=True)
class NextDue:
    """How long until a task is due if nothing happens; None where nothing counts hours or days."""

    hours: float | None
    days: float | None


@dataclass(frozen=True, slots=True)
class TaskSeen:
    """A task with its due state; `if_fitted` where the machine may have what it needs.

    `waits_for` are tasks of the same list that come first, `rests_on` those that ought to be in order and
    are not known to be.
    """

    task: RelearnTask
    due: Due
    if_fitted: Due | None
    reasons: tuple[Reason, ...]
    waits_for: tuple[str, ...]
    rests_on: tuple[str, ...]
    next_due: NextDue | None
    again_when: tuple[Message | LocalText, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Step:
    """A machine state and the tasks to do in it, in their order."""

    state: MachineState
    tasks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Relearn:
    """The whole answer; `now` and `soon` are in the order of the work."""

    say: Message
    now: tuple[TaskSeen, ...]
    soon: tuple[TaskSeen, ...]
    unknown: tuple[TaskSeen, ...]
    not_due: tuple[TaskSeen, ...]
    not_fitted: tuple[TaskSeen, ...]
    steps: tuple[Step, ...]
    warnings: tuple[Message, ...]
    cautions: tuple[Message, ...]
