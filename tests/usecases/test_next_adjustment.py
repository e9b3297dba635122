"""The next adjustment on the real tables: fault rules of the trade, promises, contradictions, refusals.

The first moves expected in RULES are those of the rules the tell-tales cite: the Finnish malting
guide (concave first, then speed), Rademacher (clean grain in the returns: lower sieve, not drum),
Spokas et al. (too much damage: speed first), and the trade's order for air and sieves.
"""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import Contradiction, InvalidInput, NotCovered, OutOfRange, OutsideWindow, UnknownName
from service.knowledge.load import load_table
from service.knowledge.schema import LocalText
from service.units import DECIMALS
from service.usecases.adjustment_types import (
    AdjustmentQuestion,
    Change,
    NextAdjustment,
    PastChange,
    SettingTold,
    Symptom,
)
from service.usecases.next_adjustment import next_adjustment
from service.usecases.settings_types import SettingsQuestion
from service.usecases.starting_settings import recommend

TABLE = load_table()
INFLUENCE = TABLE.influence
WHEAT = SettingsQuestion(
    crop="wheat",
    machine_class="walker",
    grain_moisture_pct=14.5,
    yield_t_ha=7.0,
    upper_sieve_design="standard_lip",
    lower_sieve_design="standard_lip",
)
CASES = sorted(
    (crop.id, machine_class)
    for crop in TABLE.crops.values()
    if crop.coverage["starting_settings"].level != "none"
    for machine_class in crop.coverage["starting_settings"].classes
)
REPORTABLE = [outcome.id for outcome in INFLUENCE.outcomes if outcome.symptom and not outcome.groups]


def conditions(crop: str, machine_class: str) -> SettingsQuestion:
    entry = TABLE.crops[crop]
    return replace(
        WHEAT,
        crop=crop,
        machine_class=machine_class,
        grain_moisture_pct=entry.moisture.best_high.value,
        yield_t_ha=entry.physical.reference_yield.value,
    )


def start(case: SettingsQuestion = WHEAT) -> dict[str, float]:
    return {setting.id: setting.start for setting in recommend(TABLE, case).settings}


def ask(case: SettingsQuestion = WHEAT, current: dict[str, float] | None = None, **more: Any) -> NextAdjustment:
    standing = (start(case) | (current or {})).items()
    told = tuple(SettingTold(setting=name, value=value) for name, value in standing)
    return next_adjustment(TABLE, AdjustmentQuestion(conditions=case, current_settings=told, **more))


def symptom(name: str, severity: int = 4, tell_tale: str | None = None) -> Symptom:
    return Symptom(symptom=name, severity=severity, tell_tale=tell_tale)


def changed(answer: NextAdjustment) -> Change:
    assert answer.change is not None
    return answer.change


def codes(messages: tuple[Any, ...]) -> list[str]:
    return [message.code for message in messages]


RULES = [
    ("unthreshed", "heads_in_straw_grain_sound", "concave_clearance_inlet", "down"),
    ("unthreshed", "heads_in_returns", "concave_clearance_inlet", "down"),
    ("cracked", "clean_grain_in_returns", "lower_sieve_opening", "up"),
    ("cracked", "returns_normal", "threshing_speed", "down"),
    ("cracked", "smeared_or_crushed", "threshing_speed", "down"),
    ("separation_loss", "straw_green_or_damp", "ground_speed", "down"),
    ("separation_loss", "straw_short_and_broken", "threshing_speed", "down"),
    ("cleaning_loss", "thick_mat_on_sieve", "cleaning_air_speed", "up"),
    ("cleaning_loss", "sieve_bare_grain_far_behind", "cleaning_air_speed", "down"),
    ("cleaning_loss", "one_side_on_slope", "ground_speed", "down"),
    ("cleaning_loss", "much_fine_straw_on_sieve", "threshing_speed", "down"),
    ("dirty_chaff", "light_chaff", "cleaning_air_speed", "up"),
    ("dirty_heads", "white_caps", "concave_clearance_inlet", "down"),
    ("dirty_straw", "green_bits_and_stems", "cutting_height", "up"),
    ("returns_grain", "returns_mostly_grain", "lower_sieve_opening", "up"),
    ("returns_overload", "returns_mostly_heads", "concave_clearance_inlet", "down"),
    ("returns_overload", "returns_mostly_chaff", "upper_sieve_opening", "down"),
    ("power_high", "rotor_growls_straw_tough", "ground_speed", "down"),
    ("header_loss", "seed_on_ground_ahead_of_wheels", "reel_index", "down"),
    ("header_loss", "bunches_at_the_knife", "reel_index", "up"),
    ("header_loss", "tall_uneven_stubble", "ground_speed", "down"),
    ("header_loss", "heads_left_on_stubble", "cutting_height", "down"),
]


