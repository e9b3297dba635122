"""The judgement of a spread: mirror images, wind, mass, and what is advised."""

import math
from dataclasses import replace
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.residue_flight import landings_m
from service.domain.residue_reach import drag_at
from service.domain.spread_evenness import uniformity
from service.domain.spread_pattern import centre_m, layer_at, mass_between
from service.domain.types import Message, Quantity
from service.errors import Contradiction, InvalidInput, OutOfRange, UnknownName
from service.knowledge.load import load_table
from service.knowledge.table import KnowledgeTable
from service.usecases.residue_amount import reckon_residue
from service.usecases.residue_spread import judge_spread
from service.usecases.residue_types import AmountQuestion, Correction, Spread, SpreadQuestion

FEW = settings(max_examples=5, deadline=None, database=None)
PLACES = tuple(-6.0 + 0.75 * number for number in range(17))
STRAW = (0.0, 3, 18, 44, 58, 63, 66, 70, 74, 70, 66, 63, 58, 44, 18, 3, 0)
CHAFF = (0.0, 0, 5, 14, 24, 30, 34, 38, 40, 38, 34, 30, 24, 14, 5, 0, 0)
SIDES = {"left": "right", "right": "left", "both": "both", "none": "none"}


@cache
def table() -> KnowledgeTable:
    return load_table()


@cache
def judged(asked: SpreadQuestion) -> Spread:
    return judge_spread(table(), asked)


def ask(**change: object) -> Spread:
    return judged(question(**change))


def question(**change: object) -> SpreadQuestion:
    plain = SpreadQuestion("wheat", 9.0, "right", PLACES, straw_g=STRAW, chaff_g=CHAFF)
    return replace(plain, **change)  # type: ignore[arg-type]


def mirror(one: SpreadQuestion) -> SpreadQuestion:
    return replace(
        one,
        positions_m=tuple(-place for place in reversed(one.positions_m)),
        straw_g=one.straw_g[::-1],
        chaff_g=one.chaff_g[::-1],
        standing_crop=SIDES[one.standing_crop],  # type: ignore[arg-type]
        crosswind_m_s=-one.crosswind_m_s,
        slope_across_deg=-one.slope_across_deg,
        lateral_offset_m=-one.lateral_offset_m,
    )


def named(answer: Spread, code: str) -> Correction:
    return next(one for one in answer.corrections if one.code == code)


@FEW
@given(
    st.lists(st.floats(0, 80), min_size=17, max_size=17).filter(lambda x: sum(x[3:-3]) > 50),
    st.sampled_from(["left", "right"]),
    st.sampled_from([0.0, 3.0, -6.0]),
    st.sampled_from([0.0, 7.0]),
    st.sampled_from(["back_and_forth", "round_and_round"]),
)
def test_the_mirror_image_of_a_question_has_the_mirror_image_of_the_answer(
    straw: list[float], standing: str, wind: float, slope: float, driving: str
) -> None:
    asked = question(
        straw_g=tuple(straw), standing_crop=standing, crosswind_m_s=wind, slope_across_deg=slope, driving=driving
    )
    one, other = judge_spread(table(), asked), judge_spread(table(), mirror(asked))
    assert other.as_it_is.outlook.score == pytest.approx(one.as_it_is.outlook.score, rel=2e-3)
    assert other.as_it_is.outlook.right_pct == pytest.approx(100 - one.as_it_is.outlook.right_pct, abs=0.05)
    assert other.materials[0].gap_left_m == pytest.approx(one.materials[0].gap_right_m)
    assert other.materials[0].past_left_pct == pytest.approx(one.materials[0].past_right_pct)
    assert other.air.shift_m.value == pytest.approx(-one.air.shift_m.value, abs=2e-3)
    flipped = {"left": "right", "right": "left", "both": "both"}
    for correction in one.corrections:
        side, _, way = correction.code.partition("_")
        code = f"{flipped[side]}_{way}" if side in flipped else correction.code
        if correction.code == "lateral_offset":
            continue  # set in steps, of which two may score alike
        image = named(other, code)
        assert image.gain == pytest.approx(correction.gain, abs=0.1), code
        places = [-4.0, -1.0, 2.5]
        turned = layer_at(image.pattern, [-place for place in places])
        assert turned == pytest.approx(layer_at(correction.pattern, places), abs=0.5)


