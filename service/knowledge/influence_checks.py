"""Rules of influence.toml across entries: names, coverage, figures of the method.

Inside: one small function per rule, each yielding faults with file, entry and key. Outside: the
shape of single entries (`influence_schema.py`), how they are known (`evidence.py`).
"""

from collections import Counter
from collections.abc import Iterator
from typing import Final, get_args

from service.knowledge.influence_schema import InfluenceFile, Lever, scopes
from service.knowledge.schema import Group, Priority
from service.knowledge.tree import INFLUENCE, KnowledgeTree, fault

GROUPS: Final[tuple[Group, ...]] = get_args(Group)
PRIORITIES: Final[tuple[Priority, ...]] = get_args(Priority)
# the time an area takes follows from ground speed by arithmetic; no effect row may restate it
COMPUTED: Final = ("ground_speed", "time_per_area")
FIGURE_UNITS: Final = {
    "check_distance": "m",
    "start_sd": "1",
    "measured_log_sd": "1",
    "severity_log_sd": "1",
    "tell_tale_slope": "1",
    "tell_tale_slope_sd": "1",
    "kept_share": "1",
    "least_saving": "1",
    "least_first_saving": "1",
}


def influence_faults(tree: KnowledgeTree) -> Iterator[str]:
    """Yield every fault of influence.toml but for its evidence."""
    file, content = INFLUENCE, tree.influence
    yield from double_names(file, content)
    yield from unknown_names(file, content, tree)
    yield from double_effects(file, content)
    yield from lever_faults(file, content, tree)
    yield from effect_gaps(file, content, tree)
    yield from pull_faults(file, content)
    yield from pull_signs(file, content)
    yield from weight_faults(file, content)
    yield from method_faults(file, content)


def double_names(file: str, content: InfluenceFile) -> Iterator[str]:
    """Yield a fault for each id that stands twice among entries of its kind."""
    kinds: dict[str, list[str]] = {
        "lever": [entry.id for entry in content.lever],
        "outcome": [entry.id for entry in content.outcome],
        "effect": [entry.id for entry in content.effect],
        "tell_tale": [entry.id for entry in content.tell_tale],
        "mistake": [entry.id for entry in content.mistake],
        "weighting": [str(entry.priority) for entry in content.weighting],
    }
    for kind, names in kinds.items():
        for name, count in Counter(names).items():
            if count > 1:
                yield fault(file, (f"{kind} {name}", "id"), f"stands {count} times")


def unknown_names(file: str, content: InfluenceFile, tree: KnowledgeTree) -> Iterator[str]:
    """Yield a fault for each setting, outcome or mistake that is named but is in no list."""
    settings = {entry.id for entry in tree.vocabulary.quantity if entry.setting}
    outcomes = {entry.id for entry in content.outcome}
    mistakes = {entry.id for entry in content.mistake}
    used: list[tuple[str, str, str | None, set[str], str]] = []
    for lever in content.lever:
        used += [(f"lever {lever.id}", key, name, settings, "setting") for key, name in _named_by(lever)]
        used += [(f"lever {lever.id}", "no_effect", name, outcomes, "outcome") for name in lever.no_effect]
    for effect in content.effect:
        used.append((f"effect {effect.id}", "setting", effect.setting, settings, "setting"))
        used.append((f"effect {effect.id}", "outcome", effect.outcome, outcomes, "outcome"))
    for tell in content.tell_tale:
        place = f"tell_tale {tell.id}"
        used += [(place, "pulls", pull.setting, settings, "setting") for pull in tell.pulls]
        used.append((place, "symptom", tell.symptom, outcomes, "outcome"))
        used.append((place, "stop_when", tell.stop_when, outcomes, "outcome"))
        used += [(place, "excludes", name, outcomes, "outcome") for name in tell.excludes]
        used.append((place, "check", tell.check, mistakes, "mistake"))
    for mistake in content.mistake:
        used += [(f"mistake {mistake.id}", "symptoms", name, outcomes, "outcome") for name in mistake.symptoms]
    for weighting in content.weighting:
        used += [
            (f"weighting {weighting.priority}", "weights", name, outcomes, "outcome") for name in weighting.weights
        ]
    for place, key, name, known, kind in used:
        if name is not None and name not in known:
            yield fault(file, (place, key), f"there is no {kind} {name!r}")


def double_effects(file: str, content: InfluenceFile) -> Iterator[str]:
    """Yield a fault where two effects speak of the same setting, outcome, class and group."""
    seen: dict[tuple[str, str, str, str], str] = {}
    for effect in content.effect:
        if (effect.setting, effect.outcome) == COMPUTED:
            yield fault(file, (f"effect {effect.id}", "outcome"), "the time an area takes is computed, not stated")
        for machine_class in effect.classes:
            for group in scopes(effect.groups):
                key = (effect.setting, effect.outcome, machine_class, group)
                if key in seen:
                    text = f"{seen[key]} says it already for {machine_class} and {group or 'every group'}"
                    yield fault(file, (f"effect {effect.id}", "classes"), text)
                seen.setdefault(key, effect.id)


