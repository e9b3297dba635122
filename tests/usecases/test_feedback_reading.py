"""What is stored of a report: settings in metric units, losses as shares of all that grew, throughput."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from service.errors import ServiceError
from service.knowledge.load import load_table
from service.knowledge.table import KnowledgeTable
from service.usecases.adjustment_types import SettingTold
from service.usecases.feedback import season_of, session_key
from service.usecases.feedback_reading import CLOCK_SLACK, read_feedback
from service.usecases.feedback_types import Entry, FeedbackQuestion
from service.usecases.ground_loss import assess
from service.usecases.loss_types import FrameSet, LossQuestion
from service.usecases.settings_types import SettingsQuestion
from service.usecases.starting_settings import recommend

TABLE = load_table()
# a bushel of wheat is 60 lb by law, a pound 0.45359237 kg, a survey acre 43560 x (1200 / 3937)^2 m2
BUSHEL_KG_HA = 60 * 0.45359237 / (43560 * (1200 / 3937) ** 2 / 10000)
NOW = datetime(2026, 7, 28, 14, 30, tzinfo=UTC)
FIELD: dict[str, Any] = {
    "crop": "wheat",
    "machine_class": "hybrid",
    "grain_moisture_pct": 14.0,
    "yield_t_ha": 8.0,
    "cut_width_m": 7.5,
}
FRAMES = (
    FrameSet(place="cut_ahead", area_m2=0.25, kernels=(6, 9, 4, 7)),
    FrameSet(place="discharge", area_m2=0.25, kernels=(88, 102, 75, 93)),
)

STANDING = (FrameSet(place="standing", area_m2=1.0, kernels=(3,)),)


def read(known: dict[str, Any] | None = None, /, *, table: KnowledgeTable = TABLE, **more: Any) -> Entry:
    question = {"observed_at": NOW, "machine": "red one", **more}
    conditions = SettingsQuestion(**FIELD | (known or {}))
    return read_feedback(table, FeedbackQuestion(conditions=conditions, **question), NOW)


@pytest.mark.parametrize(
    ("losses", "machine", "header"),
    [
        # shares of all that grew: machine / (8000 + machine + header)
        ({"machine_loss_kg_ha": 80.0}, (80.0, 100 * 80 / 8080), None),
        ({"machine_loss_kg_ha": 80.0, "header_loss_kg_ha": 20.0}, (80.0, 100 * 80 / 8100), (20.0, 100 * 20 / 8100)),
        ({"machine_loss_pct": 1.0}, (8000 / 99, 1.0), None),
        # 2 % and 3 %: 95 % of all that grew are the 8000 kg
        ({"machine_loss_pct": 2.0, "header_loss_pct": 3.0}, (8000 / 95 * 2, 2.0), (8000 / 95 * 3, 3.0)),
        # 1 % beside 100 kg: 99 % are 8100 kg
        ({"machine_loss_pct": 1.0, "header_loss_kg_ha": 100.0}, (8100 / 99, 1.0), (100.0, 100 * 100 / (8100 / 0.99))),
        ({"machine_loss_bu_ac": 1.0}, (BUSHEL_KG_HA, 100 * BUSHEL_KG_HA / (8000 + BUSHEL_KG_HA)), None),
        ({"header_loss_kg_ha": 20.0}, None, (20.0, 100 * 20 / 8020)),
        ({"machine_loss_pct": 0.0}, (0.0, 0.0), None),
    ],
)
def test_losses_by_value_are_shares_of_all_that_grew(
    losses: dict[str, float], machine: tuple[float, float] | None, header: tuple[float, float] | None
) -> None:
    found = read(losses=losses, loss_method="pans").losses
    for got, expected in ((found.machine, machine), (found.header, header)):
        if expected is None:
            assert got is None
        else:
            assert got is not None
            assert (got.kg_ha, got.share_pct) == pytest.approx(expected, rel=1e-6)
            assert (got.low_pct, got.high_pct) == (None, None)
    assert found.method == "pans"


def test_losses_by_frames_are_those_of_the_ground_loss_assessment() -> None:
    found = read(frames=FRAMES, discharge_width_m=1.6).losses
    answer = assess(
        TABLE,
        LossQuestion(
            crop="wheat", frames=FRAMES, cut_width_m=7.5, discharge_width_m=1.6, yield_t_ha=8.0, machine_class="hybrid"
        ),
    )
    by_code = {loss.code: loss for loss in answer.losses}
    for got, code in ((found.machine, "machine"), (found.header, "header")):
        assert got is not None
        share = by_code[code].share_pct
        assert (got.kg_ha, got.share_pct) == (by_code[code].mass_kg_ha.value, share.value)
        assert (got.low_pct, got.high_pct) == (share.low, share.high)
    assert found.method == "frames"
    assert found.warnings == answer.warnings


def test_pans_behind_the_machine_are_pans() -> None:
    pans = (FrameSet(place="discharge", area_m2=0.25, kernels=(20, 24), surface="pan"),)
    found = read(frames=pans, discharge_width_m=1.6).losses
    assert found.method == "pans"
    assert found.header is None


def test_settings_come_in_any_unit_and_are_kept_in_the_table_s() -> None:
    start = recommend(TABLE, SettingsQuestion(**FIELD))
    drum = next(one for one in start.settings if one.id == "threshing_speed")
    (turns,) = drum.equivalents
    told = (
        SettingTold(setting="threshing_speed", value=turns.start.value, unit="{rev}/min"),
        SettingTold(setting="concave_clearance_inlet", value=0.5, unit="[in_i]"),
        SettingTold(setting="ground_speed", value=3.0, unit="[mi_i]/h"),
    )
    found = read(settings_used=told, rating=3).settings
    # by definition an inch is 25.4 mm and a mile 1.609344 km
    assert found == pytest.approx(
        {"threshing_speed": drum.start, "concave_clearance_inlet": 12.7, "ground_speed": 4.828032}
    )


def test_throughput_in_bushels_is_that_of_legal_bushels() -> None:
    # 1000 bu/h of wheat: 60 000 lb = 27.2155 t
    assert read(grain_throughput_bu_h=1000.0).grain_throughput_t_h == pytest.approx(27.2155422)
    assert read(grain_throughput_t_h=30.0).grain_throughput_t_h == 30.0


@pytest.mark.parametrize(
    ("more", "field", "reason"),
    [
        ({"rating": 3, "observed_at": NOW + CLOCK_SLACK + timedelta(seconds=1)}, "observed_at", "reason.in_the_future"),
        ({}, "", "reason.nothing_reported"),
        ({"losses": {"machine_loss_kg_ha": 8001.0}}, "machine_loss_kg_ha", "reason.loss_above_yield"),
        ({"losses": {"machine_loss_pct": 99.0, "header_loss_pct": 1.0}}, "machine_loss_pct", "reason.loss_above_yield"),
        ({"rating": 3, "loss_method": "pans"}, "loss_method", "reason.needs_loss"),
        ({"rating": 3, "spreading": "swath"}, "spreading", "reason.needs_frames"),
        ({"frames": FRAMES}, "discharge_width_m", "reason.one_of"),
        ({"frames": STANDING, "discharge_width_m": 1.6}, "frames", "reason.frames_without_loss"),
        ({"frames": FRAMES, "losses": {"machine_loss_pct": 1.0}}, "frames", "reason.both_given"),
    ],
    ids=lambda value: str(value)[:40],
)
def test_what_cannot_be_is_refused(more: dict[str, Any], field: str, reason: str) -> None:
    with pytest.raises(ServiceError) as refused:
        read(**more)
    assert refused.value.field == field
    assert refused.value.facts["reason"] == reason


def test_bushels_of_a_crop_without_a_legal_bushel_are_refused() -> None:
    wheat = TABLE.crops["wheat"]
    without = wheat.model_copy(update={"physical": wheat.physical.model_copy(update={"bushel_mass": None})})
    table = replace(TABLE, crops={**TABLE.crops, "wheat": without})
    for more in ({"losses": {"machine_loss_bu_ac": 1.0}}, {"grain_throughput_bu_h": 100.0}):
        with pytest.raises(ServiceError) as refused:
            read(table=table, **more)
        assert refused.value.facts["reason"] in ("reason.loss_no_bushel", "reason.no_bushel")


def test_a_frame_without_cut_width_asks_for_it() -> None:
    with pytest.raises(ServiceError) as refused:
        read({"cut_width_m": None}, frames=FRAMES, discharge_width_m=1.6)
    assert refused.value.field == "cut_width_m"


def test_a_session_is_machine_field_local_day_and_group() -> None:
    def key(**more: Any) -> str:
        return session_key(read(rating=3, **more))

    evening = datetime.fromisoformat("2026-07-27T23:30:00-06:00")
    assert key() == "red one / - / 2026-07-28"
    assert key(field="north 12", observed_at=evening) == "red one / north 12 / 2026-07-27"
    assert key(session_group="after rain") == "red one / - / 2026-07-28 / after rain"
    # names cannot be written so that two groups become one
    assert key(field="a / 2026-07-28") != key(session_group="2026-07-28", field="a")


@pytest.mark.parametrize(
    ("observed", "starts", "season"),
    [
        ("2026-07-28", 1, 2026),
        ("2026-12-31", 1, 2026),
        ("2026-12-31", 7, 2026),
        ("2027-01-15", 7, 2026),
        ("2027-07-01", 7, 2027),
    ],
)
def test_a_season_carries_the_year_in_which_it_began(observed: str, starts: int, season: int) -> None:
    assert season_of(datetime.fromisoformat(f"{observed}T12:00:00+00:00"), starts) == season
