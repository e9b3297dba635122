"""The influence table: what it says agrees with what was read, and every kind of fault is found."""

import math
import tomllib
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from service.errors import UnknownName
from service.knowledge.checks import tree_faults
from service.knowledge.influence_checks import FIGURE_UNITS, GROUPS, PRIORITIES, influence_faults
from service.knowledge.influence_schema import AdviceFigures, InfluenceFile
from service.knowledge.load import load_table
from service.knowledge.tree import INFLUENCE, PACKAGE_FOLDER, KnowledgeTree

TABLE = load_table().influence
DRUM, ROTOR = ("walker", "hybrid"), ("axial", "twin_axial")
CLASSES = DRUM + ROTOR


def slope(setting: str, outcome: str, machine_class: str = "walker", group: str = "cereal") -> float:
    effect = TABLE.effect(setting, outcome, machine_class, group)
    return 0.0 if effect is None else effect.slope


class TestSigns:
    """Signs that the sources print; the table must not lose them in any class or group."""

    @pytest.mark.parametrize("machine_class", CLASSES)
    @pytest.mark.parametrize("group", GROUPS)
    def test_of_the_published_trials(self, machine_class: str, group: str) -> None:
        gap = "concave_clearance_inlet" if machine_class in DRUM else "concave_clearance"
        # wheat, chickpea, navy bean, rice: damage rises with speed; chickpea: unthreshed falls
        assert slope("threshing_speed", "cracked", machine_class, group) > 0
        assert slope("threshing_speed", "unthreshed", machine_class, group) < 0
        # sorghum: a wider gap lowers damage and leaves more unseparated
        assert slope(gap, "cracked", machine_class, group) < 0
        assert slope(gap, "separation_loss", machine_class, group) > 0
        # wheat: loss rises with feed, breakage falls; stubble takes feed away
        assert slope("ground_speed", "separation_loss", machine_class, group) > 0
        assert slope("ground_speed", "cracked", machine_class, group) < 0
        assert slope("cutting_height", "separation_loss", machine_class, group) < 0
        # clean grain in the returns is a cause of breakage, and the lower sieve decides on it
        assert slope("lower_sieve_opening", "cracked", machine_class, group) < 0
        assert slope("lower_sieve_opening", "returns_grain", machine_class, group) < 0

    @pytest.mark.parametrize(
        ("setting", "outcome"), [("cleaning_air_speed", "cleaning_loss"), ("reel_index", "header_loss")]
    )
    def test_valleys_have_no_slope_and_bend_up(self, setting: str, outcome: str) -> None:
        effect = TABLE.effect(setting, outcome, "walker", "cereal")
        assert effect is not None
        assert effect.slope == 0
        assert effect.curvature > effect.curvature_sd

    def test_pulses_crack_sooner_than_cereals_and_rice_later(self) -> None:
        cereal, pulse, rice = (slope("threshing_speed", "cracked", group=g) for g in ("cereal", "pulse", "rice"))
        assert rice < cereal < pulse


