"""Look-ups: names, the row and response that win, and refusals with their reason."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.errors import NotCovered, OutOfRange, UnknownName
from service.knowledge.schema import LocalText
from service.knowledge.table import crop_names


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("wheat", "wheat"),
        ("WHEAT", "wheat"),
        (" Wheat (de)", "wheat"),
        ("winter_wheat", "wheat"),
        ("Winter-Wheat", "wheat"),
        ("winterwheat", "wheat"),
        ("Körnerweizen", "wheat"),
        ("koernerweizen", "wheat"),
        ("corn", "maize"),
        ("GRAIN  MAIZE", "maize"),
        ("ccccc", "maize"),
        ("BBBBB", "barley"),
    ],
)
def test_crop_is_found_by_any_name(table, name, expected):
    assert table.crop(name).id == expected


@given(data=st.data())
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
def test_any_spelling_of_any_name_is_the_crop_itself(table, data):
    crop = data.draw(st.sampled_from(list(table.crops.values())))
    name = data.draw(st.sampled_from(list(crop_names(crop))))
    spelt = "".join(
        data.draw(st.sampled_from([" ", "-", "_", "  ", ""]))
        if character == " "
        else data.draw(st.sampled_from([character.lower(), character.upper()]))
        for character in name
    )
    assert table.crop(spelt) is table.crops[crop.id]


def test_unknown_crop_names_the_nearest_and_the_allowed(table):
    with pytest.raises(UnknownName) as caught:
        table.crop("barly", field="/crop")
    assert caught.value.field == "/crop"
    assert caught.value.facts["given"] == "barly"
    assert caught.value.facts["nearest"][0] == "barley"
    assert caught.value.facts["allowed"] == ["barley", "maize", "wheat"]


def test_nearest_names_include_aliases(table):
    with pytest.raises(UnknownName) as caught:
        table.crop("Winter weat")
    assert "winter wheat" in caught.value.facts["nearest"]


@pytest.mark.parametrize("name", ["", "-", "\x00", "ẞ", "tractor" * 50])
def test_nonsense_is_an_unknown_name(table, name):
    with pytest.raises(UnknownName):
        table.crop(name)


def test_row_for_the_use_wins_over_the_row_for_any_use(table):
    wheat = table.crop("wheat")
    assert table.row(wheat, "concave_clearance", "walker", "malting").start == 15
    assert table.row(wheat, "concave_clearance", "walker", "feed").start == 12
    assert table.row(wheat, "concave_clearance", "walker").start == 12
    assert table.row(wheat, "concave_clearance", "axial", "malting").start == 12


def test_missing_row_is_not_covered_with_the_reason_of_the_file(table):
    maize = table.crop("maize")
    assert table.has_row(maize, "threshing_speed", "axial")
    assert not table.has_row(maize, "threshing_speed", "walker")
    with pytest.raises(NotCovered) as caught:
        table.row(maize, "threshing_speed", "walker")
    assert caught.value.field == "crop"
    assert caught.value.facts == {
        "task": "starting_settings",
        "crop": "maize",
        "why": LocalText(en="Only one class was written."),
    }


def test_missing_row_of_a_complete_crop_names_the_setting(table):
    with pytest.raises(NotCovered) as caught:
        table.row(table.crop("wheat"), "cutting_height", "walker")
    assert caught.value.facts["why"] == LocalText(en="no row for cutting_height with walker")


@pytest.mark.parametrize(
    ("crop", "quantity", "factor", "expected"),
    [
        ("wheat", "threshing_speed", "grain_moisture", "wheat.threshing_speed.moisture"),
        ("barley", "threshing_speed", "grain_moisture", "all.threshing_speed.moisture"),
        ("wheat", "concave_clearance", "grain_moisture", "cereal.concave_clearance.moisture"),
        ("maize", "concave_clearance", "grain_moisture", "all.concave_clearance.moisture"),
    ],
)
def test_response_of_the_crop_wins_over_its_group_over_all(table, crop, quantity, factor, expected):
    assert table.response(table.crop(crop), quantity, factor, "walker").id == expected


def test_no_response_is_none(table):
    assert table.response(table.crop("maize"), "threshing_speed", "straw_condition", "walker") is None


def test_response_holds_for_its_classes_only(book):
    book.wheat["response"][0]["classes"] = ["hybrid"]
    table = book.write().load()
    wheat = table.crop("wheat")
    assert table.response(wheat, "threshing_speed", "grain_moisture", "hybrid").id == "wheat.threshing_speed.moisture"
    assert table.response(wheat, "threshing_speed", "grain_moisture", "axial").id == "all.threshing_speed.moisture"


@pytest.mark.parametrize(
    ("crop", "task", "machine_class", "why"),
    [
        ("barley", "starting_settings", "walker", "Nobody wrote the rows."),
        ("maize", "starting_settings", "walker", "Only one class was written."),
    ],
)
def test_task_without_coverage_is_refused_with_the_reason(table, crop, task, machine_class, why):
    with pytest.raises(NotCovered) as caught:
        table.covers(table.crop(crop), task, machine_class)
    assert {k: v for k, v in caught.value.facts.items() if k != "why"} == {"task": task, "crop": crop}
    assert caught.value.facts["why"].en == why


@pytest.mark.parametrize(
    ("crop", "task", "machine_class"),
    [
        ("wheat", "starting_settings", "hybrid"),
        ("maize", "starting_settings", "axial"),
        ("barley", "ground_loss", "axial"),
    ],
)
def test_task_with_coverage_is_not_refused(table, crop, task, machine_class):
    assert table.covers(table.crop(crop), task, machine_class) is None


@pytest.mark.parametrize(
    ("power_kw", "expected"), [(0, "small"), (149.9, "small"), (150, "large"), (999, "large"), (1000, "large")]
)
def test_band_of_a_power(table, power_kw, expected):
    assert table.band_for_power(power_kw).id == expected


@pytest.mark.parametrize("power_kw", [-1, 1000.1, float("nan")])
def test_power_outside_all_bands_is_refused(table, power_kw):
    with pytest.raises(OutOfRange) as caught:
        table.band_for_power(power_kw)
    assert (caught.value.facts["low"], caught.value.facts["high"], caught.value.facts["unit"]) == (0, 1000, "kW")


def test_machine_figures_are_found_by_id(table):
    assert table.machine_class("twin_axial").id == "twin_axial"
    assert table.band("large").power_from_kw == 150
    entry = table.defaults("hybrid", "large")
    assert (entry.classes, entry.band) == (["hybrid"], "large")
    assert table.specific("axial").fan_air_speed_max.value == 10
    assert table.sieve_factor("upper", "deep_lip").factor == 1.2
    assert table.sieve_factor("lower", "standard_lip").factor == 1
    assert table.power_model("maize").id == "maize"


@pytest.mark.parametrize(
    ("look_up", "field", "allowed"),
    [
        (lambda t: t.machine_class("walkers"), "machine_class", ["axial", "hybrid", "twin_axial", "walker"]),
        (lambda t: t.band("huge"), "size_band", ["large", "small"]),
        (lambda t: t.defaults("walkers", "large"), "machine_class", ["axial", "hybrid", "twin_axial", "walker"]),
        (lambda t: t.defaults("walker", "huge"), "size_band", ["large", "small"]),
        (lambda t: t.specific("walkers"), "machine_class", ["axial", "hybrid", "twin_axial", "walker"]),
        (lambda t: t.sieve_factor("lower", "deep_lip"), "lower_sieve_design", ["standard_lip"]),
        (lambda t: t.power_model("rice"), "power", ["maize", "small_grain"]),
    ],
)
def test_unknown_machine_names_are_refused(table, look_up, field, allowed):
    with pytest.raises(UnknownName) as caught:
        look_up(table)
    assert (caught.value.field, caught.value.facts["allowed"]) == (field, allowed)


@pytest.mark.parametrize(
    ("moisture_pct", "expected"),
    [
        (0, "too_dry"),
        (7.99, "too_dry"),
        (8, "dry"),
        (12.99, "dry"),
        (13, "best"),
        (18, "best"),
        (18.01, "damp"),
        (22, "damp"),
        (22.01, "too_wet"),
        (100, "too_wet"),
    ],
)
def test_moisture_lies_in_its_part_of_the_window(table, moisture_pct, expected):
    assert table.moisture_band(table.crop("wheat"), moisture_pct) == expected


@pytest.mark.parametrize("moisture_pct", [-0.1, 100.1, float("nan")])
def test_moisture_that_cannot_be_is_refused(table, moisture_pct):
    with pytest.raises(OutOfRange) as caught:
        table.moisture_band(table.crop("wheat"), moisture_pct)
    assert (caught.value.facts["low"], caught.value.facts["high"], caught.value.facts["unit"]) == (0, 100, "%")
