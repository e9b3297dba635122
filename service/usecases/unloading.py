"""Unloading: when the tank is full, when to call the cart, and which way of unloading costs how much work.

Inside: the whole answer. Outside: tank, auger and grain (`unloading_terms`), how many carts or trucks are
needed (`hauling_plan`), formulas.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

from service.domain.machine import area_rate_ha_h, effective_area_rate_ha_h, throughput_t_h
from service.domain.types import Interval, Message, Quantity
from service.domain.unloading import tank_fill_distance_m, tank_fill_time_min
from service.domain.unloading_stops import call_level, emptying_time_s, whole_runs, working_share
from service.errors import Contradiction, InvalidInput, OutOfRange, UnknownName
from service.knowledge.hauling import findings
from service.knowledge.schema import CropFile
from service.knowledge.schema_hauling import HaulingFigures
from service.knowledge.table import KnowledgeTable
from service.units import convert
from service.usecases.conditions import yield_of
from service.usecases.provenance import proof
from service.usecases.settings_types import Proof
from service.usecases.unloading_terms import Tank, given_or_table, hauling_file, read_tank, tonnes_of
from service.usecases.unloading_types import (
    CallCart,
    CartLoad,
    Filling,
    Known,
    Now,
    Unloading,
    UnloadingQuestion,
    Used,
    Way,
    WayCode,
)

CAUTIONS: Final = (
    "caution.tube_kept_clear",
    "caution.power_lines",
    "caution.grain_entrapment",
    "caution.side_by_side",
    "caution.slope_rollover",
    "caution.roads_local_code",
    "caution.machine_manual_first",
)


@dataclass(frozen=True, slots=True)
class Case:
    """A question as read."""

    question: UnloadingQuestion
    figures: HaulingFigures
    crop: CropFile
    tank: Tank
    yield_t_ha: float
    filling: Filling
    docking: Used
    reduced: Used

    @property
    def full_rate(self) -> Interval:
        """Rate of the auger. [L/s]"""
        return self.tank.rate_l_s

    @property
    def reduced_rate(self) -> Interval:
        """Rate with a cross auger off. [L/s]"""
        share, rate = self.reduced.amount.value / 100, self.tank.rate_l_s
        return Interval(rate.value * share, rate.low * share, rate.high * share)

    def area_rate_ha_h(self, lost_min: float, load_share: float) -> float:
        """Area per hour where each load of the tank costs so many minutes; turns are counted where they are told."""
        ask = self.question
        lost_h_ha = lost_min / 60 * self.yield_t_ha / (self.filling.tank_t * load_share)
        if ask.run_length_m is not None:
            return effective_area_rate_ha_h(
                ask.ground_speed_km_h,
                ask.cut_width_m,
                ask.run_length_m,
                width_share=1.0,
                unproductive_h_ha=lost_h_ha,
                turn_s=ask.turn_time_s or 0.0,
            )
        return 1 / (1 / area_rate_ha_h(ask.ground_speed_km_h, ask.cut_width_m) + lost_h_ha)


def advise_unloading(table: KnowledgeTable, question: UnloadingQuestion) -> Unloading:
    """Answer a question on unloading.

    Raises
    ------
    UnknownName
        If crop, machine class, size or revision is not known.
    Contradiction, InvalidInput, OutOfRange, OutsideWindow
        If statements exclude each other, something is missing, or a figure cannot be.
    """
    if question.revision not in {None, table.revision}:
        raise UnknownName("revision", str(question.revision), [table.revision])
    _refuse(question)
    case, file = _read(table, question), hauling_file(table)
    call, call_used = _call(case)
    ways = tuple(_ways(case))
    return Unloading(
        crop=case.crop.id,
        crop_names=case.crop.names,
        yield_t_ha=case.yield_t_ha,
        bushel_lb=None if case.crop.physical.bushel_mass is None else case.crop.physical.bushel_mass.value,
        decision=_decision(case, call, ways),
        filling=case.filling,
        call=call,
        now=_now(case, call),
        cart=_cart(case),
        ways=ways,
        used=(*case.tank.used, case.docking, case.reduced, *call_used),
        findings=tuple(Known(one.code, proof(one)) for one in findings(file, "unloading", "edge")),
        warnings=(*case.tank.warnings, *_warnings(table, case, call, ways)),
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
    crop, figures = table.crop(ask.crop), hauling_file(table).figures
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
    return Case(ask, figures, crop, tank, yield_t_ha, filling, docking, reduced)


def _call(case: Case) -> tuple[CallCart, tuple[Used, ...]]:
    """When to call, from the way of the cart, or at the usual level where that is not told."""
    ask, figures, filling = case.question, case.figures, case.filling
    used: tuple[Used, ...]
    if ask.cart_arrival_min is None and ask.cart_distance_m is None:
        used = (given_or_table("call_level", None, figures.call_level),)
        return _called(filling, used[0].amount.value, None, 0.0), used
    reserve = given_or_table("call_reserve", None, figures.call_reserve)
    if ask.cart_distance_m is None:
        arrival_min, used = float(ask.cart_arrival_min or 0), (reserve,)
    else:
        speed = given_or_table("cart_speed", ask.cart_speed_km_h, figures.cart_speed)
        arrival_min = convert(ask.cart_distance_m / 1000 / speed.amount.value, "h", "min")
        used = (reserve, speed)
    found = call_level(filling.time_min, arrival_min, reserve.amount.value)
    return _called(filling, found.level_pct, arrival_min, found.wait_min), used


def _called(filling: Filling, level_pct: float, arrival_min: float | None, wait_min: float) -> CallCart:
    rest = 1 - level_pct / 100
    return CallCart(level_pct, arrival_min, filling.time_min * rest, filling.distance_m * rest, wait_min)


def _now(case: Case, call: CallCart) -> Now | None:
    level = case.question.tank_fill_pct
    if level is None:
        return None
    rest, filling = 1 - level / 100, case.filling
    to_call = max(0.0, call.level_pct - level) / 100
    return Now(level, filling.time_min * rest, filling.distance_m * rest, filling.time_min * to_call)


def _cart(case: Case) -> CartLoad | None:
    ask = case.question
    capacity = tonnes_of(case.crop, "cart_capacity_t", ask.cart_capacity_t, "cart_capacity_bu", ask.cart_capacity_bu)
    if capacity is None:
        return None
    tanks = capacity / case.filling.tank_t
    whole = int(tanks * (1 + 1e-12))
    return CartLoad(capacity, tanks, whole, max(0.0, tanks - whole) * 100)


def _ways(case: Case) -> Iterator[Way]:
    """Every way of unloading, compared with standing at the full rate."""
    standing = _standing(case, "standing", case.full_rate)
    plain = case.area_rate_ha_h(standing.lost_min or 0.0, 1.0)
    yield _moving(case, "moving", case.full_rate, plain)
    yield _moving(case, "moving_reduced", case.reduced_rate, plain)
    yield _compared(standing, plain)
    yield _compared(_standing(case, "standing_reduced", case.reduced_rate), plain)
    if case.question.run_length_m is not None:
        yield _compared(_headland(case, case.question.run_length_m), plain)
    yield _compared(_edge(case), plain)


def _emptying(case: Case, rate: Interval, inflow_t_h: float, load_share: float = 1.0) -> Interval:
    """Time of emptying, with that of the range of the auger's rate; endless where its low end is too slow."""
    volume, density = case.tank.volume_l * load_share, case.tank.density_kg_hl
    middle, quick = (emptying_time_s(volume, one, inflow_t_h, density) for one in (rate.value, rate.high))
    try:
        slow = emptying_time_s(volume, rate.low, inflow_t_h, density)
    except OutOfRange:
        slow = math.inf
    return Interval(middle, quick, slow)


