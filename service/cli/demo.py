"""`threshbook demo`: start the service, send three invented field cases over HTTP, print the answers.

Inside: the life of the service for the length of the demo, the requests. Outside: the look of the
answers (`sheet`, `sheet_losses`).
"""

import socket
import subprocess
import sys
import tempfile
import time
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.resources import files
from typing import Annotated, Any, Final

import httpx
import typer

from service.cli.console import complain, console
from service.cli.demo_coop import demo_coop
from service.cli.sheet import Sheet, print_settings
from service.cli.sheet_losses import print_losses
from service.text import LANGUAGES, Language
from service.units import UnitSystem

HOST: Final = "127.0.0.1"
PORT: Final = 8765
PORTS_TRIED: Final = 50
START_SECONDS: Final = 60.0


def demo(
    *,
    stay: Annotated[
        bool | None,
        typer.Option(
            "--stay/--no-stay", help="Keep the service running afterwards; as in a terminal, not in a script."
        ),
    ] = None,
    coop: Annotated[
        bool, typer.Option("--coop", help="Show an invented co-op whose table learns from its members instead.")
    ] = False,
    port: Annotated[int, typer.Option(min=1, max=65535, help="First port to try; the next free one is taken.")] = PORT,
    units: Annotated[UnitSystem, typer.Option(help="Unit system of the answers.")] = "metric",
    lang: Annotated[Language, typer.Option(help=f"Language of the answers: {', '.join(LANGUAGES)}.")] = "en",
) -> None:
    """Start the service, ask for three invented fields over HTTP and print the answers."""
    if coop:
        demo_coop(console())
        return
    sheet = Sheet(console(), lang, units)
    with running_service(free_port(port)) as (url, process):
        sheet.console.print(f"[bold]{sheet.text('title')}[/] {url}\n{sheet.text('invented')}")
        with httpx.Client(base_url=url, params={"units": units, "lang": lang}, trust_env=False, timeout=10) as client:
            cases = load_cases()
            for number, case in enumerate(cases, 1):
                _print_case(sheet, client, case, f"{number}/{len(cases)}")
        sheet.console.print(f"\n[bold]{sheet.text('docs')}[/] {url}/docs", soft_wrap=True)
        if sys.stdin.isatty() if stay is None else stay:
            sheet.console.print(sheet.text("stay"))
            _wait(process)
        else:
            sheet.console.print(sheet.text("stopped"))


def load_cases() -> list[dict[str, Any]]:
    """Read the invented cases."""
    text = files("service.cli").joinpath("demo_cases.toml").read_text(encoding="utf-8")
    cases: list[dict[str, Any]] = tomllib.loads(text)["case"]
    return cases


def _print_case(sheet: Sheet, client: httpx.Client, case: dict[str, Any], number: str) -> None:
    sheet.console.print()
    sheet.console.rule(f"[bold]{number} {case['title'][sheet.lang]}[/]", align="left")
    _asked(sheet, "/v1/starting-settings", case["question"])
    print_settings(sheet, _answer(client, "/v1/starting-settings", case["question"]))
    if "ground_loss" in case:
        sheet.console.print()
        _asked(sheet, "/v1/ground-loss", case["ground_loss"])
        print_losses(sheet, _answer(client, "/v1/ground-loss", case["ground_loss"]))


def _asked(sheet: Sheet, path: str, question: dict[str, Any]) -> None:
    fields = ", ".join(f"{name} {value}" for name, value in question.items() if not isinstance(value, list))
    sheet.console.print(f"[dim]POST {path}: {fields}[/]")


def _answer(client: httpx.Client, path: str, question: dict[str, Any]) -> dict[str, Any]:
    response = client.post(path, json=question)
    if response.status_code != httpx.codes.OK:
        complain(f"{path} answered {response.status_code}:", response.text)
        raise typer.Exit(1)
    answer: dict[str, Any] = response.json()
    return answer


def free_port(first: int) -> int:
    """Return the first port from `first` on that nobody listens on."""
    for port in range(first, min(first + PORTS_TRIED, 65536)):
        with socket.socket() as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((HOST, port))
            except OSError:
                continue
            return port
    complain(f"No free port from {first} to {port}.")
    raise typer.Exit(1)


@contextmanager
def running_service(port: int) -> Iterator[tuple[str, subprocess.Popen[bytes]]]:
    """Run `threshbook serve` in a process of its own until the block ends."""
    url = f"http://{HOST}:{port}"
    command = [sys.executable, "-m", "service.cli", "serve", "--host", HOST, "--port", str(port)]
    with tempfile.TemporaryFile() as log:
        process = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=log, stderr=log)
        try:
            if not _ready(url, process):
                log.seek(0)
                complain("The service did not start:", log.read().decode(errors="replace"))
                raise typer.Exit(1)
            yield url, process
        finally:
            process.terminate()
            try:
                process.wait(timeout=10)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


def _ready(url: str, process: subprocess.Popen[bytes]) -> bool:
    until = time.monotonic() + START_SECONDS
    while process.poll() is None and time.monotonic() < until:
        try:
            if httpx.get(f"{url}/readyz", trust_env=False, timeout=2).status_code == httpx.codes.OK:
                return True
        except httpx.TransportError:
            pass
        time.sleep(0.1)
    return False


def _wait(process: subprocess.Popen[bytes]) -> None:
    try:
        process.wait()
    except KeyboardInterrupt:
        return
