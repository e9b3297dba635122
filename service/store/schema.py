"""The state of a database's schema: bring it up, look at it, check it.

Inside: running the migrations, comparing with the newest one, integrity. Outside: the migrations.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Final

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, exc, func, inspect, select, text

from service.errors import StoreUnavailable
from service.store.engine import Store, reason_unusable
from service.store.tables import Feedback, Member, Organisation

TRIGGERS: Final = {"sqlite": 2, "postgresql": 2}
_UPGRADE_LOCK: Final = 7305491  # of ours alone: two upgrades at once would both find an empty database
_OWNER_ONLY: Final = 0o700


@dataclass(frozen=True, slots=True)
class Report:
    """What a store holds, and what is wrong with it."""

    address: str
    revision: str | None
    newest: str
    organisations: int
    members: int
    records: int
    faults: tuple[str, ...]


@cache
def newest() -> str:
    """Return the id of the newest migration."""
    head = ScriptDirectory.from_config(_config()).get_current_head()
    assert head is not None
    return head


def upgrade(store: Store) -> str:
    """Bring a database to the newest schema, making the file of an embedded one; returns the revision.

    Raises
    ------
    StoreUnavailable
        If the database cannot be reached or changed.
    """
    config = _config()
    try:
        if store.file is not None:
            store.file.parent.mkdir(parents=True, exist_ok=True, mode=_OWNER_ONLY)
            if not store.file.exists():
                store.file.touch(mode=0o600)  # what members reported is nobody else's on this machine
        with store.engine.execution_options(writes=True).begin() as connection:
            if connection.dialect.name == "postgresql":
                # others may be reading: better to fail at once than to make everyone wait behind us
                connection.execute(text("SET LOCAL lock_timeout = '4s'; SET LOCAL statement_timeout = 0"))
                connection.execute(text(f"SELECT pg_advisory_xact_lock({_UPGRADE_LOCK})"))
            config.attributes["connection"] = connection
            command.upgrade(config, "head")
    except OSError as error:
        raise StoreUnavailable(str(error)) from error
    except exc.SQLAlchemyError as error:
        raise StoreUnavailable(reason_unusable(error) or str(error)) from error
    return newest()


def ready(store: Store) -> str:
    """Return the revision of a database that can be read and written by this program.

    Raises
    ------
    StoreMissing, StoreUnavailable
        If it cannot, with the reason.
    """
    with store.reading() as session:
        connection = session.connection()
        found, wanted = _revision(connection), newest()
        if found != wanted:
            raise StoreUnavailable(f"the schema is {found or 'empty'}, not {wanted}: run threshbook store upgrade")
        if connection.dialect.name == "postgresql":
            if connection.scalar(text("SELECT current_setting('transaction_read_only')")) == "on":
                raise StoreUnavailable("the database is read-only")
        elif connection.scalar(text("PRAGMA query_only")):
            raise StoreUnavailable("the database is read-only")
    return found


def check(store: Store) -> Report:
    """Look through a database and list every fault.

    Raises
    ------
    StoreMissing, StoreUnavailable
        If it cannot be reached.
    """
    with store.reading() as session:
        connection = session.connection()
        revision = _revision(connection)
        faults = [] if revision == newest() else [f"schema is {revision or 'empty'}: run threshbook store upgrade"]
        if faults:
            return Report(store.address, revision, newest(), 0, 0, 0, tuple(faults))
        counts = [session.scalar(select(func.count()).select_from(table)) for table in (Organisation, Member, Feedback)]
        faults += [*_faults(connection)]
    return Report(store.address, revision, newest(), *(count or 0 for count in counts), tuple(faults))


def _faults(connection: Connection) -> Iterator[str]:
    if connection.dialect.name == "sqlite":
        for line in connection.scalars(text("PRAGMA integrity_check")):
            if line != "ok":
                yield str(line)
        for row in connection.execute(text("PRAGMA foreign_key_check")):
            yield f"row {row[1]} of {row[0]} points to nothing in {row[2]}"
        triggers = "SELECT count(*) FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'audit_event'"
    else:
        triggers = (
            "SELECT count(*) FROM pg_trigger WHERE tgrelid = 'audit_event'::regclass "
            "AND NOT tgisinternal AND tgenabled <> 'D'"
        )
    if connection.scalar(text(triggers)) != TRIGGERS[connection.dialect.name]:
        yield "audit_event can be changed: its triggers are missing or switched off"


def _revision(connection: Connection) -> str | None:
    if not inspect(connection).has_table("alembic_version"):
        return None
    return MigrationContext.configure(connection).get_current_revision()


def _config() -> Config:
    config = Config()
    # a percent sign begins a substitution there
    config.set_main_option("script_location", str(files("service.store") / "migrations").replace("%", "%%"))
    return config
