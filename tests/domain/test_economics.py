"""Cost of an hour and of delay: what must hold for any machine."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from service.domain.economics import (
    accumulated_repair_share_pct,
    hour_cost,
    remaining_value_share_pct,
    timeliness_cost,
)
from service.errors import OutOfRange

COMBINE = (1.132, 0.165, 0.0079)
YEAR = {
    "list_price": 400_000.0,
    "hours_per_year": 250.0,
    "value_start_pct": 50.0,
    "value_end_pct": 45.0,
    "repair_start_pct": 5.0,
    "repair_end_pct": 7.0,
    "interest_pct": 4.0,
    "taxes_insurance_housing_pct": 2.0,
    "fuel_l_h": 60.0,
    "fuel_price_per_l": 1.0,
    "oil_pct": 15.0,
    "wage_per_h": 25.0,
}
DELAY = {
    "loss_share_per_day": 0.01,
    "area_ha": 100.0,
    "yield_t_ha": 8.0,
    "price_per_t": 200.0,
    "spread": 2.0,
    "hours_per_day": 10.0,
    "area_rate_ha_h": 5.0,
    "workday_share": 1.0,
}


@given(hours=st.floats(0, 5000), more=st.floats(1, 1000))
def test_repairs_add_up_faster_with_age(hours: float, more: float) -> None:
    first, second, third = (accumulated_repair_share_pct(hours + n * more, 0.04, 2.1) for n in range(3))
    assert 0 <= first < second < third
    assert third - second > second - first


@given(age=st.floats(1, 15), hours=st.floats(50, 400), older=st.floats(0.1, 5), more=st.floats(1, 100))
def test_a_machine_is_worth_less_older_or_more_used(age: float, hours: float, older: float, more: float) -> None:
    here = remaining_value_share_pct(age, hours, *COMBINE)
    assert remaining_value_share_pct(age + older, hours, *COMBINE) < here
    assert remaining_value_share_pct(age, hours + more, *COMBINE) < here
    assert 0 < here < 100


def test_the_value_equation_is_not_followed_past_its_zero() -> None:
    # 1.132 = 0.165 sqrt(n) at n = 47.07 without use
    assert remaining_value_share_pct(47.0, 0.0, *COMBINE) < 0.001
    with pytest.raises(OutOfRange) as refused:
        remaining_value_share_pct(47.1, 0.0, *COMBINE)
    assert refused.value.facts["reason"] == "nothing_left"


@given(price=st.floats(1e4, 1e6), hours=st.floats(50, 1000), wage=st.floats(0, 100))
def test_parts_of_an_hour_add_up(price: float, hours: float, wage: float) -> None:
    cost = hour_cost(**YEAR | {"list_price": price, "hours_per_year": hours, "wage_per_h": wage})
    running = cost.repair + cost.fuel + cost.oil + cost.labour
    assert cost.running == pytest.approx(running)
    assert cost.total == pytest.approx(running + cost.depreciation + cost.interest + cost.taxes_insurance_housing)


@given(factor=st.floats(0.01, 1000))
def test_money_is_counted_in_any_currency(factor: float) -> None:
    prices = ("list_price", "fuel_price_per_l", "wage_per_h")
    there = hour_cost(**YEAR | {name: YEAR[name] * factor for name in prices})
    assert there.total == pytest.approx(hour_cost(**YEAR).total * factor)


@given(factor=st.floats(0.1, 10))
def test_delay_goes_with_the_square_of_the_area_and_against_the_rate(factor: float) -> None:
    here = timeliness_cost(**DELAY)
    assert timeliness_cost(**DELAY | {"area_ha": 100 * factor}) == pytest.approx(here * factor**2)
    assert timeliness_cost(**DELAY | {"area_rate_ha_h": 5 * factor}) == pytest.approx(here / factor)


def test_delay_is_the_mean_wait_of_a_hectare() -> None:
    """Cutting strip by strip: the hectare at share s of the area waits s times the days of all."""
    days = 100 / (5 * 10)
    strips = 10_000
    waited = sum((strip + 0.5) / strips * days for strip in range(strips)) / strips
    assert timeliness_cost(**DELAY) == pytest.approx(0.01 * waited * 100 * 8 * 200, rel=1e-6)


def test_nothing_left_to_cut_costs_no_delay() -> None:
    assert timeliness_cost(**DELAY | {"area_ha": 0.0}) == 0


@pytest.mark.parametrize(
    "wrong",
    [
        {"list_price": 0},
        {"hours_per_year": 0},
        {"value_start_pct": 151},
        {"value_end_pct": 51},
        {"repair_end_pct": 4.9},
        {"interest_pct": -1},
        {"taxes_insurance_housing_pct": 101},
        {"oil_pct": 101},
        {"fuel_l_h": -1},
        {"fuel_price_per_l": math.inf},
        {"wage_per_h": math.nan},
    ],
    ids=str,
)
def test_a_cost_that_cannot_be_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(OutOfRange):
        hour_cost(**YEAR | wrong)


@pytest.mark.parametrize(
    "wrong",
    [
        {"loss_share_per_day": 1.1},
        {"area_ha": -1},
        {"yield_t_ha": 0},
        {"price_per_t": -1},
        {"spread": 3},
        {"hours_per_day": 0},
        {"hours_per_day": 25},
        {"area_rate_ha_h": 0},
        {"workday_share": 0},
        {"workday_share": 1.1},
    ],
    ids=str,
)
def test_a_delay_that_cannot_be_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(OutOfRange):
        timeliness_cost(**DELAY | wrong)


@given(age=st.floats(-5, -0.01))
def test_no_machine_is_younger_than_new(age: float) -> None:
    assume(age < 0)
    with pytest.raises(OutOfRange):
        remaining_value_share_pct(age, 100.0, *COMBINE)
    with pytest.raises(OutOfRange):
        accumulated_repair_share_pct(age, 0.04, 2.1)
