"""What to relearn: cases worked out by hand from the rules of the table, and promises that hold for every history."""

import datetime
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import Contradiction, InvalidInput, NotCovered, ServiceError, UnknownName
from service.knowledge.load import load_table
from service.knowledge.relearn_checks import event_names
from service.usecases.relearn import what_to_relearn
from service.usecases.relearn_history import Moment, relation
from service.usecases.relearn_rules import STRENGTH
from service.usecases.relearn_types import DoneTold, EventTold, Relearn, RelearnQuestion, TaskSeen

TABLE = load_table()
assert TABLE.relearn is not None
FILE = TABLE.relearn
TASKS = [task.id for task in FILE.task]
FITTINGS = [fitting.id for fitting in FILE.fitting]
TODAY = datetime.date(2026, 7, 20)
relaxed = settings(deadline=None, max_examples=60)


def ask(**more: Any) -> Relearn:
    more.setdefault("fitted", tuple(FITTINGS))
    return what_to_relearn(TABLE, RelearnQuestion(**more))


def seen(answer: Relearn) -> dict[str, TaskSeen]:
    lists = (answer.now, answer.soon, answer.unknown, answer.not_due, answer.not_fitted)
    return {one.task.id: one for each in lists for one in each}


def done(task: str, hours_ago: float | None = None, days_ago: int | None = None) -> DoneTold:
    date = None if days_ago is None else TODAY - datetime.timedelta(days=days_ago)
    return DoneTold(task=task, hours_ago=hours_ago, date=date)


def codes(one: TaskSeen) -> list[str]:
    return [reason.message.code.removeprefix("relearning.reason.") for reason in one.reasons]


# --- worked out by hand from the rules


@pytest.mark.parametrize(
    ("hours", "due", "left"),
    [(0, "not_due", 50), (39.9, "not_due", 10.1), (40, "due_soon", 10), (49.9, "due_soon", 0.1), (50, "due_now", None)],
)
def test_fifty_hours_with_a_fifth_of_warning(hours: float, due: str, left: float | None) -> None:
    """Belts: every 50 h; soon when a fifth of it, 10 h, is left."""
    belts = seen(ask(last_done=(done("belts", hours),)))["belts"]
    assert belts.due == due
    assert (None if belts.next_due is None else belts.next_due.hours) == (None if left is None else pytest.approx(left))


@pytest.mark.parametrize(("days", "due"), [(16, "not_due"), (17, "due_soon"), (20, "due_soon"), (21, "due_now")])
def test_three_weeks_for_the_weighed_load(days: int, due: str) -> None:
    """Yield: every 21 days; soon when a fifth of it, 4.2 days, is left."""
    assert seen(ask(today=TODAY, last_done=(done("yield_weighed", days_ago=days),)))["yield_weighed"].due == due


def test_a_date_in_an_earlier_harvest_is_an_earlier_season() -> None:
    answers = [seen(ask(today=TODAY, last_done=(done("slope_zero", days_ago=days),))) for days in (180, 181)]
    assert [one["slope_zero"].due for one in answers] == ["not_due", "due_now"]
    assert codes(answers[1]["slope_zero"]) == ["earlier_season"]


@pytest.mark.parametrize(
    ("event_hours", "done_hours", "due", "left"),
    [
        (3, None, "not_due", 7),
        (8, None, "due_soon", 2),
        (10, None, "due_now", None),
        (20, 13, "due_now", None),  # looked at after 7 h, which is too early
        (20, 12, "not_due", 38),  # looked at after 8 h, within a fifth of 10; next by the 50 h
        (3, 0, "not_due", 7),
    ],
)
def test_a_new_belt_is_looked_at_again_after_ten_hours(
    event_hours: float, done_hours: float | None, due: str, left: float | None
) -> None:
    told = (done("belts", done_hours if done_hours is not None else event_hours),)
    belts = seen(ask(events=(EventTold(event="belt_replaced", hours_ago=event_hours),), last_done=told))["belts"]
    assert belts.due == due
    assert (None if belts.next_due is None else belts.next_due.hours) == left


def test_a_new_belt_of_unknown_age_is_due_soon() -> None:
    belts = seen(ask(events=(EventTold(event="belt_replaced"),), last_done=(done("belts", 5),)))["belts"]
    assert (belts.due, codes(belts)[0]) == ("due_soon", "run_in_untold")


