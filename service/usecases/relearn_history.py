"""What a machine has, what happened to it and what was done: told, checked, counted back from now.

Inside: names against the table, statements that exclude each other, moments, which of two came first.
Outside: what follows (`relearn_rules`).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from service.domain.types import Message, Quantity
from service.errors import Contradiction, InvalidInput
from service.knowledge.schema import LocalText
from service.knowledge.schema_relearn import EventPart, RelearnEvent, RelearnFile
from service.usecases.relearn_fittings import Fittings, entry_of
from service.usecases.relearn_types import DoneTold, EventTold, RelearnQuestion, When

Relation = Literal["since", "same", "before", "untold"]


@dataclass(frozen=True, slots=True)
class Moment:
    """How long ago something was, where that was told."""

    hours: float | None
    days: int | None


@dataclass(frozen=True, slots=True)
class Happened:
    """An event of the table, when it was, and to which part."""

    event: RelearnEvent
    part: EventPart | None
    moment: Moment

    @property
    def name(self) -> LocalText | Message:
        """How to call it in a text."""
        if self.part is None:
            return self.event.names
        return Message("relearning.event_part", {"event": self.event.names, "part": self.part.names})

    def is_one_of(self, names: list[str]) -> bool:
        """Whether a rule that waits for these names is meant; an event without a part is all of its parts."""
        if self.event.id in names:
            return True
        if self.part is not None:
            return f"{self.event.id}.{self.part.id}" in names
        return any(name.startswith(f"{self.event.id}.") for name in names)


@dataclass(frozen=True, slots=True)
class Done:
    """When a task was done last; no moment where it never was."""

    moment: Moment | None


@dataclass(frozen=True, slots=True)
class History:
    """Events, the latest first, and for each task that was spoken of when it was done."""

    events: tuple[Happened, ...]
    done: dict[str, Done]


def read_history(file: RelearnFile, question: RelearnQuestion, fittings: Fittings) -> History:
    """Check what was told and count it back from now.

    Raises
    ------
    UnknownName
        If an event, part or task is not in the table.
    Contradiction, InvalidInput
        If statements exclude each other, or a time cannot be counted back.
    """
    events, done = [], {}
    moments: list[tuple[str, Moment]] = []
    for place, told in enumerate(question.events):
        where = f"events.{place}"
        happened = _event(file, told, question, fittings, where)
        events.append(happened)
        moments.append((where, happened.moment))
    first: dict[str, str] = {}
    for place, last in enumerate(question.last_done):
        where = f"last_done.{place}"
        task = entry_of(file.task, f"{where}.task", last.task)
        if last.task in first:
            raise Contradiction(
                [f"{first[last.task]}.task", f"{where}.task"], "reason.task_given_twice", task=task.names
            )
        first[last.task] = where
        done[last.task] = _done(last, question, where)
        if (moment := done[last.task].moment) is not None:
            fittings.refuse_without(task.needs, f"{where}.task", "reason.done_without_fitting", task.names)
            moments.append((where, moment))
    _refuse_disorder(moments)
    events.sort(key=lambda one: _age(one.moment))
    return History(tuple(events), done)


def relation(event: Moment, done: Moment) -> Relation:
    """Whether an event came after a task was done: by hours, where these are equal or lack by days."""
    found: Relation = "untold"
    for one, other in ((event.hours, done.hours), (event.days, done.days)):
        if one is None or other is None:
            continue
        if one != other:
            return "since" if one < other else "before"
        found = "same"
    return found


def _event(file: RelearnFile, told: EventTold, question: RelearnQuestion, fittings: Fittings, where: str) -> Happened:
    event = entry_of(file.event, f"{where}.event", told.event)
    fittings.refuse_without(event.needs, f"{where}.event", "reason.event_without_fitting", event.names)
    part = None
    if told.part is not None:
        if not event.parts:
            raise Contradiction([f"{where}.part", f"{where}.event"], "reason.event_without_parts", event=event.names)
        part = entry_of(event.parts, f"{where}.part", told.part)
        fittings.refuse_without(part.needs, f"{where}.part", "reason.event_without_fitting", part.names)
        fittings.refuse_class(part.classes, f"{where}.part", part.names)
    return Happened(event, part, _moment(told, question, where))


def _done(last: DoneTold, question: RelearnQuestion, where: str) -> Done:
    told = [name for name in ("hours_ago", "at_hours", "date") if getattr(last, name) is not None]
    if last.never:
        if told:
            raise Contradiction([f"{where}.never", f"{where}.{told[0]}"], "reason.never_and_when")
        return Done(None)
    if not told:
        raise InvalidInput(where, reason="reason.when_missing")
    return Done(_moment(last, question, where))


def _moment(told: When, question: RelearnQuestion, where: str) -> Moment:
    return Moment(_hours(told, question, where), _days(told, question, where))


def _hours(told: When, question: RelearnQuestion, where: str) -> float | None:
    now = question.hours_now
    if told.at_hours is not None:
        if told.hours_ago is not None:
            fields = [f"{where}.hours_ago", f"{where}.at_hours"]
            raise Contradiction(fields, "reason.both_given", first="hours_ago", second="at_hours")
        if now is None:
            raise InvalidInput("hours_now", reason="reason.hours_now_missing")
        if told.at_hours > now:
            facts = {"then": Quantity(told.at_hours, "h"), "now": Quantity(now, "h")}
            raise Contradiction([f"{where}.at_hours", "hours_now"], "reason.hours_ahead", **facts)
        return round(now - told.at_hours, 6)  # so that two equal readings of the meter are equally long ago
    if told.hours_ago is not None and now is not None and told.hours_ago > now:
        facts = {"ago": Quantity(told.hours_ago, "h"), "now": Quantity(now, "h")}
        raise Contradiction([f"{where}.hours_ago", "hours_now"], "reason.older_than_machine", **facts)
    return told.hours_ago


def _days(told: When, question: RelearnQuestion, where: str) -> int | None:
    if told.date is None:
        return None
    if question.today is None:
        raise InvalidInput("today", reason="reason.today_missing")
    if told.date > question.today:
        raise Contradiction([f"{where}.date", "today"], "reason.date_ahead")
    return (question.today - told.date).days


def _refuse_disorder(moments: list[tuple[str, Moment]]) -> None:
    """Refuse hours and dates that do not go together: the later day with more hours back, or too many hours a day."""
    later_days, later_hours, later = 0, 0.0, "today"
    for days, hours, where in sorted((days, hours, where) for where, hours, days in _complete(moments)):
        fields = [f"{where}.date", later]
        most = 24 * (days - later_days + 1)  # a date is somewhere in its day
        if hours < later_hours and days > later_days:
            raise Contradiction(fields, "reason.hours_against_dates")
        if hours - later_hours > most:
            facts = {"hours": Quantity(hours - later_hours, "h"), "most": Quantity(float(most), "h")}
            raise Contradiction(fields, "reason.hours_too_many", **facts)
        if hours >= later_hours:
            later_days, later_hours, later = days, hours, f"{where}.date"


def _complete(moments: list[tuple[str, Moment]]) -> Iterator[tuple[str, float, int]]:
    for where, moment in moments:
        if moment.hours is not None and moment.days is not None:
            yield where, moment.hours, moment.days


def _age(moment: Moment) -> tuple[float, float]:
    """For sorting: what has no time may be just now."""
    hours = -1.0 if moment.hours is None else moment.hours
    return hours, -1.0 if moment.days is None else float(moment.days)
