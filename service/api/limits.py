"""Bounds of every number that a request may hold, and the United States twin of each metric field.

Inside: low, high and unit of a field, the exact conversion of a twin, hints for figures given in a
usual wrong unit. Outside: what a crop allows (`usecases` refuses that with the crop's own window).

The bounds are physical: they refuse slips of unit and typing, not unusual farms.
"""

from dataclasses import dataclass
from typing import Final

from service.units import convert


@dataclass(frozen=True, slots=True)
class Limit:
    """Inclusive bounds of a field in its unit."""

    low: float
    high: float
    unit: str


@dataclass(frozen=True, slots=True)
class Twin:
    """A field that says the same as a metric one in another unit.

    Without `unit` the conversion needs the crop's legal bushel, which only the use case knows: the
    field is passed on as it is.
    """

    metric: str
    unit: str = ""
    to: str = ""

    def metric_value(self, value: float) -> float:
        """Value of the metric field."""
        return convert(value, self.unit, self.to)

    def own_value(self, metric_value: float) -> float:
        """Value of this field for a value of the metric one, to six significant digits."""
        return float(f"{convert(metric_value, self.to, self.unit):.6g}")


TWINS: Final[dict[str, Twin]] = {
    "driver_diameter_in": Twin("driver_diameter_mm", "[in_i]", "mm"),
    "driven_diameter_in": Twin("driven_diameter_mm", "[in_i]", "mm"),
    "transmitted_power_hp": Twin("transmitted_power_kw", "[HP]", "kW"),
    "temperature_f": Twin("temperature_c", "[degF]", "Cel"),
    "dew_point_f": Twin("dew_point_c", "[degF]", "Cel"),
    "wind_mph": Twin("wind_m_s", "[mi_i]/h", "m/s"),
    "rain_in": Twin("rain_mm", "[in_i]", "mm"),
    "area_ac": Twin("area_ha", "[acr_us]", "har"),
    "fuel_gal_bu_point": Twin("fuel_l_t_point"),
    "drying_cost_per_bu_point": Twin("drying_cost_per_t_point"),
    "yield_bu_ac": Twin("yield_t_ha"),
    "price_per_bu": Twin("price_per_t"),
    "straw_yield_lb_ac": Twin("straw_yield_t_ha", "[lb_av]/[acr_us]", "t/har"),
    "bulk_density_lb_bu": Twin("bulk_density_kg_hl", "[lb_av]/[bu_us]", "kg/hL"),
    "engine_power_hp": Twin("engine_power_kw", "[HP]", "kW"),
    "machine_mass_lb": Twin("machine_mass_t", "[lb_av]", "t"),
    "cut_width_ft": Twin("cut_width_m", "[ft_i]", "m"),
    "drum_diameter_in": Twin("drum_diameter_mm", "[in_i]", "mm"),
    "separation_rotor_diameter_in": Twin("separation_rotor_diameter_mm", "[in_i]", "mm"),
    "channel_width_in": Twin("channel_width_mm", "[in_i]", "mm"),
    "separation_area_ft2": Twin("separation_area_m2", "[sft_i]", "m2"),
    "cleaning_area_ft2": Twin("cleaning_area_m2", "[sft_i]", "m2"),
    "tank_volume_gal": Twin("tank_volume_l", "[gal_us]", "L"),
    "tank_volume_bu": Twin("tank_volume_l", "[bu_us]", "L"),
    "unloading_rate_gal_min": Twin("unloading_rate_l_s", "[gal_us]/min", "L/s"),
    "area_ft2": Twin("area_m2", "[sft_i]", "m2"),
    "discharge_width_ft": Twin("discharge_width_m", "[ft_i]", "m"),
    "ground_speed_mph": Twin("ground_speed_km_h", "[mi_i]/h", "km/h"),
    "area_rate_ac_h": Twin("area_rate_ha_h", "[acr_us]/h", "har/h"),
    "measured_loss_bu_ac": Twin("measured_loss_kg_ha"),
    "measured_loss_lb_ac": Twin("measured_loss_kg_ha", "[lb_av]/[acr_us]", "kg/har"),
    "target_loss_lb_ac": Twin("target_loss_kg_ha", "[lb_av]/[acr_us]", "kg/har"),
    "machine_loss_lb_ac": Twin("machine_loss_kg_ha", "[lb_av]/[acr_us]", "kg/har"),
    "machine_loss_bu_ac": Twin("machine_loss_kg_ha"),
    "machine_loss_pct": Twin("machine_loss_kg_ha"),
    "machine_loss_error_lb_ac": Twin("machine_loss_error_kg_ha", "[lb_av]/[acr_us]", "kg/har"),
    "machine_loss_error_pct": Twin("machine_loss_error_kg_ha"),
    "header_loss_lb_ac": Twin("header_loss_kg_ha", "[lb_av]/[acr_us]", "kg/har"),
    "header_loss_bu_ac": Twin("header_loss_kg_ha"),
    "header_loss_pct": Twin("header_loss_kg_ha"),
    "speed_step_mph": Twin("speed_step_km_h", "[mi_i]/h", "km/h"),
    "run_length_ft": Twin("run_length_m", "[ft_i]", "m"),
    "area_left_ac": Twin("area_left_ha", "[acr_us]", "har"),
    "grain_throughput_bu_h": Twin("grain_throughput_t_h"),
    # a price per gallon is that of a litre times the litres of a gallon
    "fuel_price_per_gal": Twin("fuel_price_per_l", "L", "[gal_us]"),
}

