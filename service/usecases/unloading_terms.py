"""Tank, auger and grain of a question on unloading or hauling.

Inside: reading and refusing them, defaults of class and table, bulk density at a moisture. Outside: what
they lead to (`unloading`, `hauling_plan`).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

from service.domain.bulk_density import bulk_density_kg_m3, lightest_moisture_pct
from service.domain.types import Interval, Message, Quantity
from service.errors import Contradiction, InvalidInput, OutsideWindow
from service.knowledge.hauling import density_curve
from service.knowledge.schema import CropFile, Figure
from service.knowledge.table import KnowledgeTable
from service.units import convert
from service.usecases.machine import Machine, fit_machine
from service.usecases.provenance import proof
from service.usecases.settings_types import Proof, SettingsQuestion
from service.usecases.unloading_types import Used


class TankQuestion(Protocol):
    """What a question says of grain, tank and auger."""

    @property
    def grain_moisture_pct(self) -> float | None: ...
    @property
    def bulk_density_kg_hl(self) -> float | None: ...
    @property
    def machine_class(self) -> str | None: ...
    @property
    def size_band(self) -> str | None: ...
    @property
    def engine_power_kw(self) -> float | None: ...
    @property
    def tank_volume_l(self) -> float | None: ...
    @property
    def unloading_rate_l_s(self) -> float | None: ...


@dataclass(frozen=True, slots=True)
class Tank:
    """Tank, auger and grain; `used` tells where each comes from."""

    volume_l: float
    rate_l_s: Interval
    density_kg_hl: float
    engine_kw: float | None  # None where no machine is told
    used: tuple[Used, ...]
    warnings: tuple[Message, ...]

    @property
    def mass_t(self) -> float:
        """Grain of a full tank."""
        return convert(self.volume_l * self.density_kg_hl / 100, "kg", "t")

    def rate_t_h(self, rate_l_s: float) -> float:
        """Mass that leaves the auger at a volume rate."""
        return convert(rate_l_s * self.density_kg_hl / 100, "kg/s", "t/h")


def figure_used(code: str, figure: Figure) -> Used:
    """Return a figure of the table as it was used."""
    low = figure.value if figure.low is None else figure.low
    high = figure.value if figure.high is None else figure.high
    return Used(code, Interval(figure.value, low, high), figure.unit, "table", proof(figure))


def own_used(code: str, value: float, unit: str) -> Used:
    """Return a figure of the caller as it was used."""
    return Used(code, Interval(value, value, value), unit, "request", None)


def given_or_table(code: str, given: float | None, figure: Figure) -> Used:
    """Return the caller's figure, else that of the table."""
    return figure_used(code, figure) if given is None else own_used(code, given, figure.unit)


def read_tank(table: KnowledgeTable, question: TankQuestion, crop: CropFile) -> Tank:
    """Read tank, auger and grain.

    Raises
    ------
    InvalidInput
        If neither the tank nor a machine class is told, or a size without a class.
    UnknownName, Contradiction
        If the class or size is not known, or class, size and engine exclude each other.
    OutsideWindow
        If the grain is too dry or too wet to combine.
    """
    machine = _machine(table, question, crop)
    defaults = None if machine is None else table.defaults(machine.entry.id, machine.band.id)
    volume = _sized("tank_volume", question.tank_volume_l, "L", None if defaults is None else defaults.tank_volume)
    if volume is None:
        fields = ["tank_volume_l", "tank_volume_gal", "tank_volume_bu", "machine_class"]
        raise InvalidInput("tank_volume_l", reason="reason.one_of", fields=fields)
    usual = None if defaults is None else defaults.unloading_rate
    rate = _sized("unloading_rate", question.unloading_rate_l_s, "L/s", usual)
    if rate is None:
        rate = figure_used("unloading_rate", table.hauling.figures.unloading_rate)
    density, warnings = _density(table, question, crop)
    warnings += _rate_doubts(table, rate, usual)
    return Tank(
        volume_l=volume.amount.value,
        rate_l_s=rate.amount,
        density_kg_hl=density.amount.value,
        engine_kw=None if machine is None else machine.size["engine_power_kw"],
        used=(volume, rate, density),
        warnings=tuple(warnings),
    )


