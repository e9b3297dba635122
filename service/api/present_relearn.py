"""What to relearn, the list of tasks and a belt's slip as answers in the reader's units and language."""

from typing import Any

from service.api.answers import Named, Note
from service.api.answers_relearn import (
    BeltSlipAnswer,
    EventOut,
    EventPartOut,
    FittingOut,
    MachineStateOut,
    NextDueOut,
    ReasonOut,
    RelearnAnswer,
    RelearnRuleOut,
    RelearnStepOut,
    RelearnTaskList,
    RelearnTaskOut,
    SlipLevelOut,
    TaskEntryOut,
)
from service.api.reader import Reader
from service.api.showing import Showing
from service.domain.types import Message
from service.knowledge.schema import LocalText
from service.knowledge.schema_relearn import MachineState, RelearnEvent, RelearnFile, RelearnRule, RelearnTask
from service.units import served
from service.usecases.belt_slip import BeltSlip, LevelSeen
from service.usecases.provenance import proof
from service.usecases.relearn import cautions_of, relearn_file
from service.usecases.relearn_rules import rules_of
from service.usecases.relearn_types import NextDue, Reason, Relearn, TaskSeen


def present_relearn(answer: Relearn, reader: Reader) -> RelearnAnswer:
    """Return what is to be done."""
    show = Showing(reader)
    states = {state.id: state for state in relearn_file(reader.table, reader.revision).state}
    return RelearnAnswer(
        knowledge=show.knowledge(),
        say=show.note(answer.say),
        steps=[
            RelearnStepOut(
                machine_state=_state(show, step.state), meaning=show.name(step.state.meaning), tasks=list(step.tasks)
            )
            for step in answer.steps
        ],
        now=[_task(show, one, states, place) for place, one in enumerate(answer.now, 1)],
        soon=[_task(show, one, states) for one in answer.soon],
        unknown=[_task(show, one, states) for one in answer.unknown],
        not_due=[_task(show, one, states) for one in answer.not_due],
        not_fitted=[_task(show, one, states) for one in answer.not_fitted],
        warnings=show.notes(answer.warnings),
        cautions=show.notes(answer.cautions),
        sources=show.references(),
    )


def _task(show: Showing, seen: TaskSeen, states: dict[str, MachineState], place: int | None = None) -> RelearnTaskOut:
    task = seen.task
    return RelearnTaskOut(
        **_said(show, task),
        due=seen.due,
        place=place,
        if_fitted=seen.if_fitted,
        machine_state=_state(show, states[task.state]),
        reasons=[_reason(show, reason) for reason in seen.reasons],
        waits_for=list(seen.waits_for),
        rests_on=list(seen.rests_on),
        next_due=None if seen.next_due is None else _next_due(show, seen.next_due),
        again_when=[_words(show, name) for name in seen.again_when],
        cautions=_codes(seen.cautions),
    )


def _said(show: Showing, task: RelearnTask) -> dict[str, Any]:
    """Return the fields that a task has in every answer."""
    return {
        "id": task.id,
        "name": show.name(task.names),
        "kind": task.kind,
        "how": show.name(task.how),
        "stale": show.name(task.stale),
        "see": task.see,
        **show.evidence(proof(task)),
    }


def _codes(cautions: tuple[str, ...]) -> list[str]:
    return [f"caution.{code}" for code in cautions]


def _state(show: Showing, state: MachineState) -> Named:
    return show.named(state.id, state.names)


def _words(show: Showing, name: Message | LocalText) -> str:
    return show.note(name).text if isinstance(name, Message) else show.name(name)


def _reason(show: Showing, reason: Reason) -> ReasonOut:
    return ReasonOut(
        note=show.note(reason.message),
        rule=reason.rule,
        because=None if reason.because is None else show.name(reason.because),
        evidence=None if reason.proof is None else show.evidence_part(reason.proof),
    )


