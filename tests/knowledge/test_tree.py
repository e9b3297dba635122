"""Faults of one file alone: each names file, row and key."""

import pytest

from service.knowledge.tree import fault


def _set(path, value):
    def change(book):
        *steps, last = path
        node = book.files
        for step in steps:
            node = node[step]
        if value is None:
            del node[last]
        else:
            node[last] = value

    return change


WHEAT = "crops/wheat.toml"
DRUM = "crops/wheat.toml: row wheat.walker.threshing_speed"

FAULTS = {
    "unknown key in a row": (_set([WHEAT, "row", 0, "strat"], 1), f"{DRUM}: strat: unknown key"),
    "unknown key at the top": (_set([WHEAT, "colour"], "gold"), "crops/wheat.toml: colour: unknown key"),
    "missing key": (_set([WHEAT, "row", 0, "start"], None), f"{DRUM}: start: the key is missing"),
    "text for a number": (
        _set([WHEAT, "row", 0, "low"], "20"),
        f"{DRUM}: low: Input should be a valid number, not '20'",
    ),
    "bool for a number": (
        _set([WHEAT, "row", 0, "low"], True),
        f"{DRUM}: low: Input should be a valid number, not True",
    ),
    "nan": (
        _set([WHEAT, "physical", "bulk_density", "value"], float("nan")),
        "crops/wheat.toml: physical.bulk_density.value: Input should be a finite number, not nan",
    ),
    "low above start": (
        _set([WHEAT, "row", 0, "low"], 30),
        f"{DRUM}: low 30.0 <= start 26.18 <= high 34.0 does not hold",
    ),
    "high below value": (
        _set([WHEAT, "physical", "bulk_density", "high"], 70),
        "crops/wheat.toml: physical.bulk_density: value 75.0 is above high 70.0",
    ),
    "unknown class": (
        _set([WHEAT, "row", 0, "classes"], ["drum"]),
        f"{DRUM}: classes[0]: Input should be 'walker', 'hybrid', 'axial' or 'twin_axial', not 'drum'",
    ),
    "unknown task": (
        _set([WHEAT, "coverage", "cooking"], {"level": "complete"}),
        "crops/wheat.toml: coverage.cooking: Input should be 'starting_settings' or 'ground_loss', not 'cooking'",
    ),
    "coverage without a why": (
        _set([WHEAT, "coverage", "ground_loss", "level"], "none"),
        "crops/wheat.toml: coverage.ground_loss: level none needs a why",
    ),
    "place of a citation": (
        _set([WHEAT, "row", 0, "source", "at"], ""),
        f"{DRUM}: source common-practice: at: String should have at least 1 character, not ''",
    ),
    "window out of order": (
        _set([WHEAT, "moisture", "best_low", "value"], 7),
        "crops/wheat.toml: moisture: floor < best_low <= best_high < ceiling does not hold: [8.0, 7.0, 18.0, 22.0]",
    ),
    "knots out of order": (
        _set([WHEAT, "response", 0, "knots"], [[0, 0], [0, 1]]),
        "crops/wheat.toml: response wheat.threshing_speed.moisture: knots must rise without repeating",
    ),
    "year as text": (
        _set(["sources/books.toml", "source", 0, "year"], "1999"),
        "sources/books.toml: source opened-book: year: Input should be a valid integer, not '1999'",
    ),
    "no row id": (_set([WHEAT, "row", 1, "id"], None), "crops/wheat.toml: row[1].id: the key is missing"),
}


@pytest.mark.parametrize(("change", "expected"), FAULTS.values(), ids=FAULTS.keys())
def test_fault_names_file_row_and_key(book, change, expected):
    change(book)
    assert book.write(stamp=False).faults() == [expected, "revision.toml: the file is missing"]


def test_bad_unit_names_the_known_ones(book):
    book.row("wheat.walker.threshing_speed")["unit"] = "mph"
    first = book.write(stamp=False).faults()[0]
    assert first.startswith(f"{DRUM}: unit: unit 'mph' is not one of %, ")


def test_duplicate_key_names_the_line_and_its_text(book):
    book.appended[WHEAT] = 'header = "reel"\n'
    line = len(book.write(stamp=False).folder.joinpath(WHEAT).read_text(encoding="utf-8").splitlines())
    faults = book.faults()
    assert faults[0].startswith("crops/wheat.toml: Cannot overwrite a value (at line ")
    assert f"line {line}," in faults[0]
    assert faults[0].endswith('header = "reel"')


def test_truncated_file_is_a_fault(book):
    book.appended[WHEAT] = "stubble = ["
    assert book.write(stamp=False).faults()[0].startswith("crops/wheat.toml: ")


def test_file_that_is_not_utf8_is_a_fault(book):
    book.write().folder.joinpath(WHEAT).write_bytes(b'id = "wei\xdfbrot"')
    assert book.faults() == ["crops/wheat.toml: not UTF-8 at byte 9"]


def test_file_that_is_a_folder_is_a_fault(book):
    path = book.write().folder / WHEAT
    path.unlink()
    path.mkdir()
    assert book.faults() == ["crops/wheat.toml: the file cannot be read: Is a directory"]


@pytest.mark.parametrize(
    "name", ["vocabulary.toml", "machines.toml", "responses.toml", "hauling.toml", "revision.toml"]
)
def test_missing_file_is_a_fault(book, name):
    (book.write().folder / name).unlink()
    assert book.faults() == [f"{name}: the file is missing"]


@pytest.mark.parametrize("name", ["sources", "crops"])
def test_missing_and_empty_folders_are_faults(book, name):
    folder = book.write().folder / name
    for path in folder.iterdir():
        path.unlink()
    assert f"{name}/: the folder holds no TOML file" in book.faults()
    folder.rmdir()
    assert f"{name}/: the folder is missing" in book.faults()


def test_all_faults_of_all_files_come_at_once(book):
    book.wheat["colour"] = "gold"
    book.row("wheat.walker.threshing_speed")["low"] = 30
    book.files["crops/maize.toml"]["power"] = "steam"
    book.machines["band"][0]["power_to_kw"] = "150"
    assert [text.split(": ")[0] for text in book.write(stamp=False).faults()] == [
        "machines.toml",
        "crops/maize.toml",
        "crops/wheat.toml",
        "crops/wheat.toml",
        "revision.toml",
    ]


def test_rules_across_files_hold_for_the_sound_crops_when_one_is_faulty(book):
    book.wheat["colour"] = "gold"
    book.files["crops/maize.toml"]["row"][0]["high"] = 99
    faults = book.write(stamp=False).faults()
    # the book that only the faulty crop cites is not called unused
    assert faults == [
        "crops/wheat.toml: colour: unknown key",
        "revision.toml: the file is missing",
        "crops/maize.toml: row maize.axial.threshing_speed: high: 99 is outside the 3 to 45 m/s of threshing_speed",
    ]


def test_fault_joins_keys_with_dots_and_ends_an_id_with_a_colon():
    assert fault("f.toml", ("a", "b"), "wrong") == "f.toml: a.b: wrong"
    assert fault("f.toml", ("row x.y", "printed[0]", "of"), "wrong") == "f.toml: row x.y: printed[0].of: wrong"
    assert fault("f.toml", (), "wrong") == "f.toml: wrong"


def test_a_faulty_coefficient_file_is_named(book):
    book.write()
    (book.folder / "coefficients").mkdir()
    (book.folder / "coefficients" / "equilibrium.csv").write_text("crop,form\n", encoding="utf-8")
    assert [fault.split(":")[0] for fault in book.faults()] == ["coefficients/equilibrium.csv"]