class TestComputedFigures:
    """Slopes marked computed, redone from the printed figures."""

    @pytest.mark.parametrize(
        ("setting", "outcome", "group", "expected"),
        [
            # Shahbazi navy bean and chickpea trial: powers 4.8 and 4.4 of speed, step 5 %
            ("threshing_speed", "cracked", "pulse", 4.6 * math.log(1.05)),
            # wheat impact trial: 0.48 to 47.6 % from 10 to 40 m/s
            ("threshing_speed", "cracked", "cereal", math.log(47.6 / 0.48) / math.log(4) * math.log(1.05)),
            # rice: about doubled from 600 to 1000 rpm
            ("threshing_speed", "cracked", "rice", math.log(2) / math.log(1000 / 600) * math.log(1.05)),
            # chickpea: 3.19 to 0.31 % from 9 to 15 m/s, step 5 % of 12 m/s
            ("threshing_speed", "unthreshed", "pulse", math.log(0.31 / 3.19) / 6 * 0.6),
            # sorghum: 13.0 to 11.0 % and 0.69 to 0.78 % from 5 to 10 mm, step 1.5 mm
            ("concave_clearance_inlet", "cracked", "sorghum", math.log(11 / 13) * 0.3),
            ("concave_clearance_inlet", "separation_loss", "sorghum", math.log(0.78 / 0.69) * 0.3),
            # wheat: doubling the feed cut breakage by 16 %, step a tenth of the speed
            ("ground_speed", "cracked", "cereal", math.log(0.84) / math.log(2) * math.log(1.1)),
            # 1.5 % of fuel for each cm of stubble, step 5 cm
            ("cutting_height", "power_high", "cereal", -0.075),
        ],
    )
    def test_follow_from_what_was_printed(self, setting: str, outcome: str, group: str, expected: float) -> None:
        effect = TABLE.effect(setting, outcome, "walker", group)
        assert effect is not None
        assert effect.basis == "computed"
        assert effect.slope == pytest.approx(expected, abs=0.006)

    def test_a_figure_for_the_rotor_gap_is_for_its_own_step(self) -> None:
        steps = {name: TABLE.lever(name, "cereal") for name in ("concave_clearance_inlet", "concave_clearance")}
        drum, rotor = steps["concave_clearance_inlet"], steps["concave_clearance"]
        assert drum is not None
        assert rotor is not None
        per_mm = slope("concave_clearance_inlet", "cracked") / drum.step
        assert slope("concave_clearance", "cracked", "axial") / rotor.step == pytest.approx(per_mm, rel=0.01)


class TestCoverage:
    def test_recalled_rows_say_so_and_are_vague(self) -> None:
        recalled = [e for e in TABLE.file.effect if any(c.id == "influence-matrix-recalled" for c in e.source)]
        assert len(recalled) > 50
        assert all(e.basis == "expert" and e.known == "memory" for e in recalled)
        assert all(e.slope_sd >= 0.4 * abs(e.slope) for e in recalled)

    def test_small_seeds_get_smaller_steps(self) -> None:
        for setting in ("concave_clearance_inlet", "concave_clearance", "upper_sieve_opening", "lower_sieve_opening"):
            small, other = TABLE.lever(setting, "small_seed"), TABLE.lever(setting, "cereal")
            assert small is not None
            assert other is not None
            assert small.step < other.step

    def test_no_change_is_larger_than_the_trade_allows(self) -> None:
        for lever in TABLE.file.lever:
            if lever.unit == "%":
                assert lever.step * lever.max_steps <= 10  # malting guide: 5 to 10 %
            if lever.setting == "concave_clearance_inlet":
                assert lever.step * lever.max_steps <= 3

    def test_every_wish_weighs_every_outcome(self) -> None:
        for priority in PRIORITIES:
            assert set(TABLE.weights(priority)) == {outcome.id for outcome in TABLE.outcomes}
        assert TABLE.weights("sample")["cracked"] > TABLE.weights("balanced")["cracked"]
        assert TABLE.weights("loss")["separation_loss"] > TABLE.weights("balanced")["separation_loss"]

    @pytest.mark.parametrize("find", ["outcome", "tell_tale", "mistake", "weights"])
    def test_unknown_names_are_refused_with_the_known_ones(self, find: str) -> None:
        with pytest.raises(UnknownName) as caught:
            getattr(TABLE, find)("grumpiness")
        assert caught.value.facts["allowed"]

    def test_a_follower_is_no_lever(self) -> None:
        assert TABLE.lever("concave_clearance_outlet", "cereal") is None


Spoil = Callable[[dict[str, Any]], object]


def entry(data: dict[str, Any], kind: str, ident: str) -> dict[str, Any]:
    return next(e for e in data[kind] if e.get("id", e.get("priority")) == ident)


