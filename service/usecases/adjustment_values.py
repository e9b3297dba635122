"""Settings as the caller wrote them, in the units of the table.

Inside: which settings this machine has and which of them a change may be told of, the unit of each
value, physical limits, refusals. Outside: where the values lie in their envelope (`adjustment_state`).

A setting comes in its metric unit, in that of the United States, or, where the table says it in
turns as well, in rpm: drums by their diameter, the fan by the fan laws from the table's start.
"""

from collections.abc import Mapping
from dataclasses import replace

from service.errors import Contradiction, InvalidInput, OutOfRange, UnknownName
from service.knowledge.influence import InfluenceTable
from service.knowledge.table import KnowledgeTable
from service.units import TO_US, convert
from service.usecases.adjustment_types import AdjustmentQuestion, PastChange, SettingTold
from service.usecases.settings_types import Equivalent, SettingAnswer, StartingSettings

TURNS = "{rev}/min"


def turns(answer: SettingAnswer) -> Equivalent | None:
    """Return the same setting in rpm, None where it does not turn or nobody knows."""
    return next((same for same in answer.equivalents if same.start.unit == TURNS), None)


def in_metric(
    table: KnowledgeTable, start: StartingSettings, group: str, question: AdjustmentQuestion
) -> AdjustmentQuestion:
    """Return the same question with every setting in the unit of the table; `group` is the crop's.

    Raises
    ------
    UnknownName
        If the machine has no such setting, or it is not told in such a unit.
    OutOfRange
        If a value is physically impossible.
    Contradiction
        If a setting is told twice.
    InvalidInput
        If a change is told of a setting that only moves along.
    """
    answers = {answer.id: answer for answer in start.settings}
    current = told_in_metric(table, start, question.current_settings, "current_settings")
    history = tuple(_past(table, answers, group, past, f"history.{k}") for k, past in enumerate(question.history))
    return replace(question, current_settings=current, history=history)


def told_in_metric(
    table: KnowledgeTable, start: StartingSettings, told: tuple[SettingTold, ...], field: str
) -> tuple[SettingTold, ...]:
    """Return settings in the units of the table; `field` is the list they stand in.

    Raises
    ------
    UnknownName
        If the machine has no such setting, or it is not told in such a unit.
    OutOfRange
        If a value is physically impossible.
    Contradiction
        If a setting is told twice.
    """
    answers = {answer.id: answer for answer in start.settings}
    return tuple(_current(table, answers, told, k, field) for k in range(len(told)))


def _current(
    table: KnowledgeTable, answers: Mapping[str, SettingAnswer], told: tuple[SettingTold, ...], k: int, field: str
) -> SettingTold:
    here, where = told[k], f"{field}.{k}"
    if here.setting not in answers:
        raise UnknownName(f"{where}.setting", here.setting, sorted(answers))
    for j, other in enumerate(told[:k]):
        if other.setting == here.setting:
            fields = [f"{where}.setting", f"{field}.{j}.setting"]
            raise Contradiction(fields, "reason.setting_given_twice", setting=table.vocabulary[here.setting].names)
    value = _metric(table, answers[here.setting], here.value, here.unit, (where, "value"))
    return replace(here, value=value, unit=None)


def _past(
    table: KnowledgeTable, answers: Mapping[str, SettingAnswer], group: str, past: PastChange, where: str
) -> PastChange:
    movable = [name for name in answers if table.influence.lever(name, group) is not None]
    if past.setting not in movable:
        lead = _lead(table.influence, past.setting, movable, group) if past.setting in answers else None
        if lead is None:
            raise UnknownName(f"{where}.setting", past.setting, sorted(movable))
        names = {name: table.vocabulary[ident].names for name, ident in (("setting", past.setting), ("lead", lead))}
        raise InvalidInput(f"{where}.setting", reason="reason.moves_along", **names)
    answer = answers[past.setting]
    ends = (("from_value", past.from_value), ("to_value", past.to_value))
    before, after = (_metric(table, answer, value, past.unit, (where, name)) for name, value in ends)
    return replace(past, from_value=before, to_value=after, unit=None)


def _lead(influence: InfluenceTable, follower: str, movable: list[str], group: str) -> str | None:
    levers = {name: influence.lever(name, group) for name in movable}
    return next((name for name, lever in levers.items() if lever is not None and lever.moves_with == follower), None)


def _metric(
    table: KnowledgeTable, answer: SettingAnswer, value: float, unit: str | None, place: tuple[str, str]
) -> float:
    """Return a value in the setting's own unit; None stands for that unit."""
    where, name = place
    given = answer.unit if unit is None else unit
    same = turns(answer)
    own = [answer.unit, *([TO_US[answer.unit]] if answer.unit in TO_US else [])]
    if given in own:
        factor = convert(1, given, answer.unit)
    elif same is not None and given == TURNS:
        factor = answer.start / same.start.value
    else:
        raise UnknownName(f"{where}.unit", given, own if same is None else [*own, TURNS])
    limits = table.vocabulary[answer.id]
    if not limits.minimum <= value * factor <= limits.maximum:
        low, high = (float(f"{end / factor:.6g}") for end in (limits.minimum, limits.maximum))
        raise OutOfRange(f"{where}.{name}", value, low, high, given)
    return value * factor
