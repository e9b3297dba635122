"""A chart as an SVG document.

Inside: the order of things on the page and the elements they become. Outside: what is drawn (`chart`), its
colours (`palette`), axis ranges (`axes`). The document stands alone: no script, no outside reference, no id that
could clash with another chart on the same page, and the same bytes for the same chart.
"""

import re
from collections.abc import Sequence
from typing import Final
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from service.plot.axes import Tick, tick_marks, x_scale, y_scale
from service.plot.chart import Band, Chart, Panel, Series
from service.plot.lettering import LINE_PX, apart, flowed, width_px, wrapped
from service.plot.palette import style_sheet
from service.plot.scale import Scale
from service.plot.shapes import SAMPLE_PX, draw_band, draw_series, n, put, sample
from service.text.numbers import Language

_LEFT: Final = 64.0
_RIGHT: Final = 24.0
_EDGE: Final = 14.0
_TITLE_PX: Final = 16.0
_TICK_ROOM_PX: Final = 80.0
_ROW_ROOM_PX: Final = 42.0
# characters that XML 1.0 does not allow even when escaped
_NOT_XML: Final = re.compile(r"[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def svg(chart: Chart, lang: Language) -> str:
    """Return the chart as a complete SVG document, numbers written as the language writes them."""
    sheet = Element("g")
    room_px = chart.width - _LEFT - _RIGHT
    x = x_scale(chart, _LEFT, room_px)
    x_ticks = tick_marks(chart.x, x, lang, wanted=max(2, int(room_px // _TICK_ROOM_PX)))
    y_px = _title(sheet, chart)
    y_px = _flags(sheet, chart, x, y_px)
    for panel in chart.panels:
        y_px = _heading(sheet, panel, chart.width, y_px)
        wanted = max(2, int(panel.height // _ROW_ROOM_PX))
        y = y_scale(panel, wanted)
        y_ticks = tick_marks(panel.y, y, lang, wanted)
        for place, label in y_ticks:
            put(sheet, "text", "faint", label, x=_LEFT - 8, y=y_px + y.at(place) + 4, text_anchor="end")
        area = _plot_area(sheet, chart, y_px, panel.height)
        _spans(area, chart, x, panel.height)
        _grid(area, [x.at(at) for at, _ in x_ticks], [y.at(at) for at, _ in y_ticks], chart.width, panel.height)
        _ground(area, chart, panel, x, y)
        _rows(area, panel, x, y)
        put(sheet, "rect", "frame", x=_LEFT, y=y_px, width=room_px, height=panel.height)
        y_px += panel.height + 8
    y_px = _x_axis(sheet, chart, x, x_ticks, y_px)
    return _document(chart, sheet, y_px + _EDGE, lang)


def _document(chart: Chart, sheet: Element, height_px: float, lang: Language) -> str:
    size = {"width": str(chart.width), "height": n(height_px)}
    frame = {"viewBox": f"0 0 {size['width']} {size['height']}"}
    named = {"xmlns": "http://www.w3.org/2000/svg", "class": "chart", "role": "img", "xml:lang": lang}
    root = Element("svg", {**named, **frame, **size})
    SubElement(root, "title").text = chart.title
    SubElement(root, "desc").text = chart.description
    SubElement(root, "style").text = style_sheet()
    SubElement(root, "rect", {"class": "page", **size})
    root.append(sheet)
    for element in root.iter():
        element.text = _NOT_XML.sub("", element.text) if element.text else None
    indent(root, space=" ")
    return tostring(root, encoding="unicode") + "\n"


def _title(sheet: Element, chart: Chart) -> float:
    y_px = _EDGE
    for line in wrapped(chart.title, chart.width - 2 * _EDGE, _TITLE_PX):
        y_px += _TITLE_PX + 4
        put(sheet, "text", "title", line, x=_EDGE, y=y_px - 2)
    return y_px + 6


def _flags(sheet: Element, chart: Chart, x: Scale, y_px: float) -> float:
    """Labels of spans and marks, above the first panel."""
    flags = [((low + high) / 2, label) for low, high, label in _visible_spans(chart, x)]
    flags += [(mark.x, mark.label) for mark in chart.marks if x.low <= mark.x <= x.high]
    widths = [width_px(label) for _, label in flags]
    spots = apart(
        [(x.at(place) - _EDGE, width) for (place, _), width in zip(flags, widths, strict=True)],
        chart.width - 2 * _EDGE,
        12.0,
    )
    for (_, label), spot, width in zip(flags, spots, widths, strict=True):
        put(
            sheet,
            "text",
            "",
            label,
            x=_EDGE + spot.left_px + width / 2,
            y=y_px + (spot.row + 1) * LINE_PX,
            text_anchor="middle",
        )
    return y_px + LINE_PX * max((spot.row + 1 for spot in spots), default=0)


def _visible_spans(chart: Chart, x: Scale) -> list[tuple[float, float, str]]:
    return [
        (max(span.x_low, x.low), min(span.x_high, x.high), span.label)
        for span in chart.spans
        if span.x_low <= x.high and span.x_high >= x.low
    ]


def _heading(sheet: Element, panel: Panel, width: int, y_px: float) -> float:
    """Name of the y axis, and the legend where there is more than one thing to tell apart."""
    y_px += LINE_PX + 4
    put(sheet, "text", "name", panel.y.label, x=_EDGE, y=y_px)
    # what has no label is a part of something that has
    items: list[Series | Band] = [item for item in panel.series if item.points and item.label]
    items += [band for band in panel.bands if band.label]
    if len(items) < 2 and not panel.bands:
        return y_px + 10
    spots = flowed([SAMPLE_PX + width_px(item.label) for item in items], width - _LEFT - _RIGHT, 18.0)
    for item, spot in zip(items, spots, strict=True):
        row_px = y_px + (spot.row + 1) * LINE_PX + 2
        sample(sheet, item, _LEFT + spot.left_px, row_px - 4)
        put(sheet, "text", "", item.label, x=_LEFT + spot.left_px + SAMPLE_PX, y=row_px)
    return y_px + (spots[-1].row + 1) * LINE_PX + 12


def _plot_area(sheet: Element, chart: Chart, y_px: float, height: float) -> Element:
    """The plot area is a picture of its own, so that what lies outside its range is cut off."""
    room_px = chart.width - _LEFT - _RIGHT
    where = {"x": n(_LEFT), "y": n(y_px), "width": n(room_px), "height": n(height)}
    return SubElement(sheet, "svg", {**where, "viewBox": f"{n(_LEFT)} 0 {n(room_px)} {n(height)}"})


def _spans(area: Element, chart: Chart, x: Scale, height: int) -> None:
    for low, high, _ in _visible_spans(chart, x):
        put(area, "rect", "shade", x=x.at(low), y=0, width=x.at(high) - x.at(low), height=height)


def _ground(area: Element, chart: Chart, panel: Panel, x: Scale, y: Scale) -> None:
    """What lies behind the data and before the grid: bands, marks, levels."""
    down = f"V{n(panel.height)}"
    for band in panel.bands:
        draw_band(area, band, x, y)
    for mark in chart.marks:
        put(area, "path", "mark", d=f"M{n(x.at(mark.x))} 0{down}")
    for level in panel.levels:
        put(area, "path", "level", d=f"M{n(_LEFT)} {n(y.at(level.y))}H{n(chart.width - _RIGHT)}")


def _grid(area: Element, x_px: Sequence[float], y_px: Sequence[float], width: int, height: int) -> None:
    for place in x_px:
        put(area, "path", "grid", d=f"M{n(place)} 0V{n(height)}")
    for place in y_px:
        put(area, "path", "grid", d=f"M{n(_LEFT)} {n(place)}H{n(width - _RIGHT)}")


def _rows(area: Element, panel: Panel, x: Scale, y: Scale) -> None:
    """The data, bars behind lines, dots before all, and the names of levels on top."""
    order = {"bars": 0, "dashed": 1, "line": 1, "dots": 2}
    for series in sorted(panel.series, key=lambda item: order[item.style]):
        if series.points:
            draw_series(area, series, x, y)
    for level in panel.levels:
        above = y.at(level.y) - 5
        put(area, "text", "", level.label, x=_LEFT + 8, y=above if above > LINE_PX else above + LINE_PX + 4)


def _x_axis(sheet: Element, chart: Chart, x: Scale, x_ticks: Sequence[Tick], y_px: float) -> float:
    y_px += 10
    for place, label in x_ticks:
        put(sheet, "text", "faint", label, x=x.at(place), y=y_px, text_anchor="middle")
    y_px += LINE_PX + 4
    put(
        sheet, "text", "name", chart.x.label, x=_LEFT + (chart.width - _LEFT - _RIGHT) / 2, y=y_px, text_anchor="middle"
    )
    return y_px
