"""Fits against an independent library, certified problems, and what must hold for any tests."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, reject, settings
from hypothesis import strategies as st
from scipy.optimize import curve_fit as scipy_fit
from scipy.optimize import minimize

from service.domain.curve_fit import PARAMETERS, Curve, fit, interval_at
from service.domain.feed_curve import Form, loss_at
from service.errors import OutOfRange

SPEEDS = (3.0, 4.0, 5.0, 6.0, 7.0)
LOSSES = (20.0, 34.0, 52.0, 118.0, 260.0)
ERRORS = (4.0, 6.0, 9.0, 16.0, 30.0)
# NIST StRD, DanWood: certified standard deviations of b1, b2 and of the residuals
DANWOOD = ((1.309, 1.471, 1.490, 1.565, 1.611, 1.680), (2.138, 3.421, 3.597, 4.340, 4.882, 5.660))


def formula(form: Form) -> object:
    return {
        "exponential": lambda x, a, k: a * np.exp(k * x),
        "power": lambda x, a, b: a * x**b,
        "quadratic": lambda x, a, b, c: a + b * x + c * x**2,
    }[form]


@pytest.mark.parametrize(("form", "start"), [("exponential", (3, 0.6)), ("power", (0.5, 3)), ("quadratic", (1, 1, 1))])
def test_with_errors_it_is_the_weighted_fit_of_scipy(form: Form, start: tuple[float, ...]) -> None:
    expected, covariance = scipy_fit(
        formula(form), SPEEDS, LOSSES, start, sigma=ERRORS, absolute_sigma=True, xtol=1e-14, ftol=1e-14
    )
    curve = fit(form, SPEEDS, LOSSES, ERRORS)
    assert curve.coefficients == pytest.approx(expected, rel=1e-5)
    # ours is on ln a: d a = a d ln a; the dispersion only ever widens
    assert curve.dispersion is not None
    assert curve.covariance is not None
    first = curve.covariance[0][0] if form == "quadratic" else curve.covariance[0][0] * curve.coefficients[0] ** 2
    assert first == pytest.approx(covariance[0][0] * curve.dispersion, rel=1e-4)
    assert curve.covariance[1][1] == pytest.approx(covariance[1][1] * curve.dispersion, rel=1e-4)


def test_standard_deviations_are_those_that_nist_certifies() -> None:
    curve = fit("power", *DANWOOD, errors=(3.2853114039e-2,) * 6)
    assert curve.covariance is not None
    assert math.sqrt(curve.covariance[1][1]) == pytest.approx(5.1726610913e-2, rel=1e-8)
    assert math.sqrt(curve.covariance[0][0]) * curve.coefficients[0] == pytest.approx(1.8281973860e-2, rel=1e-8)


@pytest.mark.parametrize("form", ["exponential", "power"])
def test_without_errors_it_has_the_least_poisson_deviance(form: Form) -> None:
    x, y = np.array(SPEEDS), np.array([0.0, *LOSSES[1:]])

    def likelihood(theta: np.ndarray) -> float:
        fitted = np.exp(theta[0] + theta[1] * (x if form == "exponential" else np.log(x)))
        return float(np.sum(fitted - y * np.log(fitted)))

    expected = minimize(likelihood, (0.0, 1.0), method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-12})
    curve = fit(form, x, y)
    assert curve.coefficients == pytest.approx((math.exp(expected.x[0]), expected.x[1]), rel=1e-5)


def test_the_interval_of_a_quadratic_is_that_of_numpy() -> None:
    coefficients, covariance = np.polyfit(SPEEDS, LOSSES, 2, w=1 / np.array(ERRORS), cov="unscaled")
    curve = fit("quadratic", SPEEDS, LOSSES, ERRORS)
    assert curve.dispersion is not None
    assert curve.quantile is not None
    row = np.array([4.5**2, 4.5, 1])
    error = math.sqrt(row @ covariance @ row * curve.dispersion)
    found = interval_at(curve, 4.5)
    assert found.value == pytest.approx(np.polyval(coefficients, 4.5), rel=1e-9)
    assert found.high - found.value == pytest.approx(curve.quantile * error, rel=1e-6)


def test_stated_errors_that_hold_use_the_normal_quantile_and_others_student_s() -> None:
    wide = fit("exponential", SPEEDS, LOSSES, tuple(10 * error for error in ERRORS))
    narrow = fit("exponential", SPEEDS, LOSSES, tuple(error / 10 for error in ERRORS))
    assert wide.quantile == pytest.approx(1.959964, abs=1e-6)
    assert wide.dispersion == 1
    assert narrow.quantile == pytest.approx(3.182, abs=5e-4)  # t, 3 degrees of freedom, any table
    assert narrow.dispersion is not None
    assert narrow.dispersion > 1


def test_two_tests_have_an_interval_only_with_errors() -> None:
    bare = fit("power", (3.0, 4.0), (10.0, 30.0))
    assert bare.covariance is None
    with pytest.raises(OutOfRange):
        interval_at(bare, 3.5)
    stated = fit("exponential", (3.0, 4.0), (10.0, 30.0), (1.0, 6.0))
    # at a test the interval is that test's own: relative errors 0.1 and 0.2
    assert interval_at(stated, 3.0).high == pytest.approx(10 * math.exp(1.959964 * 0.1), rel=1e-6)
    assert interval_at(stated, 4.0).low == pytest.approx(30 * math.exp(-1.959964 * 0.2), rel=1e-6)


def test_the_interval_covers_in_95_of_100_fields() -> None:
    """Counts with a known curve: the interval at 5 km/h holds the true loss as often as it says."""
    random = np.random.default_rng(20261125)
    speeds = (3.0, 4.0, 4.0, 5.0, 6.0, 6.0, 7.0)
    true = [12 * math.exp(0.45 * speed) for speed in speeds]
    held, draws = 0, 1500
    for _ in range(draws):
        # kernels counted in frames, each kernel worth 2 kg/ha: variance twice the mean
        losses = tuple(2.0 * float(random.poisson(mean / 2)) for mean in true)
        found = interval_at(fit("exponential", speeds, losses), 5.0)
        held += found.low <= 12 * math.exp(0.45 * 5) <= found.high
    # binomial error of the share is 0.6 %; a t interval on five degrees of freedom is near, not exact
    assert 0.93 <= held / draws <= 0.97


POINTS = st.lists(st.tuples(st.floats(1, 12), st.floats(0, 500)), min_size=2, max_size=9)


@settings(deadline=None)
@given(points=POINTS, form=st.sampled_from(sorted(PARAMETERS)), unit=st.floats(0.1, 10), money=st.floats(0.1, 10))
def test_a_curve_does_not_know_the_units_of_its_axes(
    points: list[tuple[float, float]], form: Form, unit: float, money: float
) -> None:
    speeds, losses = _usable(points, form)
    here = _fitted(form, speeds, losses)
    there = _fitted(form, [one * unit for one in speeds], [one * money for one in losses])
    for speed in speeds:
        loss = loss_at(form, here.coefficients, speed) * money
        assert loss_at(form, there.coefficients, speed * unit) == pytest.approx(
            loss, rel=1e-4, abs=1e-4 * max(losses) * money
        )


@settings(deadline=None)
@given(points=POINTS, form=st.sampled_from(["exponential", "power"]))
def test_exponential_and_power_stay_above_zero_whatever_was_found(
    points: list[tuple[float, float]], form: Form
) -> None:
    speeds, losses = _usable(points, form)
    curve = _fitted(form, speeds, losses)
    assert all(loss_at(form, curve.coefficients, speed) > 0 for speed in speeds)
    assert all(math.isfinite(one) for one in curve.coefficients)


@given(curve=st.tuples(st.floats(0.5, 20), st.floats(0.1, 0.8)), speeds=st.sets(st.integers(2, 10), min_size=2))
def test_losses_on_a_curve_are_fitted_exactly(curve: tuple[float, float], speeds: set[int]) -> None:
    a, k = curve
    places = sorted(speeds)
    found = fit("exponential", places, [a * math.exp(k * place) for place in places])
    assert found.coefficients == pytest.approx(curve, rel=1e-6)


def _usable(points: list[tuple[float, float]], form: Form) -> tuple[list[float], list[float]]:
    """Speeds on a tenth of a km/h, so that two are either the same or apart, and losses that can be told."""
    speeds = [round(speed, 1) for speed, _ in points]
    losses = [0.0 if loss < 1 else loss for _, loss in points]
    assume(len(set(speeds)) >= PARAMETERS[form])
    assume(len({speed for speed, loss in zip(speeds, losses, strict=True) if loss > 0}) >= 2)
    return speeds, losses


def _fitted(form: Form, speeds: list[float], losses: list[float]) -> Curve:
    """The curve, of losses that do not rise so steeply that `fit` rightly refuses them; that limit has a unit."""
    try:
        return fit(form, speeds, losses)
    except OutOfRange as refusal:
        if refusal.facts["reason"] != "too_steep":
            raise
        reject()


@pytest.mark.parametrize(
    ("form", "feeds", "losses", "errors"),
    [
        ("power", (3.0,), (1.0,), ()),
        ("power", (3.0, 3.0), (1.0, 2.0), ()),
        ("quadratic", (3.0, 4.0, 4.0), (1.0, 2.0, 3.0), ()),
        ("power", (3.0, 4.0), (0.0, 2.0), ()),
        ("exponential", (3.0, 4.0, 5.0), (0.0, 0.0, 2.0), ()),
        ("exponential", (3.0, 4.0), (-1.0, 2.0), ()),
        ("exponential", (0.0, 4.0), (1.0, 2.0), ()),
        ("exponential", (3.0, 4.0), (1.0, 2.0), (1.0, 0.0)),
        ("exponential", (3.0, 4.0), (1.0, 2.0), (1.0,)),
        ("exponential", (3.0, 4.0), (1.0, 2.0, 3.0), ()),
        ("exponential", (3.0, math.inf), (1.0, 2.0), ()),
    ],
)
def test_tests_that_give_no_curve_are_refused(
    form: Form, feeds: tuple[float, ...], losses: tuple[float, ...], errors: tuple[float, ...]
) -> None:
    with pytest.raises(OutOfRange):
        fit(form, feeds, losses, errors)


@pytest.mark.parametrize("form", ["exponential", "power"])
def test_a_rise_without_number_is_refused(form: Form) -> None:
    with pytest.raises(OutOfRange) as refused:
        fit(form, (12.0, 12.0001), (1.0, 500.0))
    assert refused.value.facts["reason"] == "too_steep"


def test_losses_found_side_by_side_lead_nowhere_but_to_a_fit() -> None:
    # a line through the logarithms of the two that were found is no number at 12 km/h
    curve = fit("exponential", (5.0, 5.0001, 12.0), (1.0, 3.0, 0.0))
    assert loss_at("exponential", curve.coefficients, 5.0) == pytest.approx(2, rel=0.01)
    assert loss_at("exponential", curve.coefficients, 12.0) < 1e-3
