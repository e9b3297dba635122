"""How figures are known: what may not pass for published, and figures converted again."""

import pytest

from service.knowledge.evidence import half_last_digit

DRUM = "wheat.walker.threshing_speed"
GAP = "crops/wheat.toml: row wheat.all.concave_clearance"


def test_source_in_two_files_is_a_fault(book):
    book.files["sources/books.toml"]["source"].append(book.files["sources/common.toml"]["source"][0])
    assert book.write().faults() == [
        "sources/common.toml: source common-practice: id: the source stands in sources/books.toml already"
    ]


@pytest.mark.parametrize(
    ("file", "place"),
    [
        ("crops/wheat.toml", "row wheat.walker.threshing_speed: source nowhere"),
        ("crops/wheat.toml", "damage.source nowhere"),
        ("machines.toml", "defaults[0].engine_power.source nowhere"),
        ("responses.toml", "checklist[1].source nowhere"),
    ],
)
def test_unknown_source_is_a_fault(book, file, place):
    entry = {
        "row wheat.walker.threshing_speed: source nowhere": book.row(DRUM),
        "damage.source nowhere": book.wheat["damage"],
        "defaults[0].engine_power.source nowhere": book.machines["defaults"][0]["engine_power"],
        "checklist[1].source nowhere": book.responses["checklist"][1],
    }[place]
    entry["source"] = [entry["source"], {"id": "nowhere", "at": "p. 1"}]
    assert book.write().faults() == [f"{file}: {place}: id: there is no source 'nowhere'"]


def test_unused_source_is_a_fault(book):
    book.files["sources/books.toml"]["source"].append(
        {**book.files["sources/books.toml"]["source"][0], "id": "unread-book"}
    )
    assert book.write().faults() == ["sources/books.toml: source unread-book: id: nothing cites this source"]


@pytest.mark.parametrize(
    ("basis", "known", "allowed"),
    [
        ("published", "practice", "memory, read, read_secondhand"),
        ("published", "derived", "memory, read, read_secondhand"),
        ("converted", "computed", "memory, read, read_secondhand"),
        ("computed", "read", "computed, derived, memory"),
        ("computed", "practice", "computed, derived, memory"),
        ("expert", "read", "derived, memory, practice"),
        ("expert", "computed", "derived, memory, practice"),
    ],
)
def test_mark_must_go_with_the_basis(book, basis, known, allowed):
    entry = book.row("wheat.all.concave_clearance")
    entry.update(basis=basis, known=known, source={"id": "opened-book", "at": "p. 3"})
    assert book.write().faults() == [f"{GAP}: known: basis {basis} goes with {allowed}, not with {known}"]


@pytest.mark.parametrize(
    ("basis", "known"),
    [
        *((basis, known) for basis in ("published", "converted") for known in ("read", "read_secondhand", "memory")),
        *(("computed", known) for known in ("computed", "derived", "memory")),
        *(("expert", known) for known in ("practice", "memory", "derived")),
    ],
)
def test_marks_that_go_with_the_basis(book, basis, known):
    entry = book.row("wheat.all.concave_clearance")
    entry.update(basis=basis, known=known, source={"id": "opened-book", "at": "p. 3"})
    assert book.write().load().crops["wheat"].row[3].known == known


def test_common_practice_alone_is_expert_and_practice(book):
    book.row("wheat.all.concave_clearance").update(basis="published", known="memory")
    assert book.write().faults() == [
        f"{GAP}: basis: a figure on common-practice alone is expert",
        f"{GAP}: known: a figure on common-practice alone is practice, not memory",
    ]


def test_common_practice_beside_a_source_may_be_anything(book):
    cited = [{"id": "common-practice", "at": "start"}, {"id": "opened-book", "at": "p. 4"}]
    book.row("wheat.all.concave_clearance").update(basis="published", known="read", source=cited)
    assert book.write().load().crops["wheat"].row[3].known == "read"


def test_checklist_line_on_practice_alone_is_practice(book):
    book.responses["checklist"][0]["known"] = "memory"
    assert book.write().faults() == [
        "responses.toml: checklist[0].known: a figure on common-practice alone is practice, not memory"
    ]


def test_read_needs_an_opened_source(book):
    book.files["sources/books.toml"]["source"].append(
        {**book.files["sources/books.toml"]["source"][0], "id": "closed-book", "opened": False}
    )
    cited = [{"id": "closed-book", "at": "p. 5"}]
    book.row("wheat.all.concave_clearance").update(basis="published", known="read", source=cited)
    assert book.write().faults() == [f"{GAP}: known: read, but none of closed-book was opened"]
    cited.append({"id": "opened-book", "at": "p. 6"})
    assert book.write().load().crops["wheat"].row[3].known == "read"


def test_same_citation_twice_is_a_fault(book):
    entry = book.row("wheat.all.concave_clearance")
    entry["source"] = [entry["source"], entry["source"]]
    assert book.write().faults() == [f"{GAP}: source: cites common-practice at 'invented' 2 times"]


