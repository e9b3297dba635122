"""Working speed: how fast to drive, from drop tests at two ground speeds or more.

Inside: the whole answer: curve, cost by speed, the best speed and its flat part, steps from it, capacity at
a stated loss. Outside: reading the question (`speed_terms`, `drop_tests`, `hour_cost`, `speed_engine`), what
to warn of (`speed_words`).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from service.domain.curve_choice import Choice
from service.domain.curve_fit import Curve, interval_at
from service.domain.feed_curve import feed_at_loss, loss_at
from service.domain.losses import loss_for_share, loss_share_pct
from service.domain.types import Message
from service.domain.working_speed import BestSpeed, best_speed
from service.errors import Contradiction, OutOfRange
from service.knowledge.table import KnowledgeTable
from service.usecases.drop_tests import Reach, Reading, curve_choice, reach, read_tests, without_each
from service.usecases.hour_cost import read_hour
from service.usecases.hour_types import Hour
from service.usecases.provenance import proof
from service.usecases.speed_engine import Works, engine_at, read_works
from service.usecases.speed_terms import Terms, read_terms
from service.usecases.speed_words import CAUTIONS, warnings, why_form
from service.usecases.working_speed_types import (
    At,
    Best,
    Capacity,
    Engine,
    FormResult,
    Reached,
    SpeedQuestion,
    Split,
    Step,
    StepCode,
    TestResult,
    WorkingSpeed,
)

LINE_POINTS = 33


@dataclass(frozen=True, slots=True)
class Field:
    """Everything a speed is judged by: terms, cost of an hour, range, and the curve of all that is lost."""

    terms: Terms
    hour: Hour
    reach: Reach
    curve: Curve
    flat_pct: float

    def best(self, form: str, coefficients: Sequence[float]) -> BestSpeed:
        """Return the speed of least cost if loss went by this curve."""
        return best_speed(
            form,
            coefficients,
            price_per_kg=self.terms.price_per_t / 1000,
            cost_per_h=self.hour.machine_per_h + self.hour.delay_per_h,
            cutting_h_ha=self.terms.cutting_h_ha,
            standing_h_ha=self.terms.standing_h_ha,
            low_km_h=self.reach.low,
            high_km_h=self.reach.high,
            tolerance_pct=self.flat_pct,
        )

    def at(self, speed_km_h: float) -> At:
        """Return loss, rate and cost at a ground speed."""
        loss = loss_at(self.curve.form, self.curve.coefficients, speed_km_h)
        harvested = self.terms.yield_t_ha * 1000
        low = high = None
        if self.curve.covariance is not None:
            interval = interval_at(self.curve, speed_km_h)
            # no grain grows on the ground: a limit of the curve below zero is zero
            low, high = (loss_share_pct(max(0.0, end), harvested) for end in (interval.low, interval.high))
        hours = self.terms.hours_per_ha(speed_km_h)
        machine, delay = self.hour.machine_per_h * hours, self.hour.delay_per_h * hours
        value = self.terms.price_per_t / 1000 * loss
        return At(
            ground_speed_km_h=speed_km_h,
            loss_kg_ha=loss,
            loss_pct=loss_share_pct(loss, harvested),
            loss_low_pct=low,
            loss_high_pct=high,
            area_rate_ha_h=1 / hours,
            cost=Split(machine, delay, value, machine + delay + value),
            extrapolated=self.reach.beyond_tests(speed_km_h),
        )


@dataclass(frozen=True, slots=True)
class Case:
    """A question as read: tests, curve of all that is lost with its rivals, curve of the machine's own loss."""

    readings: tuple[Reading, ...]
    field: Field
    caused: Choice
    machine: Curve
    works: Works | None
    power_limits: bool


