"""Belt slip: definitions that agree with each other, limits, and what is refused."""

import math
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from service.domain.belt_slip import (
    combined_error_pct,
    pulley_ratio,
    slip_heat_kw,
    slip_limits,
    slip_pct,
    speed_without_slip_rpm,
)
from service.errors import OutOfRange

relaxed = settings(deadline=None, max_examples=40)
speeds = st.floats(1, 20_000)
diameters = st.floats(20, 3000)


@relaxed
@given(speeds, diameters, diameters)
def test_both_pulleys_have_one_rim_speed(driver_rpm: float, driver_mm: float, driven_mm: float) -> None:
    driven_rpm = speed_without_slip_rpm(driver_rpm, pulley_ratio(driver_mm, driven_mm))
    assert math.pi * driven_mm * driven_rpm == pytest.approx(math.pi * driver_mm * driver_rpm, rel=1e-12)


@relaxed
@given(speeds, st.floats(0, 100))
def test_slip_comes_back(expected_rpm: float, slip: float) -> None:
    assert slip_pct(expected_rpm, expected_rpm * (1 - slip / 100)) == pytest.approx(slip, abs=1e-9)


@relaxed
@given(speeds, st.floats(0, 1), st.floats(0, 1))
def test_a_slower_shaft_never_slips_less(expected_rpm: float, one: float, other: float) -> None:
    slow, fast = sorted((one, other))
    assert slip_pct(expected_rpm, expected_rpm * slow) >= slip_pct(expected_rpm, expected_rpm * fast)


@relaxed
@given(speeds, st.floats(0.01, 1.05), st.floats(0.01, 10))
def test_limits_hold_95_percent_of_readings(expected_rpm: float, share: float, error_pct: float) -> None:
    limits = slip_limits(expected_rpm, expected_rpm * share, error_pct)
    assert limits.low <= limits.value <= limits.high
    # the reading that would give the limit lies 1.96 of its own standard errors away
    reach = share * error_pct / 100
    for end in (limits.high - limits.value, limits.value - limits.low):
        assert stats.norm.cdf(end / 100, scale=reach) == pytest.approx(0.975, abs=1e-6)


@relaxed
@given(st.floats(0, 1000), st.floats(0, 100))
def test_heat_and_what_arrives_are_the_power(power_kw: float, slip: float) -> None:
    arrives = power_kw * (1 - slip / 100)
    assert slip_heat_kw(power_kw, slip) + arrives == pytest.approx(power_kw, rel=1e-12, abs=1e-12)


@relaxed
@given(st.lists(st.floats(0, 10), max_size=6))
def test_errors_add_by_their_squares(errors: list[float]) -> None:
    assert combined_error_pct(errors) ** 2 == pytest.approx(math.fsum(one**2 for one in errors), rel=1e-9, abs=1e-30)


@pytest.mark.parametrize("bad", [0, -1, math.nan, math.inf])
@pytest.mark.parametrize(
    "call",
    [
        lambda x: pulley_ratio(x, 100),
        lambda x: pulley_ratio(100, x),
        lambda x: speed_without_slip_rpm(x, 1),
        lambda x: speed_without_slip_rpm(1000, x),
        lambda x: slip_pct(x, 100),
        lambda x: slip_limits(x, 100, 1),
    ],
)
def test_what_must_be_positive_is(call: Callable[[float], float], bad: float) -> None:
    with pytest.raises(OutOfRange):
        call(bad)


@pytest.mark.parametrize(
    "call",
    [
        lambda: slip_pct(100, -1),
        lambda: slip_limits(100, 100, -0.1),
        lambda: slip_limits(100, 100, 50.1),
        lambda: slip_limits(100, math.nan, 1),
        lambda: combined_error_pct([1, -1]),
        lambda: combined_error_pct([math.inf]),
        lambda: slip_heat_kw(-1, 5),
        lambda: slip_heat_kw(1, 100.1),
        lambda: slip_heat_kw(1, -0.1),
    ],
)
def test_what_cannot_be_is_refused(call: Callable[[], object]) -> None:
    with pytest.raises(OutOfRange):
        call()
