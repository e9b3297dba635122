"""The three claims of the advice bench, on the first of its own worlds: python -m tests.bench.advice has all."""

import pytest

from service.knowledge.load import load_table
from tests.bench.advice import FIRST_SEED, Result, advice_results, draw_worlds, rival_results
from tests.bench.advice_world import WORST_START, World

SEEDS = range(FIRST_SEED, FIRST_SEED + 120)


@pytest.fixture(scope="module")
def worlds() -> list[World]:
    return draw_worlds(load_table().influence, SEEDS)


@pytest.fixture(scope="module")
def found(worlds: list[World]) -> dict[str, Result]:
    return advice_results(load_table().influence, worlds, SEEDS, by_eye=False) | rival_results(worlds, SEEDS)


def test_nine_worlds_in_ten_come_within_ten_percent_of_the_best_in_eight_changes(found: dict[str, Result]) -> None:
    assert found["advice"].within >= 0.90
    assert found["advice, back free"].within >= 0.90


@pytest.mark.parametrize("rival", ["cycling", "random", "start"])
def test_advice_beats_the_rival(found: dict[str, Result], rival: str) -> None:
    advice, other = found["advice"].excess, found[rival].excess
    assert found["advice"].within > found[rival].within + 0.5
    assert advice[:, -1].mean() < 0.5 * other[:, -1].mean()
    assert (advice[:, -1] <= other[:, -1] + 1e-9).mean() > 0.8


def test_advice_leaves_hardly_any_world_worse(found: dict[str, Result]) -> None:
    assert found["advice"].harm <= 0.01


def test_worlds_are_not_trivial(worlds: list[World], found: dict[str, Result]) -> None:
    assert found["nobody"].within == 0.0
    assert found["start"].within < 0.4
    assert all(world.cost(world.start) >= (1 + WORST_START) * world.best for world in worlds)
    assert all(world.cost(world.optimum) == pytest.approx(world.best, rel=1e-6) for world in worlds)
    assert {world.machine_class for world in worlds} == {"walker", "hybrid", "axial"}
