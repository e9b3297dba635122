"""Explained settings: printed parts add up exactly, lines stay between knots, envelopes say so."""

import math
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.settings import AddedUp, add_up, bound, interpolate, telescope
from service.errors import Contradiction, OutOfRange
from service.units import DECIMALS, served

relaxed = settings(deadline=None)
decimals = st.integers(0, 6)
values = st.floats(-1e9, 1e9)
parts = st.lists(st.tuples(st.sampled_from(["base", "moisture", "straw"]), values), max_size=12)
finite = st.floats(-1e6, 1e6)
knots = st.dictionaries(finite, finite, min_size=1, max_size=6).map(lambda pairs: sorted(pairs.items()))


def printed_sum(answer: AddedUp) -> Decimal:
    """What a reader gets who adds the printed parts on paper."""
    return sum((Decimal(f"{part.value:.{answer.decimals}f}") for part in answer.contributions), Decimal(0))


@relaxed
@given(parts, decimals)
def test_printed_parts_add_up_to_the_printed_total(given_parts: list[tuple[str, float]], kept: int) -> None:
    answer = add_up(given_parts, kept)
    assert printed_sum(answer) == Decimal(f"{answer.total:.{kept}f}")
    assert answer.total == round(answer.total, kept)


@relaxed
@given(parts, decimals)
def test_each_part_is_the_rounded_one_given(given_parts: list[tuple[str, float]], kept: int) -> None:
    answer = add_up(given_parts, kept)
    assert [part.code for part in answer.contributions] == [code for code, _ in given_parts]
    assert [part.value for part in answer.contributions] == [round(value, kept) for _, value in given_parts]


@relaxed
@given(parts, decimals)
def test_total_is_off_by_half_a_digit_per_part_at_most(given_parts: list[tuple[str, float]], kept: int) -> None:
    exact = sum((Decimal(value) for _, value in given_parts), Decimal(0))
    half = Decimal(1).scaleb(-kept) / 2
    assert abs(Decimal(add_up(given_parts, kept).total) - exact) <= half * len(given_parts) + Decimal("1e-6")


@relaxed
@given(parts, decimals, st.randoms())
def test_order_does_not_change_the_total(given_parts: list[tuple[str, float]], kept: int, random: object) -> None:
    shuffled = given_parts.copy()
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    assert add_up(shuffled, kept).total == add_up(given_parts, kept).total


@relaxed
@given(st.lists(st.tuples(st.just("step"), values), min_size=1, max_size=12), decimals)
def test_steps_lead_from_the_base_to_the_last_value(chain: list[tuple[str, float]], kept: int) -> None:
    answer = telescope(chain, kept)
    assert answer.total == round(chain[-1][1], kept)
    assert answer.contributions[0].value == round(chain[0][1], kept)
    assert printed_sum(answer) == Decimal(f"{answer.total:.{kept}f}")


def test_a_part_is_rounded_as_it_is_served_alone() -> None:
    """2.675 lies just below the half in binary; half-even decimals would print 2.68 in a unit of two decimals."""
    assert add_up([("base", 2.675)], DECIMALS["t/har"]).total == served(2.675, "t/har") == 2.67


@relaxed
@given(knots, finite)
def test_line_stays_between_its_values(line: list[tuple[float, float]], x: float) -> None:
    heights = [y for _, y in line]
    answer = interpolate(line, x)
    slack = 1e-9 * max(1.0, *(abs(y) for y in heights))
    assert min(heights) - slack <= answer <= max(heights) + slack


@relaxed
@given(knots)
def test_line_goes_through_its_knots(line: list[tuple[float, float]]) -> None:
    assert [interpolate(line, x) for x, _ in line] == [y for _, y in line]


@relaxed
@given(st.lists(st.floats(-100, 100), min_size=2, max_size=6, unique=True), st.floats(-120, 120), st.floats(0, 10))
def test_rising_knots_give_a_rising_line(places: list[float], x: float, more: float) -> None:
    line = [(place, float(index)) for index, place in enumerate(sorted(places))]
    assert interpolate(line, x + more) >= interpolate(line, x) - 1e-9


@pytest.mark.parametrize(
    ("line", "reason"),
    [([], "no_knot"), ([(1, 0), (1, 2)], "not_rising"), ([(2, 0), (1, 2)], "not_rising")],
)
def test_broken_lines_are_refused(line: list[tuple[float, float]], reason: str) -> None:
    with pytest.raises(OutOfRange) as refused:
        interpolate(line, 1)
    assert refused.value.facts["reason"] == reason


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_nothing_infinite_enters(bad: float) -> None:
    for call in (
        lambda: interpolate([(0, 1)], bad),
        lambda: interpolate([(bad, 1)], 0),
        lambda: interpolate([(0, bad)], 0),
        lambda: add_up([("base", bad)], 2),
        lambda: telescope([("base", bad)], 2),
        lambda: bound(bad, 0, 1),
        lambda: bound(0, bad, 1),
        lambda: bound(0, 0, bad),
    ):
        with pytest.raises(OutOfRange):
            call()


@pytest.mark.parametrize("kept", [-1, 7])
def test_decimals_have_a_range(kept: int) -> None:
    with pytest.raises(OutOfRange):
        add_up([("base", 1.0)], kept)
    with pytest.raises(OutOfRange):
        telescope([("base", 1.0)], kept)


def test_an_empty_chain_is_refused() -> None:
    with pytest.raises(OutOfRange):
        telescope([], 2)


def test_value_too_large_for_exact_parts_is_refused() -> None:
    assert add_up([("base", 1e9)], 6).total == 1e9
    with pytest.raises(OutOfRange):
        add_up([("base", 1.001e9)], 6)


@relaxed
@given(finite, finite, finite)
def test_bounded_value_lies_inside_and_says_which_end(value: float, one: float, other: float) -> None:
    low, high = sorted((one, other))
    answer = bound(value, low, high)
    assert low <= answer.value <= high
    assert answer.bound == ("low" if value < low else "high" if value > high else "none")
    assert answer.bound != "none" or answer.value == value


def test_envelope_upside_down_is_refused() -> None:
    with pytest.raises(Contradiction):
        bound(1, 2, 1)
