"""Refinement on both databases: sums kept exactly, drafts made again, review, publishing and the way back."""

import json
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from sqlalchemy import exc, text

from service.cli.invented_coop import CROP, MACHINE_CLASS, NAME, TRUTH, fill
from service.errors import Closed, InvalidInput, NotFound, Stale, UnknownName
from service.knowledge.load import load_table
from service.store import Session, Store, audit, cell_sums, organisations
from service.store import feedback as records
from service.store.feedback import Wanted
from service.usecases import local_tables
from service.usecases.access import Caller
from service.usecases.feedback import withdraw
from service.usecases.organisations import erase_member
from service.usecases.refinement import (
    Decision,
    Reviewer,
    accept_all,
    decide,
    find,
    publish,
    refine,
    repeated,
)
from service.usecases.refinement_base import base_of
from service.usecases.refinement_compute import stale_settings
from service.usecases.refinement_fold import Folding, fold
from tests.coop import GROWN, grow
from tests.databases import copied

TABLE = load_table()
WHO = Reviewer(1, NAME, 1, "a reviewer")
ROWS = tuple(f"{CROP}.{MACHINE_CLASS}.{band}" for band in ("dry", "best", "damp"))


def kept(store: Store) -> dict[Any, bytes]:
    with store.reading() as session:
        return dict(cell_sums.sums(session, 1, CROP, MACHINE_CLASS))


def caller(member: int, *scopes: str) -> Caller:
    return Caller(1, NAME, 1, member, f"invented-farm-{member}", "invented", frozenset(scopes))


def rows_of(store: Store, number: int) -> dict[str, Mapping[str, Any]]:
    with store.reading() as session:
        return {row["id"]: row for row in find(session, TABLE, WHO, number).draft.document["rows"]}


def published(store: Store) -> int:
    """Draft, accept everything, publish; the number of the draft."""
    number, _ = refine(store, TABLE, WHO, GROWN)
    with store.writing() as session:
        view = accept_all(session, TABLE, WHO, number, GROWN)
        publish(session, TABLE, WHO, number, view.draft.version, GROWN)
    return number


def test_sums_grown_lot_by_lot_are_those_made_anew_from_the_records_and_their_weights(grown_store: Store) -> None:
    """Lots part sessions, so late records were taken off and added; the outside value is one pass over them all."""
    before = kept(grown_store)
    assert len(before) > 50
    with grown_store.writing() as session:
        cell_sums.set_coding(session, 1, CROP, MACHINE_CLASS, "sha256:of another base table")
    report = fold(grown_store, TABLE, 1, 1, GROWN)
    assert report.seasons_rebuilt == 10
    assert kept(grown_store) == before


def test_some_records_weigh_less_and_a_slip_of_the_decimal_point_hardly_anything(grown_store: Store) -> None:
    with grown_store.reading() as session:
        weights = session.execute(text("SELECT loss, broken, foreign_matter FROM record_weight")).all()
    assert weights
    assert all(0 < one <= 1024 for row in weights for one in row)
    assert any(min(row) == round(0.02 * 1024) for row in weights)


def test_a_session_taken_back_leaves_no_trace(grown_store: Store) -> None:
    before, member = kept(grown_store), 3
    with grown_store.writing() as session:
        own = [one.row for one in records.page(session, Wanted(1, member_id=member), before=None, limit=50)]
        band, newest = own[0].moisture_band, own[0].session_key
        gone = [row.id for row in own if row.session_key == newest]
        for ident in gone:
            withdraw(session, caller(member, "contribute"), ident, GROWN)
    assert len(gone) == 3
    fold(grown_store, TABLE, 1, 1, GROWN)
    after = kept(grown_store)
    touched = {key for key in before if before[key] != after.get(key)}
    assert {(key[2], key[4]) for key in touched} == {(member, band)}
    assert {key[5] for key in touched} == {"loss", "broken", "foreign_matter"}
    for key in touched:
        weight, sessions, *_ = np.frombuffer(before[key]) - np.frombuffer(after[key])
        assert sessions == 1
        assert 0 < weight <= 3
    assert fold(grown_store, TABLE, 1, 1, GROWN).seasons_rebuilt == 0


