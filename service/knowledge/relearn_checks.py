"""Rules of relearn.toml across entries: names that exist and are used, an order without circles, figures that can be.

Inside: one small function per rule, each yielding faults with file, entry and key. Outside: shape of single
entries (`schema_relearn.py`), how they are known (`evidence.py`).
"""

from collections import Counter
from collections.abc import Iterator
from typing import Final

from service.domain.precedence import circle
from service.knowledge.schema import ClassId
from service.knowledge.schema_relearn import RelearnFile
from service.knowledge.tree import RELEARN, KnowledgeTree, fault

FIGURE_UNITS: Final = {
    "soon_share": "%",
    "season_gap": "d",
    "slip_usual": "%",
    "slip_fault": "%",
    "slip_burning": "%",
    "speed_reading_error": "%",
    "diameter_error": "%",
}
_LEVELS: Final = ("slip_usual", "slip_fault", "slip_burning")


def relearn_faults(tree: KnowledgeTree) -> Iterator[str]:
    """Yield every fault of relearn.toml but for its evidence; a folder may do without the file."""
    if tree.relearn is None:
        return
    for check in (double_names, unknown_names, unused_names, order_faults, rule_faults, fitting_faults, figure_faults):
        yield from check(tree.relearn)


def event_names(file: RelearnFile) -> dict[str, list[str]]:
    """Return every name that a rule may use for an event, with the fittings without which it cannot happen."""
    found = {}
    for event in file.event:
        found[event.id] = event.needs
        for part in event.parts:
            found[f"{event.id}.{part.id}"] = [*event.needs, *part.needs]
    return found


def double_names(file: RelearnFile) -> Iterator[str]:
    """Yield a fault for each id that stands twice among entries of its kind, or twice in a list."""
    kinds: dict[str, list[str]] = {
        "fitting": [entry.id for entry in file.fitting],
        "event": [entry.id for entry in file.event],
        "state": [entry.id for entry in file.state],
        "task": [entry.id for entry in file.task],
        "rule": [entry.id for entry in file.rule],
    }
    for kind, names in kinds.items():
        yield from (fault(RELEARN, (f"{kind} {name}", "id"), problem) for name, problem in _twice(names))
    for event in file.event:
        for name, problem in _twice([part.id for part in event.parts]):
            yield fault(RELEARN, (f"event {event.id}", f"parts {name}"), problem)
    for task in file.task:
        for key in ("needs", "after", "cautions"):
            yield from (fault(RELEARN, (f"task {task.id}", key), f"{n} {p}") for n, p in _twice(getattr(task, key)))
    for rule in file.rule:
        yield from (fault(RELEARN, (f"rule {rule.id}", "events"), f"{n} {p}") for n, p in _twice(rule.events))


def unknown_names(file: RelearnFile) -> Iterator[str]:
    """Yield a fault for each fitting, event, state or task that is named but is in no list."""
    fittings, states = {entry.id for entry in file.fitting}, {entry.id for entry in file.state}
    tasks, events = {entry.id for entry in file.task}, set(event_names(file))
    used: list[tuple[str, str, list[str], set[str], str]] = []
    for event in file.event:
        used.append((f"event {event.id}", "needs", event.needs, fittings, "fitting"))
        used += [
            (f"event {event.id}", f"parts {part.id}.needs", part.needs, fittings, "fitting") for part in event.parts
        ]
    for task in file.task:
        used.append((f"task {task.id}", "state", [task.state], states, "state"))
        used.append((f"task {task.id}", "needs", task.needs, fittings, "fitting"))
        used.append((f"task {task.id}", "after", task.after, tasks, "task"))
    for rule in file.rule:
        used.append((f"rule {rule.id}", "task", [rule.task], tasks, "task"))
        used.append((f"rule {rule.id}", "events", rule.events, events, "event"))
    for place, key, names, known, kind in used:
        for name in names:
            if name not in known:
                yield fault(RELEARN, (place, key), f"there is no {kind} {name!r}")


