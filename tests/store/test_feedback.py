"""Records: their ids, their owners, pages, sessions, and what goes with a contributor."""

from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any
from uuid import UUID, uuid4

import pytest
from sqlalchemy import func, select

from service.errors import Stale
from service.store import Store, feedback, idempotency, organisations
from service.store.feedback import Wanted, carried_on, new_id
from service.store.idempotency import Claim, Stored
from service.store.keys import make_key
from service.store.tables import ApiKey, Feedback, Idempotency, Organisation, Withdrawal

NOW = datetime(2026, 7, 28, 12, 30, tzinfo=UTC)


def record(organisation_id: int, member_id: int, **more: Any) -> Feedback:
    plain: dict[str, Any] = {
        "id": new_id(NOW),
        "organisation_id": organisation_id,
        "member_id": member_id,
        "api_key_prefix": "abcdefgh",
        "received_at": NOW,
        "observed_at": NOW,
        "observed_on": date(2026, 7, 28),
        "season": 2026,
        "machine": "red one",
        "session_key": "red one / north 12 / 2026-07-28",
        "crop": "wheat",
        "machine_class": "hybrid",
        "moisture_band": "best",
        "grain_moisture_pct": 14.0,
        "yield_t_ha": 8.0,
        "straw_condition": "normal",
        "straw_to_grain": 1.25,
        "stand": "upright",
        "slope_along_deg": 0.0,
        "slope_across_deg": 0.0,
        "use_for": "feed",
        "priority": "balanced",
        "conditions": {"crop": "wheat"},
        "settings": {"threshing_speed": 25.0},
        "trial_randomised": False,
        "broken_pct": 0.8,
        "knowledge_revision": "2026.11.2",
        "knowledge_digest": "sha256:0",
    }
    return Feedback(**plain | more)


@pytest.fixture
def people(store: Store) -> tuple[int, list[int], int]:
    """An organisation with two contributors, and another organisation."""
    with store.writing() as session:
        hill = organisations.add_organisation(session, "hill", 1, NOW).id
        farms = [organisations.add_member(session, hill, f"farm-{number}", NOW).id for number in (1, 2)]
        vale = organisations.add_organisation(session, "vale", 1, NOW).id
        organisations.add_member(session, vale, "farm-1", NOW)
    return hill, farms, vale


def test_an_id_holds_its_moment_as_rfc_9562_says() -> None:
    # RFC 9562, A.6: 22 February 2022, 14:22:22 at UTC-5 is 0x017F22E279B0 milliseconds
    ident = new_id(datetime(2022, 2, 22, 14, 22, 22, tzinfo=timezone(timedelta(hours=-5))))
    assert ident.hex.startswith("017f22e279b0")
    assert ident.version == 7
    assert ident.variant == "specified in RFC 4122"
    assert len({new_id(NOW) for _ in range(1000)}) == 1000
    assert new_id(NOW) < new_id(NOW + timedelta(milliseconds=1))


def test_a_record_comes_back_as_it_was_stored(store: Store, people: tuple[int, list[int], int]) -> None:
    hill, (farm, _), _ = people
    frames = {"sets": [{"kernels": [1, 0]}]}
    row = record(hill, farm, settings={"a": 0.1, "b": 1e-9}, suggested=None, frames=frames, note="Ä\n🌾")
    ident = row.id
    with store.writing() as session:
        feedback.add(session, [row])
    with store.reading() as session:
        kept = feedback.one(session, Wanted(hill), ident)
        assert kept is not None
        assert kept.pseudonym == "farm-1"
        assert (kept.row.settings, kept.row.frames) == ({"a": 0.1, "b": 1e-9}, frames)
        assert (kept.row.suggested, kept.row.note, kept.row.observed_at) == (None, "Ä\n🌾", NOW)


def test_a_contributor_of_another_organisation_owns_nothing_here(
    store: Store, people: tuple[int, list[int], int]
) -> None:
    _, (farm, _), vale = people
    with pytest.raises(Stale), store.writing() as session:
        feedback.add(session, [record(vale, farm)])


def test_records_are_found_by_those_who_may_alone(store: Store, people: tuple[int, list[int], int]) -> None:
    hill, (farm, neighbour), vale = people
    row = record(hill, farm)
    ident = row.id
    with store.writing() as session:
        feedback.add(session, [row])
    with store.reading() as session:
        assert feedback.one(session, Wanted(hill, farm), ident) is not None
        for wanted in (
            Wanted(vale),
            Wanted(hill, neighbour),
            Wanted(hill, pseudonym="farm-2"),
            Wanted(hill, crop="rye"),
        ):
            assert feedback.one(session, wanted, ident) is None
            assert feedback.following(session, wanted, after=None, limit=9) == []


