"""What a working-speed answer says in words: why this form, what to be careful with.

Inside: which message holds when. Outside: the sentences (`text`), the figures (`working_speed`).
"""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final, Literal

from service.domain.curve_choice import Choice
from service.domain.feed_curve import slope_at
from service.domain.types import Message, Quantity
from service.usecases.speed_terms import Terms
from service.usecases.working_speed_types import FormResult, WorkingSpeed

CAUTIONS: Final = (
    "caution.speed_not_for_money_alone",
    "caution.loss_frames_machine_stopped",
    "caution.stop_before_reaching_in",
    "caution.bystanders_behind",
    "caution.machine_manual_first",
)
_FEW_TESTS: Final = 5
_SCATTER: Final = 2.0  # variance over that of the stated errors: more is not chance
_SAMPLES: Final = 32


def why_form(choice: Choice, forms: Sequence[FormResult]) -> Message:
    """Return why the first form is first."""
    compared = sum(one.score is not None for one in choice.candidates)
    return Message(f"speed.form_{choice.reason}", {"form": _form(forms[0].form), "forms": compared})


def warnings(answer: WorkingSpeed, choice: Choice, terms: Terms, alike: float) -> Iterator[Message]:
    """Yield what the reader must know before he drives by the answer."""
    yield from _about_the_curve(answer, choice, alike)
    yield from _about_the_best(answer)
    yield from _about_the_money(answer, terms)
    engine = answer.engine
    if engine is not None and engine.limit_km_h < answer.tested_high_km_h:
        facts = {"limit": _speed(engine.limit_km_h), "tested": _speed(answer.tested_high_km_h)}
        yield Message("speed.tests_beat_power", facts)


def _about_the_curve(answer: WorkingSpeed, choice: Choice, alike: float) -> Iterator[Message]:
    first, *others = answer.forms
    if choice.reason == "two_tests" and others:
        yield Message("speed.two_tests", _compared(first, others[0]))
    elif others and others[0].score is not None and others[0].score < alike:
        yield Message("speed.forms_alike", _compared(first, others[0]))
    if choice.reason != "two_tests" and len(answer.tests) < _FEW_TESTS:
        yield Message("speed.few_tests", {"tests": len(answer.tests)})
    if any(test.below for test in answer.tests):
        yield Message("speed.nothing_found")
    if _falls(answer, first):
        yield Message("speed.falls")
    curve = choice.candidates[0].curve
    if answer.stated_errors and curve.dispersion is not None and curve.dispersion > _SCATTER:
        yield Message("speed.scatter", {"ratio": round(curve.dispersion, 1)})
    if answer.scope == "machine":
        yield Message("speed.no_header")


def _falls(answer: WorkingSpeed, form: FormResult) -> bool:
    low, width = answer.tested_low_km_h, answer.tested_high_km_h - answer.tested_low_km_h
    places = [low + width * place / _SAMPLES for place in range(_SAMPLES + 1)]
    means: dict[float, list[float]] = {}
    for test in answer.tests:
        means.setdefault(test.ground_speed_km_h, []).append(test.loss_kg_ha)
    steps = pairwise(sum(means[speed]) / len(means[speed]) for speed in sorted(means))
    return any(after < before for before, after in steps) or any(
        slope_at(form.form, form.coefficients, place) < 0 for place in places
    )


def _compared(first: FormResult, other: FormResult) -> dict[str, object]:
    return {
        "form": _form(first.form),
        "best": _speed(first.best_speed_km_h),
        "other": _form(other.form),
        "other_best": _speed(other.best_speed_km_h),
    }


def _about_the_best(answer: WorkingSpeed) -> Iterator[Message]:
    best, step = answer.best, _speed(answer.step_km_h)
    facts = {"best": _speed(best.at.ground_speed_km_h), "step": step}
    if best.edge == "none" and best.at.extrapolated:
        low, high = _speed(answer.tested_low_km_h), _speed(answer.tested_high_km_h)
        yield Message("speed.extrapolated", {**facts, "low": low, "high": high})
    elif best.edge != "none":
        yield Message(f"speed.edge_{edge_of(answer)}", facts)


def edge_of(answer: WorkingSpeed) -> Literal["none", "low", "high", "power"]:
    """Say which end of the range the least cost lies at, if at one: the true best may lie beyond."""
    limited = answer.engine is not None and answer.engine.limit_counts
    return "power" if answer.best.edge == "high" and limited else answer.best.edge


def _about_the_money(answer: WorkingSpeed, terms: Terms) -> Iterator[Message]:
    if terms.usual_efficiency:
        yield Message("speed.usual_efficiency", {"share": Quantity(answer.best.field_efficiency_pct, "%")})
    if answer.hour.origin == "computed" and all(part.counted for part in answer.hour.parts):
        yield Message("speed.fixed_cost_counted")
    if answer.hour.delay_share_per_day is None:
        yield Message("speed.no_delay")


def _form(form: str) -> Message:
    return Message(f"curve.{form}")


def _speed(speed_km_h: float) -> Quantity:
    return Quantity(speed_km_h, "km/h")
