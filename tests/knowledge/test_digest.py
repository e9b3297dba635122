"""The digest follows values and nothing else; revisions count up and need their entry."""

import shutil
from copy import deepcopy

import pytest

from service.errors import KnowledgeFault
from service.knowledge.digest import bump, digest
from service.knowledge.load import load_table
from service.knowledge.tree import PACKAGE_FOLDER, read_tree


def _digest(book, **how):
    tree = read_tree(book.write(stamp=False, **how).folder).tree
    assert tree is not None
    return digest(tree)


def test_comments_and_the_order_of_keys_do_not_count(book):
    first = _digest(book)
    assert first.startswith("sha256:")
    assert _digest(book, comment="# a remark\n\n") == first
    assert _digest(book, turned=True) == first


def test_whole_numbers_and_decimals_agree(book):
    first = _digest(book)
    book.wheat["physical"]["bulk_density"]["value"] = 75.0
    book.files["vocabulary.toml"]["quantity"][0]["minimum"] = 3.0
    assert _digest(book) == first


def test_one_citation_or_a_list_of_one_agree(book):
    first = _digest(book)
    book.wheat["damage"]["source"] = [book.wheat["damage"]["source"]]
    assert _digest(book) == first


def test_order_of_entries_with_an_id_does_not_count(book):
    first = _digest(book)
    book.wheat["row"].reverse()
    book.wheat["response"].reverse()
    book.responses["response"].reverse()
    book.files["vocabulary.toml"]["quantity"].reverse()
    book.files["influence.toml"]["lever"].reverse()
    book.files["influence.toml"]["effect"].reverse()
    assert _digest(book) == first


def test_file_of_a_source_does_not_count(book):
    first = _digest(book)
    moved = book.files["sources/books.toml"]["source"].pop()
    book.files["sources/common.toml"]["source"].append(moved)
    del book.files["sources/books.toml"]
    (book.folder / "sources/books.toml").unlink()
    assert _digest(book) == first


def test_order_of_first_try_rules_counts(book):
    second = {**book.responses["first_try"][0], "id": "first.second"}
    book.responses["first_try"].append(second)
    first = _digest(book)
    book.responses["first_try"].reverse()
    assert _digest(book) != first


CHANGES = {
    "a start value": lambda b: b.row("wheat.all.reel_index").update(start=1.25),
    "a place in a source": lambda b: b.wheat["damage"]["source"].update(at="p. 9"),
    "a mark": lambda b: b.wheat["damage"].update(known="memory"),
    "an alias": lambda b: b.wheat["aliases"].append("bread wheat"),
    "a knot": lambda b: b.wheat["response"][0]["knots"].append([9, 13]),
    "a level": lambda b: b.wheat["response"][1]["levels"].update(green=4),
    "a dimension": lambda b: b.machines["defaults"][0]["cut_width"].update(value=6.1),
    "a physical limit": lambda b: b.files["vocabulary.toml"]["quantity"][0].update(maximum=46),
    "a title": lambda b: b.files["sources/books.toml"]["source"][0].update(title="Another"),
    "a slope": lambda b: b.files["influence.toml"]["effect"][0].update(slope=-0.2),
    "a mistake": lambda b: b.files["influence.toml"]["mistake"].append(
        {**b.files["influence.toml"]["mistake"][0], "id": "too_wet"}
    ),
    "a checklist line": lambda b: b.responses["checklist"].pop(),
    "a crop": lambda b: b.files.update({"crops/rye.toml": {**deepcopy(b.files["crops/barley.toml"]), "id": "rye"}}),
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES.keys())
def test_values_count(book, change):
    first = _digest(book)
    change(book)
    assert _digest(book) != first


def test_changed_files_ask_for_a_bump(book):
    book.write()
    book.row("wheat.all.reel_index")["start"] = 1.25
    assert book.write(stamp=False).faults() == [
        "revision.toml: digest: the files changed since 2026.11.1; run `threshbook knowledge bump`"
    ]


