"""A next adjustment as an answer in the reader's units and language."""

from typing import Any

from service.api.answers_adjustment import (
    AlternativeOut,
    ChangeOut,
    CheckDistanceOut,
    ExpectedEffectOut,
    LinkedSettingOut,
    LookAtOut,
    NextAdjustmentAnswer,
    OperatingCheckOut,
    SameChangeOut,
)
from service.api.present_settings import local_fields
from service.api.reader import Reader
from service.api.showing import Showing
from service.units import served
from service.usecases.adjustment_types import (
    Alternative,
    Change,
    ExpectedEffect,
    LinkedChange,
    NextAdjustment,
    OperatingCheck,
    SameChange,
)


def present_adjustment(answer: NextAdjustment, reader: Reader) -> NextAdjustmentAnswer:
    """Return the whole answer."""
    show = Showing(reader)
    first = 1 if answer.change is None else 2
    return NextAdjustmentAnswer(
        knowledge=show.knowledge(),
        kind=answer.kind,
        say=show.note(answer.say),
        checks=[_check(show, check) for check in answer.checks],
        change=None if answer.change is None else _change(show, answer.change),
        alternatives=[
            AlternativeOut(rank=rank, worthwhile=other.worthwhile, **_move(show, other))
            for rank, other in enumerate(answer.alternatives, first)
        ],
        check_after=_distance(show, answer),
        crop=show.named(answer.crop, answer.crop_names),
        machine_class=show.named(answer.machine_class, answer.machine_names),
        priority=answer.priority,
        contradictions=show.notes(answer.contradictions),
        warnings=show.notes(answer.warnings),
        cautions=show.notes(answer.cautions),
        sources=show.references(),
        local=show.local(),
        notes=show.notes(answer.notes),
    )


def _check(show: Showing, check: OperatingCheck) -> OperatingCheckOut:
    return OperatingCheckOut(
        code=check.code, note=show.note(check.what), pointing=show.notes(check.pointing), **show.evidence(check.proof)
    )


def _move(show: Showing, move: Change | Alternative) -> dict[str, Any]:
    """Return the fields of `MoveOut`."""
    return {
        "setting": move.setting,
        "name": show.name(move.names),
        "direction": move.direction,
        "from_value": show.amount(move.from_value, move.unit),
        "to_value": show.amount(move.to_value, move.unit),
        "gain": show.estimate(move.gain_pct, move.gain_low_pct, move.gain_high_pct, "%"),
        "lever": move.lever,
        **local_fields(show, move.local, move.unit),
        **show.evidence(move.proof),
    }


def _change(show: Showing, change: Change) -> ChangeOut:
    return ChangeOut(
        **_move(show, change),
        reason=change.reason,
        step=show.amount(change.step, change.unit),
        steps=served(change.steps, "1"),
        doubt=show.amount(change.doubt_pct, "%"),
        why=show.notes(change.why),
        effects=[_effect(show, effect) for effect in change.effects],
        equivalents=[_same(show, same) for same in change.same],
        linked=[_linked(show, linked) for linked in change.linked],
        undo_when=show.notes(change.undo_when),
    )


def _effect(show: Showing, effect: ExpectedEffect) -> ExpectedEffectOut:
    return ExpectedEffectOut(
        outcome=effect.outcome,
        name=show.name(effect.names),
        direction=effect.direction,
        change=show.estimate(effect.change_pct, effect.low_pct, effect.high_pct, "%"),
        amount_now=show.amount(effect.amount_now, "1"),
        cost_change=show.amount(effect.cost_change_pct, "%"),
        row=effect.row,
        overruled=effect.overruled,
        evidence=None if effect.proof is None else show.evidence_part(effect.proof),
    )


def _same(show: Showing, same: SameChange) -> SameChangeOut:
    before, after = (show.amount(end.value, end.unit) for end in (same.from_value, same.to_value))
    return SameChangeOut(code=same.code, name=show.text(f"equivalent.{same.code}"), from_value=before, to_value=after)


def _linked(show: Showing, linked: LinkedChange) -> LinkedSettingOut:
    return LinkedSettingOut(
        setting=linked.setting,
        name=show.name(show.reader.table.vocabulary[linked.setting].names),
        from_value=show.amount(linked.from_value, linked.unit),
        to_value=show.amount(linked.to_value, linked.unit),
    )


def _distance(show: Showing, answer: NextAdjustment) -> CheckDistanceOut:
    check = answer.check_after
    look_at = [
        LookAtOut(outcome=one.outcome, name=show.name(one.names), where=show.name(one.where)) for one in answer.look_at
    ]
    distance = show.estimate(check.value.value, check.low, check.high, check.value.unit)
    return CheckDistanceOut(distance=distance, look_at=look_at, **show.evidence(check.proof))
