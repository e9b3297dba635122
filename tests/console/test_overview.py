"""What came in, counted by the database, against counting record by record; evidence against arithmetic by hand."""

import math
from collections import Counter
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from statistics import NormalDist
from typing import Any

import pytest

from service.cli.invented_coop import NAME
from service.errors import NotFound, ScopeMissing
from service.store import Session, Store
from service.store import feedback as records
from service.store.feedback import Wanted
from service.store.tables import Feedback
from service.usecases import coop_overview, feedback
from service.usecases import organisations as cases
from service.usecases.access import Caller
from service.usecases.coop_overview import Coverage, Week, overview
from service.usecases.refinement_base import base_of
from service.usecases.same_day_evidence import same_day_evidence
from tests.console.conftest import Site, Visitor, table, text_of

Visiting = Callable[..., Visitor]
Losses = Callable[[int], tuple[float, ...]]
SEASON = 2026
DAY = datetime(2026, 7, 6, 9, tzinfo=UTC)  # a Monday
SETTING = "threshing_speed"


def reviewer(store: Store, name: str = NAME) -> Caller:
    with store.writing() as session:
        return Caller(cases.find(session, name).id, name, 1, None, None, "test", frozenset({"read", "review"}))


@pytest.fixture
def added(grown_store: Store) -> Store:
    """The grown co-op with a few records of its own: other crops, methods, weeks, and a settings left out."""
    with grown_store.writing() as session:
        grown = cases.find(session, NAME)
        farms = [cases.find_member(session, grown, f"invented-farm-{n}").id for n in (1, 2, 3, 4, 5, 6)]
        for n, farm in enumerate(farms):
            for step, settings in enumerate(({SETTING: 25.0}, {}, {SETTING: 26.0}, {SETTING: 25.0})):
                at = DAY + timedelta(weeks=3 * (n // 2), minutes=step)
                method = ("frames", "monitor", None)[n % 3]
                session.add(record(grown.id, farm, at, "barley", "walker", settings, loss_method=method))
        session.add(record(grown.id, farms[0], DAY, "maize", "axial", {}, session_key="m / another / day"))
        session.add(record(grown.id, farms[0], DAY.replace(year=2024), "wheat", "hybrid", {}, season=2024))
        strange = cases.create(session, "invented-others", 1, DAY)
        other = cases.add_member(session, strange, "farm", DAY)
        session.add(record(strange.id, other.id, DAY, "oats", "walker", {}))
    return grown_store


def record(organisation: int, member: int, at: datetime, crop: str, kind: str, settings: Any, **more: Any) -> Feedback:
    told = {
        "id": records.new_id(at),
        "organisation_id": organisation,
        "member_id": member,
        "api_key_prefix": "test",
        "received_at": at,
        "observed_at": at,
        "observed_on": at.date(),
        "season": at.year,
        "machine": "m",
        "field": "f",
        "session_key": f"m / f / {at.date()}",
        "crop": crop,
        "machine_class": kind,
        "moisture_band": "best",
        "grain_moisture_pct": 15.0,
        "yield_t_ha": 8.0,
        "straw_condition": "normal",
        "straw_to_grain": 0.9,
        "stand": "upright",
        "slope_along_deg": 0.0,
        "slope_across_deg": 0.0,
        "use_for": "feed",
        "priority": "balanced",
        "conditions": {},
        "settings": settings,
        "trial_randomised": False,
        "knowledge_revision": "test",
        "knowledge_digest": "test",
    }
    return Feedback(**told | more)


def one_by_one(session: Session, caller: Caller) -> Iterator[list[Feedback]]:
    for day in records.session_rows(session, Wanted(caller.organisation_id)):
        inside = [one.row for one in day if one.row.season == SEASON]
        if inside:
            yield inside


def test_counts_are_those_of_the_records_one_by_one(added: Store) -> None:
    caller = reviewer(added)
    with added.reading() as session:
        found = overview(session, table(), caller, SEASON, DAY)
        days = [[(row.crop, row.machine_class, row.member_id, row.observed_on, row.loss_method, dict(row.settings))
                 for row in day] for day in one_by_one(session, caller)]  # fmt: skip
    rows = [row for day in days for row in day]
    assert found.records == len(rows)
    assert {(one.id, one.records) for one in found.crops} == set(Counter(row[0] for row in rows).items())
    assert {(one.id, one.records) for one in found.classes} == set(Counter(row[1] for row in rows).items())
    methods = Counter(row[4] or "none" for row in rows)
    assert {(one.id, one.records) for one in found.methods} == set(methods.items())
    weeks = Counter(row[3] - timedelta(days=row[3].weekday()) for row in rows)
    assert {one.monday: one.records for one in found.weeks if one.records} == dict(weeks)
    changes = Counter[tuple[str, str]]()
    for day in days:
        states = {repr(sorted(row[5].items())) for row in day if row[5]}
        changes[day[0][:2]] += max(len(states) - 1, 0)
    assert {pair: one.changes for pair, one in found.coverage.items()} == {
        pair: changes[pair] for pair in found.coverage
    }
    assert found.changes == changes.total()


def test_the_map_says_what_is_missing(added: Store) -> None:
    with added.reading() as session:
        found = overview(session, table(), reviewer(added), SEASON, DAY)
    # six farms with four records each: enough farms, 24 records of the 40 that a draft asks for
    assert found.coverage["barley", "walker"] == Coverage("barley", "walker", 24, "5-9", 6, "records")
    assert found.coverage["maize", "axial"] == Coverage("maize", "axial", 1, "under_5", 0, "contributors")
    assert found.coverage["wheat", "hybrid"].lacks == "nothing"
    assert ("oats", "walker") not in found.coverage
    assert found.contributors == "10-19"
    assert found.seasons == (2026, 2024)


def test_weeks_without_records_are_shown(added: Store) -> None:
    with added.reading() as session:
        found = overview(session, table(), reviewer(added), SEASON, DAY)
    mondays = [one.monday for one in found.weeks]
    assert mondays == [mondays[0] + timedelta(weeks=n) for n in range(len(mondays))]
    assert all(day.weekday() == 0 for day in mondays)
    assert Week(date(2026, 7, 13), 0) in found.weeks


def test_a_record_that_is_taken_back_is_counted_as_such(added: Store) -> None:
    caller = reviewer(added)
    administers = Caller(caller.organisation_id, NAME, 1, None, None, "test", frozenset({"administer"}))
    with added.writing() as session:
        ident = records.page(session, Wanted(caller.organisation_id, crop="maize"), before=None, limit=1)[0].row.id
        feedback.withdraw(session, administers, ident, DAY)
    with added.reading() as session:
        found = overview(session, table(), caller, SEASON, DAY)
    assert (found.withdrawn, "maize" in {one.id for one in found.crops}) == (1, False)


def test_only_a_reviewer_sees_it_and_only_seasons_with_records(added: Store) -> None:
    caller = reviewer(added)
    member = Caller(caller.organisation_id, NAME, 1, 1, "farm", "test", frozenset({"read", "contribute"}))
    with added.reading() as session:
        with pytest.raises(ScopeMissing):
            overview(session, table(), member, SEASON, DAY)
        with pytest.raises(ScopeMissing):
            same_day_evidence(session, table(), member, "wheat", "hybrid", "dry", SETTING)
        with pytest.raises(NotFound):
            overview(session, table(), caller, 2025, DAY)
        assert overview(session, table(), caller, 2024, DAY).records == 1


@pytest.mark.parametrize(
    ("count", "band"),
    [(0, "none"), (1, "under_5"), (4, "under_5"), (5, "5-9"), (9, "5-9"), (10, "10-19"), (19, "10-19"), (20, "20-49"),
     (49, "20-49"), (50, "50+"), (10**6, "50+")],
)  # fmt: skip
def test_contributors_are_told_in_bands(count: int, band: str) -> None:
    """The bands of the published tables, and below five that it is below five."""
    assert coop_overview.band(count) == band


def test_an_organisation_without_records_is_told_how_it_begins(one_site: Site, visiting: Visiting) -> None:
    visitor = visiting(one_site, one_site.stranger)
    assert "No record has come in yet" in text_of(visitor.get("/console/"))
    assert "no draft yet" in text_of(visitor.get("/console/drafts"))
    assert "the base table is in force for everyone" in text_of(visitor.get("/console/table"))
    visitor.get("/console/tests")
    visitor.get("/console/weeks.svg", 404)


def changed_days(store: Store, days: int, losses: Losses, settings: tuple[float, ...], farms: int = 5) -> Caller:
    """An organisation whose days all have losses at the same settings, with a level of the day; farms take turns."""
    start = base_of(table(), "wheat", "hybrid").settings[0]
    assert start.setting == SETTING
    with store.writing() as session:
        made = cases.create(session, "invented-days", 1, DAY)
        members = [cases.add_member(session, made, f"farm-{number}", DAY) for number in range(farms)]
        for day in range(days):
            member = members[day % farms]
            for step, (loss, coded) in enumerate(zip(losses(day), settings, strict=True)):
                shift = 0.7 * (day % 3)  # other conditions, so another start; coded it is the same setting
                low, high = start.low + shift, start.high + shift
                value = start.start + shift + coded * start.half
                at = DAY + timedelta(days=day, minutes=step)
                level = 2.0 ** (day % 4)
                kept = {"coding": "test", "settings": {SETTING: [start.start + shift, low, high]}}
                told = {"base": kept, "machine_loss_pct": loss * level - 0.05}
                session.add(record(made.id, member.id, at, "wheat", "hybrid", {SETTING: value}, **told))
    return reviewer(store, "invented-days")


def test_evidence_is_the_ratio_of_what_was_measured_on_one_day(store: Store) -> None:
    """A loss that falls by a factor 0.64 on every day: sqrt(0.64) on either side of the day's geometric mean."""
    caller = changed_days(store, 12, lambda _: (1.0, 0.64), (0.0, 0.3))
    with store.reading() as session:
        found = same_day_evidence(session, table(), caller, "wheat", "hybrid", "best", SETTING)
    (loss,) = found.outcomes
    assert (found.days, loss.outcome, loss.count) == (12, "loss", 24)
    first, last = loss.steps[0], loss.steps[-1]
    assert (first.coded, last.coded) == (pytest.approx(0.0, abs=1e-9), pytest.approx(0.3))
    assert (first.ratio, last.ratio) == (pytest.approx(1 / 0.8), pytest.approx(0.8))
    assert (first.low, first.high) == (pytest.approx(1 / 0.8), pytest.approx(1 / 0.8))  # no scatter, no doubt


def test_evidence_has_the_interval_of_a_mean(store: Store) -> None:
    """Eight in a step, by turns e^0.2 above and below their mean: 1.2816 standard errors are 1.2816 * 0.2 / sqrt(7)."""
    up, down = (math.exp(0.4), 1.0), (1.0, math.exp(0.4))
    caller = changed_days(store, 16, lambda day: up if day % 2 else down, (0.0, 0.3))
    with store.reading() as session:
        found = same_day_evidence(session, table(), caller, "wheat", "hybrid", "best", SETTING)
    (loss,) = found.outcomes
    half = NormalDist().inv_cdf(0.9) * 0.2 / math.sqrt(7)
    assert [round(step.coded, 9) for step in loss.steps] == [0.0, 0.0, 0.3, 0.3]
    for step in loss.steps:
        assert (step.low, step.ratio, step.high) == pytest.approx((math.exp(-half), 1.0, math.exp(half)))


@pytest.mark.parametrize(("days", "steps"), [(0, 0), (4, 0), (7, 0), (8, 2), (40, 5)])
def test_few_measurements_are_not_drawn(store: Store, days: int, steps: int) -> None:
    """Eight measurements in each step, two steps at least."""
    caller = changed_days(store, days, lambda _: (1.0, 0.8), (0.0, 0.3))
    with store.reading() as session:
        found = same_day_evidence(session, table(), caller, "wheat", "hybrid", "best", SETTING)
    assert [len(one.steps) for one in found.outcomes] == ([steps] if steps else [])


@pytest.mark.parametrize(("farms", "steps"), [(1, 0), (4, 0), (5, 5), (9, 5)])
def test_no_mean_is_that_of_fewer_than_five_contributors(store: Store, farms: int, steps: int) -> None:
    """However much few have measured: what one of them measured could be read from it."""
    caller = changed_days(store, 45, lambda _: (1.0, 0.8), (0.0, 0.3), farms)
    with store.reading() as session:
        found = same_day_evidence(session, table(), caller, "wheat", "hybrid", "best", SETTING)
    assert [len(one.steps) for one in found.outcomes] == ([steps] if steps else [])


def test_a_setting_that_one_alone_has_tried_has_no_mean_of_its_own(store: Store) -> None:
    """One farm goes far down, on many days: at most half of any mean is of it, the rest stands at the start."""
    with store.writing() as session:
        made = cases.create(session, "invented-far", 1, DAY)
        start = base_of(table(), "wheat", "hybrid").settings[0]
        kept = {"coding": "test", "settings": {SETTING: [start.start, start.low, start.high]}}
        for number in range(9):
            member = cases.add_member(session, made, f"farm-{number}", DAY)
            for day in range(6 if number else 20):
                for step, coded in enumerate((0.0, 0.2 if number else -0.9)):
                    at = DAY + timedelta(days=day, minutes=10 * number + step)
                    told = {"base": kept, "machine_loss_pct": 1.0 + coded}
                    value = {SETTING: start.start + coded * start.half}
                    session.add(record(made.id, member.id, at, "wheat", "hybrid", value, **told))
    with store.reading() as session:
        caller = reviewer(store, "invented-far")
        (found,) = same_day_evidence(session, table(), caller, "wheat", "hybrid", "best", SETTING).outcomes
    assert len(found.steps) >= 2
    assert min(step.coded for step in found.steps) >= -0.45


def test_days_without_a_change_are_no_evidence(store: Store) -> None:
    caller = changed_days(store, 30, lambda _: (1.0, 0.7), (0.2, 0.2))
    with store.reading() as session:
        found = same_day_evidence(session, table(), caller, "wheat", "hybrid", "best", SETTING)
    assert (found.days, found.outcomes) == (0, ())
