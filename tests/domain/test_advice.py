"""Advice as mathematics: learning against least squares, forecasts against draws, and the promises of the choice.

Expected values come from independent methods: numpy's least squares on the stacked problem, Monte
Carlo draws of the same normal belief, and rules of one change at a time.
"""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from service.domain.advice import choose
from service.domain.advice_history import replay, room, verdict
from service.domain.advice_model import believe, effects, gains, learn
from service.domain.advice_scale import measured_log_amount, severity_log_amount
from service.domain.advice_types import (
    Belief,
    ChangeSeen,
    LevelSeen,
    Lever,
    OutcomePrior,
    Policy,
    Seen,
    SlopeSeen,
    Trial,
    Verdict,
)
from service.errors import OutOfRange, UnknownName

NAMES = ("drum", "gap", "air")
DRAWS = 200_000


def prior(name: str, slopes: tuple[float, ...], weight: float = 1.0, level: float = -0.7) -> OutcomePrior:
    n = len(slopes)
    return OutcomePrior(name, weight, level, 0.5, slopes, (0.12,) * n, (0.02,) * n, (0.03,) * n)


PRIORS = (
    prior("unthreshed", (-0.3, 0.25, 0.0)),
    prior("cracked", (0.25, -0.08, 0.0)),
    prior("dirty", (0.1, -0.1, -0.25), weight=0.5),
)
WIDE = 1e6  # steps: the start says nothing of the best


def levers(at: tuple[float, ...] = (0.0, 0.0, 0.0), reach: float = 4.0) -> list[Lever]:
    return [Lever(name, x, -reach, reach, 2) for name, x in zip(NAMES, at, strict=True)]


def row(position: tuple[float, ...]) -> np.ndarray:
    u = np.array(position)
    return np.concatenate(([1.0], u, u * u / 2))