def unused_names(file: RelearnFile) -> Iterator[str]:
    """Yield a fault for each fitting, event, part or state that nothing uses, and each task without a rule."""
    named = {name for rule in file.rule for name in rule.events}
    needed = {name for needs in event_names(file).values() for name in needs}
    needed |= {name for task in file.task for name in task.needs}
    used: list[tuple[str, bool, str]] = [
        *((f"fitting {entry.id}", entry.id in needed, "no task or event needs it") for entry in file.fitting),
        *(
            (f"state {entry.id}", any(t.state == entry.id for t in file.task), "no task needs it")
            for entry in file.state
        ),
        *(
            (f"task {entry.id}", any(r.task == entry.id for r in file.rule), "no rule makes it due")
            for entry in file.task
        ),
    ]
    for event in file.event:
        whole = event.id in named
        parts = [f"{event.id}.{part.id}" for part in event.parts]
        used.append((f"event {event.id}", whole or any(part in named for part in parts), "no rule waits for it"))
        used += [(f"event {part}", whole or part in named, "no rule waits for this part") for part in parts]
    for place, is_used, problem in used:
        if not is_used:
            yield fault(RELEARN, (place,), problem)


def order_faults(file: RelearnFile) -> Iterator[str]:
    """Yield a fault for tasks that wait for each other, and for one that waits for a later machine state."""
    after = {task.id: task.after for task in file.task}
    if found := circle(after):
        yield fault(RELEARN, (f"task {found[0]}", "after"), f"waits in a circle: {', '.join((*found, found[0]))}")
    place = {state.id: number for number, state in enumerate(file.state)}
    state_of = {task.id: task.state for task in file.task}
    for task in file.task:
        for before in task.after:
            ends = [place.get(state_of.get(name, "")) for name in (before, task.id)]
            if None not in ends and ends[0] > ends[1]:  # type: ignore[operator]
                problem = f"{before} is done in the later machine state {state_of[before]}"
                yield fault(RELEARN, (f"task {task.id}", "after"), problem)


def rule_faults(file: RelearnFile) -> Iterator[str]:
    """Yield faults of rules: two that say the same of a task, a season that begins with different events."""
    seen: dict[tuple[str, str], str] = {}
    for rule in file.rule:
        for key in [(rule.task, name) for name in rule.events or [rule.on]]:
            if rule.on != "run_in" and key in seen:
                yield fault(RELEARN, (f"rule {rule.id}", "events"), f"{seen[key]} says {key[1]} of {key[0]} already")
            if rule.on != "run_in":
                seen.setdefault(key, rule.id)
    for task in file.task:
        if sum(rule.on == "season" for rule in file.rule if rule.task == task.id) > 1:
            yield fault(RELEARN, (f"task {task.id}",), "two rules tell its season")


def fitting_faults(file: RelearnFile) -> Iterator[str]:
    """Yield a fault where a rule waits for an event that cannot happen to a machine with the task's fittings."""
    classes: dict[str, set[ClassId]] = {entry.id: set(entry.classes) for entry in file.fitting}
    having = {f"{event.id}.{part.id}": set(part.classes) for event in file.event for part in event.parts}
    needs = {task.id: task.needs for task in file.task}
    names = event_names(file)
    for rule in file.rule:
        for event in rule.events:
            wanted = [*needs.get(rule.task, []), *names.get(event, [])]
            common = [classes[name] for name in wanted if name in classes]
            common += [having[event]] if event in having else []
            if common and not set.intersection(*common):
                yield fault(RELEARN, (f"rule {rule.id}", "events"), f"no machine class can have {event} and the task")


def figure_faults(file: RelearnFile) -> Iterator[str]:
    """Yield faults of figures: not above 0, a share of all or more, levels of slip that do not rise."""
    for name, figure in file.figures:
        if figure.value <= 0:
            yield fault(RELEARN, ("figures", name, "value"), f"{figure.value:g} is not above 0")
        if figure.unit == "%" and figure.value >= 100:
            yield fault(RELEARN, ("figures", name, "value"), f"{figure.value:g} % is all or more")
    values = [getattr(file.figures, name).value for name in _LEVELS]
    if values != sorted(set(values)):
        yield fault(RELEARN, ("figures", "slip_fault", "value"), f"{', '.join(_LEVELS)} do not rise: {values}")


def _twice(names: list[str]) -> Iterator[tuple[str, str]]:
    for name, count in Counter(names).items():
        if count > 1:
            yield name, f"stands {count} times"