# 1 ft = 0.3048 m and 1 in = 25.4 mm by definition; peripheral speed is pi x diameter x turns per second
CONVERTED = [
    ("threshing_speed", 25.4, {"value": 5000, "unit": "[ft_i]/min"}),
    ("threshing_speed", 22.3, {"value": 800, "unit": "{rev}/min", "diameter_mm": 533.4}),  # 22.343
    ("threshing_speed", 22.34, {"value": 800, "unit": "{rev}/min", "diameter_mm": 533.4}),
    ("threshing_speed", 25, {"value": 90, "unit": "km/h"}),
    ("concave_clearance", 12.7, {"value": 0.5, "unit": "[in_i]"}),
    ("concave_clearance", 15.9, {"value": 0.625, "unit": "[in_i]"}),  # 15.875
    ("concave_clearance", 10, {"value": 1, "unit": "cm"}),
]
NOT_CONVERTED = [
    (
        "threshing_speed",
        25.5,
        {"value": 5000, "unit": "[ft_i]/min"},
        "value: 5000 [ft_i]/min is 25.4 m/s, but start is 25.5",
    ),
    (
        "threshing_speed",
        22.4,
        {"value": 800, "unit": "{rev}/min", "diameter_mm": 533.4},
        "value: 800 {rev}/min is 22.343 m/s, but start is 22.4",
    ),
    # three figures at the least: 13 stands for 13.0
    ("concave_clearance", 13, {"value": 0.5, "unit": "[in_i]"}, "value: 0.5 [in_i] is 12.7 mm, but start is 13"),
    ("concave_clearance", 12, {"value": 12, "unit": "m/s"}, "unit: m/s does not convert to mm"),
    ("threshing_speed", 25, {"value": 500, "unit": "{rev}/min"}, "unit: {rev}/min does not convert to m/s"),
]


def _store(book, setting, start, printed):
    entry = next(e for e in book.wheat["row"] if e["setting"] == setting and "derived" not in e)
    entry.update(start=start, low=start - 3, high=start + 3, printed=[{"of": "start", "text": "p", **printed}])
    book.wheat["row"] = [e for e in book.wheat["row"] if "derived" not in e or setting != "threshing_speed"]
    if setting == "threshing_speed":
        entry["classes"] = ["walker", "hybrid"]
    return entry["id"]


@pytest.mark.parametrize(("setting", "start", "printed"), CONVERTED)
def test_printed_figure_that_converts_to_the_stored_one(book, setting, start, printed):
    ident = _store(book, setting, start, printed)
    assert any(row.id == ident for row in book.write().load().crops["wheat"].row)


@pytest.mark.parametrize(("setting", "start", "printed", "problem"), NOT_CONVERTED)
def test_printed_figure_that_does_not_convert(book, setting, start, printed, problem):
    ident = _store(book, setting, start, printed)
    assert book.write().faults() == [f"crops/wheat.toml: row {ident}: printed[0].{problem}"]


def test_printed_low_of_a_figure(book):
    mass = book.wheat["physical"]["bulk_density"]
    # a bushel is 35.23907016688 L and a pound 0.45359237 kg: 56 lb/bu are 72.0824 kg/hL
    mass.update(low=70, printed=[{"of": "low", "text": "56 lb/bu", "value": 56, "unit": "[lb_av]/[bu_us]"}])
    problem = "printed[0].value: 56 [lb_av]/[bu_us] is 72.0824 kg/hL, but low is 70"
    assert book.write().faults() == [f"crops/wheat.toml: physical.bulk_density.{problem}"]
    mass["low"] = 72.1
    assert book.write().load().crops["wheat"].physical.bulk_density.low == 72.1


@pytest.mark.parametrize(
    ("of", "where"),
    [("value", "a row has start, low and high"), ("high", "a figure without a high")],
)
def test_printed_of_a_figure_that_is_not_there(book, of, where):
    printed = [{"of": of, "text": "p", "value": 1, "unit": "1"}]
    if of == "value":
        book.row(DRUM)["printed"] = printed
        place = f"row {DRUM}: "
    else:
        book.wheat["physical"]["bulk_density"]["printed"] = printed
        place = "physical.bulk_density."
    assert book.write().faults() == [f"crops/wheat.toml: {place}printed[0].of: the entry has no {of}"], where


def test_printed_of_a_response_has_no_stored_figure(book):
    book.wheat["response"][0]["printed"] = [{"of": "value", "text": "p", "value": 1, "unit": "1"}]
    place = "response wheat.threshing_speed.moisture: printed[0].of"
    assert book.write().faults() == [f"crops/wheat.toml: {place}: the entry has no value"]


@pytest.mark.parametrize(
    ("value", "expected"),
    [(22.3, 0.05), (22.34, 0.005), (25, 0.05), (5, 0.005), (100, 0.5), (1250, 0.5), (0.95, 0.0005), (0.0, 0.5)],
)
def test_half_a_unit_of_the_last_digit(value, expected):
    assert half_last_digit(float(value)) == pytest.approx(expected, rel=1e-12)