def _next_due(show: Showing, left: NextDue) -> NextDueOut:
    return NextDueOut(
        hours=None if left.hours is None else show.amount(left.hours, "h"),
        days=None if left.days is None else show.amount(left.days, "d"),
    )


def present_relearn_tasks(reader: Reader) -> RelearnTaskList:
    """Return everything that a form needs."""
    show, file = Showing(reader), relearn_file(reader.table, reader.revision)
    share = file.figures.soon_share
    return RelearnTaskList(
        knowledge=show.knowledge(),
        tasks=[_entry(show, file, task) for task in file.task],
        events=[_event(show, event) for event in file.event],
        fittings=[FittingOut(id=one.id, name=show.name(one.names), classes=list(one.classes)) for one in file.fitting],
        machine_states=[
            MachineStateOut(
                id=one.id,
                name=show.name(one.names),
                meaning=show.name(one.meaning),
                cautions=_codes(tuple(one.cautions)),
            )
            for one in file.state
        ],
        soon_share=show.estimate(share.value, share.low, share.high, share.unit),
        cautions=_all_cautions(show, file),
        sources=show.references(),
    )


def _all_cautions(show: Showing, file: RelearnFile) -> list[Note]:
    codes = dict.fromkeys(code for task in file.task for code in cautions_of(file, task))
    return [show.note(Message(f"caution.{code}")) for code in codes]


def _entry(show: Showing, file: RelearnFile, task: RelearnTask) -> TaskEntryOut:
    return TaskEntryOut(
        **_said(show, task),
        machine_state=task.state,
        needs=task.needs,
        after=task.after,
        cautions=_codes(cautions_of(file, task)),
        rules=[_rule(show, rule) for rule in rules_of(file, task)],
    )


def _rule(show: Showing, rule: RelearnRule) -> RelearnRuleOut:
    interval = None
    if rule.interval is not None and rule.unit is not None:
        interval = show.estimate(rule.interval, rule.low, rule.high, rule.unit)
    return RelearnRuleOut(
        id=rule.id,
        on=rule.on,
        events=list(rule.events),
        interval=interval,
        because=show.name(rule.why),
        **show.evidence(proof(rule)),
    )


def _event(show: Showing, event: RelearnEvent) -> EventOut:
    parts = [
        EventPartOut(id=part.id, name=show.name(part.names), needs=part.needs, classes=list(part.classes))
        for part in event.parts
    ]
    return EventOut(
        id=event.id, name=show.name(event.names), meaning=show.name(event.meaning), needs=event.needs, parts=parts
    )


def present_slip(answer: BeltSlip, reader: Reader) -> BeltSlipAnswer:
    """Return how much the belt slips."""
    show = Showing(reader)
    slip = answer.slip_pct
    return BeltSlipAnswer(
        knowledge=show.knowledge(),
        say=show.note(answer.say),
        slip=show.estimate(slip.value, slip.low, slip.high, "%"),
        level=answer.level,
        sure=answer.sure,
        expected_speed=show.amount(answer.expected_rpm, "{rev}/min"),
        measured_speed=show.amount(answer.measured_rpm, "{rev}/min"),
        speed_ratio=None if answer.ratio is None else served(answer.ratio, "1"),
        error=show.amount(answer.error_pct, "%"),
        way=answer.way,
        heat=None if answer.heat_kw is None else show.amount(answer.heat_kw, "kW"),
        to_do=show.notes(answer.to_do),
        levels=[_level(show, one) for one in answer.levels],
        assumed_errors=[show.evidence_part(one) for one in answer.errors],
        warnings=show.notes(answer.warnings),
        cautions=show.notes(answer.cautions),
        sources=show.references(),
    )


def _level(show: Showing, one: LevelSeen) -> SlipLevelOut:
    return SlipLevelOut(
        level=one.level,
        name=show.text(f"belt_slip.level.{one.level}"),
        above=show.amount(one.above_pct, "%"),
        **show.evidence(one.proof),
    )
