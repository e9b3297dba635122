"""What to rule out before any setting: mistakes that no setting mends.

Inside: which mistakes the symptoms, second signs and circumstances point to, less those ruled out
already. Outside: the choice of a setting.
"""

from collections.abc import Mapping, Sequence

from service.domain.types import Message, Quantity
from service.knowledge.influence import InfluenceTable
from service.knowledge.influence_schema import Condition, Mistake
from service.knowledge.schema import CropFile
from service.usecases.adjustment_state import State
from service.usecases.adjustment_types import AdjustmentQuestion, OperatingCheck
from service.usecases.provenance import proof
from service.usecases.settings_types import StartingSettings

_THIN = 0.6  # of the crop's reference yield
_WITHOUT_EFFECT = 2  # changes in a row that nobody noticed
_AMOUNT_OF_GRADE = 1.28  # grade 2 on the scale of amounts: more than acceptable


def operating_checks(
    influence: InfluenceTable,
    question: AdjustmentQuestion,
    start: StartingSettings,
    crop: CropFile,
    state: State,
) -> tuple[OperatingCheck, ...]:
    """Return what to rule out first; what a second sign names comes before what symptoms suggest.

    Raises
    ------
    UnknownName
        If a check that was done is not known.
    """
    done = {influence.mistake(name, f"checks_done.{k}").id for k, name in enumerate(question.checks_done)}
    circumstances = _circumstances(question, start, crop, state)
    named: list[OperatingCheck] = []
    suggested: list[OperatingCheck] = []
    for mistake in influence.file.mistake:
        if mistake.id in done or start.machine_class not in mistake.classes:
            continue
        signs = [tell for tell in state.tell_tales if tell.check == mistake.id]
        if signs:
            named.append(_check(mistake, [Message(f"tell_tale.{tell.id}") for tell in signs]))
            continue
        pointing = _pointing(influence, mistake, state)
        enough = len(pointing) >= mistake.needs if mistake.symptoms else mistake.condition is not None
        if enough and (mistake.condition is None or mistake.condition in circumstances):
            facts = [circumstances[mistake.condition]] if mistake.condition is not None else []
            suggested.append(_check(mistake, [*facts, *pointing]))
    return (*named, *suggested)


def _check(mistake: Mistake, pointing: list[Message]) -> OperatingCheck:
    return OperatingCheck(mistake.id, Message(f"check.{mistake.id}"), tuple(pointing), proof(mistake))


def _pointing(influence: InfluenceTable, mistake: Mistake, state: State) -> list[Message]:
    grades = dict(state.amounts.told)
    found = []
    for name in mistake.symptoms:
        graded = grades.get(name, 0) >= mistake.least_severity
        measured = name not in grades and state.amounts.by_outcome.get(name, 0.0) >= _AMOUNT_OF_GRADE
        if graded or measured:
            found.append(Message("pointing.symptom", {"outcome": influence.outcome(name).names}))
    return found


def _circumstances(
    question: AdjustmentQuestion, start: StartingSettings, crop: CropFile, state: State
) -> Mapping[Condition, Message]:
    found: dict[Condition, Message] = {}
    asked = question.conditions
    if asked.upper_sieve_design is None or asked.lower_sieve_design is None:
        found["sieve_not_declared"] = Message("pointing.sieve_not_declared")
    speed = next(setting for setting in start.settings if setting.id == "ground_speed")
    now = question.standing.get(speed.id, speed.start)
    if not speed.low <= now <= speed.high:
        ends = {"low": Quantity(speed.low, "km/h"), "high": Quantity(speed.high, "km/h")}
        found["ground_speed_outside"] = Message(
            "pointing.ground_speed_outside", {"value": Quantity(now, "km/h"), **ends}
        )
    reference = crop.physical.reference_yield.value
    if start.yield_t_ha < _THIN * reference:
        facts = {"yield": Quantity(start.yield_t_ha, "t/har"), "reference": Quantity(reference, "t/har")}
        found["thin_crop"] = Message("pointing.thin_crop", {**facts})
    if _nothing_noticed(state):
        found["settings_without_effect"] = Message("pointing.settings_without_effect")
    return found


def _nothing_noticed(state: State) -> bool:
    last: Sequence[str] = [trial.verdict for trial in state.trials[-_WITHOUT_EFFECT:]]
    return len(last) == _WITHOUT_EFFECT and set(last) == {"same"}