def _moving(case: Case, code: WayCode, rate: Interval, plain_ha_h: float) -> Way:
    try:
        unload = _emptying(case, rate, case.filling.grain_t_h)
    except OutOfRange:
        facts = {"inflow": Quantity(_inflow_l_s(case), "L/s"), "rate": Quantity(rate.value, "L/s")}
        return Way(code, possible=False, why=Message("unloading.why_auger_slower", facts), rate_l_s=rate.value)
    distance_m = convert(case.question.ground_speed_km_h, "km/h", "m/s") * unload.value
    run = case.question.run_length_m
    way = Way(
        code,
        possible=True,
        why=None,
        rate_l_s=rate.value,
        unload_s=unload,
        distance_m=distance_m,
        runs=None if run is None else distance_m / run,
    )
    return _worked(case, way, 0.0, 1.0, plain_ha_h)


def _standing(case: Case, code: WayCode, rate: Interval) -> Way:
    unload = _emptying(case, rate, 0.0)
    way = Way(code, possible=True, why=None, rate_l_s=rate.value, unload_s=unload)
    return _worked(case, way, (case.docking.amount.value + unload.value) / 60, 1.0)


def _headland(case: Case, run_length_m: float) -> Way:
    """At the end of the last run that the tank lasts for: the tank is not full then."""
    runs = whole_runs(case.filling.distance_m, run_length_m)
    if runs == 0:
        facts = {"run": _km(run_length_m), "distance": _km(case.filling.distance_m)}
        return Way("headland", possible=False, why=Message("unloading.why_run_too_long", facts))
    share = min(1.0, runs * run_length_m / case.filling.distance_m)
    unload = _emptying(case, case.full_rate, 0.0, share)
    way = Way("headland", possible=True, why=None, rate_l_s=case.full_rate.value, unload_s=unload, runs=float(runs))
    return _worked(case, way, (case.docking.amount.value + unload.value) / 60, share)


