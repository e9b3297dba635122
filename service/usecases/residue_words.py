"""What a specialist adds to a judgement of the spread before anybody relies on it."""

from service.domain.types import Message, Quantity
from service.usecases.residue_changes import Field
from service.usecases.residue_types import Air, Correction, Described, Flight, SpreadQuestion

BEYOND_PCT = 2.0


def warnings(
    field: Field, materials: tuple[Described, ...], air: Air, found: tuple[Correction, ...]
) -> tuple[Message, ...]:
    """Doubts about the trays, the model and the answer."""
    figures, question = field.trays.figures, field.trays.question
    told = [Message("warning.residue.one_row"), Message("warning.residue.model_one_step")]
    told.append(Message("warning.residue.still_air", {"wind": Quantity(figures.still_wind.value * 3.6, "km/h")}))
    if not field.trays.apart:
        share = next((100 - one.share_pct for one in materials if one.code == "straw"), 0.0)
        told.append(Message("warning.residue.not_apart", {"share": Quantity(round(share), "%")}))
    if field.trays.beyond_pct > BEYOND_PCT:
        told.append(Message("warning.residue.beyond", {"share": Quantity(round(field.trays.beyond_pct), "%")}))
    if field.spacing_m > question.cut_width_m:
        facts = {"spacing": Quantity(field.spacing_m, "m"), "cut": Quantity(question.cut_width_m, "m")}
        told.append(Message("warning.residue.spacing_above_cut", facts))
    told += _width_warnings(field, materials)
    if field.trays.question.driving == "round_and_round" and (air.crosswind_m_s or air.slope_across_deg):
        told.append(Message("warning.residue.round_and_round"))
    told += _row_warnings(field)
    told += [found for one in air.flights for found in _flight_warnings(one, question.discharge_speed_m_s)]
    at_discharge = Quantity(figures.wind_height_share.value, "%")
    told.append(Message("warning.residue.wind_height", {"share": at_discharge}))
    if any(one.offset_m is not None and abs(one.offset_m) >= field.offset_max_m - 1e-9 for one in found):
        told.append(Message("warning.residue.offset_at_end", {"most": Quantity(field.offset_max_m, "m")}))
    return tuple(told)


def _width_warnings(field: Field, materials: tuple[Described, ...]) -> list[Message]:
    figures, told = field.trays.figures, list[Message]()
    cut = field.trays.question.cut_width_m
    if cut > figures.even_width.value:
        facts = {
            "low": Quantity(figures.even_width.low or figures.even_width.value, "m"),
            "high": Quantity(figures.even_width.value, "m"),
            "light": Quantity(figures.even_width_light.value, "m"),
        }
        told.append(Message("warning.residue.wide_cut", facts))
    chaff = next((one for one in materials if one.code == "chaff"), None)
    if field.trays.apart and chaff is not None and chaff.coverage_pct < figures.coverage_least.value:
        facts = {"width": Quantity(chaff.width_m, "m"), "share": Quantity(round(chaff.coverage_pct), "%")}
        told.append(Message("warning.residue.chaff_band", facts))
    return told


def _row_warnings(field: Field) -> list[Message]:
    """Rows that tell less than they seem to."""
    told = list[Message]()
    if field.trays.at_the_trays((field.trays.whole,), field.spacing_m) is None:
        told.append(Message("warning.residue.unequal_trays"))
    fullest = max(field.trays.readings["residue"])
    if fullest < field.trays.figures.fullest_least.value:
        told.append(Message("warning.residue.little", {"fullest": Quantity(fullest, "g")}))
    return told


def _flight_warnings(flight: Flight, told_m_s: float | None) -> list[Message]:
    found = flight.calibrated
    facts: dict[str, object] = {
        "material": Message(f"material.{flight.code}"),
        "lone": Quantity(found.lone_reach_m, "m"),
        "reach": Quantity(found.reach_m, "m"),
    }
    if flight.told_m_s is not None:
        facts |= {"told": Quantity(flight.told_m_s, "m/s"), "fitted": Quantity(found.stream.discharge_speed_m_s, "m/s")}
        return [Message("warning.residue.told_speed", facts)]
    if told_m_s is not None and found.adapted != "drag":
        return []  # the told speed and the trays agree
    return [Message(f"warning.residue.reach_{found.adapted}", facts)]


def cautions(question: SpreadQuestion) -> tuple[Message, ...]:
    """What can hurt people at this work."""
    codes = [
        "caution.spreader_mode_stopped",
        "caution.bystanders_behind",
        "caution.stop_before_reaching_in",
        "caution.loss_frames_machine_stopped",
        "caution.fire_dry_straw",
        "caution.machine_manual_first",
    ]
    if question.slope_across_deg:
        codes.append("caution.slope_rollover")
    return tuple(Message(code) for code in codes)
