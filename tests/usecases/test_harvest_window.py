"""Fit hours, waiting and drying, from weather and readings that are invented."""

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.equilibrium import equilibrium_moisture_wb_pct
from service.errors import Contradiction, InvalidInput, NotCovered, OutOfRange, UnknownName
from service.knowledge.load import load_table
from service.knowledge.table import KnowledgeTable
from service.usecases.harvest_window import foresee
from service.usecases.window_types import HarvestWindow, Reading, Weather, WindowQuestion

START = datetime(2026, 7, 20, 6, tzinfo=UTC)
STEADY_C, STEADY_PCT = 25.0, 50.0


TABLE = load_table()


@pytest.fixture
def table() -> KnowledgeTable:
    return TABLE


def steady(hours: int = 48, humidity: float = STEADY_PCT, **more: tuple[float, ...]) -> Weather:
    return Weather(start=START, temperature_c=(STEADY_C,) * hours, relative_humidity_pct=(humidity,) * hours, **more)


def read(*pairs: tuple[float, float]) -> tuple[Reading, ...]:
    return tuple(Reading(time=START + timedelta(hours=hour), moisture_pct=moisture) for hour, moisture in pairs)


def question(**more: object) -> WindowQuestion:
    base = {
        "crop": "wheat",
        "weather": steady(),
        "readings": read((0, 20.0), (6, 18.0)),
        "target_moisture_pct": 15.0,
        "delivery_moisture_pct": 14.5,
    }
    return WindowQuestion(**{**base, **more})  # type: ignore[arg-type]


def codes(answer: HarvestWindow) -> set[str]:
    return {warning.code.removeprefix("warning.window.") for warning in answer.warnings}


def test_in_steady_air_everything_follows_the_closed_forms(table: KnowledgeTable) -> None:
    """The constants of wheat at 25 degrees and 50 %, then two logarithms."""
    answer = foresee(table, question())
    used = answer.equilibrium_set
    air = equilibrium_moisture_wb_pct(used.form, STEADY_PCT, STEADY_C, A=used.A, B=used.B, C=used.C)
    rate = math.log((20 - air) / (18 - air)) / 6
    assert answer.pace.rate_per_h.value == pytest.approx(rate, rel=1e-6)
    hours = math.log((18 - air) / (15 - air)) / rate
    assert answer.reach.value is not None
    assert (answer.reach.value - answer.now).total_seconds() / 3600 == pytest.approx(hours, abs=0.05)
    first = math.ceil(6 + hours)
    assert answer.spans[0].start == START + timedelta(hours=first)
    assert answer.fit_hours == 48 - first
    assert answer.moisture_now_pct.value == 18.0


def test_hours_with_rain_dew_and_shortly_after_are_not_fit(table: KnowledgeTable) -> None:
    rain = (0.0,) * 30 + (1.5,) + (0.0,) * 17
    humid = (STEADY_PCT,) * 40 + (94.0,) + (STEADY_PCT,) * 7
    weather = replace(steady(rain_mm=rain), relative_humidity_pct=humid)
    answer = foresee(table, question(weather=weather, target_moisture_pct=17.0, wet_hours=2.0))
    unfit = [place for place, hour in enumerate(answer.hours) if hour.fit is False and place >= 20]
    assert unfit == [30, 31, 32, 40, 41, 42]
    assert answer.dew_hours == 1
    assert answer.hours_at_target == answer.fit_hours + 6  # the same grain, wet outside
    assert [hour.dew for hour in answer.hours].index(True) == 40
    assert "dew" in codes(answer)


def test_wet_hours_of_zero_only_take_the_hour_of_rain(table: KnowledgeTable) -> None:
    weather = steady(rain_mm=(0.0,) * 30 + (1.5,) + (0.0,) * 17)
    answer = foresee(table, question(weather=weather, target_moisture_pct=17.0, wet_hours=0.0))
    assert [place for place, hour in enumerate(answer.hours) if hour.fit is False and place >= 20] == [30]


def test_dew_point_and_humidity_that_say_the_same_give_the_same_answer(table: KnowledgeTable) -> None:
    """FAO 56, example 5: 25 degrees with a dew point of 18 is 65.2 %."""
    by_dew = replace(steady(), relative_humidity_pct=(), dew_point_c=(18.0,) * 48)
    one = foresee(table, question(weather=by_dew))
    other = foresee(table, question(weather=steady(humidity=one.hours[0].relative_humidity_pct)))
    assert one.hours[0].relative_humidity_pct == pytest.approx(65.2, abs=0.05)
    assert one.pace == other.pace
    assert one.hours == other.hours