def _edge(case: Case) -> Way:
    """Drive to a vehicle at the edge of the field, unload there, and drive back."""
    ask, figures = case.question, case.figures
    proofs: tuple[Proof, ...] = ()
    if ask.edge_distance_m is None:
        drive_s = figures.edge_drive_out.value + figures.edge_drive_back.value
        proofs = (proof(figures.edge_drive_out), proof(figures.edge_drive_back))
    else:
        # a driver who was not asked for more drives as fast as he cuts
        speed = ask.ground_speed_km_h if ask.edge_speed_km_h is None else ask.edge_speed_km_h
        drive_s = 2 * ask.edge_distance_m / convert(speed, "km/h", "m/s")
    unload = _emptying(case, case.full_rate, 0.0)
    way = Way(
        "edge", possible=True, why=None, rate_l_s=case.full_rate.value, unload_s=unload, drive_s=drive_s, proofs=proofs
    )
    return _worked(case, way, (drive_s + case.docking.amount.value + unload.value) / 60, 1.0)


def _worked(case: Case, way: Way, lost_min: float, load_share: float, plain_ha_h: float | None = None) -> Way:
    """Fill in what a way of unloading leaves of the work."""
    rate = case.area_rate_ha_h(lost_min, load_share)
    worked = replace(
        way,
        load_pct=load_share * 100,
        lost_min=lost_min,
        cutting_share_pct=100 * working_share(case.filling.time_min * load_share, lost_min),
        area_rate_ha_h=rate,
        grain_t_h=rate * case.yield_t_ha,
    )
    return worked if plain_ha_h is None else _compared(worked, plain_ha_h)


def _compared(way: Way, plain_ha_h: float) -> Way:
    return way if way.area_rate_ha_h is None else replace(way, gain_pct=100 * (way.area_rate_ha_h / plain_ha_h - 1))


def _inflow_l_s(case: Case) -> float:
    return convert(case.filling.grain_t_h, "t/h", "kg/s") / case.tank.density_kg_hl * 100


def _decision(case: Case, call: CallCart, ways: tuple[Way, ...]) -> Message:
    """The tank, the call, and the way: three parts of one sentence."""
    moving, standing = ways[0], next(way for way in ways if way.code == "standing")
    facts: dict[str, object] = {
        "time": Quantity(case.filling.time_min, "min"),
        "distance": _km(case.filling.distance_m),
        "call": call_words(call),
    }
    if moving.unload_s is None or moving.gain_pct is None:
        facts["stop"] = Quantity(standing.lost_min or 0.0, "min")
        return Message("unloading.decision_standing", facts)
    facts |= {"unload": Quantity(moving.unload_s.value / 60, "min"), "gain": _whole(moving.gain_pct)}
    return Message("unloading.decision_far" if call.wait_min > 0 else "unloading.decision_moving", facts)


def call_words(call: CallCart) -> Message:
    """Return when to call, as a sentence."""
    if call.wait_min > 0:
        return Message("unloading.call_too_far", {"wait": Quantity(call.wait_min, "min")})
    if call.level_pct == 0:
        return Message("unloading.call_along")
    facts = {"level": _whole(call.level_pct), "before": Quantity(call.before_full_min, "min")}
    return Message("unloading.call_at", facts)


def _warnings(table: KnowledgeTable, case: Case, call: CallCart, ways: tuple[Way, ...]) -> Iterator[Message]:
    """What to look out for in this field with this machine."""
    moving, margin = ways[0], table.machines.driving.unloading_margin.value
    ratio = case.full_rate.value / _inflow_l_s(case)
    if moving.possible and ratio < margin:
        yield Message("unloading.auger_hardly_faster", {"ratio": round(ratio, 2), "margin": margin})
    if moving.runs is not None and moving.runs > 1 and moving.distance_m is not None:
        run = _km(case.question.run_length_m or 0.0)
        yield Message("unloading.longer_than_run", {"distance": _km(moving.distance_m), "run": run})
    if call.wait_min > 0 and call.arrival_min is not None:
        facts = {"arrival": Quantity(call.arrival_min, "min"), "fill": Quantity(case.filling.time_min, "min")}
        yield Message("unloading.one_cart_too_few", facts)
    edge = next(way for way in ways if way.code == "edge")
    if edge.lost_min is not None and edge.lost_min < call.wait_min:
        yield Message("unloading.edge_beats_waiting", {"edge": Quantity(edge.lost_min, "min")})
    level = case.question.tank_fill_pct
    if level is not None and level >= call.level_pct:
        yield Message("unloading.call_now", {"level": _whole(level)})


def _whole(percent: float) -> Quantity:
    return Quantity(round(percent), "%")


def _km(distance_m: float) -> Quantity:
    # a hundredth of a kilometre or mile is as much as a driver can tell
    return Quantity(distance_m / 1000, "km")