def test_a_belt_of_one_drive_asks_for_that_drive_alone() -> None:
    answer = ask(machine_class="walker", fitted=tuple(f for f in FITTINGS if f != "separation_rotor_speed_sensor"))
    before = {one.task.id for one in answer.now}
    with_event = ask(
        machine_class="walker",
        fitted=tuple(f for f in FITTINGS if f != "separation_rotor_speed_sensor"),
        events=(EventTold(event="belt_replaced", part="fan"),),
    )
    assert {one.task.id for one in with_event.now} - before == {"fan_speed_maximum", "shaft_speeds"}
    every = ask(events=(EventTold(event="belt_replaced"),))
    assert {one.task.id for one in every.now} >= {"drum_speed_maximum", "fan_speed_maximum", "walker_speed_maximum"}


FOLLOWS: dict[str, set[str]] = {
    "new_crop": {"sieve_openings", "cut_width", "header_height", "moisture_reading", "yield_weighed", "loss_sensors"},
    "sieve_changed": {"sieve_openings", "sieve_end_stops", "loss_sensors"},
    "concave_changed": {"concave_gap", "concave_end_stops", "loss_sensors"},
    "returns_chain_tensioned": {"returns_zero"},
    "grain_chain_tensioned": {"yield_weighed"},
    "sieve_actuator_worked_on": {"sieve_openings", "sieve_end_stops", "loss_sensors"},
    "spreader_linkage_worked_on": {"spreader_end_stops", "spread_on_ground"},
    "belt_replaced.drum": {"drum_speed_maximum", "shaft_speeds"},
    "belt_replaced.fan": {"fan_speed_maximum", "shaft_speeds"},
    "belt_replaced.walkers": {"walker_speed_maximum", "shaft_speeds"},
    "belt_replaced.other": {"shaft_speeds"},
    "header_changed": {"cut_width", "header_height", "yield_weighed", "spread_on_ground"},
    "tyres_changed": {"ground_speed", "slope_zero", "header_height"},
    "foreign_object": {"belts", "elevator_chains", "concave_gap", "sieve_openings"},
    "season_start": set(TASKS),
}


@pytest.mark.parametrize(("event", "tasks"), FOLLOWS.items(), ids=FOLLOWS.keys())
def test_what_an_event_asks_for_is_due_now(event: str, tasks: set[str]) -> None:
    """The trade's own list, not the table's."""
    name, _, part = event.partition(".")
    told = (EventTold(event=name, part=part or None, hours_ago=1),)
    answer = ask(events=told, last_done=tuple(done(task, 2) for task in TASKS))
    assert {one.task.id for one in answer.now} >= tasks


def test_a_sagging_belt_is_found_before_its_speed_is_learned_as_the_highest() -> None:
    answer = ask(events=(EventTold(event="season_start"),))
    order = [one.task.id for one in answer.now]
    assert order.index("belts") < order.index("shaft_speeds")
    for name in ("drum", "fan", "walker", "separation_rotor"):
        assert order.index("shaft_speeds") < order.index(f"{name}_speed_maximum")
    assert order.index("sieve_end_stops") < order.index("loss_sensors")
    assert order.index("header_height") < order.index("yield_weighed")
    assert order.index("spreader_end_stops") < order.index("spread_on_ground")


def test_reaching_in_to_clean_a_sensor_is_cautioned() -> None:
    zero = seen(ask(events=(EventTold(event="returns_chain_tensioned"),)))["returns_zero"]
    assert {"stop_before_reaching_in", "running_machine_clear"} <= set(zero.cautions)


