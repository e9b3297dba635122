"""Waiting against drying: the two options with their water, fuel, loss and money, and where they are equal.

Inside: which fuel and loss figures hold, the two options, tolerable loss, break-even days and price.
Outside: the formulas (`service.domain.waiting`, `drying`, `moisture`), when the crop is dry enough.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from service.domain import drying, waiting
from service.domain.losses import bushels_per_tonne
from service.domain.moisture import shrink_pct, water_removed_kg_t
from service.domain.types import Interval
from service.errors import Contradiction, InvalidInput
from service.knowledge.schema import CropFile, Figure
from service.knowledge.schema_window import HarvestWindowFile
from service.units import convert, mass_kg_ha
from service.usecases.provenance import proof
from service.usecases.window_types import Balance, LossOrigin, Option, WindowQuestion


@dataclass(frozen=True, slots=True)
class Prices:
    """What the caller said about money and amounts, metric; None where nothing was said."""

    grain_per_t: float | None
    fuel_per_l: float | None
    drying_per_t_point: float | None
    fuel_l_t_point: float | None
    yield_t_ha: float | None
    area_ha: float | None


@dataclass(frozen=True, slots=True)
class Choice:
    """Moisture at harvest now and later, days until then (None if not foreseen), moisture to deliver at."""

    now_pct: float
    later_pct: float
    days: float | None
    delivery_pct: float


@dataclass(frozen=True, slots=True)
class Terms:
    """Everything that both options are reckoned with."""

    prices: Prices
    delivery_pct: float
    handling_pct: float
    loss_pct_per_day: Interval | None
    fuel: Callable[[float], Interval]  # litres per tonne as harvested, by moisture


def prices_of(question: WindowQuestion, crop: CropFile) -> Prices:
    """Read the prices and amounts of a question.

    Raises
    ------
    Contradiction
        If a thing was said in two ways.
    InvalidInput
        If it was said per bushel for a crop without a legal bushel.
    """
    pairs = (
        ("price_per_t", "price_per_bu"),
        ("yield_t_ha", "yield_bu_ac"),
        ("fuel_l_t_point", "fuel_gal_bu_point"),
        ("drying_cost_per_t_point", "drying_cost_per_bu_point"),
        ("drying_cost_per_t_point", "fuel_price_per_l"),
        ("drying_cost_per_bu_point", "fuel_price_per_l"),
    )
    for first, second in pairs:
        if getattr(question, first) is not None and getattr(question, second) is not None:
            raise Contradiction([first, second], "reason.both_given", first=first, second=second)

    def either(metric: str, bushel: str, turned: Callable[[float, float], float]) -> float | None:
        given = getattr(question, bushel)
        if given is None:
            value: float | None = getattr(question, metric)
            return value
        legal = crop.physical.bushel_mass
        if legal is None:
            raise InvalidInput(bushel, reason="reason.no_bushel_per_tonne", crop=crop.names, metric=metric)
        return turned(given, legal.value)

    return Prices(
        grain_per_t=either("price_per_t", "price_per_bu", lambda given, legal: given * bushels_per_tonne(legal)),
        fuel_per_l=question.fuel_price_per_l,
        drying_per_t_point=either(
            "drying_cost_per_t_point",
            "drying_cost_per_bu_point",
            lambda given, legal: given * bushels_per_tonne(legal),
        ),
        fuel_l_t_point=either("fuel_l_t_point", "fuel_gal_bu_point", drying.fuel_per_point_l_t),
        yield_t_ha=either("yield_t_ha", "yield_bu_ac", lambda given, legal: mass_kg_ha(given, legal) / 1000),
        area_ha=question.area_ha,
    )


def balance_of(
    question: WindowQuestion, crop: CropFile, window: HarvestWindowFile, delay: Figure | None, choice: Choice
) -> Balance:
    """Compare harvesting now with harvesting later; `delay` is the share of the crop that a day costs, if known."""
    prices = prices_of(question, crop)
    loss, origin, loss_figure = _loss(question, delay)
    fuel, fuel_figure = _fuel(crop, window, prices, choice.delivery_pct)
    terms = Terms(prices, choice.delivery_pct, window.figures.handling_loss.value, loss, fuel)
    now = _option(terms, "now", choice.now_pct, 0.0)
    after = _option(terms, "later", choice.later_pct, choice.days)
    found = Balance(
        options=(now, after),
        loss_pct_per_day=loss,
        loss_origin=origin,
        loss_proof=None if loss_figure is None else proof(loss_figure),
        fuel_proof=None if fuel_figure is None else proof(fuel_figure),
        tolerable_loss_pct=None,
        break_even_days=None,
        break_even_price_per_t=None,
        gain_per_t=None,
        gain_per_ha=None,
        gain_total=None,
        better="unknown",
    )
    return _weighed(found, terms)


def _loss(question: WindowQuestion, delay: Figure | None) -> tuple[Interval | None, LossOrigin, Figure | None]:
    given = question.loss_pct_per_day
    if given is not None:
        return Interval(given, given, given), "request", None
    if delay is None:
        return None, "none", None
    return Interval(*(convert(end, "1/d", "%/d") for end in _ends(_interval(delay)))), "table", delay


def _fuel(
    crop: CropFile, window: HarvestWindowFile, prices: Prices, delivery_pct: float
) -> tuple[Callable[[float], Interval], Figure | None]:
    """Fuel by moisture: as the caller said, by points for maize, else by the water."""
    figures = window.figures
    by_points: Interval | None = None
    figure: Figure | None = None
    if prices.fuel_l_t_point is not None:
        by_points = Interval(prices.fuel_l_t_point, prices.fuel_l_t_point, prices.fuel_l_t_point)
    elif crop.id == "maize":
        figure = figures.fuel_maize
        by_points = _interval(figure)
    else:
        figure = figures.drying_energy

    def fuel(moisture_pct: float) -> Interval:
        top = max(moisture_pct, delivery_pct)
        if by_points is not None:
            ends = (drying.fuel_by_points_l_t(top, delivery_pct, end) for end in _ends(by_points))
        else:
            heat = figures.fuel_heat.value
            energy = _interval(figures.drying_energy)
            ends = (drying.fuel_by_water_l_t(top, delivery_pct, end, heat) for end in _ends(energy))
        return Interval(*ends)

    return fuel, figure


def _option(terms: Terms, code: str, moisture_pct: float, days: float | None) -> Option:
    prices, delivery = terms.prices, terms.delivery_pct
    top = max(moisture_pct, delivery)
    points, fuel = top - delivery, terms.fuel(moisture_pct)
    loss = _field_loss(terms, days)
    option = Option(
        code="now" if code == "now" else "later",
        moisture_pct=moisture_pct,
        days=days,
        points=points,
        water_kg_t=water_removed_kg_t(top, delivery),
        shrink_pct=shrink_pct(top, delivery),
        fuel_l_t=fuel,
        field_loss_pct=loss,
        drying_cost_per_t=None,
        handling_per_t=None,
        overdry_per_t=None,
        net_per_t=None,
        net_per_ha=None,
        net_total=None,
    )
    cost = drying_cost_per_wet_t(prices, points, fuel.value)
    if cost is None:
        return option
    value = waiting.grain_value(prices.grain_per_t or 0.0, moisture_pct, delivery, cost, terms.handling_pct)
    option = replace(option, drying_cost_per_t=value.drying_per_t)
    if prices.grain_per_t is None:
        return option
    option = replace(option, handling_per_t=value.handling_per_t, overdry_per_t=value.overdry_per_t)
    if loss is None:
        return option
    net = value.net_per_t * (1 - loss.value / 100)
    per_ha = None if prices.yield_t_ha is None else net * prices.yield_t_ha
    total = None if per_ha is None or prices.area_ha is None else per_ha * prices.area_ha
    return replace(option, net_per_t=net, net_per_ha=per_ha, net_total=total)


def _field_loss(terms: Terms, days: float | None) -> Interval | None:
    if days == 0:
        return Interval(0.0, 0.0, 0.0)
    if days is None or terms.loss_pct_per_day is None:
        return None
    return Interval(*(waiting.field_loss_pct(days, end) for end in _ends(terms.loss_pct_per_day)))


def drying_cost_per_wet_t(prices: Prices, points: float, fuel_l_t: float) -> float | None:
    """Cost of drying a tonne as harvested: by the caller's own price a point, else by fuel; None without a price."""
    if prices.drying_per_t_point is not None:
        return drying.fuel_cost(prices.drying_per_t_point, 1.0, points)
    return None if prices.fuel_per_l is None else prices.fuel_per_l * fuel_l_t


