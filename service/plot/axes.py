"""Ranges and ticks of the axes of a chart.

Inside: what an axis must cover, where the writer of the chart left that open. Outside: the arithmetic (`scale`).
"""

from service.plot.chart import Axis, Chart, Panel
from service.plot.scale import Scale, extent, from_zero, outward, ticks
from service.plot.shapes import bar_width_px
from service.text.numbers import Language, decimal

Tick = tuple[float, str]


def x_scale(chart: Chart, left_px: float, room_px: float) -> Scale:
    """Return the common x scale; where there are bars it leaves room for half a bar at both ends."""
    rows = [series.points for panel in chart.panels for series in panel.series]
    rows += [row for panel in chart.panels for band in panel.bands for row in (band.lower, band.upper)]
    values = [x for row in rows for x, _ in row] + [mark.x for mark in chart.marks]
    low, high = extent(values, chart.x.low, chart.x.high)
    plain = Scale(low, high, 0.0, room_px)
    bars = [series.points for panel in chart.panels for series in panel.series if series.style == "bars"]
    pad_px = max((bar_width_px(points, plain) for points in bars if points), default=0.0) / 2
    return Scale(low, high, left_px + pad_px, left_px + room_px - pad_px)


def y_scale(panel: Panel, wanted: int) -> Scale:
    """Return the y scale of a panel: given ends as given, others at round numbers, at zero where that is near."""
    rows = [series.points for series in panel.series]
    rows += [row for band in panel.bands for row in (band.lower, band.upper)]
    values = [y for row in rows for _, y in row] + [level.y for level in panel.levels]
    if any(series.style == "bars" for series in panel.series):
        values.append(0.0)
    low, high = extent(values, panel.y.low, panel.y.high)
    if panel.y.low is None:
        low = outward(from_zero(low, high), high, wanted)[0]
    if panel.y.high is None:
        high = outward(low, high, wanted)[1]
    return Scale(low, high, float(panel.height), 0.0)


def tick_marks(axis: Axis, scale: Scale, lang: Language, wanted: int) -> list[Tick]:
    """Return places and labels along an axis: the given ones that lie on it, else round numbers."""
    if axis.ticks is not None:
        return [tick for tick in axis.ticks if scale.low <= tick[0] <= scale.high]
    found = ticks(scale.low, scale.high, wanted)
    return [(place, decimal(place, lang, found.decimals)) for place in found.places]
