"""residue.toml together with the crops."""

from dataclasses import replace
from pathlib import Path

import pytest

from service.knowledge.digest import digest
from service.knowledge.load import load_table
from service.knowledge.residue import FIGURE_UNITS, cover_of, lines_of, residue_faults, why_no_line
from service.knowledge.schema_residue import ResidueFile
from service.knowledge.tree import PACKAGE_FOLDER, RESIDUE, KnowledgeTree


@pytest.fixture(scope="module")
def residue(tree: KnowledgeTree) -> ResidueFile:
    assert tree.residue is not None
    return tree.residue


def faults_with(tree: KnowledgeTree, residue: ResidueFile, **change: object) -> list[str]:
    return list(residue_faults(replace(tree, residue=residue.model_copy(update=change))))


def test_the_file_of_the_package_is_sound(tree: KnowledgeTree) -> None:
    assert list(residue_faults(tree)) == []


def test_every_crop_has_a_line_or_a_reason_in_both_languages(residue: ResidueFile) -> None:
    crops = set(load_table().crops)
    assert {line.crop for line in residue.yield_line} | {entry.crop for entry in residue.no_yield_line} == crops
    assert all(entry.why.de for entry in residue.no_yield_line)


def test_a_forgotten_crop_is_a_fault(tree: KnowledgeTree, residue: ResidueFile) -> None:
    left = [line for line in residue.yield_line if line.crop != "oats"]
    assert faults_with(tree, residue, yield_line=left) == [
        f"{RESIDUE}: yield_line: crop oats has neither a line nor a reason why not"
    ]


def test_a_line_that_stands_twice_is_a_fault(tree: KnowledgeTree, residue: ResidueFile) -> None:
    twice = [*residue.yield_line, residue.yield_line[0]]
    assert faults_with(tree, residue, yield_line=twice) == [
        f"{RESIDUE}: yield_line: crop wheat, kind winter, stands 2 times"
    ]


def test_a_crop_with_a_line_and_a_reason_is_a_fault(tree: KnowledgeTree, residue: ResidueFile) -> None:
    both = [*residue.no_yield_line, residue.no_yield_line[0].model_copy(update={"crop": "oats"})]
    assert faults_with(tree, residue, no_yield_line=both) == [
        f"{RESIDUE}: no_yield_line: crop oats has a line and a reason why not"
    ]


def test_a_cover_twice_and_of_no_crop_are_faults(tree: KnowledgeTree, residue: ResidueFile) -> None:
    odd = residue.cover[0].model_copy(update={"crops": ["oats", "moonwort"]})
    assert faults_with(tree, residue, cover=[*residue.cover, odd]) == [
        f"{RESIDUE}: cover: crop oats stands 2 times",
        f"{RESIDUE}: there is no crop moonwort",
    ]


@pytest.mark.parametrize(
    ("low", "high"), [("cv_good", "cv_watch"), ("standing_good", "standing_watch"), ("side_good", "side_watch")]
)
def test_bands_must_follow_each_other(low: str, high: str, tree: KnowledgeTree, residue: ResidueFile) -> None:
    figures = residue.figures.model_copy(update={high: getattr(residue.figures, low)})
    assert faults_with(tree, residue, figures=figures) == [f"{RESIDUE}: figures.{high}: is not above {low}"]


def test_a_folder_may_do_without_the_file(tree: KnowledgeTree) -> None:
    assert list(residue_faults(replace(tree, residue=None))) == []


def test_every_figure_has_its_unit(residue: ResidueFile) -> None:
    for name, figure in residue.figures:
        assert figure.unit == FIGURE_UNITS[name], name


def test_bands_without_a_published_figure_say_that_they_are_ours(residue: ResidueFile) -> None:
    for name in (
        "cv_good",
        "cv_watch",
        "standing_good",
        "standing_watch",
        "side_good",
        "side_watch",
        "index_attainable",
    ):
        figure = getattr(residue.figures, name)
        assert figure.basis == "expert", name
        assert "ours" in (figure.note or ""), name
    for name in ("ratio_no_till", "coverage_least"):
        assert getattr(residue.figures, name).basis == "published", name


def test_lines_taken_over_from_a_group_say_so(residue: ResidueFile) -> None:
    table = load_table()
    for crop in ("field_pea", "triticale"):
        (line,) = lines_of(residue, table.crop(crop))
        assert line.residue_slope.known == "derived"
    assert [line.kind for line in lines_of(residue, table.crop("wheat"))] == ["winter", "spring"]
    assert lines_of(residue, table.crop("canola")) == ()
    assert "oilseed rape" in why_no_line(residue, table.crop("canola")).en
    assert cover_of(residue, table.crop("canola")) is None


def test_a_crop_of_ones_own_is_not_asked_for_and_gets_a_reason(tree: KnowledgeTree, residue: ResidueFile) -> None:
    own = tree.crops["crops/wheat.toml"].model_copy(update={"id": "emmer"})
    name = "extra crops/emmer.toml"
    laid_over = replace(tree, crops={**tree.crops, name: own}, local=frozenset({name}))
    assert list(residue_faults(laid_over)) == []
    assert why_no_line(residue, own).de


def test_the_file_is_part_of_the_digest(tree: KnowledgeTree, residue: ResidueFile) -> None:
    moved = residue.figures.cv_good.model_copy(update={"value": 14.0})
    figures = residue.figures.model_copy(update={"cv_good": moved})
    assert digest(tree) != digest(replace(tree, residue=residue.model_copy(update={"figures": figures})))


def test_the_order_of_lines_does_not_count(tree: KnowledgeTree, residue: ResidueFile) -> None:
    turned = residue.model_copy(update={"yield_line": residue.yield_line[::-1], "cover": residue.cover[::-1]})
    assert digest(tree) == digest(replace(tree, residue=turned))


def test_the_file_ships_beside_the_others() -> None:
    assert (Path(PACKAGE_FOLDER) / RESIDUE).is_file()
