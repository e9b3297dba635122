"""What a question on hauling says: the work of combines, the way, the haulers, and what hours cost.

Inside: reading and refusing these. Outside: tank, auger and grain (`unloading_terms`), the plan itself
(`hauling_plan`), formulas.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from service.domain.hauling_work import FieldWork
from service.domain.machine import area_rate_ha_h, effective_area_rate_ha_h
from service.errors import Contradiction, InvalidInput, OutOfRange
from service.knowledge.schema import CropFile
from service.knowledge.schema_hauling import HaulingFigures
from service.knowledge.table import KnowledgeTable
from service.units import convert
from service.usecases.conditions import price_of, yield_of
from service.usecases.hauling_types import HaulingQuestion
from service.usecases.hour_cost import read_hour
from service.usecases.hour_types import Hour
from service.usecases.unloading_terms import Tank, given_or_table, own_used, read_tank, tonnes_of
from service.usecases.unloading_types import Used

Gap = Literal["mixed", "several_tanks", "store"]
Fit = Literal["same", "close", "other"]

# as many haulers as one plan looks at
MOST_HAULERS: Final = 20
# tanks that one hauler, and all of them together, may hold
MOST_TANKS_A_LOAD: Final = 60
MOST_TANKS: Final = 240
_OWNED: Final = ("list_price", "machine_age_years", "hours_per_year", "interest_pct", "wage_per_h", "fuel_price_per_l")


@dataclass(frozen=True, slots=True)
class Hauler:
    """One hauler that may join; `kind` is its place in the question."""

    kind: int
    capacity_t: float
    cost_per_h: float | None


@dataclass(frozen=True, slots=True)
class Terms:
    """A question as read. `efficiency` is the share of the time that is no turn and no corner."""

    crop: CropFile
    figures: HaulingFigures
    yield_t_ha: float
    tank: Tank
    work: FieldWork
    efficiency: float
    haulers: tuple[Hauler, ...]
    endless: bool  # more haulers can be had than a plan looks at
    hour: Hour | None
    used: tuple[Used, ...]


def read_terms(table: KnowledgeTable, ask: HaulingQuestion) -> Terms:
    """Read and check a question.

    Raises
    ------
    UnknownName
        If crop, machine class or size is not known.
    Contradiction, InvalidInput, OutOfRange, OutsideWindow
        If statements exclude each other, something is missing, or a figure cannot be.
    """
    crop, figures = table.crop(ask.crop), table.hauling.figures
    yield_t_ha = yield_of(crop, ask.yield_t_ha, ask.yield_bu_ac)
    tank = read_tank(table, ask, crop)
    efficiency, haulers = _efficiency(ask, figures), _haulers(ask, crop)
    times = _Times(
        docking=given_or_table("docking", ask.docking_s, figures.docking),
        call_level=given_or_table("call_level", ask.call_level_pct, figures.call_level),
        variation=given_or_table("time_variation", ask.time_variation_pct, figures.time_variation),
        least_room=given_or_table("least_room", None, figures.least_room),
    )
    if ask.cart_distance_m is None and ask.cart_speed_km_h is not None:
        raise InvalidInput("cart_speed_km_h", reason="reason.needs", needs="cart_distance_m")
    drive = None
    if ask.cart_distance_m is not None:
        drive = given_or_table("cart_speed", ask.cart_speed_km_h, figures.cart_speed)
    told = ask.haulers[-1].hauler_count is not None
    flow_t_h = yield_t_ha * area_rate_ha_h(ask.ground_speed_km_h, ask.cut_width_m, efficiency.amount.value)
    work = _work(ask, crop, tank, flow_t_h, times, drive)
    few = _few(haulers, work)
    return Terms(
        crop=crop,
        figures=figures,
        yield_t_ha=yield_t_ha,
        tank=tank,
        work=work,
        efficiency=efficiency.amount.value / 100,
        haulers=few,
        endless=not told or len(few) < len(haulers),
        hour=_hour(table, ask, crop, tank, yield_t_ha),
        used=(*tank.used, efficiency, *times.used, *(() if drive is None else (drive,))),
    )


def formula_gap(work: FieldWork, capacities_t: Sequence[float]) -> Gap | None:
    """Return why no formula reaches these haulers, None where one does."""
    if len({*capacities_t}) > 1:
        return "mixed"
    if work.round(capacities_t[0]).unloadings > 1:
        return "several_tanks"
    if work.store_places is not None and work.store_places < len(capacities_t):
        return "store"
    return None


def formula_fit(work: FieldWork, capacity_t: float) -> Fit:
    """Return how far the simulation takes what the formula takes, where one reaches these haulers.

    The formula knows one exponential time beside a combine and one away, and loads that are all alike. Several
    such times in a row vary less than one, and on the move a load varies with the time that it takes.
    """
    if work.variation < 1 or work.call_share < 1:
        return "other"
    service_h = work.service_h(work.round(capacity_t).payload_t)
    away = sum(time > 0 for time in (work.out_h, service_h, work.back_h))
    one_time = away <= 1 and not work.approach_h and not work.docking_h
    return "same" if one_time and not work.on_the_move else "close"


@dataclass(frozen=True, slots=True)
class _Times:
    docking: Used
    call_level: Used
    variation: Used
    least_room: Used

    @property
    def used(self) -> tuple[Used, ...]:
        return (self.docking, self.call_level, self.variation, self.least_room)


def _efficiency(ask: HaulingQuestion, figures: HaulingFigures) -> Used:
    """Share of the time that is cutting while nobody unloads or waits."""
    if ask.run_length_m is None:
        if ask.turn_time_s is not None:
            raise InvalidInput("turn_time_s", reason="reason.needs", needs="run_length_m")
        return given_or_table("turning_efficiency", ask.field_efficiency_pct, figures.turning_efficiency)
    if ask.field_efficiency_pct is not None:
        first, second = "field_efficiency_pct", "run_length_m"
        raise Contradiction([first, second], "reason.both_given", first=first, second=second)
    if ask.turn_time_s is None:
        raise InvalidInput("turn_time_s", reason="reason.runs_missing", fields=["turn_time_s"])
    rate = effective_area_rate_ha_h(
        ask.ground_speed_km_h,
        ask.cut_width_m,
        ask.run_length_m,
        width_share=1.0,
        unproductive_h_ha=0.0,
        turn_s=ask.turn_time_s,
    )
    whole = area_rate_ha_h(ask.ground_speed_km_h, ask.cut_width_m)
    return own_used("turning_efficiency", 100 * rate / whole, "%")


def _haulers(ask: HaulingQuestion, crop: CropFile) -> tuple[Hauler, ...]:
    """Every hauler that may join, in order."""
    found: list[Hauler] = []
    for kind, one in enumerate(ask.haulers):
        where = f"haulers.{kind}."
        capacity = tonnes_of(crop, "capacity_t", one.capacity_t, "capacity_bu", one.capacity_bu, where)
        if capacity is None:
            fields = ["capacity_t", "capacity_lb", "capacity_bu"]
            raise InvalidInput(where + "capacity_t", reason="reason.one_of", fields=fields)
        if one.hauler_count is None and kind < len(ask.haulers) - 1:
            raise InvalidInput(where + "hauler_count", reason="reason.hauler_count")
        count = MOST_HAULERS - len(found) if one.hauler_count is None else one.hauler_count
        found += [Hauler(kind, capacity, one.hauler_cost_per_h)] * count
    if len(found) > MOST_HAULERS:
        raise OutOfRange("haulers", len(found), 1, MOST_HAULERS, "1", "reason.haulers_many")
    return tuple(found)


def _few(haulers: tuple[Hauler, ...], work: FieldWork) -> tuple[Hauler, ...]:
    """Leave out what would make the simulation endless: haulers that hold very many tanks, beyond the first."""
    few: list[Hauler] = []
    tanks = 0
    for one in haulers:
        unloadings = work.round(one.capacity_t).unloadings
        if unloadings > MOST_TANKS_A_LOAD:
            high = one.capacity_t / unloadings * MOST_TANKS_A_LOAD
            field = f"haulers.{one.kind}.capacity_t"
            raise OutOfRange(field, one.capacity_t, None, high, "t", "reason.hauler_too_large")
        tanks += unloadings
        if few and tanks > MOST_TANKS:
            break
        few.append(one)
    return tuple(few)


def _work(
    ask: HaulingQuestion, crop: CropFile, tank: Tank, flow_t_h: float, times: _Times, drive: Used | None
) -> FieldWork:
    store_t_h = tonnes_of(crop, "store_rate_t_h", ask.store_rate_t_h, "store_rate_bu_h", ask.store_rate_bu_h)
    if ask.store_time_min is None and store_t_h is None:
        fields = ["store_time_min", "store_rate_t_h", "store_rate_bu_h"]
        raise InvalidInput("store_time_min", reason="reason.one_of", fields=fields)
    moving, rate_t_h = ask.unloading == "moving", tank.rate_t_h(tank.rate_l_s.value)
    if moving and rate_t_h <= flow_t_h:
        inflow_l_s = convert(flow_t_h, "t/h", "kg/s") / tank.density_kg_hl * 100
        raise OutOfRange("unloading_rate_l_s", tank.rate_l_s.value, inflow_l_s, None, "L/s", "reason.auger_slower")
    back_speed = ask.haul_speed_km_h if ask.return_speed_km_h is None else ask.return_speed_km_h
    approach_h = 0.0
    if ask.cart_distance_m is not None and drive is not None:
        approach_h = ask.cart_distance_m / 1000 / drive.amount.value
    return FieldWork(
        combines=ask.combines,
        tank_t=tank.mass_t,
        flow_t_h=flow_t_h,
        unloading_t_h=rate_t_h,
        on_the_move=moving,
        call_share=times.call_level.amount.value / 100,
        docking_h=convert(times.docking.amount.value, "s", "h"),
        approach_h=approach_h,
        out_h=ask.distance_km / ask.haul_speed_km_h,
        back_h=ask.distance_km / back_speed,
        store_h=convert(ask.store_time_min or 0.0, "min", "h"),
        store_t_h=store_t_h,
        store_places=ask.store_places,
        least_room_t=times.least_room.amount.value / 100 * tank.mass_t,
        variation=times.variation.amount.value / 100,
    )


def _hour(table: KnowledgeTable, ask: HaulingQuestion, crop: CropFile, tank: Tank, yield_t_ha: float) -> Hour | None:
    """Cost of an hour of a combine and of delay, None where no cost is told."""
    priced = "price_per_t" if ask.price_per_t is not None else "price_per_bu" if ask.price_per_bu is not None else None
    if priced is not None and ask.area_left_ha is None:
        raise InvalidInput(priced, reason="reason.needs", needs="area_left_ha")
    costs = [name for name in ("cost_per_h", *_OWNED) if getattr(ask, name) is not None]
    dear = [one.hauler_cost_per_h is not None for one in ask.haulers]
    if not costs and not any(dear):
        for name in (*([] if priced is None else [priced]), "hours_per_day", "delay_loss_pct_per_day"):
            if getattr(ask, name) is not None:
                raise InvalidInput(name, reason="reason.needs", needs="cost_per_h")
        return None
    if not all(dear):
        raise InvalidInput(f"haulers.{dear.index(False)}.hauler_cost_per_h", reason="reason.hauler_cost")
    price = 0.0 if ask.area_left_ha is None else price_of(crop, ask.price_per_t, ask.price_per_bu)
    fuel_l_h = None
    if tank.engine_kw is not None:
        fuel_l_h = tank.engine_kw * table.economics.machine_cost.fuel_per_rated_power.value
    return read_hour(table, ask, crop, yield_t_ha=yield_t_ha, price_per_t=price, fuel_l_h=fuel_l_h)
