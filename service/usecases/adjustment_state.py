"""The question of the next adjustment as levers, trials and things seen.

Inside: refusals, settings as steps from the table's start, amounts on the scale where 1 is tolerable,
history as trials. Outside: the prior (`adjustment_model`), the choice (`domain.advice`), words
beyond contradictions.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from service.domain.advice_history import CLOSE_STEPS, Step, replay, verdict
from service.domain.advice_scale import measured_log_amount, severity_log_amount
from service.domain.advice_types import ChangeSeen, LevelSeen, Lever, Position, Seen, Trial, Verdict
from service.domain.types import Message, Quantity
from service.errors import Contradiction, InvalidInput
from service.knowledge.influence import InfluenceTable
from service.knowledge.influence_schema import Lever as LeverEntry
from service.knowledge.influence_schema import Outcome, TellTale
from service.knowledge.schema import CropFile, LocalText
from service.knowledge.table import KnowledgeTable
from service.usecases.adjustment_amounts import Amounts, amounts_of, read_symptoms
from service.usecases.adjustment_model import sign_slopes
from service.usecases.adjustment_types import AdjustmentQuestion, PastChange
from service.usecases.settings_types import SettingAnswer, StartingSettings

_BELIEVED = 8.0  # steps outside the envelope that the model still speaks of
_EFFECT_LOG: dict[Verdict, float] = {"better": -0.12, "same": 0.0, "worse": 0.12}
_EFFECT_LOG_SD = 0.12
_NOTHING = Amounts({}, (), (), ())
_ABSENT_SD = 2.0  # not being told of something is half as sure as being told


@dataclass(frozen=True, slots=True)
class Knob:
    """A setting that may move: its lever in the table, the table's answer, where it stands."""

    entry: LeverEntry
    answer: SettingAnswer
    names: LocalText
    now: float
    given: bool

    @property
    def step(self) -> float:
        """One step in the setting's unit."""
        return self.answer.start * self.entry.step / 100 if self.entry.unit == "%" else self.entry.step

    def steps(self, value: float) -> float:
        """Return a value as steps from the table's start, no farther out than the model speaks of."""
        low, high = ((end - self.answer.start) / self.step for end in (self.answer.low, self.answer.high))
        return min(max((value - self.answer.start) / self.step, low - _BELIEVED), high + _BELIEVED)

    @property
    def lever(self) -> Lever:
        """Return the setting as the choice sees it."""
        ends = (self.steps(self.answer.low), self.steps(self.answer.high))
        return Lever(self.answer.id, self.steps(self.now), *ends, self.entry.max_steps)


@dataclass(frozen=True, slots=True)
class State:
    """Everything the choice needs, and what contradicts itself; `now` is seen here, `past` is what history tells."""

    knobs: tuple[Knob, ...]
    levers: tuple[Lever, ...]
    outcomes: tuple[Outcome, ...]
    amounts: Amounts
    tell_tales: tuple[TellTale, ...]
    trials: tuple[Trial, ...]
    now: Seen
    past: Seen
    contradictions: tuple[Message, ...]

    @property
    def here(self) -> Position:
        """Where the levers stand."""
        return tuple(lever.at_steps for lever in self.levers)