def test_fit_now_is_told_at_once(table: KnowledgeTable) -> None:
    answer = foresee(table, question(target_moisture_pct=19.0))
    assert answer.decision.code == "decision.start_now"
    assert answer.spans[0].start == answer.now


def test_ripe_grain_in_dew_waits_until_it_is_dry_outside(table: KnowledgeTable) -> None:
    humid = (STEADY_PCT,) * 6 + (96.0,) * 3 + (STEADY_PCT,) * 39
    weather = replace(steady(), relative_humidity_pct=humid)
    answer = foresee(table, question(weather=weather, target_moisture_pct=19.0))
    assert answer.decision.code == "decision.wait_dry_off"
    assert answer.spans[0].start == START + timedelta(hours=11)  # three wet hours and two after
    assert "humidity_held" in codes(answer)


def test_a_target_below_the_air_is_answered_with_what_drying_takes(table: KnowledgeTable) -> None:
    answer = foresee(table, question(weather=steady(humidity=75), target_moisture_pct=13.0))
    assert answer.decision.code == "decision.not_reached"
    assert "target_below_air" in codes(answer)
    assert answer.reach.value is None
    assert answer.balance.options[0].points == pytest.approx(3.5)
    assert answer.balance.options[1].days is None


MONEY = {"price_per_t": 200.0, "drying_cost_per_t_point": 4.0, "yield_t_ha": 8.0, "area_ha": 10.0}


def test_the_balance_is_that_of_a_sheet_of_paper(table: KnowledgeTable) -> None:
    """18 to 14.5 % at 4 a point and tonne as harvested, 0.5 % handling, 2 % field loss a day."""
    answer = foresee(table, question(**MONEY, loss_pct_per_day=2.0))
    now, later = answer.balance.options
    drying = 4 * 3.5 * (100 - 14.5) / (100 - 18)
    assert now.drying_cost_per_t == pytest.approx(drying)
    assert now.handling_per_t == pytest.approx(1.0)
    assert now.net_per_t == pytest.approx(200 - drying - 1)
    assert later.days is not None
    assert later.field_loss_pct is not None
    assert later.field_loss_pct.value == pytest.approx(2 * later.days)
    worth = 200 - 4 * 0.5 * (100 - 14.5) / (100 - 15) - 1
    assert later.net_per_t == pytest.approx(worth * (1 - 2 * later.days / 100))
    gain = answer.balance.gain_per_t
    assert gain == pytest.approx(later.net_per_t - now.net_per_t)
    assert answer.balance.gain_total == pytest.approx(gain * 80)
    tolerable = 100 * (1 - (200 - drying - 1) / worth)
    assert answer.balance.tolerable_loss_pct == pytest.approx(tolerable)
    assert answer.balance.break_even_days is not None
    assert answer.balance.break_even_days.value == pytest.approx(tolerable / 2)


def test_a_steep_field_loss_turns_the_advice_to_drying(table: KnowledgeTable) -> None:
    slow, fast = (foresee(table, question(**MONEY, loss_pct_per_day=loss)) for loss in (0.1, 15.0))
    assert slow.balance.better == "waiting"
    assert slow.decision.code == "decision.wait_pays"
    assert fast.balance.better == "drying"
    assert fast.decision.code == "decision.combine_and_dry"


def test_a_damp_night_after_rain_does_not_dry_the_crop(table: KnowledgeTable) -> None:
    """Rain at hour 30, then ten hours at 72 %: only the drying hours after them count."""
    rain = (0.0,) * 30 + (1.5,) + (0.0,) * 17
    limit = table.window.figures.dry_off_humidity.value if table.window else 0.0
    humid = (STEADY_PCT,) * 31 + (limit + 2,) * 10 + (STEADY_PCT,) * 7
    weather = replace(steady(rain_mm=rain), relative_humidity_pct=humid)
    answer = foresee(table, question(weather=weather, target_moisture_pct=17.0, wet_hours=2.0))
    unfit = [place for place, hour in enumerate(answer.hours) if hour.fit is False and place >= 20]
    assert unfit == list(range(30, 43))
    assert any("hardly dry off" in str(one.sources) for one in answer.proofs)


def test_grain_too_wet_to_combine_is_never_sent_to_the_dryer(table: KnowledgeTable) -> None:
    answer = foresee(table, question(readings=read((0, 42.0), (6, 40.0))))
    assert answer.decision.code == "decision.not_reached_too_wet"
    assert "too_wet" in codes(answer)