def lever_faults(file: str, content: InfluenceFile, tree: KnowledgeTree) -> Iterator[str]:
    """Yield faults of levers: a unit that is not the setting's, a group twice, a setting that none moves."""
    units = {entry.id: entry.unit for entry in tree.vocabulary.quantity}
    seen: dict[tuple[str, str], str] = {}
    for lever in content.lever:
        if lever.unit not in ("%", units.get(lever.setting, lever.unit)):
            text = f"{lever.unit} is neither % nor the unit of {lever.setting}"
            yield fault(file, (f"lever {lever.id}", "unit"), text)
        for group in scopes(lever.groups):
            if (lever.setting, group) in seen:
                text = f"{seen[lever.setting, group]} moves it already for {group or 'every group'}"
                yield fault(file, (f"lever {lever.id}", "groups"), text)
            seen.setdefault((lever.setting, group), lever.id)
    settings = {entry.id for entry in tree.vocabulary.quantity if entry.setting}
    followers = {lever.moves_with for lever in content.lever}
    for entry in tree.machines.machine_class:
        for setting in entry.settings:
            if setting in settings - followers and (setting, "") not in seen:
                yield fault(file, (f"class {entry.id}",), f"no lever moves {setting} in every group")


def effect_gaps(file: str, content: InfluenceFile, tree: KnowledgeTree) -> Iterator[str]:
    """Yield a fault where a class's setting and an outcome have neither an effect nor a `no_effect`, or both."""
    stated = {(e.setting, e.outcome, c, g) for e in content.effect for c in e.classes for g in scopes(e.groups)}
    none = {(lever.setting, outcome) for lever in content.lever for outcome in lever.no_effect}
    moved = {lever.setting for lever in content.lever}
    for entry in tree.machines.machine_class:
        for setting in (name for name in entry.settings if name in moved):
            for outcome in content.outcome:
                pair = (setting, outcome.id)
                general = (*pair, entry.id, "") in stated
                everywhere = general or all((*pair, entry.id, group) in stated for group in GROUPS)
                if general and pair in none:
                    yield fault(file, (f"lever of {setting}", "no_effect"), f"{outcome.id} has an effect as well")
                if not everywhere and pair not in none and pair != COMPUTED:
                    yield fault(file, (f"lever of {setting}",), f"nothing is said of {outcome.id} with {entry.id}")


def pull_faults(file: str, content: InfluenceFile) -> Iterator[str]:
    """Yield a fault where a second sign asks to move a setting that leaves its symptom alone."""
    stated = {(effect.setting, effect.outcome) for effect in content.effect}
    for tell in content.tell_tale:
        for pull in tell.pulls:
            if pull.direction != "spare" and (pull.setting, tell.symptom) not in stated:
                text = f"{pull.setting} has no effect on {tell.symptom}"
                yield fault(file, (f"tell_tale {tell.id}", "pulls"), text)


def pull_signs(file: str, content: InfluenceFile) -> Iterator[str]:
    """Yield a fault where a second sign asks for the way in which its symptom is known to grow."""
    for tell in content.tell_tale:
        for pull in tell.pulls:
            for effect in content.effect:
                if (effect.setting, effect.outcome) != (pull.setting, tell.symptom):
                    continue
                if effect.sign == {"up": 1, "down": -1, "spare": None}[pull.direction]:
                    text = f"{pull.setting} {pull.direction} is known to raise {tell.symptom} by {effect.id}"
                    yield fault(file, (f"tell_tale {tell.id}", "pulls"), text)


def weight_faults(file: str, content: InfluenceFile) -> Iterator[str]:
    """Yield faults of weightings: a priority or an outcome left out, or nothing that counts."""
    missing = set(PRIORITIES) - {entry.priority for entry in content.weighting}
    for priority in sorted(missing):
        yield fault(file, (f"weighting {priority}",), "the weighting is missing")
    for entry in content.weighting:
        for outcome in content.outcome:
            if outcome.id not in entry.weights:
                yield fault(file, (f"weighting {entry.priority}", "weights"), f"{outcome.id} has no weight")
        if not any(entry.weights.values()):
            yield fault(file, (f"weighting {entry.priority}", "weights"), "nothing counts")


def method_faults(file: str, content: InfluenceFile) -> Iterator[str]:
    """Yield a fault for each figure of the method that is not above 0: it is a distance, a spread or a divisor."""
    for name in FIGURE_UNITS:
        value = getattr(content.method, name).value
        if value <= 0:
            yield fault(file, ("method", name, "value"), f"{value:g} is not above 0")


def _named_by(lever: Lever) -> list[tuple[str, str | None]]:
    return [("setting", lever.setting), ("moves_with", lever.moves_with)]
