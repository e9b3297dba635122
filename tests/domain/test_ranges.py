"""Refusals: limits allowed or not, never NaN, never infinity."""

import math

import pytest

from service.domain.ranges import above, within
from service.errors import OutOfRange

NOT_FINITE = [math.nan, math.inf, -math.inf]


@pytest.mark.parametrize("value", [0, 0.0, 30.5, 95])
def test_within_allows_both_limits(value: float) -> None:
    within("moisture_pct", value, 0, 95, "%")


@pytest.mark.parametrize("value", [math.nextafter(0, -1), math.nextafter(95, 96), *NOT_FINITE])
def test_within_refuses_outside_and_says_the_limits(value: float) -> None:
    with pytest.raises(OutOfRange) as refused:
        within("moisture_pct", value, 0, 95, "%")
    assert refused.value.field == "moisture_pct"
    assert refused.value.facts["low"] == 0
    assert refused.value.facts["high"] == 95
    assert refused.value.facts["unit"] == "%"


@pytest.mark.parametrize("value", NOT_FINITE)
def test_within_refuses_what_is_not_finite_without_limits(value: float) -> None:
    with pytest.raises(OutOfRange) as refused:
        within("slope_deg", value, -math.inf, math.inf, "deg")
    assert refused.value.facts["low"] is None
    assert refused.value.facts["high"] is None


def test_above_allows_the_next_number() -> None:
    above("width_m", math.nextafter(0, 1), 0, "m")


@pytest.mark.parametrize("value", [0, -0.0, -1, *NOT_FINITE])
def test_above_refuses_the_limit_itself(value: float) -> None:
    with pytest.raises(OutOfRange) as refused:
        above("width_m", value, 0, "m")
    assert refused.value.facts["reason"] == "not_above"