def test_where_the_grain_is_fit_now_nothing_is_weighed(table: KnowledgeTable) -> None:
    answer = foresee(table, question(**MONEY, target_moisture_pct=19.0))
    assert answer.balance.better == "same"
    assert answer.balance.gain_per_t is None
    assert answer.balance.options[0].net_per_t == answer.balance.options[1].net_per_t


def test_readings_closer_than_the_table_allows_are_refused_with_both_named(table: KnowledgeTable) -> None:
    foresee(table, question(readings=read((0, 20.0), (1, 19.8))))
    with pytest.raises(Contradiction) as refused:
        foresee(table, question(readings=read((0, 20.0), (0.9, 19.8))))
    assert refused.value.facts["reason"] == "reason.readings_close"
    assert refused.value.facts["fields"] == ["readings.0.time", "readings.1.time"]


def test_at_the_break_even_price_waiting_gains_nothing(table: KnowledgeTable) -> None:
    answer = foresee(table, question(**MONEY, loss_pct_per_day=2.0))
    price = answer.balance.break_even_price_per_t
    assert price is not None
    again = foresee(table, question(**{**MONEY, "price_per_t": price}, loss_pct_per_day=2.0))
    assert again.balance.gain_per_t == pytest.approx(0, abs=1e-9)


def test_where_the_loss_is_not_known_nothing_is_weighed(table: KnowledgeTable) -> None:
    answer = foresee(
        table, question(crop="oilseed_rape", readings=read((0, 14.0), (6, 12.0)), target_moisture_pct=9.0, **MONEY)
    )
    assert answer.balance.loss_origin == "none"
    assert answer.balance.better == "unknown"
    assert answer.balance.tolerable_loss_pct is not None  # a matter of prices alone
    assert "loss_unknown" in codes(answer)


def test_without_prices_water_and_fuel_are_still_told(table: KnowledgeTable) -> None:
    now = foresee(table, question()).balance.options[0]
    assert now.water_kg_t == pytest.approx(1000 * 3.5 / 85.5)
    assert now.drying_cost_per_t is None
    assert now.net_per_t is None
    assert now.fuel_l_t.low < now.fuel_l_t.value < now.fuel_l_t.high


def test_maize_is_dried_by_the_published_fuel_per_point(table: KnowledgeTable) -> None:
    answer = foresee(
        table,
        question(
            crop="maize", readings=read((0, 26.0), (24, 25.0)), target_moisture_pct=20.0, delivery_moisture_pct=15.0
        ),
    )
    assert answer.balance.options[0].fuel_l_t.value == pytest.approx(26.8)  # ten points of 2.68 L/t


def test_one_reading_takes_the_pace_of_the_table(table: KnowledgeTable) -> None:
    answer = foresee(table, question(crop="maize", readings=read((3, 26.0))))
    assert answer.pace.origin == "table"
    assert answer.pace.rate_per_h.value == pytest.approx(0.1 / 24)
    assert answer.now == START + timedelta(hours=3)
    assert "pace_from_table" in codes(answer)


def test_one_reading_is_not_enough_where_the_table_has_no_pace(table: KnowledgeTable) -> None:
    with pytest.raises(NotCovered) as refused:
        foresee(table, question(readings=read((3, 18.0))))
    assert refused.value.field == "readings"


@pytest.mark.parametrize(
    "crop", ["field_pea", "faba_bean", "chickpea", "mustard", "triticale", "perennial_ryegrass", "red_clover"]
)
def test_a_crop_without_constants_is_refused_and_another_grain_must_be_named(crop: str, table: KnowledgeTable) -> None:
    with pytest.raises(NotCovered) as refused:
        foresee(table, question(crop=crop))
    assert "No published constants" in str(refused.value.facts["why"])
    answer = foresee(table, question(crop=crop, equilibrium_grain="bean_generic"))
    assert answer.equilibrium_set.crop == "bean_generic"
    assert "other_grain" in codes(answer)


@pytest.mark.parametrize(
    "crop",
    [
        "wheat", "durum_wheat", "barley", "oats", "rye", "maize", "sorghum", "rice", "soybean", "oilseed_rape",
        "sunflower", "flax", "lentil", "dry_bean",
    ],
)  # fmt: skip
def test_every_crop_with_constants_is_answered(crop: str, table: KnowledgeTable) -> None:
    answer = foresee(table, question(crop=crop, readings=read((0, 24.0), (6, 22.0))))
    assert answer.equilibrium_pct.low > 3
    assert "other_grain" not in codes(answer)


