"""Opening a store, transactions, and what counts as a database that cannot be used."""

from contextlib import suppress
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
from sqlalchemy import exc, select, text

from service.errors import Stale, StoreMissing, StoreUnavailable
from service.store import Store, cell_sums, open_store, organisations
from service.store.column_types import UtcDateTime
from service.store.engine import USER_FILE
from service.store.tables import Organisation

NOW = datetime(2026, 7, 28, 12, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    "address", ["nonsense", "mysql://host/db", "sqlite://", "sqlite:///:memory:", "", "postgresql+pg8000:/x:y:z"]
)
def test_an_address_of_no_known_database_is_refused(address: str) -> None:
    with pytest.raises(StoreUnavailable):
        open_store(address)


@pytest.mark.parametrize("scheme", ["postgresql", "postgres", "postgresql+psycopg"])
def test_every_usual_address_of_postgresql_is_taken_and_told_without_password(scheme: str) -> None:
    store = open_store(f"{scheme}://coop:secret@db.example/threshbook")
    assert store.engine.dialect.driver == "psycopg"
    assert "secret" not in store.address
    assert store.named
    assert store.exists  # nobody has been asked yet


def test_without_an_address_it_is_a_file_of_this_user_that_nobody_asked_for() -> None:
    store = open_store()
    assert store.file == USER_FILE
    assert not store.named


def test_a_transaction_is_kept_when_its_block_ends_and_dropped_when_it_fails(store: Store) -> None:
    with store.writing() as session:
        organisations.add_organisation(session, "kept", 1, NOW)
    with suppress(ZeroDivisionError), store.writing() as session:
        organisations.add_organisation(session, "dropped", 1, NOW)
        raise ZeroDivisionError
    with store.reading() as session:
        organisations.add_organisation(session, "only read", 1, NOW)
    with store.reading() as session:
        assert [one.name for one in organisations.all_organisations(session)] == ["kept"]


def test_a_wrong_statement_is_a_mistake_of_the_program_and_not_the_database_s(store: Store) -> None:
    with store.writing() as session:
        organisations.add_organisation(session, "same", 1, NOW)
    with pytest.raises(exc.IntegrityError), store.writing() as session:
        organisations.add_organisation(session, "same", 1, NOW)
    with pytest.raises(exc.IntegrityError), store.writing() as session:
        organisations.add_organisation(session, "month", 13, NOW)


def test_a_commit_survives_the_machine(store: Store) -> None:
    """What both databases promise for these settings, according to their manuals."""
    with store.reading() as session:
        if store.engine.dialect.name == "sqlite":
            assert session.scalar(text("PRAGMA journal_mode")) == "wal"
            assert session.scalar(text("PRAGMA synchronous")) == 2  # FULL
            assert session.scalar(text("PRAGMA foreign_keys")) == 1
        else:
            assert session.scalar(text("SHOW synchronous_commit")) == "on"
            assert session.scalar(text("SHOW statement_timeout")) == "3s"


def test_moments_come_back_as_the_same_moment_in_utc(store: Store) -> None:
    local = datetime(2026, 7, 28, 14, 30, 15, 123456, tzinfo=timezone(timedelta(hours=2)))
    with store.writing() as session:
        organisations.add_organisation(session, "clock", 1, local)
    with store.reading() as session:
        kept = session.scalars(select(Organisation.created_at)).one()
    assert kept == local
    assert kept.tzinfo is UTC


def test_a_moment_without_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="zone"):
        UtcDateTime().process_bind_param(datetime(2026, 7, 28), open_store().engine.dialect)  # noqa: DTZ001


def test_what_is_no_database_is_unavailable(tmp_path: Path) -> None:
    path = tmp_path / "letter.sqlite3"
    path.write_text("Dear members, " * 100, encoding="utf-8")
    with pytest.raises(StoreUnavailable, match="not a database"), open_store(f"sqlite:///{path}").reading() as session:
        session.execute(text("SELECT 1"))


def test_a_server_that_is_away_is_unavailable(tmp_path: Path) -> None:
    store = open_store(f"postgresql://nobody@/none?host={tmp_path}")
    with pytest.raises(StoreUnavailable, match="connection"), store.reading() as session:
        session.execute(text("SELECT 1"))


def test_tables_that_are_not_there_yet_are_no_mistake_of_the_program(empty_store: Store) -> None:
    if empty_store.file is not None:
        with pytest.raises(StoreMissing), empty_store.reading():
            pass
        empty_store.file.parent.mkdir(parents=True)
        empty_store.file.touch()
    with pytest.raises(StoreUnavailable), empty_store.reading() as session:
        organisations.all_organisations(session)


def test_who_waits_too_long_for_another_s_transaction_is_told_so(store: Store) -> None:
    if store.engine.dialect.name == "sqlite":
        hold, wait = "UPDATE organisation SET name = 'x'", "UPDATE organisation SET name = 'y'"
    else:
        hold = wait = "LOCK TABLE organisation"
    with store.writing() as holder:
        holder.execute(text(hold))
        with pytest.raises(StoreUnavailable), store.writing() as waiter:
            waiter.execute(text(wait))


def test_what_belongs_to_something_taken_away_is_stale(store: Store) -> None:
    with pytest.raises(Stale), store.writing() as session:
        cell_sums.fold_state(session, 77, NOW)


def test_a_transaction_for_reading_sees_one_state(store: Store) -> None:
    with store.reading() as session:
        assert organisations.organisation_named(session, "hill") is None
        with store.writing() as other:
            other.add(Organisation(name="hill", season_starts_month=1, created_at=NOW))
        assert organisations.organisation_named(session, "hill") is None
    with store.reading() as session:
        assert organisations.organisation_named(session, "hill") is not None
