"""What is said of unloading: the decision, the call, the cart, warnings.

Inside: choosing the message. Outside: its wording (the catalogues), the figures (`unloading_ways`).
"""

import math
from collections.abc import Iterator
from typing import Final

from service.domain.types import Message, Quantity
from service.knowledge.table import KnowledgeTable
from service.usecases.unloading_types import CallCart, CartLoad, Now, Way
from service.usecases.unloading_ways import Case

CAUTIONS: Final = (
    "caution.tube_kept_clear",
    "caution.power_lines",
    "caution.grain_entrapment",
    "caution.side_by_side",
    "caution.slope_rollover",
    "caution.roads_local_code",
    "caution.machine_manual_first",
)
_MOVING: Final = ("moving", "moving_reduced")
_TOLD: Final = 0.5  # percent below which a gain rounds to nothing
# part of a run: begun anywhere in it, an unloading this long meets its end more likely than not
_LIKELY: Final = 0.5


def decision(
    table: KnowledgeTable, case: Case, call: CallCart, cart: CartLoad | None, now: Now | None, ways: tuple[Way, ...]
) -> Message:
    """The tank or what cannot wait, the call, and the way: parts of one answer."""
    moving, standing = ways[0], next(way for way in ways if way.code == "standing")
    facts: dict[str, object] = {"start": _start(case, call, now)}
    stop = Quantity(standing.lost_min or 0.0, "min")
    if moving.unload_s is None or moving.gain_pct is None:
        return Message("unloading.decision_standing", facts | {"stop": stop})
    facts["unload"] = Quantity(moving.unload_s.value / 60, "min")
    if moving.gain_pct < _TOLD:
        stops = [way for way in ways if way.code not in _MOVING and way.gain_pct is not None]
        best = max(stops, key=lambda way: way.gain_pct or 0.0)
        facts |= {"breaks": _breaks(moving.breaks or 0), "best": Message(f"unloading.way_{best.code}")}
        return Message("unloading.decision_no_gain", facts)
    if _hardly_faster(table, case):
        return Message("unloading.decision_hardly", facts | {"stop": stop, "ratio": round(_ratio(case), 2)})
    facts["gain"] = _whole(moving.gain_pct)
    if cart is not None and cart.wait_min and cart.most_t_h is not None:
        facts |= {"most": _grain(case, cart.most_t_h, "t/h"), "cut": _grain(case, case.filling.grain_t_h, "t/h")}
        return Message("unloading.decision_cart_slow", facts)
    return Message("unloading.decision_far" if call.wait_min > 0 else "unloading.decision_moving", facts)


def _ratio(case: Case) -> float:
    """How many times as fast as what flows in the auger is."""
    return case.full_rate.value / case.inflow_l_s


def _hardly_faster(table: KnowledgeTable, case: Case) -> bool:
    return _ratio(case) < table.machines.driving.unloading_margin.value


def _grain(case: Case, value: float, unit: str) -> Quantity:
    """A mass of grain, or per hour, that is told in bushels where a reader counts so."""
    bushel = case.crop.physical.bushel_mass
    return Quantity(value, unit, None if bushel is None else bushel.value)


def _start(case: Case, call: CallCart, now: Now | None) -> Message:
    """What cannot wait where the tank is past the level to call at, else when the tank is full and when to call."""
    if now is None or now.level_pct < call.level_pct:
        facts: dict[str, object] = {
            "time": Quantity(case.filling.time_min, "min"),
            "distance": _km(case.filling.distance_m),
            "call": call_words(call),
        }
        return Message("unloading.start_filling", facts)
    if now.level_pct >= 100:
        return Message("unloading.start_full")
    facts = {
        "level": _whole(now.level_pct),
        "time": Quantity(now.to_full_min, "min"),
        "distance": _km(now.to_full_m),
    }
    if call.arrival_min is not None and call.arrival_min > now.to_full_min:
        facts |= {
            "arrival": Quantity(call.arrival_min, "min"),
            "wait": Quantity(call.arrival_min - now.to_full_min, "min"),
        }
        return Message("unloading.start_call_late", facts)
    return Message("unloading.start_call_now" if now.level_pct > 0 else "unloading.start_call_empty", facts)