def test_form_and_source_can_be_chosen(table: KnowledgeTable) -> None:
    soft = foresee(table, question(equilibrium_grain="wheat_soft"))
    assert (soft.equilibrium_set.crop, soft.equilibrium_set.form) == ("wheat_soft", "henderson")
    assert "other_grain" not in codes(soft)
    oswin = foresee(table, question(crop="maize", equilibrium_form="oswin", readings=read((0, 26.0), (6, 24.0))))
    assert oswin.equilibrium_set.form == "oswin"
    newer = foresee(
        table,
        question(
            crop="maize",
            equilibrium_form="chung_pfost",
            equilibrium_source="ASABE D245.6",
            readings=read((0, 26.0), (6, 24.0)),
        ),
    )
    assert newer.equilibrium_set.A == 374.34


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"equilibrium_grain": "spelt"}, "equilibrium_grain"),
        ({"equilibrium_form": "halsey"}, "equilibrium_form"),
        ({"equilibrium_source": "hearsay"}, "equilibrium_source"),
        ({"market": "int", "delivery_moisture_pct": None}, "market"),
        ({"crop": "whaet"}, "crop"),
        ({"revision": "1999.1.1"}, "revision"),
    ],
)
def test_an_unknown_name_is_refused(more: dict[str, str], field: str, table: KnowledgeTable) -> None:
    with pytest.raises(UnknownName) as refused:
        foresee(table, question(**more))
    assert refused.value.field == field
    assert refused.value.facts["allowed"]


def test_a_few_hours_of_too_dry_air_are_held_and_most_of_them_refused(table: KnowledgeTable) -> None:
    """The equations end at 10 %."""
    few, many = ((STEADY_PCT,) * (48 - dry) + (5.0,) * dry for dry in (12, 13))
    answer = foresee(table, question(weather=replace(steady(), relative_humidity_pct=few)))
    assert "dry_air_held" in codes(answer)
    assert [hour.held for hour in answer.hours].count(True) == 12
    with pytest.raises(InvalidInput) as refused:
        foresee(table, question(weather=replace(steady(), relative_humidity_pct=many)))
    assert refused.value.field == "weather.relative_humidity_pct.35"
    assert refused.value.facts["reason"] == "reason.air_too_dry"


def test_no_span_after_foreseen_rain_is_sure(table: KnowledgeTable) -> None:
    """Rice was up to 6 points wetter than foreseen just after rain (Lu and Siebenmorgen, 1994)."""
    dry, wet = (steady(rain_mm=rain) for rain in ((0.0,) * 48, (0.0,) * 40 + (5.0,) + (0.0,) * 7))
    before = foresee(table, question(weather=dry, target_moisture_pct=17.0)).spans
    answer = foresee(table, question(weather=wet, target_moisture_pct=17.0))
    assert len(before) == 1
    assert len(answer.spans) == 2
    assert not answer.spans[1].sure
    assert "rain_ahead" in codes(answer)
    # rain that is over is in the reading
    past = steady(rain_mm=(0.0,) * 2 + (5.0,) + (0.0,) * 45)
    assert "rain_ahead" not in codes(foresee(table, question(weather=past, target_moisture_pct=17.0)))


@pytest.mark.parametrize("crop", ["wheat", "rye", "maize"])
def test_what_a_day_of_waiting_costs_is_that_of_the_one_table(crop: str, table: KnowledgeTable) -> None:
    row = table.timeliness(table.crop(crop))
    assert row is not None
    found = foresee(table, question(crop=crop)).balance
    assert found.loss_origin == "table"
    assert found.loss_pct_per_day is not None
    assert found.loss_pct_per_day.value == pytest.approx(100 * row.loss_per_day.value)
    assert found.loss_pct_per_day.low == pytest.approx(100 * (row.loss_per_day.low or 0))


def test_every_set_of_a_crop_can_be_asked_for(table: KnowledgeTable) -> None:
    """Warm air, inside the measurements of every set."""
    warm = replace(steady(), temperature_c=(30.0,) * 48)
    asked = set()
    assert table.window is not None
    for entry in table.window.equilibrium:
        base = question(crop=entry.crop, weather=warm, readings=read((0, 25.0), (6, 24.5)))
        usual = foresee(table, base)
        for one in (usual.equilibrium_set, *usual.other_sets):
            names = {"grain": one.crop, "form": one.form, "source": one.source}
            more = {f"equilibrium_{name}": value for name, value in names.items()}
            assert foresee(table, replace(base, **more)).equilibrium_set == one  # type: ignore[arg-type]
            asked.add(one)
    assert asked == set(table.equilibrium.sets)


