"""Is the crop fit: from weather and own readings to fit hours, and whether to start, wait or dry."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from statistics import mean

from service.domain.types import Interval, Message, Quantity
from service.errors import Contradiction, KnowledgeFault, UnknownName
from service.knowledge.schema import CropFile, TradeMoisture
from service.knowledge.schema_window import HarvestWindowFile, WindowFigures
from service.knowledge.table import KnowledgeTable
from service.knowledge.window import own_grains
from service.usecases.provenance import proof
from service.usecases.settings_types import Proof
from service.usecases.waiting_balance import Choice, balance_of
from service.usecases.window_air import Air, air_of
from service.usecases.window_path import HOUR, Course, course_of, hours_of, reach_of, spans_of
from service.usecases.window_types import Balance, FitSpan, HarvestWindow, Hour, Reach, WindowQuestion

DAY_HOURS = 24
CAUTIONS = ("caution.fire_dry_straw", "caution.dryer_gas", "caution.grain_entrapment")


@dataclass(frozen=True, slots=True)
class Found:
    """What was worked out, for the decision and the warnings."""

    question: WindowQuestion
    crop: CropFile
    figures: WindowFigures
    air: Air
    course: Course
    hours: tuple[Hour, ...]
    spans: tuple[FitSpan, ...]
    reach: Reach
    balance: Balance
    target_pct: float

    @property
    def now(self) -> datetime:
        """Moment of the last reading."""
        return self.question.weather.start + timedelta(seconds=self.course.now_s)

    @property
    def moisture_pct(self) -> float:
        """Moisture now."""
        return self.course.at(self.course.now_s).value

    @property
    def ahead(self) -> list[Hour]:
        """Hours from now on."""
        return [hour for hour in self.hours if hour.fit is not None]

    @property
    def equilibrium_ahead(self) -> Interval:
        """Mean, lowest and highest equilibrium from now on."""
        ahead = [hour.equilibrium_pct for hour in self.ahead]
        return Interval(mean(ahead), min(ahead), max(ahead))

    @property
    def rain_ahead(self) -> bool:
        """Whether rain is foreseen."""
        return any(hour.rain_mm for hour in self.ahead)


def foresee(table: KnowledgeTable, question: WindowQuestion) -> HarvestWindow:
    """Answer whether the crop is fit, when it will be, and whether waiting pays.

    Raises
    ------
    UnknownName
        If crop, market, grain class, form, source or revision is not known.
    NotCovered
        If there are no equilibrium constants, or one reading alone tells no pace.
    Contradiction, InvalidInput, OutOfRange
        If weather, readings or prices exclude each other or miss something.
    """
    table.check_revision(question.revision)
    crop, window = table.crop(question.crop), table.window
    if window is None:
        raise KnowledgeFault(["harvest_window.toml: the file is missing"])
    trade = _trade(question, crop)
    delivery = trade.value if question.delivery_moisture_pct is None else question.delivery_moisture_pct
    found = _worked_out(table, window, question, crop, delivery)
    return HarvestWindow(
        crop=crop.id,
        crop_names=crop.names,
        bushel_lb=crop.physical.bushel_mass.value if crop.physical.bushel_mass else None,
        now=found.now,
        moisture_now_pct=found.course.at(found.course.now_s),
        target_pct=found.target_pct,
        target_origin="table" if question.target_moisture_pct is None else "request",
        delivery_pct=delivery,
        delivery_origin="table" if question.delivery_moisture_pct is None else "request",
        delivery_market=trade.market if question.delivery_moisture_pct is None else None,
        currency=question.currency,
        equilibrium_set=found.air.chosen,
        other_sets=found.air.others,
        equilibrium_pct=found.equilibrium_ahead,
        pace=found.course.pace,
        hours=found.hours,
        spans=found.spans,
        hours_at_target=sum(_hours_ahead(hour, found.now) for hour in found.ahead if hour.at_target),
        fit_hours=sum(span.hours for span in found.spans),
        dew_hours=sum(hour.dew for hour in found.ahead),
        reach=found.reach,
        balance=found.balance,
        decision=_decision(found),
        warnings=_warnings(found, window),
        cautions=tuple(Message(code) for code in CAUTIONS),
        proofs=_proofs(found, trade),
        revision=table.revision,
        digest=table.digest,
    )


def _worked_out(
    table: KnowledgeTable,
    window: HarvestWindowFile,
    question: WindowQuestion,
    crop: CropFile,
    delivery: float,
) -> Found:
    target = question.target_moisture_pct
    target = crop.moisture.best_high.value if target is None else target
    air = air_of(question, crop, window, table.equilibrium)
    course = course_of(question, crop, window, air)
    hours = hours_of(question.weather, air, course, target)
    now = question.weather.start + timedelta(seconds=course.now_s)
    spans = spans_of(hours, now, target)
    moisture = course.at(course.now_s).value
    days = (spans[0].start - now).total_seconds() / HOUR / DAY_HOURS if spans else None
    # grain that is at the target already is only waiting for its outside to dry
    choice = Choice(moisture, min(moisture, target), days, delivery)
    timeliness = table.timeliness(crop)
    delay = None if timeliness is None else timeliness.loss_per_day
    balance = balance_of(question, crop, window, delay, choice)
    reach = reach_of(question.weather, course, target)
    return Found(question, crop, window.figures, air, course, hours, spans, reach, balance, target)


def _hours_ahead(hour: Hour, now: datetime) -> float:
    """Length of an hour from now on: the first one may have begun."""
    return (hour.end - max(hour.start, now)).total_seconds() / HOUR


def _trade(question: WindowQuestion, crop: CropFile) -> TradeMoisture:
    market = question.market
    if market is None:
        return crop.trade_moisture[0]
    if question.delivery_moisture_pct is not None:
        names = ["market", "delivery_moisture_pct"]
        raise Contradiction(names, "reason.both_given", first=names[0], second=names[1])
    for trade in crop.trade_moisture:
        if trade.market == market:
            return trade
    raise UnknownName("market", market, [trade.market for trade in crop.trade_moisture])


def _decision(found: Found) -> Message:
    """Say what to do, with the moment it holds for."""
    moisture, target = Quantity(found.moisture_pct, "%"), Quantity(found.target_pct, "%")
    facts: dict[str, object] = {"moisture": moisture, "target": target}
    span, better = (found.spans[0] if found.spans else None), found.balance.better
    dry_from = next((hour.start for hour in found.ahead if not hour.wet), None)
    if span is not None and span.start == found.now:
        return Message("decision.start_now", {**facts, "end": span.end})
    too_wet = found.moisture_pct > found.crop.moisture.ceiling.value
    if better == "drying" and found.moisture_pct > found.target_pct and dry_from is not None and not too_wet:
        return Message("decision.combine_and_dry", {**facts, "start": max(dry_from, found.now)})
    if span is not None:
        code = {"waiting": "wait_pays", "unclear": "wait_unclear"}.get(better, "wait_until")
        if found.moisture_pct <= found.target_pct:
            code = "wait_dry_off"
        return Message(f"decision.{code}", {**facts, "start": span.start, "end": span.end})
    if found.reach.value is not None:
        return Message("decision.dry_inside_wet_outside", {**facts, "start": found.reach.value})
    code = "not_reached_too_wet" if too_wet else "not_reached"
    ceiling = Quantity(found.crop.moisture.ceiling.value, "%")
    return Message(f"decision.{code}", {**facts, "ceiling": ceiling, "end": found.hours[-1].end})


def _warnings(found: Found, window: HarvestWindowFile) -> tuple[Message, ...]:
    """What a specialist would say before the caller relies on it."""
    figures = found.figures
    error = figures.model_error
    warnings = [
        Message("warning.window.equilibrium", {"error": figures.equilibrium_error.value}),
        Message("warning.window.model", {"low": error.value, "high": error.high or error.value}),
        *found.air.warnings,
        *_pace_warnings(found),
    ]
    days = len(found.ahead) / DAY_HOURS
    if days > figures.forecast_days.value:
        warnings.append(Message("warning.window.far_ahead", {"days": Quantity(figures.forecast_days.value, "d")}))
    if any(hour.dew for hour in found.ahead):
        facts = {"humidity": Quantity(figures.dew_humidity.value, "%"), "gain": figures.dew_gain.value}
        warnings.append(Message("warning.window.dew", facts))
    if not found.question.weather.rain_mm:
        warnings.append(Message("warning.window.no_rain_given"))
    if found.rain_ahead:
        warnings.append(Message("warning.window.rain_ahead", {"error": figures.rain_error.value}))
    if found.air.chosen.crop not in own_grains(window, found.crop):
        warnings.append(Message("warning.window.other_grain", {"grain": found.air.chosen.crop}))
    warnings += _moisture_warnings(found)
    if any(hour.fit and hour.equilibrium_pct > found.target_pct for hour in found.ahead):
        warnings.append(Message("warning.window.straw"))
    if found.balance.loss_origin == "none":
        warnings.append(Message("warning.window.loss_unknown", {"crop": found.crop.names}))
    return tuple(warnings)


def _pace_warnings(found: Found) -> list[Message]:
    pace, course, warnings = found.course.pace, found.course, list[Message]()
    if pace.origin == "table":
        return [Message("warning.window.pace_from_table")]
    if pace.hours is not None and pace.hours < DAY_HOURS:
        warnings.append(Message("warning.window.pace_short", {"hours": Quantity(pace.hours, "h")}))
    if pace.unbounded:
        warnings.append(Message("warning.window.pace_open"))
    if pace.several:
        warnings.append(Message("warning.window.pace_several"))
    learning = slice(course.seconds[0] // HOUR, (course.now_s - 1) // HOUR + 1)
    if any(found.air.wet[learning]):
        warnings.append(Message("warning.window.wet_between"))
    wind = found.question.weather.wind_m_s
    if wind:
        then, ahead = mean(wind[learning]), mean(wind[course.now_s // HOUR :])
        ratio = found.figures.wind_ratio.value
        if max(then, ahead) > ratio * min(then, ahead):
            facts = {"then": Quantity(then * 3.6, "km/h"), "ahead": Quantity(ahead * 3.6, "km/h")}
            warnings.append(Message("warning.window.wind", facts))
    return warnings


def _moisture_warnings(found: Found) -> list[Message]:
    moisture, crop = found.moisture_pct, found.crop
    warnings = []
    lowest = found.equilibrium_ahead.low
    if found.target_pct < min(lowest, moisture):
        facts = {"target": Quantity(found.target_pct, "%"), "lowest": Quantity(lowest, "%")}
        warnings.append(Message("warning.window.target_below_air", facts))
    if moisture > crop.moisture.ceiling.value:
        warnings.append(Message("warning.window.too_wet", {"ceiling": Quantity(crop.moisture.ceiling.value, "%")}))
    if moisture < crop.moisture.best_low.value:
        warnings.append(Message("warning.window.dry_already", {"best": Quantity(crop.moisture.best_low.value, "%")}))
    return warnings


def _proofs(found: Found, trade: TradeMoisture) -> tuple[Proof, ...]:
    """How the figures behind the answer are known, apart from those that stand beside their value."""
    figures, question = found.figures, found.question
    used = [figures.equilibrium_error, figures.rewetting_factor, figures.dew_humidity, figures.model_error]
    used += [figures.dew_gain] if any(hour.dew for hour in found.ahead) else []
    used += [figures.rain_error] if found.rain_ahead else []
    used += [figures.forecast_days] if len(found.ahead) / DAY_HOURS > figures.forecast_days.value else []
    used += [figures.reading_error] if question.reading_error_pct is None else []
    used += [figures.wet_hours] if question.wet_hours is None else []
    used += [figures.dry_off_humidity] if any(hour.wet for hour in found.ahead) else []
    used += [found.crop.moisture.best_high] if question.target_moisture_pct is None else []
    used += [trade] if question.delivery_moisture_pct is None else []
    return tuple(proof(one) for one in used)
