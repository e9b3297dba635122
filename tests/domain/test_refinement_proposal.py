"""Promises of a draft: inside the envelope, at most one step, nothing without evidence, the same again.

Expected values: rules of the method, invented cooperatives whose truth is known, and fits made anew.
"""

from dataclasses import asdict, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.refinement_choice import CostDraws, Room, choose, cost_draws, costs, least_at, ways
from service.domain.refinement_draft import Draft
from service.domain.refinement_example import invented_fit
from service.domain.refinement_fit import answer, fit
from service.domain.refinement_held_out import held_out, without_each
from service.domain.refinement_pairs import paired_tests, same_day_share, value_of_trying
from service.domain.refinement_pooling import Normals
from service.domain.refinement_proposal import propose
from service.domain.refinement_rows import chosen, refusals, row_weights
from service.domain.refinement_statistics import CellStatistics, accumulate, no_statistics
from service.domain.refinement_sums import without_contributor
from service.domain.refinement_types import Records
from service.errors import OutOfRange, UnknownName
from tests.domain.refinement_cases import CELLS, LAYOUT, METHOD, OUTCOMES, drawn, learnt, rooms, sums

SEEDS = st.integers(0, 10_000)
GATE = METHOD.gate


def draft_of(records: Records, number: int = 1, **places: float) -> Draft:
    return propose(learnt(records), rooms(**places), METHOD, number)


def proposed(draft: Draft) -> np.ndarray:
    return np.array([[setting.proposed for setting in row.settings] for row in draft.cells])


class TestPromises:
    @settings(max_examples=25, deadline=None)
    @given(SEEDS, st.floats(-3, 3), st.floats(0, 1.5), st.floats(-0.3, 0.3), st.sampled_from([0.05, 0.07, 0.1]))
    def test_never_outside_the_envelope_nor_beyond_the_largest_move(
        self, seed: int, slope: float, scatter: float, now: float, step: float
    ) -> None:
        draft = draft_of(drawn(seed, slope=slope, scatter=scatter), now=now, low=-0.33, high=0.41, step=step)
        found = proposed(draft)
        assert (found >= -0.33 - 1e-9).all()
        assert (found <= 0.41 + 1e-9).all()
        assert (np.abs(found - now) <= GATE.largest_move + 1e-9).all()
        moved = found[found != now] / step
        assert moved == pytest.approx(np.round(moved), abs=1e-6)

    @settings(max_examples=10, deadline=None)
    @given(SEEDS, st.integers(1, 20))
    def test_twenty_records_never_move_the_table(self, seed: int, count: int) -> None:
        draft = draft_of(drawn(seed, count, slope=-3.0, scatter=0.01))
        assert (proposed(draft) == 0).all()
        assert {row.reason for row in draft.cells} <= {"too_few_records", "too_few_contributors"}

    def test_no_records_leave_the_table_as_it_is(self) -> None:
        draft = propose(fit(no_statistics(LAYOUT), CELLS, OUTCOMES, METHOD), rooms(), METHOD, 1)
        assert (proposed(draft) == 0).all()
        assert {row.reason for row in draft.cells} == {"too_few_contributors"}

    @pytest.mark.parametrize("members", [1, 4])
    def test_few_growers_never_move_the_table_and_nothing_is_told_of_them(self, members: int) -> None:
        draft = draft_of(drawn(1, members=members, slope=-3.0))
        for row in draft.cells:
            assert row.reason == "too_few_contributors"
            assert (row.gain, row.effects, row.least_gain_without, row.least_probability_without) == (
                0.0,
                (),
                None,
                None,
            )
            assert all(setting.choice == 0 and setting.proposed == setting.now for setting in row.settings)

    def test_records_without_any_effect_leave_the_table_as_it_is(self) -> None:
        rows = [row for seed in range(8) for row in draft_of(drawn(seed, 400, slope=0.0)).cells]
        assert sum(row.reason == "proposed" for row in rows) <= 2  # 24 rows, each with a chance of one in ten
        assert {row.reason for row in rows} & {"nothing_better", "not_sure", "gain_too_small"}

    def test_a_plain_effect_is_found_and_told(self) -> None:
        draft = draft_of(drawn(2, 600, slope=-1.2, scatter=0.15))
        for row in draft.cells:
            assert row.reason == "proposed"
            drum = row.settings[0]
            assert drum.proposed == pytest.approx(0.25)
            assert drum.reason == "largest_move"
            loss = row.effects[0]
            # truth: exp(-1.2 u + 0.4 u^2) at u = 0.25
            assert loss.factor_low < np.exp(-1.2 * 0.25 + 0.4 * 0.25**2) < loss.factor_high
            assert row.gain_low < row.gain < row.gain_high
            assert row.probability > 0.95
            assert row.least_gain_without is not None
            assert row.least_gain_without > 0
            assert loss.skill is not None
            assert loss.skill > 0.3
            assert 0 < drum.same_day_share < 1
            assert drum.likely is not None
            assert -1 <= drum.likely[0] < drum.likely[1] <= 1


