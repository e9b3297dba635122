"""The hauling plan: how many carts or trucks, what they let the combines do, and what a tonne costs.

Inside: the whole answer. Outside: reading the question (`hauling_terms`), what to warn of (`hauling_words`),
waiting (`domain.hauling_chain`, `domain.hauling_simulation`).
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from service.domain.hauling_chain import haulers_needed, hauling_chain
from service.domain.hauling_simulation import HaulingSimulation, simulate_hauling
from service.domain.hauling_work import FieldWork, link_rates
from service.domain.intervals import scaled
from service.knowledge.hauling import findings
from service.knowledge.table import KnowledgeTable
from service.units import convert
from service.usecases.hauling_terms import Hauler, Terms, formula_gap, read_terms
from service.usecases.hauling_types import Exact, HaulingPlan, HaulingQuestion, Plan, PlanCost, RoundTimes
from service.usecases.hauling_words import CAUTIONS, bottleneck, decision, formula_words, warnings
from service.usecases.provenance import proof
from service.usecases.unloading_types import Known

# runs of a number of haulers, and tanks over all runs of a plan: what a second or so of computing allows
RUNS: Final = 8
TANKS: Final = 5000
# numbers of haulers that one plan begins with; it looks on while the best is the last of them
NUMBERS: Final = 7


def plan_hauling(table: KnowledgeTable, question: HaulingQuestion) -> HaulingPlan:
    """Answer a question on hauling.

    Raises
    ------
    UnknownName
        If crop, machine class, size or revision is not known.
    Contradiction, InvalidInput, OutOfRange, OutsideWindow
        If statements exclude each other, something is missing, or a figure cannot be.
    """
    table.check_revision(question.revision)
    terms, file = read_terms(table, question), table.hauling
    needed = _needed(terms)
    plans = _plans(terms, question, needed or len(terms.haulers))
    best = _best(terms, plans)
    queue = findings(file, "formula")[0]
    answer = HaulingPlan(
        crop=terms.crop.id,
        crop_names=terms.crop.names,
        yield_t_ha=terms.yield_t_ha,
        bushel_lb=None if terms.crop.physical.bushel_mass is None else terms.crop.physical.bushel_mass.value,
        currency=question.currency,
        combines=question.combines,
        decision=decision(terms, plans, best),
        bottleneck=bottleneck(terms, best),
        best=best,
        flat=_flat(terms, plans, best),
        needed=needed,
        round=_round(terms),
        tank_t=terms.work.tank_t,
        fill_min=convert(terms.work.fill_h, "h", "min"),
        plans=plans,
        formula=formula_words(terms),
        formula_proof=proof(queue),
        hour=terms.hour,
        used=terms.used,
        findings=tuple(Known(one.code, proof(one)) for one in findings(file, "plan", "formula")),
        warnings=(),
        cautions=CAUTIONS,
    )
    return replace(answer, warnings=(*terms.tank.warnings, *warnings(terms, answer)))


def _needed(terms: Terms) -> int | None:
    """Haulers that keep the combines going if nothing varies, of those that may join."""
    capacities = [one.capacity_t for one in terms.haulers]
    if terms.endless and len({one.kind for one in terms.haulers}) == 1:
        found = _round(terms)
        number = haulers_needed(found.total_min, found.load_min)
        return number if number <= len(capacities) else None
    for number in range(1, len(capacities) + 1):
        rates = link_rates(terms.work, capacities[:number])
        if rates.haulers_t_h >= rates.combines_t_h * (1 - 1e-12):
            return number
    return None


def _numbers(most: int, middle: int) -> range:
    """Numbers of haulers to look at: all of them where they are few, else those about the middle."""
    first = max(1, min(middle - NUMBERS // 2, most - NUMBERS + 1))
    return range(first, min(most, first + NUMBERS - 1) + 1)


def _round(terms: Terms) -> RoundTimes:
    """Times of a round of the first hauler; `load_min` is the time in which the combines fill it."""
    work, capacity = terms.work, terms.haulers[0].capacity_t
    found = work.round(capacity)
    way_h, store_h = work.out_h + work.back_h, work.service_h(found.payload_t)
    combines_t_h = link_rates(work, [capacity]).combines_t_h
    at_combine, way, store, total, load = (
        convert(hours, "h", "min")
        for hours in (found.cycle_h - way_h - store_h, way_h, store_h, found.cycle_h, found.payload_t / combines_t_h)
    )
    return RoundTimes(found.payload_t, found.unloadings, at_combine, way, store, total, load)


def _plans(terms: Terms, question: HaulingQuestion, middle: int) -> tuple[Plan, ...]:
    """Simulate the numbers about the middle, and on from there until the best has a worse neighbour on each side."""
    most = len(terms.haulers)
    numbers = _numbers(most, middle)
    tanks = max(40, TANKS // (RUNS * len(numbers)))
    plans = [_simulated(terms, question, number, tanks) for number in numbers]
    while True:
        best, first, last = _best(terms, plans), plans[0].haulers, plans[-1].haulers
        if best is plans[-1] and last < most:
            plans.append(_simulated(terms, question, last + 1, tanks))
        elif best is plans[0] and first > 1:
            plans.insert(0, _simulated(terms, question, first - 1, tanks))
        else:
            return tuple(plans)


def _simulated(terms: Terms, question: HaulingQuestion, number: int, tanks: int) -> Plan:
    haulers = terms.haulers[:number]
    found = simulate_hauling(terms.work, [one.capacity_t for one in haulers], tanks=tanks, runs=RUNS)
    return _plan(terms, question, haulers, found)


def _plan(terms: Terms, question: HaulingQuestion, haulers: Sequence[Hauler], found: HaulingSimulation) -> Plan:
    work, capacities = terms.work, [one.capacity_t for one in haulers]
    area_rate = found.grain_t_h.value / terms.yield_t_ha
    places = work.store_places is not None
    return Plan(
        haulers=len(haulers),
        capacity_t=sum(capacities),
        grain_t_h=found.grain_t_h,
        area_rate_ha_h=area_rate,
        cutting_share_pct=scaled(found.cutting_share, 100.0),
        field_efficiency_pct=100 * terms.efficiency * found.cutting_share.value,
        wait_min=convert(found.wait_h, "h", "min"),
        waiting_share_pct=100 * found.waiting_share.value,
        hauler_use_pct=100 * (1 - found.hauler_idle_share),
        store_use_pct=100 * found.store_busy_share if places else None,
        store_wait_min=convert(found.store_wait_h, "h", "min") if places else None,
        links=link_rates(work, capacities),
        exact=_exact(work, haulers),
        cost=_cost(terms, haulers, found.grain_t_h.value),
        hours_on_area=None if question.area_left_ha is None else question.area_left_ha / area_rate,
    )


def _exact(work: FieldWork, haulers: Sequence[Hauler]) -> Exact | None:
    """The formula, where it applies: haulers alike, one tank a trip, nobody waits at the store."""
    capacity = haulers[0].capacity_t
    if formula_gap(work, [one.capacity_t for one in haulers]) is not None:
        return None
    payload = work.round(capacity).payload_t
    # one that holds less than a tank takes that part of it, and comes that much more often
    part = payload / (work.unloading_t_h * work.emptying_h)
    # called with the full tank, so that the combine stands from the call until the tube is over the hauler
    found = hauling_chain(
        work.combines,
        len(haulers),
        work.fill_h * part,
        work.approach_h + work.docking_h + work.emptying_h * part,
        work.away_h(payload),
    )
    grain_t_h = found.tanks_per_h * payload
    cutting = grain_t_h / (work.combines * work.flow_t_h)
    return Exact(grain_t_h, 100 * cutting, convert(found.wait_h + work.approach_h, "h", "min"))


def _cost(terms: Terms, haulers: Sequence[Hauler], grain_t_h: float) -> PlanCost | None:
    if terms.hour is None:
        return None
    combines = terms.work.combines * terms.hour.machine_per_h / grain_t_h
    hired = sum(one.cost_per_h or 0.0 for one in haulers) / grain_t_h
    delay = terms.hour.delay_per_h / grain_t_h
    return PlanCost(combines, hired, delay, combines + hired + delay)


def _best(terms: Terms, plans: Sequence[Plan]) -> Plan:
    """The plan of least cost; without costs the smallest that cuts about as much as any."""
    priced = [(one.cost.total, one) for one in plans if one.cost is not None]
    if priced:
        return min(priced, key=lambda pair: pair[0])[1]
    enough = max(one.grain_t_h.value for one in plans) * (1 - terms.figures.enough.value / 100)
    return next(one for one in plans if one.grain_t_h.value >= enough)


def _flat(terms: Terms, plans: Sequence[Plan], best: Plan) -> tuple[int, int] | None:
    """Fewest and most haulers whose cost is about the least."""
    if best.cost is None:
        return None
    limit = best.cost.total * (1 + terms.figures.plan_flat.value / 100)
    alike = [one.haulers for one in plans if one.cost is not None and one.cost.total <= limit]
    return min(alike), max(alike)