def test_the_throw_is_judged_with_the_offset_set() -> None:
    """The machine is symmetrical: what wind carries aside the offset brings back, it asks for no wider throw."""
    calm, wind = ask(standing_crop="none"), ask(standing_crop="none", crosswind_m_s=3.0)
    assert wind.throw_wanted_pct == pytest.approx(calm.throw_wanted_pct, abs=10)


def test_a_symmetrical_machine_is_mirrored_after_the_headland_turn() -> None:
    answer = ask(crosswind_m_s=3.0)
    offset = named(answer, "lateral_offset")
    assert offset.turn == "mirror"
    assert offset.offset_m is not None
    assert offset.offset_m < 0  # against the wind, which comes from the left
    assert offset.return_offset_m == pytest.approx(-offset.offset_m)
    assert offset.turn_text is not None
    assert offset.turn_text.params["place"] == Message("offset.right", {"offset": Quantity(-offset.offset_m, "m")})
    assert offset.return_pattern is not None
    places = [-4.0, -1.5, 0.0, 2.0, 4.5]
    back = layer_at(offset.return_pattern, [-place for place in places])
    assert back == pytest.approx(layer_at(offset.pattern, places), abs=0.05)


def test_a_fault_of_the_machine_wants_the_same_setting_both_ways() -> None:
    skewed = tuple(place + 1.5 for place in PLACES)
    answer = ask(positions_m=skewed, standing_crop="none")
    offset = named(answer, "lateral_offset")
    assert offset.change_m == pytest.approx(-1.5)
    assert offset.return_offset_m == pytest.approx(-1.5)
    assert offset.turn == "keep"
    assert centre_m(offset.pattern) == pytest.approx(0.0, abs=0.05)
    assert answer.best == "lateral_offset"


def test_round_and_round_there_is_no_way_back() -> None:
    for one in ask(driving="round_and_round", crosswind_m_s=3.0).corrections:
        assert one.turn is None
        assert one.turn_text is None
        assert one.return_pattern is None
        assert one.return_offset_m is None


def test_every_change_keeps_the_mass_in_any_wind() -> None:
    for wind in (0.0, 3.0, -9.0):
        answer = ask(crosswind_m_s=wind, slope_across_deg=5.0)
        mass = mass_between(answer.measured, -math.inf, math.inf)
        for one in (answer.as_it_is, *answer.corrections):
            for pattern in (one.pattern, one.return_pattern):
                assert pattern is not None
                assert mass_between(pattern, -math.inf, math.inf) == pytest.approx(mass, rel=1e-6), (wind, one.code)


def test_nothing_moves_in_still_air_on_the_level() -> None:
    answer = ask()
    assert answer.as_it_is.pattern == answer.measured
    assert answer.air.shift_m.value == 0
    assert answer.air.throw_more == "neither"
    assert answer.air.offset_wanted_m == 0


def test_more_wind_moves_it_further_and_lays_it_worse() -> None:
    answers = [ask(crosswind_m_s=wind) for wind in (0.0, 1.5, 3.0, 6.0, 10.0)]
    shifts = [one.air.shift_m.value for one in answers]
    scores = [one.as_it_is.outlook.score for one in answers]
    standing = [one.as_it_is.outlook.standing_pct or 0.0 for one in answers]
    assert shifts == sorted(shifts)
    assert scores == sorted(scores)
    assert standing == sorted(standing)
    # about the drift of a stream of effective terminal velocity 4 to 5 m/s: 0.6 s
    assert 0.5 < answers[2].air.shift_m.low / 3 < 0.7
    assert all(one.air.shift_m.low <= one.air.shift_m.value <= one.air.shift_m.high for one in answers)


def test_the_drift_is_the_middle_between_stream_and_lone_pieces() -> None:
    """Far end of straw: 0.74 m for each m/s, a lone internode piece (3.35 m/s, level at 25 m/s, from 1.5 m).

    That figure is for wind along the throw; across it the piece is slowed as much and drifts 0.7 m.
    """
    for flight in ask(crosswind_m_s=3.0).air.flights:
        low, high = flight.shift_m.low, flight.shift_m.high
        assert flight.shift_m.value == pytest.approx((low + high) / 2, rel=0.01)
        assert low < 0.9 * high
    straw = ask(crosswind_m_s=3.0).air.flights[0]
    assert straw.code == "straw"
    assert straw.shift_m.high / 3 == pytest.approx(0.74, abs=0.06)


