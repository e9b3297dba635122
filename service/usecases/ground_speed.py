"""Ground speed: the smallest of the named limits, and what moved it away from the crop's reference.

Inside: limits and their ranges, the setting with its contributions, output and expected loss at that
speed. Outside: the formulas of throughput and power.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from service.domain import machine as formulas
from service.domain import power, unloading
from service.domain.types import Message, Quantity
from service.errors import InvalidInput, OutOfRange
from service.knowledge.schema import Figure, SettingRow
from service.units import convert
from service.usecases.conditions import Conditions, reference, steps
from service.usecases.machine import Machine
from service.usecases.provenance import ends_proof, proof
from service.usecases.setting_parts import DECIMALS, Frame, assemble, multiplier
from service.usecases.settings_types import GroundSpeed, Limit, LossBand, Output, Part, Proof, SettingAnswer

SETTING = "ground_speed"
# limit -> the quantity whose responses move it
LIMITED = {"separation": "separation_capacity", "cleaning": "cleaning_capacity", "header": SETTING}
Pick = Callable[[Figure], float]


@dataclass(frozen=True, slots=True)
class Loads:
    """Material per km/h of ground speed, t/h, on this cut width."""

    grain: float
    straw_and_chaff: float
    grain_and_chaff: float


def loads(frame: Frame, machine: Machine) -> Loads:
    """What one km/h brings into the machine."""
    physical, state = frame.crop.physical, frame.state
    per_km_h = formulas.throughput_t_h(speed_km_h=1.0, width_m=machine.size["cut_width_m"], mass_t_ha=state.yield_t_ha)
    straw = state.straw_to_grain * physical.straw_intake_share.value / 100
    chaff = physical.chaff_to_grain.value
    return Loads(per_km_h, per_km_h * (straw + chaff), per_km_h * (1 + chaff))


def speed_limits(frame: Frame, machine: Machine, row: SettingRow, bulk_density_kg_hl: float) -> tuple[Limit, ...]:
    """Every limit in km/h, at the capacity figures and at their low and high ends."""
    load, driving, specific = loads(frame, machine), frame.table.machines.driving, machine.specific
    separation = machine.size["separation_area_m2"] * multiplier(frame, "separation_capacity")
    cleaning = machine.size["cleaning_area_m2"] * multiplier(frame, "cleaning_capacity")
    header = multiplier(frame, SETTING)

    def limit(code: str, figure: Figure, speed: Callable[[float], float]) -> Limit:
        low, high = sorted((speed(_low(figure)), speed(_high(figure))))
        return Limit(code, speed(figure.value), low, high, proof(figure))

    def unloading_speed(margin: float) -> float:
        return _unloading_speed(frame, machine, margin, bulk_density_kg_hl)

    return (
        limit("separation", specific.separation_capacity_per_area, lambda c: c * separation / load.straw_and_chaff),
        limit("cleaning", specific.cleaning_capacity_per_area, lambda c: c * cleaning / load.grain_and_chaff),
        _power_limit(frame, machine, load, bulk_density_kg_hl),
        Limit("header", row.high * header, row.start * header, row.high * header, ends_proof(row)),
        limit("unloading", driving.unloading_margin, unloading_speed),
        limit("ceiling", driving.speed_ceiling, lambda speed: speed),
    )


def _unloading_speed(frame: Frame, machine: Machine, margin: float, bulk_density_kg_hl: float) -> float:
    return unloading.unloading_limited_speed_km_h(
        unloading_rate_l_s=machine.size["unloading_rate_l_s"],
        bulk_density_kg_hl=bulk_density_kg_hl,
        width_m=machine.size["cut_width_m"],
        yield_t_ha=frame.state.yield_t_ha,
        margin=margin,
    )


def _power_limit(frame: Frame, machine: Machine, load: Loads, bulk_density_kg_hl: float) -> Limit:
    model, driving = frame.table.power_model(frame.crop.power), frame.table.machines.driving
    feed = load.grain if model.feed == "grain" else load.straw_and_chaff
    free_share = 1 - driving.engine_reserve.value
    available = machine.size["engine_power_kw"] * free_share
    if available <= model.a_kw:
        low = math.ceil(model.a_kw / free_share)
        raise OutOfRange(
            "engine_power_kw", machine.size["engine_power_kw"], low=low, unit="kW", reason="reason.runs_empty"
        )

    def speed(spread: float) -> float:
        if available <= model.a_kw * spread:
            return 0.0
        return power.power_limited_speed_km_h(
            available_kw=available,
            a_kw=model.a_kw * spread,
            c_kwh_t=model.c_kwh_t * spread,
            feed_t_h_per_km_h=feed,
            mass_t=_loaded_mass_t(machine, bulk_density_kg_hl),
            rolling_resistance=driving.rolling_resistance.value,
            slope_deg=frame.state.slope_along_deg,
            efficiency=driving.drive_efficiency.value,
        )

    share = model.range_pct / 100
    return Limit("power", speed(1.0), speed(1 + share), speed(1 - share), proof(model))


def _loaded_mass_t(machine: Machine, bulk_density_kg_hl: float) -> float:
    """Mass with a full tank: the heaviest that the engine has to move."""
    return machine.size["machine_mass_t"] + machine.size["tank_volume_l"] * bulk_density_kg_hl / 1e5


def _value(figure: Figure) -> float:
    return figure.value


def _low(figure: Figure) -> float:
    return figure.value if figure.low is None else figure.low


def _high(figure: Figure) -> float:
    return figure.value if figure.high is None else figure.high


def ground_speed(frame: Frame, machine: Machine, bulk_density_kg_hl: float) -> tuple[SettingAnswer, GroundSpeed]:
    """Return the setting, told as a walk from the crop's reference to these conditions, and its limits."""
    row = frame.table.row(frame.crop, SETTING, frame.machine_class, frame.state.use)
    start = reference(frame.crop)

    def smallest(state: Conditions) -> tuple[float, Limit]:
        here = replace(frame, state=state)
        limit = min(speed_limits(here, machine, row, bulk_density_kg_hl), key=lambda one: one.speed_km_h)
        return round(limit.speed_km_h, DECIMALS), limit

    before, limit = smallest(start)
    parts = [Part("reference", before, f"limit.{limit.code}", limit.proof)]
    for code, state in steps(start, frame.state):
        after, limit = smallest(state)
        if after != before:
            parts.append(Part(code, after - before, *_moved_by(frame, code, limit)))
        before = after
    slowest = frame.table.vocabulary[SETTING].minimum
    if before < slowest:
        facts = {"limit": Message(f"limit.{limit.code}"), "slowest": Quantity(slowest, "km/h")}
        raise InvalidInput("cut_width_m", reason="reason.cannot_drive", **facts)
    limits = speed_limits(frame, machine, row, bulk_density_kg_hl)
    low = min(one.low_km_h for one in limits)
    high = min(one.high_km_h for one in limits)
    answer = assemble(SETTING, row.unit, parts, (min(low, before), max(high, before)), row)
    answer = replace(answer, row_note=None, proof=limit.proof, ends=limit.proof)
    return answer, GroundSpeed(limits, limit.code)