@pytest.mark.parametrize(
    ("event", "last", "due", "code"),
    [
        ({"hours_ago": 5}, {"hours_ago": 9}, "due_now", "event_since"),
        ({"hours_ago": 9}, {"hours_ago": 5}, "not_due", "nothing_happened"),
        ({"hours_ago": 9}, {"hours_ago": 9}, "not_due", "event_same"),
        ({"days": 2}, {"days": 3}, "due_now", "event_since"),
        ({"days": 3}, {"days": 2}, "not_due", "nothing_happened"),
        ({"days": 2}, {"hours_ago": 5}, "due_now", "event_untold"),
        ({}, {"hours_ago": 5}, "due_now", "event_untold"),
        ({"hours_ago": 5, "days": 2}, {"hours_ago": 5, "days": 3}, "due_now", "event_since"),
        ({"hours_ago": 5}, {"never": True}, "due_now", "never"),
        ({"hours_ago": 5}, None, "due_now", "event"),
    ],
)
def test_an_event_counts_unless_the_task_was_done_since(
    event: dict[str, Any], last: dict[str, Any] | None, due: str, code: str
) -> None:
    def moment(told: dict[str, Any]) -> dict[str, Any]:
        days = told.get("days")
        rest = {name: value for name, value in told.items() if name != "days"}
        return rest if days is None else rest | {"date": TODAY - datetime.timedelta(days=days)}

    told = () if last is None else (DoneTold(task="spreader_end_stops", **moment(last)),)
    happened = (EventTold(event="spreader_linkage_worked_on", **moment(event)),)
    one = seen(ask(today=TODAY, events=happened, last_done=told))["spreader_end_stops"]
    assert one.due == due
    assert codes(one)[0] == code


def test_the_meter_says_the_same_as_hours_ago() -> None:
    by_meter = ask(hours_now=1240.3, last_done=(DoneTold(task="belts", at_hours=1198.2),))
    assert by_meter == ask(hours_now=1240.3, last_done=(done("belts", 42.1),))


def test_two_equal_readings_of_the_meter_are_the_same_time() -> None:
    event = EventTold(event="returns_chain_tensioned", at_hours=1190.1)
    answer = ask(hours_now=1240.2, events=(event,), last_done=(DoneTold(task="returns_zero", at_hours=1190.1),))
    assert codes(seen(answer)["returns_zero"]) == ["event_same", "interval_open"]


def test_what_was_never_told_is_unknown_and_never_done_is_due() -> None:
    assert {one.due for one in seen(ask()).values()} == {"unknown"}
    never = ask(last_done=tuple(DoneTold(task=task, never=True) for task in TASKS))
    assert {one.due for one in seen(never).values()} == {"due_now"}


def test_a_date_does_not_tell_hours_nor_hours_a_date() -> None:
    one = seen(ask(today=TODAY, last_done=(done("belts", days_ago=1),)))["belts"]
    assert (one.due, codes(one)) == ("unknown", ["hours_untold"])
    other = seen(ask(last_done=(done("yield_weighed", 5),)))["yield_weighed"]
    assert (other.due, codes(other)) == ("unknown", ["days_untold"])


def test_a_task_whose_fitting_was_not_spoken_of_says_how_it_stands_if_fitted() -> None:
    answer = seen(ask(fitted=(), events=(EventTold(event="spreader_linkage_worked_on"),)))
    one = answer["spreader_end_stops"]
    assert (one.due, one.if_fitted, codes(one)[0]) == ("unknown", "due_now", "fitting_untold")
    assert answer["belts"].if_fitted is None


def test_the_class_rules_out_what_such_machines_have_not() -> None:
    axial = seen(ask(machine_class="axial", fitted=()))
    assert [task for task, one in axial.items() if one.due == "not_fitted"] == [
        "walker_speed_maximum",
        "separation_rotor_speed_maximum",
    ]
    assert codes(axial["walker_speed_maximum"]) == ["class_without"]


def test_what_it_rests_on_and_waits_for_is_told() -> None:
    answer = ask(
        events=(EventTold(event="new_crop"), EventTold(event="tyres_changed")),
        last_done=(done("elevator_chains", 85), done("cut_width", 0)),
    )
    load = seen(answer)["yield_weighed"]
    assert load.waits_for == ("cut_width", "header_height", "ground_speed", "moisture_reading")
    assert load.rests_on == ("elevator_chains",)  # 15 h are left of 100
    assert [one.task.id for one in answer.now].index("yield_weighed") > 2


def test_the_first_sentence_says_what_to_begin_with_and_how_the_machine_stands() -> None:
    answer = ask(events=(EventTold(event="foreign_object"),))
    assert answer.say.code == "relearning.say.now"
    assert answer.say.params["first"] == answer.now[0].task.names
    assert answer.steps[0].tasks[0] == answer.now[0].task.id
    assert ask().say.code == "relearning.say.unknown"
    fresh = [DoneTold(task=task, hours_ago=0, date=TODAY) for task in TASKS]
    assert ask(today=TODAY, last_done=tuple(fresh)).say.code == "relearning.say.nothing"
    older = [replace(one, hours_ago=45.0, date=TODAY - datetime.timedelta(days=5)) for one in fresh]
    soon = ask(today=TODAY, last_done=tuple(older))
    assert soon.say.code == "relearning.say.soon"
    assert [one.task.id for one in soon.soon] == ["belts"]


