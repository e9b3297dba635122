"""loss_monitor.toml: what may stand in it, and that a folder may do without."""

import pytest

from service.knowledge.monitor import FIGURE_UNITS
from service.knowledge.schema_monitor import MonitorFigures
from tests.knowledge.conftest import figure, practice


def monitor():
    whole = {"fewest_pairs": 3, "fewest_pairs_for_bend": 5, "most_pairs": 40}
    figures = {name: figure(whole.get(name, 5), unit) for name, unit in FIGURE_UNITS.items()}
    return {
        "figures": figures,
        "finding": [{"code": "trend_only", "when": "always", **practice()}],
        "redo": [{"code": "crop", "sensors": ["cleaning"], **practice()}],
    }


@pytest.fixture
def with_monitor(book):
    book.files["loss_monitor.toml"] = monitor()
    return book


def test_every_figure_has_a_unit():
    assert set(FIGURE_UNITS) == set(MonitorFigures.model_fields)


def test_a_sound_file_is_read(with_monitor):
    assert with_monitor.write().load().monitor.figures.fewest_pairs.value == 3


def test_a_folder_may_do_without(book):
    assert book.write().load().monitor is None


def test_the_digest_covers_it(with_monitor):
    before = with_monitor.write().load().digest
    with_monitor.files["loss_monitor.toml"]["figures"]["pan_error"]["value"] = 6
    assert with_monitor.write().load().digest != before


@pytest.mark.parametrize(
    ("name", "value", "problem"),
    [
        ("pan_error", 0, "0 is not above 0"),
        ("sensor_share", 101, "101 % is more than all"),
        ("fewest_pairs", 2, "2 is below 3, which the formulas need"),
        ("fewest_pairs_for_bend", 4, "4 is below 5, which the formulas need"),
        ("most_pairs", 20.5, "20.5 is not a whole number"),
    ],
)
def test_a_figure_that_cannot_be_is_a_fault(with_monitor, name, value, problem):
    with_monitor.files["loss_monitor.toml"]["figures"][name]["value"] = value
    assert with_monitor.write().faults() == [f"loss_monitor.toml: figures.{name}.value: {problem}"]


def test_a_figure_in_another_unit_is_a_fault(with_monitor):
    with_monitor.files["loss_monitor.toml"]["figures"]["small_seed_mass"]["unit"] = "kg"
    expected = ["loss_monitor.toml: figures.small_seed_mass.unit: is in g, not in kg"]
    assert with_monitor.write().faults() == expected


@pytest.mark.parametrize("table", ["finding", "redo"])
def test_a_code_stands_once(with_monitor, table):
    entries = with_monitor.files["loss_monitor.toml"][table]
    entries.append(dict(entries[0]))
    code = entries[0]["code"]
    assert with_monitor.write().faults() == [f"loss_monitor.toml: {table} {code}: code: stands 2 times"]


def test_a_misspelt_key_is_a_fault(with_monitor):
    with_monitor.files["loss_monitor.toml"]["finding"][0]["wen"] = "always"
    assert "loss_monitor.toml: finding[0].wen: unknown key" in with_monitor.write().faults()