def advise_speed(table: KnowledgeTable, question: SpeedQuestion) -> WorkingSpeed:
    """Answer a question for the working speed.

    Raises
    ------
    UnknownName
        If crop, machine class or revision is not known.
    Contradiction, InvalidInput, OutOfRange
        If statements exclude each other, something is missing, or a figure cannot be.
    """
    table.check_revision(question.revision)
    case = _read(table, question)
    terms, span = case.field.terms, case.field.reach
    best = _best(case)
    forms = _forms(case.field, case.caused)
    answer = WorkingSpeed(
        crop=terms.crop.id,
        crop_names=terms.crop.names,
        yield_t_ha=terms.yield_t_ha,
        bushel_lb=terms.crop.physical.bushel_mass.value if terms.crop.physical.bushel_mass else None,
        cut_width_m=terms.width_m,
        price_per_t=terms.price_per_t,
        currency=question.currency,
        scope="machine" if case.readings[0].header is None else "machine_and_header",
        stated_errors=case.readings[0].error is not None,
        tested_low_km_h=span.tested_low,
        tested_high_km_h=span.tested_high,
        step_km_h=span.step,
        range_low_km_h=span.low,
        range_high_km_h=span.high,
        tests=tuple(_test(case.field, one) for one in case.readings),
        forms=forms,
        why_form=why_form(case.caused, forms),
        best=best,
        steps=tuple(_steps(case.field, question, best)),
        hour=case.field.hour,
        capacity=_capacity(question, case.field, case.machine),
        engine=_engine(table, case, best),
        line=tuple(case.field.at(speed) for speed in _speeds(span)),
        warnings=(),
        cautions=tuple(Message(code) for code in CAUTIONS),
        revision=table.revision,
        digest=table.digest,
    )
    alike = table.economics.speed.forms_alike.value
    return replace(answer, warnings=tuple(warnings(answer, case.caused, terms, alike)))


def _read(table: KnowledgeTable, question: SpeedQuestion) -> Case:
    terms = read_terms(table, question)
    readings = read_tests(terms.crop, question, terms.yield_t_ha)
    works = read_works(table, question, terms)
    fuel = None if works is None else works.fuel_l_h
    money = {"yield_t_ha": terms.yield_t_ha, "price_per_t": terms.price_per_t}
    hour = read_hour(table, question, terms.crop, **money, fuel_l_h=fuel)
    if not (terms.price_per_t or hour.machine_per_h or hour.delay_per_h):
        price = "price_per_t" if question.price_per_bu is None else "price_per_bu"
        raise Contradiction([price, "cost_per_h"], "reason.nothing_costs")
    span, power_limits = _limited(reach(table, question, readings), works)
    caused = curve_choice(readings, [one.caused for one in readings], span, question.form)
    machine = caused
    if readings[0].header is not None:
        machine = curve_choice(readings, [one.machine for one in readings], span, question.form)
    field = Field(terms, hour, span, caused.candidates[0].curve, table.economics.speed.flat_cost.value)
    return Case(readings, field, caused, machine.candidates[0].curve, works, power_limits)


def _engine(table: KnowledgeTable, case: Case, best: Best) -> Engine | None:
    if case.works is None:
        return None
    speed = best.at.ground_speed_km_h
    return engine_at(table, case.works, case.field.terms, speed, limit_counts=case.power_limits)


def _limited(span: Reach, works: Works | None) -> tuple[Reach, bool]:
    """End the range where the caller's engine is used up; tests that were faster overrule the model."""
    if works is None or not works.own_power or not span.tested_high < works.limit_km_h < span.high:
        return span, False
    return replace(span, high=works.limit_km_h), True


def _speeds(span: Reach) -> list[float]:
    width = span.high - span.low
    return [span.low + width * place / (LINE_POINTS - 1) for place in range(LINE_POINTS - 1)] + [span.high]


