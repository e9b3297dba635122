"""hauling.toml together with the crops."""

from dataclasses import replace
from pathlib import Path

import pytest

from service.domain.bulk_density import bulk_density_kg_m3
from service.knowledge.digest import digest
from service.knowledge.hauling import FIGURE_UNITS, density_curve, findings, hauling_faults
from service.knowledge.load import load_table
from service.knowledge.schema_hauling import HaulingFile
from service.knowledge.tree import HAULING, PACKAGE_FOLDER, KnowledgeTree
from service.text.catalogue import catalogue


@pytest.fixture(scope="module")
def hauling(tree: KnowledgeTree) -> HaulingFile:
    return tree.hauling


def faults(tree: KnowledgeTree, hauling: HaulingFile, **change: object) -> list[str]:
    return list(hauling_faults(replace(tree, hauling=hauling.model_copy(update=change))))


def test_the_file_of_the_package_is_sound(tree: KnowledgeTree) -> None:
    assert list(hauling_faults(tree)) == []


def test_every_figure_has_its_unit(hauling: HaulingFile) -> None:
    assert {name: figure.unit for name, figure in hauling.figures} == FIGURE_UNITS


def test_what_no_source_gives_is_told_as_practice(hauling: HaulingFile) -> None:
    figures = hauling.figures
    for figure in (figures.unloading_rate, figures.reduced_share, figures.docking, figures.call_level):
        assert (figure.basis, figure.known) == ("expert", "practice")
    assert (figures.unloading_rate.low, figures.unloading_rate.high) == (110, 180)
    assert {row.known for row in hauling.bulk_density} == {"memory"}


def test_a_crop_that_is_not_there_or_stands_twice_is_a_fault(tree: KnowledgeTree, hauling: HaulingFile) -> None:
    first = hauling.bulk_density[0]
    stray = first.model_copy(update={"crop": "moonwort"})
    assert faults(tree, hauling, bulk_density=[stray]) == [
        f"{HAULING}: bulk_density {first.id}: crop: there is no crop moonwort"
    ]
    assert faults(tree, hauling, bulk_density=[first, first]) == [
        f"{HAULING}: bulk_density: crop {first.crop} stands 2 times"
    ]


def test_a_curve_that_has_turned_is_a_fault(tree: KnowledgeTree, hauling: HaulingFile) -> None:
    turned = hauling.bulk_density[0].model_copy(update={"at_moisture_pct": 35.0})
    assert faults(tree, hauling, bulk_density=[turned]) == [
        f"{HAULING}: bulk_density {turned.id}: at_moisture_pct: the curve has turned before this moisture"
    ]


def test_a_finding_that_stands_twice_is_a_fault(tree: KnowledgeTree, hauling: HaulingFile) -> None:
    first = hauling.finding[0]
    assert faults(tree, hauling, finding=[first, first]) == [f"{HAULING}: finding: finding {first.code} stands 2 times"]


def test_every_finding_has_a_text_and_a_topic_that_is_asked_for(hauling: HaulingFile) -> None:
    told = findings(hauling, "unloading", "edge", "plan", "formula")
    assert told == hauling.finding
    assert {f"haul.finding.{one.code}" for one in told} <= set(catalogue("en"))
    assert [one.code for one in findings(hauling, "formula")] == ["queue"]


def test_curves_lie_near_the_bulk_density_of_their_crop(hauling: HaulingFile) -> None:
    table = load_table()
    for row in hauling.bulk_density:
        crop = table.crop(row.crop)
        assert density_curve(hauling, crop) is row
        loose = bulk_density_kg_m3(row.at_moisture_pct, row.a, row.b, row.c) / 10
        # loose fill in a laboratory against a test weight
        assert loose == pytest.approx(crop.physical.bulk_density.value, rel=0.15), row.crop
    assert density_curve(hauling, table.crop("field_pea")) is None


def test_the_file_is_part_of_the_digest(tree: KnowledgeTree, hauling: HaulingFile) -> None:
    moved = hauling.figures.docking.model_copy(update={"value": 31.0})
    figures = hauling.figures.model_copy(update={"docking": moved})
    assert digest(tree) != digest(replace(tree, hauling=hauling.model_copy(update={"figures": figures})))
    turned = hauling.model_copy(update={"bulk_density": hauling.bulk_density[::-1]})
    assert digest(tree) == digest(replace(tree, hauling=turned))


def test_the_file_ships_beside_the_others() -> None:
    assert (Path(PACKAGE_FOLDER) / HAULING).is_file()