def test_chaff_drifts_further_than_straw() -> None:
    flights = {one.code: one for one in ask(crosswind_m_s=4.0).air.flights}
    assert flights["chaff"].shift_m.value > flights["straw"].shift_m.value > 1
    for one in flights.values():
        assert one.calibrated.lone_reach_m < one.calibrated.reach_m  # a lone piece would not fly as far
        assert one.shift_m.high > one.shift_m.value  # and would drift further


def test_the_slope_moves_it_downhill() -> None:
    assert ask(slope_across_deg=8.0).air.shift_m.value > 0.1
    assert ask(slope_across_deg=8.0).air.throw_more == "left"
    assert ask(slope_across_deg=-8.0).air.shift_m.value < -0.1


def test_beyond_the_limit_even_spread_is_out_of_reach() -> None:
    limits = {one.wind_from: (one.careful_m_s, one.latest_m_s) for one in ask().air.limits}
    for side, sign in (("left", 1), ("right", -1)):
        careful, latest = limits[side]
        assert careful is not None
        assert latest is not None
        assert careful < latest
        assert ask(crosswind_m_s=sign * (latest + 0.3)).decision.code == f"decision.residue_wind_{side}"
        between = ask(crosswind_m_s=sign * (careful + latest) / 2)
        assert between.decision.code == f"decision.residue_wind_doubtful_{side}"
        assert between.decision.params["low"] == Quantity(round(careful * 3.6), "km/h")
        assert between.decision.params["high"] == Quantity(round(latest * 3.6), "km/h")
        assert not ask(crosswind_m_s=sign * (careful - 0.3)).decision.code.startswith("decision.residue_wind")


def test_a_spreader_that_can_be_set_further_stands_more_wind() -> None:
    reached = []
    for most in (0.5, 1.5, 3.0):
        limit = ask(lateral_offset_max_m=most).air.limits[0].careful_m_s
        assert limit is not None
        reached.append(limit)
    assert reached == sorted(reached)
    assert reached[0] < reached[-1] - 1


def test_the_offset_stays_inside_its_range_and_says_so() -> None:
    answer = ask(crosswind_m_s=8.0, lateral_offset_max_m=1.0, lateral_offset_m=-0.4)
    offset = named(answer, "lateral_offset")
    assert offset.offset_m == pytest.approx(-1.0)
    assert offset.change_m == pytest.approx(-0.6)
    assert "warning.residue.offset_at_end" in {one.code for one in answer.warnings}


def test_an_even_spread_is_left_alone() -> None:
    """Full inside the cut and half at its edges, so that two passes add up to full."""
    places = tuple(-5.25 + 0.75 * number for number in range(15))
    layers = (0.0, 25.0, *[50.0] * 11, 25.0, 0.0)
    answer = ask(positions_m=places, straw_g=layers, chaff_g=layers)
    assert answer.decision.code == "decision.residue_leave"
    assert answer.best is None
    assert {one.level for one in answer.verdicts} <= {"good", "watch"}
    for one in answer.overlaps:
        assert one.overlap.evenness.cv_pct == pytest.approx(0.0, abs=1e-6)


def test_a_narrow_spread_is_thrown_further() -> None:
    narrow = tuple(place * 0.6 for place in PLACES)
    answer = ask(positions_m=narrow)
    assert answer.best == "throw_further"
    assert answer.throw_wanted_pct >= 30
    assert answer.materials[0].coverage_pct < 80
    codes = {one.code: one.level for one in answer.verdicts}
    assert codes["coverage"] == "poor"


def test_without_chaff_apart_the_crop_s_ratios_split_it() -> None:
    """Wheat: chaff 0.25, straw 1.0 of which 47.5 % goes in: 0.25 / (0.475 + 0.25)."""
    whole = tuple(a + b for a, b in zip(STRAW, CHAFF, strict=True))
    answer = ask(straw_g=(), chaff_g=(), residue_g=whole)
    shares = {one.code: one.share_pct for one in answer.materials}
    assert shares["chaff"] == pytest.approx(100 * 0.25 / 0.725)
    assert "warning.residue.not_apart" in {one.code for one in answer.warnings}


def test_the_layer_is_told_where_the_tray_is_known() -> None:
    """A tray of a quarter of a square metre with 50 g holds 2 t/ha: even over the cut it is as it reads."""
    places = tuple(-4.5 + 0.75 * number for number in range(13))
    answer = ask(
        positions_m=places, straw_g=(0.0, *[50.0] * 11, 0.0), chaff_g=(0.0, *[0.001] * 11, 0.0), tray_area_m2=0.25
    )
    assert answer.materials[0].layer_t_ha == pytest.approx(2.0 * 11 * 0.75 / 9.0, rel=1e-3)