@pytest.mark.parametrize(
    ("spoil", "expected"),
    [
        (lambda d: d["effect"].append(dict(d["effect"][0])), "stands 2 times"),
        (lambda d: d["effect"].append({**d["effect"][0], "id": "a.b"}), "says it already for"),
        (lambda d: d["effect"][0].update(setting="mood"), "there is no setting 'mood'"),
        (lambda d: d["effect"][0].update(outcome="mood"), "there is no outcome 'mood'"),
        (
            lambda d: d["method"]["check_distance"].update(value=0, low=0),
            "method.check_distance.value: 0 is not above 0",
        ),
        (
            lambda d: d["effect"].append(
                {**d["effect"][0], "id": "a.b", "setting": "ground_speed", "outcome": "time_per_area"}
            ),
            "the time an area takes is computed",
        ),
        (lambda d: d["effect"].pop(0), "nothing is said of unthreshed with walker"),
        (lambda d: d["lever"][0]["no_effect"].append("cracked"), "cracked has an effect as well"),
        (lambda d: d["lever"][0].update(unit="mm"), "mm is neither % nor the unit of threshing_speed"),
        (lambda d: d["lever"].pop(0), "no lever moves threshing_speed"),
        (lambda d: d["lever"].append({**d["lever"][0], "id": "lever.twice"}), "moves it already for every group"),
        (lambda d: entry(d, "tell_tale", "light_chaff").update(symptom="mood"), "there is no outcome 'mood'"),
        (lambda d: entry(d, "tell_tale", "augers_half_full").update(check="luck"), "there is no mistake 'luck'"),
        (
            lambda d: entry(d, "tell_tale", "light_chaff")["pulls"].append(
                {"setting": "reel_index", "direction": "up"}
            ),
            "reel_index has no effect on dirty_chaff",
        ),
        (lambda d: d["weighting"].pop(), "weighting straw: the weighting is missing"),
        (lambda d: entry(d, "weighting", "loss")["weights"].pop("cracked"), "cracked has no weight"),
        (lambda d: d["weighting"][0].update(weights=dict.fromkeys(d["weighting"][0]["weights"], 0)), "nothing counts"),
    ],
)
def test_fault_across_entries_is_found(tree: KnowledgeTree, spoil: Spoil, expected: str) -> None:
    data = tomllib.loads((PACKAGE_FOLDER / INFLUENCE).read_text(encoding="utf-8"))
    assert list(influence_faults(tree)) == []
    spoil(data)
    found = list(influence_faults(replace(tree, influence=InfluenceFile.model_validate(data))))
    assert any(expected in fault for fault in found), found
    assert all(fault.startswith("influence.toml: ") for fault in found)


@pytest.mark.parametrize(
    ("spoil", "expected"),
    [
        (lambda d: d["effect"][0].update(source=[{"id": "nobody", "at": "p. 1"}]), "there is no source 'nobody'"),
        (lambda d: d["effect"][0].update(known="read"), "known: basis expert goes with"),
        (lambda d: d["method"]["check_distance"].update(unit="cm"), "method.check_distance.unit: is in m, not in cm"),
    ],
)
def test_rules_for_all_files_hold_here_too(tree: KnowledgeTree, spoil: Spoil, expected: str) -> None:
    data = tomllib.loads((PACKAGE_FOLDER / INFLUENCE).read_text(encoding="utf-8"))
    spoil(data)
    found = list(tree_faults(replace(tree, influence=InfluenceFile.model_validate(data)), whole=False))
    assert any(expected in fault for fault in found), found
    assert all(fault.startswith("influence.toml: ") for fault in found)


def test_every_figure_of_the_method_has_a_unit() -> None:
    assert set(FIGURE_UNITS) == set(AdviceFigures.model_fields)


@pytest.mark.parametrize(
    ("spoil", "expected"),
    [
        (lambda d: d["unrelated"].update(slope_sd=-0.03), "unrelated.slope_sd: must not be negative"),
        (lambda d: d["unrelated"].update(mood="good"), "unrelated.mood: unknown key"),
        (lambda d: d["lever"][0].update(max_steps=9), "less than or equal to 4"),
        (
            lambda d: d["outcome"][1].update(measured_as="broken_pct", tolerable_pct={"feed": 3}),
            "outcome cracked: tolerable_pct needs feed",
        ),
        (lambda d: d["outcome"][1].update(measured_as="broken_pct"), "needs a share of a target"),
        (lambda d: d["mistake"][0].update(needs=3), "mistake wrong_concave: needs 3 of 2 symptoms"),
    ],
)
def test_fault_of_one_entry_names_its_place(book: Any, spoil: Spoil, expected: str) -> None:
    spoil(book.files[INFLUENCE])
    found = book.write().faults()
    assert any(fault.startswith("influence.toml: ") and expected in fault for fault in found), found


def test_missing_file_is_a_fault(book: Any) -> None:
    (book.write().folder / INFLUENCE).unlink()
    assert book.faults() == ["influence.toml: the file is missing"]