def _weighed(found: Balance, terms: Terms) -> Balance:
    """Add where both options are equal, and which is better, as far as the prices allow."""
    prices, (now, later) = terms.prices, found.options
    if later.days == 0:
        return replace(found, better="same")
    if prices.grain_per_t is None or now.drying_cost_per_t is None or later.drying_cost_per_t is None:
        return found
    value_now, value_later = (_value(prices.grain_per_t, one) for one in (now, later))
    if value_later <= 0:
        return found
    tolerable = waiting.tolerable_field_loss_pct(value_now, value_later)
    found = replace(found, tolerable_loss_pct=tolerable, break_even_days=_days(tolerable, terms.loss_pct_per_day))
    if now.net_per_t is None or later.net_per_t is None or later.field_loss_pct is None:
        return found
    gain = later.net_per_t - now.net_per_t
    # the same with the least and the most that waiting may lose
    gains = [value_later * (1 - end / 100) - value_now for end in _ends(later.field_loss_pct)]
    better = "waiting" if min(gains) > 0 else "drying" if max(gains) < 0 else "unclear"
    per_ha = None if prices.yield_t_ha is None else gain * prices.yield_t_ha
    return replace(
        found,
        gain_per_t=gain,
        gain_per_ha=per_ha,
        gain_total=None if per_ha is None or prices.area_ha is None else per_ha * prices.area_ha,
        break_even_price_per_t=_price(prices.grain_per_t, now, later),
        better=better,  # type: ignore[arg-type]
    )


