"""Known signs: kept with the least move (against scipy's SLSQP), outweighed by sure history only."""

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.stats import norm

from service.domain.advice import is_calm, worth
from service.domain.advice_model import believe
from service.domain.advice_signs import keep_signs, outweighed, settle
from service.domain.advice_types import Belief, Gain, KnownSign, Lever, OutcomePrior, Policy, Seen
from service.errors import OutOfRange

LEVERS = [Lever("drum", 0.5, -4, 4, 2), Lever("gap", -1.0, -3, 3, 1)]


def belief(slopes: tuple[float, float], sd: float = 0.1) -> Belief:
    prior = OutcomePrior("cracked", 1.0, 0.0, 0.5, slopes, (sd, sd), (0.02, -0.01), (0.02, 0.03))
    return believe([prior], 2.0)


@pytest.mark.parametrize("slopes", [(-0.1, 0.2), (-0.3, -0.2), (0.01, 0.3), (0.05, -0.4)])
def test_the_means_move_as_little_as_needed(slopes: tuple[float, float]) -> None:
    before = belief(slopes)
    signs = [KnownSign("cracked", 0, 1, 0.05), KnownSign("cracked", 1, 1, 0.02)]
    after = keep_signs(before, signs, LEVERS, [])
    precision = np.linalg.inv(before.covariance[0])

    def slope(mean: np.ndarray, sign: KnownSign, at: float) -> float:
        return float(sign.direction * (mean[1 + sign.lever] + mean[1 + len(LEVERS) + sign.lever] * at))

    ends = [
        (sign, LEVERS[sign.lever].at_steps + way * LEVERS[sign.lever].max_steps) for sign in signs for way in (-1, 1)
    ]
    oracle = minimize(
        lambda mean: float((mean - before.mean[0]) @ precision @ (mean - before.mean[0])),
        before.mean[0],
        method="SLSQP",
        constraints=[
            {"type": "ineq", "fun": lambda mean, s=sign, at=at: slope(mean, s, at) - s.least_slope} for sign, at in ends
        ],
        options={"ftol": 1e-10, "maxiter": 500},
    )
    assert oracle.success
    assert after.mean[0] == pytest.approx(oracle.x, abs=1e-4)
    assert np.array_equal(after.covariance, before.covariance)
    for sign, at in ends:
        assert slope(after.mean[0], sign, at) >= sign.least_slope - 1e-9


def test_what_holds_already_is_left_as_it_is() -> None:
    before = belief((0.4, 0.4), sd=0.1)
    kept = keep_signs(before, [KnownSign("cracked", 0, 1, 0.05)], LEVERS, [])
    assert np.array_equal(kept.mean, before.mean)


@pytest.mark.parametrize(("slope", "sure"), [(-0.127, False), (-0.129, True), (0.2, False)])
def test_a_sign_is_outweighed_from_nine_in_ten(slope: float, sure: bool) -> None:
    # normal quantile of 0.90 is 1.28155 (scipy.stats.norm): with an sd of 0.1 the limit is a slope of -0.1282
    assert norm.ppf(0.9) == pytest.approx(1.28155, abs=1e-5)
    learnt = Belief(("cracked",), np.ones(1), np.array([[0.0, slope, 0.0]]), np.diag([0.25, 0.01, 1e-6])[None])
    assert outweighed(learnt, KnownSign("cracked", 0, 1, 0.05), [Lever("drum", 0.0, -4, 4, 2)]) is sure


def test_a_least_slope_below_nothing_is_refused() -> None:
    with pytest.raises(OutOfRange):
        outweighed(belief((0.1, 0.1)), KnownSign("cracked", 0, 1, -0.1), LEVERS)


def test_without_anything_seen_known_signs_hold_and_none_is_outweighed() -> None:
    signs = [KnownSign("cracked", 0, 1, 0.05)]
    found = settle(belief((0.04, 0.3)), Seen(), Seen(), signs, LEVERS, [])
    kept = keep_signs(belief((0.04, 0.3)), signs, LEVERS, [])
    assert found.belief.mean == pytest.approx(kept.mean)
    assert found.outweighed == ()


def test_a_calm_machine_needs_a_saving_that_is_worth_a_change() -> None:
    how = Policy(least_saving=0.2, least_first_saving=0.3)
    assert worth(Gain(0.05, 0.1, 0.1), how, calm=False, first=False)
    assert not worth(Gain(0.05, 0.1, 0.19), how, calm=True, first=False)
    assert worth(Gain(0.05, 0.1, 0.2), how, calm=True, first=False)
    assert not worth(Gain(0.05, 0.1, 0.29), how, calm=True, first=True)
    assert not worth(Gain(how.least_gain / 2, 0.0, 9.0), how, calm=False, first=False)


def test_calm_is_what_lies_at_its_limit_or_below() -> None:
    how = Policy(near_limit=1.0)
    here = tuple(lever.at_steps for lever in LEVERS)
    assert is_calm(belief((0.1, 0.1)), here, {"cracked": 1.0}, how)
    assert not is_calm(belief((0.1, 0.1)), here, {"cracked": 1.01}, how)
