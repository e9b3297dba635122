"""Opening a store, and one transaction at a time on it.

Inside: addresses, what each database is told at the beginning of a connection, transactions, and which
errors of a database mean that it cannot be used. Outside: tables, statements, migrations.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from platformdirs import user_data_path
from sqlalchemy import URL, Connection, Engine, create_engine, event, exc, make_url
from sqlalchemy.orm import Session

from service.errors import Stale, StoreMissing, StoreUnavailable

WAIT_SECONDS: Final = 3
# an own file when nothing else is said; it comes into being with the first organisation, not by serving
USER_FILE: Final = user_data_path("threshbook", appauthor=False) / "store.sqlite3"

_SQLITE: Final = (
    "PRAGMA journal_mode = WAL",
    # WAL alone would lose the last commits with the power; acknowledged means committed
    "PRAGMA synchronous = FULL",
    "PRAGMA foreign_keys = ON",
    # else INSERT OR REPLACE deletes without asking the triggers
    "PRAGMA recursive_triggers = ON",
    "PRAGMA trusted_schema = OFF",
)
_POSTGRESQL: Final = {
    "connect_timeout": WAIT_SECONDS,
    "tcp_user_timeout": WAIT_SECONDS * 1000,
    "keepalives_idle": 5,
    "keepalives_interval": 1,
    "keepalives_count": 3,
    "application_name": "threshbook",
    "options": " ".join(
        f"-c {name}={value}"
        for name, value in {
            "statement_timeout": f"{WAIT_SECONDS}s",
            "lock_timeout": "2s",
            "idle_in_transaction_session_timeout": "60s",
            "synchronous_commit": "on",
            "timezone": "UTC",
        }.items()
    ),
}
# a table or column that is not there yet: the schema is older than the program
_NOT_MIGRATED: Final = frozenset({"42P01", "42703"})


@dataclass(frozen=True, slots=True)
class Store:
    """A database; `named` says that someone asked for it, so that its absence is a fault."""

    engine: Engine
    named: bool

    @property
    def address(self) -> str:
        """Address without password."""
        return self.engine.url.render_as_string(hide_password=True)

    @property
    def file(self) -> Path | None:
        """File of an embedded store."""
        url = self.engine.url
        return Path(url.database) if url.get_backend_name() == "sqlite" and url.database else None

    @property
    def exists(self) -> bool:
        """Whether there is something to connect to; of a server that is only known by asking."""
        return self.file is None or self.file.exists()

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """One transaction that sees one state; changes in it are dropped.

        Raises
        ------
        StoreMissing, StoreUnavailable
            If there is no database, or it cannot be used.
        """
        one_state: dict[str, Any] = {} if self.file else {"isolation_level": "REPEATABLE READ"}
        with self._transaction(self.engine.execution_options(**one_state)) as session:
            yield session

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """One transaction, committed when the block ends without an error.

        Raises
        ------
        StoreMissing, StoreUnavailable
            If there is no database, it cannot be used, or the commit fails.
        Stale
            If what is written belongs to something that was taken away meanwhile.
        """
        with self._transaction(self.engine.execution_options(writes=True)) as session:
            yield session
            session.commit()

    @contextmanager
    def _transaction(self, engine: Engine) -> Iterator[Session]:
        if not self.exists:
            raise StoreMissing(f"{self.address} is not there")
        try:
            with Session(engine, expire_on_commit=False) as session:
                yield session
        except exc.SQLAlchemyError as error:
            if _points_nowhere(error):
                raise Stale from error
            why = reason_unusable(error)
            if why is None:
                raise
            raise StoreUnavailable(why) from error


def _points_nowhere(error: exc.SQLAlchemyError) -> bool:
    """Whether what a row belongs to was taken away meanwhile: a contributor erased, a record taken back."""
    if not isinstance(error, exc.IntegrityError):
        return False
    return getattr(error.orig, "sqlstate", None) == "23503" or "FOREIGN KEY" in str(error.orig)


def reason_unusable(error: exc.SQLAlchemyError) -> str | None:
    """Say why a database cannot be used; None where the statement itself is wrong."""
    if isinstance(error, exc.TimeoutError):
        return "every connection is in use"
    if not isinstance(error, exc.DBAPIError):
        return None
    state = getattr(error.orig, "sqlstate", None)
    away = isinstance(error, exc.OperationalError | exc.InterfaceError | exc.InternalError)
    if away or error.connection_invalidated or state in _NOT_MIGRATED:
        return " ".join(str(error.orig).split())
    # SQLite calls a file that is no database, or a broken one, by the general name
    return str(error.orig) if type(error) is exc.DatabaseError else None


def open_store(address: str | None = None) -> Store:
    """Return the store at an address, or the one of this user; nothing is connected or made yet.

    Raises
    ------
    StoreUnavailable
        If the address is none of a database that is known.
    """
    url = URL.create("sqlite", database=str(USER_FILE)) if address is None else _url(address)
    if url.get_backend_name() == "sqlite":
        engine = create_engine(
            url, connect_args={"timeout": WAIT_SECONDS}, pool_size=10, max_overflow=30, pool_timeout=WAIT_SECONDS
        )
        event.listen(engine, "connect", _prepare_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
    else:
        engine = create_engine(
            url,
            connect_args={name: value for name, value in _POSTGRESQL.items() if name not in url.query},
            pool_size=10,
            max_overflow=10,
            pool_timeout=WAIT_SECONDS,
            pool_pre_ping=True,
        )
    return Store(engine, named=address is not None)


def _url(address: str) -> URL:
    try:
        url = make_url(address)
    except exc.ArgumentError:
        raise StoreUnavailable("the address of the store cannot be read") from None
    name = url.drivername.partition("+")[0]
    if name in ("postgresql", "postgres"):
        return url.set(drivername="postgresql+psycopg")
    if name == "sqlite" and url.database not in (None, "", ":memory:"):
        return url.set(drivername="sqlite")
    raise StoreUnavailable("the address of the store must begin with sqlite:/// and name a file, or with postgresql://")


def _prepare_sqlite(connection: Any, _: object) -> None:
    connection.isolation_level = None  # the driver would begin transactions by its own rules
    cursor = connection.cursor()
    for pragma in _SQLITE:
        cursor.execute(pragma)
    cursor.close()


def _begin_sqlite(connection: Connection) -> None:
    # a transaction that takes the write lock late can fail there, where waiting no longer helps
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