class TestLearning:
    def test_levels_and_signs_agree_with_least_squares(self) -> None:
        seen = Seen(
            levels=(
                LevelSeen("cracked", (0.0, 0.0, 0.0), 0.9, 0.1),
                LevelSeen("cracked", (-2.0, 0.0, 1.0), 0.2, 0.1),
                LevelSeen("cracked", (-2.0, 1.0, 1.0), 0.15, 0.3),
            ),
            slopes=(SlopeSeen("cracked", (-2.0, 1.0, 1.0), 0, 0.45, 0.15),),
        )
        learnt = learn(believe(PRIORS, WIDE), seen)
        # the same problem as one stacked least squares: prior rows over observations, all divided by their sd
        sd = np.array([0.5, 0.12, 0.12, 0.12, 0.03, 0.03, 0.03])
        mean = np.array([-0.7, 0.25, -0.08, 0.0, 0.02, 0.02, 0.02])
        slope = np.array([0.0, 1.0, 0.0, 0.0, -2.0, 0.0, 0.0])
        observed = [(row(level.position), level.log_amount, level.log_sd) for level in seen.levels]
        observed.append((slope, 0.45, 0.15))
        a = np.vstack([np.diag(1 / sd), *(x / s for x, _, s in observed)])
        b = np.concatenate([mean / sd, [y / s for _, y, s in observed]])
        expected, *_ = np.linalg.lstsq(a, b, rcond=None)
        assert learnt.mean[1] == pytest.approx(expected, abs=1e-9)
        assert learnt.covariance[1] == pytest.approx(np.linalg.inv(a.T @ a), abs=1e-9)
        assert learnt.mean[0] == pytest.approx(believe(PRIORS, WIDE).mean[0])

    def test_order_does_not_matter(self) -> None:
        found = [LevelSeen("dirty", (float(k), -1.0, 0.5), 0.1 * k, 0.1) for k in range(4)]
        ahead, back = (learn(believe(PRIORS, 1.0), Seen(levels=tuple(order))) for order in (found, found[::-1]))
        assert ahead.mean == pytest.approx(back.mean)

    def test_many_measurements_outweigh_the_table(self) -> None:
        truth = {position: -0.4 * position for position in (-3.0, -2.0, -1.0, 0.0, 1.0, 2.0)}  # against the table
        seen = tuple(LevelSeen("cracked", (u, 0.0, 0.0), y, 0.05) for u, y in truth.items() for _ in range(20))
        assert learn(believe(PRIORS, WIDE), Seen(levels=seen)).mean[1, 1] == pytest.approx(-0.4, abs=0.05)

    def test_a_start_that_is_best_balances_the_slopes(self) -> None:
        def slope_of_cost(belief: Belief) -> np.ndarray:
            level = belief.weights * np.exp(belief.mean[:, 0])
            return np.asarray((level[:, None] * belief.mean[:, 1:4]).sum(axis=0))

        free, tight = slope_of_cost(believe(PRIORS, WIDE)), slope_of_cost(believe(PRIORS, 1e-6))
        assert np.abs(tight).max() < 0.01 < np.abs(free).max()

    @pytest.mark.parametrize(("told", "better"), [(-0.3, True), (0.3, False)])
    def test_a_change_told_as_better_makes_the_same_way_look_better(self, told: float, better: bool) -> None:
        belief = believe(PRIORS, 1.0)
        here, there = (0.0, 0.0, 0.0), (1.0, 0.0, 0.0)
        before = gains(belief, here, [there])[0].mean
        after = gains(learn(belief, Seen(changes=(ChangeSeen(here, there, told, 0.1),))), here, [there])[0].mean
        assert (after > before) is better

    def test_covariances_stay_positive(self) -> None:
        rng = np.random.default_rng(1)
        changes = tuple(ChangeSeen((0.0, 0.0, 0.0), tuple(rng.normal(size=3)), 0.1, 0.05) for _ in range(30))
        learnt = learn(believe(PRIORS, 0.5), Seen(changes=changes))
        assert np.linalg.eigvalsh(learnt.covariance).min() > 0

    @pytest.mark.parametrize(
        "seen",
        [
            Seen(levels=(LevelSeen("cracked", (0.0, 0.0, 0.0), 0.0, 0.0),)),
            Seen(levels=(LevelSeen("cracked", (41.0, 0.0, 0.0), 0.0, 0.1),)),
            Seen(slopes=(SlopeSeen("cracked", (0.0, 0.0, 0.0), 0, 0.0, -1.0),)),
            Seen(changes=(ChangeSeen((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), 0.0, 0.0),)),
        ],
    )
    def test_what_cannot_be_is_refused(self, seen: Seen) -> None:
        with pytest.raises(OutOfRange):
            learn(believe(PRIORS, 1.0), seen)

    def test_priors_of_different_length_are_refused(self) -> None:
        with pytest.raises(OutOfRange):
            believe([PRIORS[0], prior("cracked", (0.2,))], 1.0)
        with pytest.raises(OutOfRange):
            believe([], 1.0)


class TestForecast:
    def test_gain_agrees_with_draws(self) -> None:
        belief = learn(believe(PRIORS, 1.0), Seen(levels=(LevelSeen("cracked", (0.0, 0.0, 0.0), 1.0, 0.1),)))
        here, there = (0.0, 0.0, 0.0), (-2.0, 1.0, 0.0)
        rng = np.random.default_rng(7)
        cost = np.zeros((2, DRAWS))
        for o, weight in enumerate(belief.weights):
            theta = rng.multivariate_normal(belief.mean[o], belief.covariance[o], DRAWS)
            for k, position in enumerate((here, there)):
                cost[k] += weight * np.exp(theta @ row(position))
        found = gains(belief, here, [there])[0]
        assert found.mean == pytest.approx((cost[0] - cost[1]).mean() / cost[0].mean(), abs=0.005)
        assert found.sd == pytest.approx((cost[0] - cost[1]).std() / cost[0].mean(), rel=0.03)

    def test_factor_and_its_interval_agree_with_draws(self) -> None:
        belief = believe(PRIORS, 1.0)
        here, there = (1.0, 0.0, 0.0), (-1.0, 0.0, 0.0)
        found = effects(belief, here, there)[1]
        rng = np.random.default_rng(8)
        theta = rng.multivariate_normal(belief.mean[1], belief.covariance[1], DRAWS)
        factor = np.exp(theta @ (row(there) - row(here)))
        low, middle, high = np.quantile(factor, [0.1, 0.5, 0.9])
        got = (found.factor_low, found.factor, found.factor_high)
        assert got == pytest.approx((low, middle, high), rel=0.01)

    def test_cost_changes_add_up_to_the_gain_but_for_the_doubt(self) -> None:
        here, there = (0.0, 0.0, 0.0), (1.0, -1.0, 2.0)
        doubts = []
        for spread in (0.12, 0.0012):
            priors = [replace(p, slope_sd=(spread,) * 3, curvature_sd=(spread / 10,) * 3) for p in PRIORS]
            belief = believe(priors, WIDE)
            total = sum(effect.cost_change for effect in effects(belief, here, there))
            doubts.append(-total - gains(belief, here, [there])[0].mean)
        assert doubts[0] > 0.01  # the mean of a lognormal amount grows with its spread
        assert doubts[1] == pytest.approx(0.0, abs=1e-4)

    def test_a_cost_change_has_the_sign_of_its_factor(self) -> None:
        for effect in effects(believe(PRIORS, 1.0), (2.0, 0.0, -1.0), (3.0, 0.0, -1.0)):
            assert effect.cost_change * (effect.factor - 1) >= 0

    def test_a_saving_is_the_gain_times_the_cost(self) -> None:
        belief = believe(PRIORS, 1.0)
        here = (0.0, 0.0, 0.0)
        cost = sum(w * e.amount_now for w, e in zip(belief.weights, effects(belief, here, here), strict=True))
        found = gains(belief, here, [(-1.0, 0.0, 0.0)])[0]
        assert found.saving == pytest.approx(found.mean * cost)

    def test_staying_gains_nothing(self) -> None:
        here = (1.0, -2.0, 0.5)
        found = gains(believe(PRIORS, 1.0), here, [here])[0]
        assert (found.mean, found.sd) == pytest.approx((0.0, 0.0), abs=1e-7)