def test_revision_needs_its_entry_in_the_changes(book):
    changes = book.write().folder / "CHANGES.md"
    missing = ["CHANGES.md: there is no entry with text under a heading 2026.11.1"]
    for text in (
        "# Changes\n",
        "# Changes\n2026.11.1 is not a heading\n",
        "# Changes\n\n## 2026.11.12\n\nAnother.\n",
        "# Changes\n\n## 2026.11.1\n",
        "# Changes\n\n## 2026.11.1\n\n## 2026.10.1\n\nOlder.\n",
    ):
        changes.write_text(text, encoding="utf-8")
        assert book.faults() == missing, text
    changes.write_text("# Changes\n\n## 2026.11.1 - first\n\nAll crops.\n", encoding="utf-8")
    assert book.load().revision == "2026.11.1"
    changes.unlink()
    assert book.faults() == ["CHANGES.md: the file is missing"]


def test_first_bump_has_no_parent(book):
    folder = book.write(stamp=False).folder
    assert bump(folder, "2026-03-09") == "2026.03.1"
    revision = (folder / "revision.toml").read_text(encoding="utf-8")
    assert revision.startswith('id = "2026.03.1"\nreleased = "2026-03-09"\ndigest = "sha256:')
    # a person writes the entry
    assert book.faults() == ["CHANGES.md: the file is missing"]
    (folder / "CHANGES.md").write_text("## 2026.03.1\n\nFirst.\n", encoding="utf-8")
    assert load_table(folder).released == "2026-03-09"


@pytest.mark.parametrize(
    ("released", "expected"), [("2026-11-25", "2026.11.2"), ("2026-11-30", "2026.11.2"), ("2027-01-02", "2027.01.1")]
)
def test_bump_counts_up_within_the_month_and_names_its_parent(book, released, expected):
    book.write()
    book.row("wheat.all.reel_index")["start"] = 1.25
    folder = book.write(stamp=False).folder
    assert bump(folder, released) == expected
    assert 'parent = "2026.11.1"' in (folder / "revision.toml").read_text(encoding="utf-8")
    assert book.faults() == [f"CHANGES.md: there is no entry with text under a heading {expected}"]


def test_bump_of_unchanged_files_writes_nothing(book):
    folder = book.write().folder
    before = (folder / "revision.toml").read_bytes()
    assert bump(folder, "2026-12-01") == "2026.11.1"
    assert (folder / "revision.toml").read_bytes() == before


@pytest.mark.parametrize(
    ("released", "problem"),
    [
        ("2026-11-24", "2026-11-24 lies before 2026.11.1 of 2026-11-25"),
        ("2026-02-30", "'2026-02-30' is not a date as 2026-11-30"),
        ("20261130", "'20261130' is not a date as 2026-11-30"),
        ("tomorrow", "'tomorrow' is not a date as 2026-11-30"),
    ],
)
def test_bump_refuses_a_day_that_cannot_be(book, released, problem):
    folder = book.write().folder
    with pytest.raises(KnowledgeFault) as caught:
        bump(folder, released)
    assert caught.value.faults == [f"revision.toml: released: {problem}"]


def test_bump_refuses_faulty_files_and_leaves_the_revision(book):
    folder = book.write().folder
    before = (folder / "revision.toml").read_bytes()
    book.row("wheat.all.reel_index")["unit"] = "mm"
    book.write(stamp=False)
    with pytest.raises(KnowledgeFault) as caught:
        bump(folder, "2026-12-01")
    assert caught.value.faults == ["crops/wheat.toml: row wheat.all.reel_index: unit: reel_index is in 1, not in mm"]
    assert (folder / "revision.toml").read_bytes() == before


def test_a_coefficient_counts_in_the_digest(tmp_path):
    """A changed constant of an equilibrium equation is another table."""
    for name in ("as_is", "changed"):
        shutil.copytree(PACKAGE_FOLDER, tmp_path / name)
    path = tmp_path / "changed" / "coefficients" / "equilibrium.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("1.9677", "1.9678"), encoding="utf-8")
    trees = [read_tree(tmp_path / name).tree for name in ("as_is", "changed")]
    assert digest(trees[0]) != digest(trees[1])
