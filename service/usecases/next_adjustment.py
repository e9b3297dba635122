"""The next adjustment: what is wrong, what was tried, and the one change to make now.

Inside: the order of the answer (rule out mistakes, undo a failure, come inside the envelope, gain,
or leave it) and what is said of a change. Outside: units of the settings (`adjustment_values`), reading
the question (`adjustment_state`), the belief (`adjustment_model`, `domain.advice_model`), the choice (`domain.advice`).
"""

from collections.abc import Iterator

from service.domain.advice import choose
from service.domain.advice_model import believe, learn
from service.domain.advice_types import Choice, Policy
from service.domain.types import Message, Quantity
from service.knowledge.influence import InfluenceTable
from service.knowledge.table import KnowledgeTable
from service.usecases.adjustment_change import ChangeFrame, change_of, gain_interval_pct, value_after
from service.usecases.adjustment_checks import operating_checks
from service.usecases.adjustment_model import outcome_priors
from service.usecases.adjustment_state import State, read_state
from service.usecases.adjustment_types import (
    AdjustmentQuestion,
    Alternative,
    Change,
    CheckDistance,
    Kind,
    NextAdjustment,
    OperatingCheck,
)
from service.usecases.adjustment_values import in_metric
from service.usecases.local_types import LocalTable
from service.usecases.provenance import proof
from service.usecases.starting_settings import recommend

POLICY = Policy()
CAUTIONS = (
    "caution.machine_manual_first",
    "caution.stop_before_reaching_in",
    "caution.clear_blockages_stopped",
    "caution.lifted_header_locked",
    "caution.bystanders_behind",
)


def next_adjustment(
    table: KnowledgeTable, question: AdjustmentQuestion, local: LocalTable | None = None
) -> NextAdjustment:
    """Answer a question for the next adjustment, counted from local starts where an organisation has some.

    Raises
    ------
    UnknownName, OutOfRange, Contradiction, InvalidInput, OutsideWindow
        If the question says what cannot be.
    NotCovered
        If the table has no answer for this crop and class.
    """
    influence, crop = table.influence, table.crop(question.conditions.crop)
    start = recommend(table, question.conditions, local)
    question = in_metric(table, start, crop.group, question)
    state = read_state(table, question, start)
    speed = next(knob for knob in state.knobs if knob.answer.id == "ground_speed")
    priors = outcome_priors(
        influence,
        [lever.name for lever in state.levers],
        start.machine_class,
        crop.group,
        question.conditions.priority,
        speed.step / speed.answer.start,
    )
    belief = learn(believe(priors, influence.file.method.start_sd.value), state.seen)
    choice = choose(belief, state.levers, state.trials, POLICY)
    checks = operating_checks(influence, question, start, crop, state)
    frame = ChangeFrame(influence, crop, question, start, state, belief)
    change = change_of(frame, choice.best) if choice.best is not None else None
    kind: Kind = "check" if checks else "change" if change is not None else "leave"
    distance = _distance(influence)
    return NextAdjustment(
        kind=kind,
        say=_say(kind, checks, change, choice, distance.value),
        checks=checks,
        change=change,
        alternatives=tuple(_alternatives(state, choice)),
        check_after=distance,
        crop=crop.id,
        crop_names=crop.names,
        machine_class=start.machine_class,
        machine_names=start.machine_names,
        priority=question.conditions.priority,
        contradictions=state.contradictions,
        warnings=(*_warnings(influence, question, state), *start.warnings),
        cautions=tuple(Message(code) for code in CAUTIONS),
        notes=(_pair(kind, change),),
        revision=table.revision,
        digest=table.digest,
        local=local,
    )


def _pair(kind: Kind, change: Change | None) -> Message:
    """Ask for both sides of the change that is made anyway, else for one on purpose."""
    if kind == "change" and change is not None:
        return Message("pair.ask_both_sides", {"setting": change.names})
    return Message("pair.ask_any")


def _distance(influence: InfluenceTable) -> CheckDistance:
    figure = influence.file.method.check_distance
    return CheckDistance(Quantity(figure.value, figure.unit), figure.low, figure.high, proof(figure))


def _say(
    kind: Kind, checks: tuple[OperatingCheck, ...], change: Change | None, choice: Choice, distance: Quantity
) -> Message:
    if kind == "check":
        return Message("adjust.check_first", {"check": checks[0].what})
    if change is None:
        return Message("adjust.leave_exhausted" if choice.exhausted else "adjust.leave", {"distance": distance})
    facts = {
        "setting": change.names,
        "from": Quantity(change.from_value, change.unit),
        "to": Quantity(change.to_value, change.unit),
        "distance": distance,
    }
    return Message(f"adjust.{change.reason}_{change.direction}", facts)


def _alternatives(state: State, choice: Choice) -> Iterator[Alternative]:
    knobs = {knob.answer.id: knob for knob in state.knobs}
    for move in choice.others:
        knob = knobs[move.lever]
        low, high = gain_interval_pct(move)
        yield Alternative(
            setting=move.lever,
            names=knob.names,
            direction="up" if move.steps > 0 else "down",
            unit=knob.answer.unit,
            from_value=knob.now,
            to_value=value_after(knob, move.steps),
            gain_pct=100 * move.gain.mean,
            gain_low_pct=low,
            gain_high_pct=high,
            worthwhile=move.gain.mean >= POLICY.least_gain,
            lever=knob.entry.id,
            proof=proof(knob.entry),
            local=knob.answer.local,
        )


def _warnings(influence: InfluenceTable, question: AdjustmentQuestion, state: State) -> Iterator[Message]:
    missing = [knob.names for knob in state.knobs if not knob.given]
    if missing:
        yield Message("warning.settings_not_given", {"settings": missing})
    if not state.amounts.by_outcome:
        yield Message("warning.nothing_told")
    elif not state.amounts.measured:
        yield Message("warning.only_grades")
    over = {name for name, amount in state.amounts.by_outcome.items() if amount > 1}
    if {"unthreshed", "cracked"} <= over:
        names = [influence.outcome(name).names for name in ("unthreshed", "cracked")]
        yield Message("warning.opposite_symptoms", {"first": names[0], "second": names[1]})
