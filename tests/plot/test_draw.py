"""The drawn document: valid XML that stands alone, the same every time, and every number where it belongs."""

import math
import re
from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.plot import Axis, Band, Chart, Level, Mark, Panel, Series, Span, svg
from service.text import Language

SVG = "{http://www.w3.org/2000/svg}"
NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


def chart(**more: object) -> Chart:
    line = Series("fitted", ((2.0, 10.0), (4.0, 30.0), (6.0, 20.0)))
    dots = Series("tests", ((2.0, 12.0), (6.0, 18.0)), "dots", 1)
    band = Band("interval", ((2.0, 8.0), (6.0, 15.0)), ((2.0, 14.0), (6.0, 26.0)))
    panel = Panel(Axis("Cost <per & ha>"), (line, dots), (band,), (Level(25.0, "target"),))
    whole = Chart("Speed", "What it shows.", Axis("km/h"), (panel,), (Span(3.0, 5.0, "flat"),), (Mark(4.0, "best"),))
    return replace(whole, **more)  # type: ignore[arg-type]


def drawn(whole: Chart, lang: Language = "en") -> ElementTree.Element:
    return ElementTree.fromstring(svg(whole, lang))


def texts(root: ElementTree.Element) -> list[str]:
    return [element.text or "" for element in root.iter(f"{SVG}text")]


def paths(root: ElementTree.Element, look: str) -> list[list[float]]:
    found = (element for element in root.iter(f"{SVG}path") if look in element.get("class", "").split())
    return [[float(number) for number in NUMBER.findall(element.get("d", ""))] for element in found]


def test_who_cannot_see_it_is_told_what_it_shows() -> None:
    root = drawn(chart())
    assert root.get("role") == "img"
    assert [element.tag for element in root][:2] == [f"{SVG}title", f"{SVG}desc"]
    assert (root[0].text, root[1].text) == ("Speed", "What it shows.")


def test_it_stands_alone() -> None:
    text = svg(chart(), "en")
    assert not re.search(r"<script|href|url\(|@import|<image|on\w+=|\bid=", text)
    assert re.findall(r"https?://[^\"' ]+", text) == ["http://www.w3.org/2000/svg"]
    assert "prefers-color-scheme:dark" in text


def test_the_same_chart_gives_the_same_bytes() -> None:
    assert svg(chart(), "de") == svg(chart(), "de")


def test_coordinates_are_rounded_to_a_hundredth() -> None:
    third = Series("third", ((1 / 3, 1 / 7), (2 / 3, 2 / 7), (1.0, 3 / 7)))
    text = svg(chart(panels=(Panel(Axis("y"), (third,)),)), "en")
    drawing = text.split("</style>")[1]
    assert not re.search(r"\d\.\d{3}", drawing)


@pytest.mark.parametrize(("lang", "sign"), [("en", "2.5"), ("de", "2,5")])
def test_numbers_on_axes_are_written_as_the_language_writes_them(lang: Language, sign: str) -> None:
    row = Series("row", ((0.0, 0.0), (1.0, 10.0)))
    root = drawn(chart(panels=(Panel(Axis("y", low=0.0, high=5.0), (row,), height=84),), marks=(), spans=()), lang)
    assert sign in texts(root)


def test_a_line_goes_through_its_points() -> None:
    root = drawn(chart(x=Axis("km/h", low=2.0, high=6.0)))
    line = next(path for path in paths(root, "stroke0") if len(path) == 6)
    xs, ys = line[::2], line[1::2]
    # 4 lies midway between 2 and 6; 10, 30, 20 on an axis where up is less
    assert xs[1] - xs[0] == pytest.approx(xs[2] - xs[1], abs=0.02)
    assert ys[0] > ys[2] > ys[1]
    assert (ys[0] - ys[2]) == pytest.approx((ys[2] - ys[1]), abs=0.02)


