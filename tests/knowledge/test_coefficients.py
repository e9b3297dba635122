"""Coefficient sets: the file that ships is whole, broken files are named fault by fault."""

from importlib.resources import files

import pytest

from service.domain.equilibrium import equilibrium_moisture_wb_pct
from service.errors import KnowledgeFault, NotCovered
from service.knowledge.coefficients import COLUMNS, FILE, read_equilibrium

HEADER = ",".join(COLUMNS)
TABLE = read_equilibrium((files("service.knowledge") / FILE).read_text(encoding="utf-8").splitlines())
GOOD = "cropx,henderson,1e-5,2,50,1,A Standard,memory,,,,,"


def faults(*rows: str, header: str = HEADER) -> list[str]:
    with pytest.raises(KnowledgeFault) as refused:
        read_equilibrium([header, *rows])
    return refused.value.faults


def test_file_that_ships_has_every_set_of_the_crops_it_names() -> None:
    crops = {row.crop for row in TABLE.sets}
    assert len(TABLE.sets) >= 30
    assert {"maize", "wheat", "wheat_durum", "barley", "oats", "rye", "soybean", "rapeseed", "sorghum"} <= crops
    assert set(TABLE.missing) == {"pea"}
    for crop in crops:
        assert TABLE.default(crop) in TABLE.of(crop)


@pytest.mark.parametrize("row", TABLE.sets, ids=lambda row: f"{row.crop}-{row.form}-{row.source}")
def test_every_set_gives_grain_at_usual_air(row: object) -> None:
    moistures = [
        equilibrium_moisture_wb_pct(row.form, humidity, 25, A=row.A, B=row.B, C=row.C)  # type: ignore[attr-defined]
        for humidity in (40, 55, 70, 85)
    ]
    assert moistures == sorted(moistures)
    assert 4 < moistures[0] < 12
    assert 9 < moistures[-1] < 24


def test_sets_of_one_crop_agree_within_two_points() -> None:
    for crop in {row.crop for row in TABLE.sets}:
        at_70 = [equilibrium_moisture_wb_pct(row.form, 70, 25, A=row.A, B=row.B, C=row.C) for row in TABLE.of(crop)]
        assert max(at_70) - min(at_70) < 2, crop


def test_crop_without_a_set_says_why() -> None:
    with pytest.raises(NotCovered) as refused:
        TABLE.default("pea")
    assert "field pea" in str(refused.value.facts["why"])
    with pytest.raises(NotCovered):
        TABLE.default("buckwheat")


def test_memory_is_told_apart_from_reading() -> None:
    known = {row.known for row in TABLE.sets}
    assert known == {"memory", "read_secondhand"}


def test_good_row_is_read() -> None:
    table = read_equilibrium([HEADER, GOOD])
    assert table.default("cropx").A == 1e-5
    assert table.default("cropx").temperature_low_c is None


@pytest.mark.parametrize(
    ("row", "fault"),
    [
        (GOOD.replace("henderson", "hendersen"), "form: 'hendersen' is not one of"),
        (GOOD.replace("1e-5", "nan"), "A: 'nan' is not a finite number"),
        (GOOD.replace("1e-5", ""), "A: '' is not a finite number"),
        (GOOD.replace(",50,", ",inf,"), "C: 'inf' is not a finite number"),
        (GOOD.replace(",1,A", ",yes,A"), "default: 'yes' is not 0 or 1"),
        (GOOD.replace("A Standard", ""), "source: missing"),
        (GOOD.replace("memory", "rumour"), "known: 'rumour' is unknown"),
        (GOOD.replace("memory", "read_secondhand"), "seen_in: missing"),
        (GOOD.removesuffix(",,,") + ",30,10,", "temperature_low_c: must be a number below"),
        (GOOD.removesuffix(",,,") + ",30,,", "temperature_low_c: must be a number below"),
        (GOOD.replace("cropx", ""), "crop: missing"),
        (GOOD + ",more", "needs 13 cells"),
        ("cropx,henderson", "needs 13 cells"),
        ("cropx,,1,,,,,,,,,,why", "A: must be empty without a form"),
        ("cropx,,,,,,,,,,,,", "note: missing"),
    ],
)
def test_fault_names_file_row_and_key(row: str, fault: str) -> None:
    assert any(text.startswith(f"{FILE}: row 2: {fault}") for text in faults(row)), faults(row)


def test_each_crop_has_exactly_one_default() -> None:
    assert faults(GOOD, GOOD) == [f"{FILE}: crop cropx: 2 default sets instead of one"]
    assert faults(GOOD.replace(",1,A", ",0,A")) == [f"{FILE}: crop cropx: 0 default sets instead of one"]


def test_crop_is_not_both_there_and_missing() -> None:
    assert faults(GOOD, "cropx,,,,,,,,,,,,why") == [f"{FILE}: crop cropx: listed as missing, but has a set"]


def test_all_faults_are_told_at_once() -> None:
    assert len(faults(GOOD.replace("1e-5", "x"), GOOD.replace("memory", "rumour"))) == 2


def test_other_columns_are_refused() -> None:
    assert faults(GOOD, header=HEADER.replace("crop", "plant"))[0].startswith(f"{FILE}: columns must be crop,")


def test_file_ships_with_the_package() -> None:
    assert (files("service.knowledge") / FILE).is_file()