class TestTheSameAgain:
    @settings(max_examples=8, deadline=None)
    @given(SEEDS)
    def test_order_of_records_does_not_change_a_digit(self, seed: int) -> None:
        records = drawn(seed)
        order = np.random.default_rng(seed).permutation(len(records.session))
        assert asdict(draft_of(chosen(records, order))) == asdict(draft_of(records))

    def test_a_draft_from_recorded_sums_is_the_same_draft(self) -> None:
        made = sums(replace(drawn(3), season=np.zeros(240, dtype=int)))
        kept = CellStatistics(made.layout, made.keys, np.frombuffer(made.sums.tobytes()).reshape(made.sums.shape))
        one, other = (propose(fit(s, CELLS, OUTCOMES, METHOD), rooms(), METHOD, 4) for s in (made, kept))
        assert one == other

    def test_another_number_draws_anew(self) -> None:
        fitted = learnt(drawn(4))
        gains = {propose(fitted, rooms(), METHOD, number).cells[0].gain for number in (1, 2)}
        assert len(gains) == 2

    def test_the_draft_says_what_it_was_made_from(self) -> None:
        records = drawn(5)
        assert draft_of(records).statistics == draft_of(records, 2).statistics
        assert draft_of(records).statistics != draft_of(drawn(6)).statistics

    def test_erasing_a_contributor_is_never_having_had_him(self) -> None:
        records = replace(drawn(7), season=np.zeros(240, dtype=int))
        name = records.contributors[2]
        rest = chosen(records, records.contributor != 2)
        erased = fit(without_contributor(sums(records), name), CELLS, OUTCOMES, METHOD)
        assert propose(erased, rooms(), METHOD, 1) == draft_of(rest)


class TestOneContributor:
    @settings(max_examples=10, deadline=None)
    @given(SEEDS, st.floats(-8, 8), st.floats(-5, 5))
    def test_whatever_he_says_the_row_moves_by_at_most_one_step(self, seed: int, slope: float, level: float) -> None:
        records = drawn(seed, 300, members=12)
        lie = records.log_amounts.copy()
        own = records.contributor == 0
        lie[own] = level + slope * records.features[own, 1:2]
        without = proposed(draft_of(chosen(records, ~own)))
        told = proposed(draft_of(replace(records, log_amounts=lie)))
        assert np.abs(told - without).max() <= 2 * GATE.largest_move + 1e-9

    @pytest.mark.parametrize("slope", [6.0, 12.0, 25.0])
    def test_who_contradicts_everybody_is_set_aside_and_moves_nothing(self, slope: float) -> None:
        records = drawn(9, 600, members=12)
        own = records.contributor == 3
        lie = records.log_amounts.copy()
        lie[own] = slope * records.features[own, 1:2]
        draft = draft_of(replace(records, log_amounts=lie))
        assert [one.contributor for one in draft.contributors if one.set_aside] == ["grower 3"]
        without = draft_of(chosen(records, ~own))
        assert proposed(draft) == pytest.approx(proposed(without), abs=1e-9)

    def test_more_contradicting_than_may_be_set_aside_stop_the_draft(self) -> None:
        records = drawn(10, 800, members=12, scatter=0.1)
        lie = records.log_amounts.copy()
        for g in range(5):  # five of twelve, each with a story of his own
            own = records.contributor == g
            lie[own] = (-1) ** g * (8 + 3 * g) * records.features[own, 1 + g % 2, None]
        draft = draft_of(replace(records, log_amounts=lie))
        assert {row.reason for row in draft.cells} == {"contributors_disagree"}
        assert (proposed(draft) == 0).all()

    def test_what_a_move_is_worth_without_a_contributor_is_what_a_fit_without_him_says(self) -> None:
        records = replace(drawn(11, 500, slope=-1.2), season=np.zeros(500, dtype=int))
        fitted = learnt(records)
        here, there = np.zeros(2), np.array([0.25, 0.0])
        draws = cost_draws(answer(fitted, 0, 5).belief, LAYOUT, OUTCOMES, 400, 1, "any")
        found = without_each(fitted, held_out(fitted), 0, draws, here, there, own=True)
        for g, name in enumerate(fitted.setup.equations.contributors):
            again = fit(without_contributor(sums(records), name), CELLS, OUTCOMES, METHOD)
            before, after = costs(
                cost_draws(answer(again, 0, 5).belief, LAYOUT, OUTCOMES, 400, 1, "any"), np.array([here, there])
            )
            # scatter, cap and weights are found anew here, and were found with him there
            assert found.gain[g] == pytest.approx((before - after).mean() / before.mean(), abs=0.03)
            assert found.probability[g] == pytest.approx(np.mean(after < before), abs=0.03)

    def test_a_row_that_rests_on_one_contributor_is_left(self) -> None:
        """One member tells of a large effect, the others of next to none; he may not be set aside."""
        records = drawn(23, 160, members=6, slope=-0.3, scatter=0.3, missing=0.0)
        louder = records.log_amounts.copy()
        one = records.contributor == 0
        louder[one, 0] -= 1.5 * records.features[one, 1]
        gate = replace(GATE, early_probability_without=0.999)
        method = replace(METHOD, gate=gate)
        fitted = learnt(replace(records, log_amounts=louder), method)
        free = propose(fitted, rooms(), replace(METHOD, gate=replace(gate, early_probability_without=0.5)), 1)
        held = propose(fitted, rooms(), method, 1)
        left = [row for row in held.cells if row.reason == "rests_on_one_contributor"]
        assert left
        for row in left:
            assert row.least_probability_without is not None
            assert row.least_probability_without < gate.early_probability_without
            assert all(setting.proposed == setting.now for setting in row.settings)
            assert next(one for one in free.cells if one.cell == row.cell).reason == "proposed"