class TestFaultRules:
    @pytest.mark.parametrize(("name", "sign", "setting", "direction"), RULES)
    def test_a_second_sign_leads_to_the_first_move_of_its_rule(
        self, name: str, sign: str, setting: str, direction: str
    ) -> None:
        change = changed(ask(symptoms=(symptom(name, 4, sign),)))
        assert (change.setting, change.direction) == (setting, direction)
        assert "why.tell_tale" in codes(change.why)

    @pytest.mark.parametrize(
        ("name", "sign", "check"),
        [
            ("unthreshed", "one_side_or_worn_bars", "worn_or_blocked_parts"),
            ("unthreshed", "thin_crop_unthreshed", "thin_crop_no_mat"),
            ("cracked", "light_crop_low_load", "thin_crop_no_mat"),
            ("cracked", "augers_half_full", "handling_damage"),
            ("cracked", "smeared_or_crushed", "too_wet"),
            ("cleaning_loss", "one_side_on_slope", "slope_load"),
            ("header_loss", "seed_on_ground_ahead_of_wheels", "header_timing"),
            ("header_loss", "tall_uneven_stubble", "knife_worn"),
        ],
    )
    def test_a_second_sign_leads_to_the_check_of_its_rule(self, name: str, sign: str, check: str) -> None:
        answer = ask(symptoms=(symptom(name, 4, sign),))
        assert answer.kind == "check"
        assert answer.checks[0].code == check
        assert ask(symptoms=(symptom(name, 4, sign),), checks_done=(check,)).kind != "check"

    def test_every_tell_tale_is_tested(self) -> None:
        checks = {"one_side_or_worn_bars", "thin_crop_unthreshed", "light_crop_low_load", "augers_half_full"}
        assert {sign for _, sign, _, _ in RULES} | checks == {tell.id for tell in INFLUENCE.file.tell_tale}

    @pytest.mark.parametrize("name", ["unthreshed", "cracked"])
    def test_drum_speed_is_spared_where_the_drum_is_not_the_cause(self, name: str) -> None:
        sign = {"unthreshed": "one_side_or_worn_bars", "cracked": "augers_half_full"}[name]
        assert changed(ask(symptoms=(symptom(name, 5, sign),))).setting != "threshing_speed"

    def test_too_much_damage_lowers_speed_first(self) -> None:
        change = changed(ask(symptoms=(symptom("cracked"),)))
        assert (change.setting, change.direction) == ("threshing_speed", "down")

    def test_too_little_threshing_closes_the_concave_first(self) -> None:
        change = changed(ask(symptoms=(symptom("unthreshed"),)))
        assert (change.setting, change.direction) == ("concave_clearance_inlet", "down")
        linked = {link.setting: link for link in change.linked}["concave_clearance_outlet"]
        assert linked.to_value / linked.from_value == pytest.approx(change.to_value / change.from_value, rel=0.02)

    def test_measured_figures_lead_to_the_same_change_as_grades(self) -> None:
        measured = changed(ask(measured={"broken_pct": 8.0}))
        assert (measured.setting, measured.direction) == ("threshing_speed", "down")


