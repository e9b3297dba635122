"""Rows of numbers as SVG elements.

Inside: lines, dots, bars, bands, and their small samples for a legend. Outside: axes and words (`draw`).
"""

from itertools import pairwise
from typing import Final
from xml.etree.ElementTree import Element, SubElement

from service.plot.chart import Band, Points, Series
from service.plot.palette import LINE_DASHES, SHORT_DASHES
from service.plot.scale import Scale

SAMPLE_PX: Final = 30.0
_DOT_PX: Final = 4.5
# share of the least distance between two bars that a bar fills, and the widest bar
_BAR_SHARE: Final = 0.7
_BAR_MOST_PX: Final = 48.0

# outlines about (0, 0) in units of the dot's radius, one for each colour
_SHAPES: Final[tuple[Points, ...]] = (
    (),  # a circle
    ((-0.9, -0.9), (0.9, -0.9), (0.9, 0.9), (-0.9, 0.9)),
    ((0.0, -1.2), (1.1, 0.8), (-1.1, 0.8)),
    ((0.0, -1.3), (1.3, 0.0), (0.0, 1.3), (-1.3, 0.0)),
    ((0.0, 1.2), (1.1, -0.8), (-1.1, -0.8)),
    (
        (-0.4, -1.2),
        (0.4, -1.2),
        (0.4, -0.4),
        (1.2, -0.4),
        (1.2, 0.4),
        (0.4, 0.4),
        (0.4, 1.2),
        (-0.4, 1.2),
        (-0.4, 0.4),
        (-1.2, 0.4),
        (-1.2, -0.4),
        (-0.4, -0.4),
    ),
)


def n(value: float) -> str:
    """Write a coordinate to a hundredth of a pixel, without needless zeros.

    >>> n(12.0), n(3.14159), n(-0.001)
    ('12', '3.14', '0')
    """
    return f"{round(value, 2) + 0.0:.2f}".rstrip("0").rstrip(".")


def put(parent: Element, tag: str, look: str, text: str | None = None, **places: float | str) -> Element:
    """Add an element: `look` is its class, places are its attributes (`text_anchor` becomes text-anchor)."""
    attributes = {"class": look} if look else {}
    for name, value in places.items():
        attributes[name.replace("_", "-")] = value if isinstance(value, str) else n(value)
    element = SubElement(parent, tag, attributes)
    element.text = text
    return element


def bar_width_px(points: Points, scale: Scale) -> float:
    """Return the width of a bar, from the least distance between two."""
    places = sorted(scale.at(x) for x, _ in points)
    gaps = [after - before for before, after in pairwise(places) if after > before]
    return min(_BAR_MOST_PX, _BAR_SHARE * min(gaps, default=_BAR_MOST_PX))


def draw_series(parent: Element, series: Series, x: Scale, y: Scale) -> None:
    """Add a row of points in its style."""
    places = [(x.at(px), y.at(py)) for px, py in series.points]
    match series.style:
        case "dots":
            for place in places:
                _dot(parent, place, series.colour)
        case "bars":
            width, base = bar_width_px(series.points, x), min(max(y.at(0.0), y.end_px), y.start_px)
            for left, top in places:
                put(
                    parent,
                    "rect",
                    f"fill{series.colour}",
                    x=left - width / 2,
                    y=min(top, base),
                    width=width,
                    height=abs(base - top),
                )
        case "line" | "dashed":
            _line(parent, series, places)


def draw_band(parent: Element, band: Band, x: Scale, y: Scale) -> None:
    """Add the area between two lines."""
    outline = [(x.at(px), y.at(py)) for px, py in (*band.lower, *reversed(band.upper))]
    put(parent, "path", f"band fill{band.colour}", d=_path(outline) + "Z")


def sample(parent: Element, item: Series | Band, left_px: float, middle_px: float) -> None:
    """Add the small sample of a row of points or a band that stands in a legend."""
    right = left_px + SAMPLE_PX - 6
    match item:
        case Series(style="dots"):
            _dot(parent, ((left_px + right) / 2, middle_px), item.colour)
        case Series(style="bars"):
            put(parent, "rect", f"fill{item.colour}", x=left_px + 6, y=middle_px - 5, width=12, height=10)
        case Series():
            _line(parent, item, [(left_px, middle_px), (right, middle_px)])
        case Band():
            put(parent, "rect", f"band fill{item.colour}", x=left_px, y=middle_px - 5, width=right - left_px, height=10)


def _line(parent: Element, series: Series, places: list[tuple[float, float]]) -> None:
    thin = series.style == "dashed"
    dash = (SHORT_DASHES if thin else LINE_DASHES)[series.colour]
    look = f"line{' thin' if thin else ''} stroke{series.colour}"
    put(parent, "path", look, d=_path(places), **({"stroke_dasharray": dash} if dash else {}))


def _dot(parent: Element, place: tuple[float, float], colour: int) -> None:
    look = f"dot fill{colour}"
    outline = _SHAPES[colour]
    if not outline:
        put(parent, "circle", look, cx=place[0], cy=place[1], r=_DOT_PX)
        return
    corners = [(place[0] + _DOT_PX * dx, place[1] + _DOT_PX * dy) for dx, dy in outline]
    put(parent, "path", look, d=_path(corners) + "Z")


def _path(places: list[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{n(x)} {n(y)}" for x, y in places)
