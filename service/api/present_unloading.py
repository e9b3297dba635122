"""Unloading as an answer in the reader's units and language."""

import math
from collections.abc import Iterable

from service.api.answers import Amount, Estimate
from service.api.answers_hauling import (
    CallOut,
    CartLoadOut,
    FigureUsed,
    FillingOut,
    FindingOut,
    TankNow,
    UnloadingAnswer,
    WayOut,
)
from service.api.reader import Reader
from service.api.showing import Showing
from service.units import served
from service.usecases.unloading_types import CallCart, CartLoad, Filling, Known, Unloading, Used, Way
from service.usecases.unloading_words import call_words, cart_words


def present_unloading(answer: Unloading, reader: Reader) -> UnloadingAnswer:
    """Return the whole answer."""
    show = Showing(reader)
    filling, now, cart, bushel = answer.filling, answer.now, answer.cart, answer.bushel_lb
    return UnloadingAnswer(
        knowledge=show.knowledge(),
        crop=show.named(answer.crop, answer.crop_names),
        crop_yield=show.crop_yield(answer.yield_t_ha, answer.bushel_lb),
        decision=show.note(answer.decision),
        filling=FillingOut(
            tank=show.grain(filling.tank_t, "t", bushel),
            grain_throughput=show.grain(filling.grain_t_h, "t/h", bushel),
            time=show.amount(filling.time_min, "min"),
            distance=show.amount(filling.distance_m, "m"),
            runs=_maybe(show, filling.runs, "1"),
        ),
        call=_call(show, answer.call, filling),
        now=None
        if now is None
        else TankNow(
            level=show.amount(now.level_pct, "%"),
            to_call=show.amount(now.to_call_min, "min"),
            to_full=show.amount(now.to_full_min, "min"),
            to_full_distance=show.amount(now.to_full_m, "m"),
        ),
        cart=None if cart is None else _cart(show, cart, bushel),
        ways=[_way(show, way, bushel) for way in answer.ways],
        used=figures_used(show, answer.used),
        findings=findings_out(show, answer.findings),
        warnings=show.notes(answer.warnings),
        cautions=show.notes(answer.cautions),
        sources=show.references(),
    )


def figures_used(show: Showing, used: Iterable[Used]) -> list[FigureUsed]:
    """Return figures with their origin."""
    return [
        FigureUsed(
            code=one.code,
            name=show.text(f"haul.used.{one.code}"),
            amount=show.estimate(one.amount.value, *_ends(one), one.unit),
            origin=one.origin,
            evidence=None if one.proof is None else show.evidence_part(one.proof),
        )
        for one in used
    ]


def _ends(used: Used) -> tuple[float | None, float | None]:
    low, high = used.amount.low, used.amount.high
    return (None, None) if low == high else (low, high)


def findings_out(show: Showing, findings: Iterable[Known]) -> list[FindingOut]:
    """Return what is known beside the computed."""
    return [
        FindingOut(code=one.code, text=show.text(f"haul.finding.{one.code}"), evidence=show.evidence_part(one.proof))
        for one in findings
    ]


def _call(show: Showing, call: CallCart, filling: Filling) -> CallOut:
    return CallOut(
        level=show.amount(call.level_pct, "%"),
        after=show.amount(filling.time_min - call.before_full_min, "min"),
        before_full=show.amount(call.before_full_min, "min"),
        before_full_distance=show.amount(call.before_full_m, "m"),
        arrival=_maybe(show, call.arrival_min, "min"),
        wait=show.amount(call.wait_min, "min"),
        cart_limits=call.cart_limits,
        text=show.note(call_words(call)).text,
    )


def _cart(show: Showing, cart: CartLoad, bushel_lb: float | None) -> CartLoadOut:
    return CartLoadOut(
        capacity=show.grain(cart.capacity_t, "t", bushel_lb),
        tanks=served(cart.tanks, "1"),
        whole_tanks=cart.whole_tanks,
        rest=show.amount(cart.rest_pct, "%"),
        each=show.grain(cart.unloading_t, "t", bushel_lb),
        unloadings=cart.unloadings,
        away=_maybe(show, cart.away_min, "min"),
        wait=_maybe(show, cart.wait_min, "min"),
        most=None if cart.most_t_h is None else show.grain(cart.most_t_h, "t/h", bushel_lb),
        text=show.note(cart_words(cart)).text,
    )


def _maybe(show: Showing, value: float | None, unit: str) -> Amount | None:
    return None if value is None else show.amount(value, unit)


def _way(show: Showing, way: Way, bushel_lb: float | None) -> WayOut:
    figures = {
        "rate": (way.rate_l_s, "L/s"),
        "distance": (way.distance_m, "m"),
        "runs": (way.runs, "1"),
        "drive": (way.drive_s, "s"),
        "load": (way.load_pct, "%"),
        "lost": (way.lost_min, "min"),
        "cutting_share": (way.cutting_share_pct, "%"),
        "area_rate": (way.area_rate_ha_h, "har/h"),
        "gain": (way.gain_pct, "%"),
    }
    return WayOut(
        code=way.code,
        name=show.text(f"unloading.way_{way.code}"),
        possible=way.possible,
        why=None if way.why is None else show.note(way.why),
        unload=_unload(show, way),
        breaks=way.breaks,
        grain_rate=None if way.grain_t_h is None else show.grain(way.grain_t_h, "t/h", bushel_lb),
        evidence=[show.evidence_part(one) for one in way.proofs],
        **{name: _maybe(show, value, unit) for name, (value, unit) in figures.items()},
    )


def _unload(show: Showing, way: Way) -> Estimate | None:
    time = way.unload_s
    if time is None:
        return None
    if time.low == time.high:
        return show.estimate(time.value, None, None, "s")
    # at the low end of its rate the auger may be slower than what flows in: no time is long enough
    return show.estimate(time.value, time.low, None if math.isinf(time.high) else time.high, "s")
