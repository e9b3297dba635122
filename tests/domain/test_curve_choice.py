"""Choosing a form: by prediction where it can be told, by preference where it cannot."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.curve_choice import choose, leave_one_out, usable
from service.domain.curve_fit import Curve, fit
from service.domain.feed_curve import loss_at
from service.errors import OutOfRange

SPEEDS = (3.0, 4.0, 5.0, 6.0, 7.0)


def test_leaving_one_out_agrees_with_the_leverage_formula() -> None:
    """For least squares with fixed weights a left-out residual is e / (1 - h); Allen (1974), PRESS."""
    losses, errors = (20.0, 34.0, 52.0, 118.0, 260.0), (4.0, 6.0, 9.0, 16.0, 30.0)
    design = np.vander(SPEEDS, 3, increasing=True) / np.array(errors)[:, None]
    hat = np.diag(design @ np.linalg.inv(design.T @ design) @ design.T)
    curve = fit("quadratic", SPEEDS, losses, errors)
    fitted = np.array([loss_at("quadratic", curve.coefficients, speed) for speed in SPEEDS])
    residuals = (np.array(losses) - fitted) / np.array(errors)
    expected = float(np.mean((residuals / (1 - hat)) ** 2))
    assert leave_one_out("quadratic", SPEEDS, losses, errors) == pytest.approx(expected, rel=1e-6)


def test_two_tests_are_told_to_be_two_and_power_comes_first() -> None:
    choice = choose((3.0, 4.0), (1.0, 3.0), low=2.0, high=5.0)
    assert choice.reason == "two_tests"
    assert [one.curve.form for one in choice.candidates] == ["power", "exponential"]
    assert all(one.score is None for one in choice.candidates)


def test_three_tests_fit_a_parabola_exactly_but_cannot_choose_it() -> None:
    choice = choose((3.0, 4.0, 5.0), (2.0, 3.0, 6.0), low=2.5, high=5.5)
    scores = {one.curve.form: one.score for one in choice.candidates}
    assert scores["quadratic"] is None
    assert choice.candidates[0].curve.form in ("power", "exponential")


def test_a_parabola_that_falls_below_zero_in_use_is_left_out() -> None:
    # 2 (F - 5)^2 - 1: below zero about 5, where no test was made
    speeds = (3.0, 3.5, 6.5, 7.0)
    losses = tuple(2 * (speed - 5) ** 2 - 1 for speed in speeds)
    used = choose(speeds, losses, low=2.5, high=7.5)
    assert "quadratic" not in {one.curve.form for one in used.candidates}
    # on the stretch beyond 6 the same parabola may be used
    beyond = choose(speeds, losses, low=6.5, high=7.5)
    assert beyond.candidates[0].curve.form == "quadratic"


def test_losses_that_leave_nothing_to_compare_fall_back_on_the_preference() -> None:
    choice = choose((3.0, 4.0, 5.0), (0.0, 2.0, 5.0), low=2.0, high=6.0)
    assert choice.reason == "too_few"
    assert choice.candidates[0].curve.form == "power"


@settings(deadline=None, max_examples=30)
@given(
    losses=st.lists(st.floats(1, 300), min_size=4, max_size=5),
    factor=st.floats(0.05, 20),
)
def test_the_choice_does_not_know_the_unit_of_the_loss(losses: list[float], factor: float) -> None:
    speeds = SPEEDS[: len(losses)]
    here = choose(speeds, losses, low=2.0, high=8.0)
    there = choose(speeds, [one * factor for one in losses], low=2.0, high=8.0)
    first, second = here.candidates[0], here.candidates[1]
    if first.score is not None and second.score is not None and second.score > 1.001 * first.score:
        assert there.candidates[0].curve.form == first.curve.form


def test_the_best_predictor_is_first() -> None:
    choice = choose(SPEEDS, (20.0, 34.0, 52.0, 118.0, 260.0), low=2.0, high=8.0)
    scores = [one.score for one in choice.candidates if one.score is not None]
    assert choice.reason == "leave_one_out"
    assert scores == sorted(scores)
    assert all(math.isfinite(score) for score in scores)


@pytest.mark.parametrize(("low", "high"), [(0.0, 5.0), (5.0, 4.0)])
def test_a_range_without_width_or_at_a_stand_is_refused(low: float, high: float) -> None:
    with pytest.raises(OutOfRange):
        choose((3.0, 4.0), (1.0, 3.0), low=low, high=high)


@pytest.mark.parametrize(
    ("coefficients", "low", "high", "fits"),
    [
        ((24.0, -10.0, 1.0), 3.0, 7.0, False),  # (F - 4)(F - 6)
        ((24.0, -10.0, 1.0), 6.0, 9.0, True),
        ((24.0, -10.0, 1.0), 4.5, 9.0, False),
        ((25.0, -10.0, 1.0), 3.0, 7.0, True),  # (F - 5)^2 touches zero
        ((-5.0, 6.0, -1.0), 1.0, 5.0, True),  # (F - 1)(5 - F)
        ((-5.0, 6.0, -1.0), 1.0, 5.1, False),
    ],
)
def test_a_parabola_is_usable_where_it_is_not_below_zero(
    coefficients: tuple[float, ...], low: float, high: float, fits: bool
) -> None:
    assert usable(Curve("quadratic", coefficients, None, None, None), low, high) is fits


def test_a_curve_is_usable_where_it_is_a_number() -> None:
    steep = Curve("exponential", (1.0, 100.0), None, None, None)
    assert usable(steep, 1.0, 7.0)
    assert not usable(steep, 1.0, 8.0)
    with pytest.raises(OutOfRange):
        usable(steep, 0.0, 1.0)


def test_losses_too_steep_for_any_form_are_refused() -> None:
    with pytest.raises(OutOfRange) as refused:
        choose((12.0, 12.0001), (1.0, 500.0), low=11.9, high=12.1)
    assert refused.value.facts["reason"] == "too_steep"
