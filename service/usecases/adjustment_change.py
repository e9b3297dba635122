"""What is said of one change: values, why, expected effects, what moves along, when to take it back.

Inside: a chosen move as the caller reads it. Outside: the choice (`domain.advice`).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from service.domain.advice_model import effects
from service.domain.advice_types import Belief, Effect, Move
from service.domain.types import Message, Quantity
from service.knowledge.influence import InfluenceTable
from service.knowledge.schema import CropFile
from service.units import DECIMALS
from service.usecases.adjustment_amounts import tolerable_pct
from service.usecases.adjustment_model import TIME, pulls_of
from service.usecases.adjustment_state import Knob, State
from service.usecases.adjustment_types import (
    AdjustmentQuestion,
    Change,
    ExpectedEffect,
    LinkedChange,
    LookAt,
    SameChange,
)
from service.usecases.adjustment_values import turns
from service.usecases.provenance import proof
from service.usecases.settings_types import StartingSettings

_Z80 = 1.2815515655446004
_UNCHANGED = 0.005  # factors nearer to 1 than this are not told as a change
_COUNTS = 0.002  # share of the cost that makes an outcome a reason
_REASONS = 3  # outcomes told as helped, and as many as harmed; all of them stand in the effects


@dataclass(frozen=True, slots=True)
class ChangeFrame:
    """Everything that telling a change needs."""

    influence: InfluenceTable
    crop: CropFile
    question: AdjustmentQuestion
    start: StartingSettings
    state: State
    belief: Belief


def value_after(knob: Knob, steps: float) -> float:
    """Return the setting after so many steps, rounded as it is served and inside the envelope."""
    decimals = DECIMALS[knob.answer.unit]
    value = round(knob.now + steps * knob.step, decimals)
    outside = not knob.answer.low <= knob.now <= knob.answer.high
    if outside:  # coming back in, the end itself
        value = knob.answer.low if knob.now < knob.answer.low else knob.answer.high
    return min(max(value, knob.answer.low), knob.answer.high)


def gain_interval_pct(move: Move) -> tuple[float, float]:
    """Return the 80 % interval of the expected gain, percent of the cost now."""
    return 100 * (move.gain.mean - _Z80 * move.gain.sd), 100 * (move.gain.mean + _Z80 * move.gain.sd)


def change_of(frame: ChangeFrame, move: Move) -> Change:
    """Tell a move."""
    place = next(k for k, lever in enumerate(frame.state.levers) if lever.name == move.lever)
    knob, here = frame.state.knobs[place], frame.state.here
    there = (*here[:place], move.to_steps, *here[place + 1 :])
    found = effects(frame.belief, here, there)
    after = _undone(frame, knob) if move.reason == "undo" else value_after(knob, move.steps)
    low, high = gain_interval_pct(move)
    told = tuple(_told(frame, move, effect) for effect in found)
    return Change(
        setting=move.lever,
        names=knob.names,
        direction="up" if move.steps > 0 else "down",
        unit=knob.answer.unit,
        from_value=knob.now,
        to_value=after,
        step=knob.step,
        steps=move.steps,
        reason=move.reason,
        gain_pct=100 * move.gain.mean,
        gain_low_pct=low,
        gain_high_pct=high,
        doubt_pct=-100 * (move.gain.mean + sum(effect.cost_change for effect in found)),
        why=(*_why(frame, move, found), *_overruled(knob, told)),
        effects=told,
        same=tuple(_same(knob, after)),
        linked=tuple(_linked(frame, knob, after)),
        undo_when=tuple(_undo_when(frame, move, found)),
        look_at=tuple(_look_at(frame, move, found)),
        lever=knob.entry.id,
        proof=proof(knob.entry),
        local=knob.answer.local,
    )


def _undone(frame: ChangeFrame, knob: Knob) -> float:
    past = frame.question.history[-1]
    return min(max(past.from_value, knob.answer.low), knob.answer.high)


def _why(frame: ChangeFrame, move: Move, found: list[Effect]) -> Iterator[Message]:
    if move.reason != "gain":
        yield Message(f"why.{move.reason}")
    for tell, pull in pulls_of(frame.state.tell_tales, move.lever):
        if pull.direction == ("up" if move.steps > 0 else "down"):
            yield Message("why.tell_tale", {"sign": Message(f"tell_tale.{tell.id}")})
    ranked = sorted(found, key=lambda effect: effect.cost_change)
    helped = [effect for effect in ranked if effect.cost_change <= -_COUNTS and effect.factor < 1]
    harmed = [effect for effect in reversed(ranked) if effect.cost_change >= _COUNTS and effect.factor > 1]
    for code, effects_told in (("why.helps", helped), ("why.costs", harmed)):
        for effect in effects_told[:_REASONS]:
            change = Quantity(round(100 * abs(effect.factor - 1), 1), "%")
            yield Message(code, {"outcome": frame.influence.outcome(effect.outcome).names, "change": change})


def _overruled(knob: Knob, told: Sequence[ExpectedEffect]) -> Iterator[Message]:
    """Say where the machine's own history has turned the sign of the table."""
    for effect in told:
        if effect.overruled:
            yield Message("why.history_overrules", {"setting": knob.names, "outcome": effect.names})


