"""Lines: what must not change them, what must, and what is refused. Certified values stand in the check values."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.linear_fit import Line, line_with_errors_in_both, weighted_line, with_common_error
from service.errors import OutOfRange

relaxed = settings(deadline=None)
NUMBERS = st.floats(-1e4, 1e4)
VARIANCES = st.floats(0.01, 100)
TRIPLES = st.lists(st.tuples(st.integers(-1000, 1000), NUMBERS, VARIANCES), min_size=3, max_size=12).filter(
    lambda triples: len({x for x, _, _ in triples}) > 1
)


def fit(triples: list[tuple[float, float, float]]) -> Line:
    x, y, variances = zip(*triples, strict=True)
    return weighted_line(x, y, variances)


def near(one: float, other: float, size: float) -> bool:
    return math.isclose(one, other, rel_tol=1e-7, abs_tol=1e-7 * (1 + size))


@relaxed
@given(TRIPLES, st.randoms(use_true_random=False))
def test_the_order_of_pairs_does_not_count(triples: list[tuple[float, float, float]], random: object) -> None:
    shuffled = list(triples)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    one, other = fit(triples), fit(shuffled)
    assert math.isclose(one.slope, other.slope, rel_tol=1e-9, abs_tol=1e-9)
    assert math.isclose(one.scale, other.scale, rel_tol=1e-9, abs_tol=1e-9)


@relaxed
@given(TRIPLES, st.floats(0.1, 10), st.floats(0.1, 10), st.floats(-50, 50))
def test_units_of_x_and_y_come_out_in_the_slope_alone(
    triples: list[tuple[float, float, float]], across: float, up: float, shift: float
) -> None:
    one = fit(triples)
    other = fit([(across * x + shift, up * y, up**2 * v) for x, y, v in triples])
    size = max(abs(y) for _, y, _ in triples)
    assert near(other.slope, one.slope * up / across, size * up / across)
    assert near(other.at(across * 3 + shift), up * one.at(3), size * up * 1000)
    assert near(other.scale, one.scale, size * 10)
    assert near(other.slope_error, one.slope_error * up / across, size * up / across)


@relaxed
@given(TRIPLES, st.floats(0.01, 100))
def test_variances_count_by_their_ratios_alone(triples: list[tuple[float, float, float]], factor: float) -> None:
    one, other = fit(triples), fit([(x, y, factor * v) for x, y, v in triples])
    assert near(other.slope_error, one.slope_error, abs(one.slope))
    assert near(other.scale * math.sqrt(factor), one.scale, max(abs(y) for _, y, _ in triples) * 10)


@relaxed
@given(TRIPLES)
def test_the_line_passes_through_the_weighted_mean_and_nothing_else_is_nearer(
    triples: list[tuple[float, float, float]],
) -> None:
    line = fit(triples)
    total = sum(1 / v for _, _, v in triples)
    x_mean = sum(x / v for x, _, v in triples) / total
    y_mean = sum(y / v for _, y, v in triples) / total
    size = max(abs(y) for _, y, _ in triples)
    assert near(line.at(x_mean), y_mean, size * 100)

    def squares(a: float, b: float) -> float:
        return math.fsum((y - a - b * x) ** 2 / v for x, y, v in triples)

    best = squares(line.intercept, line.slope)
    for da, db in ((0.1, 0), (-0.1, 0), (0, 0.1), (0, -0.1), (0.1, -0.1)):
        assert squares(line.intercept + da, line.slope + db) >= best * (1 - 1e-9) - 1e-6
    assert 0 <= line.r_squared <= 1


PEARSON = ([0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4], [5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5])
WEIGHTS = ([1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1], [1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500])
VX, VY = ([1 / w for w in weights] for weights in WEIGHTS)


def test_the_line_with_errors_in_both_is_one_line_whichever_way_it_is_looked_at() -> None:
    upright = line_with_errors_in_both(*PEARSON, VX, VY)
    lying = line_with_errors_in_both(PEARSON[1], PEARSON[0], VY, VX)
    assert 1 / lying.slope == pytest.approx(upright.slope, rel=1e-12)
    assert -lying.intercept / lying.slope == pytest.approx(upright.intercept, rel=1e-12)
    assert lying.scale == pytest.approx(upright.scale, rel=1e-12)


@relaxed
@given(TRIPLES)
def test_exact_places_make_it_the_weighted_line(triples: list[tuple[float, float, float]]) -> None:
    x, y, variances = zip(*triples, strict=True)
    one, other = weighted_line(x, y, variances), line_with_errors_in_both(x, y, [0.0] * len(x), variances)
    size = max(abs(height) for height in y)
    assert near(one.slope, other.slope, size)
    assert near(one.slope_error, other.slope_error, size)
    assert near(one.intercept_error, other.intercept_error, size * 100)
    assert near(one.covariance, other.covariance, size**2 * 100)


def test_errors_of_places_make_the_line_steeper() -> None:
    x, y = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0], [2.0, 5.0, 5.0, 9.0, 9.0, 13.0]
    flat = weighted_line(x, y, [1.0] * 6).slope
    assert flat < line_with_errors_in_both(x, y, [0.2] * 6, [1.0] * 6).slope
    assert (
        line_with_errors_in_both(x, y, [0.2] * 6, [1.0] * 6).slope
        < line_with_errors_in_both(x, y, [1e6] * 6, [1.0] * 6).slope
    )


def test_a_common_factor_leaves_the_place_of_no_height_as_sure_as_it_was() -> None:
    line = weighted_line([1, 2, 3, 5], [2, 3.5, 6, 9.4], [0.1, 0.2, 0.2, 0.5])
    wider = with_common_error(line, 0.2)
    idle = -line.intercept / line.slope
    assert wider.variance_at(idle) == pytest.approx(line.variance_at(idle), rel=1e-12)
    assert wider.variance_at(5) == pytest.approx(line.variance_at(5) + (0.2 * line.at(5)) ** 2, rel=1e-12)
    assert with_common_error(line, 0) == line


@pytest.mark.parametrize(
    ("x", "y", "variances"),
    [
        ([1, 2], [1, 2], [1, 1]),
        ([1, 1, 1], [1, 2, 3], [1, 1, 1]),
        ([1, 2, 3], [1, 2], [1, 1, 1]),
        ([1, 2, 3], [1, 2, 3], [1, 1]),
        ([1, 2, 3], [1, 2, 3], [1, 0, 1]),
        ([1, 2, 3], [1, 2, math.nan], [1, 1, 1]),
        ([1, 2, math.inf], [1, 2, 3], [1, 1, 1]),
        ([0, 5e-324, 5e-324], [1, 2, 3], [1, 1, 1]),
    ],
)
def test_what_tells_no_line_is_refused(x: list[float], y: list[float], variances: list[float]) -> None:
    with pytest.raises(OutOfRange):
        weighted_line(x, y, variances)
    with pytest.raises(OutOfRange):
        line_with_errors_in_both(x, y, [1.0] * len(x), variances)


@pytest.mark.parametrize("x_variances", [[1, 1], [1, -1, 1], [1, math.nan, 1]])
def test_errors_of_places_are_checked(x_variances: list[float]) -> None:
    with pytest.raises(OutOfRange):
        line_with_errors_in_both([1, 2, 3], [1, 2, 4], x_variances, [1, 1, 1])


def test_a_negative_common_error_is_refused() -> None:
    with pytest.raises(OutOfRange):
        with_common_error(weighted_line([1, 2, 3], [1, 2, 4], [1, 1, 1]), -0.1)


def test_level_heights_have_no_slope_and_explain_nothing() -> None:
    line = weighted_line([1, 2, 3], [4, 4, 4], [1, 1, 1])
    assert (line.slope, line.scale, line.r_squared) == (0, 0, 0)
