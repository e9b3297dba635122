"""The state of a database: whether this program can work with it, and what is wrong with it.

Inside: its schema against the newest one, integrity. Outside: bringing it up (`upgrading`).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from sqlalchemy import Connection, func, inspect, select, text

from service.errors import StoreUnavailable
from service.store.engine import Store
from service.store.tables import Feedback, Member, Organisation

NEWEST: Final = "r0002"  # newest migration; written here so that serving need not load the migrations
_TRIGGERS: Final = {"sqlite": 2, "postgresql": 2}
_NEVER_CHANGED: Final = ("audit_event", "local_revision")


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


def ready(store: Store) -> str:
    """Return the revision of a database that can be read and written by this program.

    Raises
    ------
    StoreMissing, StoreUnavailable
        If it cannot, with the reason.
    """
    with store.reading() as session:
        connection = session.connection()
        found, wanted = _revision(connection), NEWEST
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
        faults = [] if revision == NEWEST else [f"schema is {revision or 'empty'}: run threshbook store upgrade"]
        if faults:
            return Report(store.address, revision, NEWEST, 0, 0, 0, tuple(faults))
        faults += [*_faults(connection)]
        organisations, members, records = (
            session.scalar(select(func.count()).select_from(table)) or 0 for table in (Organisation, Member, Feedback)
        )
    return Report(store.address, revision, NEWEST, organisations, members, records, tuple(faults))


def _faults(connection: Connection) -> Iterator[str]:
    if connection.dialect.name == "sqlite":
        for line in connection.scalars(text("PRAGMA integrity_check")):
            if line != "ok":
                yield str(line)
        for row in connection.execute(text("PRAGMA foreign_key_check")):
            yield f"row {row[1]} of {row[0]} points to nothing in {row[2]}"
        triggers = "SELECT count(*) FROM sqlite_master WHERE type = 'trigger' AND tbl_name = '{}'"
    else:
        triggers = (
            "SELECT count(*) FROM pg_trigger WHERE tgrelid = '{}'::regclass AND NOT tgisinternal AND tgenabled <> 'D'"
        )
    for table in _NEVER_CHANGED:
        if connection.scalar(text(triggers.format(table))) != _TRIGGERS[connection.dialect.name]:
            yield f"{table} can be changed: its triggers are missing or switched off"


def _revision(connection: Connection) -> str | None:
    if not inspect(connection).has_table("alembic_version"):
        return None
    found: str | None = connection.scalar(text("SELECT version_num FROM alembic_version"))
    return found