def test_the_mode_is_changed_with_the_drive_stopped() -> None:
    assert ask().cautions[0].code == "caution.spreader_mode_stopped"


@pytest.mark.parametrize("spacing", [3.0, 7.7, 9.0, 12.0])
def test_any_spacing_is_overlapped_both_ways(spacing: float) -> None:
    answer = ask(swath_spacings_m=(spacing, 5.0))
    assert {(one.driving, one.spacing_m) for one in answer.overlaps} == {
        (driving, one) for driving in ("back_and_forth", "round_and_round") for one in (spacing, 5.0)
    }
    mass = mass_between(answer.measured, -math.inf, math.inf)
    for one in answer.overlaps:
        assert one.overlap.evenness.mean == pytest.approx(mass / one.spacing_m, rel=0.02)
    assert ("warning.residue.spacing_above_cut" in {one.code for one in answer.warnings}) == (spacing > 9)


@pytest.mark.parametrize(
    ("change", "error", "field"),
    [
        ({"residue_g": STRAW}, Contradiction, "residue_g"),
        ({"chaff_g": ()}, InvalidInput, "chaff_g"),
        ({"straw_g": ()}, InvalidInput, "straw_g"),
        ({"straw_g": (), "chaff_g": ()}, InvalidInput, "residue_g"),
        ({"straw_g": STRAW[1:]}, Contradiction, "positions_m"),
        ({"straw_g": (0.0,) * 17}, InvalidInput, "straw_g"),
        ({"straw_g": (5.0,) + (0.0,) * 16, "chaff_g": (5.0,) + (0.0,) * 16}, InvalidInput, "straw_g"),
        ({"positions_m": PLACES[:2] + PLACES[1:-1]}, InvalidInput, "positions_m.2"),
        ({"positions_m": (-6.01, *PLACES[:-1])}, InvalidInput, "positions_m.1"),
        ({"positions_m": tuple(place + 7 for place in PLACES)}, InvalidInput, "positions_m"),
        ({"cut_width_m": 2.0}, Contradiction, "positions_m"),
        ({"lateral_offset_m": 3.0}, OutOfRange, "lateral_offset_m"),
        ({"lateral_offset_m": 1.0, "lateral_offset_max_m": 0.5}, OutOfRange, "lateral_offset_m"),
        ({"crop": "moonwort"}, UnknownName, "crop"),
        ({"revision": "1999.1.1"}, UnknownName, "revision"),
    ],
)
def test_what_cannot_be_is_refused_by_name(change: dict[str, object], error: type[Exception], field: str) -> None:
    with pytest.raises(error) as refused:
        ask(**change)
    assert refused.value.field == field  # type: ignore[attr-defined]


@pytest.mark.parametrize("standing", ["left", "right", "both", "none"])
@pytest.mark.parametrize(("wind", "slope"), [(0.0, 0.0), (3.0, 0.0), (0.0, 6.0), (-2.0, -4.0)])
def test_after_the_turn_only_what_is_there_lies_on_the_other_side(standing: str, wind: float, slope: float) -> None:
    answer = ask(
        positions_m=tuple(place + 0.6 for place in PLACES),
        standing_crop=standing,
        crosswind_m_s=wind,
        slope_across_deg=slope,
    )
    for one in answer.corrections:
        assert one.turn_text is not None
        told = {why.code for why in one.turn_text.params.get("why", [])}  # type: ignore[attr-defined]
        holds = {"turn.standing_crop": standing in ("left", "right"), "turn.wind": wind, "turn.slope": slope}
        assert told == (set() if one.turn == "keep" else {code for code, there in holds.items() if there})
        if one.return_offset_m is None:
            continue
        # the figure of the way back is told, and mirrored is said of the mirror image alone
        assert one.offset_m is not None
        side = "right" if one.return_offset_m > 0 else "left" if one.return_offset_m < 0 else "neutral"
        place = one.turn_text.params["place"]
        assert isinstance(place, Message)
        assert place.code == f"offset.{side}"
        if side != "neutral":
            assert place.params == {"offset": Quantity(abs(one.return_offset_m), "m")}
        mirrored, same = (one.return_offset_m == pytest.approx(sign * one.offset_m) for sign in (-1, 1))
        assert one.turn == ("keep" if same else "mirror" if mirrored else "change")