def _moved_by(frame: Frame, factor: str, limit: Limit) -> tuple[str, Proof]:
    """Return the response that moved the binding limit, else the limit's own figure, with its proof."""
    quantity = LIMITED.get(limit.code)
    response = quantity and frame.table.response(frame.crop, quantity, factor, frame.machine_class)
    return (response.id, proof(response)) if response else (f"limit.{limit.code}", limit.proof)


def expected_loss(frame: Frame, machine: Machine, speed_km_h: float) -> LossBand:
    """Machine loss to expect at a ground speed.

    The crop's target holds at full load, and the load is as uncertain as the capacity figures. Above
    full load loss rises by the steeper of two published powers of feed, below it falls by the flatter
    one: nobody measured how little an idle machine loses. A wish does not change what the machine can
    do, so priority stays out.
    """
    driving, target = frame.table.machines.driving, frame.crop.targets.machine_loss
    light, heavy = (_feed_ratio(frame, machine, speed_km_h, pick) for pick in (_high, _low))
    low, high = (
        formulas.expected_loss_band(
            loss_ref_pct=target.value,
            feed_ratio=ratio,
            exponent_low=driving.feed_exponent_low.value,
            exponent_high=(driving.feed_exponent_low if ratio < 1 else driving.feed_exponent_high).value,
        )
        for ratio in (light, heavy)
    )
    cited = (*target.source, *driving.feed_exponent_low.source, *driving.feed_exponent_high.source)
    ratio = _feed_ratio(frame, machine, speed_km_h, _value)
    return LossBand(low.low_pct, high.high_pct, target.value, ratio, Proof("computed", "derived", cited))


