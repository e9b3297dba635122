"""Loss-monitor calibration: from readings and measured losses to what the display is worth.

Inside: the whole answer and what to say about it. Outside: pairs to points (`monitor_points`), which of them
belong (`monitor_choice`), what follows (`monitor_advice`).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import fsum, sqrt
from typing import Final

from service.domain.line_limits import height_limits, place_of_height, slope_limits
from service.domain.loss_monitor import pairs_missing
from service.domain.types import Message, Quantity
from service.errors import NotCovered
from service.knowledge.schema import CropFile
from service.knowledge.schema_monitor import MonitorFigures, MonitorFile
from service.knowledge.table import KnowledgeTable
from service.usecases.conditions import yield_of
from service.usecases.ground_loss_terms import KernelMass, kernel_mass_of
from service.usecases.monitor_advice import (
    detection_of,
    findings_of,
    holds,
    redo_reasons,
    sensitivity_of,
    target_of,
)
from service.usecases.monitor_choice import FEW_READINGS, Chosen, choose
from service.usecases.monitor_points import Display, Point, display_of, read_points
from service.usecases.monitor_types import (
    CurvePoint,
    Detection,
    Hold,
    LineSeen,
    MonitorCalibration,
    MonitorQuestion,
    PairSeen,
    Sensitivity,
    Span,
    Target,
)

CAUTIONS: Final = (
    "caution.monitor_driver_watches_field",
    "caution.loss_frames_machine_stopped",
    "caution.bystanders_behind",
    "caution.stop_before_reaching_in",
    "caution.machine_manual_first",
)
_STEPS: Final = 48


def calibrate(table: KnowledgeTable, question: MonitorQuestion) -> MonitorCalibration:
    """Answer a question for the calibration of a loss monitor.

    Raises
    ------
    UnknownName
        If crop or revision is not known.
    NotCovered
        If the table has no figures for loss monitors, or cannot assess losses of this crop.
    Contradiction, InvalidInput, OutOfRange
        If statements exclude each other, the pairs tell nothing, or a figure cannot be.
    """
    terms = _terms(table, question)
    points = read_points(question, terms.crop, terms.display, terms.mass, terms.file.figures)
    chosen = choose(points, question, terms.display, terms.file.figures)
    advice = _advice(question, terms, chosen)
    return MonitorCalibration(
        crop=terms.crop.id,
        crop_names=terms.crop.names,
        sensor=question.sensor,
        summary=_summary(question, terms, chosen, advice),
        reading_unit=question.reading_unit,
        follows=terms.display.follows,
        speed_km_h=question.ground_speed_km_h,
        cut_width_m=question.cut_width_m,
        yield_t_ha=terms.yield_t_ha,
        bushel_lb=terms.crop.physical.bushel_mass.value if terms.crop.physical.bushel_mass else None,
        thousand_kernel_mass_g=terms.mass.limits,
        kernel_mass_origin=terms.mass.origin,
        pairs=tuple(_pair(question, terms.display, point, chosen) for point in points),
        line=_line(question, terms.display, chosen),
        span=_span(question, terms.display, chosen),
        detection=advice.detection,
        target=terms.target,
        hold=advice.hold,
        sensitivity=advice.sensitivity,
        more_pairs=_more_pairs(chosen, terms.file.figures),
        redo=tuple(redo_reasons(terms.file, question, chosen, terms.crop, terms.mass.limits.value)),
        findings=tuple(findings_of(terms.file, ["always", *_situations(question, terms)])),
        warnings=tuple(_warnings(question, terms, chosen, advice)),
        cautions=tuple(Message(code) for code in CAUTIONS),
        curve=tuple(_curve(question, terms.display, chosen)),
        revision=table.revision,
        digest=table.digest,
    )


@dataclass(frozen=True, slots=True)
class Terms:
    """What a question says beside its pairs."""

    file: MonitorFile
    crop: CropFile
    mass: KernelMass
    yield_t_ha: float
    target: Target
    display: Display


@dataclass(frozen=True, slots=True)
class Advice:
    """What follows from the line."""

    hold: tuple[Hold, ...]
    detection: Detection | None
    sensitivity: Sensitivity


def _terms(table: KnowledgeTable, question: MonitorQuestion) -> Terms:
    table.check_revision(question.revision)
    crop = table.crop(question.crop)
    if table.monitor is None or crop.coverage["ground_loss"].level == "none":
        why = crop.coverage["ground_loss"].why
        raise NotCovered("crop", "ground_loss", crop.id, why.en if why else "this table has none of loss monitors")
    yield_t_ha = _yield(crop, question)
    return Terms(
        table.monitor,
        crop,
        kernel_mass_of(crop, question.thousand_kernel_mass_g, question.thousand_kernel_mass_error_pct),
        yield_t_ha,
        target_of(question, crop, table.monitor.figures, yield_t_ha),
        display_of(question, crop, yield_t_ha),
    )


def _advice(question: MonitorQuestion, terms: Terms, chosen: Chosen) -> Advice:
    figures, target, display = terms.file.figures, terms.target, terms.display
    hold = holds(question, display, chosen, target, figures.speed_margin.value)
    asked = next(one for one in hold if one.speed_km_h == question.ground_speed_km_h)
    wanted = display.height(target.loss_kg_ha, question.cut_width_m, question.ground_speed_km_h)
    detection = detection_of(question, display, chosen, figures, terms.mass.limits.value)
    return Advice(tuple(hold), detection, sensitivity_of(question, chosen, asked, wanted, figures, detection, target))


def _summary(question: MonitorQuestion, terms: Terms, chosen: Chosen, advice: Advice) -> Message:
    """Say what a reading is worth: the one to hold, or why there is none."""
    asked = next(one for one in advice.hold if one.speed_km_h == question.ground_speed_km_h)
    facts: dict[str, object] = {
        "loss": Quantity(terms.target.loss_kg_ha, "kg/har"),
        "share": Quantity(terms.target.share_pct, "%"),
        "speed": Quantity(asked.speed_km_h, "km/h"),
    }
    detection, reading = advice.detection, asked.reading
    if not slope_limits(chosen.line).low > 0 or reading.low is None or reading.high is None:
        return Message("monitor.summary.unsure", facts)
    if detection is not None and detection.loss_kg_ha.value > terms.target.loss_kg_ha:
        return Message("monitor.summary.blind", facts)
    if not reading.value > 0:
        return Message("monitor.summary.nothing", facts)
    if not asked.shown:
        return Message("monitor.summary.beyond", facts)
    ends = {"reading": reading.value, "low": max(0.0, reading.low), "high": reading.high}
    return Message("monitor.summary.hold", {**facts, **{name: round(end, 2) for name, end in ends.items()}})


def _yield(crop: CropFile, question: MonitorQuestion) -> float:
    """Yield as told, else the one that the rows of the crop hold for."""
    if question.yield_t_ha is None and question.yield_bu_ac is None:
        return crop.physical.reference_yield.value
    return yield_of(crop, question.yield_t_ha, question.yield_bu_ac)


def _situations(question: MonitorQuestion, terms: Terms) -> Iterator[str]:
    if question.reading_unit == "index":
        yield "index"
    if terms.display.follows == "rate":
        yield "rate"
    if terms.mass.limits.value < terms.file.figures.small_seed_mass.value:
        yield "small_seed"


def _pair(question: MonitorQuestion, display: Display, point: Point, chosen: Chosen) -> PairSeen:
    loss, own = point.measured.loss_kg_ha, point.measured
    fate = chosen.roles.get(point.index)
    return PairSeen(
        index=point.index,
        reading=point.pair.reading,
        loss_kg_ha=loss,
        error_kg_ha=sqrt((own.relative * loss) ** 2 + own.grain_kg_ha * max(loss, own.grain_kg_ha)),
        loss_at_asked_kg_ha=display.loss_kg_ha(point.pair.loss, question.cut_width_m, question.ground_speed_km_h),
        speed_km_h=point.speed_km_h,
        role="used" if fate is None else fate[0],
        why=None if fate is None else fate[1],
    )


def _line(question: MonitorQuestion, display: Display, chosen: Chosen) -> LineSeen:
    line = chosen.line
    idle = place_of_height(line, 0.0)
    rest = fsum((point.pair.loss - line.at(point.pair.reading)) ** 2 for point in chosen.used)
    codes = {"loss_on_reading": "monitor.method.loss_on_reading", "errors_in_both": "monitor.method.errors_in_both"}
    slope = slope_limits(line)
    width, speed = question.cut_width_m, question.ground_speed_km_h
    hidden = display.losses_kg_ha(height_limits(line, 0.0), width, speed) if idle.value < 0 else None
    return LineSeen(
        method=chosen.drawn.method,
        unit=display.unit if question.reading_unit == "index" else "1",
        slope=slope,
        reading_without_loss=idle,
        hidden_kg_ha=hidden,
        residual_kg_ha=display.loss_kg_ha(sqrt(rest / line.degrees_of_freedom), width, speed),
        scatter_ratio=line.scale,
        r_squared=line.r_squared,
        pairs=len(chosen.used),
        shown=slope.low > 0,
        note=Message(codes[chosen.drawn.method]),
    )


def _span(question: MonitorQuestion, display: Display, chosen: Chosen) -> Span:
    readings = [point.pair.reading for point in chosen.used]
    width, speed = question.cut_width_m, question.ground_speed_km_h
    low, high = (display.loss_kg_ha(chosen.line.at(end), width, speed) for end in (min(readings), max(readings)))
    codes = {"yes": "monitor.span.yes", "no": "monitor.span.no", "unknown": "monitor.span.unknown"}
    facts = {"reading": round(max(readings), 3), "loss": Quantity(high, "kg/har")}
    note = Message(codes[chosen.saturated], facts)
    return Span(min(readings), max(readings), low, high, chosen.saturated, note)


def _more_pairs(chosen: Chosen, figures: MonitorFigures) -> int | None:
    most = max(int(figures.most_pairs.value), len(chosen.used))
    return pairs_missing(chosen.drawn.line, figures.wanted_slope_error.value / 100, most)


def _curve(question: MonitorQuestion, display: Display, chosen: Chosen) -> Iterator[CurvePoint]:
    """The line from no reading to the highest that it was seen to hold for."""
    end = max(point.pair.reading for point in chosen.used)
    for step in range(_STEPS + 1):
        reading = end * step / _STEPS
        heights = height_limits(chosen.line, reading)
        yield CurvePoint(reading, display.losses_kg_ha(heights, question.cut_width_m, question.ground_speed_km_h))


def _warnings(question: MonitorQuestion, terms: Terms, chosen: Chosen, advice: Advice) -> Iterator[Message]:
    target, figures = terms.target, terms.file.figures
    if not slope_limits(chosen.line).low > 0:
        yield Message("monitor.not_shown")
    if chosen.further_stray is not None:
        yield Message("monitor.further_stray", {"pair": chosen.further_stray.index + 1})
    yield from _about_pairs(question, chosen, figures)
    if any(not one.shown and one.reading.value > 0 for one in advice.hold):
        yield Message("monitor.hold_not_shown")
    if any(one.extrapolated and one.shown for one in advice.hold):
        yield Message("monitor.extrapolated")
    if target.origin == "crop":
        facts = {"share": Quantity(target.share_pct, "%"), "part": Quantity(figures.sensor_share.value, "%")}
        yield Message("monitor.target_share", facts)
    untold = question.yield_t_ha is None and question.yield_bu_ac is None
    if untold and question.target_loss_kg_ha is None:
        yield Message("monitor.yield_assumed")
    if any(pair.kernels for pair in question.pairs) or advice.detection is not None:
        yield from terms.mass.warnings
    if advice.detection is None:
        yield Message("monitor.no_detection", {"count": FEW_READINGS})


def _about_pairs(question: MonitorQuestion, chosen: Chosen, figures: MonitorFigures) -> Iterator[Message]:
    """What the pairs leave open."""
    losses = [point.pair.loss for point in chosen.used]
    if min(losses) > figures.low_pair_share.value / 100 * max(losses):
        yield Message("monitor.no_low_pair", {"share": Quantity(figures.low_pair_share.value, "%")})
    if len(set(question.pairs)) < len(question.pairs):
        yield Message("monitor.same_pair_twice")
    if len({point.speed_km_h for point in chosen.used}) == 1:
        yield Message("monitor.one_speed")
    idle = place_of_height(chosen.line, 0.0)
    if question.no_loss_readings and idle.low is not None and idle.high is not None:
        mean = fsum(question.no_loss_readings) / len(question.no_loss_readings)
        if not idle.low <= mean <= idle.high:
            yield Message("monitor.idle_differs", {"line": round(idle.value, 3), "idle": round(mean, 3)})