class TestRows:
    def test_slips_of_the_decimal_point_hardly_count(self) -> None:
        records = drawn(12, 400, missing=0.0)
        fitted = learnt(records)
        slipped = records.log_amounts.copy()
        slipped[::20] += np.log(10) * np.where(np.arange(20) % 2, 1, -1)[:, None]
        found = row_weights(
            replace(records, log_amounts=slipped), fitted, sums(records), METHOD.rows, METHOD.model.session_ratio
        )
        assert np.mean(found[::20] <= 0.02) > 0.95
        honest = np.delete(found, np.arange(0, 400, 20), axis=0)
        assert honest.mean() > 0.9
        assert honest.min() >= METHOD.rows.stray_weight

    def test_order_does_not_change_the_sums_that_weights_lead_to(self) -> None:
        records = drawn(13, 200)
        fitted, ratio = learnt(records), METHOD.model.session_ratio
        order = np.random.default_rng(0).permutation(200)
        one, other = (
            accumulate(part, row_weights(part, fitted, no_statistics(LAYOUT), METHOD.rows, ratio), ratio)
            for part in (records, chosen(records, order))
        )
        assert np.array_equal(one.sums, other.sums)

    def test_records_that_cannot_be_are_refused_with_the_reason(self) -> None:
        records = drawn(14, 4, missing=0.0)
        broken, silent = records.features.copy(), records.log_amounts.copy()
        broken[0, 1], broken[1, -1], silent[2] = 1.21, np.nan, np.nan
        found = refusals(replace(records, features=broken, log_amounts=silent), METHOD.rows)
        assert found == ["setting_far", "incomplete", "nothing_reported", ""]

    def test_a_cell_that_the_fit_does_not_know_is_refused(self) -> None:
        records = replace(drawn(15, 10), cells=("west.dry", "north.dry", "south.dry"))
        with pytest.raises(UnknownName):
            row_weights(records, learnt(drawn(15)), no_statistics(LAYOUT), METHOD.rows, 0.5)


