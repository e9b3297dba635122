"""harvest_window.toml together with crops and coefficient sets."""

import csv
import json
import re
from dataclasses import replace
from pathlib import Path

import pytest

from service.errors import NotCovered
from service.knowledge.digest import digest
from service.knowledge.load import load_table
from service.knowledge.schema_window import CropGrains, HarvestWindowFile
from service.knowledge.tree import PACKAGE_FOLDER, WINDOW, KnowledgeTree
from service.knowledge.window import FIGURE_UNITS, own_grains, pace_of, sets_of, window_faults


@pytest.fixture(scope="module")
def window(tree: KnowledgeTree) -> HarvestWindowFile:
    assert tree.window is not None
    return tree.window


def with_window(tree: KnowledgeTree, window: HarvestWindowFile, **change: object) -> list[str]:
    return list(window_faults(replace(tree, window=window.model_copy(update=change))))


def test_the_file_of_the_package_is_sound(tree: KnowledgeTree) -> None:
    assert list(window_faults(tree)) == []


def test_every_crop_has_grains_or_a_reason_in_both_languages(window: HarvestWindowFile) -> None:
    crops = set(load_table().crops)
    assert {entry.crop for entry in window.equilibrium} | {entry.crop for entry in window.no_equilibrium} == crops
    assert all(entry.why.de for entry in window.no_equilibrium)


def test_a_forgotten_crop_is_a_fault(tree: KnowledgeTree, window: HarvestWindowFile) -> None:
    faults = with_window(tree, window, equilibrium=window.equilibrium[1:])
    assert faults == [
        f"{WINDOW}: equilibrium: crop {window.equilibrium[0].crop} has neither grains nor a reason why not"
    ]


def test_a_crop_answered_twice_is_a_fault(tree: KnowledgeTree, window: HarvestWindowFile) -> None:
    faults = with_window(tree, window, equilibrium=[*window.equilibrium, window.equilibrium[0]])
    assert faults == [f"{WINDOW}: equilibrium: crop {window.equilibrium[0].crop} is answered 2 times"]


def test_a_figure_that_stands_twice_and_one_of_no_crop_are_faults(
    tree: KnowledgeTree, window: HarvestWindowFile
) -> None:
    stray = window.pace[0].model_copy(update={"crop": "moonwort"})
    faults = with_window(tree, window, pace=[*window.pace, window.pace[0], stray])
    assert f"{WINDOW}: pace: crop {window.pace[0].crop} stands twice" in faults
    assert f"{WINDOW}: there is no crop moonwort" in faults
    assert len(faults) == 2


def test_a_grain_without_a_set_is_a_fault(tree: KnowledgeTree, window: HarvestWindowFile) -> None:
    odd = CropGrains(crop=window.equilibrium[0].crop, grains=["moonwort"])
    faults = with_window(tree, window, equilibrium=[odd, *window.equilibrium[1:]])
    assert faults == [f"{WINDOW}: equilibrium.{odd.crop}: there is no coefficient set for moonwort"]


def test_a_folder_may_do_without_the_file(tree: KnowledgeTree) -> None:
    assert list(window_faults(replace(tree, window=None))) == []


def test_a_crop_of_ones_own_is_not_asked_for_and_gets_a_reason(tree: KnowledgeTree, window: HarvestWindowFile) -> None:
    own = tree.crops["crops/wheat.toml"].model_copy(update={"id": "emmer"})
    laid_over = replace(
        tree, crops={**tree.crops, "extra crops/emmer.toml": own}, local=frozenset({"extra crops/emmer.toml"})
    )
    assert list(window_faults(laid_over)) == []
    with pytest.raises(NotCovered) as refused:
        sets_of(tree.equilibrium, window, own, None)
    assert "equilibrium_grain" in str(refused.value.facts["why"])
    assert sets_of(tree.equilibrium, window, own, "wheat")[0].crop == "wheat"


def test_the_default_set_comes_first(tree: KnowledgeTree, window: HarvestWindowFile) -> None:
    for entry in window.equilibrium:
        crop = load_table().crop(entry.crop)
        assert own_grains(window, crop) == entry.grains
        sets = sets_of(tree.equilibrium, window, crop, None)
        assert sets[0] is tree.equilibrium.default(entry.grains[0])
        assert len(sets) == len(set(sets)) == sum(len(tree.equilibrium.of(grain)) for grain in entry.grains)
        for grain in entry.grains:
            first, *others = sets_of(tree.equilibrium, window, crop, grain)
            assert first is tree.equilibrium.default(grain)
            assert {one.crop for one in others} <= {grain}


PRINTED = {"maize": "maize", "soybean": "soybean", "sorghum": "sorghum", "rice_long": "rice_rough_long"}


def test_the_default_sets_are_those_that_reproduce_the_printed_table(tree: KnowledgeTree) -> None:
    """72 cells of the table of an extension source, checked one by one as check values; here: with which sets."""
    folder = Path(__file__).parents[1] / "domain" / "check_values"
    with (folder / "equilibrium.csv").open(encoding="utf-8", newline="") as lines:
        rows = [row for row in csv.DictReader(lines) if re.fullmatch(r"table-.*-\d+-\d+f", row["id"])]
    assert len(rows) == 72
    for row in rows:
        grain = PRINTED.get(row["id"].split("-")[1], "wheat_durum")
        used, asked = tree.equilibrium.default(grain), json.loads(row["arguments"])
        assert (used.form, used.A, used.B, used.C) == tuple(asked[name] for name in ("form", "A", "B", "C")), row["id"]


def test_a_crop_without_a_figure_has_none(window: HarvestWindowFile) -> None:
    table = load_table()
    assert pace_of(window, table.crop("wheat")) is None
    assert pace_of(window, table.crop("maize")) is window.pace[0].rate_per_day


def test_every_figure_has_its_unit(window: HarvestWindowFile) -> None:
    for name, figure in window.figures:
        assert figure.unit == FIGURE_UNITS[name], name


def test_paces_are_marked_as_our_own_inference(window: HarvestWindowFile) -> None:
    assert {(one.rate_per_day.basis, one.rate_per_day.known) for one in window.pace} == {("computed", "derived")}


def test_the_window_is_part_of_the_digest(tree: KnowledgeTree, window: HarvestWindowFile) -> None:
    moved = window.figures.dew_humidity.model_copy(update={"value": 93.0})
    figures = window.figures.model_copy(update={"dew_humidity": moved})
    assert digest(tree) != digest(replace(tree, window=window.model_copy(update={"figures": figures})))


def test_the_file_ships_beside_the_others() -> None:
    assert (Path(PACKAGE_FOLDER) / WINDOW).is_file()