_METRIC: Final[dict[str, Limit]] = {
    "hours_ago": Limit(0, 100000, "h"),
    "at_hours": Limit(0, 100000, "h"),
    "hours_now": Limit(0, 100000, "h"),
    "driver_rpm": Limit(1, 20000, "{rev}/min"),
    "driven_rpm": Limit(0, 20000, "{rev}/min"),
    "expected_driver_rpm": Limit(1, 20000, "{rev}/min"),
    "expected_driven_rpm": Limit(1, 20000, "{rev}/min"),
    "speed_ratio": Limit(0.02, 50, "1"),
    "driver_diameter_mm": Limit(20, 3000, "mm"),
    "driven_diameter_mm": Limit(20, 3000, "mm"),
    "speed_error_pct": Limit(0, 10, "%"),
    "diameter_error_pct": Limit(0, 10, "%"),
    "transmitted_power_kw": Limit(0, 1000, "kW"),
    "temperature_c": Limit(-10, 60, "Cel"),
    "relative_humidity_pct": Limit(1, 100, "%"),
    "dew_point_c": Limit(-20, 40, "Cel"),
    "wind_m_s": Limit(0, 60, "m/s"),
    "rain_mm": Limit(0, 200, "mm"),
    "moisture_pct": Limit(1, 60, "%"),
    "target_moisture_pct": Limit(1, 60, "%"),
    "delivery_moisture_pct": Limit(1, 40, "%"),
    "reading_error_pct": Limit(0.1, 3, "%"),
    "wet_hours": Limit(0, 48, "h"),
    "loss_pct_per_day": Limit(0, 20, "%/d"),
    "area_ha": Limit(0.01, 20000, "har"),
    "fuel_l_t_point": Limit(0.1, 20, "L/t"),
    "fuel_gal_bu_point": Limit(0.0005, 0.2, ""),
    "drying_cost_per_t_point": Limit(0, 10000, ""),
    "drying_cost_per_bu_point": Limit(0, 1000, ""),
    "grain_moisture_pct": Limit(1, 60, "%"),
    "yield_t_ha": Limit(0.02, 25, "t/har"),
    "yield_bu_ac": Limit(0.1, 700, "[bu_us]/[acr_us]"),
    "straw_yield_t_ha": Limit(0.01, 60, "t/har"),
    "straw_to_grain": Limit(0.05, 20, "1"),
    "slope_along_deg": Limit(-45, 45, "deg"),
    "slope_across_deg": Limit(-45, 45, "deg"),
    "thousand_kernel_mass_g": Limit(0.1, 2500, "g"),
    "bulk_density_kg_hl": Limit(10, 100, "kg/hL"),
    "engine_power_kw": Limit(20, 900, "kW"),
    "machine_mass_t": Limit(1, 45, "t"),
    "cut_width_m": Limit(0.5, 20, "m"),
    "drum_diameter_mm": Limit(200, 1500, "mm"),
    "separation_rotor_diameter_mm": Limit(200, 1200, "mm"),
    "channel_width_mm": Limit(300, 3000, "mm"),
    "separation_area_m2": Limit(0.3, 20, "m2"),
    "cleaning_area_m2": Limit(0.3, 20, "m2"),
    "tank_volume_l": Limit(100, 30000, "L"),
    "unloading_rate_l_s": Limit(3, 500, "L/s"),
    "fan_speed_min_rpm": Limit(10, 4000, "{rev}/min"),
    "fan_speed_max_rpm": Limit(10, 4000, "{rev}/min"),
    "area_m2": Limit(0.005, 25, "m2"),
    "masses_g": Limit(0, 20000, "g"),
    "kernels": Limit(0, 1000000, "1"),
    "unthreshed_kernels": Limit(0, 1000000, "1"),
    "discharge_width_m": Limit(0.2, 25, "m"),
    "discharge_width_error_pct": Limit(0, 50, "%"),
    "thousand_kernel_mass_error_pct": Limit(0, 50, "%"),
    "rule_kernels_per_ft2_per_bu_ac": Limit(0.01, 5000, "1"),
    "price_per_t": Limit(0, 1000000, ""),
    "price_per_bu": Limit(0, 100000, ""),
    "ground_speed_km_h": Limit(0.3, 15, "km/h"),
    "field_efficiency_pct": Limit(5, 100, "%"),
    "area_rate_ha_h": Limit(0.01, 50, "har/h"),
    "reading": Limit(0, 100000, ""),
    "no_loss_readings": Limit(0, 100000, ""),
    "reading_full_scale": Limit(0.001, 100000, ""),
    "reading_error": Limit(0.000001, 100000, ""),
    "measured_loss_kg_ha": Limit(0, 10000, "kg/har"),
    "measured_loss_bu_ac": Limit(0, 250, "[bu_us]/[acr_us]"),
    "error_pct": Limit(1, 100, "%"),
    "target_loss_kg_ha": Limit(0.1, 5000, "kg/har"),
    "target_loss_pct": Limit(0.01, 50, "%"),
    "machine_loss_kg_ha": Limit(0, 20000, "kg/har"),
    "machine_loss_bu_ac": Limit(0, 300, "[bu_us]/[acr_us]"),
    "machine_loss_pct": Limit(0, 60, "%"),
    "machine_loss_error_kg_ha": Limit(0, 10000, "kg/har"),
    "machine_loss_error_pct": Limit(0, 30, "%"),
    "header_loss_kg_ha": Limit(0, 20000, "kg/har"),
    "header_loss_bu_ac": Limit(0, 300, "[bu_us]/[acr_us]"),
    "header_loss_pct": Limit(0, 60, "%"),
    "speed_step_km_h": Limit(0.1, 1.61, "km/h"),
    "loss_level_pct": Limit(0.01, 30, "%"),
    "run_length_m": Limit(20, 10000, "m"),
    "turn_time_s": Limit(0, 600, "s"),
    "unloading_stop_min": Limit(0, 60, "min"),
    "cost_per_h": Limit(0, 10000000, ""),
    "list_price": Limit(100, 1000000000, ""),
    "machine_age_years": Limit(0, 40, ""),
    "hours_per_year": Limit(10, 4000, "h"),
    "interest_pct": Limit(0, 60, "%"),
    "wage_per_h": Limit(0, 1000000, ""),
    "fuel_price_per_l": Limit(0, 100000, ""),
    "area_left_ha": Limit(0.1, 100000, "har"),
    "hours_per_day": Limit(0.5, 24, "h"),
    "workday_share_pct": Limit(2, 100, "%"),
    "delay_loss_pct_per_day": Limit(0, 30, "%"),
    # of settings, in whatever unit they come; the table bounds each in its own
    "value": Limit(0, 10000, ""),
    "from_value": Limit(0, 10000, ""),
    "to_value": Limit(0, 10000, ""),
    "severity": Limit(0, 5, "1"),
    "unthreshed_pct": Limit(0, 100, "%"),
    "separation_loss_pct": Limit(0, 100, "%"),
    "cleaning_loss_pct": Limit(0, 100, "%"),
    "broken_pct": Limit(0, 100, "%"),
    "chaff_pct": Limit(0, 100, "%"),
    "straw_pct": Limit(0, 100, "%"),
    "pods_pct": Limit(0, 100, "%"),
    "heads_pct": Limit(0, 100, "%"),
    "foreign_matter_pct": Limit(0, 100, "%"),
    "grain_throughput_t_h": Limit(0.1, 200, "t/h"),
    "grain_throughput_bu_h": Limit(4, 10000, ""),
    "rating": Limit(1, 5, "1"),
    "latitude_deg": Limit(-90, 90, "deg"),
    "longitude_deg": Limit(-180, 180, "deg"),
    "limit": Limit(1, 200, "1"),
    "loss_price": Limit(0.01, 10, "1"),
    "broken_price": Limit(0, 10, "1"),
    "foreign_matter_price": Limit(0, 10, "1"),
    "number": Limit(1, 1000000, "1"),
}


