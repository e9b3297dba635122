"""Faults across entries: each rule has a folder that breaks it and nothing else."""

from typing import get_args

import pytest

from service.knowledge import machine_schema, schema, schema_economics
from service.knowledge.checks import FIGURE_UNITS
from service.knowledge.schema import Figure, TradeMoisture

DRUM = "wheat.walker.threshing_speed"
HYBRID = "wheat.hybrid.threshing_speed"
GAP = "wheat.all.concave_clearance"


def _quantity(book, ident):
    return next(entry for entry in book.files["vocabulary.toml"]["quantity"] if entry["id"] == ident)


def _drop(book, ident):
    book.wheat["row"] = [entry for entry in book.wheat["row"] if entry["id"] != ident]


def double_quantity(book):
    book.files["vocabulary.toml"]["quantity"].append(_quantity(book, "reel_index"))
    return ["vocabulary.toml: quantity reel_index: id: stands 2 times"]


def empty_range(book):
    _quantity(book, "cleaning_air_speed")["maximum"] = 0.5
    return ["vocabulary.toml: quantity cleaning_air_speed: maximum: 0.5 is not above minimum 0.5"]


def sign_without_order(book):
    _quantity(book, "reel_index")["monotone"]["priority"] = "rises"
    return ["vocabulary.toml: quantity reel_index: monotone.priority: the levels of this factor have no order"]


def row_id_of_another_crop(book):
    book.files["crops/maize.toml"]["row"][0]["id"] = GAP
    return [f"crops/wheat.toml: row {GAP}: id: the id stands in crops/maize.toml already"]


def row_id_of_a_response(book):
    book.responses["first_try"][0]["id"] = "all.reel_index.stand"
    return ["responses.toml: first_try all.reel_index.stand: id: the id stands in responses.toml already"]


def file_of_another_name(book):
    book.files["crops/korn.toml"] = book.files.pop("crops/barley.toml")
    return ["crops/korn.toml: id: 'barley' is not the name of the file"]


def alias_of_another_crop(book):
    book.wheat["aliases"].append("Grain-MAIZE")
    return ["crops/wheat.toml: aliases: 'Grain-MAIZE' names the crop of crops/maize.toml already"]


def code_of_another_crop(book):
    book.wheat["eppo"]["value"] = "BBBBB"
    return ["crops/wheat.toml: aliases: 'BBBBB' names the crop of crops/barley.toml already"]


def market_twice(book):
    book.wheat["trade_moisture"][1]["market"] = "eu"
    return ["crops/wheat.toml: trade_moisture.market: eu stands 2 times"]


def figure_in_another_unit(book):
    book.wheat["physical"]["bulk_density"]["unit"] = "kg/m3"
    return ["crops/wheat.toml: physical.bulk_density.unit: is in kg/hL, not in kg/m3"]


def trade_moisture_in_another_unit(book):
    book.wheat["trade_moisture"][0]["unit"] = "1"
    return ["crops/wheat.toml: trade_moisture[0].unit: is in %, not in 1"]


def machine_figure_in_another_unit(book):
    book.machines["defaults"][0]["drum_diameter"]["unit"] = "m"
    return ["machines.toml: defaults[0].drum_diameter.unit: is in mm, not in m"]


def row_of_no_quantity(book):
    book.row("wheat.all.upper_sieve_opening")["setting"] = "sieve_opening"
    return [
        "crops/wheat.toml: row wheat.all.upper_sieve_opening: setting: 'sieve_opening' is not in the vocabulary",
        *(
            f"crops/wheat.toml: row wheat.all.upper_sieve_opening: setting: {c} has no sieve_opening in machines.toml"
            for c in ("walker", "hybrid", "axial", "twin_axial")
        ),
        *(
            f"crops/wheat.toml: coverage.starting_settings.level: complete, but {c} has no row for upper_sieve_opening"
            for c in ("walker", "hybrid", "axial", "twin_axial")
        ),
    ]


def row_in_another_unit(book):
    book.row(GAP)["unit"] = "cm"
    return [f"crops/wheat.toml: row {GAP}: unit: concave_clearance is in mm, not in cm"]


def row_beyond_the_physical_limits(book):
    book.row(GAP).update(low=0.5, high=90)
    return [
        f"crops/wheat.toml: row {GAP}: low: 0.5 is outside the 1 to 80 mm of concave_clearance",
        f"crops/wheat.toml: row {GAP}: high: 90 is outside the 1 to 80 mm of concave_clearance",
    ]


def two_rows_for_one_class(book):
    book.row(HYBRID)["classes"].append("walker")
    where = "threshing_speed, walker, any use"
    return [f"crops/wheat.toml: row {HYBRID}: classes: {DRUM} holds for {where} already"]


def two_rows_for_one_use(book):
    extra = {**book.row("wheat.walker.concave_clearance.malting"), "id": "wheat.second"}
    book.wheat["row"].append(extra)
    where = "concave_clearance, walker, malting"
    return [
        f"crops/wheat.toml: row wheat.second: classes: wheat.walker.concave_clearance.malting holds for {where} already"
    ]