def test_oats_in_cool_air_take_the_set_that_is_not_bound_to_warm_air(table: KnowledgeTable) -> None:
    """The usual constants of oats were measured from 25 to 65 degrees."""
    cool = replace(steady(), temperature_c=(15.0,) * 48)
    answer = foresee(table, question(crop="oats", weather=cool))
    assert answer.equilibrium_set.source.startswith("Storage of Cereal Grains")
    assert "other_set" in codes(answer)
    with pytest.raises(OutOfRange) as refused:
        foresee(table, question(crop="oats", weather=cool, equilibrium_source="ASAE D245.5 Table 2"))
    assert refused.value.facts["reason"] == "reason.outside_the_set"


def test_few_hours_outside_the_set_are_held_at_its_end_and_said(table: KnowledgeTable) -> None:
    warmth = (20.0,) * 40 + (33.0,) * 8  # lentil was measured up to 30 degrees
    answer = foresee(table, question(crop="lentil", weather=replace(steady(), temperature_c=warmth)))
    assert [hour.held for hour in answer.hours].count(True) == 8
    assert "temperature_held" in codes(answer)
    at_end = foresee(
        table, question(crop="lentil", weather=replace(steady(), temperature_c=(20.0,) * 40 + (30.0,) * 8))
    )
    assert answer.hours[-1].equilibrium_pct == at_end.hours[-1].equilibrium_pct


@pytest.mark.parametrize(
    ("more", "reason", "fields"),
    [
        ({"readings": read((-2, 20), (6, 18))}, "reading_before_series", ["readings.0.time", "weather.start"]),
        ({"readings": read((0, 20), (60, 18))}, "reading_after_series", ["readings.1.time", "weather.start"]),
        ({"readings": read((0, 20), (48, 18))}, "no_hours_ahead", ["readings.1.time", "weather.start"]),
        ({"readings": read((6, 20), (0, 18))}, "readings_order", ["readings.0.time", "readings.1.time"]),
        ({"readings": read((6, 20), (6, 18))}, "readings_at_once", ["readings.0.time", "readings.1.time"]),
        (
            {"readings": read((0, 18), (6, 18))},
            "readings_equal",
            ["readings.0.moisture_pct", "readings.1.moisture_pct"],
        ),
        (
            {"readings": read((0, 18), (6, 5))},
            "reading_too_dry",
            ["readings.0.moisture_pct", "readings.1.moisture_pct"],
        ),
        (
            {"readings": read((0, 18), (6, 19))},
            "reading_too_wet",
            ["readings.0.moisture_pct", "readings.1.moisture_pct"],
        ),
        (
            {"weather": replace(steady(), relative_humidity_pct=(50.0,) * 40)},
            "series_lengths",
            ["weather.temperature_c", "weather.relative_humidity_pct"],
        ),
        ({"weather": steady(rain_mm=(0.0,))}, "series_lengths", ["weather.temperature_c", "weather.rain_mm"]),
        (
            {"weather": steady(dew_point_c=(22.0,) * 48)},
            "humidity_dew_point",
            ["weather.relative_humidity_pct.0", "weather.dew_point_c.0"],
        ),
        ({"price_per_t": 1.0, "price_per_bu": 1.0}, "both_given", ["price_per_t", "price_per_bu"]),
        ({"yield_t_ha": 1.0, "yield_bu_ac": 1.0}, "both_given", ["yield_t_ha", "yield_bu_ac"]),
        ({"market": "eu"}, "both_given", ["market", "delivery_moisture_pct"]),
        (
            {"drying_cost_per_t_point": 1.0, "fuel_price_per_l": 1.0},
            "both_given",
            ["drying_cost_per_t_point", "fuel_price_per_l"],
        ),
    ],
)
def test_statements_that_exclude_each_other_are_refused_by_name(
    more: dict[str, object], reason: str, fields: list[str], table: KnowledgeTable
) -> None:
    with pytest.raises(Contradiction) as refused:
        foresee(table, question(**more))
    assert refused.value.facts["reason"] == f"reason.{reason}"
    assert refused.value.facts["fields"] == fields


