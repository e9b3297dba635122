"""What is wrong, on the scale where 1 is tolerable: measured percentages first, told grades where none is.

Inside: what is tolerable, reading symptoms and measurements, contradictions between them. Outside:
settings and history (`adjustment_state`).
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from service.domain.advice_scale import measured_log_amount, severity_log_amount
from service.domain.types import Message, Quantity
from service.errors import Contradiction, OutOfRange, UnknownName
from service.knowledge.influence import InfluenceTable
from service.knowledge.influence_schema import Outcome
from service.knowledge.schema import CropFile
from service.usecases.adjustment_types import Symptom

FOREIGN_MATTER = "foreign_matter_pct"
_SHARED_SD = 3.0  # a total split among kinds says little of each
_SEVERE, _SLIGHT = 3, 1
_HALF, _TWICE = 0.5, 2.0
_ALL_PCT = 100.5  # percentages are told rounded


@dataclass(frozen=True, slots=True)
class Amounts:
    """Amounts of outcomes, and where they come from.

    `measured` holds outcome, (percent, tolerable percent) and a factor on the usual spread; `told`
    holds outcome and grade.
    """

    by_outcome: dict[str, float]
    measured: tuple[tuple[str, tuple[float, float], float], ...]
    told: tuple[tuple[str, int], ...]
    contradictions: tuple[Message, ...]


def tolerable_pct(outcome: Outcome, crop: CropFile, use: str) -> float | None:
    """Return the percentage of an outcome that is tolerable, None for one that nobody measures."""
    if outcome.measured_as is None:
        return None
    if outcome.tolerable_share is not None and outcome.tolerable_of is not None:
        target = crop.targets.machine_loss if outcome.tolerable_of == "machine_loss" else crop.targets.header_loss
        return outcome.tolerable_share * target.value
    return {str(name): value for name, value in outcome.tolerable_pct.items()}[use]


def read_symptoms(
    influence: InfluenceTable, outcomes: Sequence[Outcome], symptoms: Sequence[Symptom], field: str
) -> tuple[Symptom, ...]:
    """Check symptoms and put each once, the worst grade first told.

    Raises
    ------
    UnknownName
        If a symptom or second sign is not known, or this crop cannot have it.
    OutOfRange
        If a grade is not 0 to 5.
    Contradiction
        If a symptom is both absent and present, or a second sign belongs to another symptom.
    """
    known = {outcome.id: outcome.names for outcome in outcomes if outcome.symptom}
    for k, told in enumerate(symptoms):
        if told.symptom not in known:
            raise UnknownName(f"{field}.{k}.symptom", told.symptom, sorted(known))
        if not 0 <= told.severity <= 5:
            raise OutOfRange(f"{field}.{k}.severity", told.severity, 0, 5, "1")
        for j, other in enumerate(symptoms[:k]):
            if other.symptom == told.symptom and (other.severity == 0) != (told.severity == 0):
                fields = [f"{field}.{k}.severity", f"{field}.{j}.severity"]
                raise Contradiction(fields, "reason.symptom_absent_and_present", symptom=known[told.symptom])
        if told.tell_tale is not None:
            _check_sign(influence, told, f"{field}.{k}")
    return tuple(symptoms)


def amounts_of(
    outcomes: Sequence[Outcome],
    crop: CropFile,
    use: str,
    measured: Mapping[str, float],
    symptoms: Sequence[Symptom],
    field: str,
) -> Amounts:
    """Put measurements and grades on one scale; a measured outcome needs no grade.

    Raises
    ------
    UnknownName
        If a measurement is not known.
    OutOfRange
        If a percentage is not 0 to 100.
    Contradiction
        If all dirt is given at once and by kind, or parts are more than the whole.
    """
    _check_measured(outcomes, measured, field)
    grades: dict[str, int] = {}
    for told in symptoms:
        grades[told.symptom] = max(told.severity, grades.get(told.symptom, 0))
    figures: dict[str, tuple[tuple[float, float], float]] = {}
    for outcome in outcomes:
        limit = tolerable_pct(outcome, crop, use)
        if limit is not None and outcome.measured_as in measured:
            figures[outcome.id] = (measured[str(outcome.measured_as)], limit), 1.0
    if FOREIGN_MATTER in measured:
        kinds = [o for o in outcomes if o.kind == "dirt"]
        named = [o for o in kinds if grades.get(o.id, 0) > 0] or kinds
        for outcome in named:
            limit = tolerable_pct(outcome, crop, use) or math.inf
            figures[outcome.id] = (measured[FOREIGN_MATTER] / len(named), limit), _SHARED_SD
    told_only = tuple((name, grade) for name, grade in grades.items() if name not in figures)
    by_outcome = {name: math.exp(measured_log_amount(*share)) for name, (share, _) in figures.items()}
    by_outcome |= {name: math.exp(severity_log_amount(grade)) for name, grade in told_only}
    listed = tuple((name, share, spread) for name, (share, spread) in figures.items())
    return Amounts(by_outcome, listed, told_only, tuple(_apart(outcomes, grades, figures)))


def _check_sign(influence: InfluenceTable, told: Symptom, field: str) -> None:
    sign = influence.tell_tale(str(told.tell_tale), f"{field}.tell_tale")
    fields, names = [f"{field}.tell_tale", f"{field}.symptom"], influence.outcome(told.symptom).names
    if sign.symptom != told.symptom:
        owner = influence.outcome(sign.symptom).names
        raise Contradiction(fields, "reason.tell_tale_of_another", tell_tale=sign.id, symptom=names, owner=owner)
    if told.severity == 0:
        fields = [fields[0], f"{field}.severity"]
        raise Contradiction(fields, "reason.tell_tale_of_nothing", tell_tale=sign.id, symptom=names)


def _check_measured(outcomes: Sequence[Outcome], measured: Mapping[str, float], field: str) -> None:
    keys = [str(outcome.measured_as) for outcome in outcomes if outcome.measured_as is not None]
    for name, value in measured.items():
        if name not in keys and name != FOREIGN_MATTER:
            raise UnknownName(f"{field}.{name}", name, [*keys, FOREIGN_MATTER])
        if not 0 <= value <= 100:
            raise OutOfRange(f"{field}.{name}", value, 0, 100, "%")
    kinds = [str(o.measured_as) for o in outcomes if o.kind == "dirt" and o.measured_as in measured]
    if FOREIGN_MATTER in measured and kinds:
        fields = [f"{field}.{FOREIGN_MATTER}", *(f"{field}.{kind}" for kind in kinds)]
        raise Contradiction(fields, "reason.dirt_given_twice")
    losses = [str(o.measured_as) for o in outcomes if o.kind == "loss" and o.measured_as in measured]
    parts = [name for name in measured if name not in losses]
    for names, reason in ((losses, "reason.losses_above_all"), (parts, "reason.parts_above_all")):
        if sum(measured[name] for name in names) > _ALL_PCT:
            raise Contradiction([f"{field}.{name}" for name in names], reason)


def _apart(
    outcomes: Sequence[Outcome],
    grades: Mapping[str, int],
    figures: Mapping[str, tuple[tuple[float, float], float]],
) -> Iterator[Message]:
    """Yield where a person and a measurement say opposite things."""
    for outcome in outcomes:
        if outcome.id not in grades or outcome.id not in figures:
            continue
        (value, limit), spread = figures[outcome.id]
        little = grades[outcome.id] >= _SEVERE and value < _HALF * limit
        much = grades[outcome.id] < _SLIGHT and value > _TWICE * limit
        if spread == 1.0 and (little or much):
            facts = {"outcome": outcome.names, "severity": grades[outcome.id], "measured": Quantity(value, "%")}
            yield Message("contradiction.grade_against_figure", {**facts, "tolerable": Quantity(limit, "%")})