def derived_of_no_row(book):
    book.row(HYBRID)["derived"]["row"] = "maize.axial.threshing_speed"
    return [f"crops/wheat.toml: row {HYBRID}: derived.row: 'maize.axial.threshing_speed' is no other row of this file"]


def derived_of_itself(book):
    book.row(HYBRID)["derived"].update(row=HYBRID, factor=1)
    return [f"crops/wheat.toml: row {HYBRID}: derived.row: {HYBRID!r} is no other row of this file"]


def derived_called_published(book):
    book.row(HYBRID).update(basis="published", known="read")
    return [f"crops/wheat.toml: row {HYBRID}: basis: a derived row is computed or expert, not published"]


def derived_of_another_figure(book):
    book.row(HYBRID)["start"] = 24.872  # 26.18 x 0.95 = 24.871
    return [f"crops/wheat.toml: row {HYBRID}: start: 24.872 is not 26.18 x 0.95 = 24.871 of {DRUM}"]


def derived_above_its_cap(book):
    book.row(HYBRID)["high"] = 32.3  # 34 x 0.95, but the cap is 30
    return [f"crops/wheat.toml: row {HYBRID}: high: 32.3 is not 34 x 0.95 = 30 of {DRUM}"]


def task_without_coverage(book):
    del book.wheat["coverage"]["ground_loss"]
    return ["crops/wheat.toml: coverage.ground_loss: the key is missing"]


def class_left_out_without_reason(book):
    book.wheat["coverage"]["ground_loss"]["classes"] = ["walker", "hybrid"]
    return ["crops/wheat.toml: coverage.ground_loss.why: the key is missing, axial, twin_axial is left out"]


def rows_without_coverage(book):
    book.files["crops/maize.toml"]["coverage"]["starting_settings"].update(level="none")
    text = "none, but there are rows, first maize.axial.threshing_speed"
    return [f"crops/maize.toml: coverage.starting_settings.level: {text}"]


def row_of_a_class_without_coverage(book):
    book.files["crops/maize.toml"]["row"][0]["classes"].append("walker")
    place = "crops/maize.toml: row maize.axial.threshing_speed: classes"
    return [f"{place}: walker is not in coverage.starting_settings"]


def class_without_any_row(book):
    book.files["crops/maize.toml"]["coverage"]["starting_settings"]["classes"].append("walker")
    return ["crops/maize.toml: coverage.starting_settings.classes: walker has no row"]


def complete_without_a_row(book):
    book.row("wheat.all.cleaning_air_share")["classes"].remove("axial")
    text = "complete, but axial has no row for cleaning_air_share"
    return [f"crops/wheat.toml: coverage.starting_settings.level: {text}"]


def complete_with_a_row_for_one_use_only(book):
    book.row(GAP)["classes"].remove("walker")
    text = "complete, but walker has no row for concave_clearance"
    return [f"crops/wheat.toml: coverage.starting_settings.level: {text}"]


def complete_without_a_reel(book):
    _drop(book, "wheat.all.reel_index")
    place = "crops/wheat.toml: coverage.starting_settings.level"
    return [
        f"{place}: complete, but {c} has no row for reel_index" for c in ("walker", "hybrid", "axial", "twin_axial")
    ]


def row_that_no_machine_has(book):
    book.machines["machine_class"][0]["settings"].remove("upper_sieve_opening")
    place = "crops/wheat.toml: row wheat.all.upper_sieve_opening: setting"
    return [f"{place}: walker has no upper_sieve_opening in machines.toml"]


def bands_not_from_0(book):
    book.machines["band"][0]["power_from_kw"] = 10
    return ["machines.toml: band[0].power_from_kw: the first band begins at 0"]


def bands_with_a_gap(book):
    book.machines["band"][1]["power_from_kw"] = 160
    return ["machines.toml: band large: power_from_kw: gap between 150 and 160"]


def bands_that_overlap(book):
    book.machines["band"][1]["power_from_kw"] = 140
    return ["machines.toml: band large: power_from_kw: overlap between 150 and 140"]


def bands_not_sorted(book):
    book.machines["band"].reverse()
    return [
        "machines.toml: band[0].power_from_kw: the first band begins at 0",
        "machines.toml: band small: power_from_kw: overlap between 1000 and 0",
    ]


def band_without_width(book):
    book.machines["band"][1]["power_to_kw"] = 150
    return ["machines.toml: band large: power_to_kw: 150 is not above power_from_kw 150"]


def class_twice(book):
    book.machines["machine_class"].append(book.machines["machine_class"][2])
    return ["machines.toml: machine_class axial: stands 2 times, not once"]


def class_with_no_setting_of_the_vocabulary(book):
    book.machines["machine_class"][0]["settings"].append("cleaning_air_share")
    place = "machines.toml: machine_class walker: settings"
    return [f"{place}: 'cleaning_air_share' is not a setting of the vocabulary"]


def defaults_missing(book):
    del book.machines["defaults"][1]
    return ["machines.toml: defaults walker in large: stands 0 times, not once"]