def _best(case: Case) -> Best:
    field, chosen, machine = case.field, case.caused.candidates[0], case.machine
    found = field.best(chosen.curve.form, chosen.curve.coefficients)
    others = without_each(case.readings, chosen, field.reach)
    speeds = [] if others is None else [field.best(chosen.curve.form, one).speed_km_h for one in others]
    lost = loss_at(machine.form, machine.coefficients, found.speed_km_h)
    grain = field.terms.grain_t_h(found.speed_km_h, lost)
    return Best(
        at=field.at(found.speed_km_h),
        edge=found.edge,
        flat_low_km_h=found.flat_low_km_h,
        flat_high_km_h=found.flat_high_km_h,
        flat_pct=field.flat_pct,
        left_out_low_km_h=min(speeds, default=None),
        left_out_high_km_h=max(speeds, default=None),
        grain_t_h=grain,
        straw_and_chaff_t_h=field.terms.grain_t_h(found.speed_km_h, 0.0) * field.terms.straw_and_chaff_per_grain,
        field_efficiency_pct=field.terms.efficiency_pct(found.speed_km_h),
    )


def _forms(field: Field, choice: Choice) -> tuple[FormResult, ...]:
    least = choice.candidates[0].score
    results = []
    for place, one in enumerate(choice.candidates):
        best = field.best(one.curve.form, one.curve.coefficients)
        score = one.score / least if one.score is not None and least else None
        coefficients = one.curve.coefficients
        results.append(FormResult(one.curve.form, place == 0, coefficients, score, best.speed_km_h, best.cost_per_ha))
    return tuple(results)


def _test(field: Field, reading: Reading) -> TestResult:
    return TestResult(
        ground_speed_km_h=reading.speed_km_h,
        machine_loss_kg_ha=reading.machine,
        header_loss_kg_ha=reading.header,
        loss_kg_ha=reading.caused,
        loss_pct=loss_share_pct(reading.caused, field.terms.yield_t_ha * 1000),
        below=reading.machine == 0,
        at=field.at(reading.speed_km_h),
    )


def _steps(field: Field, question: SpeedQuestion, best: Best) -> list[Step]:
    """One step either way from the best speed, and from each tested speed to the next."""
    at, step = best.at.ground_speed_km_h, field.reach.step
    steps = []
    if at - step >= field.reach.low:
        steps.append(_step(field, question, "slower", at, at - step))
    if at + step <= field.reach.high:
        steps.append(_step(field, question, "faster", at, at + step))
    speeds = sorted({test.ground_speed_km_h for test in question.drop_tests})
    return steps + [_step(field, question, "between_tests", low, high) for low, high in pairwise(speeds)]


def _step(field: Field, question: SpeedQuestion, code: StepCode, start: float, end: float) -> Step:
    before, after = field.at(start), field.at(end)
    time = after.cost.machine + after.cost.delay - before.cost.machine - before.cost.delay
    loss = after.cost.loss - before.cost.loss
    area = question.area_left_ha
    hours = None if area is None else area * (1 / after.area_rate_ha_h - 1 / before.area_rate_ha_h)
    total = None if area is None else area * (time + loss)
    return Step(code, start, end, time, loss, time + loss, hours, total)


def _capacity(question: SpeedQuestion, field: Field, machine: Curve) -> Capacity:
    figure = field.terms.crop.targets.machine_loss
    level = figure.value if question.loss_level_pct is None else question.loss_level_pct
    how = proof(figure) if question.loss_level_pct is None else None
    try:
        loss = loss_for_share(level, field.terms.yield_t_ha * 1000)
        speed = feed_at_loss(machine.form, machine.coefficients, loss)
    except OutOfRange:
        return Capacity(level, how, "not_rising", None, None, None, None, extrapolated=False)
    if not field.reach.low <= speed <= field.reach.high:
        side: Reached = "above_range" if speed > field.reach.high else "below_range"
        return Capacity(level, how, side, None, None, None, None, extrapolated=False)
    return Capacity(
        level_pct=level,
        level_proof=how,
        reached="inside",
        ground_speed_km_h=speed,
        grain_t_h=field.terms.grain_t_h(speed, loss),
        straw_and_chaff_t_h=field.terms.grain_t_h(speed, 0.0) * field.terms.straw_and_chaff_per_grain,
        area_rate_ha_h=1 / field.terms.hours_per_ha(speed),
        extrapolated=field.reach.beyond_tests(speed),
    )
