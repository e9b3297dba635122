"""Grain following the air."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from service.domain.drydown import (
    RATE_MAX_PER_H,
    fitted_rate,
    hours_to_moisture_h,
    moisture_after_pct,
    moisture_path,
    rate_in_steady_air_per_h,
)
from service.errors import Contradiction, OutOfRange

MOISTURE = st.floats(3, 45)
RATE = st.floats(1e-4, RATE_MAX_PER_H)
AIR = st.lists(st.floats(3, 35), min_size=1, max_size=60)


@given(start=MOISTURE, air=MOISTURE, rate=RATE, hours=st.floats(0, 500))
def test_moisture_stays_between_start_and_equilibrium(start: float, air: float, rate: float, hours: float) -> None:
    assert min(start, air) <= moisture_after_pct(start, air, rate, hours) <= max(start, air)


@given(start=MOISTURE, air=AIR, rate=RATE, factor=st.floats(0, 1))
def test_a_path_stays_between_start_and_all_equilibria(
    start: float, air: list[float], rate: float, factor: float
) -> None:
    path = moisture_path(start, air, [1.0] * len(air), rate, factor).moistures_pct
    assert len(path) == len(air) + 1
    assert min(start, *air) <= min(path)
    assert max(path) <= max(start, *air)


@given(start=MOISTURE, air=MOISTURE, rate=st.floats(1e-3, 1), one=st.floats(0.1, 40), two=st.floats(0.1, 40))
def test_two_steps_in_the_same_air_are_one_long_step(
    start: float, air: float, rate: float, one: float, two: float
) -> None:
    at_once = moisture_after_pct(start, air, rate, one + two)
    assert moisture_path(start, [air, air], [one, two], rate, 1.0).moistures_pct[-1] == pytest.approx(at_once, abs=1e-9)


@given(
    start=st.floats(15, 45),
    air=st.lists(st.floats(3, 14), min_size=1, max_size=60),
    slow=st.floats(1e-3, 1),
    target=st.floats(14, 20),
)
def test_in_air_drier_than_the_target_a_faster_crop_is_never_later(
    start: float, air: list[float], slow: float, target: float
) -> None:
    paths = [moisture_path(start, air, [1.0] * len(air), rate, 0.5).moistures_pct for rate in (slow, 2 * slow)]
    late, soon = (next((hour for hour, one in enumerate(path) if one <= target), math.inf) for path in paths)
    assert soon <= late


@given(start=st.floats(3, 10), air=st.floats(12, 30), rate=st.floats(1e-3, 1), factor=st.floats(0, 1))
def test_grain_takes_up_water_no_faster_than_it_would_dry(start: float, air: float, rate: float, factor: float) -> None:
    slow, full = (moisture_path(start, [air], [5.0], rate, one).moistures_pct[-1] for one in (factor, 1.0))
    assert start <= slow <= full + 1e-12


@given(
    start=st.floats(14, 40),
    air=st.lists(st.floats(3, 13), min_size=2, max_size=60),
    rate=st.floats(1e-3, 0.5),
    factor=st.floats(0.1, 1),
)
def test_the_rate_that_made_a_path_is_found_from_its_ends(
    start: float, air: list[float], rate: float, factor: float
) -> None:
    hours = [1.0] * len(air)
    end = moisture_path(start, air, hours, rate, factor).moistures_pct[-1]
    assume(end > max(air) + 0.05)  # else it has come so near to the air that the rate cannot be told
    found = fitted_rate(start, end, air, hours, factor)
    assert found.rate_per_h == pytest.approx(rate, rel=1e-5)
    assert not found.several


@given(first=st.floats(16, 40), second=st.floats(13, 15.9), air=st.floats(4, 12), hours=st.integers(1, 72))
def test_in_steady_air_the_fit_is_the_closed_form(first: float, second: float, air: float, hours: int) -> None:
    closed = rate_in_steady_air_per_h(first, second, air, hours)
    assume(closed < RATE_MAX_PER_H)
    assert fitted_rate(first, second, [air] * hours, [1.0] * hours, 0.5).rate_per_h == pytest.approx(closed, rel=1e-6)


@given(start=st.floats(16, 40), target=st.floats(13, 15.9), air=st.floats(4, 12), rate=st.floats(2e-3, 2))
def test_the_time_to_a_moisture_leads_there(start: float, target: float, air: float, rate: float) -> None:
    hours = hours_to_moisture_h(start, target, air, rate)
    assert moisture_after_pct(start, air, rate, hours) == pytest.approx(target, abs=1e-9)


@pytest.mark.parametrize(("target", "air"), [(11.0, 12.0), (12.0, 12.0), (17.0, 12.0), (15.0, 18.0)])
def test_air_that_does_not_lead_there_takes_for_ever(target: float, air: float) -> None:
    assert hours_to_moisture_h(16.0, target, air, 0.1) == math.inf


def test_a_reading_drier_than_the_air_is_told_with_the_driest_that_is_possible() -> None:
    with pytest.raises(Contradiction) as refused:
        fitted_rate(18.0, 11.0, [12.0] * 6, [1.0] * 6, 0.5)
    assert refused.value.facts["reason"] == "reason.reading_too_dry"
    assert refused.value.facts["low_pct"] == pytest.approx(12.0, abs=1e-4)


def test_a_reading_that_rises_in_drying_air_is_told_with_the_wettest_that_is_possible() -> None:
    with pytest.raises(Contradiction) as refused:
        fitted_rate(18.0, 18.6, [12.0] * 6, [1.0] * 6, 0.5)
    assert refused.value.facts["reason"] == "reason.reading_too_wet"
    assert refused.value.facts["high_pct"] == pytest.approx(18.0, abs=1e-4)


def test_equal_readings_tell_no_rate() -> None:
    with pytest.raises(Contradiction) as refused:
        fitted_rate(18.0, 18.0, [12.0], [1.0], 0.5)
    assert refused.value.facts["reason"] == "reason.readings_equal"


def test_of_two_rates_that_fit_the_slower_is_taken_and_said() -> None:
    """A day and a night: 17.5 % in the morning is a slow crop, or a fast one that the night has wetted again."""
    air, hours = [10.0] * 12 + [20.0] * 12, [1.0] * 24
    found = fitted_rate(18.0, 17.5, air, hours, 1.0)
    assert found.several

    def end(rate: float) -> float:
        return moisture_path(18.0, air, hours, rate, 1.0).moistures_pct[-1]

    assert end(found.rate_per_h) == pytest.approx(17.5, abs=1e-6)
    # drier than the reading in between, wetter beyond: a second solution lies there
    assert end(3 * found.rate_per_h) < 17.5 < end(20 * found.rate_per_h)


def test_readings_that_leave_the_side_of_the_air_are_refused_in_steady_air() -> None:
    for first, second in ((18.0, 11.0), (18.0, 18.0), (16.0, 18.0), (12.0, 12.0)):
        with pytest.raises(Contradiction):
            rate_in_steady_air_per_h(first, second, 12.0, 3.0)


@pytest.mark.parametrize(
    "call",
    [
        lambda: moisture_after_pct(-1, 10, 0.1, 1),
        lambda: moisture_after_pct(20, 96, 0.1, 1),
        lambda: moisture_after_pct(20, 10, 3.1, 1),
        lambda: moisture_after_pct(20, 10, math.nan, 1),
        lambda: moisture_after_pct(20, 10, 0.1, -1),
        lambda: hours_to_moisture_h(20, 15, 10, 0),
        lambda: rate_in_steady_air_per_h(20, 15, 10, 0),
        lambda: moisture_path(20, [10], [0], 0.1, 0.5),
        lambda: moisture_path(20, [10], [1], 0.1, 1.1),
        lambda: moisture_path(20, [-1], [1], 0.1, 0.5),
        lambda: fitted_rate(20, 96, [10], [1], 0.5),
    ],
)
def test_a_number_outside_its_range_is_refused(call: object) -> None:
    with pytest.raises(OutOfRange):
        call()  # type: ignore[operator]


@pytest.mark.parametrize(("air", "hours"), [([10.0], [1.0, 1.0]), ([], [])])
def test_steps_and_equilibria_must_match(air: list[float], hours: list[float]) -> None:
    with pytest.raises(Contradiction):
        moisture_path(20, air, hours, 0.1, 0.5)