def test_cautions_are_those_of_what_is_due_and_end_with_the_manual() -> None:
    answer = ask(events=(EventTold(event="foreign_object"),))
    given_codes = [caution.code for caution in answer.cautions]
    assert given_codes[0] == "caution.stop_before_reaching_in"
    assert given_codes[-1] == "caution.machine_manual_first"
    assert len(given_codes) == len(set(given_codes))
    assert [one.code for one in ask().cautions] == ["caution.licensed_practice", "caution.machine_manual_first"]


def test_hours_decide_and_days_where_hours_do_not() -> None:
    assert relation(Moment(5.0, None), Moment(None, 3)) == "untold"
    assert relation(Moment(5.0, 3), Moment(5.0, 3)) == "same"
    assert relation(Moment(5.0, 3), Moment(5.0, 2)) == "before"
    assert relation(Moment(4.0, 3), Moment(5.0, 3)) == "since"


# --- refusals


def on(days_ago: int) -> datetime.date:
    return TODAY - datetime.timedelta(days=days_ago)


REFUSED: dict[str, tuple[dict[str, Any], type[ServiceError], str, str]] = {
    "unknown class": ({"machine_class": "sickle"}, UnknownName, "machine_class", ""),
    "unknown fitting": ({"fitted": ("horn",)}, UnknownName, "fitted.0", ""),
    "unknown missing fitting": ({"not_fitted": ("horn",)}, UnknownName, "not_fitted.0", ""),
    "fitted and not": (
        {"fitted": ("yield_sensor",), "not_fitted": ("yield_sensor",)},
        Contradiction,
        "fitted.0",
        "reason.fitted_and_not",
    ),
    "fitting of another class": (
        {"fitted": ("walker_speed_sensor",), "machine_class": "axial"},
        Contradiction,
        "fitted.0",
        "reason.class_without_fitting",
    ),
    "unknown event": ({"events": (EventTold(event="full_moon"),)}, UnknownName, "events.0.event", ""),
    "unknown part": (
        {"events": (EventTold(event="belt_replaced", part="horn"),)},
        UnknownName,
        "events.0.part",
        "",
    ),
    "part of an event without parts": (
        {"events": (EventTold(event="new_crop", part="fan"),)},
        Contradiction,
        "events.0.part",
        "reason.event_without_parts",
    ),
    "event of what is not fitted": (
        {"events": (EventTold(event="sieve_actuator_worked_on"),), "not_fitted": ("sieve_actuators",), "fitted": ()},
        Contradiction,
        "events.0.event",
        "reason.event_without_fitting",
    ),
    "part that is not fitted": (
        {"events": (EventTold(event="sensor_worked_on", part="yield"),), "not_fitted": ("yield_sensor",), "fitted": ()},
        Contradiction,
        "events.0.part",
        "reason.event_without_fitting",
    ),
    "part of another class": (
        {
            "events": (EventTold(event="belt_replaced", part="walkers"),),
            "machine_class": "twin_axial",
            "fitted": (),
        },
        Contradiction,
        "events.0.part",
        "reason.class_without_part",
    ),
    "unknown task": ({"last_done": (DoneTold(task="polish", never=True),)}, UnknownName, "last_done.0.task", ""),
    "task twice": (
        {"last_done": (done("belts", 5), done("belts", 6))},
        Contradiction,
        "last_done.0.task",
        "reason.task_given_twice",
    ),
    "done without the fitting": (
        {"last_done": (done("yield_weighed", 5),), "not_fitted": ("yield_sensor",), "fitted": ()},
        Contradiction,
        "last_done.0.task",
        "reason.done_without_fitting",
    ),
    "never and when": (
        {"last_done": (DoneTold(task="belts", never=True, hours_ago=3),)},
        Contradiction,
        "last_done.0.never",
        "reason.never_and_when",
    ),
    "neither never nor when": (
        {"last_done": (DoneTold(task="belts"),)},
        InvalidInput,
        "last_done.0",
        "reason.when_missing",
    ),
    "hours twice": (
        {"hours_now": 100, "events": (EventTold(event="new_crop", hours_ago=3, at_hours=97),)},
        Contradiction,
        "events.0.hours_ago",
        "reason.both_given",
    ),
    "meter without now": (
        {"events": (EventTold(event="new_crop", at_hours=97),)},
        InvalidInput,
        "hours_now",
        "reason.hours_now_missing",
    ),
    "meter ahead": (
        {"hours_now": 90, "events": (EventTold(event="new_crop", at_hours=97),)},
        Contradiction,
        "events.0.at_hours",
        "reason.hours_ahead",
    ),
    "older than the machine": (
        {"hours_now": 90, "last_done": (done("belts", 97),)},
        Contradiction,
        "last_done.0.hours_ago",
        "reason.older_than_machine",
    ),
    "date without today": (
        {"last_done": (DoneTold(task="belts", date=TODAY),)},
        InvalidInput,
        "today",
        "reason.today_missing",
    ),
    "date ahead": (
        {"today": TODAY, "last_done": (DoneTold(task="belts", date=on(-1)),)},
        Contradiction,
        "last_done.0.date",
        "reason.date_ahead",
    ),
    "hours against dates": (
        {"today": TODAY, "last_done": (done("belts", 30, 5), done("elevator_chains", 20, 9))},
        Contradiction,
        "last_done.1.date",
        "reason.hours_against_dates",
    ),
    "more hours than a day has": (
        {"today": TODAY, "last_done": (done("belts", 73, 2),)},
        Contradiction,
        "last_done.0.date",
        "reason.hours_too_many",
    ),
    "more hours than lie between": (
        {"today": TODAY, "last_done": (done("belts", 5, 2), done("elevator_chains", 55, 3))},
        Contradiction,
        "last_done.1.date",
        "reason.hours_too_many",
    ),
    "another revision": ({"revision": "1999.1.1"}, UnknownName, "revision", ""),
}


