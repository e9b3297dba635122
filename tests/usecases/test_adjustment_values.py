"""Settings as the caller wrote them: units, rpm, what moves along, what cannot be.

Conversions are exact by definition: 1 in = 25.4 mm, 1 ft = 0.3048 m, 1 mi = 1.609344 km; a drum of D mm
at n rpm runs pi D n / 60000 m/s at its edge.
"""

import math
from dataclasses import replace
from typing import Any

import pytest

from service.errors import Contradiction, InvalidInput, OutOfRange, UnknownName
from service.knowledge.load import load_table
from service.usecases.adjustment_types import AdjustmentQuestion, PastChange, SettingTold
from service.usecases.adjustment_values import in_metric
from service.usecases.settings_types import SettingsQuestion
from service.usecases.starting_settings import recommend

TABLE = load_table()
WHEAT = SettingsQuestion(
    crop="wheat", machine_class="walker", grain_moisture_pct=14.5, yield_t_ha=7.0, drum_diameter_mm=600.0
)
FAN = replace(WHEAT, fan_speed_min_rpm=400.0, fan_speed_max_rpm=1200.0)


def metric(case: SettingsQuestion = WHEAT, **more: Any) -> AdjustmentQuestion:
    return in_metric(TABLE, recommend(TABLE, case), "cereal", AdjustmentQuestion(conditions=case, **more))


def told(setting: str, value: float, unit: str | None = None) -> SettingTold:
    return SettingTold(setting=setting, value=value, unit=unit)


def value_of(setting: str, value: float, unit: str | None = None, case: SettingsQuestion = WHEAT) -> float:
    return metric(case, current_settings=(told(setting, value, unit),)).standing[setting]


@pytest.mark.parametrize(
    ("setting", "value", "unit", "expected"),
    [
        ("threshing_speed", 27.5, None, 27.5),
        ("threshing_speed", 27.5, "m/s", 27.5),
        ("threshing_speed", 5000, "[ft_i]/min", 5000 * 0.3048 / 60),
        ("threshing_speed", 900, "{rev}/min", math.pi * 600 * 900 / 60000),
        ("concave_clearance_inlet", 0.5, "[in_i]", 12.7),
        ("ground_speed", 3, "[mi_i]/h", 3 * 1.609344),
        ("cutting_height", 8, "[in_i]", 20.32),
        ("reel_index", 1.2, "1", 1.2),
    ],
)
def test_a_value_is_read_in_its_unit(setting: str, value: float, unit: str | None, expected: float) -> None:
    assert value_of(setting, value, unit) == pytest.approx(expected, rel=1e-12)


def test_a_fan_in_rpm_follows_the_fan_laws_from_the_start() -> None:
    answer = next(one for one in recommend(TABLE, FAN).settings if one.id == "cleaning_air_speed")
    turning = next(same for same in answer.equivalents if same.code == "fan_speed")
    at_start = value_of("cleaning_air_speed", turning.start.value, "{rev}/min", FAN)
    assert at_start == pytest.approx(answer.start)
    slower = value_of("cleaning_air_speed", 0.9 * turning.start.value, "{rev}/min", FAN)
    assert slower == pytest.approx(0.9 * answer.start)


def test_a_change_is_read_in_its_unit() -> None:
    past = PastChange(setting="threshing_speed", from_value=900, to_value=850, unit="{rev}/min", effect="better")
    (found,) = metric(history=(past,)).history
    assert found.from_value == pytest.approx(math.pi * 600 * 900 / 60000)
    assert found.to_value == pytest.approx(math.pi * 600 * 850 / 60000)
    assert found.unit is None


OUTLET = PastChange(setting="concave_clearance_outlet", from_value=9, to_value=8, unit="mm", effect="same")
SPEED = PastChange(setting="threshing_speed", from_value=28, to_value=27, unit="m/s", effect="same")
REFUSED: list[tuple[dict[str, Any], type[Exception], str]] = [
    ({"current_settings": (told("separation_rotor_speed", 20),)}, UnknownName, "current_settings.0.setting"),
    ({"current_settings": (told("threshing_speed", 60),)}, OutOfRange, "current_settings.0.value"),
    ({"current_settings": (told("threshing_speed", 27, "mm"),)}, UnknownName, "current_settings.0.unit"),
    ({"current_settings": (told("cleaning_air_speed", 900, "{rev}/min"),)}, UnknownName, "current_settings.0.unit"),
    (
        {"current_settings": (told("reel_index", 1.1), told("reel_index", 1.1))},
        Contradiction,
        "current_settings.1.setting",
    ),
    ({"history": (OUTLET,)}, InvalidInput, "history.0.setting"),
    ({"history": (SPEED, replace(SPEED, setting="mood"))}, UnknownName, "history.1.setting"),
    ({"history": (replace(SPEED, setting="concave_clearance"),)}, UnknownName, "history.0.setting"),
    ({"history": (replace(SPEED, unit="km/h"),)}, UnknownName, "history.0.unit"),
    ({"history": (replace(SPEED, from_value=2800),)}, OutOfRange, "history.0.from_value"),
    ({"history": (replace(SPEED, to_value=1),)}, OutOfRange, "history.0.to_value"),
]


@pytest.mark.parametrize(("more", "error", "field"), REFUSED, ids=[field for _, _, field in REFUSED])
def test_what_cannot_be_is_refused_with_its_field(more: dict[str, Any], error: type[Exception], field: str) -> None:
    with pytest.raises(error) as caught:
        metric(**more)
    assert caught.value.field == field  # type: ignore[attr-defined]


def test_a_follower_is_refused_with_the_setting_that_leads_it() -> None:
    with pytest.raises(InvalidInput) as caught:
        metric(history=(OUTLET,))
    assert caught.value.facts["reason"] == "reason.moves_along"
    assert caught.value.facts["lead"] == TABLE.vocabulary["concave_clearance_inlet"].names


def test_limits_are_told_in_the_unit_that_was_written() -> None:
    with pytest.raises(OutOfRange) as caught:
        value_of("threshing_speed", 20, "[ft_i]/min")
    # 3 and 45 m/s in feet a minute
    assert caught.value.facts["low"] == pytest.approx(590.551)
    assert caught.value.facts["high"] == pytest.approx(8858.27)
    assert caught.value.facts["unit"] == "[ft_i]/min"