class TestPromises:
    @given(
        st.sampled_from(CASES),
        st.lists(st.tuples(st.sampled_from(REPORTABLE), st.integers(1, 5)), max_size=4, unique_by=lambda told: told[0]),
        st.lists(st.floats(0, 1), min_size=12, max_size=12),
        st.sampled_from(["balanced", "loss", "sample", "output", "straw"]),
    )
    @settings(max_examples=60, deadline=None)
    def test_every_value_stays_in_its_envelope_and_within_its_steps(
        self, case: tuple[str, str], told: list[tuple[str, int]], shares: list[float], priority: str
    ) -> None:
        asked = replace(conditions(*case), priority=priority)
        answers = {setting.id: setting for setting in recommend(TABLE, asked).settings}
        current = {
            name: round(a.low + share * (a.high - a.low), DECIMALS[a.unit])
            for (name, a), share in zip(answers.items(), shares, strict=False)
        }
        answer = ask(asked, current, symptoms=tuple(symptom(*pair) for pair in told))
        for change in (answer.change, *answer.alternatives):
            if change is not None:
                envelope = answers[change.setting]
                assert envelope.low <= change.to_value <= envelope.high
                assert (change.to_value > change.from_value) == (change.direction == "up")
        if answer.change is not None:
            change, crop = answer.change, TABLE.crops[case[0]]
            lever = INFLUENCE.lever(change.setting, crop.group)
            assert lever is not None
            rounding = 10.0 ** -DECIMALS[change.unit]
            assert abs(change.to_value - change.from_value) <= lever.max_steps * change.step + rounding
            assert {effect.outcome for effect in change.effects} >= set(REPORTABLE)
            total = sum(effect.cost_change_pct for effect in change.effects)
            assert total + change.doubt_pct == pytest.approx(-change.gain_pct, abs=1e-6)
            for effect in change.effects:  # what rises costs, what falls saves
                assert effect.cost_change_pct * effect.change_pct >= 0
            for link in change.linked:
                assert answers[link.setting].low <= link.to_value <= answers[link.setting].high

    def test_same_question_same_answer(self) -> None:
        assert ask(symptoms=(symptom("cracked"),)) == ask(symptoms=(symptom("cracked"),))

    @pytest.mark.parametrize("name", REPORTABLE)
    def test_a_worse_symptom_never_turns_the_advice_round(self, name: str) -> None:
        moves = [ask(symptoms=(symptom(name, grade),)).change for grade in range(1, 6)]
        for setting in {move.setting for move in moves if move is not None}:
            assert len({move.direction for move in moves if move is not None and move.setting == setting}) == 1

    def test_a_worse_symptom_gains_more(self) -> None:
        gains = [changed(ask(symptoms=(symptom("unthreshed", grade),))).gain_pct for grade in (3, 4, 5)]
        assert gains == sorted(gains)

    @pytest.mark.parametrize("effect", ["worse", "same", "better"])
    def test_a_failed_change_is_put_back_and_not_proposed_again(self, effect: str) -> None:
        first = changed(ask(symptoms=(symptom("cracked"),)))
        past = PastChange(setting=first.setting, from_value=first.from_value, to_value=first.to_value, effect=effect)  # type: ignore[arg-type]
        after = ask(current={first.setting: first.to_value}, symptoms=(symptom("cracked"),), history=(past,))
        if effect != "worse":
            assert changed(after).reason != "undo" or effect == "same"
            return
        assert (changed(after).reason, changed(after).to_value) == ("undo", first.from_value)
        again = ask(symptoms=(symptom("cracked"),), history=(past,))
        proposed = [(changed(again).setting, changed(again).direction)]
        proposed += [(other.setting, other.direction) for other in again.alternatives]
        assert (first.setting, first.direction) not in proposed

    def test_advice_comes_to_an_end(self) -> None:
        """A machine on which nothing helps: every change is told to be worse."""
        now, history = start(), list[PastChange]()
        for _ in range(60):
            told = (symptom("cracked"), symptom("unthreshed"))
            answer = ask(current=now, symptoms=told, checks_done=("wrong_concave",), history=tuple(history))
            if answer.change is None:
                break
            change = answer.change
            if change.reason == "gain":
                past = PastChange(
                    setting=change.setting, from_value=change.from_value, to_value=change.to_value, effect="worse"
                )
                assert past not in history
                history.append(past)
            now = {**now, change.setting: change.to_value}
        else:
            pytest.fail("60 changes and no end")
        assert answer.change is None
        assert answer.say.code in ("adjust.leave", "adjust.leave_exhausted")

    def test_good_figures_leave_the_settings_alone(self) -> None:
        good = {"unthreshed_pct": 0.03, "separation_loss_pct": 0.05, "cleaning_loss_pct": 0.05, "broken_pct": 0.2}
        dirt = {"chaff_pct": 0.1, "straw_pct": 0.1, "heads_pct": 0.1, "header_loss_pct": 0.05}
        absent = tuple(symptom(name, 0) for name in REPORTABLE)
        answer = ask(measured=good | dirt, symptoms=absent)
        assert answer.change is None or answer.change.gain_pct < 2

    @pytest.mark.parametrize("case", CASES, ids="-".join)
    def test_every_crop_and_class_has_an_answer(self, case: tuple[str, str]) -> None:
        answer = ask(conditions(*case), symptoms=(symptom("cracked", 5),))
        change = changed(answer)
        assert change.why
        assert change.undo_when
        assert change.proof.sources
        helped = next(effect for effect in change.effects if effect.outcome == "cracked")
        assert helped.direction == "falls"
        assert helped.low_pct <= helped.change_pct <= helped.high_pct

    def test_the_wish_decides_between_loss_and_sample(self) -> None:
        told = (symptom("unthreshed", 4), symptom("cracked", 4))

        def weighs(priority: str) -> float:
            change = changed(ask(replace(WHEAT, priority=priority), symptoms=told, checks_done=("wrong_concave",)))
            return next(e.change_pct for e in change.effects if e.outcome == "cracked")

        assert weighs("sample") < 0 <= weighs("loss")


