"""What is said of one change: values, why, expected effects, what moves along, when to take it back.

Inside: a chosen move as the caller reads it. Outside: the choice (`domain.advice`).
"""

from collections.abc import Iterator
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
from service.usecases.adjustment_types import AdjustmentQuestion, Change, ExpectedEffect, LinkedChange, SameChange
from service.usecases.adjustment_values import turns
from service.usecases.provenance import proof
from service.usecases.settings_types import StartingSettings

_Z80 = 1.2815515655446004
_UNCHANGED = 0.005  # factors nearer to 1 than this are not told as a change
_COUNTS = 0.002  # share of the cost that makes an outcome a reason


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
        why=tuple(_why(frame, move, found)),
        effects=tuple(_told(frame, move.lever, effect) for effect in found),
        same=tuple(_same(knob, after)),
        linked=tuple(_linked(frame, knob, after)),
        undo_when=tuple(_undo_when(frame, move, found)),
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
    for effect in sorted(found, key=lambda effect: effect.cost_change):
        if abs(effect.cost_change) >= _COUNTS:
            names = frame.influence.outcome(effect.outcome).names
            change = Quantity(round(100 * abs(effect.factor - 1), 1), "%")
            code = "why.helps" if effect.cost_change < 0 else "why.costs"
            yield Message(code, {"outcome": names, "change": change})


def _told(frame: ChangeFrame, setting: str, effect: Effect) -> ExpectedEffect:
    row = frame.influence.effect(setting, effect.outcome, frame.start.machine_class, frame.crop.group)
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


def _undo_when(frame: ChangeFrame, move: Move, found: list[Effect]) -> Iterator[Message]:
    if move.reason == "undo":
        return
    best = min(found, key=lambda effect: effect.cost_change)
    if best.cost_change < 0:
        yield Message("undo.no_better", {"outcome": frame.influence.outcome(best.outcome).names})
    worst = max(found, key=lambda effect: effect.cost_change)
    if worst.cost_change > _COUNTS and worst.outcome != TIME:
        yield _limit(frame, move, worst, found)
    stops = [tell.stop_when for tell, _ in pulls_of(frame.state.tell_tales, move.lever)]
    for name in dict.fromkeys(stop for stop in stops if stop not in (None, worst.outcome)):
        yield Message("undo.side_effect", {"outcome": frame.influence.outcome(str(name)).names})


def _limit(frame: ChangeFrame, move: Move, worst: Effect, found: list[Effect]) -> Message:
    """Say from which amount a side effect eats what the others gain."""
    outcome = frame.influence.outcome(worst.outcome)
    tolerable = tolerable_pct(outcome, frame.crop, frame.question.conditions.use)
    gained = move.gain.mean + worst.cost_change  # by the others, as a share of the cost now
    if tolerable is None or gained <= 0:
        return Message("undo.side_effect", {"outcome": outcome.names})
    weights = {name: float(weight) for name, weight in zip(frame.belief.outcomes, frame.belief.weights, strict=True)}
    cost = sum(weights[effect.outcome] * effect.amount_now for effect in found)
    amount = worst.amount_now + gained * cost / weights[worst.outcome]
    limit = Quantity(round(amount * tolerable, 2), "%")
    return Message("undo.side_effect_over", {"outcome": outcome.names, "limit": limit})
