"""What every test may use: a live server on the loopback, both databases, and no other network."""

import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from functools import cache
from pathlib import Path

import httpx
import pytest
from hypothesis import settings

from service.cli import app
from service.store import Store, open_store
from tests.coop import grow
from tests.databases import BROUGHT_UP, Server, copied, embedded_template, running_server

ROOT = Path(__file__).resolve().parent.parent
Typed = Callable[..., tuple[int, str, str]]
LOOPBACK = {"127.0.0.1", "::1", "localhost"}
# the gates draw the same examples every time: red means that the code changed. `HYPOTHESIS_PROFILE=default` searches.
settings.register_profile("gates", derandomize=True, deadline=None)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "gates"))


@pytest.fixture(scope="session", autouse=True)
def _loopback_only() -> Iterator[None]:
    """Tests that reach out would pass or fail by someone else's weather."""
    connect = socket.socket.connect

    def guarded(self: socket.socket, address: object) -> None:
        if isinstance(address, tuple) and address[0] not in LOOPBACK:
            raise OSError(f"tests stay on this machine, not {address[0]}")
        connect(self, address)  # type: ignore[arg-type]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(socket.socket, "connect", guarded)
        yield


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


@contextmanager
def running_service(
    *options: str, python: str = sys.executable, seconds: float = 120, database: str | None = None
) -> Iterator[str]:
    """Start `threshbook serve` as a user would, wait until it is ready, give its address, stop it and its workers."""
    with started_service(*options, python=python, seconds=seconds, database=database) as (url, _):
        yield url


@contextmanager
def started_service(
    *options: str, python: str = sys.executable, seconds: float = 120, database: str | None = None
) -> Iterator[tuple[str, int]]:
    """The same, with the id of its first process."""
    url = f"http://127.0.0.1:{(port := free_port())}"
    environment = {k: v for k, v in os.environ.items() if not k.startswith("THRESHBOOK_")}
    if database is not None:
        environment["THRESHBOOK_DATABASE_URL"] = database
    command = [python, "-m", "service.cli", "serve", "--port", str(port), *options]
    with (
        tempfile.TemporaryFile("w+", encoding="utf-8") as output,
        subprocess.Popen(
            command, cwd=ROOT.parent, env=environment, stdout=output, stderr=output, start_new_session=True
        ) as process,
    ):
        try:
            until = time.monotonic() + seconds
            while not _is_ready(url):
                if process.poll() is not None or time.monotonic() > until:
                    output.seek(0)
                    raise AssertionError(f"service did not start:\n{output.read()}")
                time.sleep(0.05)
            yield url, process.pid
        finally:
            process.terminate()
            try:
                process.wait(timeout=30)
            finally:
                # workers outlive a parent that is killed; the whole session ends here
                with suppress(ProcessLookupError):
                    os.killpg(process.pid, signal.SIGKILL)


def _is_ready(url: str) -> bool:
    try:
        return httpx.get(f"{url}/readyz", trust_env=False).status_code == 200
    except httpx.TransportError:
        return False


@pytest.fixture(scope="session")
def live_url() -> Iterator[str]:
    """Address of a service started once for the whole session."""
    with running_service() as url:
        yield url


@pytest.fixture(scope="session")
def postgresql() -> Iterator[Server]:
    """A real PostgreSQL, started once for the session."""
    with running_server() as server:
        yield server


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A file that every test with an embedded store copies."""
    return embedded_template(tmp_path_factory.mktemp("template"))


@pytest.fixture(params=["sqlite", "postgresql"])
def store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Store]:
    """An empty store, brought up by the migrations: each test that asks for it runs on both databases."""
    if request.param == "sqlite":
        opened = copied(request.getfixturevalue("sqlite_template"), tmp_path)
    else:
        opened = open_store(request.getfixturevalue("postgresql").emptied())
    yield opened
    opened.engine.dispose()


@pytest.fixture(params=["sqlite", "postgresql"])
def own_store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Store]:
    """The same, for a test that changes the schema."""
    if request.param == "sqlite":
        opened = copied(request.getfixturevalue("sqlite_template"), tmp_path)
    else:
        server: Server = request.getfixturevalue("postgresql")
        opened = open_store(server.address(server.new_database(template=BROUGHT_UP)))
    yield opened
    opened.engine.dispose()


@pytest.fixture(scope="session")
def grown_templates(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Callable[[str], Path | str]:
    """Stores of an invented co-op with its reports folded, made once for each database and copied."""

    @cache
    def made(kind: str) -> Path | str:
        if kind == "sqlite":
            folder = tmp_path_factory.mktemp("grown")
            opened = copied(request.getfixturevalue("sqlite_template"), folder)
            grow(opened)
            assert opened.file is not None
            return opened.file
        server: Server = request.getfixturevalue("postgresql")
        server.emptied()  # of what another test left in it
        name = server.new_database(template=BROUGHT_UP)
        opened = open_store(server.address(name))
        grow(opened)
        return name

    return made


@pytest.fixture(params=["sqlite", "postgresql"])
def grown_store(
    request: pytest.FixtureRequest, tmp_path: Path, grown_templates: Callable[[str], Path | str]
) -> Iterator[Store]:
    """A store with an invented co-op; each test that asks for it runs on both databases."""
    template = grown_templates(request.param)
    if isinstance(template, Path):
        opened = copied(template, tmp_path)
    else:
        server: Server = request.getfixturevalue("postgresql")
        opened = open_store(server.address(server.new_database(template=template)))
    yield opened
    opened.engine.dispose()


@pytest.fixture(params=["sqlite", "postgresql"])
def empty_store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Store]:
    """A store in which nothing has been made yet."""
    if request.param == "sqlite":
        opened = open_store(f"sqlite:///{tmp_path / 'deep' / 'er' / 'store.sqlite3'}")
    else:
        server: Server = request.getfixturevalue("postgresql")
        opened = open_store(server.address(server.new_database()))
    yield opened
    opened.engine.dispose()


@pytest.fixture
def inside(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Typed:
    """Run a command in this process: exit code, what it said, what it complained about."""

    def run(*words: str) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["threshbook", *words])
        with pytest.raises(SystemExit) as exit_:
            app()
        said = capsys.readouterr()
        code = exit_.value.code
        return (code if isinstance(code, int) else 0), said.out, said.err

    return run
