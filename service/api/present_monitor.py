"""A loss-monitor calibration as an answer in the reader's units and language, and as a chart.

Readings stay in the unit of the display: whoever reads them sits before it.
"""

from service.api.answers import Estimate, Named
from service.api.answers_monitor import (
    DetectionOut,
    HoldOut,
    MonitorCalibrationAnswer,
    MonitorLineOut,
    MonitorPairOut,
    MonitorRangeOut,
    MonitorTargetOut,
    NotedOut,
    ReadingOut,
    SensitivityOut,
)
from service.api.reader import Reader
from service.api.showing import Showing
from service.domain.line_limits import Place
from service.domain.types import Interval
from service.units import served
from service.usecases.monitor_types import (
    Detection,
    Hold,
    LineSeen,
    MonitorCalibration,
    Noted,
    PairSeen,
    Sensitivity,
    Target,
)
from service.usecases.monitor_types import Span as Seen


def present_monitor(answer: MonitorCalibration, reader: Reader) -> MonitorCalibrationAnswer:
    """Return the whole answer."""
    show = Showing(reader)
    detection = answer.detection
    return MonitorCalibrationAnswer(
        knowledge=show.knowledge(),
        crop=show.named(answer.crop, answer.crop_names),
        sensor=Named(id=answer.sensor, name=show.text(f"monitor.sensor.{answer.sensor}")),
        summary=show.note(answer.summary),
        reading_unit=answer.reading_unit,
        follows=answer.follows,
        ground_speed=show.amount(answer.speed_km_h, "km/h"),
        cut_width=show.amount(answer.cut_width_m, "m"),
        crop_yield=show.crop_yield(answer.yield_t_ha, answer.bushel_lb),
        kernel_mass=_interval(show, answer.thousand_kernel_mass_g, "g"),
        pairs=[_pair(show, pair) for pair in answer.pairs],
        line=_line(show, answer.line),
        linear_range=_range(show, answer.span),
        detection=None if detection is None else _detection(show, detection),
        target=_target(show, answer.target),
        hold=[_hold(show, hold) for hold in answer.hold],
        sensitivity=_sensitivity(show, answer.sensitivity),
        more_pairs=answer.more_pairs,
        redo=[_noted(show, one) for one in answer.redo],
        findings=[_noted(show, one) for one in answer.findings],
        warnings=show.notes(answer.warnings),
        cautions=show.notes(answer.cautions),
        sources=show.references(),
    )


def reading(value: float) -> float:
    """A reading as it is served: to a thousandth."""
    return served(value, "1")


def _interval(show: Showing, interval: Interval, unit: str) -> Estimate:
    return show.estimate(interval.value, interval.low, interval.high, unit)


def _reading(place: Place) -> ReadingOut:
    ends = [None if end is None else reading(end) for end in (place.low, place.high)]
    return ReadingOut(value=reading(place.value), low=ends[0], high=ends[1])


def _pair(show: Showing, pair: PairSeen) -> MonitorPairOut:
    return MonitorPairOut(
        pair=pair.index + 1,
        reading=pair.reading,
        loss=show.amount(pair.loss_kg_ha, "kg/har"),
        error=show.amount(pair.error_kg_ha, "kg/har"),
        ground_speed=show.amount(pair.speed_km_h, "km/h"),
        loss_at_asked=show.amount(pair.loss_at_asked_kg_ha, "kg/har"),
        role=pair.role,
        why=None if pair.why is None else show.note(pair.why),
    )


def _line(show: Showing, line: LineSeen) -> MonitorLineOut:
    return MonitorLineOut(
        method=line.method,
        note=show.note(line.note),
        loss_per_step=_interval(show, line.slope, line.unit),
        reading_without_loss=_reading(line.reading_without_loss),
        hidden_loss=None if line.hidden_kg_ha is None else _interval(show, line.hidden_kg_ha, "kg/har"),
        residual=show.amount(line.residual_kg_ha, "kg/har"),
        scatter_ratio=served(line.scatter_ratio, "1"),
        r_squared=round(line.r_squared, 4) + 0.0,
        pairs=line.pairs,
        follows_loss=line.shown,
    )


def _range(show: Showing, span: Seen) -> MonitorRangeOut:
    return MonitorRangeOut(
        reading_low=span.reading_low,
        reading_high=span.reading_high,
        loss_low=show.amount(span.loss_low_kg_ha, "kg/har"),
        loss_high=show.amount(span.loss_high_kg_ha, "kg/har"),
        saturated=span.saturated,
        note=show.note(span.note),
    )


def _detection(show: Showing, detection: Detection) -> DetectionOut:
    return DetectionOut(
        rate=_interval(show, detection.rate_g_s, "g/s"),
        loss=_interval(show, detection.loss_kg_ha, "kg/har"),
        kernels=_interval(show, detection.kernels_per_s, "{kernel}/s"),
        origin=detection.origin,
        **show.evidence(detection.proof),
    )


def _target(show: Showing, target: Target) -> MonitorTargetOut:
    return MonitorTargetOut(
        loss=show.amount(target.loss_kg_ha, "kg/har"),
        share=show.amount(target.share_pct, "%"),
        origin=target.origin,
        evidence=None if target.proof is None else show.evidence_part(target.proof),
    )


def _hold(show: Showing, hold: Hold) -> HoldOut:
    return HoldOut(
        ground_speed=show.amount(hold.speed_km_h, "km/h"),
        reading=_reading(_shown(hold.reading)) if hold.shown else None,
        loss_at_same_reading=show.amount(hold.loss_at_same_reading_kg_ha, "kg/har"),
        extrapolated=hold.extrapolated,
    )


def _shown(place: Place) -> Place:
    """A place on the display, which shows nothing below zero."""
    return Place(place.value, None if place.low is None else max(0.0, place.low), place.high)


def _sensitivity(show: Showing, advice: Sensitivity) -> SensitivityOut:
    change = advice.change
    return SensitivityOut(
        direction=advice.direction,
        change=None if change is None else show.estimate(change.value, change.low, change.high, "%"),
        note=show.note(advice.why),
    )


def _noted(show: Showing, one: Noted) -> NotedOut:
    return NotedOut(note=show.note(one.message), **show.evidence(one.proof))