class TestChecks:
    def test_undeclared_sieve_comes_before_the_air(self) -> None:
        case = replace(WHEAT, lower_sieve_design=None)
        answer = ask(case, symptoms=(symptom("cleaning_loss", 3),))
        assert answer.kind == "check"
        assert [check.code for check in answer.checks] == ["wrong_sieve_declared"]
        assert answer.change is not None
        assert ask(case, symptoms=(symptom("cracked", 3),)).kind == "change"

    def test_opposite_symptoms_lead_to_the_concave_and_a_change_that_weighs_both(self) -> None:
        answer = ask(symptoms=(symptom("unthreshed", 4), symptom("cracked", 4)))
        assert "wrong_concave" in [check.code for check in answer.checks]
        assert "warning.opposite_symptoms" in codes(answer.warnings)
        alone = changed(ask(symptoms=(symptom("unthreshed", 4),)))
        assert changed(answer).gain_pct < 0.6 * alone.gain_pct

    def test_losses_everywhere_lead_to_engine_speed(self) -> None:
        told = tuple(symptom(name, 3) for name in ("unthreshed", "separation_loss", "cleaning_loss"))
        assert "low_engine_speed" in [check.code for check in ask(symptoms=told).checks]

    def test_measured_losses_point_as_grades_do(self) -> None:
        measured = {"unthreshed_pct": 1.0, "separation_loss_pct": 2.0, "cleaning_loss_pct": 2.0}
        assert "low_engine_speed" in [check.code for check in ask(measured=measured).checks]

    def test_speed_out_of_range_is_named(self) -> None:
        fast = next(setting for setting in recommend(TABLE, WHEAT).settings if setting.id == "ground_speed").high + 2
        answer = ask(current={"ground_speed": fast}, symptoms=(symptom("cleaning_loss", 3),))
        assert answer.checks[0].code == "ground_speed_out_of_range"
        assert changed(answer).reason == "outside_envelope"

    def test_thin_crop_that_cracks_is_driven_faster(self) -> None:
        answer = ask(replace(WHEAT, yield_t_ha=3.0), symptoms=(symptom("cracked", 3),))
        assert "thin_crop_no_mat" in [check.code for check in answer.checks]

    def test_two_changes_without_effect_lead_to_the_sensors(self) -> None:
        now = start()
        air, sieve = now["cleaning_air_speed"], now["upper_sieve_opening"]
        history = (
            PastChange(setting="cleaning_air_speed", from_value=air - 0.3, to_value=air, effect="same"),
            PastChange(setting="upper_sieve_opening", from_value=sieve - 1.5, to_value=sieve, effect="same"),
        )
        answer = ask(symptoms=(symptom("dirty_chaff", 3),), history=history)
        assert "sensors_not_relearned" in [check.code for check in answer.checks]