def _told(frame: ChangeFrame, move: Move, effect: Effect) -> ExpectedEffect:
    row = frame.influence.effect(move.lever, effect.outcome, frame.start.machine_class, frame.crop.group)
    known = row or (None if effect.outcome == TIME else frame.influence.file.unrelated)
    moved = effect.factor - 1
    direction = "unchanged" if abs(moved) < _UNCHANGED else "rises" if moved > 0 else "falls"
    return ExpectedEffect(
        outcome=effect.outcome,
        names=frame.influence.outcome(effect.outcome).names,
        direction=direction,  # type: ignore[arg-type]
        change_pct=100 * moved,
        low_pct=100 * (effect.factor_low - 1),
        high_pct=100 * (effect.factor_high - 1),
        amount_now=effect.amount_now,
        cost_change_pct=100 * effect.cost_change,
        row=row.id if row is not None else None,
        overruled=row is not None and direction != "unchanged" and row.sign * move.steps * moved < 0,
        proof=proof(known) if known is not None else None,
    )


def _same(knob: Knob, after: float) -> Iterator[SameChange]:
    """Yield the change in rpm, in proportion to the table's start."""
    same = turns(knob.answer)
    if same is not None:
        before, then = (Quantity(v * same.start.value / knob.answer.start, same.start.unit) for v in (knob.now, after))
        yield SameChange(same.code, before, then)


def _linked(frame: ChangeFrame, knob: Knob, after: float) -> Iterator[LinkedChange]:
    """Yield the setting that moves along; it keeps its ratio, inside its own envelope."""
    name = knob.entry.moves_with
    answer = next((setting for setting in frame.start.settings if setting.id == name), None)
    if answer is None:
        return
    now = frame.question.standing.get(answer.id, answer.start)
    kept = round(now * after / knob.now, DECIMALS[answer.unit])
    yield LinkedChange(answer.id, answer.unit, now, min(max(kept, answer.low), answer.high))


def _look_at(frame: ChangeFrame, move: Move, found: list[Effect]) -> Iterator[LookAt]:
    """Yield what the change should help most and what it should harm most, with the place to look."""
    best, worst = (pick(found, key=lambda effect: effect.cost_change) for pick in (min, max))
    stops = [tell.stop_when for tell, _ in pulls_of(frame.state.tell_tales, move.lever)]
    names = [best.outcome if best.cost_change < 0 else None, worst.outcome if worst.cost_change > 0 else None, *stops]
    for name in dict.fromkeys(name for name in names if name is not None):
        outcome = frame.influence.outcome(name)
        if outcome.look is not None:
            yield LookAt(name, outcome.names, outcome.look)


def _undo_when(frame: ChangeFrame, move: Move, found: list[Effect]) -> Iterator[Message]:
    if move.reason == "undo":
        return
    if move.reason == "outside_envelope":  # back would be outside again
        yield Message("undo.stay_inside")
        return
    best = min(found, key=lambda effect: effect.cost_change)
    if best.cost_change < 0:
        yield Message("undo.no_better", {"outcome": frame.influence.outcome(best.outcome).names})
    worst = max(found, key=lambda effect: effect.cost_change)
    if worst.cost_change > _COUNTS and worst.outcome != TIME:
        yield _limit(frame, move, worst, found)
    stops = [tell.stop_when for tell, _ in pulls_of(frame.state.tell_tales, move.lever)]
    for name in dict.fromkeys(stop for stop in stops if stop not in (None, worst.outcome, best.outcome)):
        yield Message("undo.side_effect", {"outcome": frame.influence.outcome(str(name)).names})


def _limit(frame: ChangeFrame, move: Move, worst: Effect, found: list[Effect]) -> Message:
    """Say from which amount a side effect eats what the others gain, or is more than the change should bring."""
    outcome = frame.influence.outcome(worst.outcome)
    tolerable = tolerable_pct(outcome, frame.crop, frame.question.conditions.use)
    gained = worst.cost_change - sum(
        effect.cost_change for effect in found
    )  # by the others, as a share of the cost now
    if tolerable is None or gained <= 0:
        return Message("undo.side_effect", {"outcome": outcome.names})
    weights = {name: float(weight) for name, weight in zip(frame.belief.outcomes, frame.belief.weights, strict=True)}
    cost = sum(weights[effect.outcome] * effect.amount_now for effect in found)
    eaten = worst.amount_now + gained * cost / weights[worst.outcome]
    brought = max(worst.amount_now * worst.factor_high, 1.0)  # up to its limit it is not too much
    limit = Quantity(round(min(eaten, brought) * tolerable, 2), "%")
    code = "over" if eaten <= brought else "at_limit" if brought == 1.0 else "unexpected"
    return Message(f"undo.side_effect_{code}", {"outcome": outcome.names, "limit": limit})
