"""A loss-monitor calibration as a chart: pairs, line, limits, target.

Inside: what is drawn. Outside: how it looks (`plot`), the numbers (`usecases`).
"""

from service.api.reader import Reader
from service.api.showing import Showing
from service.domain.types import Message, Quantity
from service.plot import Axis, Band, Chart, Level, Mark, Panel, Series, Span
from service.text import unit_label
from service.usecases.monitor_types import CurvePoint, MonitorCalibration, PairSeen

# room above the highest pair and the target; limits that run beyond are cut off
_HEADROOM = 1.15


def draw_monitor(answer: MonitorCalibration, reader: Reader) -> Chart:
    """Return the chart: loss at the asked speed over the reading."""
    show = Showing(reader)
    here = {"speed": Quantity(answer.speed_km_h, "km/h"), "width": Quantity(answer.cut_width_m, "m")}
    highest = max(answer.target.loss_kg_ha, *(pair.loss_at_asked_kg_ha for pair in answer.pairs))
    unit = unit_label(show.unit("kg/har"), reader.lang)
    display = _words(show, "monitor.chart.display", {"unit": _words(show, f"monitor.unit.{answer.reading_unit}")})
    asked = next(hold for hold in answer.hold if hold.speed_km_h == answer.speed_km_h)
    far = max(pair.reading for pair in answer.pairs)
    target = _words(show, "monitor.chart.target", {"loss": Quantity(answer.target.loss_kg_ha, "kg/har")})
    marks = (
        (Mark(asked.reading.value, _words(show, "monitor.chart.hold", {"reading": round(asked.reading.value, 2)})),)
        if asked.shown and asked.reading.value <= far
        else ()
    )
    return Chart(
        title=_words(show, "monitor.chart.title", {"crop": answer.crop_names, "sensor": _sensor(answer)}),
        description=_description(show, answer),
        x=Axis(display, low=0.0, high=far * 1.05),
        panels=(
            Panel(
                y=Axis(
                    _words(show, "monitor.chart.loss", {**here, "unit": unit}),
                    low=0.0,
                    high=_shown(show, highest * _HEADROOM),
                ),
                series=(*_series(show, answer), *_least(show, answer, far * 1.05)),
                bands=(_band(show, answer.curve),),
                levels=(Level(_shown(show, answer.target.loss_kg_ha), target),),
                height=320,
            ),
        ),
        spans=_beyond(show, answer, far * 1.05),
        marks=marks,
    )


def _words(show: Showing, code: str, params: dict[str, object] | None = None) -> str:
    return show.note(Message(code, params or {})).text


def _sensor(answer: MonitorCalibration) -> Message:
    return Message(f"monitor.sensor.{answer.sensor}")


def _shown(show: Showing, loss_kg_ha: float) -> float:
    return show.number(loss_kg_ha, "kg/har")


def _series(show: Showing, answer: MonitorCalibration) -> list[Series]:
    line = tuple((point.reading, _shown(show, point.loss_kg_ha.value)) for point in answer.curve)
    found = [Series(_words(show, "monitor.chart.line"), line, "line", 0)]
    groups = (("used", "monitor.chart.used", 0), ("stray", "monitor.chart.stray", 1), ("", "monitor.chart.beyond", 3))
    for role, code, colour in groups:
        inside = [pair for pair in answer.pairs if _group(pair) == role]
        dots = tuple((pair.reading, _shown(show, pair.loss_at_asked_kg_ha)) for pair in inside)
        if dots:
            found.append(Series(_words(show, code), dots, "dots", colour))
    return found


def _group(pair: PairSeen) -> str:
    return pair.role if pair.role in ("used", "stray") else ""


def _band(show: Showing, curve: tuple[CurvePoint, ...]) -> Band:
    low, high = (
        tuple((point.reading, _shown(show, end)) for point, end in zip(curve, ends, strict=True))
        for ends in ([point.loss_kg_ha.low for point in curve], [point.loss_kg_ha.high for point in curve])
    )
    return Band(_words(show, "monitor.chart.band"), low, high, 0)


def _least(show: Showing, answer: MonitorCalibration, far: float) -> list[Series]:
    """The detection limit as a line with its name in the legend: a name in the plot would lie among the low pairs."""
    if answer.detection is None:
        return []
    least = answer.detection.loss_kg_ha.value
    label = _words(show, "monitor.chart.detection", {"loss": Quantity(least, "kg/har")})
    height = _shown(show, least)
    return [Series(label, ((0.0, height), (far, height)), "dashed", 2)]


def _beyond(show: Showing, answer: MonitorCalibration, far: float) -> tuple[Span, ...]:
    if answer.span.saturated != "yes":
        return ()
    return (Span(answer.span.reading_high, far, _words(show, "monitor.chart.beyond_span")),)


def _description(show: Showing, answer: MonitorCalibration) -> str:
    facts = {"pairs": answer.line.pairs, "all": len(answer.pairs), "summary": answer.summary}
    return _words(show, "monitor.chart.description", facts)
