"""Unloading: when the tank is full, when to call the cart, and which way of unloading costs how much work.

Inside: the whole answer. Outside: tank, auger and grain (`unloading_terms`), the ways (`unloading_ways`), what
is said of them (`unloading_words`), how many carts or trucks are needed (`hauling_plan`), formulas.
"""

from service.domain.machine import throughput_t_h
from service.domain.types import Message
from service.domain.unloading import tank_fill_distance_m, tank_fill_time_min
from service.domain.unloading_stops import call_level
from service.errors import Contradiction, InvalidInput
from service.knowledge.hauling import findings
from service.knowledge.table import KnowledgeTable
from service.units import convert
from service.usecases.conditions import yield_of
from service.usecases.provenance import proof
from service.usecases.unloading_terms import given_or_table, read_tank, tonnes_of
from service.usecases.unloading_types import (
    CallCart,
    CartLoad,
    Filling,
    Known,
    Now,
    Unloading,
    UnloadingQuestion,
    Used,
)
from service.usecases.unloading_ways import Case, ways_of
from service.usecases.unloading_words import CAUTIONS, decision, warnings


def advise_unloading(table: KnowledgeTable, question: UnloadingQuestion) -> Unloading:
    """Answer a question on unloading.

    Raises
    ------
    UnknownName
        If crop, machine class, size or revision is not known.
    Contradiction, InvalidInput, OutOfRange, OutsideWindow
        If statements exclude each other, something is missing, or a figure cannot be.
    """
    table.check_revision(question.revision)
    _refuse(question)
    case, file = _read(table, question), table.hauling
    call, call_used = _call(case)
    now, cart, ways = _now(case, call), _cart(case, call), tuple(ways_of(case))
    return Unloading(
        crop=case.crop.id,
        crop_names=case.crop.names,
        yield_t_ha=case.yield_t_ha,
        bushel_lb=None if case.crop.physical.bushel_mass is None else case.crop.physical.bushel_mass.value,
        decision=decision(table, case, call, cart, now, ways),
        filling=case.filling,
        call=call,
        now=now,
        cart=cart,
        ways=ways,
        used=(*case.tank.used, case.docking, case.reduced, *call_used),
        findings=tuple(Known(one.code, proof(one)) for one in findings(file, "unloading", "edge")),
        warnings=(*case.tank.warnings, *warnings(table, case, call, cart, ways)),
        cautions=tuple(Message(code) for code in CAUTIONS),
    )


def _refuse(ask: UnloadingQuestion) -> None:
    """Refuse what excludes each other or says nothing alone."""
    if ask.cart_arrival_min is not None:
        for name in ("cart_distance_m", "cart_speed_km_h"):
            if getattr(ask, name) is not None:
                first, second = "cart_arrival_min", name
                raise Contradiction([first, second], "reason.both_given", first=first, second=second)
    for name, needs in (
        ("cart_speed_km_h", "cart_distance_m"),
        ("turn_time_s", "run_length_m"),
        ("edge_speed_km_h", "edge_distance_m"),
    ):
        if getattr(ask, name) is not None and getattr(ask, needs) is None:
            raise InvalidInput(name, reason="reason.needs", needs=needs)


def _read(table: KnowledgeTable, ask: UnloadingQuestion) -> Case:
    crop, figures = table.crop(ask.crop), table.hauling.figures
    yield_t_ha = yield_of(crop, ask.yield_t_ha, ask.yield_bu_ac)
    tank = read_tank(table, ask, crop)
    grain_t_h = throughput_t_h(ask.ground_speed_km_h, ask.cut_width_m, yield_t_ha)
    distance_m = tank_fill_distance_m(tank.volume_l, tank.density_kg_hl, ask.cut_width_m, yield_t_ha)
    filling = Filling(
        tank_t=tank.mass_t,
        grain_t_h=grain_t_h,
        time_min=tank_fill_time_min(tank.volume_l, tank.density_kg_hl, grain_t_h),
        distance_m=distance_m,
        runs=None if ask.run_length_m is None else distance_m / ask.run_length_m,
    )
    docking = given_or_table("docking", ask.docking_s, figures.docking)
    reduced = given_or_table("reduced_rate", ask.reduced_rate_pct, figures.reduced_share)
    cart_t = tonnes_of(crop, "cart_capacity_t", ask.cart_capacity_t, "cart_capacity_bu", ask.cart_capacity_bu)
    return Case(ask, figures, crop, tank, yield_t_ha, filling, docking, reduced, cart_t)


