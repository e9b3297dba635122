"""Pairs of a calibration question as points: what the display follows, the loss of each pair, how sure it is.

Inside: reading and refusing pairs, units of displays. Outside: the line through the points (`monitor_choice`),
advice (`monitor_calibration`).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt
from typing import Final, Literal

from service.domain.kernel_counts import kernel_loss_kg_ha, mass_loss_kg_ha
from service.domain.loss_monitor import loss_at_rate_kg_ha, loss_rate_g_s
from service.domain.losses import concentration_factor, loss_for_share, loss_share_pct
from service.domain.monitor_line import MonitorPair
from service.domain.sampling import counted_density
from service.domain.types import Interval, Quantity
from service.domain.weighing import variation_pct
from service.errors import Contradiction, InvalidInput, OutOfRange
from service.knowledge.schema import CropFile
from service.knowledge.schema_monitor import MonitorFigures
from service.units import convert, mass_kg_ha
from service.usecases.ground_loss_terms import KernelMass
from service.usecases.monitor_types import MonitorQuestion, PairGiven

_Z: Final = 1.96
_MOST_SHARE: Final = 99.0
_ALL_PCT: Final = 100.0


@dataclass(frozen=True, slots=True)
class Display:
    """What a display follows. `unit` is that of the line's heights, `per_kg_ha` its size over 1 kg/ha."""

    follows: Literal["rate", "area", "share"]
    unit: str
    per_kg_ha: float
    yield_kg_ha: float

    def height(self, loss_kg_ha: float, width_m: float, speed_km_h: float) -> float:
        """Loss per area in the unit of the line."""
        if self.follows == "rate":
            return loss_rate_g_s(loss_kg_ha, width_m, speed_km_h)
        return loss_share_pct(loss_kg_ha, self.yield_kg_ha) if self.follows == "share" else loss_kg_ha * self.per_kg_ha

    def loss_kg_ha(self, height: float, width_m: float, speed_km_h: float) -> float:
        """Loss per area of a height of the line; the line may run below no loss, a loss does not."""
        height = max(0.0, height)
        if self.follows == "rate":
            return loss_at_rate_kg_ha(height, width_m, speed_km_h)
        if self.follows == "share":
            return loss_for_share(min(height, _MOST_SHARE), self.yield_kg_ha)
        return height / self.per_kg_ha

    def losses_kg_ha(self, heights: Interval, width_m: float, speed_km_h: float) -> Interval:
        """Loss per area of a height with limits."""
        value, low, high = (
            self.loss_kg_ha(end, width_m, speed_km_h) for end in (heights.value, heights.low, heights.high)
        )
        return Interval(value, low, high)


@dataclass(frozen=True, slots=True)
class Measured:
    """Loss of a pair. `relative` and `grain` are errors of its own, `common` one shared with pairs of its kind."""

    loss_kg_ha: float
    relative: float
    grain_kg_ha: float
    common: float


@dataclass(frozen=True, slots=True)
class Point:
    """A pair with its loss, in kg/ha and in the unit of the line."""

    index: int
    measured: Measured
    pair: MonitorPair
    width_m: float
    speed_km_h: float


def display_of(question: MonitorQuestion, crop: CropFile, yield_t_ha: float) -> Display:
    """Say what a display follows.

    Raises
    ------
    Contradiction
        If a display of loss per area is said not to be corrected for speed.
    InvalidInput
        If it shows bushels of a crop without a legal bushel, or percent and the yield is not told.
    """
    unit, yield_kg_ha = question.reading_unit, yield_t_ha * 1000
    if unit == "index":
        if question.speed_corrected:
            return Display("area", "kg/har", 1.0, yield_kg_ha)
        return Display("rate", "g/s", 1.0, yield_kg_ha)
    if question.speed_corrected is False:
        raise Contradiction(["speed_corrected", "reading_unit"], "monitor.unit_is_per_area")
    if unit == "percent":
        if question.yield_t_ha is None and question.yield_bu_ac is None:
            raise InvalidInput("yield_t_ha", reason="monitor.percent_needs_yield")
        return Display("share", "%", 1.0, yield_kg_ha)
    if unit == "kg_ha":
        return Display("area", "kg/har", 1.0, yield_kg_ha)
    pounds = convert(1.0, "kg/har", "[lb_av]/[acr_us]")
    if unit == "lb_ac":
        return Display("area", "[lb_av]/[acr_us]", pounds, yield_kg_ha)
    return Display("area", "[bu_us]/[acr_us]", pounds / _bushel_lb(crop, "reading_unit"), yield_kg_ha)


def _bushel_lb(crop: CropFile, field: str) -> float:
    if crop.physical.bushel_mass is None:
        raise InvalidInput(field, reason="reason.no_bushel", crop=crop.names)
    return crop.physical.bushel_mass.value


def read_points(
    question: MonitorQuestion, crop: CropFile, display: Display, mass: KernelMass, figures: MonitorFigures
) -> tuple[Point, ...]:
    """Turn every pair into a point.

    Raises
    ------
    Contradiction, InvalidInput, OutOfRange
        If a pair says too much, too little, or what cannot be; the field leads to the pair.
    """
    return tuple(
        _point(question, index, pair, _measured(question, f"pairs.{index}", pair, crop, mass, figures), display)
        for index, pair in enumerate(question.pairs)
    )