def test_sessions_are_folded_when_they_are_a_day_old(grown_store: Store) -> None:
    before = kept(grown_store)
    with grown_store.writing() as session:
        fill(session, TABLE, [caller(1, "contribute")], GROWN + timedelta(days=70), sessions=1, seed=5)
    with grown_store.reading() as session:
        sent = records.page(session, Wanted(1), before=None, limit=1)[0].row.received_at
    soon = fold(grown_store, TABLE, 1, 1, sent + timedelta(hours=12))
    assert (soon.records, soon.waiting) == (0, 3)
    assert kept(grown_store) == before
    later = fold(grown_store, TABLE, 1, 1, sent + timedelta(hours=25))
    assert (later.records, later.waiting) == (3, 0)
    assert kept(grown_store) != before


def test_a_draft_moves_toward_what_is_best_and_sets_the_liar_aside(grown_store: Store) -> None:
    number, _ = refine(grown_store, TABLE, WHO, GROWN)
    found = rows_of(grown_store, number)
    assert set(found) == set(ROWS)
    base = {one.setting: one for one in base_of(TABLE, CROP, MACHINE_CLASS).settings}
    moved = []
    for row in found.values():
        assert row["reason"] == "proposed"
        assert row["gain"] >= row["gain_low"] > 0
        assert row["least_gain_without"] > 0
        for one in row["settings"]:
            half = base[one["setting"]].half
            step = (one["proposed"] - one["now"]) / half
            assert base[one["setting"]].low <= one["proposed"] <= base[one["setting"]].high
            assert abs(step) <= 0.25 + 1e-6
            if one["setting"] == "threshing_speed":
                moved.append(step)
    assert all(step < 0 for step in moved), f"the truth is {TRUTH['threshing_speed']}"
    with grown_store.reading() as session:
        view = find(session, TABLE, WHO, number)
        aside = {one.pseudonym for one in view.standings if one.told["set_aside"]}
    assert aside == {"invented-farm-10"}


def test_a_draft_made_again_from_its_inputs_is_the_same_to_the_last_digit(grown_store: Store) -> None:
    number, _ = refine(grown_store, TABLE, WHO, GROWN)
    with grown_store.writing() as session:
        fill(session, TABLE, [caller(1, "contribute")], GROWN + timedelta(days=3), sessions=4, seed=7)
    fold(grown_store, TABLE, 1, 1, GROWN + timedelta(days=5))
    with grown_store.reading() as session:
        assert repeated(session, TABLE, WHO, number)
        with pytest.raises(Closed):
            repeated(session, replace(TABLE, digest="sha256:another"), WHO, number)


def test_an_erased_contributor_is_gone_from_sums_drafts_and_what_comes_next(grown_store: Store) -> None:
    number, _ = refine(grown_store, TABLE, WHO, GROWN)
    with grown_store.writing() as session:
        organisation = organisations.organisation_named(session, NAME)
        assert organisation is not None
        erase_member(session, organisation, "invented-farm-2", GROWN)
    assert {key[2] for key in kept(grown_store)} == {1, 3, 4, 5, 6, 7, 8, 9, 10}
    again, _ = refine(grown_store, TABLE, WHO, GROWN)
    with grown_store.reading() as session:
        with pytest.raises(Closed):
            repeated(session, TABLE, WHO, number)
        for one in (number, again):
            told = [standing.pseudonym for standing in find(session, TABLE, WHO, one).standings]
            assert "invented-farm-2" not in told
            assert len(told) == 9


def test_after_an_erasure_sums_are_those_of_records_that_never_saw_him(
    grown_store: Store, sqlite_template: Any, tmp_path: Path
) -> None:
    """Outside value: another store from which he was erased before anything was folded or believed."""
    fresh = copied(sqlite_template, tmp_path)
    try:
        grow(fresh, without="invented-farm-10")
        with grown_store.writing() as session:
            made = organisations.organisation_named(session, NAME)
            assert made is not None
            erase_member(session, made, "invented-farm-10", GROWN)
        fold(grown_store, TABLE, 1, 1, GROWN)
        assert kept(grown_store) == kept(fresh)
    finally:
        fresh.engine.dispose()


