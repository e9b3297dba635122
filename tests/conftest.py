"""What every test may use: a live server on the loopback, and no other network."""

import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import httpx
import pytest
from hypothesis import settings

ROOT = Path(__file__).resolve().parent.parent
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
def running_service(*options: str, python: str = sys.executable, seconds: float = 120) -> Iterator[str]:
    """Start `threshbook serve` as a user would, wait until it is ready, give its address, stop it and its workers."""
    url = f"http://127.0.0.1:{(port := free_port())}"
    environment = {k: v for k, v in os.environ.items() if not k.startswith("THRESHBOOK_")}
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
            yield url
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