def test_a_fault_of_the_machine_and_wind_want_another_offset_on_the_way_back() -> None:
    """0.6 m to the right by the machine, and wind from the left: the two add up on the way out alone."""
    answer = ask(positions_m=tuple(place + 0.6 for place in PLACES), standing_crop="none", crosswind_m_s=2.0)
    offset = named(answer, "lateral_offset")
    assert offset.turn == "change"
    assert offset.offset_m is not None
    assert offset.return_offset_m is not None
    assert (offset.offset_m + offset.return_offset_m) / 2 == pytest.approx(-0.6, abs=0.051)


def test_a_told_speed_that_does_not_go_with_the_trays_is_named() -> None:
    """A body that leaves at 8 m/s from 1.5 m flies 8 sqrt(2 x 1.5 / g) = 4.42 m at most: less than trays show."""
    assumed, told = ask(crosswind_m_s=3.0), ask(crosswind_m_s=3.0, discharge_speed_m_s=8.0)
    for flight in told.air.flights:
        assert flight.told_m_s == 8.0
        assert flight.calibrated.stream.discharge_speed_m_s > 10
    (straw, chaff) = [one for one in told.warnings if one.code == "warning.residue.told_speed"]
    assert straw.params["told"] == chaff.params["told"] == Quantity(8.0, "m/s")
    fitted = told.air.flights[0].calibrated.stream.discharge_speed_m_s
    assert straw.params["fitted"] == Quantity(fitted, "m/s")
    assert not [one for one in told.warnings if one.code.startswith("warning.residue.reach_")]
    assert all(one.told_m_s is None for one in assumed.air.flights)


def test_a_told_speed_widens_the_drift_to_hold_both() -> None:
    """Thrown a third as far, a stream of 60 m/s has to be slowed by air far more than lone pieces are."""
    short = {"positions_m": tuple(place * 0.6 for place in PLACES), "cut_width_m": 5.0, "crosswind_m_s": 3.0}
    answer = ask(**short, discharge_speed_m_s=60.0)
    straw = answer.air.flights[0]
    assert straw.calibrated.adapted == "slower"
    assert straw.told_m_s == 60.0
    told = drag_at(straw.calibrated.reach_m, 60.0, 1.5)
    still, moved = landings_m(told, [-45.0, 0.0, 45.0], [0.0, 3.0], 0.0)
    drift = sum(after - before for before, after in zip(still, moved, strict=True)) / 3
    assert drift > 1.1 * straw.shift_m.value  # what would have been left out
    assert straw.shift_m.high == pytest.approx(drift, rel=1e-6)
    fitted = [one for one in ask(**short, discharge_speed_m_s=25.0).air.flights if one.code == "straw"]
    assert fitted[0].shift_m.high < straw.shift_m.high


def test_a_told_speed_that_goes_with_the_trays_is_taken() -> None:
    for flight in ask(discharge_speed_m_s=27.0).air.flights:
        assert flight.told_m_s is None
        assert flight.calibrated.stream.discharge_speed_m_s == 27.0


def test_overlap_is_judged_where_trays_lie_and_between_them() -> None:
    """By hand: passes 9 m apart, trays every 0.75 m from 0 on, each sum of the readings 9 m apart."""
    answer = ask(driving="round_and_round")
    whole = [a + b for a, b in zip(STRAW, CHAFF, strict=True)]
    sums = [whole[place] + (whole[place + 12] if place + 12 < 17 else 0.0) for place in range(12)]
    (found,) = [one for one in answer.overlaps if one.driving == "round_and_round"]
    assert found.at_trays
    assert found.overlap.evenness.cv_pct == pytest.approx(uniformity(sums).cv_pct, abs=1e-9)
    assert found.line_cv_pct < found.overlap.evenness.cv_pct
    assert answer.as_it_is.outlook.cv_pct == pytest.approx(found.overlap.evenness.cv_pct)
    assert answer.as_it_is.outlook.line_cv_pct == pytest.approx(found.line_cv_pct)


def test_trays_at_unequal_distances_are_told() -> None:
    places = (*PLACES[:8], 0.3, *PLACES[9:])
    answer = ask(positions_m=places)
    assert "warning.residue.unequal_trays" in {one.code for one in answer.warnings}
    for one in answer.overlaps:
        assert not one.at_trays
        assert one.overlap.evenness.cv_pct == one.line_cv_pct