@pytest.mark.parametrize(("told", "kind", "field", "reason"), REFUSED.values(), ids=REFUSED.keys())
def test_what_cannot_be_is_refused(told: dict[str, Any], kind: type[ServiceError], field: str, reason: str) -> None:
    with pytest.raises(kind) as refused:
        ask(**told)
    assert type(refused.value) is kind
    assert refused.value.field == field
    assert refused.value.facts.get("reason", "") == reason


def test_a_table_without_the_file_says_so() -> None:
    with pytest.raises(NotCovered):
        what_to_relearn(replace(TABLE, relearn=None), RelearnQuestion())


def test_hours_and_days_at_the_edge_of_what_can_be_are_taken() -> None:
    at_edge = (done("belts", 72, 2), done("elevator_chains", 96, 3))
    assert seen(ask(today=TODAY, last_done=at_edge))["belts"].due == "due_now"


# --- promises for every history

NAMES = event_names(FILE)
hours = st.integers(0, 200).map(float)


@st.composite
def events(draw: st.DrawFn) -> EventTold:
    event, _, part = draw(st.sampled_from(sorted(NAMES))).partition(".")
    return EventTold(event=event, part=part or None, hours_ago=draw(st.none() | hours))


@st.composite
def questions(draw: st.DrawFn) -> RelearnQuestion:
    tasks = draw(st.lists(st.sampled_from(TASKS), unique=True))
    told = [
        DoneTold(task=task, never=True) if draw(st.integers(0, 4)) == 0 else done(task, draw(hours)) for task in tasks
    ]
    fitted = draw(st.lists(st.sampled_from(FITTINGS), unique=True))
    return RelearnQuestion(
        fitted=tuple(fitted), events=tuple(draw(st.lists(events(), max_size=6))), last_done=tuple(told)
    )


def strength(one: TaskSeen) -> int:
    return STRENGTH[one.if_fitted or one.due]


@relaxed
@given(questions(), events())
def test_an_event_more_makes_nothing_less_due(question: RelearnQuestion, event: EventTold) -> None:
    before = seen(what_to_relearn(TABLE, question))
    after = seen(what_to_relearn(TABLE, replace(question, events=(*question.events, event))))
    assert set(before) == set(after) == set(TASKS)
    assert {task for task in before if strength(after[task]) < strength(before[task])} == set()