def test_pages_hold_every_record_once_newest_first(store: Store, people: tuple[int, list[int], int]) -> None:
    hill, (farm, neighbour), _ = people
    ids = [new_id(NOW + timedelta(seconds=second)) for second in range(7)]
    with store.writing() as session:
        for number, ident in enumerate(ids):
            feedback.add(session, [record(hill, (farm, neighbour)[number % 2], id=ident)])
    found: list[UUID] = []
    with store.reading() as session:
        while page := feedback.page(session, Wanted(hill), before=found[-1] if found else None, limit=3):
            found += [kept.row.id for kept in page]
        assert found == ids[::-1]
        assert [kept.row.id for kept in feedback.following(session, Wanted(hill), after=None, limit=99)] == ids
        some = feedback.following(session, Wanted(hill, neighbour), after=ids[0], limit=2)
        assert [kept.row.id for kept in some] == ids[1:4:2]


def test_settings_are_carried_on_within_a_session_in_the_order_of_observation(
    store: Store, people: tuple[int, list[int], int]
) -> None:
    hill, (farm, neighbour), _ = people
    later = NOW + timedelta(hours=1)
    with store.writing() as session:
        # the later observation arrives first
        feedback.add(session, [record(hill, farm, observed_at=later, settings={"fan": 5.0})])
        feedback.add(session, [record(hill, farm, settings={"fan": 6.0, "drum": 25.0})])
        feedback.add(session, [record(hill, farm, session_key="other day", settings={"drum": 20.0})])
        feedback.add(session, [record(hill, neighbour, settings={})])
    with store.reading() as session:
        found = [[dict(one.settings) for one in rows] for rows in feedback.session_rows(session, Wanted(hill))]
    assert sorted(found, key=str) == sorted(
        [[{"fan": 6.0, "drum": 25.0}, {"fan": 5.0, "drum": 25.0}], [{"drum": 20.0}], [{}]], key=str
    )


def test_carrying_on_changes_no_record() -> None:
    rows = [record(1, 1, settings={"fan": 6.0}), record(1, 1, settings={"drum": 25.0})]
    assert [dict(one.settings) for one in carried_on(iter(rows))] == [{"fan": 6.0}, {"fan": 6.0, "drum": 25.0}]
    assert [row.settings for row in rows] == [{"fan": 6.0}, {"drum": 25.0}]


def test_what_is_withdrawn_leaves_only_that_it_was_there(store: Store, people: tuple[int, list[int], int]) -> None:
    hill, (farm, neighbour), vale = people
    row = record(hill, farm)
    ident = row.id
    with store.writing() as session:
        feedback.add(session, [row])
    with store.writing() as session:
        kept = feedback.one(session, Wanted(hill), ident)
        assert kept is not None
        feedback.withdraw(session, kept.row, NOW)
    with store.reading() as session:
        assert feedback.one(session, Wanted(hill), ident) is None
        assert feedback.was_withdrawn(session, Wanted(hill, farm), ident)
        for wanted in (Wanted(vale), Wanted(hill, neighbour)):
            assert not feedback.was_withdrawn(session, wanted, ident)
        left = session.scalars(select(Withdrawal)).one()
        assert (left.member_id, left.season, left.withdrawn_at) == (farm, 2026, NOW)


def test_everything_of_a_contributor_goes_with_it_and_nothing_else(
    store: Store, people: tuple[int, list[int], int]
) -> None:
    hill, farms, _ = people
    with store.writing() as session:
        for farm in farms:
            for _ in range(3):
                feedback.add(session, [record(hill, farm)])
            gone = record(hill, farm)
            feedback.add(session, [gone])
            feedback.withdraw(session, gone, NOW)
            organisations.add_key(
                session,
                make_key(),
                organisation_id=hill,
                member_id=farm,
                scopes="read",
                label="",
                now=NOW,
                expires_at=None,
            )
            idempotency.claim(session, hill, [Claim(uuid4(), farm, Stored(b"1" * 32, "{}"))], NOW)
    with store.writing() as session:
        member = organisations.member_named(session, hill, "farm-1")
        assert member is not None
        assert organisations.erase_member(session, member) == 3
    with store.reading() as session:
        for table, left in ((Feedback, 3), (Withdrawal, 1), (ApiKey, 1), (Idempotency, 1)):
            assert session.scalars(select(table.member_id)).all() == [farms[1]] * left, table
        assert session.scalar(select(func.count()).select_from(Organisation)) == 2
        assert organisations.pseudonyms(session, hill) == ["farm-2"]
