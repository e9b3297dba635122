"""How sure a dry-down path is."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.drydown import RATE_MAX_PER_H, moisture_path
from service.domain.drydown_band import Forecast, first_time_below_h, forecast_from_rate, forecast_from_readings
from service.domain.types import Interval
from service.errors import Contradiction, OutOfRange

AIR = st.lists(st.floats(4, 25), min_size=8, max_size=40)
FACTOR = Interval(0.5, 0.25, 1.0)


def through_readings(
    second: float, air: list[float], error: float, spread: float, first: float = 20.0, learning: int = 6
) -> Forecast:
    return forecast_from_readings(
        first,
        second,
        air,
        [1.0] * len(air),
        learning_steps=learning,
        rewetting_factor=FACTOR,
        reading_error_pct=error,
        equilibrium_error_pct=spread,
    )


@settings(deadline=None)
@given(air=AIR, rate=st.floats(0.005, 0.3), error=st.floats(0, 1), spread=st.floats(0, 2))
def test_the_band_holds_the_path_and_the_readings_lie_on_it(
    air: list[float], rate: float, error: float, spread: float
) -> None:
    path = moisture_path(26.0, air, [1.0] * len(air), rate, FACTOR.value).moistures_pct
    try:
        found = through_readings(path[6], air, error, spread, first=26.0)
    except Contradiction:  # a crop that follows the air closely may end where it began
        return
    for one in (found.rate_per_h, *found.moistures_pct):
        assert one.low <= one.value <= one.high
    assert found.moistures_pct[0].value == 26.0
    assert found.moistures_pct[6].value == pytest.approx(path[6], abs=1e-6)
    # each reading is known to its own error, whatever the others are
    for place in (0, 6):
        assert found.moistures_pct[place].high - found.moistures_pct[place].value == pytest.approx(error, abs=1e-6)


@settings(deadline=None)
@given(air=AIR, small=st.floats(0.05, 0.4), factor=st.floats(1, 2))
def test_larger_errors_give_a_band_that_is_no_narrower(air: list[float], small: float, factor: float) -> None:
    dry = [min(one, 12.0) for one in air]
    narrow, wide = (through_readings(17.0, dry, error, error) for error in (small, small * factor))
    for one, other in zip(narrow.moistures_pct, wide.moistures_pct, strict=True):
        assert other.low <= one.low + 1e-6
        assert other.high >= one.high - 1e-6


@settings(deadline=None)
@given(air=AIR)
def test_without_errors_there_is_no_band(air: list[float]) -> None:
    dry = [min(one, 12.0) for one in air]
    found = forecast_from_readings(
        20.0,
        17.0,
        dry,
        [1.0] * len(dry),
        learning_steps=6,
        rewetting_factor=Interval(0.5, 0.5, 0.5),
        reading_error_pct=0,
        equilibrium_error_pct=0,
    )
    assert all(one.low == one.value == one.high for one in found.moistures_pct)


def test_deviations_add_as_the_root_of_their_squares() -> None:
    """Reading alone 0.25, air alone 0.5 after one half-life: together 0.559."""
    half = math.log(2)
    found = forecast_from_rate(
        20.0,
        [10.0],
        [1.0],
        rate_per_h=Interval(half, half, half),
        rewetting_factor=FACTOR,
        reading_error_pct=0.5,
        equilibrium_error_pct=1.0,
    )
    assert found.moistures_pct[1].high - 15 == pytest.approx(math.hypot(0.25, 0.5))
    assert 15 - found.moistures_pct[1].low == pytest.approx(math.hypot(0.25, 0.5))


def test_readings_closer_than_their_errors_set_no_lower_limit() -> None:
    found = through_readings(19.8, [12.0] * 20, 0.5, 0.0)
    assert found.unbounded
    assert found.rate_per_h.low == 0
    assert found.rate_per_h.value > 0
    assert found.moistures_pct[-1].high >= found.moistures_pct[6].value


def test_a_reading_near_the_air_sets_no_upper_limit() -> None:
    found = through_readings(12.2, [12.0] * 20, 0.5, 0.0)
    assert found.unbounded
    assert found.rate_per_h.high == RATE_MAX_PER_H


def test_clear_readings_bound_the_rate_on_both_sides() -> None:
    found = through_readings(16.0, [10.0] * 20, 0.3, 0.5)
    assert not found.unbounded
    assert 0 < found.rate_per_h.low < found.rate_per_h.value < found.rate_per_h.high < RATE_MAX_PER_H


def test_readings_that_no_rate_explains_are_refused() -> None:
    with pytest.raises(Contradiction) as refused:
        through_readings(11.0, [12.0] * 20, 0.5, 1.0)
    assert refused.value.facts["reason"] == "reason.reading_too_dry"


def test_the_last_step_may_be_the_last_reading() -> None:
    found = through_readings(16.0, [10.0] * 6, 0.3, 0.5)
    assert len(found.moistures_pct) == 7
    assert found.moistures_pct[-1].value == 16.0


@given(values=st.lists(st.floats(5, 30), min_size=2, max_size=20), limit=st.floats(5, 30))
def test_the_first_time_below_is_where_the_path_meets_the_limit(values: list[float], limit: float) -> None:
    times = [float(place) for place in range(len(values))]
    found = first_time_below_h(times, values, limit)
    if math.isinf(found):
        assert min(values) > limit
        return
    assert all(value > limit for time, value in zip(times, values, strict=True) if time < found - 1e-9)
    before = math.floor(found)
    after = min(before + 1, len(values) - 1)
    at = values[before] + (values[after] - values[before]) * (found - before)
    assert at == pytest.approx(limit, abs=1e-6) or found == 0


@pytest.mark.parametrize(
    "change",
    [
        {"reading_error_pct": -0.1},
        {"reading_error_pct": 11},
        {"equilibrium_error_pct": math.inf},
        {"learning_steps": 0},
        {"learning_steps": 3},
        {"rewetting_factor": Interval(1.5, 1, 2)},
    ],
)
def test_a_number_outside_its_range_is_refused(change: dict[str, object]) -> None:
    given = {
        "learning_steps": 1,
        "rewetting_factor": FACTOR,
        "reading_error_pct": 0.5,
        "equilibrium_error_pct": 1.0,
    }
    with pytest.raises(OutOfRange):
        forecast_from_readings(20.0, 15.0, [10.0, 10.0], [1.0, 1.0], **(given | change))  # type: ignore[arg-type]


def test_a_path_needs_as_many_times_as_moistures() -> None:
    with pytest.raises(Contradiction):
        first_time_below_h([0.0], [15.0, 14.0], 14.5)
    with pytest.raises(OutOfRange):
        first_time_below_h([0.0], [15.0], 101)
