"""relearn.toml: the file of the package is sound, and every rule across its entries is held."""

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import pytest
from pydantic import ValidationError

from service.knowledge.digest import digest
from service.knowledge.relearn_checks import FIGURE_UNITS, event_names, relearn_faults
from service.knowledge.schema import LocalText
from service.knowledge.schema_relearn import RelearnFile, RelearnRule
from service.knowledge.tree import RELEARN, KnowledgeTree, walk

Change = Callable[[dict[str, Any]], object]


@pytest.fixture(scope="module")
def file(tree: KnowledgeTree) -> RelearnFile:
    assert tree.relearn is not None
    return tree.relearn


def changed(tree: KnowledgeTree, change: Change) -> KnowledgeTree:
    assert tree.relearn is not None
    content = tree.relearn.model_dump(exclude_none=True)
    change(content)
    return replace(tree, relearn=RelearnFile.model_validate(content))


def entry(content: dict[str, Any], kind: str, ident: str) -> dict[str, Any]:
    found: dict[str, Any] = next(one for one in content[kind] if one["id"] == ident)
    return found


def test_the_file_of_the_package_is_sound(tree: KnowledgeTree) -> None:
    assert list(relearn_faults(tree)) == []


def test_a_folder_may_do_without_the_file(tree: KnowledgeTree) -> None:
    assert list(relearn_faults(replace(tree, relearn=None))) == []


def test_every_text_is_written_in_german_too(file: RelearnFile) -> None:
    texts = [one for _, one in walk(file) if isinstance(one, LocalText)]
    assert len(texts) > 150
    assert [text.en for text in texts if text.de is None or text.de == text.en] == []


def test_every_task_has_a_rule_a_season_and_an_event_that_can_happen(file: RelearnFile) -> None:
    """A task that no rule reaches would never be told; one without a season would wait for work on the machine."""
    for task in file.task:
        rules = [rule for rule in file.rule if rule.task == task.id]
        assert [rule.on for rule in rules].count("season") == 1, task.id
        assert any(name in event_names(file) for rule in rules for name in rule.events), task.id


def test_what_the_task_of_the_trade_asks_for_is_there(file: RelearnFile) -> None:
    events = {event.id for event in file.event}
    assert events >= {
        "season_start",
        "new_crop",
        "sieve_changed",
        "concave_changed",
        "returns_chain_tensioned",
        "sieve_actuator_worked_on",
        "spreader_linkage_worked_on",
        "belt_replaced",
        "header_changed",
        "tyres_changed",
    }
    state_of = {task.id: task.state for task in file.task}
    assert {name for name, state in state_of.items() if state == "running_empty"} >= {
        "drum_speed_maximum",
        "fan_speed_maximum",
        "walker_speed_maximum",
        "returns_zero",
    }
    assert {name for name, state in state_of.items() if state == "harvesting"} == {
        "moisture_reading",
        "yield_weighed",
        "loss_sensors",
        "spread_on_ground",
    }


def test_no_practice_passes_for_a_published_figure(file: RelearnFile) -> None:
    for _, one in walk(file):
        cited = {citation.id for citation in getattr(one, "source", [])}
        if cited == {"common-practice"}:
            assert (getattr(one, "basis", None), getattr(one, "known", None)) == ("expert", "practice")


