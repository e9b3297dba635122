"""What to relearn or check on a machine: due state of every task, why, and the order of the work.

Inside: the whole answer. Outside: what each rule says (`relearn_rules`), what was told (`relearn_history`,
`relearn_fittings`). No task, event or interval is named here; they are the knowledge table's.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from service.domain.precedence import in_order
from service.domain.types import Message
from service.errors import NotCovered
from service.knowledge.schema_relearn import RelearnFile, RelearnTask
from service.knowledge.table import KnowledgeTable
from service.usecases.relearn_fittings import Fittings, fittings_of
from service.usecases.relearn_history import History, read_history
from service.usecases.relearn_rules import Finding, again_when, due_of, findings_of, next_due_of
from service.usecases.relearn_types import Due, Reason, Relearn, RelearnQuestion, Step, TaskSeen

CAUTIONS: Final = ("licensed_practice", "machine_manual_first")
_DOUBTFUL: Final = ("due_soon", "unknown")
_AT_REST: Final = ("not_due", "not_fitted")
_LISTS: Final[tuple[Due, ...]] = ("due_now", "due_soon", "unknown", "not_due", "not_fitted")
_PLACE: Final[dict[Due, int]] = {due: place for place, due in enumerate(_LISTS)}
_WITHOUT: Final = {True: "relearning.reason.class_without", False: "relearning.reason.not_fitted"}
Lists = dict[Due, tuple[TaskSeen, ...]]


def what_to_relearn(table: KnowledgeTable, question: RelearnQuestion) -> Relearn:
    """Answer what a machine has to relearn and what is to be checked.

    Raises
    ------
    UnknownName
        If a machine class, fitting, event, part, task or revision is not known.
    Contradiction, InvalidInput
        If statements exclude each other, or a time cannot be counted back.
    NotCovered
        If the table has nothing on relearning.
    """
    file = relearn_file(table, question.revision)
    if question.machine_class is not None:
        table.machine_class(question.machine_class)
    fittings = fittings_of(file, question)
    history = read_history(file, question, fittings)
    seen = [_seen(file, task, history, fittings) for task in _by_state(file)]
    chains = _chains(file)
    states = {one.task.id: one.due for one in seen}
    lists = {due: _ordered([one for one in seen if one.due == due], chains, states) for due in _LISTS}
    now = lists["due_now"]
    return Relearn(
        say=_say(file, lists),
        now=now,
        soon=lists["due_soon"],
        unknown=lists["unknown"],
        not_due=lists["not_due"],
        not_fitted=lists["not_fitted"],
        steps=tuple(_steps(file, now)),
        warnings=tuple(_warnings(question, fittings, lists)),
        cautions=tuple(Message(f"caution.{code}") for code in _cautions(now)),
    )


def relearn_file(table: KnowledgeTable, revision: str | None) -> RelearnFile:
    """Return the part of the table, or refuse.

    Raises
    ------
    UnknownName
        If another revision was asked for.
    NotCovered
        If the table has nothing on relearning.
    """
    table.check_revision(revision)
    if table.relearn is None:
        raise NotCovered("", "relearn", "", "This table has nothing on relearning.")
    return table.relearn


def cautions_of(file: RelearnFile, task: RelearnTask) -> tuple[str, ...]:
    """Return the cautions of a task: those of its machine state, then its own."""
    state = next(one for one in file.state if one.id == task.state)
    return tuple(dict.fromkeys((*state.cautions, *task.cautions)))


def _by_state(file: RelearnFile) -> list[RelearnTask]:
    places = {state.id: place for place, state in enumerate(file.state)}
    return sorted(file.task, key=lambda task: places[task.state])  # stable: the file decides inside a state


def _chains(file: RelearnFile) -> dict[str, frozenset[str]]:
    """For each task all that come before it, over any number of steps."""
    after = {task.id: task.after for task in file.task}
    chains: dict[str, frozenset[str]] = {}
    for name in in_order(after):
        chains[name] = frozenset(after[name]).union(*(chains[before] for before in after[name]))
    return chains


@dataclass(frozen=True, slots=True)
class _Judged:
    due: Due
    if_fitted: Due | None
    reasons: tuple[Reason, ...]


def _seen(file: RelearnFile, task: RelearnTask, history: History, fittings: Fittings) -> TaskSeen:
    findings = findings_of(file, task, history)
    judged = _judged(task, findings, fittings)
    waiting = judged.due in ("due_soon", "not_due", "unknown")
    return TaskSeen(
        task=task,
        due=judged.due,
        if_fitted=judged.if_fitted,
        reasons=judged.reasons,
        waits_for=(),
        rests_on=(),
        next_due=next_due_of(findings) if waiting and due_of(findings) != "due_now" else None,
        again_when=tuple(again_when(file, task)),
        cautions=cautions_of(file, task),
    )


def _judged(task: RelearnTask, findings: list[Finding], fittings: Fittings) -> _Judged:
    """The state of a task on a machine that may lack what it needs."""
    missing = [
        Reason(Message(_WITHOUT[name in fittings.by_class], {"fitting": fittings.names[name]}))
        for name in fittings.missing(task.needs)
    ]
    if missing:
        return _Judged("not_fitted", None, tuple(missing))
    due = due_of(findings)
    reasons = _reasons(findings, due)
    untold = fittings.untold(task.needs)
    if not untold or due == "not_due":
        return _Judged(due, None, reasons)
    asked = [Reason(Message("relearning.reason.fitting_untold", {"fitting": fittings.names[one]})) for one in untold]
    return _Judged("unknown", due, (*asked, *reasons))


def _reasons(findings: list[Finding], due: Due) -> tuple[Reason, ...]:
    """The strongest first, each once; beside what makes a task due now the rest is of no account."""
    telling = [one for one in findings if one.due == due or due != "due_now"]
    found: list[Reason] = []
    for reason in (one.reason for one in sorted(telling, key=lambda one: _PLACE[one.due])):
        if all(reason.message != other.message for other in found):
            found.append(reason)
    return tuple(found) or (Reason(Message("relearning.reason.nothing_happened")),)


def _ordered(
    tasks: Sequence[TaskSeen], chains: dict[str, frozenset[str]], states: dict[str, Due]
) -> tuple[TaskSeen, ...]:
    """In the order of the work; each with those of the list that come first, and those it rests on."""
    here = {one.task.id: one for one in tasks}
    order = in_order({name: sorted(chains[name]) for name in here})
    if all(one.due in _AT_REST for one in tasks):
        return tuple(here[name] for name in order)
    return tuple(
        replace(
            here[name],
            waits_for=tuple(other for other in order if other in chains[name]),
            rests_on=tuple(other for other in chains if other in chains[name] and states[other] in _DOUBTFUL),
        )
        for name in order
    )


def _steps(file: RelearnFile, now: Sequence[TaskSeen]) -> Iterator[Step]:
    for state in file.state:
        tasks = tuple(one.task.id for one in now if one.task.state == state.id)
        if tasks:
            yield Step(state, tasks)


def _say(file: RelearnFile, lists: Lists) -> Message:
    now, soon, unknown = lists["due_now"], lists["due_soon"], lists["unknown"]
    if now:
        state = next(one for one in file.state if one.id == now[0].task.state)
        facts = {"count": len(now), "first": now[0].task.names, "state": state.names}
        return Message("relearning.say.now", facts)
    if soon:
        return Message("relearning.say.soon", {"tasks": [one.task.names for one in soon]})
    if unknown:
        return Message("relearning.say.unknown", {"count": len(unknown)})
    return Message("relearning.say.nothing")


def _warnings(question: RelearnQuestion, fittings: Fittings, lists: Lists) -> Iterator[Message]:
    if not question.events and not question.last_done:
        yield Message("relearning.nothing_told")
    untold = {name for one in lists["unknown"] for name in fittings.untold(one.task.needs)}
    if untold:
        yield Message("relearning.fittings_untold", {"fittings": [t for n, t in fittings.names.items() if n in untold]})
    if lists["due_now"] and lists["unknown"]:
        yield Message("relearning.also_unknown", {"count": len(lists["unknown"])})


def _cautions(now: Sequence[TaskSeen]) -> tuple[str, ...]:
    own = [code for one in now for code in one.cautions]
    return tuple(dict.fromkeys((*own, *CAUTIONS)))