def _call(case: Case) -> tuple[CallCart, tuple[Used, ...]]:
    """When to call, from the way of the cart, or at the usual level where that is not told."""
    ask, figures, filling = case.question, case.figures, case.filling
    most_pct = 100 * case.share_that_fits(case.full_rate.value, moving=case.unloads_moving)
    used: tuple[Used, ...]
    if ask.cart_arrival_min is None and ask.cart_distance_m is None:
        used = (given_or_table("call_level", None, figures.call_level),)
        usual_pct = used[0].amount.value
        return _called(filling, min(usual_pct, most_pct), None, 0.0, cart_limits=most_pct < usual_pct), used
    reserve = given_or_table("call_reserve", None, figures.call_reserve)
    if ask.cart_distance_m is None:
        arrival_min, used = float(ask.cart_arrival_min or 0), (reserve,)
    else:
        speed = given_or_table("cart_speed", ask.cart_speed_km_h, figures.cart_speed)
        arrival_min = convert(ask.cart_distance_m / 1000 / speed.amount.value, "h", "min")
        used = (reserve, speed)
    found = call_level(filling.time_min, arrival_min, reserve.amount.value, most_pct)
    cart_limits = most_pct < 100 - reserve.amount.value
    return _called(filling, found.level_pct, arrival_min, found.wait_min, cart_limits=cart_limits), used


def _called(
    filling: Filling, level_pct: float, arrival_min: float | None, wait_min: float, *, cart_limits: bool
) -> CallCart:
    rest = 1 - level_pct / 100
    return CallCart(level_pct, arrival_min, filling.time_min * rest, filling.distance_m * rest, wait_min, cart_limits)


def _now(case: Case, call: CallCart) -> Now | None:
    level = case.question.tank_fill_pct
    if level is None:
        return None
    rest, filling = 1 - level / 100, case.filling
    to_call = max(0.0, call.level_pct - level) / 100
    return Now(level, filling.time_min * rest, filling.distance_m * rest, filling.time_min * to_call)


def _cart(case: Case, call: CallCart) -> CartLoad | None:
    """What the cart holds, and after how many unloadings it is full."""
    if case.cart_t is None:
        return None
    tanks = case.cart_t / case.tank.mass_t
    whole = int(tanks * (1 + 1e-12))
    moving, rate = case.unloads_moving, case.full_rate.value
    share = case.share_that_fits(rate, moving=moving)
    if call.arrival_min is not None:
        share = min(share, call.level_pct / 100 + call.arrival_min / case.filling.time_min)
    unloading_t = share * case.tank.mass_t * case.moved_over_content(rate, moving=moving)
    unloadings = _unloadings(case.cart_t, unloading_t)
    away_min = None if call.arrival_min is None else 2 * call.arrival_min
    wait_min, most_t_h = (None, None) if away_min is None else _one_cart(case, case.cart_t, away_min)
    rest_pct = max(0.0, tanks - whole) * 100
    return CartLoad(case.cart_t, tanks, whole, rest_pct, unloading_t, unloadings, away_min, wait_min, most_t_h)


def _unloadings(cart_t: float, unloading_t: float) -> int:
    """How often so much goes into the cart."""
    return max(1, int(cart_t / unloading_t * (1 + 1e-12)))


def _one_cart(case: Case, cart_t: float, away_min: float) -> tuple[float, float]:
    """Wait for one cart that drives off with each load, and the grain that it moves at most.

    While it is away the machine cuts what the cart takes at once, a tank at most, and then stands.
    """
    moving, rate = case.unloads_moving, case.full_rate.value
    share = case.share_that_fits(rate, moving=moving)
    wait_min = max(0.0, away_min - case.filling.time_min * share)
    unloading_t = share * case.tank.mass_t * case.moved_over_content(rate, moving=moving)
    count = _unloadings(cart_t, unloading_t)
    load_t = count * unloading_t
    cutting_h = load_t / case.filling.grain_t_h
    stops_h = (
        0.0 if moving else count * convert(case.docking.amount.value, "s", "h") + load_t / case.tank.rate_t_h(rate)
    )
    return wait_min, load_t / (cutting_h + stops_h + convert(wait_min, "min", "h"))