def _machine(table: KnowledgeTable, question: TankQuestion, crop: CropFile) -> Machine | None:
    """Return the machine that a class, a size or an engine tells, None where none is told."""
    if question.machine_class is None:
        for name in ("size_band", "engine_power_kw"):
            if getattr(question, name) is not None:
                raise InvalidInput("machine_class", reason="reason.engine_needs_class", given=name)
        return None
    asked = SettingsQuestion(
        crop=crop.id,
        machine_class=question.machine_class,
        grain_moisture_pct=crop.physical.reference_moisture.value,
        size_band=question.size_band,
        engine_power_kw=question.engine_power_kw,
    )
    return fit_machine(table, asked, crop)


def _sized(code: str, given: float | None, unit: str, figure: Figure | None) -> Used | None:
    if given is not None:
        return own_used(code, given, unit)
    if figure is None:
        return None
    default = figure_used(code, figure)
    return Used(code, default.amount, figure.unit, "class", default.proof)


def _rate_doubts(table: KnowledgeTable, rate: Used, usual: Figure | None) -> Iterator[Message]:
    """Say where the rate comes from if nobody measured it, and what is usual if it was and is not."""
    figures = [usual] if usual is not None else [one.unloading_rate for one in table.machines.defaults]
    known = [figure_used("unloading_rate", one).amount for one in figures]
    if usual is None:
        known.append(figure_used("unloading_rate", table.hauling.figures.unloading_rate).amount)
    low, high = min(one.low for one in known), max(one.high for one in known)
    facts = {"rate": Quantity(rate.amount.value, "L/s")}
    if rate.origin == "request":
        if not low <= rate.amount.value <= high:
            limits = {"low": Quantity(low, "L/s"), "high": Quantity(high, "L/s")}
            yield Message("unloading.rate_unusual", facts | limits)
        return
    ends = {"low": Quantity(rate.amount.low, "L/s"), "high": Quantity(rate.amount.high, "L/s")}
    yield Message("unloading.rate_of_class" if rate.origin == "class" else "unloading.rate_assumed", facts | ends)


def _density(table: KnowledgeTable, question: TankQuestion, crop: CropFile) -> tuple[Used, list[Message]]:
    """Bulk density as weighed, else the crop's usual one, moved along its curve to the moisture."""
    moisture, usual = question.grain_moisture_pct, crop.physical.bulk_density
    if moisture is not None:
        _refuse_moisture(crop, moisture)
    if question.bulk_density_kg_hl is not None:
        return own_used("bulk_density", question.bulk_density_kg_hl, "kg/hL"), []
    base = figure_used("bulk_density", usual)
    if moisture is None:
        return base, []
    curve = density_curve(table.hauling, crop)
    if curve is None:
        return base, [Message("unloading.density_no_curve", {"crop": crop.names})]
    turn = lightest_moisture_pct(curve.b, curve.c)
    warnings = []
    if moisture > turn:
        warnings.append(Message("unloading.density_held", {"limit": Quantity(turn, "%")}))
    at, from_ = (
        bulk_density_kg_m3(one, curve.a, curve.b, curve.c) for one in (min(moisture, turn), curve.at_moisture_pct)
    )
    value = usual.value * at / from_
    how = Proof("computed", "derived", (*usual.source, *curve.source))
    return Used("bulk_density", Interval(value, value, value), "kg/hL", "computed", how), warnings


def _refuse_moisture(crop: CropFile, moisture_pct: float) -> None:
    floor, ceiling = crop.moisture.floor.value, crop.moisture.ceiling.value
    if not floor <= moisture_pct <= ceiling:
        side = "dry" if moisture_pct < floor else "wet"
        raise OutsideWindow("grain_moisture_pct", moisture_pct, floor, ceiling, side, crop.id)


def tonnes_of(
    crop: CropFile, metric: str, tonnes: float | None, bushel: str, bushels: float | None, where: str = ""
) -> float | None:
    """Return tonnes from whichever was given, `metric` or `bushel`; `where` leads to a nested model, `haulers.0.`.

    Raises
    ------
    Contradiction, InvalidInput
        If both are given, or bushels for a crop without a legal bushel.
    """
    if tonnes is not None and bushels is not None:
        raise Contradiction([where + metric, where + bushel], "reason.both_given", first=metric, second=bushel)
    if bushels is None:
        return tonnes
    if crop.physical.bushel_mass is None:
        raise InvalidInput(where + bushel, reason="reason.no_bushel_per_tonne", crop=crop.names, metric=metric)
    return convert(bushels * crop.physical.bushel_mass.value, "[lb_av]", "t")
