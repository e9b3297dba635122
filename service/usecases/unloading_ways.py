"""The ways of unloading a tank, and how much work each leaves.

Inside: on the move, standing, at the headland, at the edge of the field; what a small cart and short runs
take from them. Outside: reading the question (`unloading`), what is said of them (`unloading_words`).
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from service.domain.machine import area_rate_ha_h, effective_area_rate_ha_h
from service.domain.types import Interval, Message, Quantity
from service.domain.unloading_stops import (
    breaks_at_headlands,
    content_that_fits_t,
    emptying_time_s,
    whole_runs,
    working_share,
)
from service.errors import OutOfRange
from service.knowledge.schema import CropFile
from service.knowledge.schema_hauling import HaulingFigures
from service.units import convert
from service.usecases.provenance import proof
from service.usecases.settings_types import Proof
from service.usecases.unloading_terms import Tank
from service.usecases.unloading_types import Filling, UnloadingQuestion, Used, Way, WayCode


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
    cart_t: float | None  # room in the cart, where that is told

    @property
    def full_rate(self) -> Interval:
        """Rate of the auger. [L/s]"""
        return self.tank.rate_l_s

    @property
    def reduced_rate(self) -> Interval:
        """Rate with a cross auger off. [L/s]"""
        share, rate = self.reduced.amount.value / 100, self.tank.rate_l_s
        return Interval(rate.value * share, rate.low * share, rate.high * share)

    @property
    def inflow_l_s(self) -> float:
        """Grain that flows into the tank while the machine cuts."""
        return convert(self.filling.grain_t_h, "t/h", "kg/s") / self.tank.density_kg_hl * 100

    def moved_over_content(self, rate_l_s: float, *, moving: bool) -> float:
        """Grain that goes over in one unloading, over what the tank held when it began."""
        return rate_l_s / (rate_l_s - self.inflow_l_s) if moving else 1.0

    def share_that_fits(self, rate_l_s: float, *, moving: bool) -> float:
        """Share of a full tank that the cart takes in one unloading, with what is cut meanwhile."""
        if self.cart_t is None:
            return 1.0
        inflow = self.filling.grain_t_h if moving else 0.0
        return min(1.0, content_that_fits_t(self.cart_t, self.tank.rate_t_h(rate_l_s), inflow) / self.tank.mass_t)

    @property
    def unloads_moving(self) -> bool:
        """Whether the auger is faster than what flows in."""
        return self.full_rate.value > self.inflow_l_s

    def area_rate_ha_h(self, lost_min: float, load_t: float) -> float:
        """Area per hour where each load costs so many minutes; turns are counted where they are told."""
        ask = self.question
        lost_h_ha = lost_min / 60 * self.yield_t_ha / load_t
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


def ways_of(case: Case) -> Iterator[Way]:
    """Yield every way of unloading, compared with standing at the full rate."""
    standing = _standing(case, "standing", case.full_rate)
    plain = standing.area_rate_ha_h or 0.0
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
    """Unload while cutting; where a run is too short the cart docks again on the next."""
    if rate.value <= case.inflow_l_s:
        facts = {"inflow": Quantity(case.inflow_l_s, "L/s"), "rate": Quantity(rate.value, "L/s")}
        return Way(code, possible=False, why=Message("unloading.why_auger_slower", facts), rate_l_s=rate.value)
    share = case.share_that_fits(rate.value, moving=True)
    unload = _emptying(case, rate, case.filling.grain_t_h, share)
    distance_m = convert(case.question.ground_speed_km_h, "km/h", "m/s") * unload.value
    run = case.question.run_length_m
    breaks = None if run is None else breaks_at_headlands(distance_m, run)
    way = Way(
        code,
        possible=True,
        why=None,
        rate_l_s=rate.value,
        unload_s=unload,
        distance_m=distance_m,
        runs=None if run is None else distance_m / run,
        breaks=breaks,
    )
    return _compared(_worked(case, way, (breaks or 0) * case.docking.amount.value / 60, share), plain_ha_h)


def _standing(case: Case, code: WayCode, rate: Interval) -> Way:
    share = case.share_that_fits(rate.value, moving=False)
    unload = _emptying(case, rate, 0.0, share)
    way = Way(code, possible=True, why=None, rate_l_s=rate.value, unload_s=unload)
    return _worked(case, way, (case.docking.amount.value + unload.value) / 60, share)


def _headland(case: Case, run_length_m: float) -> Way:
    """At the end of the last run that tank and cart last for: the tank is not full then."""
    full_m = case.filling.distance_m
    distance_m = full_m * case.share_that_fits(case.full_rate.value, moving=False)
    runs = whole_runs(distance_m, run_length_m)
    if runs == 0:
        code = "unloading.why_run_too_long" if full_m < run_length_m else "unloading.why_cart_too_small"
        facts = {"run": Quantity(run_length_m / 1000, "km"), "distance": Quantity(distance_m / 1000, "km")}
        return Way("headland", possible=False, why=Message(code, facts))
    share = min(1.0, runs * run_length_m / full_m)
    unload = _emptying(case, case.full_rate, 0.0, share)
    way = Way("headland", possible=True, why=None, rate_l_s=case.full_rate.value, unload_s=unload, runs=float(runs))
    return _worked(case, way, (case.docking.amount.value + unload.value) / 60, share)


def _edge(case: Case) -> Way:
    """Drive to a vehicle at the edge of the field, which takes a full tank, unload there, and drive back."""
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


def _worked(case: Case, way: Way, lost_min: float, load_share: float) -> Way:
    """Fill in what a way of unloading leaves of the work."""
    # on the move what is cut meanwhile goes over with the tank, so that the time lost counts for more grain
    moved = case.moved_over_content(way.rate_l_s or 0.0, moving=way.distance_m is not None)
    rate = case.area_rate_ha_h(lost_min, case.filling.tank_t * load_share * moved)
    return replace(
        way,
        load_pct=load_share * 100,
        lost_min=lost_min,
        cutting_share_pct=100 * working_share(case.filling.time_min * load_share * moved, lost_min),
        area_rate_ha_h=rate,
        grain_t_h=rate * case.yield_t_ha,
    )


def _compared(way: Way, plain_ha_h: float) -> Way:
    return way if way.area_rate_ha_h is None else replace(way, gain_pct=100 * (way.area_rate_ha_h / plain_ha_h - 1))