def test_what_few_contributors_added_is_not_published(grown_store: Store) -> None:
    """Held against the revision before, it would tell what they reported; five contributors are enough."""
    published(grown_store)

    def report(members: range, now: datetime) -> int:
        with grown_store.writing() as session:
            for member in members:
                fill(session, TABLE, [caller(member, "contribute")], now, sessions=12, seed=70 + member)
        return refine(grown_store, TABLE, WHO, now)[0]

    def publish_all(number: int, rows: dict[str, Decision], now: datetime) -> None:
        with grown_store.writing() as session:
            version = find(session, TABLE, WHO, number).draft.version
            version = decide(session, TABLE, WHO, number, version, rows, now).draft.version
            publish(session, TABLE, WHO, number, version, now)

    for step, (members, enough) in enumerate(((range(1, 2), False), (range(2, 5), False), (range(5, 7), True)), 1):
        now = GROWN + timedelta(days=70 * step)  # what has come in by then is folded, so the next come later
        number = report(members, now)
        told = rows_of(grown_store, number)
        rows = {row: Decision(accepted=True) for row in ROWS if told[row]["reason"] == "proposed"}
        assert rows
        if enough:
            publish_all(number, rows, now)
            continue
        with pytest.raises(InvalidInput) as refusal:
            publish_all(number, rows, now)
        assert refusal.value.facts["reason"] == "reason.too_few_added"
        with grown_store.reading() as session:
            assert find(session, TABLE, WHO, number).draft.state == "open"


def test_an_erased_contributor_counts_as_one_who_changed(grown_store: Store) -> None:
    published(grown_store)
    with grown_store.writing() as session:
        made = organisations.organisation_named(session, NAME)
        assert made is not None
        erase_member(session, made, "invented-farm-3", GROWN)
    number, _ = refine(grown_store, TABLE, WHO, GROWN)
    with grown_store.writing() as session:
        view = accept_all(session, TABLE, WHO, number, GROWN)
        assert view.decisions
        with pytest.raises(InvalidInput) as refusal:
            publish(session, TABLE, WHO, number, view.draft.version, GROWN)
    assert refusal.value.facts["reason"] == "reason.too_few_added"


def test_a_lot_that_was_disturbed_is_folded_again_and_counted_once(
    store: Store, monkeypatch: pytest.MonkeyPatch, grown_store: Store
) -> None:
    calls = iter([True, False, True, True] + [False] * 1000)

    def disturbed(_: Folding, session: Session) -> None:
        if next(calls):
            raise Stale

    monkeypatch.setattr(Folding, "_check_undisturbed", disturbed)
    report = grow(store)
    assert report.records == 360
    assert kept(store) == kept(grown_store)


def test_the_same_sums_make_the_same_proposals_however_often_they_are_drafted(grown_store: Store) -> None:
    first, _ = refine(grown_store, TABLE, WHO, GROWN)
    second, _ = refine(grown_store, TABLE, WHO, GROWN)
    assert rows_of(grown_store, first) == rows_of(grown_store, second)


def test_with_four_contributors_nothing_is_proposed_and_nothing_told(grown_store: Store) -> None:
    with grown_store.writing() as session:
        organisation = organisations.organisation_named(session, NAME)
        assert organisation is not None
        for member in range(5, 11):
            erase_member(session, organisation, f"invented-farm-{member}", GROWN)
    number, _ = refine(grown_store, TABLE, WHO, GROWN)
    for row in rows_of(grown_store, number).values():
        assert row["reason"] == "too_few_contributors"
        assert row["effects"] == []
        assert row["gain"] == 0
        assert all(one["proposed"] == one["now"] == one["base_start"] for one in row["settings"])
    with grown_store.writing() as session:
        version = find(session, TABLE, WHO, number).draft.version
        with pytest.raises(InvalidInput, match="row_not_proposed"):
            decide(session, TABLE, WHO, number, version, {ROWS[0]: Decision(accepted=True)}, GROWN)
        with pytest.raises(InvalidInput, match="nothing_accepted"):
            publish(session, TABLE, WHO, number, version, GROWN)