def _feed_ratio(frame: Frame, machine: Machine, speed_km_h: float, pick: Pick) -> float:
    """Feed over capacity of the more loaded of separation and cleaning."""
    load, specific, free = loads(frame, machine), machine.specific, ("priority",)
    separation = pick(specific.separation_capacity_per_area) * machine.size["separation_area_m2"]
    cleaning = pick(specific.cleaning_capacity_per_area) * machine.size["cleaning_area_m2"]
    return speed_km_h * max(
        load.straw_and_chaff / (separation * multiplier(frame, "separation_capacity", free)),
        load.grain_and_chaff / (cleaning * multiplier(frame, "cleaning_capacity", free)),
    )


def output(frame: Frame, machine: Machine, speed: SettingAnswer, bulk_density_kg_hl: float) -> tuple[Output, ...]:
    """Throughputs, area rate, engine power and tank filling at the advised ground speed."""
    speed_km_h = speed.start
    load = loads(frame, machine)
    grain, straw = load.grain * speed_km_h, load.straw_and_chaff * speed_km_h
    channel = convert(grain + straw, "t/h", "kg/s") / convert(machine.size["channel_width_mm"], "mm", "m")
    efficiency = frame.table.machines.driving.field_efficiency
    area = {
        pick: formulas.area_rate_ha_h(
            speed_km_h=speed_km_h, width_m=machine.size["cut_width_m"], field_efficiency_pct=pick(efficiency)
        )
        for pick in (_value, _low, _high)
    }
    fill = unloading.tank_fill_time_min(
        volume_l=machine.size["tank_volume_l"], bulk_density_kg_hl=bulk_density_kg_hl, grain_t_h=grain
    )
    physical = frame.crop.physical
    return (
        Output("grain_throughput", Quantity(grain, "t/h"), None, None, speed.proof),
        Output("straw_throughput", Quantity(straw, "t/h"), None, None, proof(physical.straw_to_grain)),
        Output("channel_load", Quantity(channel, "kg/(s.m)"), None, None, proof(physical.straw_to_grain)),
        Output("area_rate", Quantity(area[_value], "har/h"), area[_low], area[_high], proof(efficiency)),
        *_engine(frame, machine, speed_km_h, grain if _feeds_grain(frame) else straw, bulk_density_kg_hl),
        Output("tank_fill_time", Quantity(fill, "min"), None, None, proof(physical.bulk_density)),
    )


def _feeds_grain(frame: Frame) -> bool:
    return frame.table.power_model(frame.crop.power).feed == "grain"


def _engine(
    frame: Frame, machine: Machine, speed_km_h: float, feed_t_h: float, bulk_density_kg_hl: float
) -> tuple[Output, Output]:
    """Power for threshing and travel, and its share of the engine."""
    driving, model = frame.table.machines.driving, frame.table.power_model(frame.crop.power)
    engine = machine.size["engine_power_kw"]
    rotary = power.rotary_power_kw(feed_t_h=feed_t_h, a_kw=model.a_kw, c_kwh_t=model.c_kwh_t)
    travel = power.propulsion_power_kw(
        mass_t=_loaded_mass_t(machine, bulk_density_kg_hl),
        speed_km_h=speed_km_h,
        rolling_resistance=driving.rolling_resistance.value,
        slope_deg=frame.state.slope_along_deg,
        efficiency=driving.drive_efficiency.value,
    )
    need, spread = rotary + travel, rotary * model.range_pct / 100
    low, high = need - spread, need + spread
    share = Quantity(round(need / engine * 100), "%")
    return (
        Output("engine_power", Quantity(need, "kW"), low, high, proof(model)),
        Output("engine_power_share", share, round(low / engine * 100), round(high / engine * 100), proof(model)),
    )
