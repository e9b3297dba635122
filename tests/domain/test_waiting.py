"""Whether it pays to let a crop stand."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from service.domain.waiting import (
    break_even_days,
    break_even_price_per_t,
    field_loss_pct,
    grain_value,
    tolerable_field_loss_pct,
)
from service.errors import OutOfRange

PRICE, COST = st.floats(50, 800), st.floats(0, 40)
MOISTURE = st.floats(8, 30)


@given(price=PRICE, moisture=MOISTURE, delivery=st.floats(9, 16), cost=COST, handling=st.floats(0, 2))
def test_value_and_costs_add_up_to_the_price(
    price: float, moisture: float, delivery: float, cost: float, handling: float
) -> None:
    found = grain_value(price, moisture, delivery, cost, handling)
    costs = (found.drying_per_t, found.handling_per_t, found.overdry_per_t)
    assert min(costs) >= 0
    assert found.net_per_t + sum(costs) == pytest.approx(price)
    # grain is either dried or too dry, never both
    assert not (found.drying_per_t and found.overdry_per_t)


@given(price=PRICE, delivery=st.floats(9, 16), drier=st.floats(0.1, 5))
def test_overdried_grain_sells_the_mass_that_is_left(price: float, delivery: float, drier: float) -> None:
    found = grain_value(price, delivery - drier, delivery, 100, 1)
    assert found.net_per_t == pytest.approx(price * (100 - delivery) / (100 - delivery + drier))


@given(now=st.floats(-100, 400), later=st.floats(10, 400))
def test_at_the_tolerable_loss_both_are_worth_the_same(now: float, later: float) -> None:
    assert later * (1 - tolerable_field_loss_pct(now, later) / 100) == pytest.approx(now, abs=1e-9)


@given(tolerable=st.floats(0.1, 50), rate=st.floats(0.05, 5))
def test_at_the_break_even_day_the_field_has_lost_what_is_tolerable(tolerable: float, rate: float) -> None:
    assert field_loss_pct(break_even_days(tolerable, rate), rate) == pytest.approx(tolerable)


@given(now=COST, later=COST, kept_now=st.floats(0.9, 1), kept_later=st.floats(0.3, 0.89))
def test_at_the_break_even_price_both_earn_the_same(
    now: float, later: float, kept_now: float, kept_later: float
) -> None:
    assume(now >= later)
    price = break_even_price_per_t(now, later, kept_now, kept_later)
    assert kept_now * price - now == pytest.approx(kept_later * price - later, abs=1e-6)


@given(tolerable=st.floats(0.1, 50), rate=st.floats(0.05, 5), factor=st.floats(1, 10))
def test_the_faster_a_crop_loses_the_fewer_days_it_may_wait(tolerable: float, rate: float, factor: float) -> None:
    assume(rate * factor <= 100)
    assert break_even_days(tolerable, rate * factor) <= break_even_days(tolerable, rate)


@pytest.mark.parametrize(
    "call",
    [
        lambda: grain_value(-1, 20, 15, 1, 0.5),
        lambda: grain_value(100, 20, 15, -1, 0.5),
        lambda: grain_value(100, 96, 15, 1, 0.5),
        lambda: grain_value(100, 20, 15, 1, 101),
        lambda: tolerable_field_loss_pct(1, 0),
        lambda: field_loss_pct(-1, 1),
        lambda: field_loss_pct(1, 101),
        lambda: break_even_days(1, 0),
        lambda: break_even_days(1, 101),
        lambda: break_even_price_per_t(-1, 0, 1, 0.5),
        lambda: break_even_price_per_t(1, 0, 1.1, 0.5),
        lambda: break_even_price_per_t(1, 0, 0.9, 0.9),
    ],
)
def test_a_number_outside_its_range_is_refused(call: object) -> None:
    with pytest.raises(OutOfRange):
        call()  # type: ignore[operator]
