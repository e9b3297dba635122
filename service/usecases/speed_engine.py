"""Engine power and fuel of a working speed, where the question tells a machine.

Inside: reading the machine, the speed that its power allows, power and fuel at a speed. Outside: the
formulas (`domain.power`), dimensions by class (`machine`).
"""

from dataclasses import dataclass

from service.domain import power
from service.domain.types import Interval
from service.errors import InvalidInput, OutOfRange
from service.knowledge.machine_schema import Driving, PowerModel
from service.knowledge.table import KnowledgeTable
from service.usecases.machine import Machine, fit_machine
from service.usecases.provenance import proof
from service.usecases.settings_types import SettingsQuestion
from service.usecases.speed_terms import Terms
from service.usecases.working_speed_types import Engine, SpeedQuestion

_ITEMS = ("engine_power", "machine_mass")


@dataclass(frozen=True, slots=True)
class Works:
    """The machine of a question and the power model of its crop. `feed` is t/h at 1 km/h."""

    machine: Machine
    model: PowerModel
    feed: float
    slope_deg: float
    driving: Driving
    fuel_l_h: float
    own_power: bool

    @property
    def limit_km_h(self) -> float:
        """Ground speed at which the engine is used up but for its reserve."""
        return power.power_limited_speed_km_h(
            available_kw=self.machine.size["engine_power_kw"] * (1 - self.driving.engine_reserve.value),
            a_kw=self.model.a_kw,
            c_kwh_t=self.model.c_kwh_t,
            feed_t_h_per_km_h=self.feed,
            mass_t=self.machine.size["machine_mass_t"],
            rolling_resistance=self.driving.rolling_resistance.value,
            slope_deg=self.slope_deg,
            efficiency=self.driving.drive_efficiency.value,
        )


def read_works(table: KnowledgeTable, question: SpeedQuestion, terms: Terms) -> Works | None:
    """Return the machine, None where the question tells none.

    Raises
    ------
    InvalidInput, Contradiction, UnknownName, OutOfRange
        If power, mass or size stand without a class, exclude each other, or the engine cannot run the machine.
    """
    if question.machine_class is None:
        for name in ("engine_power_kw", "machine_mass_t", "size_band"):
            if getattr(question, name) is not None:
                raise InvalidInput("machine_class", reason="reason.engine_needs_class", given=name)
        return None
    machine = fit_machine(
        table,
        SettingsQuestion(
            crop=terms.crop.id,
            machine_class=question.machine_class,
            grain_moisture_pct=terms.crop.physical.reference_moisture.value,
            size_band=question.size_band,
            engine_power_kw=question.engine_power_kw,
            machine_mass_t=question.machine_mass_t,
            cut_width_m=terms.width_m,
        ),
        terms.crop,
    )
    model, driving = table.power_model(terms.crop.power), table.machines.driving
    grain = terms.grain_t_h(1.0, 0.0)
    feed = grain if model.feed == "grain" else grain * terms.straw_and_chaff_per_grain
    engine_kw, free = machine.size["engine_power_kw"], 1 - driving.engine_reserve.value
    if engine_kw * free <= model.a_kw:
        raise OutOfRange("engine_power_kw", engine_kw, low=model.a_kw / free, unit="kW", reason="reason.runs_empty")
    fuel_l_h = engine_kw * table.economics.machine_cost.fuel_per_rated_power.value
    own_power = question.engine_power_kw is not None
    return Works(machine, model, feed, question.slope_along_deg, driving, fuel_l_h, own_power)


def engine_at(table: KnowledgeTable, works: Works, terms: Terms, speed_km_h: float, *, limit_counts: bool) -> Engine:
    """Return power and fuel at a ground speed."""
    rotary = power.rotary_power_kw(works.feed * speed_km_h, works.model.a_kw, works.model.c_kwh_t)
    travel = power.propulsion_power_kw(
        mass_t=works.machine.size["machine_mass_t"],
        speed_km_h=speed_km_h,
        rolling_resistance=works.driving.rolling_resistance.value,
        slope_deg=works.slope_deg,
        efficiency=works.driving.drive_efficiency.value,
    )
    spread = rotary * works.model.range_pct / 100
    need, engine = rotary + travel, works.machine.size["engine_power_kw"]
    return Engine(
        power_kw=Interval(need, need - spread, need + spread),
        share_pct=Interval(need / engine * 100, (need - spread) / engine * 100, (need + spread) / engine * 100),
        limit_km_h=works.limit_km_h,
        limit_counts=limit_counts,
        fuel_l_h=works.fuel_l_h,
        fuel_l_ha=works.fuel_l_h * terms.hours_per_ha(speed_km_h),
        power_proof=proof(works.model),
        fuel_proof=proof(table.economics.machine_cost.fuel_per_rated_power),
        items=tuple(item for item in works.machine.items if item.code in _ITEMS),
    )