def _point(question: MonitorQuestion, index: int, pair: PairGiven, measured: Measured, display: Display) -> Point:
    where = f"pairs.{index}"
    if question.reading_unit == "percent" and pair.reading > _ALL_PCT:
        raise OutOfRange(f"{where}.reading", pair.reading, 0, _ALL_PCT, "%")
    full = question.reading_full_scale
    if full is not None and pair.reading > full:
        raise Contradiction([f"{where}.reading", "reading_full_scale"], "monitor.above_full_scale", full=full)
    grown = question.yield_t_ha is not None or question.yield_bu_ac is not None
    if grown and measured.loss_kg_ha > display.yield_kg_ha:
        field = "yield_t_ha" if question.yield_t_ha is not None else "yield_bu_ac"
        raise Contradiction(
            [f"{where}.{_given(pair)[0]}", field],
            "monitor.loss_above_yield",
            loss=Quantity(measured.loss_kg_ha, "kg/har"),
        )
    width = question.cut_width_m if pair.cut_width_m is None else pair.cut_width_m
    speed = question.ground_speed_km_h if pair.ground_speed_km_h is None else pair.ground_speed_km_h
    height = display.height(measured.loss_kg_ha, width, speed)
    # a percent is not quite proportional to the loss; at small losses any loss tells the ratio
    per_loss = height / measured.loss_kg_ha if measured.loss_kg_ha > 0 else display.height(1.0, width, speed)
    seen = MonitorPair(pair.reading, height, measured.relative, measured.grain_kg_ha * per_loss)
    return Point(index, measured, seen, width, speed)


def _given(pair: PairGiven) -> list[str]:
    """Which of the fields that tell a loss were given."""
    found: dict[str, bool] = {
        "measured_loss_kg_ha": pair.measured_loss_kg_ha is not None,
        "measured_loss_bu_ac": pair.measured_loss_bu_ac is not None,
        "kernels": bool(pair.kernels),
        "masses_g": bool(pair.masses_g),
    }
    return [name for name, given in found.items() if given]


def _measured(
    question: MonitorQuestion, where: str, pair: PairGiven, crop: CropFile, mass: KernelMass, figures: MonitorFigures
) -> Measured:
    given = _given(pair)
    if len(given) > 1:
        raise Contradiction([f"{where}.{name}" for name in given], "reason.both_given", first=given[0], second=given[1])
    if not given:
        raise InvalidInput(f"{where}.measured_loss_kg_ha", reason="monitor.nothing_measured")
    if given[0].startswith("measured"):
        if pair.area_m2 is not None:
            raise Contradiction([f"{where}.area_m2", f"{where}.{given[0]}"], "monitor.pan_and_loss")
        error = figures.pan_error.value if pair.error_pct is None else pair.error_pct
        return Measured(_told_loss(pair, crop, f"{where}.{given[0]}"), error / 100, 0.0, 0.0)
    if pair.error_pct is not None:
        raise Contradiction([f"{where}.error_pct", f"{where}.{given[0]}"], "monitor.error_is_counted")
    if pair.area_m2 is None:
        raise InvalidInput(f"{where}.area_m2", reason="monitor.pan_area_missing")
    width = question.cut_width_m if pair.cut_width_m is None else pair.cut_width_m
    concentration, strip_error = _strip(question, width)
    if pair.kernels:
        return _counted(pair.kernels, pair.area_m2, mass.limits, (concentration, strip_error))
    return _weighed(pair.masses_g, pair.area_m2, mass.limits, (concentration, strip_error), figures)


def _told_loss(pair: PairGiven, crop: CropFile, field: str) -> float:
    if pair.measured_loss_kg_ha is not None:
        return pair.measured_loss_kg_ha
    return mass_kg_ha(pair.measured_loss_bu_ac or 0.0, _bushel_lb(crop, field))


def _strip(question: MonitorQuestion, cut_width_m: float) -> tuple[float, float]:
    """Concentration in the discharge strip and its relative error."""
    strip = question.discharge_width_m
    if strip is None:
        raise InvalidInput("discharge_width_m", reason="monitor.discharge_missing")
    if strip > cut_width_m:
        facts = {"cut": Quantity(cut_width_m, "m"), "discharge": Quantity(strip, "m")}
        raise Contradiction(["discharge_width_m", "cut_width_m"], "loss.discharge_wider", **facts)
    return concentration_factor(cut_width_m, strip), question.discharge_width_error_pct / 100


def _counted(kernels: Sequence[int], area_m2: float, mass: Interval, strip: tuple[float, float]) -> Measured:
    concentration, strip_error = strip
    found = counted_density(kernels, [area_m2] * len(kernels))
    mass_error = (mass.high - mass.low) / (2 * _Z * mass.value)
    one_kernel = kernel_loss_kg_ha(1 / (area_m2 * len(kernels)), mass.value)
    return Measured(
        kernel_loss_kg_ha(found.density_m2.value, mass.value) / concentration,
        0.0,
        one_kernel / concentration * max(1.0, found.dispersion or 1.0),
        hypot(mass_error, strip_error),
    )


def _weighed(
    masses_g: Sequence[float], area_m2: float, mass: Interval, strip: tuple[float, float], figures: MonitorFigures
) -> Measured:
    concentration, strip_error = strip
    areas = [area_m2] * len(masses_g)
    between = figures.pan_error.value / 100
    if len(masses_g) > 1:
        between = variation_pct(masses_g, areas) / 100 / sqrt(len(masses_g)) if any(masses_g) else 0.0
    one_kernel = mass_loss_kg_ha(mass.value / 1000, sum(areas))
    return Measured(
        mass_loss_kg_ha(sum(masses_g), sum(areas)) / concentration,
        between,
        one_kernel / concentration,
        strip_error,
    )
