"""The folder to a table, with further crops laid over it."""

from service.knowledge.digest import digest
from service.knowledge.load import load_table
from service.knowledge.tree import read_tree


def test_table_carries_revision_digest_and_day(book):
    table = book.write().load()
    tree = read_tree(book.folder).tree
    assert tree is not None
    assert (table.revision, table.released, table.digest) == ("2026.11.1", "2026-11-25", digest(tree))


def test_table_holds_every_file_by_id(table):
    assert list(table.crops) == ["barley", "maize", "wheat"]
    assert set(table.sources) == {"common-practice", "opened-book"}
    assert table.vocabulary["reel_index"].maximum == 2
    assert table.responses.first_try[0].id == "first.cracked"


def test_package_folder_is_the_default():
    table = load_table()
    assert "wheat" in table.crops
    assert table.crop("Weizen").id == "wheat"


def test_made_up_crop_is_laid_over_the_table(book):
    base = book.write().load()
    table = book.load(book.write_extra(moonwheat=book.made_up))
    assert table.revision == "2026.11.1+local"
    assert table.digest != base.digest
    assert set(table.crops) == {*base.crops, "moonwheat"}
    assert table.row(table.crop("Lunar Wheat"), "threshing_speed", "walker").start == 26.18
    # the group's response reaches a crop that has none of its own
    found = table.response(table.crop("moonwheat"), "concave_clearance", "grain_moisture", "walker")
    assert found is not None
    assert found.id == "cereal.concave_clearance.moisture"


def test_overlay_without_files_is_the_base(book):
    base = book.write().load()
    table = book.load(book.write_extra())
    assert (table.revision, table.digest) == (base.revision, base.digest)


def test_digest_follows_the_overlay(book):
    first = book.write().load(book.write_extra(moonwheat=book.made_up)).digest
    book.made_up["row"][0]["low"] = 19
    assert book.load(book.write_extra(moonwheat=book.made_up)).digest != first


def test_overlay_does_not_redefine_a_crop(book):
    book.write()
    faults = book.faults(book.write_extra(barley=book.files["crops/barley.toml"]))
    assert faults == [
        f"extra crops/barley.toml: aliases: {name!r} names the crop of crops/barley.toml already"
        for name in ("barley", "Barley (de)", "spring barley", "BBBBB")
    ]


def test_overlay_does_not_take_an_alias(book):
    book.made_up["aliases"].append("Corn")
    faults = book.write().faults(book.write_extra(moonwheat=book.made_up))
    assert faults == ["extra crops/moonwheat.toml: aliases: 'Corn' names the crop of crops/maize.toml already"]


def test_overlay_does_not_take_a_row_id(book):
    book.made_up["row"][0]["id"] = "wheat.walker.threshing_speed"
    faults = book.write().faults(book.write_extra(moonwheat=book.made_up))
    place = "extra crops/moonwheat.toml: row wheat.walker.threshing_speed: id"
    assert faults == [f"{place}: the id stands in crops/wheat.toml already"]


def test_overlay_keeps_the_rules_of_the_base(book):
    book.made_up["row"][0]["high"] = 99
    book.made_up["row"][1]["source"]["id"] = "my-own-book"
    faults = book.write().faults(book.write_extra(moonwheat=book.made_up, typo={"id": "typo", "crop": 1}))
    assert "extra crops/typo.toml: crop: unknown key" in faults
    assert "extra crops/moonwheat.toml: row moonwheat.walker.threshing_speed: high: 99 is outside" in "\n".join(faults)
    assert "there is no source 'my-own-book'" in "\n".join(faults)


def test_source_that_only_the_overlay_cites_is_used(book):
    book.files["sources/books.toml"]["source"].append(
        {**book.files["sources/books.toml"]["source"][0], "id": "moon-book"}
    )
    book.made_up["damage"].update(known="memory", source={"id": "moon-book", "at": "p. 1"})
    assert book.write().load(book.write_extra(moonwheat=book.made_up)).sources["moon-book"].opened


def test_changed_base_is_a_fault_under_an_overlay_too(book):
    book.write()
    book.row("wheat.all.reel_index")["start"] = 1.25
    faults = book.write(stamp=False).faults(book.write_extra(moonwheat=book.made_up))
    assert faults == ["revision.toml: digest: the files changed since 2026.11.1; run `threshbook knowledge bump`"]


def test_missing_overlay_folder_is_a_fault(book):
    assert book.write().faults(book.extra) == ["extra crops/: the folder is missing"]