def test_only_accepted_rows_are_published_and_the_next_draft_starts_from_them(grown_store: Store) -> None:
    number, _ = refine(grown_store, TABLE, WHO, GROWN)
    wanted = {ROWS[0]: Decision(accepted=True), ROWS[1]: Decision(accepted=False, reason="two sieves were changed")}
    with grown_store.writing() as session:
        view = decide(session, TABLE, WHO, number, 1, wanted, GROWN)
        assert {row: one.accepted for row, one in view.decisions.items()} == {ROWS[0]: True, ROWS[1]: False}
        made = publish(session, TABLE, WHO, number, view.draft.version, GROWN)
    assert {row.moisture_band for row in made.rows} == {"dry"}
    assert {row.contributors_band for row in made.rows} == {"5-9"}
    drum = made.find(CROP, MACHINE_CLASS, "threshing_speed", "dry")
    assert drum is not None
    assert {one.outcome for one in drum.effects} == {"loss", "broken", "foreign_matter"}
    proposed = {one["setting"]: one["proposed"] for one in rows_of(grown_store, number)[ROWS[0]]["settings"]}
    assert drum.start == pytest.approx(proposed["threshing_speed"], abs=1e-3)
    following, _ = refine(grown_store, TABLE, WHO, GROWN)
    for row, told in rows_of(grown_store, following).items():
        for one in told["settings"]:
            own = made.find(CROP, MACHINE_CLASS, one["setting"], told["moisture_band"])
            expected = one["base_start"] if own is None else own.start
            assert one["now"] == pytest.approx(expected, abs=1e-3), row
    with grown_store.reading() as session:
        assert repeated(session, TABLE, WHO, following)
        assert [event.action for event in audit.events(session, 1, newest=5)] == [
            "refinement drafted",
            "revision published",
            "row refused",
            "row accepted",
            "refinement drafted",
        ]


def test_who_looked_at_an_earlier_state_is_not_heard(grown_store: Store) -> None:
    number, _ = refine(grown_store, TABLE, WHO, GROWN)
    with grown_store.writing() as session:
        decide(session, TABLE, WHO, number, 1, {ROWS[0]: Decision(accepted=True)}, GROWN)
    with grown_store.writing() as session:
        with pytest.raises(Stale):
            decide(session, TABLE, WHO, number, 1, {ROWS[0]: Decision(accepted=False, reason="no")}, GROWN)
        with pytest.raises(Stale):
            publish(session, TABLE, WHO, number, 1, GROWN)
        with pytest.raises(UnknownName):
            decide(session, TABLE, WHO, number, 2, {"wheat.hybrid.soaked": Decision(accepted=True)}, GROWN)
        with pytest.raises(InvalidInput, match="refused_without_reason"):
            decide(session, TABLE, WHO, number, 2, {ROWS[0]: Decision(accepted=False)}, GROWN)
        with pytest.raises(NotFound):
            find(session, TABLE, WHO, number + 1)
        with pytest.raises(NotFound):
            find(session, TABLE, replace(WHO, organisation_id=2), number)


def test_a_draft_on_a_table_that_no_longer_holds_cannot_be_published(grown_store: Store) -> None:
    first, _ = refine(grown_store, TABLE, WHO, GROWN)
    published(grown_store)
    with grown_store.writing() as session:
        view = accept_all(session, TABLE, WHO, first, GROWN)
        assert view.outdated
        with pytest.raises(Closed):
            publish(session, TABLE, WHO, first, view.draft.version, GROWN)


def test_a_base_row_that_changed_under_a_local_row_is_flagged(grown_store: Store) -> None:
    published(grown_store)
    base = base_of(TABLE, CROP, MACHINE_CLASS)
    changed = tuple(replace(one, start=one.start + (one.setting == "threshing_speed")) for one in base.settings)
    with grown_store.reading() as session:
        local = local_tables.active(session, 1)
    assert stale_settings(base, "dry", local) == []
    assert stale_settings(replace(base, settings=changed), "dry", local) == ["threshing_speed"]


def test_a_published_revision_never_changes_and_the_way_back_is_a_new_one(grown_store: Store) -> None:
    published(grown_store)
    published(grown_store)
    for statement in ("UPDATE local_revision SET digest = 'x'", "DELETE FROM local_revision"):
        with pytest.raises(exc.IntegrityError, match="never changes"), grown_store.writing() as session:
            session.execute(text(statement))
    with grown_store.writing() as session:
        made = local_tables.roll_back(session, caller(1, "review"), NAME, 1, 2, GROWN)
        with pytest.raises(NotFound):
            local_tables.roll_back(session, caller(1, "review"), "another-co-op", 1, 2, GROWN)
        with pytest.raises(NotFound):
            local_tables.roll_back(session, caller(1, "review"), NAME, 9, 2, GROWN)
    with grown_store.reading() as session:
        first, third = (local_tables.active(session, 1, number) for number in (1, 3))
        history = [(one.number, one.repeats) for one in local_tables.history(session, NAME)]
        document = json.loads(local_tables.revision(session, NAME).document)
    assert first is not None
    assert third is not None
    assert made == third
    assert third.rows == first.rows
    assert third.digest != first.digest
    assert history == [(3, 1), (2, None), (1, None)]
    assert (document["organisation"], document["number"], document["repeats"]) == (NAME, 3, 1)