def _twin_limit(twin: Twin) -> Limit:
    limit = _METRIC[twin.metric]
    # a price has no unit of its own, in whatever it is counted
    return Limit(twin.own_value(limit.low), twin.own_value(limit.high), twin.unit if limit.unit else "")


LIMITS: Final[dict[str, Limit]] = _METRIC | {name: _twin_limit(twin) for name, twin in TWINS.items() if twin.unit}


@dataclass(frozen=True, slots=True)
class Slip:
    """A figure in a usual wrong unit: between `above` and `below` it is likely `factor` times too small."""

    above: float
    below: float
    factor: float
    hint: str  # message code problem.hint.<hint>


# exclusive at both ends: the ends themselves are read as meant
_FRACTION: Final = Slip(0, 1, 100, "fraction_for_percent")
SLIPS: Final[dict[str, tuple[Slip, ...]]] = {
    "relative_humidity_pct": (_FRACTION,),
    "moisture_pct": (_FRACTION,),
    "target_moisture_pct": (_FRACTION,),
    "delivery_moisture_pct": (_FRACTION,),
    "grain_moisture_pct": (_FRACTION,),
    "field_efficiency_pct": (_FRACTION,),
    "workday_share_pct": (_FRACTION,),
    "yield_t_ha": (Slip(25, 250, 0.1, "decitonne_for_tonne"), Slip(250, 25001, 0.001, "kilogram_for_tonne")),
    "straw_yield_t_ha": (Slip(60, 600, 0.1, "decitonne_for_tonne"), Slip(600, 60001, 0.001, "kilogram_for_tonne")),
    "machine_mass_t": (Slip(45, 45001, 0.001, "kilogram_for_tonne"),),
    "cut_width_m": (Slip(50, 2001, 0.01, "centimetre_for_metre"), Slip(2001, 20001, 0.001, "millimetre_for_metre")),
    "discharge_width_m": (
        Slip(25, 2501, 0.01, "centimetre_for_metre"),
        Slip(2501, 25001, 0.001, "millimetre_for_metre"),
    ),
    "drum_diameter_mm": (
        Slip(0.199, 1.51, 1000, "metre_for_millimetre"),
        Slip(19, 151, 10, "centimetre_for_millimetre"),
    ),
    "separation_rotor_diameter_mm": (
        Slip(0.199, 1.21, 1000, "metre_for_millimetre"),
        Slip(19, 121, 10, "centimetre_for_millimetre"),
    ),
    "bulk_density_kg_hl": (Slip(100, 1001, 0.1, "per_cubic_metre_for_hectolitre"),),
    "tank_volume_l": (Slip(0.1, 31, 1000, "cubic_metre_for_litre"),),
    "area_m2": (Slip(25, 250001, 0.0001, "square_centimetre_for_square_metre"),),
}


def slip(field: str, value: float) -> tuple[str, float] | None:
    """Return the hint and the likely meant value for a figure in a usual wrong unit, else None."""
    for one in SLIPS.get(field, ()):
        meant = value * one.factor
        limit = LIMITS[field]
        if one.above < value < one.below and limit.low <= meant <= limit.high:
            return one.hint, float(f"{meant:.6g}")
    return None