@relaxed
@given(questions(), st.integers(0, 150))
def test_hours_more_make_nothing_less_due(question: RelearnQuestion, more: int) -> None:
    """The machine runs on: what was done is longer ago, and so is what happened."""
    older = replace(
        question,
        events=tuple(
            replace(one, hours_ago=None if one.hours_ago is None else one.hours_ago + more) for one in question.events
        ),
        last_done=tuple(
            replace(one, hours_ago=None if one.hours_ago is None else one.hours_ago + more)
            for one in question.last_done
        ),
    )
    before, after = (seen(what_to_relearn(TABLE, one)) for one in (question, older))
    assert {task for task in before if strength(after[task]) < strength(before[task])} == set()


@relaxed
@given(questions(), st.sampled_from(TASKS), st.integers(1, 150))
def test_a_task_done_longer_ago_is_not_less_due(question: RelearnQuestion, task: str, more: int) -> None:
    older = replace(
        question,
        last_done=tuple(
            replace(one, hours_ago=one.hours_ago + more) if one.task == task and one.hours_ago is not None else one
            for one in question.last_done
        ),
    )
    before, after = (seen(what_to_relearn(TABLE, one))[task] for one in (question, older))
    assert strength(after) >= strength(before)


@relaxed
@given(questions())
def test_the_order_keeps_every_precedence_and_never_goes_back_to_a_machine_state(question: RelearnQuestion) -> None:
    answer = what_to_relearn(TABLE, question)
    for each in (answer.now, answer.soon, answer.unknown):
        order = [one.task.id for one in each]
        for one in each:
            place = order.index(one.task.id)
            assert [name for name in one.task.after if name in order and order.index(name) > place] == []
            assert [name for name in one.waits_for if order.index(name) > place] == []
    states = [state.id for state in FILE.state]
    places = [states.index(one.task.state) for one in answer.now]
    assert places == sorted(places)
    assert [task for step in answer.steps for task in step.tasks] == [one.task.id for one in answer.now]


@relaxed
@given(questions(), st.randoms(use_true_random=False))
def test_the_order_of_what_is_told_and_saying_it_twice_change_nothing(question: RelearnQuestion, chance: Any) -> None:
    turned = [list(one) for one in (question.events * 2, question.last_done, question.fitted * 2)]
    for one in turned:
        chance.shuffle(one)
    other = replace(
        question, events=tuple(turned[0]), last_done=tuple(turned[1]), fitted=tuple(dict.fromkeys(turned[2]))
    )
    one, two = what_to_relearn(TABLE, question), what_to_relearn(TABLE, other)
    assert {task: (s.due, s.next_due, s.waits_for) for task, s in seen(one).items()} == {
        task: (s.due, s.next_due, s.waits_for) for task, s in seen(two).items()
    }
    assert [s.task.id for s in one.now] == [s.task.id for s in two.now]


@relaxed
@given(questions())
def test_precedence_holds_where_the_file_stands_the_other_way_round(question: RelearnQuestion) -> None:
    turned = replace(TABLE, relearn=FILE.model_copy(update={"task": FILE.task[::-1]}))
    for each in (what_to_relearn(turned, question).now, what_to_relearn(turned, question).unknown):
        order = [one.task.id for one in each]
        assert [
            (before, one.task.id)
            for one in each
            for before in one.task.after
            if before in order and order.index(before) > order.index(one.task.id)
        ] == []


def test_an_event_that_was_told_twice_is_one_reason() -> None:
    twice = (EventTold(event="tyres_changed", hours_ago=9), EventTold(event="tyres_changed"))
    assert codes(seen(ask(events=twice, last_done=(done("ground_speed", 20),)))["ground_speed"]) == ["event_untold"]


@pytest.mark.parametrize("name", sorted(NAMES))
def test_every_event_reaches_a_task(name: str) -> None:
    """All done just before, then the event: something becomes due that was not."""
    event, _, part = name.partition(".")
    fresh = tuple(DoneTold(task=task, hours_ago=9, date=TODAY) for task in TASKS)
    answer = ask(
        today=TODAY, last_done=fresh, events=(EventTold(event=event, part=part or None, hours_ago=8, date=TODAY),)
    )
    assert answer.now or answer.soon


@pytest.mark.parametrize("task", TASKS)
def test_every_task_is_reached(task: str) -> None:
    fresh = tuple(DoneTold(task=one, hours_ago=5, date=TODAY) for one in TASKS)
    begun = ask(today=TODAY, last_done=fresh, events=(EventTold(event="season_start", hours_ago=4),))
    assert task in {one.task.id for one in begun.now}
