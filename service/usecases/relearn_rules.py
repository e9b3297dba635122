"""What the rules of one task say: each trigger against what happened and when the task was done.

Inside: a finding for every rule, and the due state that they add up to. Outside: whether the machine has what
the task needs, the order of the work (`relearn`), the history (`relearn_history`).

A finding never weakens another: the state of a task is the strongest of its findings, so that an event more
or an hour more can only make it more due.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

from service.domain.types import Message, Quantity
from service.knowledge.schema import LocalText
from service.knowledge.schema_relearn import RelearnFile, RelearnRule, RelearnTask, Trigger
from service.usecases.provenance import proof
from service.usecases.relearn_history import Done, Happened, History, relation
from service.usecases.relearn_types import Due, NextDue, Reason

STRENGTH: Final[dict[Due, int]] = {"not_fitted": 0, "not_due": 1, "unknown": 2, "due_soon": 3, "due_now": 4}


@dataclass(frozen=True, slots=True)
class Finding:
    """What one rule says; hours or days that are left where it counts them."""

    due: Due
    reason: Reason
    left_hours: float | None = None
    left_days: float | None = None


@dataclass(frozen=True, slots=True)
class Case:
    """A task with what is known of it."""

    task: RelearnTask
    done: Done | None  # None: it was not said
    history: History
    soon: float  # share of an interval
    season_gap_days: float

    @property
    def never(self) -> bool:
        """Whether it was said that the task was never done."""
        return self.done is not None and self.done.moment is None


def findings_of(file: RelearnFile, task: RelearnTask, history: History) -> list[Finding]:
    """Return what every rule of a task says, and that it was never done where that was said."""
    figures = file.figures
    case = Case(task, history.done.get(task.id), history, figures.soon_share.value / 100, figures.season_gap.value)
    found = []
    if case.never:
        found.append(Finding("due_now", Reason(Message("relearning.reason.never"), None, task.stale, proof(task))))
    for rule in rules_of(file, task):
        found += _TRIGGERS[rule.on](rule, case)
    return found


def rules_of(file: RelearnFile, task: RelearnTask) -> list[RelearnRule]:
    """Return the rules of a task in the order of the file."""
    return [rule for rule in file.rule if rule.task == task.id]


def due_of(findings: list[Finding]) -> Due:
    """Return the strongest state of the findings; a task that no rule speaks of is not due."""
    return max((one.due for one in findings), key=STRENGTH.__getitem__, default="not_due")


def next_due_of(findings: list[Finding]) -> NextDue | None:
    """Return the shortest time that is left, None where no rule counts any."""
    hours = min((one.left_hours for one in findings if one.left_hours is not None), default=None)
    days = min((one.left_days for one in findings if one.left_days is not None), default=None)
    return None if hours is None and days is None else NextDue(hours, days)


def again_when(file: RelearnFile, task: RelearnTask) -> Iterator[Message | LocalText]:
    """Yield the events that would make a task due again, in the order of the file."""
    named = {name for rule in rules_of(file, task) for name in rule.events}
    for event in file.event:
        if event.id in named:
            yield event.names
        for part in event.parts:
            if f"{event.id}.{part.id}" in named:
                yield Message("relearning.event_part", {"event": event.names, "part": part.names})


def _reason(rule: RelearnRule, code: str, **facts: object) -> Reason:
    return Reason(Message(f"relearning.reason.{code}", facts), rule.id, rule.why, proof(rule))


def _event(rule: RelearnRule, case: Case) -> Iterator[Finding]:
    """Each event that the rule waits for: open, or answered by what was done."""
    told: set[str] = set()
    for one in case.history.events:  # the latest first, and one of a name is enough
        name = one.event.id + (f".{one.part.id}" if one.part else "")
        if name in told or not one.is_one_of(rule.events):
            continue
        told.add(name)
        yield from _since(rule, case, one)


def _since(rule: RelearnRule, case: Case, one: Happened) -> Iterator[Finding]:
    moment = None if case.done is None else case.done.moment
    match None if moment is None else relation(one.moment, moment):
        case None:
            yield Finding("due_now", _reason(rule, "event", event=one.name))
        case "since":
            yield Finding("due_now", _reason(rule, "event_since", event=one.name))
        case "untold":
            yield Finding("due_now", _reason(rule, "event_untold", event=one.name))
        case "same":
            yield Finding("not_due", _reason(rule, "event_same", event=one.name))


def _season(rule: RelearnRule, case: Case) -> Iterator[Finding]:
    begun = list(_event(rule, case))
    yield from begun
    if case.done is None:
        if not begun:
            yield Finding("unknown", _reason(rule, "done_untold"))
        return
    days = None if case.done.moment is None else case.done.moment.days
    if days is not None and days > case.season_gap_days:
        yield Finding("due_now", _reason(rule, "earlier_season", ago=Quantity(float(days), "d")))


def _hours(rule: RelearnRule, case: Case) -> Iterator[Finding]:
    if case.done is None:
        yield Finding("unknown", _reason(rule, "done_untold"))
    elif case.done.moment is not None:
        yield _counted(rule, case, case.done.moment.hours, "h")


def _days(rule: RelearnRule, case: Case) -> Iterator[Finding]:
    if case.done is None:
        yield Finding("unknown", _reason(rule, "done_untold"))
    elif case.done.moment is not None:
        days = case.done.moment.days
        yield _counted(rule, case, None if days is None else float(days), "d")


def _counted(rule: RelearnRule, case: Case, ago: float | None, unit: str) -> Finding:
    interval = rule.interval or 0.0
    usual = Quantity(interval, unit)
    if ago is None:
        code = "hours_untold" if unit == "h" else "days_untold"
        return Finding("unknown", _reason(rule, code, usual=usual))
    left = interval - ago
    facts = {"ago": Quantity(ago, unit), "usual": usual}
    if left <= 0:
        return Finding("due_now", _reason(rule, "interval_over", **facts))
    due: Due = "due_soon" if left <= case.soon * interval else "not_due"
    code = "interval_soon" if due == "due_soon" else "interval_open"
    remains = {"left_hours": left} if unit == "h" else {"left_days": left}
    return Finding(due, _reason(rule, code, **facts), **remains)


def _run_in(rule: RelearnRule, case: Case) -> Iterator[Finding]:
    """So many hours after an event, unless the task was done when most of them had passed."""
    for one in case.history.events:
        if one.is_one_of(rule.events) and not _beds_in(rule, case, one):
            yield _bedding(rule, case, one)


def _beds_in(rule: RelearnRule, case: Case, one: Happened) -> bool:
    """Whether the task was done late enough after the event."""
    moment = None if case.done is None else case.done.moment
    if moment is None or moment.hours is None or one.moment.hours is None:
        return False
    return one.moment.hours - moment.hours >= (1 - case.soon) * (rule.interval or 0.0)


def _bedding(rule: RelearnRule, case: Case, one: Happened) -> Finding:
    interval, run = rule.interval or 0.0, one.moment.hours
    after = Quantity(interval, "h")
    if run is None:
        return Finding("due_soon", _reason(rule, "run_in_untold", event=one.name, after=after))
    left = interval - run
    facts = {"event": one.name, "after": after, "run": Quantity(run, "h")}
    if left <= 0:
        return Finding("due_now", _reason(rule, "run_in_over", **facts))
    due: Due = "due_soon" if left <= case.soon * interval else "not_due"
    return Finding(due, _reason(rule, "run_in_open", **facts), left_hours=left)


_TRIGGERS: Final[dict[Trigger, Callable[[RelearnRule, Case], Iterator[Finding]]]] = {
    "event": _event,
    "season": _season,
    "hours": _hours,
    "days": _days,
    "run_in": _run_in,
}