class TestContradictions:
    def test_setting_outside_its_envelope_is_named_and_brought_in(self) -> None:
        answer = ask(current={"threshing_speed": 38.0}, symptoms=(symptom("cracked", 2),))
        assert codes(answer.contradictions) == ["contradiction.outside_envelope"]
        assert changed(answer).reason == "outside_envelope"
        assert changed(answer).to_value == 34.0  # the wheat row's high

    @pytest.mark.parametrize("name", ["unthreshed", "cracked"])
    def test_who_was_brought_in_is_not_sent_out_again(self, name: str) -> None:
        change = changed(ask(current={"threshing_speed": 38.0}, symptoms=(symptom(name, 5),)))
        assert change.reason == "outside_envelope"
        assert codes(change.undo_when) == ["undo.stay_inside"]

    def test_grade_against_figure_is_named(self) -> None:
        answer = ask(measured={"broken_pct": 0.2}, symptoms=(symptom("cracked", 5),))
        assert codes(answer.contradictions) == ["contradiction.grade_against_figure"]

    def test_history_that_does_not_lead_here_is_named(self) -> None:
        past = PastChange(setting="threshing_speed", from_value=24.0, to_value=25.0, effect="better")
        answer = ask(symptoms=(symptom("cracked"),), history=(past,))
        assert codes(answer.contradictions) == ["contradiction.history_gap"]

    def test_effect_against_figures_is_named_and_the_effect_told_is_taken(self) -> None:
        speed = start()["threshing_speed"]
        past = PastChange(
            setting="threshing_speed",
            from_value=speed + 1,
            to_value=speed,
            effect="worse",
            measured_before={"broken_pct": 4.0},
            measured_after={"broken_pct": 2.0},
        )
        answer = ask(symptoms=(symptom("cracked"),), history=(past,))
        assert codes(answer.contradictions) == ["contradiction.effect_against_figures"]
        assert changed(answer).reason == "undo"

    def test_nothing_told_and_nothing_given_is_said(self) -> None:
        answer = next_adjustment(TABLE, AdjustmentQuestion(conditions=WHEAT))
        assert {"warning.nothing_told", "warning.settings_not_given"} <= set(codes(answer.warnings))


