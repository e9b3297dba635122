"""What the refinement bench claims, on a few of its own worlds: python -m tests.bench.refinement has all."""

import numpy as np
import pytest

from tests.bench.refinement import FRESH, Results, run
from tests.bench.refinement_world import CELLS, SETTINGS, Kind, draw, report

SEEDS = range(FRESH, FRESH + 12)


@pytest.fixture(scope="module")
def found() -> Results:
    return run(Kind(), (20, 1_000), SEEDS, processes=1)


def test_twenty_records_leave_the_table_unchanged(found: Results) -> None:
    assert not found["ours"][20].moved.any()


def test_a_thousand_records_take_off_more_than_a_third_of_the_regret(found: Results) -> None:
    assert found["ours"][1_000].mean < 0.6 * found["base"][1_000].mean


@pytest.mark.parametrize("rival", ["mean", "weighted"])
def test_refinement_beats_the_rival(found: Results, rival: str) -> None:
    assert found["ours"][1_000].mean < 0.7 * found[rival][1_000].mean
    assert found["ours"][1_000].harm < 0.5 * found[rival][1_000].harm


def test_the_known_best_is_the_best() -> None:
    rng = np.random.default_rng(1)
    for seed in range(5):
        for parabolas in (False, True):
            world = draw(seed, Kind(parabolas=parabolas))
            assert world.regret(world.best) == pytest.approx(0, abs=1e-12)
            for _ in range(40):
                near = np.clip(world.best + rng.normal(0, 0.1, (CELLS, len(SETTINGS))), -1, 1)
                assert world.regret(near) > -1e-9


def test_choices_are_confounded_and_some_records_are_grossly_wrong() -> None:
    world = draw(2, Kind(attack="", gross=0.05, missing=0.0))
    told = report(world, 20_000, 2)
    hard, easy = told.hardness > 0, told.hardness < 0
    assert told.settings[hard, 0].mean() > told.settings[easy, 0].mean() + 0.1  # faster rotor in hard crop
    assert told.amounts[hard, 0].mean() > told.amounts[easy, 0].mean()  # and more loss for another reason
    clean = report(draw(2, Kind(attack="", gross=0.0, missing=0.0)), 20_000, 2)
    assert np.quantile(told.amounts[:, 0], 0.99) > 2 * np.quantile(clean.amounts[:, 0], 0.99)


@pytest.mark.parametrize(("attack", "crowd"), [("crude", 1), ("smart", 1), ("pairs", 1), ("smart3", 3), ("pairs3", 3)])
def test_attackers_send_fifteen_percent(attack: str, crowd: int) -> None:
    world = draw(3, Kind(attack=attack))
    told = report(world, 1_000, 3)
    bad = told.farm >= world.kind.farms
    assert bad.mean() == pytest.approx(0.15)
    assert len(np.unique(told.farm[bad])) == crowd
