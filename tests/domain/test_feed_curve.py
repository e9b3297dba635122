"""Forms of the loss curve: through their tests, slope against a difference, inverse against the curve."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from service.domain.feed_curve import (
    FORMS,
    exponential_rate,
    feed_at_loss,
    loss_at,
    power_exponent,
    slope_at,
)
from service.errors import OutOfRange, UnknownName

SPEEDS = st.floats(0.5, 12)
LOSSES = st.floats(0.5, 800)
RISING = {
    "exponential": st.tuples(st.floats(0.01, 50), st.floats(0.05, 1.2)),
    "power": st.tuples(st.floats(0.01, 50), st.floats(0.2, 4)),
    "quadratic": st.tuples(st.floats(0, 50), st.floats(0.1, 20), st.floats(0, 5)),
}
CURVES = st.sampled_from(FORMS).flatmap(lambda form: st.tuples(st.just(form), RISING[form]))


@given(first=SPEEDS, second=SPEEDS, low=LOSSES, high=LOSSES)
def test_both_forms_pass_through_both_tests(first: float, second: float, low: float, high: float) -> None:
    assume(abs(first - second) > 0.1)
    k = exponential_rate(first, low, second, high)
    b = power_exponent(first, low, second, high)
    for speed, loss in ((first, low), (second, high)):
        assert loss_at("exponential", (low * math.exp(-k * first), k), speed) == pytest.approx(loss, rel=1e-9)
        assert loss_at("power", (low / first**b, b), speed) == pytest.approx(loss, rel=1e-7)


@given(first=SPEEDS, second=SPEEDS, low=LOSSES, high=LOSSES, unit=st.floats(0.1, 10))
def test_the_exponent_does_not_know_the_unit_of_the_feed(
    first: float, second: float, low: float, high: float, unit: float
) -> None:
    assume(abs(first - second) > 0.1)
    there = power_exponent(first * unit, low, second * unit, high)
    assert there == pytest.approx(power_exponent(first, low, second, high), rel=1e-6, abs=1e-9)
    k = exponential_rate(first, low, second, high)
    assert exponential_rate(first * unit, low, second * unit, high) * unit == pytest.approx(k, rel=1e-6, abs=1e-9)


@given(curve=CURVES, speed=SPEEDS)
def test_the_slope_is_the_limit_of_the_difference(curve: tuple[str, tuple[float, ...]], speed: float) -> None:
    form, coefficients = curve
    step = 1e-5 * speed
    rise = loss_at(form, coefficients, speed + step) - loss_at(form, coefficients, speed - step)
    assert slope_at(form, coefficients, speed) == pytest.approx(rise / (2 * step), rel=1e-5, abs=1e-6)


@given(curve=CURVES, speed=SPEEDS)
def test_a_rising_curve_finds_its_way_back(curve: tuple[str, tuple[float, ...]], speed: float) -> None:
    form, coefficients = curve
    loss = loss_at(form, coefficients, speed)
    assert feed_at_loss(form, coefficients, loss) == pytest.approx(speed, rel=1e-6)


@pytest.mark.parametrize(
    ("form", "coefficients", "loss"),
    [
        ("exponential", (2.0, 0.0), 3.0),
        ("exponential", (2.0, -0.1), 3.0),
        ("exponential", (2.0, 0.5), 1.0),  # reached below a feed of zero only
        ("power", (2.0, -1.0), 3.0),
        ("power", (2.0, 0.0), 3.0),
        ("quadratic", (5.0, -2.0, 1.0), 3.0),  # its least is 4
        ("quadratic", (0.0, 4.0, -1.0), 5.0),  # its most is 4
        ("quadratic", (5.0, -1.0, 0.0), 3.0),
        ("power", (1e-300, 0.001), 1e300),
    ],
)
def test_a_loss_that_is_never_reached_while_rising_is_refused(
    form: str, coefficients: tuple[float, ...], loss: float
) -> None:
    with pytest.raises(OutOfRange) as refused:
        feed_at_loss(form, coefficients, loss)
    assert refused.value.facts["reason"] == "not_reached"


@pytest.mark.parametrize("call", [loss_at, slope_at])
def test_no_curve_at_a_stand(call: object) -> None:
    with pytest.raises(OutOfRange):
        call("power", (1.0, 2.0), 0.0)  # type: ignore[operator]


@pytest.mark.parametrize("call", [loss_at, slope_at, feed_at_loss])
def test_an_unknown_form_is_told_by_name(call: object) -> None:
    with pytest.raises(UnknownName):
        call("linear", (1.0, 2.0), 1.0)  # type: ignore[operator]


@pytest.mark.parametrize("through", [exponential_rate, power_exponent])
@pytest.mark.parametrize(
    "tests", [(0, 1, 2, 3), (1, 0, 2, 3), (1, 1, 0, 3), (1, 1, 2, 0), (2, 1, 2, 3), (math.nan, 1, 2, 3)]
)
def test_tests_that_give_no_curve_are_refused(through: object, tests: tuple[float, ...]) -> None:
    with pytest.raises(OutOfRange):
        through(*tests)  # type: ignore[operator]