def call_words(call: CallCart) -> Message:
    """Return when to call, as a sentence."""
    if call.wait_min > 0:
        return Message("unloading.call_too_far", {"wait": Quantity(call.wait_min, "min")})
    if call.level_pct == 0:
        return Message("unloading.call_along_small" if call.cart_limits else "unloading.call_along")
    # rounded down, as a cart that is too small takes no more
    level = Quantity(math.floor(call.level_pct), "%") if call.cart_limits else _whole(call.level_pct)
    facts = {"level": level, "before": Quantity(call.before_full_min, "min")}
    if not call.cart_limits:
        return Message("unloading.call_at", facts)
    return Message("unloading.call_small" if call.arrival_min is not None else "unloading.call_small_way", facts)


def cart_words(cart: CartLoad) -> Message:
    """Return how many full tanks the cart holds and when it must leave, as a sentence."""
    facts: dict[str, object] = {
        "count": cart.whole_tanks,
        "rest": Quantity(math.floor(cart.rest_pct + 1e-9), "%"),
        "load": _whole(100 * cart.unloading_t * cart.tanks / cart.capacity_t),
        "unloadings": _unloadings(cart.unloadings),
    }
    if cart.whole_tanks == 0:
        return Message("unloading.cart_below_tank", facts)
    return Message("unloading.cart_one_tank" if cart.whole_tanks == 1 else "unloading.cart_tanks", facts)


def _breaks(count: int) -> Message:
    return Message("unloading.break_one" if count == 1 else "unloading.break_many", {"count": count})


def _unloadings(count: int) -> Message:
    return Message("unloading.unloading_one" if count == 1 else "unloading.unloading_many", {"count": count})


def warnings(
    table: KnowledgeTable, case: Case, call: CallCart, cart: CartLoad | None, ways: tuple[Way, ...]
) -> Iterator[Message]:
    """What to look out for in this field with this machine."""
    moving, margin = ways[0], table.machines.driving.unloading_margin.value
    if moving.possible and _hardly_faster(table, case):
        yield Message("unloading.auger_hardly_faster", {"ratio": round(_ratio(case), 2), "margin": margin})
    if cart is not None and cart.whole_tanks == 0:
        facts = {"capacity": _grain(case, cart.capacity_t, "t"), "tank": _grain(case, case.tank.mass_t, "t")}
        yield Message("unloading.cart_too_small", facts)
    yield from _short_runs(case, ways)
    if cart is not None and cart.wait_min and cart.away_min:
        facts = {
            "load": _grain(case, cart.unloading_t * cart.unloadings, "t"),
            "away": Quantity(cart.away_min, "min"),
            "wait": Quantity(cart.wait_min, "min"),
        }
        yield Message("unloading.cart_slower_than_cut", facts)
    elif call.wait_min > 0 and call.arrival_min is not None:
        facts = {"arrival": Quantity(call.arrival_min, "min"), "fill": Quantity(case.filling.time_min, "min")}
        yield Message("unloading.one_cart_too_few", facts)
    edge = next(way for way in ways if way.code == "edge")
    if edge.lost_min is not None and edge.lost_min < call.wait_min:
        yield Message("unloading.edge_beats_waiting", {"edge": Quantity(edge.lost_min, "min")})


def _short_runs(case: Case, ways: tuple[Way, ...]) -> Iterator[Message]:
    """Ways on the move that take more than a run, or so much of one that they are likely broken off."""
    run_m = case.question.run_length_m or 0.0
    for way in ways:
        if way.code not in _MOVING or way.distance_m is None or way.runs is None:
            continue
        facts = {
            "way": Message(f"unloading.way_{way.code}"),
            "run": _km(run_m),
            "docking": Quantity(case.docking.amount.value, "s"),
        }
        if way.breaks:
            facts |= {
                "distance": _km(way.distance_m),
                "breaks": _breaks(way.breaks),
                "level": Quantity(math.floor((way.load_pct or 0.0) / way.runs), "%"),
            }
            yield Message("unloading.longer_than_run", facts)
        elif way.runs > _LIKELY:
            yield Message("unloading.begin_with_run", facts | {"distance": _whole(100 * way.runs)})


def _whole(percent: float) -> Quantity:
    return Quantity(round(percent), "%")


def _km(distance_m: float) -> Quantity:
    # a hundredth of a kilometre or mile is as much as a driver can tell
    return Quantity(distance_m / 1000, "km")