def test_bars_stand_on_zero_and_do_not_touch() -> None:
    rain = Series("rain", tuple((float(hour), 1.0 + hour % 3) for hour in range(6)), "bars", 2)
    root = drawn(chart(panels=(Panel(Axis("mm"), (rain,)),), spans=(), marks=()))
    bars = [element for element in root.iter(f"{SVG}rect") if element.get("class") == "fill2"]
    feet = {round(float(bar.get("y", "0")) + float(bar.get("height", "0")), 1) for bar in bars}
    assert len(bars) == 6
    assert feet == {220.0}
    lefts = sorted(float(bar.get("x", "0")) for bar in bars)
    assert min(b - a for a, b in pairwise(lefts)) > float(bars[0].get("width", "0"))


def test_words_are_escaped_and_what_xml_forbids_is_left_out() -> None:
    root = drawn(chart(title="a < b & \x00c\x1b"))
    assert root[0].text == "a < b & c"
    assert "Cost <per & ha>" in texts(root)


def test_a_span_and_a_mark_outside_the_axis_are_not_named() -> None:
    spans, marks = (Span(20.0, 30.0, "beyond"),), (Mark(1.0, "before"),)
    root = drawn(chart(x=Axis("km/h", low=2.0, high=6.0), spans=spans, marks=marks))
    assert not {"beyond", "before"} & set(texts(root))


def test_given_ticks_are_taken_where_they_lie_on_the_axis() -> None:
    root = drawn(chart(x=Axis("h", ticks=((2.0, "Mon"), (4.0, "Tue"), (9.0, "Sun")))))
    assert {"Mon", "Tue"} <= set(texts(root))
    assert "Sun" not in texts(root)


def test_what_has_no_label_is_not_in_the_legend() -> None:
    rows = (Series("one", ((0.0, 1.0), (1.0, 2.0))), Series("", ((1.0, 2.0), (2.0, 3.0)), "dashed"))
    root = drawn(chart(panels=(Panel(Axis("y"), rows),), spans=(), marks=()))
    assert "one" not in texts(root)  # alone it needs no legend
    assert "" not in texts(root)


@pytest.mark.parametrize("low", [None, 0.0])
def test_alike_values_have_an_axis(low: float | None) -> None:
    row = Series("row", ((1.0, 5.0), (2.0, 5.0)))
    assert paths(drawn(chart(panels=(Panel(Axis("y", low=low), (row,)),), spans=(), marks=())), "stroke0")


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: Series("x", ((math.nan, 1.0),)),
        lambda: Series("x", ((1.0, math.inf),)),
        lambda: Series("x", (), "line", 6),
        lambda: Band("x", ((1.0, 1.0),), ((1.0, -math.inf),)),
        lambda: Span(2.0, 1.0, "x"),
        lambda: Mark(math.nan, "x"),
        lambda: Level(math.nan, "x"),
        lambda: Axis("x", low=1.0, high=1.0),
        lambda: Axis("x", ticks=((math.nan, "a"),)),
        lambda: chart(panels=(Panel(Axis("y"), (Series("x", ()),)),)),
    ],
)
def test_what_cannot_be_drawn_is_refused(wrong: object) -> None:
    with pytest.raises(ValueError, match=r"."):
        wrong()  # type: ignore[operator]


FINITE = st.floats(-1e6, 1e6).map(lambda value: round(value, 3))


@given(
    points=st.lists(st.tuples(FINITE, FINITE), min_size=1, max_size=12),
    style=st.sampled_from(["line", "dashed", "dots", "bars"]),
    lang=st.sampled_from(["en", "de"]),
)
def test_any_finite_points_give_a_document_with_every_word_on_the_paper(
    points: list[tuple[float, float]], style: str, lang: Language
) -> None:
    row = Series("row", tuple(points), style, 3)  # type: ignore[arg-type]
    root = drawn(chart(panels=(Panel(Axis("y"), (row,)),), spans=(Span(*sorted((points[0][0], 0.0)), "span"),)), lang)
    height = float(root.get("height", "0"))
    for element in root.iter(f"{SVG}text"):
        x, y = float(element.get("x", "0")), float(element.get("y", "0"))
        assert 0 <= x <= 720
        assert 0 <= y <= height
    for element in root.iter():
        for name, value in element.attrib.items():
            assert "nan" not in value, name
            assert "inf" not in value, name