class TestChoice:
    def test_mean_of_the_draws_is_the_lognormal_mean(self) -> None:
        belief = Normals(np.zeros((1, 7)), np.diag([0.04, 0.09, 0, 0, 0, 0, 0])[None])
        draws = cost_draws(belief, LAYOUT, OUTCOMES[:1], 200_000, 1, "any")
        found = costs(draws, np.array([[0.0, 0.0], [1.0, 0.0]])).mean(axis=1)
        assert found == pytest.approx(np.exp([0.02, 0.065]), rel=3e-3)

    def test_the_search_finds_the_least_cost_inside_the_move(self) -> None:
        truth = np.array([0.0, -0.3, 0.1, 1.0, 1.0])[None, :, None].repeat(2, axis=2)  # least at 0.15, -0.05
        room = Room(np.zeros(2), -np.ones(2), np.ones(2), np.full(2, 0.05))
        assert choose(CostDraws(np.ones(1), truth), room, GATE, 0.7).best == pytest.approx([0.15, -0.05])

    @pytest.mark.parametrize(
        ("shift", "widening", "ends"),
        [(0.0, 1.0, (0.05, 0.45)), (0.0, 1.2, (0.01, 0.49)), (0.7, 1.0, (0.75, 1.0)), (2.0, 1.0, (1.0, 1.0))],
    )
    def test_the_best_is_likely_where_the_parabolas_have_their_least(
        self, shift: float, widening: float, ends: tuple[float, float]
    ) -> None:
        """Parabolas with their least at 0, 0.05 ... 0.5: the tenth percentile is 0.05, the ninetieth 0.45."""
        least = shift + np.arange(0, 0.501, 0.05)
        flat = np.zeros_like(least)
        draws = CostDraws(np.ones(1), np.array([[flat, -least, flat, flat + 0.5, flat + 0.3]]))
        room = Room(np.zeros(2), -np.ones(2), np.ones(2), np.full(2, 0.05))
        found = least_at(draws, room, np.array([-0.4, 0.2]), 0, widening)
        assert found == pytest.approx(ends, abs=1e-9)

    def test_a_place_between_steps_may_stay(self) -> None:
        room = Room(np.array([0.03]), np.array([-1.0]), np.array([1.0]), np.array([0.1]))
        assert ways(room, 0, 0.25) == pytest.approx([-0.2, -0.1, 0.0, 0.03, 0.1, 0.2])

    def test_a_step_of_nothing_is_refused(self) -> None:
        with pytest.raises(OutOfRange):
            ways(Room(np.zeros(1), -np.ones(1), np.ones(1), np.zeros(1)), 0, 0.25)

    def test_a_local_value_outside_the_envelope_is_refused(self) -> None:
        with pytest.raises(OutOfRange):
            draft_of(drawn(1), now=0.5, high=0.4)

    def test_a_cell_without_room_is_refused(self) -> None:
        with pytest.raises(UnknownName):
            propose(learnt(drawn(1)), dict(list(rooms().items())[:2]), METHOD, 1)


class TestPairedTests:
    def test_value_is_that_of_many_draws(self) -> None:
        rng = np.random.default_rng(1)
        for gain, before, after in ((0.03, 0.1, 0.04), (-0.05, 0.08, 0.0), (0.0, 0.2, 0.1)):
            told = rng.normal(gain, np.sqrt(before**2 - after**2), 400_000)
            expected = np.maximum(told, 0).mean() - max(gain, 0)
            assert value_of_trying(gain, before, after) == pytest.approx(expected, abs=3e-4)

    def test_the_setting_that_is_least_known_is_worth_most(self) -> None:
        fitted = learnt(drawn(16, 500))
        who = answer(fitted, 0, GATE.least_contributors)
        tests = paired_tests(fitted, who.belief, rooms()[CELLS[0]], GATE.largest_move, 3)
        assert [one.setting for one in tests] == ["gap", "drum"]  # only the drum was changed within days
        assert tests[0].gain_sd_after < tests[0].gain_sd
        assert all(abs(one.after - one.before) <= GATE.largest_move + 1e-9 for one in tests)

    def test_more_pairs_are_worth_more(self) -> None:
        fitted = learnt(drawn(17, 200))
        values = [
            paired_tests(fitted, fitted.belief.shared, rooms()[CELLS[0]], 0.25, pairs)[0].value for pairs in (1, 3, 30)
        ]
        assert values == sorted(values)
        assert values[0] < values[2]

    def test_a_setting_that_cannot_move_has_no_test(self) -> None:
        fitted = learnt(drawn(18))
        room = Room(np.zeros(2), np.array([0.0, -1.0]), np.array([0.0, 1.0]), np.full(2, 0.05))
        tests = paired_tests(fitted, fitted.belief.shared, room, 0.25, 3)
        assert [one.setting for one in tests] == ["gap"]

    def test_share_of_pairs_is_that_of_the_sums_done_by_hand(self) -> None:
        # four days with readings at 0 and 0.3 in each cell: 4 x 0.045 within days, 0.09 - 0.06 between them
        assert same_day_share(invented_fit()).ravel() == pytest.approx([6 / 7, 6 / 7], abs=1e-5)

    def test_a_setting_that_is_never_touched_has_no_evidence(self) -> None:
        records = drawn(19, 200)
        still = records.features.copy()
        still[:, 2], still[:, 4] = 0.0, 0.0  # the gap is never touched
        share = same_day_share(learnt(replace(records, features=still)))
        assert (share[:, 1] == 0).all()
        assert ((share[:, 0] > 0) & (share[:, 0] < 1)).all()
