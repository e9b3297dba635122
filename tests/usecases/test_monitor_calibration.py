"""Loss-monitor calibrations end to end on the real table: figures by hand, strays, bends, advice, refusals."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.types import Message, Quantity
from service.errors import Contradiction, InvalidInput, NotCovered, OutOfRange, UnknownName
from service.knowledge.load import load_table
from service.knowledge.schema import Coverage, LocalText
from service.knowledge.table import KnowledgeTable
from service.text import LANGUAGES, render
from service.units import bushels_per_acre, convert
from service.usecases.monitor_calibration import calibrate
from service.usecases.monitor_types import MonitorCalibration, MonitorQuestion, PairGiven

TABLE = load_table()
quick = settings(max_examples=40, deadline=None)
Row = tuple[float, float, float]  # reading, kg/ha, km/h

# a made-up monitor: reads 0.5 without loss and one step more for each 10 g/s; 9 m, so 4 g/s for 16 km kg / (h ha)
ROWS: tuple[Row, ...] = ((1.5, 10.0, 4.0), (2.7, 17.6, 5.0), (4.0, 28.0, 5.0), (5.5, 40.0, 5.0), (8.0, 50.0, 6.0))


def pairs(*rows: Row, **more: Any) -> tuple[PairGiven, ...]:
    return tuple(
        PairGiven(reading=reading, measured_loss_kg_ha=loss, ground_speed_km_h=speed, **more)
        for reading, loss, speed in rows
    )


def wheat(*given_pairs: PairGiven, **more: Any) -> MonitorQuestion:
    facts: dict[str, Any] = {
        "crop": "wheat",
        "sensor": "separation",
        "pairs": given_pairs or pairs(*ROWS),
        "cut_width_m": 9.0,
        "ground_speed_km_h": 5.0,
        "yield_t_ha": 8.0,
        "target_loss_kg_ha": 40.0,
    }
    return MonitorQuestion(**facts | more)


def answer(*given_pairs: PairGiven, **more: Any) -> MonitorCalibration:
    return calibrate(TABLE, wheat(*given_pairs, **more))


def codes(messages: tuple[Message, ...]) -> set[str]:
    return {message.code for message in messages}


def shaken(seed: int = 1, count: int = 8, error: float = 0.08) -> tuple[Row, ...]:
    """Rows of the same monitor at 5 km/h, with pans that err."""
    random = np.random.default_rng(seed)
    rates = np.linspace(8, 70, count)
    losses = rates / 1.25 * (1 + error * random.standard_normal(count))
    return tuple((0.5 + rate / 10, loss, 5.0) for rate, loss in zip(rates.tolist(), losses.tolist(), strict=True))


class TestFiguresByHand:
    def test_the_line_is_the_monitor_s_own(self) -> None:
        """9 m and 5 km/h: 40 kg/ha x 9 x 5 / 36 = 50 g/s, which is 5 steps above 0.5."""
        line = answer(*pairs((1.5, 10, 4), (3.0, 20, 5), (5.5, 40, 5), (8.0, 50, 6))).line
        assert line.unit == "g/s"
        assert line.slope.value == pytest.approx(10)
        assert line.reading_without_loss.value == pytest.approx(0.5)
        assert line.hidden_kg_ha is None
        assert line.r_squared == pytest.approx(1)
        assert line.residual_kg_ha == pytest.approx(0, abs=1e-9)

    def test_the_reading_to_hold_rises_with_speed_although_the_target_does_not(self) -> None:
        holds = answer(*pairs((1.5, 10, 4), (3.0, 20, 5), (5.5, 40, 5), (8.0, 50, 6))).hold
        assert [one.speed_km_h for one in holds] == [4, 5, 6]
        assert [one.reading.value for one in holds] == pytest.approx([4.5, 5.5, 6.5])
        assert [one.loss_at_same_reading_kg_ha for one in holds] == pytest.approx([50, 40, 100 / 3])
        assert not any(one.extrapolated for one in holds)

    def test_the_least_that_can_be_told_is_three_scatters(self) -> None:
        """Readings 0.2, 0.4, 0.6: s = 0.2; 3 x 0.2 x 10 = 6 g/s = 4.8 kg/ha = 150 kernels of 40 mg a second."""
        found = answer(
            *pairs((1.5, 10, 4), (3.0, 20, 5), (5.5, 40, 5), (8.0, 50, 6)),
            no_loss_readings=(0.2, 0.4, 0.6),
            thousand_kernel_mass_g=40.0,
        ).detection
        assert found is not None
        assert found.rate_g_s.value == pytest.approx(6)
        assert found.loss_kg_ha.value == pytest.approx(4.8)
        assert found.kernels_per_s.value == pytest.approx(150)
        assert found.rate_g_s.low < 6 < found.rate_g_s.high
        assert found.origin == "no_loss_readings"

    def test_pans_become_the_loss_over_the_cut(self) -> None:
        """100 kernels of 40 mg on 0.25 m2 are 16 g/m2 = 160 kg/ha in the strip, a sixth of it over the cut."""
        counted = PairGiven(reading=3.0, kernels=(100, 100), area_m2=0.25, ground_speed_km_h=5.0)
        weighed = PairGiven(reading=4.0, masses_g=(4.0, 4.0), area_m2=0.25, ground_speed_km_h=5.0)
        told = PairGiven(reading=1.0, measured_loss_bu_ac=0.1, ground_speed_km_h=5.0)
        found = answer(counted, weighed, told, discharge_width_m=1.5, thousand_kernel_mass_g=40.0).pairs
        assert found[0].loss_kg_ha == pytest.approx(160 / 6)
        assert found[1].loss_kg_ha == pytest.approx(160 / 6)
        # 60 lb to the bushel: 0.1 bu/ac = 6 lb/ac
        assert found[2].loss_kg_ha == pytest.approx(convert(6, "[lb_av]/[acr_us]", "kg/har"))
        # 200 kernels err by their root
        assert found[0].error_kg_ha == pytest.approx(160 / 6 / 200**0.5)

    def test_a_display_that_hides_small_losses_says_how_much(self) -> None:
        """One step for 10 g/s from 15 g/s on: 15 g/s go by at a reading of zero, 12 kg/ha at 5 km/h."""
        line = answer(*pairs((0.5, 16, 5), (2.5, 32, 5), (4.5, 48, 5), (3.5, 40, 5))).line
        assert line.reading_without_loss.value == pytest.approx(-1.5)
        assert line.hidden_kg_ha is not None
        assert line.hidden_kg_ha.value == pytest.approx(12)

    @pytest.mark.parametrize(
        ("unit", "factor"),
        [
            ("kg_ha", 1.0),
            ("lb_ac", convert(1, "kg/har", "[lb_av]/[acr_us]")),
            ("bu_ac", bushels_per_acre(1, 60)),
        ],
    )
    def test_a_display_with_a_unit_that_shows_half_must_show_twice_as_much(self, unit: str, factor: float) -> None:
        shown = tuple(
            PairGiven(reading=loss / 2 * factor, measured_loss_kg_ha=loss) for loss in (8.0, 20.0, 31.0, 60.0)
        )
        found = answer(*shown, reading_unit=unit)
        assert found.line.unit == "1"
        assert found.line.slope.value == pytest.approx(2)
        assert found.sensitivity.direction == "raise"
        assert found.sensitivity.change is not None
        assert found.sensitivity.change.value == pytest.approx(100)
        assert [one.reading.value for one in found.hold] == pytest.approx([20 * factor] * 3)

    def test_a_display_of_percent_is_held_against_percent(self) -> None:
        """80 kg/ha lost beside 7920 kg/ha gathered are 1 %."""
        shown = tuple(
            PairGiven(reading=share, measured_loss_kg_ha=7920 * share / (100 - share)) for share in (0.3, 1.0, 2.0)
        )
        found = answer(*shown, reading_unit="percent", yield_t_ha=7.92, target_loss_kg_ha=None, target_loss_pct=1.0)
        assert found.follows == "share"
        assert found.line.slope.value == pytest.approx(1)
        assert found.target.loss_kg_ha == pytest.approx(80)
        assert found.hold[1].reading.value == pytest.approx(1.0)
        assert found.sensitivity.direction == "leave"


class TestPairsThatDoNotBelong:
    @pytest.mark.parametrize("place", range(6))
    @pytest.mark.parametrize("wild", [180.0, 900.0])
    def test_one_bad_pair_is_named_and_moves_the_slope_within_its_limits(self, place: int, wild: float) -> None:
        rows = list(shaken())
        clean = answer(*pairs(*rows))
        rows[place] = (rows[place][0], wild, 5.0)
        found = answer(*pairs(*rows))
        bad = found.pairs[place]
        assert bad.role == "stray"
        assert bad.why is not None
        assert bad.why.params["pair"] == place + 1
        assert [pair.role for pair in found.pairs].count("used") == 7
        assert clean.line.slope.low < found.line.slope.value < clean.line.slope.high

    def test_a_pair_within_the_error_of_its_pan_stays(self) -> None:
        """The others lie on one line to the last digit; a tenth off is still nothing for a pan."""
        rows = [(1.5, 10, 4), (3.0, 20, 5), (5.5, 40, 5), (8.0, 50, 6), (6.0, 48.4, 5)]
        assert {pair.role for pair in answer(*pairs(*rows)).pairs} == {"used"}

    def test_three_pairs_cannot_tell_which_is_bad(self) -> None:
        assert {pair.role for pair in answer(*pairs((1.5, 10, 4), (3, 90, 5), (8, 95, 6))).pairs} == {"used"}

    def test_two_bad_pairs_are_warned_of_and_one_is_kept(self) -> None:
        rows = list(shaken(count=12, error=0.03))
        rows[3], rows[7] = (rows[3][0], 400.0, 5.0), (rows[7][0], 90.0, 5.0)
        found = answer(*pairs(*rows))
        assert [pair.role for pair in found.pairs].count("stray") == 1
        assert "monitor.further_stray" in codes(found.warnings)

    def test_a_display_that_sticks_is_cut_off_at_its_bend(self) -> None:
        rows = (*shaken(), (7.55, 90.0, 5.0), (7.6, 120.0, 5.0), (7.6, 150.0, 5.0))
        found = answer(*pairs(*rows))
        assert [pair.role for pair in found.pairs] == ["used"] * 8 + ["beyond"] * 3
        assert found.span.saturated == "yes"
        assert found.span.reading_high == 7.5
        # 70 g/s at 9 m and 5 km/h are 56 kg/ha
        assert found.span.loss_high_kg_ha == pytest.approx(56, rel=0.1)
        assert max(point.reading for point in found.curve) == 7.5

    def test_a_single_top_pair_that_lost_far_more_is_a_display_at_its_end_and_no_stray(self) -> None:
        found = answer(*pairs(*shaken(), (7.6, 300.0, 5.0)))
        assert found.pairs[-1].role == "beyond"
        assert found.span.saturated == "yes"

    def test_readings_at_full_scale_say_nothing(self) -> None:
        found = answer(*pairs(*ROWS, (10.0, 75.0, 5.0), (10.0, 140.0, 5.0)), reading_full_scale=10.0)
        assert [pair.role for pair in found.pairs] == ["used"] * 5 + ["full_scale"] * 2
        assert found.span.saturated == "yes"

    def test_a_bend_is_not_denied_with_too_few_pairs(self) -> None:
        assert answer(*pairs(*ROWS[:4])).span.saturated == "unknown"
        assert answer(*pairs(*ROWS)).span.saturated == "no"


class TestAdvice:
    def test_a_display_without_unit_is_brought_to_half_its_scale(self) -> None:
        """5.5 at the target on a scale to 20 should be 10: 10 / 5.5 - 1 = 82 %."""
        found = answer(*pairs(*ROWS), reading_full_scale=20.0).sensitivity
        assert found.direction == "raise"
        assert found.change is not None
        assert found.change.value == pytest.approx(82, abs=1)
        assert found.why == Message("monitor.sensitivity.raise_scale", {"share": Quantity(82.0, "%")})

    def test_a_display_without_unit_or_scale_is_left(self) -> None:
        assert answer().sensitivity.direction == "leave"

    def test_what_chance_explains_is_left(self) -> None:
        shown = tuple(PairGiven(reading=r, measured_loss_kg_ha=q) for r, q in ((9, 8), (22, 25), (33, 30), (58, 60)))
        found = answer(*shown, reading_unit="kg_ha").sensitivity
        assert found.direction == "leave"
        assert found.change is not None
        assert found.change.low is not None
        assert found.change.high is not None
        assert found.change.low < 0 < found.change.high

    def test_pairs_that_show_no_relation_move_nothing(self) -> None:
        shown = tuple(PairGiven(reading=r, measured_loss_kg_ha=q) for r, q in ((20, 30), (25, 60), (30, 25), (35, 55)))
        found = answer(*shown, reading_unit="kg_ha")
        assert not found.line.shown
        assert found.sensitivity.direction == "unknown"
        assert found.hold[0].reading.low is None
        assert found.summary.code == "monitor.summary.unsure"
        assert "monitor.not_shown" in codes(found.warnings)

    def test_a_target_that_the_display_cannot_tell_asks_for_more_sensitivity(self) -> None:
        found = answer(no_loss_readings=(0.0, 2.0, 4.0), target_loss_kg_ha=20.0).sensitivity
        assert (found.direction, found.why.code) == ("raise", "monitor.sensitivity.blind")

    def test_a_display_that_never_rests_needs_less_and_not_more(self) -> None:
        """More sensitivity raises flicker and signal alike, so it cannot bring the target out of the flicker."""
        found = answer(no_loss_readings=(1.0, 3.0, 5.0), target_loss_kg_ha=20.0)
        assert (found.sensitivity.direction, found.sensitivity.why.code) == ("lower", "monitor.sensitivity.restless")
        assert found.sensitivity.why.params["reading"] == 3.0
        assert found.summary.code == "monitor.summary.blind"

    def test_a_target_above_the_bend_asks_for_less(self) -> None:
        rows = (*shaken(), (7.55, 90.0, 5.0), (7.6, 120.0, 5.0), (7.6, 150.0, 5.0))
        found = answer(*pairs(*rows), target_loss_kg_ha=80.0)
        assert (found.sensitivity.direction, found.sensitivity.why.code) == ("lower", "monitor.sensitivity.saturated")
        assert found.summary.code == "monitor.summary.beyond"
        assert not any(one.shown for one in found.hold)
        assert "monitor.hold_not_shown" in codes(found.warnings)

    def test_no_reading_above_full_scale_is_to_be_held(self) -> None:
        """5.5 at 40 kg/ha and 5 km/h, one step each 10 g/s: 9 m at 8 km/h take 0.5 + 8 = 8.5."""
        found = answer(*pairs(*ROWS), reading_full_scale=8.2, ground_speed_km_h=7.0)
        assert [one.shown for one in found.hold] == [True, True, False]
        assert found.summary.code == "monitor.summary.hold"
        assert found.summary.params["reading"] == pytest.approx(7.5, abs=0.1)
        assert answer(*pairs(*ROWS), reading_full_scale=8.2, ground_speed_km_h=8.0).summary.code.endswith(".beyond")

    def test_a_share_known_on_one_side_only_is_not_called_right(self) -> None:
        shown = tuple(PairGiven(reading=r, measured_loss_kg_ha=q) for r, q in ((0.2, 30), (0.5, 60), (0.8, 100)))
        found = answer(*shown, reading_unit="percent", target_loss_kg_ha=None).sensitivity
        assert found.change is not None
        assert found.change.low is not None
        assert found.change.high is None
        assert (found.direction, found.why.code) == ("unknown", "monitor.sensitivity.unsure_share")

    def test_a_target_at_which_nothing_shows_asks_for_more(self) -> None:
        shown = pairs((0.5, 16, 5), (2.5, 32, 5), (4.5, 48, 5), (3.5, 40, 5))
        found = answer(*shown, target_loss_kg_ha=5.0, reading_full_scale=10.0)
        advice = found.sensitivity
        assert (advice.direction, advice.why.code) == ("raise", "monitor.sensitivity.nothing_shown")
        assert found.summary.code == "monitor.summary.nothing"

    def test_without_a_target_half_the_crop_s_is_left_to_each_stream(self) -> None:
        found = answer(target_loss_kg_ha=None)
        assert found.target.origin == "crop"
        assert found.target.share_pct == TABLE.crop("wheat").targets.machine_loss.value / 2
        assert found.target.proof is not None
        assert "monitor.target_share" in codes(found.warnings)
        assert "monitor.yield_assumed" in codes(answer(target_loss_kg_ha=None, yield_t_ha=None).warnings)
        assert "monitor.yield_assumed" not in codes(answer(yield_t_ha=None).warnings)

    def test_a_corrected_display_reads_the_same_at_every_speed(self) -> None:
        shown = tuple(
            PairGiven(reading=q / 10, measured_loss_kg_ha=q, ground_speed_km_h=v) for q, v in ((9, 3), (22, 5), (50, 7))
        )
        found = answer(*shown, speed_corrected=True)
        assert found.follows == "area"
        assert [one.reading.value for one in found.hold] == pytest.approx([4, 4, 4])
        assert [one.loss_at_same_reading_kg_ha for one in found.hold] == pytest.approx([40, 40, 40])

    def test_the_slowest_speed_has_no_slower_one(self) -> None:
        assert [one.speed_km_h for one in answer(ground_speed_km_h=1.0).hold] == [1.0, 2.0]

    def test_scattered_readings_are_drawn_with_errors_in_both(self) -> None:
        assert answer(*pairs(*shaken()), reading_error=1.0).line.method == "errors_in_both"
        assert answer(*pairs(*shaken()), no_loss_readings=(0.0, 1.2, 2.4, 0.3)).line.method == "errors_in_both"
        assert answer(*pairs(*shaken()), no_loss_readings=(0.4, 0.5, 0.6)).line.method == "loss_on_reading"

    def test_an_unsure_kernel_mass_widens_what_counts_rest_on(self) -> None:
        counted = tuple(
            PairGiven(reading=r, kernels=(n,), area_m2=1.0) for r, n in ((1.0, 90), (2.2, 210), (3.9, 400), (6.1, 610))
        )
        facts = {"discharge_width_m": 3.0, "discharge_width_error_pct": 0.0, "thousand_kernel_mass_g": 40.0}
        sure = answer(*counted, thousand_kernel_mass_error_pct=0.0, **facts).line.slope
        unsure = answer(*counted, thousand_kernel_mass_error_pct=20.0, **facts).line.slope
        assert unsure.value == pytest.approx(sure.value)
        assert unsure.high - unsure.low > 2 * (sure.high - sure.low)

    def test_what_is_known_and_when_to_redo_fit_the_sensor_and_the_seed(self) -> None:
        cleaning = calibrate(TABLE, replace(wheat(), crop="canola", sensor="cleaning", yield_t_ha=3.5))
        separation = answer()
        redo = {one.message.code: one.message for one in separation.redo}
        assert "monitor.redo.separation_setting" in redo
        assert "monitor.redo.sieve" not in redo
        assert "monitor.redo.sieve" in {one.message.code for one in cleaning.redo}
        # pairs at 4 to 6 km/h, one step either side; 38 g less and more a tenth
        assert redo["monitor.redo.speed"].params == {"low": Quantity(3.0, "km/h"), "high": Quantity(7.0, "km/h")}
        low, high = (redo["monitor.redo.kernel_mass"].params[end] for end in ("low", "high"))
        assert isinstance(low, Quantity)
        assert isinstance(high, Quantity)
        assert (low.value, high.value) == (pytest.approx(34.2), pytest.approx(41.8))
        small = "monitor.finding.small_seed"
        assert small in {one.message.code for one in cleaning.findings}
        assert small not in {one.message.code for one in separation.findings}
        assert "monitor.finding.trend_only" in {one.message.code for one in separation.findings}
        assert all(one.proof.sources for one in (*separation.findings, *separation.redo))

    def test_pairs_to_add_are_told(self) -> None:
        few = answer(*pairs(*shaken(count=3, error=0.1)))
        assert few.more_pairs is not None
        assert few.more_pairs >= 1
        assert answer(*pairs(*shaken(count=8, error=0.02))).more_pairs == 0

    def test_what_pairs_leave_open_is_said(self) -> None:
        assert "monitor.no_low_pair" in codes(answer(*pairs((4, 28, 5), (5.5, 40, 5), (8, 50, 6))).warnings)
        assert "monitor.same_pair_twice" in codes(answer(*pairs(*ROWS, ROWS[0])).warnings)
        assert "monitor.one_speed" in codes(answer(*pairs(*shaken())).warnings)
        assert "monitor.no_detection" in codes(answer().warnings)
        assert "monitor.extrapolated" in codes(answer(target_loss_kg_ha=300.0).warnings)
        assert "monitor.idle_differs" in codes(answer(*pairs(*shaken()), no_loss_readings=(1.1, 1.0, 1.2)).warnings)
        plain = codes(answer(no_loss_readings=(0.45, 0.5, 0.55), thousand_kernel_mass_g=38.0).warnings)
        assert plain == set()


class TestInvariance:
    @quick
    @given(st.permutations(range(8)), st.integers(0, 50))
    def test_the_order_of_pairs_does_not_count(self, order: list[int], seed: int) -> None:
        rows = shaken(seed)
        one, other = answer(*pairs(*rows)), answer(*pairs(*(rows[i] for i in order)))
        assert other.line.slope.value == pytest.approx(one.line.slope.value, rel=1e-9)
        assert sorted(pair.role for pair in other.pairs) == sorted(pair.role for pair in one.pairs)
        assert other.sensitivity.direction == one.sensitivity.direction

    @quick
    @given(st.floats(0.05, 50), st.integers(0, 50))
    def test_a_display_with_other_steps_gives_other_steps_and_the_same_losses(self, factor: float, seed: int) -> None:
        rows = shaken(seed)
        one = answer(*pairs(*rows), no_loss_readings=(0.4, 0.5, 0.6))
        other = answer(
            *pairs(*((reading * factor, loss, speed) for reading, loss, speed in rows)),
            no_loss_readings=tuple(reading * factor for reading in (0.4, 0.5, 0.6)),
        )
        assert other.line.slope.value == pytest.approx(one.line.slope.value / factor, rel=1e-8)
        assert other.hold[1].reading.value == pytest.approx(one.hold[1].reading.value * factor, rel=1e-8)
        assert one.detection is not None
        assert other.detection is not None
        assert other.detection.loss_kg_ha.value == pytest.approx(one.detection.loss_kg_ha.value, rel=1e-8)

    @quick
    @given(st.floats(0.5, 2), st.integers(0, 50))
    def test_a_wider_cut_at_a_lower_speed_is_the_same_rate(self, factor: float, seed: int) -> None:
        rows = shaken(seed)
        one = answer(*pairs(*rows))
        other = answer(
            *pairs(*((reading, loss, speed / factor) for reading, loss, speed in rows)), cut_width_m=9.0 * factor
        )
        assert other.line.slope.value == pytest.approx(one.line.slope.value, rel=1e-9)


REFUSED: list[tuple[dict[str, Any], type[Exception], str, str]] = [
    ({"pairs": pairs(*ROWS[:2])}, InvalidInput, "pairs", "monitor.too_few_pairs"),
    ({"pairs": pairs((1, 10, 5), (1, 20, 5), (1, 30, 5))}, InvalidInput, "pairs", "monitor.one_reading"),
    ({"pairs": pairs((1, 10, 5), (2, 10, 5), (3, 10, 5))}, InvalidInput, "pairs", "monitor.one_loss"),
    ({"pairs": pairs((1, 0, 5), (2, 0, 4), (3, 0, 5))}, InvalidInput, "pairs", "monitor.one_loss"),
    ({"pairs": pairs((8, 10, 5), (5, 28, 5), (4, 40, 5), (1, 50, 6))}, InvalidInput, "pairs", "monitor.falls"),
    (
        {"pairs": pairs(*ROWS[:2], (10, 60, 5)), "reading_full_scale": 10.0},
        InvalidInput,
        "pairs",
        "monitor.too_few_left",
    ),
    ({"reading_full_scale": 7.0}, Contradiction, "pairs.4.reading", "monitor.above_full_scale"),
    ({"no_loss_readings": (9.0, 9.5)}, Contradiction, "no_loss_readings", "monitor.no_loss_reads_more"),
    ({"reading_unit": "kg_ha", "speed_corrected": False}, Contradiction, "speed_corrected", "monitor.unit_is_per_area"),
    ({"reading_unit": "percent", "yield_t_ha": None}, InvalidInput, "yield_t_ha", "monitor.percent_needs_yield"),
    ({"yield_t_ha": 0.04}, Contradiction, "pairs.4.measured_loss_kg_ha", "monitor.loss_above_yield"),
    ({"target_loss_pct": 1.0}, Contradiction, "target_loss_kg_ha", "reason.both_given"),
    ({"target_loss_kg_ha": 9000.0}, Contradiction, "target_loss_kg_ha", "monitor.target_above_yield"),
    ({"yield_bu_ac": 100.0}, Contradiction, "yield_t_ha", "reason.both_given"),
    (
        {"pairs": (*pairs(*ROWS), PairGiven(reading=3))},
        InvalidInput,
        "pairs.5.measured_loss_kg_ha",
        "monitor.nothing_measured",
    ),
    (
        {"pairs": (PairGiven(reading=3, measured_loss_kg_ha=5, kernels=(4,), area_m2=1),)},
        Contradiction,
        "pairs.0.measured_loss_kg_ha",
        "reason.both_given",
    ),
    (
        {"pairs": (PairGiven(reading=3, measured_loss_kg_ha=5, area_m2=1),)},
        Contradiction,
        "pairs.0.area_m2",
        "monitor.pan_and_loss",
    ),
    (
        {"pairs": (PairGiven(reading=3, kernels=(4,), area_m2=1, error_pct=10),)},
        Contradiction,
        "pairs.0.error_pct",
        "monitor.error_is_counted",
    ),
    ({"pairs": (PairGiven(reading=3, kernels=(4,)),)}, InvalidInput, "pairs.0.area_m2", "monitor.pan_area_missing"),
    (
        {"pairs": (PairGiven(reading=3, kernels=(4,), area_m2=1),)},
        InvalidInput,
        "discharge_width_m",
        "monitor.discharge_missing",
    ),
    (
        {"pairs": (PairGiven(reading=3, kernels=(4,), area_m2=1),), "discharge_width_m": 12.0},
        Contradiction,
        "discharge_width_m",
        "loss.discharge_wider",
    ),
]


@pytest.mark.parametrize(
    ("facts", "kind", "field", "reason"), REFUSED, ids=[f"{reason}-{field}" for _, _, field, reason in REFUSED]
)
def test_contradictory_input_is_refused_by_name(
    facts: dict[str, Any], kind: type[Exception], field: str, reason: str
) -> None:
    question = replace(wheat(), **facts)
    with pytest.raises(kind) as refused:
        calibrate(TABLE, question)
    assert refused.value.field == field  # type: ignore[attr-defined]
    assert refused.value.facts["reason"] == reason  # type: ignore[attr-defined]
    for lang in LANGUAGES:
        assert render(Message(reason, refused.value.facts), lang, "metric")  # type: ignore[attr-defined]


def test_bushels_of_a_crop_without_a_bushel_are_refused() -> None:
    crop = TABLE.crop("wheat")
    loose = crop.model_copy(update={"physical": crop.physical.model_copy(update={"bushel_mass": None})})
    table = replace(TABLE, crops=TABLE.crops | {"wheat": loose})
    pair = PairGiven(reading=1, measured_loss_bu_ac=0.2)
    for question, field in (
        (wheat(reading_unit="bu_ac"), "reading_unit"),
        (wheat(pair), "pairs.0.measured_loss_bu_ac"),
    ):
        with pytest.raises(InvalidInput) as refused:
            calibrate(table, question)
        assert (refused.value.field, refused.value.facts["reason"]) == (field, "reason.no_bushel")


def test_a_percent_above_all_is_refused_with_its_pair() -> None:
    with pytest.raises(OutOfRange) as refused:
        answer(*pairs((1, 10, 5), (2, 20, 5), (101, 30, 5)), reading_unit="percent")
    assert refused.value.field == "pairs.2.reading"


def test_an_unknown_crop_or_revision_is_refused() -> None:
    with pytest.raises(UnknownName):
        answer(crop="whaet")
    with pytest.raises(UnknownName):
        answer(revision="1999.1.1")


def test_a_crop_without_losses_and_a_table_without_monitors_are_not_covered() -> None:
    crop = TABLE.crop("wheat")
    why = Coverage(level="none", why=LocalText(en="No figure was found."))
    bare = crop.model_copy(update={"coverage": crop.coverage | {"ground_loss": why}})
    tables: list[KnowledgeTable] = [replace(TABLE, crops=TABLE.crops | {"wheat": bare}), replace(TABLE, monitor=None)]
    for table in tables:
        with pytest.raises(NotCovered):
            calibrate(table, wheat())


@pytest.mark.parametrize("lang", LANGUAGES)
def test_every_message_of_an_answer_has_its_words(lang: Any) -> None:
    found = answer(*pairs(*shaken(), (7.6, 300.0, 5.0)), no_loss_readings=(1.1, 1.0, 1.2), target_loss_kg_ha=None)
    said = [one.message for one in (*found.redo, *found.findings)]
    said += [*found.warnings, *found.cautions, found.line.note, found.span.note, found.sensitivity.why]
    said += [pair.why for pair in found.pairs if pair.why is not None]
    for message in said:
        assert render(message, lang, "us")


@pytest.mark.parametrize("lang", LANGUAGES)
def test_every_code_of_the_table_has_its_words(lang: Any) -> None:
    assert TABLE.monitor is not None
    facts = dict.fromkeys(("crop", "low", "high"), "x")
    for entry in TABLE.monitor.finding:
        assert render(Message(f"monitor.finding.{entry.code}", facts), lang, "metric")
    for reason in TABLE.monitor.redo:
        assert render(Message(f"monitor.redo.{reason.code}", facts), lang, "metric")