def read_state(table: KnowledgeTable, question: AdjustmentQuestion, start: StartingSettings) -> State:
    """Read and check a question, its settings in metric units, against the table's starting settings.

    Raises
    ------
    UnknownName, OutOfRange, Contradiction, InvalidInput
        If the question says what cannot be.
    """
    influence, crop, use = table.influence, table.crop(question.conditions.crop), question.conditions.use
    knobs = _knobs(table, question, start, crop)
    levers = tuple(knob.lever for knob in knobs)
    outcomes = tuple(outcome for outcome in influence.outcomes if not outcome.groups or crop.group in outcome.groups)
    told = read_symptoms(influence, outcomes, question.symptoms, "symptoms")
    amounts = amounts_of(outcomes, crop, use, question.measured, told, "measured")
    signs = [influence.tell_tale(symptom.tell_tale) for symptom in told if symptom.tell_tale is not None]
    tells = tuple(tell for tell in signs if not _denied(tell, amounts))
    steps = _replayed(levers, knobs, question.history)
    weights = influence.weights(question.conditions.priority)
    times = [_both_times(influence, outcomes, crop, use, past, k) for k, past in enumerate(question.history)]
    verdicts = [_verdict(past, *times[k], weights, k) for k, past in enumerate(question.history)]
    trials = tuple(
        Trial(past.setting, *_ends(knobs, past), judged, step.put_back, step.consistent)
        for past, judged, step in zip(question.history, verdicts, steps, strict=True)
    )
    here = tuple(lever.at_steps for lever in levers)
    trusted = [
        (_NOTHING, _NOTHING) if _clash(past, both, weights) else both
        for past, both in zip(question.history, times, strict=True)
    ]
    levels = _levels_now(influence, outcomes, here, amounts)
    now = Seen(levels, sign_slopes(influence, tells, [lever.name for lever in levers], here))
    contradictions = (
        *_outside(knobs),
        *_history_gaps(table, question.history, steps),
        *_effect_against_figures(table, question.history, times, weights),
        *_signs_denied(influence, signs, amounts),
        *amounts.contradictions,
    )
    past = _past(influence, levels, steps, trusted, verdicts)
    return State(knobs, levers, outcomes, amounts, tells, trials, now, past, contradictions)


def _knobs(
    table: KnowledgeTable, question: AdjustmentQuestion, start: StartingSettings, crop: CropFile
) -> tuple[Knob, ...]:
    knobs, standing = [], question.standing
    for answer in start.settings:
        entry = table.influence.lever(answer.id, crop.group)
        if entry is not None:
            now = standing.get(answer.id, answer.start)
            names = table.vocabulary[answer.id].names
            knobs.append(Knob(entry, answer, names, now, answer.id in standing))
    return tuple(knobs)


def _replayed(levers: Sequence[Lever], knobs: Sequence[Knob], history: Sequence[PastChange]) -> tuple[Step, ...]:
    for k, past in enumerate(history):
        if past.from_value == past.to_value:
            fields = [f"history.{k}.from_value", f"history.{k}.to_value"]
            raise Contradiction(fields, "reason.change_without_change", setting=_names(knobs, past))
    return replay(levers, [(past.setting, *_ends(knobs, past)) for past in history])


def _names(knobs: Sequence[Knob], past: PastChange) -> LocalText:
    return next(knob.names for knob in knobs if knob.answer.id == past.setting)


def _ends(knobs: Sequence[Knob], past: PastChange) -> tuple[float, float]:
    knob = next(knob for knob in knobs if knob.answer.id == past.setting)
    return knob.steps(past.from_value), knob.steps(past.to_value)


def _both_times(
    influence: InfluenceTable, outcomes: Sequence[Outcome], crop: CropFile, use: str, past: PastChange, k: int
) -> tuple[Amounts, Amounts]:
    found = []
    for time, measured, symptoms in (
        ("before", past.measured_before, past.symptoms_before),
        ("after", past.measured_after, past.symptoms_after),
    ):
        told = read_symptoms(influence, outcomes, symptoms, f"history.{k}.symptoms_{time}")
        found.append(amounts_of(outcomes, crop, use, measured, told, f"history.{k}.measured_{time}"))
    return found[0], found[1]


def _verdict(past: PastChange, before: Amounts, after: Amounts, weights: Mapping[str, float], k: int) -> Verdict:
    if past.effect is not None:
        return past.effect
    if not before.by_outcome.keys() & after.by_outcome.keys():
        raise InvalidInput(f"history.{k}.effect", reason="reason.effect_missing")
    return verdict(before.by_outcome, after.by_outcome, weights)


def _levels_now(
    influence: InfluenceTable, outcomes: Sequence[Outcome], here: Position, amounts: Amounts
) -> tuple[LevelSeen, ...]:
    untold = _untold(influence, outcomes, here, amounts) if amounts.by_outcome else ()
    return (*_levels(influence, here, amounts), *untold)