def test_what_trays_cannot_tell_apart_is_not_told() -> None:
    for change in ({"crosswind_m_s": 3.0}, {"standing_crop": "both"}, {"crosswind_m_s": 1.0, "standing_crop": "none"}):
        answer = ask(**change)
        outcome = answer.decision.params["outcome"]
        assert isinstance(outcome, list)
        for one in outcome:
            if "now" in one.params:
                assert abs(one.params["now"].value - one.params["after"].value) >= 1, one
        best = named(answer, str(answer.best)).outlook
        told = {one.code for one in outcome}
        now = answer.as_it_is.outlook.standing_pct
        if best.standing_pct is None or now is None or abs(best.standing_pct - now) < 2:
            assert "spread.standing" not in told
        else:
            assert "spread.standing" in told


def test_next_to_nothing_in_the_trays_is_told() -> None:
    little = ask(straw_g=tuple(one / 100 for one in STRAW), chaff_g=tuple(one / 100 for one in CHAFF))
    (warning,) = [one for one in little.warnings if one.code == "warning.residue.little"]
    assert warning.params["fullest"] == Quantity(pytest.approx(1.14), "g")
    assert "warning.residue.little" not in {one.code for one in ask().warnings}


def amount(**change: object) -> object:
    return reckon_residue(table(), replace(AmountQuestion("wheat", yield_t_ha=8.0), **change))  # type: ignore[arg-type]


def test_amounts_add_up_and_scale_with_the_yield() -> None:
    one = reckon_residue(table(), AmountQuestion("wheat", yield_t_ha=8.0, grain_moisture_pct=14.0))
    two = reckon_residue(table(), AmountQuestion("wheat", yield_t_ha=4.0, grain_moisture_pct=14.0))
    parts = one.straw.dry_t_ha.value + one.chaff.dry_t_ha.value
    assert one.above_ground.dry_t_ha.value == pytest.approx(parts)
    assert one.through_machine.dry_t_ha.value + one.stubble.dry_t_ha.value == pytest.approx(parts)
    assert one.above_ground.dry_t_ha.value == pytest.approx(2 * two.above_ground.dry_t_ha.value)
    for mass in (one.straw, one.chaff, one.through_machine, one.stubble, one.above_ground):
        assert mass.dry_t_ha.low <= mass.dry_t_ha.value <= mass.dry_t_ha.high
        assert mass.as_is_t_ha is None


def test_a_given_ratio_has_no_range() -> None:
    one = reckon_residue(
        table(),
        AmountQuestion("wheat", yield_t_ha=8.0, straw_to_grain=1.0, chaff_to_grain=0.2, straw_intake_share_pct=60),
    )
    assert one.through_machine.dry_t_ha.low == one.through_machine.dry_t_ha.high
    assert one.ratio_proofs == ()


@pytest.mark.parametrize(
    ("change", "error", "field"),
    [
        ({"yield_t_ha": None}, InvalidInput, "yield_t_ha"),
        ({"yield_bu_ac": 80.0}, Contradiction, "yield_t_ha"),
        ({"cut_width_m": 9.0}, InvalidInput, "laid_width_m"),
        ({"laid_width_m": 2.0}, InvalidInput, "cut_width_m"),
        ({"laid_width_m": 10.0, "cut_width_m": 9.0}, OutOfRange, "laid_width_m"),
        ({"crop": "moonwort"}, UnknownName, "crop"),
        ({"revision": "1999.1.1"}, UnknownName, "revision"),
    ],
)
def test_an_amount_that_cannot_be_is_refused_by_name(
    change: dict[str, object], error: type[Exception], field: str
) -> None:
    with pytest.raises(error) as refused:
        amount(**change)
    assert refused.value.field == field  # type: ignore[attr-defined]


def test_at_a_tiny_yield_the_line_is_not_trusted() -> None:
    """Winter wheat, IPCC: 1.61 x + 0.40; below 0.248 t/ha of dry grain the constant is the larger part."""
    for dry, told in ((0.24, True), (0.6, False)):
        asked = AmountQuestion("wheat", yield_t_ha=dry / 0.86, grain_moisture_pct=14.0)
        found = {one.code for one in reckon_residue(table(), asked).warnings}
        assert ("warning.residue_amount.little" in found) == told
    tiny = reckon_residue(table(), AmountQuestion("wheat", yield_t_ha=0.05, grain_moisture_pct=14.0))
    for part in tiny.summary.params.values():
        assert isinstance(part, Quantity)
        assert part.value > 0
