"""Figures of a loss monitor: rates, scatter, what can be told."""

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.linear_fit import Line
from service.domain.loss_monitor import (
    detection_limit,
    kernel_rate_per_s,
    loss_at_rate_kg_ha,
    loss_rate_g_s,
    pairs_missing,
    scatter_limits,
    sensitivity_change_pct,
)
from service.domain.types import Interval
from service.errors import OutOfRange
from service.units import convert

relaxed = settings(deadline=None)
LOSSES, WIDTHS, SPEEDS = st.floats(0, 10000), st.floats(0.5, 20), st.floats(0.3, 15)


@relaxed
@given(LOSSES, WIDTHS, SPEEDS)
def test_rate_and_loss_lead_back_to_each_other(loss: float, width: float, speed: float) -> None:
    rate = loss_rate_g_s(loss, width, speed)
    assert loss_at_rate_kg_ha(rate, width, speed) == pytest.approx(loss, rel=1e-12)


@relaxed
@given(LOSSES, WIDTHS, SPEEDS)
def test_a_rate_is_area_a_second_times_loss(loss: float, width: float, speed: float) -> None:
    area_m2_s = width * convert(speed, "km/h", "m/s")
    assert loss_rate_g_s(loss, width, speed) == pytest.approx(convert(loss, "kg/har", "g/m2") * area_m2_s, rel=1e-12)


@relaxed
@given(LOSSES, WIDTHS, SPEEDS, st.floats(1, 4))
def test_driving_faster_reads_worse_at_the_same_loss(loss: float, width: float, speed: float, faster: float) -> None:
    assert loss_rate_g_s(loss, width, speed * faster) >= loss_rate_g_s(loss, width, speed)


@relaxed
@given(st.floats(0, 1000), st.floats(0.1, 2500))
def test_kernels_weigh_what_was_lost(rate: float, mass: float) -> None:
    assert kernel_rate_per_s(rate, mass) * mass / 1000 == pytest.approx(rate, rel=1e-12)


def test_limits_of_a_scatter_cover_95_in_100() -> None:
    random = np.random.default_rng(3)
    for count in (3, 6, 12):
        draws = (5.0 + 0.4 * random.standard_normal((5000, count))).tolist()
        hits = [found.low <= 0.4 <= found.high for found in map(scatter_limits, draws)]
        assert 100 * sum(hits) / 5000 == pytest.approx(95, abs=1.5)


def test_limits_of_a_detection_limit_hold_95_in_100_or_more() -> None:
    """Scatter from six readings, slope known to a tenth: 3 x 0.4 x 10 must lie inside."""
    random = np.random.default_rng(4)
    hits = []
    for row in (0.4 * random.standard_normal((5000, 7))).tolist():
        slope = 10 + random.standard_normal()
        found = detection_limit(scatter_limits(row[:6]), Interval(slope, slope - 1.96, slope + 1.96), 3)
        hits.append(found.low <= 12 <= found.high)
    assert 93.5 <= 100 * sum(hits) / 5000 <= 97.5


def test_a_slope_that_may_be_nothing_gives_a_detection_limit_that_begins_at_nothing() -> None:
    found = detection_limit(Interval(0.2, 0.1, 0.5), Interval(10, -5, 25), 3)
    assert found.value == pytest.approx(6)
    assert found.low == 0
    assert found.high > 15


@relaxed
@given(st.floats(0.1, 100), st.floats(0, 100))
def test_a_display_changed_by_the_share_shows_what_is_wanted(shown: float, wanted: float) -> None:
    change = sensitivity_change_pct(shown, wanted)
    assert shown * (1 + change / 100) == pytest.approx(wanted, rel=1e-9, abs=1e-9)


@relaxed
@given(st.floats(0.1, 5), st.integers(1, 20))
def test_more_scatter_never_takes_fewer_pairs(error: float, degrees: int) -> None:
    def missing(size: float) -> float:
        found = pairs_missing(Line(0.0, 10.0, 1.0, size, 0.0, 1.0, degrees, 0.9), 0.2, 400)
        return math.inf if found is None else found

    assert missing(error) <= missing(error * 1.1)


NO_SLOPE = Line(0.0, 0.0, 1.0, 1.0, 0.0, 1.0, 3, 0.0)
FINE = Line(0.0, 10.0, 1.0, 1.0, 0.0, 1.0, 3, 0.9)


@pytest.mark.parametrize(
    "call",
    [
        lambda: loss_rate_g_s(-1, 9, 5),
        lambda: loss_rate_g_s(10, 0, 5),
        lambda: loss_rate_g_s(10, 9, 0),
        lambda: loss_at_rate_kg_ha(-1, 9, 5),
        lambda: loss_at_rate_kg_ha(1, 0, 5),
        lambda: loss_at_rate_kg_ha(1, 9, 0),
        lambda: kernel_rate_per_s(-1, 40),
        lambda: kernel_rate_per_s(1, 0),
        lambda: scatter_limits([1.0]),
        lambda: scatter_limits([1.0, math.nan]),
        lambda: detection_limit(Interval(0.2, -0.1, 0.5), Interval(10, 5, 25), 3),
        lambda: detection_limit(Interval(0.2, 0.1, 0.5), Interval(0, -5, 25), 3),
        lambda: detection_limit(Interval(0.2, 0.1, 0.5), Interval(10, 5, 25), 0),
        lambda: sensitivity_change_pct(0, 5),
        lambda: sensitivity_change_pct(5, -1),
        lambda: pairs_missing(NO_SLOPE, 0.2, 40),
        lambda: pairs_missing(FINE, 0, 40),
        lambda: pairs_missing(FINE, 0.2, 4),
    ],
)
def test_what_cannot_be_is_refused(call: Callable[[], object]) -> None:
    with pytest.raises(OutOfRange):
        call()
