"""Migrations make what the tables say, on both databases, and a database is looked through before it is trusted."""

import stat
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import text

from service.errors import StoreMissing, StoreUnavailable
from service.store import Store, open_store, schema
from service.store.tables import Row
from service.store.upgrading import migrations, upgrade
from tests.databases import BROUGHT_UP, Server


def test_the_migrations_make_the_tables_of_the_program(store: Store) -> None:
    with store.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True, "compare_server_default": True})
        assert compare_metadata(context, Row.metadata) == []


def test_the_newest_schema_is_that_of_the_newest_migration() -> None:
    assert ScriptDirectory.from_config(migrations()).get_heads() == [schema.NEWEST]


def test_an_empty_database_is_brought_up_and_brought_up_again(empty_store: Store) -> None:
    with pytest.raises(StoreUnavailable):
        schema.ready(empty_store)
    assert upgrade(empty_store) == upgrade(empty_store) == schema.ready(empty_store) == schema.NEWEST
    report = schema.check(empty_store)
    assert (report.organisations, report.members, report.records, report.faults) == (0, 0, 0, ())


def test_two_upgrades_at_once_do_no_harm(empty_store: Store) -> None:
    with ThreadPoolExecutor(2) as pool:
        assert list(pool.map(upgrade, [empty_store, empty_store])) == [schema.NEWEST] * 2
    assert schema.check(empty_store).faults == ()


def test_a_file_is_its_owner_s_alone(tmp_path: Path) -> None:
    store = open_store(f"sqlite:///{tmp_path / 'new' / 'store.sqlite3'}")
    upgrade(store)
    assert store.file is not None
    assert stat.S_IMODE(store.file.stat().st_mode) == 0o600
    assert stat.S_IMODE(store.file.parent.stat().st_mode) == 0o700


def test_a_database_of_another_release_is_not_used(own_store: Store) -> None:
    store = own_store
    with store.writing() as session:
        session.execute(text("UPDATE alembic_version SET version_num = 'r9999'"))
    with pytest.raises(StoreUnavailable, match="r9999") as refused:
        schema.ready(store)
    assert "threshbook store upgrade" in str(refused.value)
    assert any("r9999" in fault for fault in schema.check(store).faults)


def test_a_store_without_the_triggers_of_the_audit_log_has_a_fault(own_store: Store) -> None:
    store = own_store
    kind = store.engine.dialect.name
    name = "audit_event_no_update" if kind == "sqlite" else "audit_event_no_truncate"
    with store.writing() as session:
        session.execute(text(f"DROP TRIGGER {name}" + ("" if kind == "sqlite" else " ON audit_event")))
    assert ["audit_event" in fault for fault in schema.check(store).faults] == [True]


def test_a_database_that_only_reads_is_not_ready(postgresql: Server) -> None:
    name = postgresql.new_database(template=BROUGHT_UP)
    postgresql.command(f"ALTER DATABASE {name} SET default_transaction_read_only = on")
    store = open_store(postgresql.address(name))
    with pytest.raises(StoreUnavailable, match="read-only"):
        schema.ready(store)
    with pytest.raises(StoreUnavailable), store.writing() as session:
        session.execute(text("INSERT INTO organisation (name, season_starts_month, created_at) VALUES ('x', 1, now())"))
    store.engine.dispose()


def test_there_is_nothing_to_look_through_without_a_file(tmp_path: Path) -> None:
    store = open_store(f"sqlite:///{tmp_path / 'none.sqlite3'}")
    for look in (schema.ready, schema.check):
        with pytest.raises(StoreMissing):
            look(store)
    assert not store.exists
