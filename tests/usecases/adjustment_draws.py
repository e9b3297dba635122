"""Questions for the next adjustment drawn by a seeded generator: any crop, class, field, settings and complaint."""

from typing import get_args

import numpy as np

from service.knowledge.schema import Priority, Straw, Use
from service.knowledge.table import KnowledgeTable
from service.usecases.adjustment_types import AdjustmentQuestion, PastChange, SettingTold, Symptom
from service.usecases.settings_types import SettingAnswer, SettingsQuestion
from service.usecases.starting_settings import recommend

_USES: tuple[Use, ...] = ("feed", "milling", "seed")
_GRADES, _SHARES_PCT = 6, (0.0, 0.1, 0.3, 0.6, 1.0, 2.0, 4.0, 12.0)


def cases(table: KnowledgeTable) -> list[tuple[str, str]]:
    """Every crop and class that the table sets, in a fixed order."""
    return sorted(
        (crop.id, machine_class)
        for crop in table.crops.values()
        if crop.coverage["starting_settings"].level != "none"
        for machine_class in crop.coverage["starting_settings"].classes
    )


def draw_question(table: KnowledgeTable, seed: int, *, changes: int = 0) -> AdjustmentQuestion:
    """Draw a question; its settings stand anywhere inside their ranges, one in ten somewhat outside."""
    rng = np.random.default_rng(seed)
    every = cases(table)
    crop_id, machine_class = every[int(rng.integers(len(every)))]
    crop = table.crops[crop_id]
    low, high = crop.moisture.best_low.value, crop.moisture.best_high.value
    conditions = SettingsQuestion(
        crop=crop_id,
        machine_class=machine_class,
        grain_moisture_pct=round(float(rng.uniform(low, high)), 1),
        yield_t_ha=round(crop.physical.reference_yield.value * float(rng.uniform(0.4, 1.6)), 2),
        straw_condition=get_args(Straw)[int(rng.integers(len(get_args(Straw))))],
        use=_USES[int(rng.integers(len(_USES)))],
        priority=get_args(Priority)[int(rng.integers(len(get_args(Priority))))],
        upper_sieve_design="standard_lip",
        lower_sieve_design="standard_lip",
    )
    answers = recommend(table, conditions).settings
    told = {answer.id: _value(rng, answer) for answer in answers if rng.random() < 0.6}
    past = []
    movable = [answer for answer in answers if table.influence.lever(answer.id, crop.group) is not None]
    for _ in range(changes):
        answer = movable[int(rng.integers(len(movable)))]
        before, after = told.get(answer.id, answer.start), _value(rng, answer)
        if before == after:
            continue
        seen = [_seen(table, crop.group, rng) for _ in range(2)]
        past.append(
            PastChange(
                setting=answer.id,
                from_value=before,
                to_value=after,
                effect=("better", "same", "worse")[int(rng.integers(3))],
                measured_before=seen[0][0],
                measured_after=seen[1][0],
            )
        )
        told[answer.id] = after
    measured, symptoms = _seen(table, crop.group, rng)
    standing = tuple(SettingTold(setting=name, value=value) for name, value in told.items())
    return AdjustmentQuestion(
        conditions=conditions, current_settings=standing, symptoms=symptoms, measured=measured, history=tuple(past)
    )


def _value(rng: np.random.Generator, answer: SettingAnswer) -> float:
    wide = 0.2 if rng.random() < 0.1 else 0.0
    span = answer.high - answer.low
    return max(float(rng.uniform(answer.low - wide * span, answer.high + wide * span)), 1e-3)


def _seen(table: KnowledgeTable, group: str, rng: np.random.Generator) -> tuple[dict[str, float], tuple[Symptom, ...]]:
    """Up to four measured shares and up to four grades, half of these with a second sign where there is one."""
    influence = table.influence
    outcomes = [o for o in influence.outcomes if o.symptom and (not o.groups or group in o.groups)]
    symptoms = []
    for place in rng.choice(len(outcomes), int(rng.integers(1, 5)), replace=False):
        outcome, grade = outcomes[int(place)], int(rng.integers(_GRADES))
        signs = [tell.id for tell in influence.file.tell_tale if tell.symptom == outcome.id]
        told = signs[int(rng.integers(len(signs)))] if signs and grade and rng.random() < 0.5 else None
        symptoms.append(Symptom(symptom=outcome.id, severity=grade, tell_tale=told))
    names = [str(o.measured_as) for o in outcomes if o.measured_as is not None]
    chosen = rng.choice(len(names), int(rng.integers(0, 5)), replace=False)
    return {names[int(k)]: float(rng.choice(_SHARES_PCT)) for k in chosen}, tuple(symptoms)
