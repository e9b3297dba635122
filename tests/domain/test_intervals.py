"""Arithmetic with limits."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.intervals import combined, difference, propagated, scaled
from service.domain.sampling import garwood_interval
from service.domain.types import Interval
from service.errors import OutOfRange


@st.composite
def estimates(draw: st.DrawFn, least: float = -100) -> Interval:
    low, first, second = sorted(draw(st.tuples(*[st.floats(least, 100)] * 3)))
    return Interval(first, low, second)


# statsmodels 0.15.0, stats.rates.confint_poisson_2indep, method mover, compare diff, method_mover exact-c
@pytest.mark.parametrize(
    ("first", "second", "limits"),
    [
        ((41, 4.0), (7, 4.0), (5.061804028472416, 12.302112787997693)),
        ((133, 1.0), (13, 1.0), (96.47190720807012, 145.35919413669626)),
        ((12, 0.6), (20, 0.4), (-58.88608224610468, -5.469928707264344)),
    ],
)
def test_difference_of_two_counts_is_that_of_statsmodels(
    first: tuple[int, float], second: tuple[int, float], limits: tuple[float, float]
) -> None:
    found = difference(*(scaled(garwood_interval(count), 1 / area) for count, area in (first, second)))
    assert (found.low, found.high) == pytest.approx(limits)


def test_soybean_example_with_its_own_error() -> None:
    # 41 and 7 beans on 4 square feet at 4 beans a bushel; the normal approximation gives 1.3 to 3.0 bu/ac
    bushels = scaled(difference(scaled(garwood_interval(41), 0.25), scaled(garwood_interval(7), 0.25)), 0.25)
    assert bushels.value == 2.125
    assert (bushels.low, bushels.high) == pytest.approx((1.3, 3.0), abs=0.1)


@given(x=estimates(), y=estimates())
def test_difference_the_other_way_round_is_the_mirror(x: Interval, y: Interval) -> None:
    there, back = difference(x, y), difference(y, x)
    assert (there.low, there.high) == pytest.approx((-back.high, -back.low))


@given(x=estimates(), y=estimates(), c=st.floats(-5, 5))
def test_sum_is_wider_than_each_part_and_narrower_than_both_together(x: Interval, y: Interval, c: float) -> None:
    total = combined([(1, x), (c, y)])
    spans = [x.high - x.low, abs(c) * (y.high - y.low)]
    assert max(spans) - 1e-9 <= total.high - total.low <= sum(spans) + 1e-9


def test_an_exact_part_only_shifts() -> None:
    assert combined([(1, Interval(10, 8, 13)), (-1, Interval(4, 4, 4))]) == Interval(6, 4, 9)


def test_nothing_to_add_is_zero() -> None:
    assert combined([]) == Interval(0, 0, 0)


@given(x=estimates(least=0))
def test_an_exact_factor_only_scales(x: Interval) -> None:
    product = propagated(x, Interval(2.5, 2.5, 2.5))
    assert (product.low, product.value, product.high) == pytest.approx((2.5 * x.low, 2.5 * x.value, 2.5 * x.high))


@given(x=estimates(), low=st.floats(0, 1), high=st.floats(1, 3))
def test_an_uncertain_factor_never_narrows(x: Interval, low: float, high: float) -> None:
    sure, unsure = propagated(x, Interval(1, 1, 1)), propagated(x, Interval(1, low, high))
    assert unsure.low <= sure.low + 1e-9 or x.low >= 0
    assert unsure.high >= sure.high - 1e-9
    assert unsure.low <= unsure.value <= unsure.high


def test_a_larger_factor_drives_a_negative_estimate_down() -> None:
    product = propagated(Interval(-10, -10, -10), Interval(1, 1, 2))
    assert product == Interval(-10, -20, -10)


def test_zero_found_still_feels_the_factor() -> None:
    exact, unsure = (propagated(Interval(0, 0, 3.69), Interval(1, 1 - d, 1 + d)) for d in (0.0, 0.3))
    assert unsure.high == pytest.approx(exact.high * math.sqrt(1 + 0.3**2))


def test_product_agrees_with_the_exact_variance_of_normal_products() -> None:
    # Goodman (1960): var(xy) = x^2 var y + y^2 var x + var x var y; drawn, not computed
    draw = np.random.default_rng(7)
    x, y = draw.normal(40, 6, 400_000), draw.normal(2, 0.3, 400_000)
    z = 1.959964
    product = propagated(Interval(40, 40 - 6 * z, 40 + 6 * z), Interval(2, 2 - 0.3 * z, 2 + 0.3 * z))
    # limits multiply two half-widths in the last term, so compare where it is small
    assert (product.high - product.low) / (2 * z) == pytest.approx(float(np.std(x * y)), rel=0.03)


@pytest.mark.parametrize("factor", [Interval(1, -0.1, 2), Interval(1, 1.5, 2), Interval(3, 1, 2)])
def test_a_factor_that_cannot_be_is_refused(factor: Interval) -> None:
    with pytest.raises(OutOfRange):
        propagated(Interval(1, 0, 2), factor)


@pytest.mark.parametrize("factor", [-1.0, math.nan, math.inf])
def test_scaling_refuses_what_is_no_factor(factor: float) -> None:
    with pytest.raises(OutOfRange):
        scaled(Interval(1, 0, 2), factor)
