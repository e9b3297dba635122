"""What follows from the line of a loss monitor: target, readings to hold, sensitivity, when to do it again.

Inside: advice and its reasons. Outside: the line (`monitor_choice`), the whole answer (`monitor_calibration`).
"""

from collections.abc import Callable, Iterator, Sequence
from math import inf
from statistics import mean
from typing import Final, Literal

from service.domain.line_limits import Place, place_of_height, slope_limits
from service.domain.loss_monitor import (
    detection_limit,
    kernel_rate_per_s,
    loss_rate_g_s,
    scatter_limits,
    sensitivity_change_pct,
)
from service.domain.losses import loss_for_share, loss_share_pct
from service.domain.types import Interval, Message, Quantity
from service.errors import Contradiction
from service.knowledge.schema import CropFile
from service.knowledge.schema_monitor import MonitorFigures, MonitorFile
from service.usecases.monitor_choice import FEW_READINGS, Chosen
from service.usecases.monitor_points import Display
from service.usecases.monitor_types import (
    Detection,
    Direction,
    Hold,
    MonitorQuestion,
    Noted,
    Sensitivity,
    Target,
)
from service.usecases.provenance import proof

_SLOWEST_KM_H: Final = 0.3
_CODES: Final[dict[tuple[Direction, str], str]] = {
    ("raise", "unit"): "monitor.sensitivity.raise_unit",
    ("lower", "unit"): "monitor.sensitivity.lower_unit",
    ("raise", "scale"): "monitor.sensitivity.raise_scale",
    ("lower", "scale"): "monitor.sensitivity.lower_scale",
}


def target_of(question: MonitorQuestion, crop: CropFile, figures: MonitorFigures, yield_t_ha: float) -> Target:
    """Loss of this stream that shall not be passed: as told, or this sensor's share of the crop's target.

    Raises
    ------
    Contradiction
        If the target is told twice, or is more than the yield.
    """
    harvested = yield_t_ha * 1000
    if question.target_loss_kg_ha is not None and question.target_loss_pct is not None:
        first, second = "target_loss_kg_ha", "target_loss_pct"
        raise Contradiction([first, second], "reason.both_given", first=first, second=second)
    if question.target_loss_kg_ha is not None:
        told = question.yield_t_ha is not None or question.yield_bu_ac is not None
        if told and question.target_loss_kg_ha > harvested:
            raise Contradiction(["target_loss_kg_ha"], "monitor.target_above_yield")
        share = loss_share_pct(question.target_loss_kg_ha, harvested)
        return Target(question.target_loss_kg_ha, share, "request", None)
    if question.target_loss_pct is not None:
        return Target(loss_for_share(question.target_loss_pct, harvested), question.target_loss_pct, "request", None)
    machine = crop.targets.machine_loss
    share = machine.value * figures.sensor_share.value / 100
    return Target(loss_for_share(share, harvested), share, "crop", proof(machine))


def holds(question: MonitorQuestion, display: Display, chosen: Chosen, target: Target, step_km_h: float) -> list[Hold]:
    """Readings that equal the target at the speed asked for and one step to either side."""
    asked, width = question.ground_speed_km_h, question.cut_width_m
    at_asked = display.height(target.loss_kg_ha, width, asked)
    readings = [point.pair.reading for point in chosen.used]
    full = inf if question.reading_full_scale is None else question.reading_full_scale
    top = min(full, max(readings)) if chosen.saturated == "yes" else full
    found = []
    for speed in (asked - step_km_h, asked, asked + step_km_h):
        if speed < _SLOWEST_KM_H:
            continue
        reading = place_of_height(chosen.line, display.height(target.loss_kg_ha, width, speed))
        kept = display.loss_kg_ha(at_asked, width, speed)
        outside = not min(readings) <= reading.value <= max(readings)
        found.append(Hold(speed, reading, kept, outside, 0 < reading.value <= top))
    return found


def detection_of(
    question: MonitorQuestion, display: Display, chosen: Chosen, figures: MonitorFigures, kernel_mass_g: float
) -> Detection | None:
    """Least loss that stands out, where the scatter of the display is known."""
    if len(question.no_loss_readings) >= FEW_READINGS:
        scatter = scatter_limits(question.no_loss_readings)
    elif question.reading_error is not None:
        scatter = Interval(question.reading_error, question.reading_error, question.reading_error)
    else:
        return None
    heights = detection_limit(scatter, slope_limits(chosen.line), figures.detection_factor.value)
    width, speed = question.cut_width_m, question.ground_speed_km_h
    losses = display.losses_kg_ha(heights, width, speed)
    rates = _each(losses, lambda loss: loss_rate_g_s(loss, width, speed))
    return Detection(
        rates,
        losses,
        _each(rates, lambda rate: kernel_rate_per_s(rate, kernel_mass_g)),
        "no_loss_readings" if len(question.no_loss_readings) >= FEW_READINGS else "reading_error",
        proof(figures.detection_factor),
    )


