"""refinement.toml: what may stand in it, and that a folder may do without."""

import pytest

from service.knowledge.refinement import FIGURE_UNITS
from service.knowledge.schema_refinement import RefinementFigures
from tests.knowledge.conftest import figure, practice

VALUES = {
    "early_probability": 90,
    "mature_probability": 70,
    "early_probability_without": 80,
    "mature_probability_without": 60,
    "set_aside_level": 99,
    "stray_weight": 0.02,
    "draws": 400,
}


def refinement():
    return {
        "figures": {name: figure(VALUES.get(name, 5), unit) for name, unit in FIGURE_UNITS.items()},
        "not_refined": [{"setting": "reel_index", **practice()}],
    }


@pytest.fixture
def with_refinement(book):
    book.files["refinement.toml"] = refinement()
    return book


def test_every_figure_has_a_unit():
    assert set(FIGURE_UNITS) == set(RefinementFigures.model_fields)


def test_a_sound_file_is_read(with_refinement):
    assert with_refinement.write().load().refinement.figures.least_contributors.value == 5


def test_a_folder_may_do_without(book):
    assert book.write().load().refinement is None


def test_the_digest_covers_it(with_refinement):
    before = with_refinement.write().load().digest
    with_refinement.files["refinement.toml"]["figures"]["caution"]["value"] = 6
    assert with_refinement.write().load().digest != before


@pytest.mark.parametrize(
    ("name", "value", "problem"),
    [
        ("curvature", 0, "0 is not above 0"),
        ("largest_share", 101, "101 % is more than all"),
        ("least_contributors", 4, "4 is below 5, the least"),
        ("draws", 50, "50 is below 100, the least"),
        ("starts", 2000, "2000 is above 1000, the most"),
        ("rounds", 2.5, "2.5 is not a whole number"),
        ("mature_probability", 40, "40 % is not from 50 to below 100"),
        ("set_aside_level", 100, "100 % is not from 50 to below 100"),
        ("mature_records", 4, "is below least_records"),
        ("early_probability", 60, "is below mature_probability"),
    ],
)
def test_a_figure_that_cannot_be_is_a_fault(with_refinement, name, value, problem):
    with_refinement.files["refinement.toml"]["figures"][name]["value"] = value
    assert with_refinement.write().faults() == [f"refinement.toml: figures.{name}.value: {problem}"]


def test_a_figure_in_another_unit_is_a_fault(with_refinement):
    with_refinement.files["refinement.toml"]["figures"]["largest_share"]["unit"] = "1"
    assert with_refinement.write().faults() == ["refinement.toml: figures.largest_share.unit: is in %, not in 1"]


def test_a_setting_that_does_not_exist_is_a_fault(with_refinement):
    with_refinement.files["refinement.toml"]["not_refined"][0]["setting"] = "horn"
    assert with_refinement.write().faults() == ["refinement.toml: not_refined.horn: there is no such setting"]


def test_a_setting_twice_is_a_fault(with_refinement):
    with_refinement.files["refinement.toml"]["not_refined"] *= 2
    assert with_refinement.write().faults() == ["refinement.toml: not_refined.reel_index: stands 2 times"]