def _value(price_per_t: float, option: Option) -> float:
    """Value per tonne of what is harvested: no field loss yet."""
    costs = (option.drying_cost_per_t, option.handling_per_t, option.overdry_per_t)
    return price_per_t - sum(cost or 0.0 for cost in costs)


def _days(tolerable_pct: float, loss: Interval | None) -> Interval | None:
    if loss is None or loss.value == 0:
        return None

    def days(per_day: float) -> float:
        return math.inf if per_day == 0 else waiting.break_even_days(tolerable_pct, per_day)

    return Interval(days(loss.value), days(loss.high), days(loss.low))


def _price(price_per_t: float, now: Option, later: Option) -> float | None:
    """Grain price at which both earn the same; None if harvesting now keeps no more grain."""
    if price_per_t == 0 or later.field_loss_pct is None:
        return None
    shares = [1 - ((one.handling_per_t or 0.0) + (one.overdry_per_t or 0.0)) / price_per_t for one in (now, later)]
    remains = 1 - later.field_loss_pct.value / 100
    kept_now, kept_later = shares[0], shares[1] * remains
    if not kept_later < kept_now:
        return None
    cost_later = (later.drying_cost_per_t or 0.0) * remains
    return waiting.break_even_price_per_t(now.drying_cost_per_t or 0.0, cost_later, kept_now, kept_later)


def _interval(figure: Figure) -> Interval:
    low = figure.value if figure.low is None else figure.low
    return Interval(figure.value, low, figure.value if figure.high is None else figure.high)


def _ends(interval: Interval) -> tuple[float, float, float]:
    return interval.value, interval.low, interval.high