verdicts = st.sampled_from(["better", "same", "worse"])
positions = st.tuples(*[st.integers(-4, 4).map(float)] * 3)
amounts = st.tuples(*[st.floats(-2.0, 2.0)] * 3)


def told(levels: tuple[float, ...], here: tuple[float, ...]) -> Belief:
    seen = tuple(LevelSeen(p.outcome, here, y, 0.1) for p, y in zip(PRIORS, levels, strict=True))
    return learn(believe(PRIORS, 1.0), Seen(levels=seen))


class TestChoice:
    @given(positions, amounts)
    @settings(max_examples=150, deadline=None)
    def test_moves_stay_inside_the_envelope_and_within_their_steps(
        self, here: tuple[float, ...], levels: tuple[float, ...]
    ) -> None:
        choice = choose(told(levels, here), levers(here), [], Policy())
        for move in (choice.best, *choice.others):
            if move is not None:
                assert -4 <= move.to_steps <= 4
                assert 0 < abs(move.steps) <= 2
                assert move.to_steps == pytest.approx(here[NAMES.index(move.lever)] + move.steps)

    @given(positions, amounts)
    @settings(max_examples=50, deadline=None)
    def test_same_question_same_answer(self, here: tuple[float, ...], levels: tuple[float, ...]) -> None:
        assert choose(told(levels, here), levers(here), [], Policy()) == choose(
            told(levels, here), levers(here), [], Policy()
        )

    @given(positions, amounts, st.integers(0, 2), st.sampled_from([-2.0, -1.0, 1.0, 2.0]), st.booleans())
    @settings(max_examples=200, deadline=None)
    def test_a_failed_step_is_undone_and_never_proposed_again(
        self, here: tuple[float, ...], levels: tuple[float, ...], j: int, steps: float, put_back: bool
    ) -> None:
        there = here[j] + steps
        assume(-4 <= there <= 4)
        trial = Trial(NAMES[j], here[j], there, "worse", put_back)
        at = here if put_back else (*here[:j], there, *here[j + 1 :])
        choice = choose(told(levels, at), levers(at), [trial], Policy())
        if put_back:
            moved = {move.lever: move for move in (choice.best, *choice.others) if move is not None}
            assert NAMES[j] not in moved or moved[NAMES[j]].steps * steps < 0
        else:
            assert choice.best is not None
            assert (choice.best.lever, choice.best.to_steps, choice.best.reason) == (NAMES[j], here[j], "undo")

    @given(st.lists(verdicts, min_size=200, max_size=200), st.lists(amounts, min_size=8, max_size=8))
    @settings(max_examples=40, deadline=None)
    def test_advice_ends_whatever_is_answered(self, answers: list[Verdict], seen: list[tuple[float, ...]]) -> None:
        """Even with verdicts and measurements that have nothing to do with each other."""
        at, trials = (0.0, 0.0, 0.0), list[Trial]()
        visited: list[tuple[str, float, float]] = []
        for k, answer in enumerate(answers):
            choice = choose(told(seen[k % len(seen)], at), levers(at), trials, Policy(least_gain=-1.0))
            if choice.best is None:
                break
            move, j = choice.best, NAMES.index(choice.best.lever)
            if move.reason == "undo":
                trials[-1] = replace(trials[-1], put_back=True)
            else:
                step = (move.lever, at[j], move.to_steps)
                assert step not in visited
                visited.append(step)
                trials.append(Trial(move.lever, at[j], move.to_steps, answer))
            at = (*at[:j], move.to_steps, *at[j + 1 :])
        else:
            pytest.fail("200 answers and no end")

    @given(st.sampled_from([p.outcome for p in PRIORS]), st.integers(1, 5), st.integers(1, 5))
    @settings(max_examples=60, deadline=None)
    def test_a_worse_symptom_never_turns_the_advice_round(self, outcome: str, one: int, other: int) -> None:
        def moves(grade: int) -> dict[str, float]:
            seen = (LevelSeen(outcome, (0.0, 0.0, 0.0), severity_log_amount(grade), 0.2),)
            choice = choose(learn(believe(PRIORS, 1.0), Seen(levels=seen)), levers(), [], Policy())
            return {choice.best.lever: choice.best.steps} if choice.best else {}

        mild, bad = moves(min(one, other)), moves(max(one, other))
        for lever in mild.keys() & bad.keys():
            assert mild[lever] * bad[lever] > 0

    def test_opposite_symptoms_move_less_than_one_alone(self) -> None:
        def drum(levels: dict[str, float]) -> float:
            seen = tuple(LevelSeen(name, (0.0, 0.0, 0.0), y, 0.1) for name, y in levels.items())
            return gains(learn(believe(PRIORS, 1.0), Seen(levels=seen)), (0.0, 0.0, 0.0), [(-2.0, 0.0, 0.0)])[0].mean

        alone, both = drum({"cracked": 1.2, "unthreshed": -1.0}), drum({"cracked": 1.2, "unthreshed": 1.2})
        assert alone > 0.1
        assert both < 0.3 * alone

    def test_what_matters_more_is_helped_first(self) -> None:
        seen = Seen(levels=tuple(LevelSeen(name, (0.0, 0.0, 0.0), 1.0, 0.1) for name in ("unthreshed", "cracked")))
        for heavy, direction in (("cracked", -1.0), ("unthreshed", 1.0)):
            weighted = [replace(p, weight=5.0 if p.outcome == heavy else p.weight) for p in PRIORS]
            belief = learn(believe(weighted, 1.0), seen)
            drum = gains(belief, (0.0, 0.0, 0.0), [(direction, 0.0, 0.0), (-direction, 0.0, 0.0)])
            assert drum[0].mean > 0 > drum[1].mean

    def test_a_lever_outside_its_envelope_comes_in_first(self) -> None:
        choice = choose(told((0.0, 0.0, 0.0), (0.0, 6.0, 0.0)), levers((0.0, 6.0, 0.0)), [], Policy())
        assert choice.best is not None
        assert (choice.best.lever, choice.best.to_steps, choice.best.reason) == ("gap", 4.0, "outside_envelope")

    def test_nothing_wrong_is_left_alone(self) -> None:
        choice = choose(told((-3.0, -3.0, -3.0), (0.0, 0.0, 0.0)), levers(), [], Policy(least_gain=0.05))
        assert choice.best is None
        assert not choice.exhausted
        assert len(choice.others) == 3

    def test_no_room_says_so(self) -> None:
        assert choose(told((1.0, 1.0, 1.0), (0.0, 0.0, 0.0)), levers(reach=0.2), [], Policy()).exhausted

    def test_half_a_step_of_room_is_used_to_its_end(self) -> None:
        choice = choose(told((-1.0, 2.0, 0.0), (0.0, 0.0, 0.0)), levers(reach=0.7), [], Policy())
        assert choice.best is not None
        assert (choice.best.lever, choice.best.to_steps) == ("drum", -0.7)


