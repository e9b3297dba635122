"""Limits of lines: how often they cover the truth, and what they may not hide."""

import math
from collections.abc import Callable, Iterator

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.line_limits import height_limits, misfit, place_of_height, slope_limits, student_t
from service.domain.linear_fit import Line, line_with_errors_in_both, weighted_line
from service.errors import OutOfRange

relaxed = settings(deadline=None)
DRAWS = 6000
INTERCEPT, SLOPE = -4.0, 11.0  # loss in g/s on a reading: 4 / 11 of a step is read without loss


def share(hits: list[bool]) -> float:
    return 100 * sum(hits) / len(hits)


def covered(lines: Iterator[Line], at: float) -> dict[str, float]:
    """How often the limits of slope, height and both kinds of place hold the truth, percent."""
    hits: dict[str, list[bool]] = {"slope": [], "height": [], "no loss": [], "target": []}
    height = INTERCEPT + SLOPE * at
    for line in lines:
        hits["slope"].append(slope_limits(line).low <= SLOPE <= slope_limits(line).high)
        found = height_limits(line, at)
        hits["height"].append(found.low <= height <= found.high)
        for name, wanted, truth in (("no loss", 0.0, -INTERCEPT / SLOPE), ("target", height, at)):
            place = place_of_height(line, wanted)
            inside = place.low is None or place.high is None or place.low <= truth <= place.high
            hits[name].append(inside)
    return {name: share(found) for name, found in hits.items()}


@pytest.mark.parametrize("pairs", [3, 4, 6, 10])
def test_limits_of_a_weighted_line_cover_95_in_100(pairs: int) -> None:
    """Normal losses with variances known up to a factor: the model that the limits are exact for."""
    random = np.random.default_rng(40 + pairs)
    readings = np.linspace(1.0, 8.0, pairs)
    truth = INTERCEPT + SLOPE * readings
    errors = 0.2 * truth
    losses = truth + 0.1 * errors * random.standard_normal((DRAWS, pairs))  # the factor is not told
    lines = (weighted_line(readings.tolist(), row, (errors**2).tolist()) for row in losses.tolist())
    for name, percent in covered(lines, 4.5).items():
        assert percent == pytest.approx(95, abs=1.5), name


@pytest.mark.parametrize("pairs", [5, 10])
def test_limits_of_a_line_with_errors_in_both_cover_95_in_100(pairs: int) -> None:
    random = np.random.default_rng(60 + pairs)
    true_readings = np.linspace(1.0, 8.0, pairs)
    truth = INTERCEPT + SLOPE * true_readings
    errors = 0.1 * truth + 1.0
    readings = true_readings + 0.3 * random.standard_normal((DRAWS, pairs))
    losses = truth + errors * random.standard_normal((DRAWS, pairs))
    lines = (
        line_with_errors_in_both(x, y, [0.09] * pairs, (errors**2).tolist())
        for x, y in zip(readings.tolist(), losses.tolist(), strict=True)
    )
    for name, percent in covered(lines, 4.5).items():
        assert percent == pytest.approx(95, abs=1.5), name


def test_taking_scattered_readings_as_exact_covers_less() -> None:
    """Why there are two ways to draw the line: the plain one is too flat here, and does not know it."""
    random = np.random.default_rng(7)
    true_readings = np.linspace(1.0, 4.0, 12)
    readings = true_readings + 0.8 * random.standard_normal((3000, 12))
    losses = INTERCEPT + SLOPE * true_readings + 0.5 * random.standard_normal((3000, 12))
    pairs = list(zip(readings.tolist(), losses.tolist(), strict=True))
    plain = covered((weighted_line(x, y, [0.25] * 12) for x, y in pairs), 2.5)["slope"]
    both = covered((line_with_errors_in_both(x, y, [0.64] * 12, [0.25] * 12) for x, y in pairs), 2.5)["slope"]
    assert plain < 70
    assert both > 90


