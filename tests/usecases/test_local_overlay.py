"""Local numbers over the base table: sums, envelopes and signs hold whatever was published."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.knowledge.load import load_table
from service.usecases.adjustment_types import AdjustmentQuestion, Symptom
from service.usecases.local_types import LocalRow, LocalTable
from service.usecases.next_adjustment import next_adjustment
from service.usecases.settings_types import SettingAnswer, SettingsQuestion, StartingSettings
from service.usecases.starting_settings import recommend
from tests.local_tables import HILLS, NAME, row, table_of

TABLE = load_table()
WHEAT = SettingsQuestion(crop="wheat", machine_class="hybrid", grain_moisture_pct=14.0, yield_t_ha=8.0)
CASES = sorted(
    (crop.id, machine_class)
    for crop in TABLE.crops.values()
    if crop.coverage["starting_settings"].level != "none"
    for machine_class in crop.coverage["starting_settings"].classes
)
LEFT_TO_THE_BASE = {entry.setting for entry in TABLE.refinement.not_refined} if TABLE.refinement else set()


def by_id(answer: StartingSettings) -> dict[str, SettingAnswer]:
    return {setting.id: setting for setting in answer.settings}


def at_reference(crop: str, machine_class: str, **more: object) -> SettingsQuestion:
    physical = TABLE.crops[crop].physical
    facts = {
        "grain_moisture_pct": physical.reference_moisture.value,
        "yield_t_ha": physical.reference_yield.value,
    } | more
    return SettingsQuestion(crop=crop, machine_class=machine_class, **facts)  # type: ignore[arg-type]


def shifted(crop: str, machine_class: str, share: float, band: str | None = None) -> LocalTable:
    """A table that moves every refined setting by a share of its half envelope."""
    base = recommend(TABLE, at_reference(crop, machine_class))
    return table_of(
        *(
            row(
                one.id,
                one.start + share * (one.high - one.low) / 2,
                one.start,
                one.unit,
                crop=crop,
                machine_class=machine_class,
                band=band,
            )
            for one in base.settings
            if one.id not in LEFT_TO_THE_BASE
        )
    )


questions = st.builds(
    lambda case, share, grain, straw, use, design: at_reference(
        *case,
        grain_moisture_pct=_inside(case[0], share),
        yield_t_ha=TABLE.crops[case[0]].physical.reference_yield.value * grain,
        straw_condition=straw,
        use=use,
        upper_sieve_design=design,
    ),
    st.sampled_from(CASES),
    st.floats(0, 1),
    st.floats(0.3, 2),
    st.sampled_from(["dry", "normal", "tough", "green"]),
    st.sampled_from(["feed", "milling", "seed"]),
    st.sampled_from(["standard_lip", "deep_lip"]),
)


def _inside(crop: str, share: float) -> float:
    window = TABLE.crops[crop].moisture
    return round(window.floor.value + share * (window.ceiling.value - window.floor.value), 2)


@given(questions, st.floats(-1.5, 1.5))
@settings(max_examples=60, deadline=None)
def test_parts_add_up_and_the_envelope_of_the_base_holds(question: SettingsQuestion, share: float) -> None:
    local = shifted(question.crop, question.machine_class, share)
    base, found = by_id(recommend(TABLE, question)), by_id(recommend(TABLE, question, local))
    assert base.keys() == found.keys()
    for setting in found.values():
        assert sum(Decimal(str(part.value)) for part in setting.parts) == Decimal(str(setting.summed))
        assert (setting.low, setting.high) == (base[setting.id].low, base[setting.id].high)
        assert setting.low <= setting.start <= setting.high
        if setting.id in LEFT_TO_THE_BASE:
            assert setting == base[setting.id]
        else:
            assert setting.local is not None
            assert not setting.local.stale
            assert setting.parts[0] == base[setting.id].parts[0]


@given(questions, st.floats(-1, 1), st.floats(-1, 1))
@settings(max_examples=40, deadline=None)
def test_a_higher_local_start_never_gives_a_lower_start(question: SettingsQuestion, one: float, other: float) -> None:
    low, high = (
        by_id(recommend(TABLE, question, shifted(question.crop, question.machine_class, share)))
        for share in sorted((one, other))
    )
    for ident, setting in low.items():
        assert setting.start <= high[ident].start


@given(st.sampled_from(CASES), st.floats(0, 1), st.floats(0, 1), st.floats(-0.5, 0.5))
@settings(max_examples=40, deadline=None)
def test_drier_grain_still_never_raises_threshing_speed(
    case: tuple[str, str], one: float, other: float, share: float
) -> None:
    local = shifted(*case, share)
    dry, wet = (
        by_id(recommend(TABLE, at_reference(*case, grain_moisture_pct=_inside(case[0], place)), local))
        for place in sorted((one, other))
    )
    assert dry["threshing_speed"].start <= wet["threshing_speed"].start


def test_without_a_row_for_the_case_every_number_is_the_base_tables() -> None:
    damp = replace(WHEAT, grain_moisture_pct=TABLE.crops["wheat"].moisture.ceiling.value)
    for question in (replace(WHEAT, crop="barley"), replace(WHEAT, machine_class="walker"), damp):
        base, found = recommend(TABLE, question), recommend(TABLE, question, HILLS)
        assert found.settings == base.settings
        assert [note.code for note in found.warnings if note not in base.warnings] == ["warning.local_nothing_here"]


def test_a_row_of_the_band_wins_over_one_for_all() -> None:
    local = table_of(
        row("threshing_speed", 25.5, 24.5, "m/s", band=None), row("threshing_speed", 24.0, 24.5, "m/s", band="best")
    )
    best = by_id(recommend(TABLE, WHEAT, local))["threshing_speed"]
    dry = by_id(recommend(TABLE, replace(WHEAT, grain_moisture_pct=11.0), local))["threshing_speed"]
    assert [part.value for part in best.parts if part.code == "local"] == [-0.5]
    assert [part.value for part in dry.parts if part.code == "local"] == [1.0]


def test_a_sieve_of_another_design_takes_the_local_difference_with_it() -> None:
    """The factor of the design holds for the whole opening: factor x (14 + 0.5), not factor x 14 + 0.5."""
    local = table_of(row("upper_sieve_opening", 14.5, 14.0, "mm"))
    question = replace(WHEAT, upper_sieve_design="deep_lip", yield_t_ha=7.5)
    factor = TABLE.sieve_factor("upper", "deep_lip").factor
    assert factor != 1
    with_local, without = (by_id(recommend(TABLE, question, one))["upper_sieve_opening"].start for one in (local, None))
    assert with_local - without == pytest.approx(0.5 * factor, abs=2e-6)


def test_a_base_start_that_changed_is_flagged_and_the_difference_is_added_to_todays() -> None:
    found = recommend(TABLE, WHEAT, HILLS)
    upper = by_id(found)["upper_sieve_opening"]
    assert upper.local is not None
    assert upper.local.stale
    assert [(part.code, part.value) for part in upper.parts][:2] == [("base", 14.0), ("local", 0.5)]
    assert "warning.local_stale" in {note.code for note in found.warnings}
    drum = by_id(found)["threshing_speed"].local
    assert drum is not None
    assert not drum.stale  # 24.5 was published for 24.51, which is the same to its last digit
    changed = table_of(row("threshing_speed", 23.7, 24.4, "m/s"))
    mark = by_id(recommend(TABLE, WHEAT, changed))["threshing_speed"].local
    assert mark is not None
    assert mark.stale


def test_a_use_with_a_row_of_its_own_is_no_changed_base() -> None:
    crop, machine_class, setting = next(
        (crop.id, machine_class, one.setting)
        for crop in TABLE.crops.values()
        for one in crop.row
        for machine_class in one.classes
        if one.use == "seed" and TABLE.has_row(crop, one.setting, machine_class, "feed")
    )
    base = by_id(recommend(TABLE, at_reference(crop, machine_class)))[setting]
    local = table_of(row(setting, base.start, base.start, base.unit, crop=crop, machine_class=machine_class, band=None))
    seed = by_id(recommend(TABLE, at_reference(crop, machine_class, use="seed"), local))[setting]
    assert seed.parts[0].value != base.start
    assert seed.local is not None
    assert not seed.local.stale


def test_a_sum_beyond_the_range_is_held_and_told() -> None:
    found = recommend(TABLE, WHEAT, table_of(row("lower_sieve_opening", 12.5, 7.5, "mm")))
    lower = by_id(found)["lower_sieve_opening"]
    assert (lower.start, lower.bound) == (lower.high, "high")
    assert "warning.local_held" in {note.code for note in found.warnings}


def test_ground_speed_is_left_to_its_limits_even_if_a_table_had_it() -> None:
    local = table_of(row("ground_speed", 2.0, 5.0, "km/h"))
    assert by_id(recommend(TABLE, WHEAT, local))["ground_speed"] == by_id(recommend(TABLE, WHEAT))["ground_speed"]


def test_the_next_adjustment_counts_from_the_local_start() -> None:
    question = AdjustmentQuestion(conditions=WHEAT, symptoms=(Symptom(symptom="cracked", severity=4),))
    base, found = next_adjustment(TABLE, question), next_adjustment(TABLE, question, HILLS)
    moves = {
        one.setting: one for one in (found.change, *found.alternatives) if one is not None and one.local is not None
    }
    drum = moves["threshing_speed"]
    assert drum.from_value == by_id(recommend(TABLE, WHEAT, HILLS))["threshing_speed"].start
    assert drum.local is not None
    assert drum.local.origin == f"{NAME}@3"
    assert found.local == HILLS
    assert all(one.local is None for one in (base.change, *base.alternatives) if one is not None)
    assert {note.code for note in found.warnings} - {note.code for note in base.warnings} == {"warning.local_stale"}


def test_advice_asks_for_pairs_of_one_day() -> None:
    (note,) = recommend(TABLE, WHEAT).notes
    assert note.code == "pair.ask"
    sick = AdjustmentQuestion(conditions=WHEAT, symptoms=(Symptom(symptom="cracked", severity=4),))
    well = AdjustmentQuestion(conditions=WHEAT, measured={"broken_pct": 0.1, "separation_loss_pct": 0.1})
    for question in (sick, well):
        answer = next_adjustment(TABLE, question)
        expected = "pair.ask_both_sides" if answer.kind == "change" else "pair.ask_any"
        assert [one.code for one in answer.notes] == [expected]


def test_a_published_row_is_found_by_all_four_of_its_names() -> None:
    one: LocalRow = HILLS.rows[0]
    assert HILLS.find("wheat", "hybrid", "threshing_speed", "best") == one
    for names in (
        ("barley", "hybrid", "threshing_speed", "best"),
        ("wheat", "walker", "threshing_speed", "best"),
        ("wheat", "hybrid", "ground_speed", "best"),
        ("wheat", "hybrid", "threshing_speed", "damp"),
    ):
        assert HILLS.find(*names) is None
