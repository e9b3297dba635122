"""A hauling plan as an answer in the reader's units and language."""

from service.api.answers import Amount
from service.api.answers_hauling import (
    ExactOut,
    FormulaOut,
    HaulingPlanAnswer,
    LinksOut,
    PlanCostOut,
    PlanOut,
    RoundOut,
)
from service.api.money import Money
from service.api.present_speed import Speaking
from service.api.present_unloading import figures_used, findings_out
from service.api.reader import Reader
from service.api.showing import Showing
from service.domain.hauling_work import LinkRates
from service.domain.types import Interval
from service.usecases.hauling_types import Exact, HaulingPlan, Plan


def present_hauling(answer: HaulingPlan, reader: Reader) -> HaulingPlanAnswer:
    """Return the whole answer."""
    show = Showing(reader)
    money = Money(show, answer.currency, answer.bushel_lb)
    plans = [_plan(show, one, money, answer.bushel_lb) for one in answer.plans]
    return HaulingPlanAnswer(
        knowledge=show.knowledge(),
        crop=show.named(answer.crop, answer.crop_names),
        crop_yield=show.crop_yield(answer.yield_t_ha, answer.bushel_lb),
        combines=answer.combines,
        decision=show.note(answer.decision),
        bottleneck=show.note(answer.bottleneck),
        best=plans[answer.plans.index(answer.best)],
        about_the_same=[] if answer.flat is None else [*answer.flat],
        round=_round(show, answer),
        tank=show.grain(answer.tank_t, "t", answer.bushel_lb),
        fill=show.amount(answer.fill_min, "min"),
        plans=plans,
        formula=FormulaOut(
            code=answer.formula.code,
            text=show.note(answer.formula).text,
            evidence=show.evidence_part(answer.formula_proof),
        ),
        hour=None if answer.hour is None else Speaking(show, answer.currency).hour(answer.hour),
        used=figures_used(show, answer.used),
        findings=findings_out(show, answer.findings),
        warnings=show.notes(answer.warnings),
        cautions=show.notes(answer.cautions),
        sources=show.references(),
    )


def _round(show: Showing, answer: HaulingPlan) -> RoundOut:
    found = answer.round
    return RoundOut(
        payload=show.grain(found.payload_t, "t", answer.bushel_lb),
        unloadings=found.unloadings,
        at_combine=show.amount(found.at_combine_min, "min"),
        way=show.amount(found.way_min, "min"),
        at_store=show.amount(found.store_min, "min"),
        total=show.amount(found.total_min, "min"),
        loading=show.amount(found.load_min, "min"),
        needed=answer.needed,
    )


def _plan(show: Showing, plan: Plan, money: Money, bushel_lb: float | None) -> PlanOut:
    def maybe(value: float | None, unit: str) -> Amount | None:
        return None if value is None else show.amount(value, unit)

    return PlanOut(
        haulers=plan.haulers,
        capacity=show.grain(plan.capacity_t, "t", bushel_lb),
        grain_rate=show.grain_estimate(plan.grain_t_h, "t/h", bushel_lb),
        area_rate=show.amount(plan.area_rate_ha_h, "har/h"),
        cutting_share=show.estimate(*_limits(plan.cutting_share_pct), "%"),
        field_efficiency=show.amount(plan.field_efficiency_pct, "%"),
        wait=show.amount(plan.wait_min, "min"),
        hauler_use=show.amount(plan.hauler_use_pct, "%"),
        store_use=maybe(plan.store_use_pct, "%"),
        store_wait=maybe(plan.store_wait_min, "min"),
        links=_links(show, plan.links, bushel_lb),
        exact=None if plan.exact is None else _exact(show, plan.exact, bushel_lb),
        cost=_cost(plan, money),
        time_on_area=maybe(plan.hours_on_area, "h"),
    )


def _limits(interval: Interval) -> tuple[float, float, float]:
    return interval.value, interval.low, interval.high


def _links(show: Showing, links: LinkRates, bushel_lb: float | None) -> LinksOut:
    return LinksOut(
        combines=show.grain(links.combines_t_h, "t/h", bushel_lb),
        haulers=show.grain(links.haulers_t_h, "t/h", bushel_lb),
        store=None if links.store_t_h is None else show.grain(links.store_t_h, "t/h", bushel_lb),
        narrowest=links.narrowest,
    )


def _exact(show: Showing, exact: Exact, bushel_lb: float | None) -> ExactOut:
    return ExactOut(
        grain_rate=show.grain(exact.grain_t_h, "t/h", bushel_lb),
        cutting_share=show.amount(exact.cutting_share_pct, "%"),
        wait=show.amount(exact.wait_min, "min"),
    )


def _cost(plan: Plan, money: Money) -> PlanCostOut | None:
    cost = plan.cost
    if cost is None:
        return None
    return PlanCostOut(
        combines=money.per_mass(cost.combines),
        haulers=money.per_mass(cost.haulers),
        delay=money.per_mass(cost.delay),
        total=money.per_mass(cost.total),
    )