SPEED = PastChange(setting="threshing_speed", from_value=28.9, to_value=27.5)
REFUSED: list[tuple[dict[str, Any], type[Exception], str]] = [
    ({"symptoms": (symptom("grumpiness"),)}, UnknownName, "symptoms.0.symptom"),
    ({"symptoms": (symptom("dirty_pods"),)}, UnknownName, "symptoms.0.symptom"),  # wheat has no pods
    ({"symptoms": (symptom("cracked", 6),)}, OutOfRange, "symptoms.0.severity"),
    ({"symptoms": (symptom("cracked", 3), symptom("cracked", 0))}, Contradiction, "symptoms.1.severity"),
    ({"symptoms": (symptom("cracked", 3, "light_chaff"),)}, Contradiction, "symptoms.0.tell_tale"),
    ({"symptoms": (symptom("cracked", 0, "returns_normal"),)}, Contradiction, "symptoms.0.tell_tale"),
    ({"symptoms": (symptom("cracked", 3, "a_hunch"),)}, UnknownName, "symptoms.0.tell_tale"),
    ({"measured": {"mood_pct": 1.0}}, UnknownName, "measured.mood_pct"),
    ({"measured": {"broken_pct": -1.0}}, OutOfRange, "measured.broken_pct"),
    ({"measured": {"foreign_matter_pct": 2.0, "chaff_pct": 1.0}}, Contradiction, "measured.foreign_matter_pct"),
    ({"measured": {"unthreshed_pct": 60.0, "header_loss_pct": 41.0}}, Contradiction, "measured.unthreshed_pct"),
    ({"measured": {"broken_pct": 60.0, "foreign_matter_pct": 41.0}}, Contradiction, "measured.broken_pct"),
    ({"checks_done": ("luck",)}, UnknownName, "checks_done.0"),
    ({"history": (SPEED,)}, InvalidInput, "history.0.effect"),
    ({"history": (replace(SPEED, from_value=27.5, effect="same"),)}, Contradiction, "history.0.from_value"),
    ({"history": (replace(SPEED, setting="mood", effect="same"),)}, UnknownName, "history.0.setting"),
    ({"history": (replace(SPEED, measured_after={"x": 1.0}),)}, UnknownName, "history.0.measured_after.x"),
]


@pytest.mark.parametrize(("more", "error", "field"), REFUSED, ids=[field for _, _, field in REFUSED])
def test_what_cannot_be_is_refused_with_its_field(more: dict[str, Any], error: type[Exception], field: str) -> None:
    with pytest.raises(error) as caught:
        ask(**more)
    assert caught.value.field == field  # type: ignore[attr-defined]


def test_starting_settings_refusals_come_through() -> None:
    with pytest.raises(OutsideWindow):
        ask(current={}, case=replace(WHEAT, grain_moisture_pct=3.0))
    uncovered = [
        (crop.id, machine_class)
        for crop in TABLE.crops.values()
        for machine_class in ("walker", "hybrid", "axial", "twin_axial")
        if machine_class not in crop.coverage["starting_settings"].classes
    ]
    for crop, machine_class in uncovered[:1]:
        with pytest.raises(NotCovered):
            next_adjustment(TABLE, AdjustmentQuestion(conditions=conditions(crop, machine_class)))


def test_foreign_matter_as_a_whole_goes_to_the_kind_that_was_seen() -> None:
    dirty = changed(ask(measured={"foreign_matter_pct": 6.0}, symptoms=(symptom("dirty_chaff", 4, "light_chaff"),)))
    assert (dirty.setting, dirty.direction) == ("cleaning_air_speed", "up")


def test_measured_history_teaches_as_well_as_an_effect_told() -> None:
    speed = start()["threshing_speed"]
    past = PastChange(
        setting="threshing_speed",
        from_value=speed + 1.4,
        to_value=speed,
        measured_before={"broken_pct": 3.0, "unthreshed_pct": 0.2},
        measured_after={"broken_pct": 6.0, "unthreshed_pct": 0.2},
    )
    change = changed(ask(measured={"broken_pct": 6.0, "unthreshed_pct": 0.2}, history=(past,)))
    assert (change.reason, change.to_value) == ("undo", pytest.approx(speed + 1.4))


def test_names_are_local_texts() -> None:
    change = changed(ask(symptoms=(symptom("cracked"),)))
    assert isinstance(change.names, LocalText)
    assert change.names.de