def test_a_misfit_is_as_rare_as_it_says() -> None:
    """The chance of a deleted residual is uniform, with one degree of freedom as with many."""
    random = np.random.default_rng(11)
    for pairs in (4, 8):
        readings = np.linspace(1.0, 8.0, pairs)
        losses = INTERCEPT + SLOPE * readings + random.standard_normal((DRAWS, pairs))
        chances = []
        for row in losses.tolist():
            line = weighted_line(readings[1:].tolist(), row[1:], [1.0] * (pairs - 1))
            chances.append(misfit(line, float(readings[0]), row[0], 1.0).p)
        for level in (0.05, 0.5, 0.95):
            assert np.mean(np.array(chances) < level) == pytest.approx(level, abs=0.02)


LINES = st.builds(
    lambda heights, variances: weighted_line([1.0, 2.0, 3.0, 5.0, 8.0], heights, variances),
    st.lists(st.floats(0, 100), min_size=5, max_size=5),
    st.lists(st.floats(0.1, 10), min_size=5, max_size=5),
)


@relaxed
@given(LINES, st.floats(-50, 150), st.floats(0, 10))
def test_ends_of_a_place_are_where_the_limits_meet_the_height(line: Line, y: float, error: float) -> None:
    if abs(line.slope) < 1e-3:
        return
    place = place_of_height(line, y, error)
    t = student_t(line.degrees_of_freedom)

    def gap(x: float) -> float:
        return (line.at(x) - y) ** 2 - t**2 * (line.variance_at(x) + error**2)

    if place.low is None or place.high is None:
        assert slope_limits(line).low <= 1e-9 * abs(line.slope)
        assert slope_limits(line).high >= -1e-9 * abs(line.slope)
        return
    assert place.low <= place.value + 1e-9 * abs(place.value)
    assert place.high >= place.value - 1e-9 * abs(place.value)
    for end in (place.low, place.high):
        size = (abs(line.slope * end) + abs(line.intercept) + abs(y)) ** 2 + t**2 * line.variance_at(end)
        assert abs(gap(end)) <= 1e-6 * (1 + size)
    assert gap(place.value) <= 1e-6 * (1 + y**2)


def test_a_slope_that_may_be_nothing_bounds_no_place() -> None:
    place = place_of_height(Line(0.0, 1.0, 1.0, 1.0, 0.0, 1.0, 2, 0.5), 10.0)
    assert place.low is None
    assert place.high is None
    assert place.value == 10


def test_a_perfect_line_has_no_width_and_tells_what_is_off_it() -> None:
    line = Line(1.0, 2.0, 0.0, 0.0, 0.0, 0.0, 3, 1.0)
    assert place_of_height(line, 5.0).low == place_of_height(line, 5.0).high == 2
    assert misfit(line, 2.0, 5.0, 1.0).p == 1
    assert misfit(line, 2.0, 5.1, 1.0).p == 0


LEVEL = Line(1.0, 0.0, 0.1, 0.1, 0.0, 1.0, 3, 0.0)
SOUND = Line(1.0, 2.0, 0.1, 0.1, 0.0, 1.0, 3, 0.9)


@pytest.mark.parametrize(
    "call",
    [
        lambda: student_t(0),
        lambda: place_of_height(LEVEL, 5.0),
        lambda: place_of_height(SOUND, math.nan),
        lambda: place_of_height(SOUND, 1.0, -1.0),
        lambda: height_limits(SOUND, math.inf),
        lambda: misfit(SOUND, 1.0, math.nan, 1.0),
        lambda: misfit(SOUND, 1.0, 1.0, -1.0),
        lambda: slope_limits(Line(1.0, 2.0, 0.1, 0.1, 0.0, 1.0, 0, 0.9)),
    ],
)
def test_what_cannot_be_told_is_refused(call: Callable[[], object]) -> None:
    with pytest.raises(OutOfRange):
        call()
