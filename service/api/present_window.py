"""A harvest window as an answer in the reader's units and language."""

import math
from collections.abc import Callable
from datetime import datetime

from service.api.answers import Amount, Estimate
from service.api.answers_window import (
    BalanceOut,
    EquilibriumOut,
    EquilibriumSetOut,
    FitSpanOut,
    HarvestWindowAnswer,
    OptionOut,
    PaceOut,
    ReachOut,
    TargetOut,
    WindowHourOut,
)
from service.api.money import Money
from service.api.reader import Reader
from service.api.showing import Showing
from service.domain.types import Interval
from service.knowledge.coefficients import CoefficientSet
from service.usecases.window_types import Balance, FitSpan, HarvestWindow, Hour, Option, Pace, Reach


def present_window(answer: HarvestWindow, reader: Reader) -> HarvestWindowAnswer:
    """Return the whole answer."""
    show = Showing(reader)
    return HarvestWindowAnswer(
        knowledge=show.knowledge(),
        crop=show.named(answer.crop, answer.crop_names),
        decision=show.note(answer.decision),
        now=answer.now.isoformat(),
        moisture_now=_estimate(show, answer.moisture_now_pct, "%"),
        target=TargetOut(moisture=show.amount(answer.target_pct, "%"), origin=answer.target_origin),
        delivery=TargetOut(
            moisture=show.amount(answer.delivery_pct, "%"), origin=answer.delivery_origin, market=answer.delivery_market
        ),
        spans=[_span(show, span) for span in answer.spans],
        hours_at_target=show.amount(answer.hours_at_target, "h"),
        fit_hours=show.amount(answer.fit_hours, "h"),
        dew_hours=answer.dew_hours,
        reach=_reach(answer.reach),
        pace=_pace(show, answer.pace),
        equilibrium=EquilibriumOut(
            moisture=_estimate(show, answer.equilibrium_pct, "%"),
            used=_set(show, answer.equilibrium_set),
            others=[_set(show, one) for one in answer.other_sets],
        ),
        balance=_balance(show, answer),
        hours=[_hour(show, hour) for hour in answer.hours],
        warnings=show.notes(answer.warnings),
        cautions=show.notes(answer.cautions),
        evidence=[show.evidence_part(one) for one in answer.proofs],
        sources=show.references(),
    )


def _estimate(show: Showing, interval: Interval, unit: str) -> Estimate:
    return show.estimate(interval.value, interval.low, interval.high, unit)


def _span(show: Showing, span: FitSpan) -> FitSpanOut:
    return FitSpanOut(
        start=span.start.isoformat(),
        end=span.end.isoformat(),
        hours=show.amount(span.hours, "h"),
        lowest=show.amount(span.lowest_pct, "%"),
        sure=span.sure,
    )


def _reach(reach: Reach) -> ReachOut:
    return ReachOut(expected=_moment(reach.value), earliest=_moment(reach.earliest), latest=_moment(reach.latest))


def _moment(moment: datetime | None) -> str | None:
    return None if moment is None else moment.isoformat()


def _pace(show: Showing, pace: Pace) -> PaceOut:
    return PaceOut(
        rate=_estimate(show, pace.rate_per_h, "1/h"),
        origin=pace.origin,
        hours=None if pace.hours is None else show.amount(pace.hours, "h"),
        several=pace.several,
        open_ended=pace.unbounded,
        evidence=None if pace.proof is None else show.evidence_part(pace.proof),
    )


def _set(show: Showing, one: CoefficientSet) -> EquilibriumSetOut:
    low, high = one.temperature_low_c, one.temperature_high_c
    limits = None
    if low is not None and high is not None:
        limits = show.estimate((low + high) / 2, low, high, "Cel")
    return EquilibriumSetOut(
        grain=one.crop,
        form=one.form,
        source=one.source,
        known=one.known,
        seen_in=one.seen_in or None,
        verified=one.verified or None,
        note=one.note or None,
        coefficients={"A": one.A, "B": one.B, "C": one.C},
        temperature=limits,
    )


def _hour(show: Showing, hour: Hour) -> WindowHourOut:
    return WindowHourOut(
        start=hour.start.isoformat(),
        end=hour.end.isoformat(),
        temperature=show.amount(hour.temperature_c, "Cel"),
        relative_humidity=show.amount(hour.relative_humidity_pct, "%"),
        rain=None if hour.rain_mm is None else show.amount(hour.rain_mm, "mm"),
        equilibrium=show.amount(hour.equilibrium_pct, "%"),
        held=hour.held,
        dew=hour.dew,
        wet=hour.wet,
        moisture=None if hour.moisture_pct is None else _estimate(show, hour.moisture_pct, "%"),
        at_target=hour.at_target,
        fit=hour.fit,
    )


def _maybe(write: Callable[[float], Amount], value: float | None) -> Amount | None:
    return None if value is None else write(value)


def _balance(show: Showing, answer: HarvestWindow) -> BalanceOut:
    balance, money = answer.balance, Money(show, answer.currency, answer.bushel_lb)
    return BalanceOut(
        better=balance.better,
        text=show.text(f"balance.{balance.better}"),
        options=[_option(show, one, money) for one in balance.options],
        loss_per_day=None if balance.loss_pct_per_day is None else _estimate(show, balance.loss_pct_per_day, "%/d"),
        loss_origin=balance.loss_origin,
        loss_evidence=None if balance.loss_proof is None else show.evidence_part(balance.loss_proof),
        fuel_evidence=None if balance.fuel_proof is None else show.evidence_part(balance.fuel_proof),
        tolerable_loss=None if balance.tolerable_loss_pct is None else show.amount(balance.tolerable_loss_pct, "%"),
        break_even_wait=_break_even(show, balance),
        break_even_price=_maybe(money.per_mass, balance.break_even_price_per_t),
        gain=_maybe(money.per_mass, balance.gain_per_t),
        gain_per_area=_maybe(money.per_area, balance.gain_per_ha),
        gain_total=_maybe(money.total, balance.gain_total),
    )


def _break_even(show: Showing, balance: Balance) -> Estimate | None:
    days = balance.break_even_days
    if days is None:
        return None
    return show.estimate(days.value, days.low, None if math.isinf(days.high) else days.high, "d")


def _option(show: Showing, one: Option, money: Money) -> OptionOut:
    return OptionOut(
        code=one.code,
        name=show.text(f"option.{one.code}"),
        moisture=show.amount(one.moisture_pct, "%"),
        wait=None if one.days is None else show.amount(one.days, "d"),
        points=show.amount(one.points, "%"),
        water=show.amount(one.water_kg_t, "kg/t"),
        shrink=show.amount(one.shrink_pct, "%"),
        fuel=_estimate(show, one.fuel_l_t, "L/t"),
        field_loss=None if one.field_loss_pct is None else _estimate(show, one.field_loss_pct, "%"),
        drying=_maybe(money.per_mass, one.drying_cost_per_t),
        handling=_maybe(money.per_mass, one.handling_per_t),
        overdry=_maybe(money.per_mass, one.overdry_per_t),
        net=_maybe(money.per_mass, one.net_per_t),
        net_per_area=_maybe(money.per_area, one.net_per_ha),
        net_total=_maybe(money.total, one.net_total),
    )
