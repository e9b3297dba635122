"""Belt slip: verdicts at their limits, what the errors leave, and contradictory statements."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import Contradiction, InvalidInput, NotCovered, ServiceError, UnknownName
from service.knowledge.load import load_table
from service.usecases.belt_slip import BeltSlip, SlipQuestion, judge_slip

TABLE = load_table()
relaxed = settings(deadline=None, max_examples=60)
RATIO: dict[str, Any] = {"driver_rpm": 1000.0, "speed_ratio": 1.0, "load": "loaded"}
LEVELS = ("usual", "watch", "fault", "burning", "standing")


def ask(**more: Any) -> BeltSlip:
    return judge_slip(TABLE, SlipQuestion(**more))


@pytest.mark.parametrize(
    ("driven", "level"),
    [
        (1000, "usual"),
        (980, "usual"),
        (979, "watch"),
        (970, "watch"),
        (969, "fault"),
        (950, "fault"),
        (949, "burning"),
        (1, "burning"),
        (0, "standing"),
    ],
)
def test_levels_begin_above_2_3_and_5_percent(driven: float, level: str) -> None:
    answer = ask(**RATIO, driven_rpm=driven, speed_error_pct=0)
    assert (answer.level, answer.sure) == (level, True)
    assert [(one.level, one.above_pct) for one in answer.levels] == [("watch", 2), ("fault", 3), ("burning", 5)]


def test_an_engine_that_falls_is_no_slip() -> None:
    """Empty 2000 and 1120 rpm, loaded 1900 and 1064: the ratio is the same to the last digit."""
    pair = {"expected_driver_rpm": 2000.0, "expected_driven_rpm": 1120.0, "expected_from": "empty_run"}
    answer = ask(driver_rpm=1900.0, driven_rpm=1064.0, load="loaded", **pair)
    assert answer.slip_pct.value == pytest.approx(0, abs=1e-9)
    assert answer.expected_rpm == pytest.approx(1064)
    blind = ask(driven_rpm=1064.0, load="loaded", expected_driven_rpm=1120.0)
    assert blind.slip_pct.value == pytest.approx(5)
    assert "belt_slip.engine_speed" in [one.code for one in blind.warnings]


@pytest.mark.parametrize(
    ("driven", "level", "say", "to_do"),
    [
        (1040.0, "burning", "driver_unknown_burning", ["stop", "measure_both"]),
        (1056.0, "fault", "driver_unknown", ["measure_both"]),
        (1072.0, "watch", "driver_unknown", ["measure_both"]),
        (1098.0, "usual", "usual", []),
        (0.0, "standing", "standing_alone", ["stop"]),
    ],
)
def test_slip_without_the_driving_shaft_is_never_sure(driven: float, level: str, say: str, to_do: list[str]) -> None:
    """Of 1100 rpm expected an engine that falls by 5 % leaves 1045, with no slip at all."""
    alone = ask(driven_rpm=driven, load="loaded", expected_driven_rpm=1100.0, speed_error_pct=0)
    assert (alone.level, alone.sure, alone.say.code) == (level, False, f"belt_slip.say.{say}")
    first = [one.code.removeprefix("belt_slip.do.") for one in alone.to_do]
    assert first[: len(to_do)] == to_do
    assert ("measure_both" in first) == ("measure_both" in to_do)
    both = ask(driver_rpm=900.0, driven_rpm=driven, load="loaded", expected_driven_rpm=1100.0, speed_error_pct=0)
    assert (both.level, both.sure) == (level, True)
    assert "belt_slip.do.measure_both" not in {one.code for one in both.to_do}


def test_three_ways_to_the_same_expected_speed() -> None:
    rest: dict[str, Any] = {"driver_rpm": 900.0, "driven_rpm": 585.0, "load": "loaded"}
    by_ratio = ask(**rest, speed_ratio=2 / 3)
    by_pulleys = ask(**rest, driver_diameter_mm=200.0, driven_diameter_mm=300.0)
    by_speeds = ask(**rest, expected_driver_rpm=1500.0, expected_driven_rpm=1000.0)
    for answer in (by_ratio, by_pulleys, by_speeds):
        assert answer.slip_pct.value == pytest.approx(2.5)
        assert answer.expected_rpm == pytest.approx(600)
    assert [one.way for one in (by_ratio, by_pulleys, by_speeds)] == ["ratio", "pulleys", "speeds"]


@pytest.mark.parametrize(
    ("more", "error"),
    [
        # readings of 0.2 % and diameters of 1 %: root of the sum of squares
        ({"speed_ratio": 1.0}, 0.2828427),
        ({"driver_diameter_mm": 100.0, "driven_diameter_mm": 100.0}, 1.4422205),
        ({"expected_driven_rpm": 1000.0}, 0.2),
        ({"expected_driven_rpm": 1000.0, "expected_driver_rpm": 1000.0}, 0.2828427),
        ({"expected_driven_rpm": 1000.0, "expected_driver_rpm": 1000.0, "expected_from": "empty_run"}, 0.4),
        ({"speed_ratio": 1.0, "speed_error_pct": 1.0}, 1.4142136),
        ({"driver_diameter_mm": 100.0, "driven_diameter_mm": 100.0, "diameter_error_pct": 0.0}, 0.2828427),
    ],
)
def test_every_reading_adds_its_error(more: dict[str, Any], error: float) -> None:
    answer = ask(driver_rpm=1000.0, driven_rpm=975.0, load="loaded", **more)
    assert answer.error_pct == pytest.approx(error, abs=1e-6)
    assert answer.slip_pct.high - answer.slip_pct.value == pytest.approx(1.959964 * error * 0.975, abs=1e-5)


def test_tape_on_pulleys_cannot_judge_small_slip() -> None:
    answer = ask(driver_rpm=600.0, driven_rpm=352.0, load="loaded", driver_diameter_mm=190.5, driven_diameter_mm=317.5)
    assert answer.say.code == "belt_slip.say.unsure"
    assert answer.to_do[0].code == "belt_slip.do.compare_empty"
    assert {one.code for one in answer.warnings} == {"belt_slip.unsure", "belt_slip.effective_diameters"}


def test_heat_is_the_share_that_is_lost() -> None:
    answer = ask(**RATIO, driven_rpm=940.0, transmitted_power_kw=50.0)
    assert answer.heat_kw == pytest.approx(3.0)
    assert ask(**RATIO, driven_rpm=1001.0, transmitted_power_kw=50.0).heat_kw == 0
    assert ask(**RATIO, driven_rpm=0.0, transmitted_power_kw=50.0).heat_kw is None


@pytest.mark.parametrize(
    ("driven", "load", "first", "last"),
    [
        (990, "loaded", None, None),
        (990, "empty", "measure_loaded", "measure_loaded"),
        (975, "loaded", "look", "relearn"),
        (960, "loaded", "look", "relearn"),
        (900, "loaded", "stop", "relearn"),
        (0, "loaded", "stop", "relearn"),
    ],
)
def test_what_to_do_begins_with_what_cannot_wait(driven: float, load: str, first: str, last: str) -> None:
    answer = ask(driver_rpm=1000.0, speed_ratio=1.0, load=load, driven_rpm=driven, speed_error_pct=0.0)
    steps = [one.code.removeprefix("belt_slip.do.") for one in answer.to_do]
    assert (steps[0] if steps else None, steps[-1] if steps else None) == (first, last)
    hot = "caution.hot_belt" in [one.code for one in answer.cautions]
    assert hot == (answer.level != "usual")


def test_running_empty_says_little() -> None:
    answer = ask(**RATIO | {"load": "empty"}, driven_rpm=990.0)
    assert answer.say.code == "belt_slip.say.usual_empty"


REFUSED: dict[str, tuple[dict[str, Any], type[ServiceError], str, str]] = {
    "no way": ({}, InvalidInput, "expected_driven_rpm", "reason.one_of"),
    "two ways": (
        {"driver_rpm": 1000.0, "speed_ratio": 1.0, "expected_driven_rpm": 1000.0},
        Contradiction,
        "expected_driven_rpm",
        "reason.slip_two_ways",
    ),
    "ratio and pulley": (
        {"driver_rpm": 1000.0, "speed_ratio": 1.0, "driven_diameter_mm": 100.0},
        Contradiction,
        "speed_ratio",
        "reason.slip_two_ways",
    ),
    "one pulley": (
        {"driver_rpm": 1000.0, "driver_diameter_mm": 100.0},
        InvalidInput,
        "driven_diameter_mm",
        "reason.slip_two_diameters",
    ),
    "ratio without driving speed": ({"speed_ratio": 1.0}, InvalidInput, "driver_rpm", "reason.slip_driver_missing"),
    "pair without driving speed": (
        {"expected_driven_rpm": 1000.0, "expected_driver_rpm": 1000.0},
        InvalidInput,
        "driver_rpm",
        "reason.slip_driver_missing",
    ),
    "half a pair": (
        {"driver_rpm": 1000.0, "expected_driver_rpm": 1000.0},
        InvalidInput,
        "expected_driven_rpm",
        "reason.slip_driven_missing",
    ),
    "half an empty run": (
        {"driver_rpm": 1000.0, "expected_driven_rpm": 1000.0, "expected_from": "empty_run"},
        InvalidInput,
        "expected_driver_rpm",
        "reason.slip_empty_run_pair",
    ),
    "empty run of a ratio": (
        {"driver_rpm": 1000.0, "speed_ratio": 1.0, "expected_from": "empty_run"},
        Contradiction,
        "expected_from",
        "reason.slip_empty_run_speeds",
    ),
    "diameters that change": (
        {"driver_rpm": 1000.0, "driver_diameter_mm": 100.0, "driven_diameter_mm": 100.0, "drive": "variable"},
        Contradiction,
        "drive",
        "reason.slip_variable_diameters",
    ),
    "error of no diameter": (
        {"driver_rpm": 1000.0, "speed_ratio": 1.0, "diameter_error_pct": 1.0},
        Contradiction,
        "diameter_error_pct",
        "reason.slip_no_diameters",
    ),
    "faster than it can": (
        {"driver_rpm": 1000.0, "speed_ratio": 0.9},
        Contradiction,
        "driven_rpm",
        "reason.slip_too_fast",
    ),
    "pulleys interchanged, too fast": (
        {"driver_rpm": 1400.0, "driver_diameter_mm": 200.0, "driven_diameter_mm": 286.0, "driven_rpm": 1960.0},
        Contradiction,
        "driven_rpm",
        "reason.slip_upside_down",
    ),
    "ratio upside down, too slow": (
        {"driver_rpm": 1000.0, "speed_ratio": 2.0, "driven_rpm": 490.0},
        Contradiction,
        "driven_rpm",
        "reason.slip_upside_down",
    ),
    "another revision": ({"speed_ratio": 1.0, "revision": "1999.1.1"}, UnknownName, "revision", ""),
}


@pytest.mark.parametrize(("told", "kind", "field", "reason"), REFUSED.values(), ids=REFUSED.keys())
def test_what_cannot_be_is_refused(told: dict[str, Any], kind: type[ServiceError], field: str, reason: str) -> None:
    with pytest.raises(kind) as refused:
        ask(**{"driven_rpm": 980.0, "load": "loaded"} | told)
    assert type(refused.value) is kind
    assert refused.value.field == field
    assert refused.value.facts.get("reason", "") == reason


def test_a_speed_above_the_expected_within_error_is_no_slip() -> None:
    answer = ask(**RATIO, driven_rpm=1003.0)
    assert answer.slip_pct.low < 0 < answer.slip_pct.high
    assert answer.level == "usual"


@pytest.mark.parametrize(
    ("driven", "load", "code"),
    [
        (1003.0, "loaded", "none"),
        (1000.0, "loaded", "none"),
        (998.0, "loaded", "none"),
        (1003.0, "empty", "none_empty"),
        (990.0, "loaded", "usual"),  # 0.45 to 1.55 %: surely some
        (990.0, "empty", "usual_empty"),
    ],
)
def test_no_slip_is_told_where_none_can_be_measured(driven: float, load: str, code: str) -> None:
    answer = ask(driver_rpm=1000.0, speed_ratio=1.0, load=load, driven_rpm=driven)
    assert answer.say.code == f"belt_slip.say.{code}"
    for name, fact in answer.say.params.items():
        assert fact.value >= 0, name  # type: ignore[attr-defined]


def test_diameters_that_leave_everything_open_say_no_negative_slip() -> None:
    answer = ask(
        driver_rpm=600.0, driven_rpm=361.0, load="loaded", driver_diameter_mm=190.5, driven_diameter_mm=317.5,
        speed_error_pct=1.0,
    )  # fmt: skip
    assert answer.slip_pct.value < 0
    assert answer.say.code == "belt_slip.say.unsure_none"


def test_faster_than_it_can_near_a_ratio_of_one_is_not_upside_down() -> None:
    with pytest.raises(Contradiction) as refused:
        ask(**RATIO, driven_rpm=1020.0)
    assert refused.value.facts["reason"] == "reason.slip_too_fast"


@pytest.mark.parametrize(
    ("driver", "ratio", "driven", "level", "limit"),
    [
        (1010.0, 0.7, 671.65, "fault", 5),  # 707 less 5 %, in binary a hair more
        (1000.0, 1.0, 950.0, "fault", 5),
        (1000.0, 1.0, 949.9, "burning", None),
        (1000.0, 1.0, 970.0, "watch", 3),
        (1000.0, 1.0, 980.0, "usual", 2),
        (1000.0, 1.1, 1078.0, "usual", 2),
    ],
)
def test_a_border_belongs_to_the_level_below_it(
    driver: float, ratio: float, driven: float, level: str, limit: int | None
) -> None:
    answer = ask(driver_rpm=driver, speed_ratio=ratio, driven_rpm=driven, load="loaded", speed_error_pct=0.0)
    assert (answer.level, answer.sure) == (level, True)
    borders = [one.params["limit"].value for one in answer.warnings if one.code == "belt_slip.on_the_border"]  # type: ignore[attr-defined]
    assert borders == ([] if limit is None else [limit])


def test_a_reading_that_is_exact_is_never_too_fast_by_its_binary_form() -> None:
    # 3000 x 1.1 is a hair above 3300 in binary, 600 as two thirds of 900 may be a hair below
    for driver, ratio, driven in ((3000.0, 1.1, 3300.0), (900.0, 2 / 3, 600.0), (1005.0, 0.7, 703.5)):
        answer = ask(driver_rpm=driver, speed_ratio=ratio, driven_rpm=driven, load="loaded", speed_error_pct=0.0)
        assert answer.say.code == "belt_slip.say.none"


def test_levels_of_slip_are_told_as_practice() -> None:
    for one in ask(**RATIO, driven_rpm=990.0).levels:
        assert (one.proof.basis, one.proof.known) == ("expert", "practice")
        assert "belt-slip-glossary" in {source.id for source in one.proof.sources}


def test_a_belt_that_loses_more_than_half_is_doubted() -> None:
    answer = ask(**RATIO, driven_rpm=400.0)
    assert (answer.level, "belt_slip.hardly_possible" in [one.code for one in answer.warnings]) == ("burning", True)


def test_a_variable_drive_is_compared_at_the_same_setting_only() -> None:
    pair = {"expected_driver_rpm": 1000.0, "expected_driven_rpm": 500.0, "drive": "variable"}
    answer = ask(driver_rpm=1000.0, driven_rpm=495.0, load="loaded", **pair)
    assert "belt_slip.variable" in [one.code for one in answer.warnings]


def test_a_table_without_the_file_says_so() -> None:
    with pytest.raises(NotCovered):
        judge_slip(replace(TABLE, relearn=None), SlipQuestion(driven_rpm=1.0, load="loaded", speed_ratio=1.0))


@relaxed
@given(st.floats(0, 1.0), st.floats(0, 1.0), st.sampled_from([0.0, 0.2, 1.0]))
def test_a_slower_shaft_is_never_at_a_better_level(one: float, other: float, error: float) -> None:
    slow, fast = (ask(**RATIO, driven_rpm=1000 * share, speed_error_pct=error) for share in sorted((one, other)))
    assert LEVELS.index(slow.level) >= LEVELS.index(fast.level)
    assert slow.slip_pct.value >= fast.slip_pct.value


@relaxed
@given(st.floats(0.96, 1.0), st.floats(0, 1), st.floats(0, 1))
def test_more_error_never_makes_surer(share: float, one: float, other: float) -> None:
    sharp, blunt = (ask(**RATIO, driven_rpm=1000 * share, speed_error_pct=error) for error in sorted((one, other)))
    assert blunt.slip_pct.low <= sharp.slip_pct.low
    assert blunt.slip_pct.high >= sharp.slip_pct.high
    assert sharp.sure or not blunt.sure


@relaxed
@given(st.floats(0.9, 1.0), st.floats(0.1, 10), st.floats(0.5, 2))
def test_only_the_ratio_of_speeds_counts(share: float, scale: float, ratio: float) -> None:
    base = ask(driver_rpm=1000.0, speed_ratio=ratio, load="loaded", driven_rpm=1000 * ratio * share)
    scaled = ask(driver_rpm=1000.0 * scale, speed_ratio=ratio, load="loaded", driven_rpm=1000 * scale * ratio * share)
    assert scaled.slip_pct.value == pytest.approx(base.slip_pct.value, abs=1e-9)