FAULTS: dict[str, tuple[Change, str]] = {
    "double task": (
        lambda c: c["task"].append(entry(c, "task", "belts")),
        "task belts: id: stands 2 times",
    ),
    "double part": (
        lambda c: entry(c, "event", "belt_replaced")["parts"].append(entry(c, "event", "belt_replaced")["parts"][0]),
        "event belt_replaced: parts drum: stands 2 times",
    ),
    "double event in a rule": (
        lambda c: entry(c, "rule", "belts.event")["events"].append("drive_ratio_changed"),
        "rule belts.event: events: drive_ratio_changed stands 2 times",
    ),
    "double precedence": (
        lambda c: entry(c, "task", "returns_zero")["after"].append("elevator_chains"),
        "task returns_zero: after: elevator_chains stands 2 times",
    ),
    "unknown event": (
        lambda c: entry(c, "rule", "belts.event")["events"].append("full_moon"),
        "rule belts.event: events: there is no event 'full_moon'",
    ),
    "unknown part": (
        lambda c: entry(c, "rule", "belts.event")["events"].append("belt_replaced.horn"),
        "rule belts.event: events: there is no event 'belt_replaced.horn'",
    ),
    "rule of an unknown task": (
        lambda c: entry(c, "rule", "belts.hours").update(task="polish"),
        "rule belts.hours: task: there is no task 'polish'",
    ),
    "after an unknown task": (
        lambda c: entry(c, "task", "belts")["after"].append("polish"),
        "task belts: after: there is no task 'polish'",
    ),
    "unknown fitting of a task": (
        lambda c: entry(c, "task", "belts")["needs"].append("horn"),
        "task belts: needs: there is no fitting 'horn'",
    ),
    "unknown fitting of an event": (
        lambda c: entry(c, "event", "new_crop").update(needs=["horn"]),
        "event new_crop: needs: there is no fitting 'horn'",
    ),
    "unknown fitting of a part": (
        lambda c: entry(c, "event", "belt_replaced")["parts"][0].update(needs=["horn"]),
        "event belt_replaced: parts drum.needs: there is no fitting 'horn'",
    ),
    "unknown state": (
        lambda c: entry(c, "task", "belts").update(state="flying"),
        "task belts: state: there is no state 'flying'",
    ),
    "unused state": (
        lambda c: c["state"].append({**c["state"][0], "id": "flying"}),
        "state flying: no task needs it",
    ),
    "unused fitting": (
        lambda c: c["fitting"].append({**c["fitting"][0], "id": "horn"}),
        "fitting horn: no task or event needs it",
    ),
    "unused event": (
        lambda c: c["event"].append({**c["event"][0], "id": "full_moon"}),
        "event full_moon: no rule waits for it",
    ),
    "unused part": (
        lambda c: entry(c, "event", "sensor_worked_on")["parts"].append({"id": "horn", "names": {"en": "horn"}}),
        "event sensor_worked_on.horn: no rule waits for this part",
    ),
    "task without a rule": (
        lambda c: c["task"].append({**entry(c, "task", "belts"), "id": "polish"}),
        "task polish: no rule makes it due",
    ),
    "circle": (
        lambda c: (
            entry(c, "task", "sieve_openings").update(after=["belts"]),
            entry(c, "task", "belts").update(after=["sieve_openings"]),
        ),
        "task belts: after: waits in a circle: belts, sieve_openings, belts",
    ),
    "after a later machine state": (
        lambda c: entry(c, "task", "belts").update(after=["shaft_speeds"]),
        "task belts: after: shaft_speeds is done in the later machine state running_empty",
    ),
    "two rules say the same": (
        lambda c: c["rule"].append({**entry(c, "rule", "belts.event"), "id": "belts.again"}),
        "rule belts.again: events: belts.event says drive_ratio_changed of belts already",
    ),
    "two seasons": (
        lambda c: c["rule"].append({**entry(c, "rule", "belts.season"), "id": "belts.spring", "events": ["new_crop"]}),
        "task belts: two rules tell its season",
    ),
    "event of another machine class": (
        lambda c: entry(c, "rule", "walker_speed_maximum.event")["events"].append("belt_replaced.separation_rotors"),
        "rule walker_speed_maximum.event: events: "
        "no machine class can have belt_replaced.separation_rotors and the task",
    ),
    "figure of nothing": (
        lambda c: c["figures"]["season_gap"].update(value=0.0, low=None),
        "figures: season_gap: value: 0 is not above 0",
    ),
    "share of all": (
        lambda c: c["figures"]["soon_share"].update(value=100.0),
        "figures: soon_share: value: 100 % is all or more",
    ),
    "levels that fall": (
        lambda c: c["figures"]["slip_fault"].update(value=6.0),
        "figures: slip_fault: value: slip_usual, slip_fault, slip_burning do not rise: [2.0, 6.0, 5.0]",
    ),
}


def told(faults: Iterator[str]) -> list[str]:
    """Faults without the file, places written one way."""
    return [re.sub(r"[.:] ?", ": ", one.removeprefix(f"{RELEARN}: ")) for one in faults]


@pytest.mark.parametrize(("change", "fault"), FAULTS.values(), ids=FAULTS.keys())
def test_a_fault_across_entries_is_told(tree: KnowledgeTree, change: Change, fault: str) -> None:
    faults = told(relearn_faults(changed(tree, change)))
    assert re.sub(r"[.:] ?", ": ", fault) in faults


SHAPES: dict[str, tuple[dict[str, Any], str]] = {
    "event without events": ({"on": "event"}, "on event needs events"),
    "hours with events": ({"on": "hours", "events": ["new_crop"], "interval": 9.0, "unit": "h"}, "on hours has no"),
    "hours without interval": ({"on": "hours"}, "on hours needs h interval"),
    "days in hours": ({"on": "days", "interval": 9.0, "unit": "h"}, "on days needs d interval"),
    "event with interval": (
        {"on": "event", "events": ["new_crop"], "interval": 9.0, "unit": "h"},
        "on event needs no interval",
    ),
    "ends out of order": ({"on": "hours", "interval": 9.0, "low": 10.0, "unit": "h"}, "does not hold"),
    "nothing": ({"on": "hours", "interval": 0.0, "unit": "h"}, "does not hold"),
    "ends of no interval": ({"on": "event", "events": ["new_crop"], "low": 1.0}, "does not hold"),
}


@pytest.mark.parametrize(("keys", "problem"), SHAPES.values(), ids=SHAPES.keys())
def test_a_rule_of_no_sense_is_refused(keys: dict[str, Any], problem: str) -> None:
    rest = {
        "id": "a.b",
        "task": "a",
        "why": {"en": "why"},
        "basis": "expert",
        "known": "practice",
        "source": {"id": "common-practice", "at": "invented"},
    }
    with pytest.raises(ValidationError, match=problem):
        RelearnRule.model_validate(rest | keys)


def test_every_figure_has_its_unit(file: RelearnFile) -> None:
    assert {name: figure.unit for name, figure in file.figures} == FIGURE_UNITS


def test_the_order_of_tasks_counts_in_the_digest_and_that_of_rules_does_not(tree: KnowledgeTree) -> None:
    assert digest(tree) == digest(changed(tree, lambda content: content["rule"].reverse()))
    assert digest(tree) != digest(changed(tree, lambda content: content["task"].reverse()))
    assert digest(tree) != digest(
        changed(tree, lambda content: entry(content, "rule", "belts.hours").update(interval=51.0))
    )