class TestHistory:
    def test_kept_changes_are_walked_back(self) -> None:
        steps = replay(levers((2.0, -1.0, 0.0)), [("drum", 0.0, 2.0), ("gap", 0.0, -1.0)])
        assert [step.before for step in steps] == [(0.0, 0.0, 0.0), (2.0, 0.0, 0.0)]
        assert [step.after for step in steps] == [(2.0, 0.0, 0.0), (2.0, -1.0, 0.0)]
        assert not any(step.put_back for step in steps)
        assert all(step.consistent for step in steps)

    def test_a_change_put_back_is_seen(self) -> None:
        first, last = replay(levers(), [("drum", 0.0, 2.0), ("gap", 0.0, 1.0)])
        assert first.put_back
        assert last.put_back
        assert last.after == (0.0, 1.0, 0.0)

    def test_a_gap_is_marked(self) -> None:
        assert [step.consistent for step in replay(levers(), [("drum", 1.0, 2.0)])] == [False]

    def test_an_unknown_lever_is_refused(self) -> None:
        with pytest.raises(UnknownName):
            replay(levers(), [("reel", 0.0, 1.0)])

    @pytest.mark.parametrize(
        ("trials", "low", "high"),
        [
            ([], -4, 4),
            ([Trial("drum", 0.0, 1.0, "worse", True)], -4, 0),
            ([Trial("drum", 0.0, -1.0, "worse", True)], 0, 4),
            ([Trial("drum", 0.0, 2.0, "same", True)], -4, 1),
            ([Trial("drum", 0.0, 1.0, "same", True)], -4, 0),
            ([Trial("drum", -1.0, 0.0, "better")], -4, 4),
            ([Trial("drum", 1.0, 2.0, "better"), Trial("drum", 2.0, 0.0, "better")], -4, 0),
            ([Trial("gap", 0.0, 1.0, "worse", True)], -4, 4),
        ],
    )
    def test_room_after_what_was_tried(self, trials: list[Trial], low: float, high: float) -> None:
        found = room(levers()[0], trials)
        assert (found.low_steps, found.high_steps) == (low, high)

    @pytest.mark.parametrize(("after", "expected"), [(1.2, "worse"), (1.05, "same"), (0.97, "same"), (0.9, "better")])
    def test_verdict_by_weighted_amounts(self, after: float, expected: str) -> None:
        weights = {"cracked": 1.0, "dirty": 0.0}
        assert verdict({"cracked": 1.0, "dirty": 9.0}, {"cracked": after, "dirty": 1.0}, weights) == expected

    def test_verdict_needs_something_that_counts(self) -> None:
        with pytest.raises(OutOfRange):
            verdict({"cracked": 1.0}, {"dirty": 1.0}, {"cracked": 1.0})

    def test_nothing_left_is_better(self) -> None:
        assert verdict({"cracked": 1.0}, {"cracked": 0.0}, {"cracked": 1.0}) == "better"


class TestScale:
    def test_grades_of_equal_ratio_with_the_limit_between_one_and_two(self) -> None:
        grades = [math.exp(severity_log_amount(k)) for k in range(1, 6)]
        assert [b / a for a, b in pairwise(grades)] == pytest.approx([1.6] * 4)
        assert grades[0] < 1 < grades[1]
        assert math.exp(severity_log_amount(0)) < grades[0] / 1.6

    def test_a_measurement_at_the_limit_is_about_one_and_nothing_is_finite(self) -> None:
        assert measured_log_amount(2.0, 2.0) == pytest.approx(math.log(1.02))
        assert measured_log_amount(0.0, 2.0) == pytest.approx(math.log(0.02))

    @pytest.mark.parametrize("severity", [-1, 5.5, math.nan])
    def test_other_grades_are_refused(self, severity: float) -> None:
        with pytest.raises(OutOfRange):
            severity_log_amount(severity)

    @pytest.mark.parametrize(("measured", "tolerable"), [(-0.1, 1.0), (101.0, 1.0), (1.0, 0.0)])
    def test_other_percentages_are_refused(self, measured: float, tolerable: float) -> None:
        with pytest.raises(OutOfRange):
            measured_log_amount(measured, tolerable)
