"""The next adjustment: what is wrong, what was tried, and the one change to make now.

Inside: the order of the answer (rule out mistakes, undo a failure, come inside the envelope, gain,
or leave it) and what is said of a change. Outside: units of the settings (`adjustment_values`), reading
the question (`adjustment_state`), the belief (`adjustment_model`, `domain.advice_model`), the choice (`domain.advice`).
"""

from collections.abc import Iterator

from service.domain.advice import choose, is_calm, worth
from service.domain.advice_model import believe
from service.domain.advice_signs import settle
from service.domain.advice_types import Belief, Choice, Policy
from service.domain.types import Message, Quantity
from service.knowledge.influence import InfluenceTable
from service.knowledge.table import KnowledgeTable
from service.usecases.adjustment_change import ChangeFrame, change_of, gain_interval_pct, value_after
from service.usecases.adjustment_checks import operating_checks
from service.usecases.adjustment_model import SPEED, known_signs, outcome_priors, policy
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
from service.usecases.settings_types import StartingSettings
from service.usecases.starting_settings import recommend

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
    belief = _believed(table, question, start, state)
    how = policy(influence)
    calm = is_calm(belief, state.here, state.amounts.by_outcome, how)
    choice = choose(belief, state.levers, state.trials, how, calm=calm)
    checks = operating_checks(influence, question, start, crop, state)
    frame = ChangeFrame(influence, crop, question, start, state, belief)
    change = change_of(frame, choice.best) if choice.best is not None else None
    kind: Kind = "check" if checks else "change" if change is not None else "leave"
    distance = _distance(influence)
    return NextAdjustment(
        kind=kind,
        say=_say(kind, checks, change, _leaving(choice, calm=calm), distance.value),
        checks=checks,
        change=change,
        alternatives=tuple(_alternatives(state, choice, how, calm=calm)),
        check_after=distance,
        look_at=() if change is None else change.look_at,
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


def _believed(table: KnowledgeTable, question: AdjustmentQuestion, start: StartingSettings, state: State) -> Belief:
    """What the table says, settled with what this machine has shown."""
    influence, group = table.influence, table.crop(start.crop).group
    speed = next(knob for knob in state.knobs if knob.answer.id == SPEED)
    names = [lever.name for lever in state.levers]
    priors = outcome_priors(
        influence,
        names,
        start.machine_class,
        group,
        question.conditions.priority,
        speed.step / speed.answer.start,
    )
    prior = believe(priors, influence.file.method.start_sd.value)
    signs = known_signs(influence, prior.outcomes, names, start.machine_class, group, state.tell_tales)
    return settle(prior, state.now, state.past, signs, state.levers, state.trials).belief


def _pair(kind: Kind, change: Change | None) -> Message:
    """Ask for both sides of the change that is made anyway, else for one on purpose."""
    if kind == "change" and change is not None:
        return Message("pair.ask_both_sides", {"setting": change.names})
    return Message("pair.ask_any")


def _distance(influence: InfluenceTable) -> CheckDistance:
    figure = influence.file.method.check_distance
    return CheckDistance(Quantity(figure.value, figure.unit), figure.low, figure.high, proof(figure))


def _say(
    kind: Kind, checks: tuple[OperatingCheck, ...], change: Change | None, leaving: str, distance: Quantity
) -> Message:
    then = None if change is None else _change_in_words(change, distance)
    if kind != "check":
        return Message(leaving) if then is None else then
    first = checks[0]
    if then is None:
        return Message("adjust.check_first", {"check": first.what})
    if change is not None and (first.code, change.setting) == ("ground_speed_out_of_range", SPEED):
        return then  # the same thing, with figures
    return Message("adjust.check_then", {"check": first.what, "change": then})


def _change_in_words(change: Change, distance: Quantity) -> Message:
    ends = {"from": Quantity(change.from_value, change.unit), "to": Quantity(change.to_value, change.unit)}
    facts: dict[str, object] = {"setting": change.names, "distance": distance, **ends}
    if change.reason == "undo":
        return Message("adjust.undo", facts)
    if change.reason == "outside_envelope":
        return Message(f"adjust.outside_envelope_{change.direction}", facts)
    facts["way"] = Message(f"way.{change.setting}_{change.direction}")
    if not change.same:
        return Message("adjust.change", facts)
    turns = {"turns_from": change.same[0].from_value, "turns_to": change.same[0].to_value}
    return Message("adjust.change_turns", {**facts, **turns})


def _leaving(choice: Choice, *, calm: bool) -> str:
    """Return the code of why the settings are left alone."""
    if choice.exhausted:
        return "adjust.leave_exhausted"
    return "adjust.leave_near_target" if calm else "adjust.leave"


def _alternatives(state: State, choice: Choice, how: Policy, *, calm: bool) -> Iterator[Alternative]:
    knobs = {knob.answer.id: knob for knob in state.knobs}
    for move in (move for move in choice.others if move.gain.mean > 0):
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
            worthwhile=worth(move.gain, how, calm=calm, first=not state.trials),
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
