"""Cleaning air: held between what lifts the chaff and what lifts the kernel, at this moisture and kernel mass.

Inside: both terminal velocities, the air speed setting, the fan level. Outside: the drag formulas.
"""

from dataclasses import replace

from service.domain import aerodynamics
from service.domain.types import Message, Quantity
from service.knowledge.machine_schema import Specific
from service.knowledge.schema import CropFile, Evidence
from service.usecases.local_overlay import local_part
from service.usecases.provenance import proof
from service.usecases.setting_parts import Frame, assemble, responses
from service.usecases.settings_types import AirWindow, Equivalent, Part, SettingAnswer, SettingsQuestion

SETTING = "cleaning_air_speed"


def kernel_velocity_m_s(crop: CropFile, moisture_pct: float, thousand_kernel_mass_g: float) -> float:
    """Terminal velocity of the crop's kernel by the method its entry names. [m/s]

    `thousand_kernel_mass_g` holds at the crop's reference moisture; dry matter is kept.
    """
    air, physical = crop.physical.kernel_air, crop.physical
    if air.velocity is not None and air.slope_m_s_per_point is not None and air.at_moisture_pct is not None:
        return aerodynamics.measured_terminal_velocity_m_s(
            velocity_m_s=air.velocity.value,
            slope_m_s_per_point=air.slope_m_s_per_point.value,
            at_moisture_pct=air.at_moisture_pct,
            moisture_pct=moisture_pct,
            mass_ratio=thousand_kernel_mass_g / physical.thousand_kernel_mass.value,
        )
    density = air.density.value if air.density else 0.0
    mass_g = aerodynamics.kernel_mass_at_moisture_g(
        thousand_kernel_mass_g=thousand_kernel_mass_g,
        at_moisture_pct=physical.reference_moisture.value,
        moisture_pct=moisture_pct,
    )
    diameter_mm = aerodynamics.equivalent_diameter_mm(thousand_kernel_mass_g=mass_g, density_kg_m3=density)
    if air.sphericity is None:
        return aerodynamics.sphere_terminal_velocity_m_s(diameter_mm=diameter_mm, density_kg_m3=density)
    return aerodynamics.shaped_terminal_velocity_m_s(
        diameter_mm=diameter_mm, density_kg_m3=density, sphericity=air.sphericity.value
    )


def air_window(
    crop: CropFile, specific: Specific, moisture_pct: float, thousand_kernel_mass_g: float | None
) -> AirWindow:
    """Return both terminal velocities, by the crop's usual kernel mass where none is given, and the fan's ceiling."""
    mass_g = thousand_kernel_mass_g or crop.physical.thousand_kernel_mass.value
    air = crop.physical.kernel_air
    kernel: Evidence | None = air.velocity or air.sphericity or air.density
    if kernel is None:  # the schema does not allow it
        raise AssertionError(crop.id)
    return AirWindow(
        chaff_m_s=crop.physical.chaff_terminal_velocity.value,
        kernel_m_s=kernel_velocity_m_s(crop, moisture_pct, mass_g),
        machine_maximum_m_s=specific.fan_air_speed_max.value,
        method=air.method,
        kernel_proof=proof(kernel),
        chaff_proof=proof(crop.physical.chaff_terminal_velocity),
    )


def cleaning_air(frame: Frame, window: AirWindow, specific: Specific, question: SettingsQuestion) -> SettingAnswer:
    """Air speed setting: the row's share of the window, moved by moisture, kernel mass and conditions."""
    crop, state = frame.crop, frame.state
    row = frame.table.row(crop, "cleaning_air_share", frame.machine_class, state.use)
    default_mass = crop.physical.thousand_kernel_mass.value
    chaff = window.chaff_m_s

    def air(share: float, kernel_m_s: float) -> float:
        return chaff + share * (kernel_m_s - chaff)

    reference_m_s = kernel_velocity_m_s(crop, crop.physical.reference_moisture.value, default_mass)
    at_reference = air(row.start, reference_m_s)
    at_moisture = air(row.start, kernel_velocity_m_s(crop, state.moisture_pct, default_mass))
    here = air(row.start, window.kernel_m_s)
    method = proof(row)
    share = frame.reference_row("cleaning_air_share", row).start
    local = frame.local_number(SETTING, air(share, reference_m_s))
    parts = [Part("base", at_reference, row.id, method), *local_part(local)]
    for code, value in (("kernel_moisture", at_moisture - at_reference), ("kernel_mass", here - at_moisture)):
        if value:
            parts.append(Part(code, value, f"{crop.id}.kernel_air", window.kernel_proof))
    parts += responses(frame, SETTING, at_reference)
    high = min(air(row.high, window.kernel_m_s), window.machine_maximum_m_s)
    low = min(air(row.low, window.kernel_m_s), high)
    notes: tuple[Message, ...] = (
        Message("note.air_window", {"chaff": Quantity(chaff, "m/s"), "kernel": Quantity(window.kernel_m_s, "m/s")}),
    )
    if high == window.machine_maximum_m_s:
        notes += (Message("note.air_machine_maximum", {"maximum": Quantity(high, "m/s")}),)
    answer = assemble(SETTING, "m/s", parts, (low, high), row, local=local)
    return replace(answer, equivalents=_fan(frame, answer, at_reference, specific, question), notes=notes)


def _fan(
    frame: Frame, answer: SettingAnswer, reference_air_m_s: float, specific: Specific, question: SettingsQuestion
) -> tuple[Equivalent, ...]:
    """Fan level as share of its range, and rpm when the caller gave the range.

    The crop's row says the level at the reference conditions; from there fan speed follows air speed
    (fan laws). What air a given fan speed makes differs from machine to machine and is not used.
    """
    if not frame.table.has_row(frame.crop, "fan_level", frame.machine_class, frame.state.use):
        return ()
    row = frame.table.row(frame.crop, "fan_level", frame.machine_class, frame.state.use)
    top, bottom = question.fan_speed_max_rpm, question.fan_speed_min_rpm
    lowest = bottom / top if top is not None and bottom is not None else specific.fan_speed_ratio_min.value

    def ratio(level_pct: float) -> float:
        """Fan speed over its highest, moved by the air that the conditions ask for."""
        moved = (lowest + level_pct / 100 * (1 - lowest)) * answer.start / reference_air_m_s
        return min(1.0, max(lowest, moved))

    speeds = [ratio(level) for level in (row.start, row.low, row.high)]
    fan = [Equivalent("fan_level", *(Quantity(round((speed - lowest) / (1 - lowest) * 100), "%") for speed in speeds))]
    if top is not None:
        fan.append(Equivalent("fan_speed", *(Quantity(speed * top, "{rev}/min") for speed in speeds)))
    return tuple(fan)
