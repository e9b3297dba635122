"""Ticks at round numbers, placing words apart: properties, and the examples of the docstrings."""

import doctest

import pytest
from hypothesis import given
from hypothesis import strategies as st

import service.plot.lettering
import service.plot.scale
import service.plot.shapes
from service.plot.lettering import apart, flowed, width_px, wrapped
from service.plot.scale import Scale, extent, from_zero, outward, step, ticks

SIZES = st.floats(1e-6, 1e9)
ENDS = st.tuples(st.floats(-1e6, 1e6), SIZES).map(lambda pair: (pair[0], pair[0] + pair[1] + abs(pair[0]) * 1e-6))


@pytest.mark.parametrize("module", [service.plot.lettering, service.plot.scale, service.plot.shapes])
def test_examples_run(module: object) -> None:
    failed, tried = doctest.testmod(module)  # type: ignore[arg-type]
    assert failed == 0
    assert tried > 0


@given(ends=ENDS, wanted=st.integers(2, 12))
def test_ticks_lie_inside_and_are_neither_too_many_nor_too_few(ends: tuple[float, float], wanted: int) -> None:
    low, high = ends
    found = ticks(low, high, wanted)
    size = step(low, high, wanted)
    assert len(found.places) <= wanted + 1
    assert len(found.places) >= wanted // 3
    assert all(low - size * 1e-6 <= place <= high + size * 1e-6 for place in found.places)
    assert all(round(place, found.decimals) == place for place in found.places)


@given(ends=ENDS, wanted=st.integers(2, 12))
def test_outward_ends_hold_the_range(ends: tuple[float, float], wanted: int) -> None:
    low, high = outward(*ends, wanted)
    size = step(*ends, wanted)
    assert low <= ends[0] + size * 1e-6
    assert high >= ends[1] - size * 1e-6
    assert high - low <= (ends[1] - ends[0]) + 2 * size * (1 + 1e-6)


def test_a_scale_maps_its_ends() -> None:
    scale = Scale(2.0, 8.0, 400.0, 100.0)
    assert (scale.at(2.0), scale.at(8.0), scale.at(5.0)) == (400.0, 100.0, 250.0)


@pytest.mark.parametrize(
    ("values", "low", "high", "ends"),
    [
        ([3.0, 5.0], None, None, (3.0, 5.0)),
        ([3.0, 5.0], 0.0, None, (0.0, 5.0)),
        ([3.0, 3.0], None, None, (1.5, 4.5)),
        ([0.0], None, None, (-0.5, 0.5)),
        ([], None, None, (0.0, 1.0)),
        ([3.0], 9.0, None, (9.0, 13.5)),
    ],
)
def test_an_axis_is_never_empty(
    values: list[float], low: float | None, high: float | None, ends: tuple[float, float]
) -> None:
    assert extent(values, low, high) == ends


def test_zero_is_shown_where_it_is_near() -> None:
    assert from_zero(1.0, 3.0) == 0.0
    assert from_zero(95.0, 100.0) == 95.0
    assert from_zero(-2.0, 3.0) == -2.0


LABELS = st.lists(st.tuples(st.floats(0, 500), st.floats(1, 200)), max_size=8)


@given(labels=LABELS)
def test_labels_of_one_row_do_not_touch_and_stay_inside(labels: list[tuple[float, float]]) -> None:
    spots = apart(labels, 500.0, 6.0)
    for one, (_, width) in zip(spots, labels, strict=True):
        assert one.left_px >= -0.01
        assert one.left_px + width <= 500.01
    for a, (_, wide_a) in zip(spots, labels, strict=True):
        for b, (_, wide_b) in zip(spots, labels, strict=True):
            if a is not b and a.row == b.row:
                assert a.left_px + wide_a + 6 <= b.left_px + 0.02 or b.left_px + wide_b + 6 <= a.left_px + 0.02


@given(widths=st.lists(st.floats(1, 90), max_size=20))
def test_flowed_items_keep_their_order_and_their_room(widths: list[float]) -> None:
    spots = flowed(widths, 100.0, 8.0)
    assert [(one.row, one.left_px) for one in spots] == sorted((one.row, one.left_px) for one in spots)
    assert all(one.left_px + width <= 100.0 + 1e-9 for one, width in zip(spots, widths, strict=True))


@given(text=st.text(alphabet="ab ", max_size=80))
def test_a_broken_text_loses_no_word(text: str) -> None:
    lines = wrapped(text, 60.0)
    assert " ".join(lines).split() == text.split()
    assert all(width_px(line) <= 60.0 or " " not in line for line in lines)