def _each(ends: Interval, of: Callable[[float], float]) -> Interval:
    return Interval(of(ends.value), of(ends.low), of(ends.high))


def sensitivity_of(
    question: MonitorQuestion,
    chosen: Chosen,
    asked: Hold,
    wanted: float,
    figures: MonitorFigures,
    detection: Detection | None,
    target: Target,
) -> Sensitivity:
    """Which way to move the sensitivity, so that the display shows at the target what it should.

    `wanted` is the target in the unit of the display; a display without unit should stand at a share of its
    scale.
    """
    top = max(point.pair.reading for point in chosen.used)
    full = question.reading_full_scale
    if detection is not None and detection.loss_kg_ha.value > target.loss_kg_ha:
        return _blind(question, detection, target)
    if chosen.saturated == "yes" and asked.reading.value > top:
        return Sensitivity("lower", None, Message("monitor.sensitivity.saturated", {"reading": round(top, 3)}))
    if question.reading_unit != "index":
        return _toward(asked.reading, wanted, "unit")
    if full is None:
        return Sensitivity("leave", None, Message("monitor.sensitivity.no_scale"))
    return _toward(asked.reading, full * figures.scale_share.value / 100, "scale")


def _blind(question: MonitorQuestion, detection: Detection, target: Target) -> Sensitivity:
    """The target drowns: in the steps of the display, which more sensitivity widens, or in what moves it without loss.

    Sensitivity raises that flicker as much as the signal, so a display that never rests needs less of it.
    """
    facts: dict[str, object] = {
        "least": Quantity(detection.loss_kg_ha.value, "kg/har"),
        "target": Quantity(target.loss_kg_ha, "kg/har"),
    }
    restless = detection.origin == "no_loss_readings" and min(question.no_loss_readings) > 0
    if restless:
        facts["reading"] = round(mean(question.no_loss_readings), 3)
        return Sensitivity("lower", None, Message("monitor.sensitivity.restless", facts))
    return Sensitivity("raise", None, Message("monitor.sensitivity.blind", facts))


def _toward(reading: Place, wanted: float, kind: Literal["unit", "scale"]) -> Sensitivity:
    """The change that brings a reading to what is wanted, if chance does not explain the difference."""
    if not reading.value > 0:
        return Sensitivity("raise", None, Message("monitor.sensitivity.nothing_shown"))
    change = _change(reading, wanted)
    if change.low is None and change.high is None:
        return Sensitivity("unknown", change, Message("monitor.sensitivity.unsure"))
    if (change.low is None or change.low <= 0) and (change.high is None or change.high >= 0):
        if change.low is None or change.high is None:
            return Sensitivity("unknown", change, Message("monitor.sensitivity.unsure_share"))
        ends = {"less": Quantity(float(round(-change.low)), "%"), "more": Quantity(float(round(change.high)), "%")}
        return Sensitivity("leave", change, Message("monitor.sensitivity.fits", ends))
    direction: Direction = "raise" if change.value > 0 else "lower"
    share = Quantity(float(round(abs(change.value))), "%")
    return Sensitivity(direction, change, Message(_CODES[direction, kind], {"share": share}))


def _change(reading: Place, wanted: float) -> Place:
    """Change in percent; what shows too much must come down, so the ends change places."""
    ends = [
        sensitivity_change_pct(end, wanted) if end is not None and end > 0 else None
        for end in (reading.high, reading.low)
    ]
    return Place(sensitivity_change_pct(reading.value, wanted), ends[0], ends[1])


def redo_reasons(
    file: MonitorFile, question: MonitorQuestion, chosen: Chosen, crop: CropFile, kernel_mass_g: float
) -> Iterator[Noted]:
    """When the calibration no longer holds, with the figures of this one."""
    change = file.figures.kernel_mass_change.value / 100
    margin = file.figures.speed_margin.value
    speeds = [point.speed_km_h for point in chosen.used]
    facts: dict[str, dict[str, object]] = {
        "crop": {"crop": crop.names},
        "kernel_mass": {
            "low": Quantity(kernel_mass_g * (1 - change), "g"),
            "high": Quantity(kernel_mass_g * (1 + change), "g"),
        },
        "speed": {
            "low": Quantity(max(0.0, min(speeds) - margin), "km/h"),
            "high": Quantity(max(speeds) + margin, "km/h"),
        },
    }
    for reason in file.redo:
        if question.sensor in reason.sensors:
            message = Message(f"monitor.redo.{reason.code}", facts.get(reason.code, {}))
            yield Noted(message, proof(reason))


def findings_of(file: MonitorFile, situations: Sequence[str]) -> Iterator[Noted]:
    """What is known of such monitors in this situation."""
    for finding in file.finding:
        if finding.when in situations:
            yield Noted(Message(f"monitor.finding.{finding.code}"), proof(finding))
