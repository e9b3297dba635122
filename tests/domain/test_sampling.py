"""Limits of counts: held against the distributions themselves, never against our own formula."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from service.domain.sampling import (
    counted_density,
    dispersion_index,
    frames_needed,
    garwood_interval,
    is_uneven,
    moment_k,
    negative_binomial_mean_interval,
)
from service.errors import OutOfRange

KERNELS = st.integers(0, 2000)


@pytest.mark.parametrize("mean", [0.05, 0.3, 1.0, 2.5, 3.6889, 7.2, 15.0, 40.0, 120.0])
def test_garwood_covers_at_least_95_percent(mean: float) -> None:
    counts = np.arange(0, int(mean + 12 * math.sqrt(mean) + 30))
    inside = [limits.low <= mean <= limits.high for limits in map(garwood_interval, counts.tolist())]
    assert stats.poisson.pmf(counts, mean)[inside].sum() >= 0.95


@pytest.mark.parametrize("k", [0.5, 2.0, 8.0])
@pytest.mark.parametrize("mean", [0.4, 3.0, 25.0])
@pytest.mark.parametrize("frames", [1, 4, 10])
def test_negative_binomial_covers_at_least_95_percent_at_a_known_k(mean: float, k: float, frames: int) -> None:
    totals = np.arange(0, 6000)
    weight = stats.nbinom.pmf(totals, frames * k, k / (k + mean))
    likely = totals[weight > 1e-9]
    inside = [
        limits.low <= mean <= limits.high
        for limits in (negative_binomial_mean_interval(float(t), frames, k) for t in likely)
    ]
    assert weight[likely][inside].sum() >= 0.95 - 1e-5


@given(total=st.integers(0, 500), frames=st.integers(1, 40))
def test_negative_binomial_becomes_poisson_as_k_grows(total: int, frames: int) -> None:
    even = negative_binomial_mean_interval(total, frames, 1e9)
    poisson = garwood_interval(total)
    assert even.low * frames == pytest.approx(poisson.low, rel=1e-4)
    assert even.high * frames == pytest.approx(poisson.high, rel=1e-4)


@given(total=st.integers(0, 500), frames=st.integers(1, 40), k=st.floats(0.2, 50))
def test_smaller_k_never_lowers_the_upper_limit(total: int, frames: int, k: float) -> None:
    narrow, wide = (negative_binomial_mean_interval(total, frames, x) for x in (2 * k, k))
    assert wide.high >= narrow.high * (1 - 1e-9)


@given(counts=st.lists(KERNELS, min_size=1, max_size=12), area=st.floats(0.02, 4))
def test_density_lies_within_its_limits_and_is_the_pooled_one(counts: list[int], area: float) -> None:
    found = counted_density(counts, [area] * len(counts)).density_m2
    assert 0 <= found.low <= found.value <= found.high < math.inf
    assert found.value == pytest.approx(sum(counts) / (area * len(counts)))


@given(counts=st.lists(KERNELS, min_size=2, max_size=10), seed=st.randoms())
def test_order_of_frames_is_of_no_account(counts: list[int], seed: object) -> None:
    areas = [0.1 + 0.05 * i for i in range(len(counts))]
    pairs = list(zip(counts, areas, strict=True))
    seed.shuffle(pairs)  # type: ignore[attr-defined]
    one, other = counted_density(counts, areas), counted_density(*map(list, zip(*pairs, strict=True)))
    assert one.density_m2.high == pytest.approx(other.density_m2.high)
    assert one.density_m2.low == pytest.approx(other.density_m2.low)


def test_even_frames_are_poisson_and_uneven_ones_are_not() -> None:
    assert counted_density([12, 9, 11, 10], [0.1] * 4).model == "poisson"
    uneven = counted_density([2, 30, 5, 11], [0.1] * 4)
    assert uneven.model == "negative_binomial"
    assert uneven.k == pytest.approx(moment_k([2, 30, 5, 11], [0.1] * 4))
    pooled = garwood_interval(48)
    assert uneven.density_m2.low < pooled.low / 0.4
    assert uneven.density_m2.high > pooled.high / 0.4


def test_same_density_in_frames_of_several_sizes_is_even() -> None:
    assert not is_uneven([10, 20, 50], [0.1, 0.2, 0.5])
    assert is_uneven([10, 20, 50], [0.1, 0.1, 0.1])


def test_uneven_means_beyond_the_tabled_ten_percent_point() -> None:
    # chi-square, 10 % in the upper tail, 1 degree of freedom: 2.706 in every table
    below, beyond = [10, 18], [10, 19]
    for counts, expected in ((below, 8**2 / 28), (beyond, 9**2 / 29)):
        assert dispersion_index(counts, [1, 1]) == pytest.approx(expected, rel=1e-6)
    assert dispersion_index(below, [1, 1]) < 2.706 < dispersion_index(beyond, [1, 1])
    assert [is_uneven(below, [1, 1]), is_uneven(beyond, [1, 1])] == [False, True]


@pytest.mark.parametrize(("frames", "least"), [(4, 0.82), (6, 0.90), (10, 0.91)])
@pytest.mark.parametrize("k", [1.0, 5.0])
def test_limits_of_uneven_frames_cover_what_the_docstring_says(frames: int, k: float, least: float) -> None:
    draw = np.random.default_rng(20261125)
    mean, runs = 25.0, 600
    hits = 0
    for counts in draw.negative_binomial(k, k / (k + mean), size=(runs, frames)):
        limits = counted_density(counts.tolist(), [1.0] * frames).density_m2
        hits += limits.low <= mean <= limits.high
    assert hits / runs >= least


def test_one_frame_tells_nothing_of_the_spread() -> None:
    single = counted_density([40], [0.1])
    assert (single.dispersion, single.k, single.model) == (None, None, "poisson")
    assert single.density_m2.high == pytest.approx(garwood_interval(40).high / 0.1)


def test_nothing_found_has_an_upper_limit() -> None:
    empty = counted_density([0, 0, 0, 0], [0.25] * 4)
    assert (empty.density_m2.value, empty.density_m2.low) == (0, 0)
    assert empty.density_m2.high == pytest.approx(3.689, abs=5e-4)  # over 1 m2


def test_everything_in_one_frame_stays_finite() -> None:
    for counts, areas in (([0, 0, 0, 0, 0, 900], [0.1] * 6), ([900, 0, 0], [0.001, 10, 10])):
        assert counted_density(counts, areas).density_m2.high < 1e8


@given(mean=st.floats(0.1, 500), k=st.floats(0.1, 100), error=st.floats(0.05, 1))
def test_more_precision_or_less_even_spread_takes_more_frames(mean: float, k: float, error: float) -> None:
    frames = frames_needed(mean, error, k)
    assert frames_needed(mean, error / 2, k) >= frames
    assert frames_needed(mean, error, k / 2) >= frames
    assert frames_needed(mean / 2, error, k) >= frames
    assert frames_needed(mean, error) <= frames


@pytest.mark.parametrize(
    "call",
    [
        lambda: garwood_interval(-1),
        lambda: garwood_interval(math.nan),
        lambda: negative_binomial_mean_interval(5, 0, 1),
        lambda: negative_binomial_mean_interval(5, 3, 0),
        lambda: negative_binomial_mean_interval(-5, 3, 1),
        lambda: dispersion_index([3], [0.1]),
        lambda: dispersion_index([0, 0], [0.1, 0.1]),
        lambda: moment_k([5, 5], [0.1, 0.1]),
        lambda: counted_density([], []),
        lambda: counted_density([3, 4], [0.1]),
        lambda: counted_density([3, -4], [0.1, 0.1]),
        lambda: counted_density([3, 4], [0.1, 0]),
        lambda: frames_needed(0, 0.2),
        lambda: frames_needed(5, 0),
        lambda: frames_needed(5, 0.2, 0),
        lambda: frames_needed(5, 0.2, math.nan),
    ],
)
def test_out_of_range_is_refused(call: object) -> None:
    with pytest.raises(OutOfRange):
        call()  # type: ignore[operator]