def defaults_twice(book):
    book.machines["defaults"][0]["classes"].append("axial")
    return ["machines.toml: defaults axial in small: stands 2 times, not once"]


def defaults_of_no_band(book):
    extra = {**book.machines["defaults"][0], "band": "huge"}
    book.machines["defaults"].append(extra)
    return ["machines.toml: defaults walker in huge: is not known"]


def hybrid_without_rotors(book):
    del book.machines["defaults"][2]["separation_rotor_diameter"]
    return ["machines.toml: defaults[2].separation_rotor_diameter: the key is missing, hybrid machines need it"]


def specific_missing(book):
    book.machines["specific"][0]["classes"].remove("hybrid")
    return ["machines.toml: specific hybrid: stands 0 times, not once"]


def power_model_twice(book):
    book.machines["power"][1]["id"] = "small_grain"
    return [
        "machines.toml: power small_grain: stands 2 times, not once",
        "machines.toml: power maize: stands 0 times, not once",
    ]


def sieve_conversion_twice(book):
    book.machines["sieve"].append(book.machines["sieve"][2])
    return ["machines.toml: sieve upper deep_lip: design: stands 2 times"]


def standard_sieve_missing(book):
    del book.machines["sieve"][1]
    return ["machines.toml: sieve.design: standard_lip is missing for the lower sieve"]


def standard_sieve_not_1(book):
    book.machines["sieve"][0]["factor_high"] = 1.1
    return ["machines.toml: sieve[0].factor: openings are those of the standard lip sieve, its factor is 1"]


def sieve_factor_out_of_order(book):
    book.machines["sieve"][2]["factor_low"] = 1.3
    return ["machines.toml: sieve[2].factor: 0 < 1.3 <= 1.2 <= 1.2 does not hold"]


def rule_on_no_setting(book):
    book.responses["first_try"][0]["setting"] = "cleaning_air_share"
    place = "responses.toml: first_try first.cracked: setting"
    return [f"{place}: 'cleaning_air_share' is not a setting of the vocabulary"]


def rule_in_another_unit(book):
    book.responses["first_try"][0]["unit"] = "mm"
    return ["responses.toml: first_try first.cracked: unit: threshing_speed is in m/s or %, not in mm"]


def rule_with_a_negative_step(book):
    book.responses["first_try"][0]["step"] = -5
    return ["responses.toml: first_try first.cracked: step: -5 is not above 0, direction says which way"]


def checklist_line_twice(book):
    book.responses["checklist"].append(book.responses["checklist"][1])
    return ["responses.toml: checklist caution.stop: code: stands 2 times"]


BREAKS = [value for name, value in list(globals().items()) if callable(value) and value.__module__ == __name__]
BREAKS = [value for value in BREAKS if not value.__name__.startswith("_")]


@pytest.mark.parametrize("break_rule", BREAKS, ids=lambda value: value.__name__)
def test_fault_names_file_row_and_key(book, break_rule):
    expected = break_rule(book)
    assert book.write().faults() == expected


def test_row_crop_needs_no_reel_and_no_rear_sieve(book):
    for name in ("wheat", "barley"):
        book.files[f"crops/{name}.toml"]["header"] = "row_crop"
    _drop(book, "wheat.all.reel_index")
    quantity = {**_quantity(book, "upper_sieve_opening"), "id": "sieve_rear_opening"}
    book.files["vocabulary.toml"]["quantity"].append(quantity)
    book.machines["machine_class"][0]["settings"].append("sieve_rear_opening")
    levers = book.files["influence.toml"]["lever"]
    levers.append({**levers[-1], "id": "lever.sieve_rear_opening", "setting": "sieve_rear_opening"})
    assert book.write().load().crops["wheat"].coverage["starting_settings"].level == "complete"


def test_delay_in_a_crop_that_is_in_no_file_is_a_fault(book):
    book.files["economics.toml"]["timeliness"][0]["crop"] = "moonwheat"
    assert book.write().faults() == [
        "economics.toml: timeliness wheat.timeliness: crop: there is no crop 'moonwheat'",
    ]


def test_two_rows_of_delay_for_one_crop_are_a_fault(book):
    rows = book.files["economics.toml"]["timeliness"]
    rows.append({**rows[0], "id": "wheat.timeliness.again"})
    assert "economics.toml: two rows of timeliness for wheat" in book.write().faults()


def test_delay_is_found_by_crop_and_none_is_an_answer(table):
    assert table.timeliness(table.crops["wheat"]).loss_per_day.value == 0.01
    assert table.timeliness(table.crops["maize"]) is None


def test_every_figure_of_the_schema_has_one_unit():
    entries = [item for module in (schema, machine_schema, schema_economics) for item in vars(module).values()]
    models = [value for value in entries if isinstance(value, type) and issubclass(value, schema.Entry)]
    named = {
        name
        for model in models
        for name, info in model.model_fields.items()
        if Figure in (info.annotation, *get_args(info.annotation))
    }
    assert named == set(FIGURE_UNITS)
    assert issubclass(TradeMoisture, Figure)  # the only figures in an array, all in percent
