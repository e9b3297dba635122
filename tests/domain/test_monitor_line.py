"""The line of a loss monitor: coverage through the whole chain, one wild pair, a display that sticks."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.line_limits import place_of_height, slope_limits
from service.domain.monitor_line import ErrorModel, MonitorPair, least_fitting_pair, monitor_line, upper_bend
from service.errors import OutOfRange

relaxed = settings(deadline=None, max_examples=60)
PLAIN = ErrorModel()
DRAWS = 5000
GAIN, IDLE = 0.1, 0.3  # readings per g/s, and with no loss


def runs(pairs: int, kind: str, seed: int) -> list[list[MonitorPair]]:
    """Calibrations of a made-up monitor: losses 5 to 80 g/s, pans that err by 20 % or catch whole kernels."""
    random = np.random.default_rng(seed)
    truth = np.linspace(5.0, 80.0, pairs)
    readings = IDLE + GAIN * truth
    if kind == "counted":
        losses = random.poisson(truth / 1.5, (DRAWS, pairs)) * 1.5
        return [[MonitorPair(s, q, 0.0, 1.5) for s, q in zip(readings, row, strict=True)] for row in losses.tolist()]
    losses = np.maximum(0, truth * (1 + 0.2 * random.standard_normal((DRAWS, pairs))))
    noise = (0.8 if kind == "both" else 0.0) * random.standard_normal((DRAWS, pairs))
    seen = (readings + noise).tolist()
    return [
        [MonitorPair(s, q, 0.2) for s, q in zip(ss, row, strict=True)]
        for ss, row in zip(seen, losses.tolist(), strict=True)
    ]


@pytest.mark.parametrize(("pairs", "kind"), [(3, "told"), (6, "told"), (6, "counted"), (5, "both")])
def test_limits_cover_95_in_100_with_weights_drawn_from_the_line_itself(pairs: int, kind: str) -> None:
    errors = ErrorModel(reading_error=0.8) if kind == "both" else PLAIN
    slope, hold = [], []
    for run in runs(pairs, kind, seed=pairs):
        line = monitor_line(run, errors).line
        slope.append(slope_limits(line).low <= 1 / GAIN <= slope_limits(line).high)
        place = place_of_height(line, 40.0)
        inside = place.low is None or place.high is None or place.low <= IDLE + GAIN * 40 <= place.high
        hold.append(inside)
    assert 100 * sum(slope) / DRAWS == pytest.approx(95, abs=1.5)
    assert 100 * sum(hold) / DRAWS == pytest.approx(95, abs=1.5)


@pytest.mark.parametrize("pairs", [4, 6, 9])
def test_a_pair_that_belongs_is_called_stray_in_one_of_twenty_at_most(pairs: int) -> None:
    found = [least_fitting_pair(run, PLAIN).p < 0.05 for run in runs(pairs, "told", seed=20 + pairs)[:600]]
    assert 0.02 < sum(found) / 600 < 0.08


@pytest.mark.parametrize("pairs", [5, 8])
def test_a_bend_is_seen_where_there_is_none_in_one_of_twenty_at_most(pairs: int) -> None:
    found = [upper_bend(run, PLAIN) for run in runs(pairs, "told", seed=30 + pairs)[:1000]]
    assert 0.01 < sum(bend is not None and bend.p < 0.05 for bend in found) / 1000 < 0.075


READINGS = (1.0, 2.1, 3.0, 4.2, 5.1, 6.0)
LOSSES = (8.0, 17.5, 26.0, 39.0, 47.0, 58.0)


def pairs_of(readings: tuple[float, ...], losses: tuple[float, ...], relative: float = 0.15) -> list[MonitorPair]:
    return [MonitorPair(s, q, relative) for s, q in zip(readings, losses, strict=True)]


SOUND = pairs_of(READINGS, LOSSES)


@relaxed
@given(st.integers(0, 5), st.floats(150, 1e6))
def test_one_wild_pair_is_found_and_the_rest_tell_the_slope(place: int, wild: float) -> None:
    pairs = list(SOUND)
    pairs[place] = MonitorPair(pairs[place].reading, wild, 0.15)
    stray = least_fitting_pair(pairs, PLAIN)
    assert (stray.index, stray.p < 0.05) == (place, True)
    rest = [*pairs[:place], *pairs[place + 1 :]]
    whole, without = monitor_line(SOUND, PLAIN).line, monitor_line(rest, PLAIN).line
    assert slope_limits(whole).low <= without.slope <= slope_limits(whole).high


@relaxed
@given(st.permutations(range(6)), st.floats(0.01, 1000), st.floats(0.01, 1000))
def test_order_units_of_loss_and_steps_of_the_display_change_nothing_but_the_unit(
    order: list[int], loss_unit: float, step: float
) -> None:
    other = [MonitorPair(SOUND[i].reading * step, SOUND[i].loss * loss_unit, 0.15) for i in order]
    one, same = monitor_line(SOUND, PLAIN).line, monitor_line(other, PLAIN).line
    assert same.slope == pytest.approx(one.slope * loss_unit / step, rel=1e-8)
    assert same.slope_error == pytest.approx(one.slope_error * loss_unit / step, rel=1e-6)
    assert same.scale == pytest.approx(one.scale, rel=1e-6)
    assert least_fitting_pair(other, PLAIN).p == pytest.approx(least_fitting_pair(SOUND, PLAIN).p, rel=1e-5)


def test_a_pan_that_caught_too_little_is_not_trusted_more_for_it() -> None:
    """Weights by the measured loss would let the low pan pull the line down; weights by the line do not."""
    low, high = list(SOUND), list(SOUND)
    low[3], high[3] = MonitorPair(4.2, 29.0, 0.15), MonitorPair(4.2, 49.0, 0.15)
    middle = monitor_line(SOUND, PLAIN).line.at(4.2)
    down = middle - monitor_line(low, PLAIN).line.at(4.2)
    up = monitor_line(high, PLAIN).line.at(4.2) - middle
    assert down == pytest.approx(up, rel=0.35)


def test_readings_are_taken_as_exact_until_they_scatter() -> None:
    steady = monitor_line(SOUND, ErrorModel(reading_error=0.05))
    shaky = monitor_line(SOUND, ErrorModel(reading_error=1.0))
    assert steady.method == "loss_on_reading"
    assert steady.line == monitor_line(SOUND, PLAIN).line
    assert shaky.method == "errors_in_both"
    assert shaky.reading_share > 0.1 > steady.reading_share
    assert shaky.variance_of(SOUND[0]) > steady.variance_of(SOUND[0])


@pytest.mark.parametrize("stuck", [1, 2, 3])
def test_a_display_that_sticks_shows_its_bend(stuck: int) -> None:
    losses = (8.0, 19.5, 28.0, 41.0, 49.0, 60.0)
    tail = (120.0, 150.0, 190.0)[:stuck]
    pairs = pairs_of((*READINGS, *(6.1 + 0.05 * i for i in range(stuck))), (*losses, *tail), 0.1)
    bend = upper_bend(pairs, PLAIN)
    assert bend is not None
    assert bend.reading == 6.0
    assert bend.p < 0.05


def test_losses_that_rise_slower_than_the_display_are_no_bend() -> None:
    assert upper_bend(pairs_of(READINGS, (10.0, 20.0, 29.0, 32.0, 33.0, 34.0)), PLAIN) is None


def test_pairs_at_two_readings_show_no_bend() -> None:
    assert upper_bend(pairs_of((1.0, 1.0, 5.0, 5.0, 5.0), (9.0, 11.0, 50.0, 48.0, 53.0)), PLAIN) is None


def test_a_pair_that_alone_tells_the_slope_cannot_be_held_against_the_rest() -> None:
    alone = pairs_of((1.0, 1.0, 1.0, 5.0), (9.0, 10.0, 11.0, 400.0))
    assert least_fitting_pair(alone, PLAIN).index != 3
    nothing = pairs_of((1.0, 2.0, 3.0, 5.0), (0.0, 0.0, 0.0, 40.0))
    assert least_fitting_pair(nothing, PLAIN).index != 3


def test_nothing_found_in_counted_pans_still_has_an_error() -> None:
    pairs = [MonitorPair(s, q, 0.0, 2.0) for s, q in ((0.5, 0.0), (2.0, 16.0), (4.0, 38.0))]
    drawn = monitor_line(pairs, PLAIN)
    assert min(drawn.variances) >= 2.0 * 2.0 * 0.99
    assert math.isfinite(drawn.line.slope_error)


def test_too_few_pairs_or_no_loss_at_all_are_refused() -> None:
    with pytest.raises(OutOfRange):
        monitor_line(SOUND[:2], PLAIN)
    with pytest.raises(OutOfRange):
        least_fitting_pair(SOUND[:3], PLAIN)
    with pytest.raises(OutOfRange):
        upper_bend(SOUND[:4], PLAIN)
    with pytest.raises(OutOfRange):
        monitor_line(pairs_of(READINGS, (0.0,) * 6), PLAIN)