def test_air_without_humidity_and_a_dew_point_above_the_air_are_refused(table: KnowledgeTable) -> None:
    with pytest.raises(InvalidInput):
        foresee(table, question(weather=replace(steady(), relative_humidity_pct=())))
    dew = (10.0,) * 47 + (25.1,)
    with pytest.raises(OutOfRange) as refused:
        foresee(table, question(weather=replace(steady(), relative_humidity_pct=(), dew_point_c=dew)))
    assert refused.value.field == "weather.dew_point_c.47"


def test_a_dew_point_in_whole_degrees_is_no_contradiction(table: KnowledgeTable) -> None:
    """50 % at 25 degrees is a dew point of 13.9; 14 is close enough, 11 is not."""
    assert foresee(table, question(weather=steady(dew_point_c=(14.0,) * 48))).hours[0].relative_humidity_pct == 50
    with pytest.raises(Contradiction):
        foresee(table, question(weather=steady(dew_point_c=(11.0,) * 48)))


def test_wind_that_changes_is_a_warning(table: KnowledgeTable) -> None:
    calm, windy = (1.0,) * 6 + (1.5,) * 42, (1.0,) * 6 + (5.0,) * 42
    assert "wind" not in codes(foresee(table, question(weather=steady(wind_m_s=calm))))
    assert "wind" in codes(foresee(table, question(weather=steady(wind_m_s=windy))))


def test_rain_between_the_readings_is_a_warning(table: KnowledgeTable) -> None:
    rain = (0.0, 0.0, 1.0) + (0.0,) * 45
    assert "wet_between" in codes(foresee(table, question(weather=steady(rain_mm=rain))))
    assert "wet_between" not in codes(foresee(table, question(weather=steady(rain_mm=(0.0,) * 48))))


def test_defaults_come_from_the_crop(table: KnowledgeTable) -> None:
    wheat = table.crop("wheat")
    eu = next(one for one in wheat.trade_moisture if one.market == "eu")
    asked = replace(question(market="eu"), target_moisture_pct=None, delivery_moisture_pct=None)
    answer = foresee(table, asked)
    assert (answer.target_pct, answer.target_origin) == (wheat.moisture.best_high.value, "table")
    assert (answer.delivery_pct, answer.delivery_origin, answer.delivery_market) == (eu.value, "table", "eu")


def test_the_same_instant_in_another_zone_gives_the_same_answer(table: KnowledgeTable) -> None:
    zone = timezone(timedelta(hours=-5))
    moved = [replace(one, time=one.time.astimezone(zone)) for one in question().readings]
    assert foresee(table, question(readings=tuple(moved))) == foresee(table, question())


SERIES = st.lists(
    st.tuples(st.floats(2, 38), st.floats(20, 99), st.sampled_from([0.0, 0.0, 0.0, 0.8])), min_size=12, max_size=60
)


@settings(max_examples=60, deadline=None)
@given(series=SERIES, first=st.floats(14, 30), drop=st.floats(0.3, 4), target=st.floats(10, 20))
def test_whatever_the_weather_the_answer_holds_together(
    series: list[tuple[float, float, float]], first: float, drop: float, target: float
) -> None:
    weather = Weather(
        start=START,
        temperature_c=tuple(one[0] for one in series),
        relative_humidity_pct=tuple(one[1] for one in series),
        rain_mm=tuple(one[2] for one in series),
    )
    readings = read((0.5, first), (6.25, first - drop))
    try:
        answer = foresee(TABLE, question(weather=weather, readings=readings, target_moisture_pct=target, **MONEY))
    except Contradiction:  # these two readings cannot come from this air
        return
    known = [hour.moisture_pct for hour in answer.hours if hour.moisture_pct is not None]
    assert all(one.low <= one.value <= one.high for one in known)
    ends = [first, *(hour.equilibrium_pct for hour in answer.hours)]
    assert all(min(ends) - 1e-9 <= one.value <= max(ends) + 1e-9 for one in known)
    fit = [hour for hour in answer.hours if hour.fit]
    assert all(not hour.wet and hour.moisture_pct is not None and hour.moisture_pct.value <= target for hour in fit)
    assert all(span.start >= answer.now and span.hours > 0 for span in answer.spans)
    assert answer.fit_hours <= answer.hours_at_target <= len(answer.hours)
    assert answer.fit_hours <= len(fit)
    assert all(one.end < other.start for one, other in zip(answer.spans, answer.spans[1:], strict=False))