def _past(
    influence: InfluenceTable,
    now: Sequence[LevelSeen],
    steps: Sequence[Step],
    times: Sequence[tuple[Amounts, Amounts]],
    verdicts: Sequence[Verdict],
) -> Seen:
    levels: list[LevelSeen] = []
    changes = []
    for step, (before, after), judged in zip(steps, times, verdicts, strict=True):
        levels += _levels(influence, step.before, before)
        levels += _levels(influence, step.after, after)
        if not before.by_outcome.keys() & after.by_outcome.keys():
            changes.append(ChangeSeen(step.before, step.after, _EFFECT_LOG[judged], _EFFECT_LOG_SD))
    # what was measured after one change is what was measured before the next, or is seen now: it counts once
    return Seen(tuple(level for level in dict.fromkeys(levels) if level not in now), (), tuple(changes))


def _levels(influence: InfluenceTable, at: Position, amounts: Amounts) -> Iterator[LevelSeen]:
    method = influence.file.method
    for outcome, share, factor in amounts.measured:
        yield LevelSeen(outcome, at, measured_log_amount(*share), method.measured_log_sd.value * factor)
    for outcome, severity in amounts.told:
        yield LevelSeen(outcome, at, severity_log_amount(severity), method.severity_log_sd.value)


def _untold(
    influence: InfluenceTable, outcomes: Sequence[Outcome], at: Position, amounts: Amounts
) -> Iterator[LevelSeen]:
    """Yield what nobody mentioned, as probably absent."""
    spread = influence.file.method.severity_log_sd.value * _ABSENT_SD
    for outcome in outcomes:
        if outcome.symptom and outcome.id not in amounts.by_outcome:
            yield LevelSeen(outcome.id, at, severity_log_amount(0), spread)


def _outside(knobs: Sequence[Knob]) -> Iterator[Message]:
    for knob in knobs:
        low, high, unit = knob.answer.low, knob.answer.high, knob.answer.unit
        if not low - CLOSE_STEPS * knob.step <= knob.now <= high + CLOSE_STEPS * knob.step:
            facts = {"setting": knob.names, "value": Quantity(knob.now, unit)}
            ends = {"low": Quantity(low, unit), "high": Quantity(high, unit)}
            yield Message("contradiction.outside_envelope", {**facts, **ends})


def _history_gaps(table: KnowledgeTable, history: Sequence[PastChange], steps: Sequence[Step]) -> Iterator[Message]:
    for past, step in zip(history, steps, strict=True):
        if not step.consistent:
            unit = table.vocabulary[past.setting].unit
            facts = {"setting": table.vocabulary[past.setting].names, "value": Quantity(past.to_value, unit)}
            yield Message("contradiction.history_gap", facts)


def _denied(tell: TellTale, amounts: Amounts) -> list[str]:
    """Outcomes that are told to be wrong although the sign says that they are not."""
    return [name for name in tell.excludes if amounts.by_outcome.get(name, 0.0) > 1]


def _signs_denied(influence: InfluenceTable, signs: Sequence[TellTale], amounts: Amounts) -> Iterator[Message]:
    for tell in signs:
        for name in _denied(tell, amounts):
            facts = {"sign": Message(f"tell_tale.{tell.id}"), "outcome": influence.outcome(name).names}
            yield Message("contradiction.sign_against_symptom", facts)


def _clash(past: PastChange, times: tuple[Amounts, Amounts], weights: Mapping[str, float]) -> bool:
    """Whether the effect told and the amounts before and after say opposite things; the effect is taken then."""
    before, after = (amounts.by_outcome for amounts in times)
    if past.effect is None or not before.keys() & after.keys():
        return False
    return {past.effect, verdict(before, after, weights)} == {"better", "worse"}


def _effect_against_figures(
    table: KnowledgeTable,
    history: Sequence[PastChange],
    times: Sequence[tuple[Amounts, Amounts]],
    weights: Mapping[str, float],
) -> Iterator[Message]:
    for past, both in zip(history, times, strict=True):
        if _clash(past, both, weights):
            facts: dict[str, object] = {
                "setting": table.vocabulary[past.setting].names,
                "effect": Message(f"effect.{past.effect}"),
            }
            yield Message("contradiction.effect_against_figures", facts)
