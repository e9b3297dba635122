"""Told effects keep the signs the table is sure of, as long as the machine has no history of its own."""

from service.errors import ServiceError
from service.knowledge.load import load_table
from service.usecases.next_adjustment import next_adjustment
from tests.usecases.adjustment_draws import draw_question

TABLE = load_table()
SURE = 2.0  # a row is sure of its sign where its slope is at least twice its spread
QUESTIONS = 250


def test_fewer_than_one_in_two_hundred_answers_tell_an_effect_against_the_table() -> None:
    answered, against = 0, []
    for seed in range(QUESTIONS):
        question = draw_question(TABLE, 7_000_000 + seed)
        try:
            answer = next_adjustment(TABLE, question)
        except ServiceError:
            continue
        if answer.change is None:
            continue
        answered += 1
        group = TABLE.crop(question.conditions.crop).group
        up = 1 if answer.change.direction == "up" else -1
        for effect in answer.change.effects:
            row = TABLE.influence.effect(answer.change.setting, effect.outcome, answer.machine_class, group)
            if row is not None and abs(row.slope) >= SURE * row.slope_sd and row.slope * up * effect.change_pct < -1e-6:
                against.append((seed, effect.outcome))
    assert answered >= QUESTIONS / 4
    assert len({seed for seed, _ in against}) < answered / 200, against
