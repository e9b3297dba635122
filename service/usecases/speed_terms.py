"""What a working-speed question says beside its tests: yield, price, field time, what runs through the machine.

Inside: reading and refusing these. Outside: tests (`drop_tests`), cost of an hour (`hour_cost`), the engine
(`speed_engine`).
"""

from dataclasses import dataclass

from service.domain.machine import area_rate_ha_h, throughput_t_h
from service.domain.working_speed import hours_per_ha
from service.errors import Contradiction, InvalidInput
from service.knowledge.schema import CropFile
from service.knowledge.table import KnowledgeTable
from service.usecases.conditions import price_of, yield_of
from service.usecases.working_speed_types import SpeedQuestion

_RUNS = ("run_length_m", "turn_time_s")
_STOPS = ("unloading_stop_min", "tank_volume_l")


@dataclass(frozen=True, slots=True)
class Terms:
    """Terms of a question. Time per hectare is cutting / speed + standing."""

    crop: CropFile
    yield_t_ha: float
    price_per_t: float
    width_m: float
    cutting_h_ha: float
    standing_h_ha: float
    usual_efficiency: bool
    straw_and_chaff_per_grain: float

    def hours_per_ha(self, speed_km_h: float) -> float:
        """Time that a hectare takes."""
        return hours_per_ha(speed_km_h, self.cutting_h_ha, self.standing_h_ha)

    def efficiency_pct(self, speed_km_h: float) -> float:
        """Share of the theoretical area rate that is left over turns and stops."""
        return 100 / (self.hours_per_ha(speed_km_h) * area_rate_ha_h(speed_km_h, self.width_m))

    def grain_t_h(self, speed_km_h: float, machine_loss_kg_ha: float) -> float:
        """Grain that enters the machine while it cuts: to the tank and out of the rear."""
        return throughput_t_h(speed_km_h, self.width_m, self.yield_t_ha + machine_loss_kg_ha / 1000)


def read_terms(table: KnowledgeTable, question: SpeedQuestion) -> Terms:
    """Read and check a question.

    Raises
    ------
    UnknownName
        If the crop is not known.
    Contradiction, InvalidInput
        If statements exclude each other or something is missing.
    """
    crop = table.crop(question.crop)
    yield_t_ha = yield_of(crop, question.yield_t_ha, question.yield_bu_ac)
    physical = crop.physical
    straw = physical.straw_to_grain.value if question.straw_to_grain is None else question.straw_to_grain
    cutting, standing = _field_time(table, question, crop, yield_t_ha)
    return Terms(
        crop=crop,
        yield_t_ha=yield_t_ha,
        price_per_t=price_of(crop, question.price_per_t, question.price_per_bu),
        width_m=question.cut_width_m,
        cutting_h_ha=cutting,
        standing_h_ha=standing,
        usual_efficiency=question.field_efficiency_pct is None and question.run_length_m is None,
        straw_and_chaff_per_grain=straw * physical.straw_intake_share.value / 100 + physical.chaff_to_grain.value,
    )


def _field_time(
    table: KnowledgeTable, question: SpeedQuestion, crop: CropFile, yield_t_ha: float
) -> tuple[float, float]:
    """Time per hectare that goes with speed, at 1 km/h, and time that does not."""
    runs = [name for name in (*_RUNS, *_STOPS) if getattr(question, name) is not None]
    if not runs:
        usual = table.machines.driving.field_efficiency.value
        efficiency = usual if question.field_efficiency_pct is None else question.field_efficiency_pct
        return 1 / area_rate_ha_h(1.0, question.cut_width_m, efficiency), 0.0
    if question.field_efficiency_pct is not None:
        first, second = "field_efficiency_pct", runs[0]
        raise Contradiction([first, second], "reason.both_given", first=first, second=second)
    missing = [name for name in _RUNS if name not in runs]
    if missing:
        raise InvalidInput(missing[0], reason="reason.runs_missing", fields=missing)
    run_m, turn_s = float(question.run_length_m or 0), float(question.turn_time_s or 0)
    # a turn a run: 10 000 m2 over run and width are the runs of a hectare
    turns_h_ha = turn_s / 3600 * 10_000 / (run_m * question.cut_width_m)
    return 1 / area_rate_ha_h(1.0, question.cut_width_m), turns_h_ha + _stops_h_ha(question, crop, yield_t_ha)


def _stops_h_ha(question: SpeedQuestion, crop: CropFile, yield_t_ha: float) -> float:
    if question.unloading_stop_min is None:
        if question.tank_volume_l is not None:
            raise InvalidInput("unloading_stop_min", reason="reason.runs_missing", fields=["unloading_stop_min"])
        return 0.0
    if question.tank_volume_l is None:
        raise InvalidInput("tank_volume_l", reason="reason.runs_missing", fields=["tank_volume_l"])
    density = question.bulk_density_kg_hl or crop.physical.bulk_density.value
    tank_t = question.tank_volume_l / 100 * density / 1000
    return question.unloading_stop_min / 60 * yield_t_ha / tank_t
