"""The command line as a person types it."""

import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
from contextlib import suppress
from decimal import Decimal
from pathlib import Path

import httpx
import pytest

import service
from service.cli.console import console
from service.cli.demo import free_port as next_free_port
from service.cli.demo import load_cases
from service.cli.sheet import Sheet, adds_up
from service.knowledge.report import MARKS
from service.knowledge.tree import PACKAGE_FOLDER
from tests.conftest import ROOT, Typed, free_port, running_service


def typed(*words: str) -> subprocess.CompletedProcess[str]:
    """Run `threshbook ...` as a process; the answer is text."""
    command = [sys.executable, "-m", "service.cli", *words]
    return subprocess.run(
        command, stdin=subprocess.DEVNULL, capture_output=True, text=True, encoding="utf-8", check=False, timeout=120
    )


def test_version_is_the_package_version(inside: Typed) -> None:
    assert inside("--version") == (0, f"threshbook {service.__version__}\n", "")


def test_console_script_is_installed() -> None:
    found = shutil.which("threshbook", path=str(Path(sys.executable).parent))
    assert found is not None
    done = subprocess.run([found, "--version"], capture_output=True, text=True, check=True)
    assert done.stdout.startswith("threshbook ")


def test_check_names_revision_and_digest(inside: Typed) -> None:
    code, out, _ = inside("knowledge", "check")
    assert code == 0
    assert re.search(r"Knowledge table \d{4}\.\d\d\.\d+ .*No faults\.\nsha256:[0-9a-f]{64}\n", out)


def test_check_lists_every_fault_without_a_traceback(tmp_path: Path) -> None:
    folder = tmp_path / "knowledge"
    shutil.copytree(PACKAGE_FOLDER, folder, ignore=shutil.ignore_patterns("__pycache__", "*.py"))
    for crop in ("wheat", "barley"):
        path = folder / "crops" / f"{crop}.toml"
        path.write_text(path.read_text(encoding="utf-8") + "\nnonsense = 1\n", encoding="utf-8")
    done = typed("knowledge", "check", "--folder", str(folder))
    assert done.returncode == 1
    assert done.stdout == ""
    assert "Traceback" not in done.stderr
    assert "crops/wheat.toml" in done.stderr
    assert "crops/barley.toml" in done.stderr


def test_show_prints_figures_rows_and_sources(inside: Typed) -> None:
    code, out, _ = inside("knowledge", "show", "corn", "--class", "axial")
    assert code == 0
    assert "Maize" in out
    assert "thousand kernel mass" in out
    assert "Drum or rotor" in out
    assert max(map(len, out.splitlines())) <= 100


def test_show_of_a_misspelt_crop_gives_the_nearest(inside: Typed) -> None:
    code, out, err = inside("knowledge", "show", "barly")
    assert (code, out) == (1, "")
    assert err.startswith("unknown name: crop\n")
    assert "nearest: barley" in err


def test_report_counts_every_mark_and_crop(inside: Typed) -> None:
    code, out, _ = inside("knowledge", "report")
    assert code == 0
    assert all(mark.split("_")[0] in out for mark in MARKS)
    crops = [path.stem for path in (PACKAGE_FOLDER / "crops").glob("*.toml")]
    assert [crop for crop in crops if crop not in out] == []


def test_bump_of_an_unchanged_table_changes_nothing(inside: Typed, tmp_path: Path) -> None:
    folder = tmp_path / "knowledge"
    shutil.copytree(PACKAGE_FOLDER, folder, ignore=shutil.ignore_patterns("__pycache__", "*.py"))
    before = (folder / "revision.toml").read_text(encoding="utf-8")
    code, out, _ = inside("knowledge", "bump", "--folder", str(folder))
    assert code == 0
    assert re.search(r"revision\.toml names \d{4}\.\d\d\.\d+\.", out)
    assert (folder / "revision.toml").read_text(encoding="utf-8") == before


def test_openapi_is_written_as_it_is_committed(inside: Typed, tmp_path: Path) -> None:
    path = tmp_path / "new" / "openapi.json"
    assert inside("openapi", "--write", str(path))[0] == 0
    assert path.read_text(encoding="utf-8") == (ROOT / "openapi" / "openapi.json").read_text(encoding="utf-8")
    assert inside("openapi")[1] == path.read_text(encoding="utf-8")


def test_serve_refuses_a_bad_environment_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("THRESHBOOK_PORT", "many")
    done = typed("serve")
    assert done.returncode == 1
    assert done.stderr.startswith("port: ")
    assert "Traceback" not in done.stderr


def test_serve_refuses_a_wrong_crop_file_in_words(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text('id = "mine"\n', encoding="utf-8")
    for workers in ("1", "2"):
        done = typed("serve", "--extra-crops", str(tmp_path), "--workers", workers)
        assert done.returncode == 1
        assert "mine.toml" in done.stderr
        assert "Traceback" not in done.stderr


def test_several_workers_answer_the_same() -> None:
    with running_service("--workers", "2") as url, httpx.Client(base_url=url, trust_env=False) as client:
        bodies = {client.get("/v1/crops").content for _ in range(8)}
    assert len(bodies) == 1


def test_workers_end_when_their_parent_is_killed() -> None:
    port = free_port()
    command = [sys.executable, "-m", "service.cli", "serve", "--workers", "2", "--port", str(port)]
    with subprocess.Popen(command, stderr=subprocess.DEVNULL, start_new_session=True) as parent:
        try:
            assert answers(port, until=True)
            parent.kill()
            assert parent.wait(timeout=30) == -signal.SIGKILL
            assert not answers(port, until=False)
        finally:
            with suppress(ProcessLookupError):
                os.killpg(parent.pid, signal.SIGKILL)


def answers(port: int, *, until: bool, seconds: float = 120) -> bool:
    """Ask until the answer is as waited for, at longest for the time given; return the last one."""
    end = time.monotonic() + seconds
    while True:
        try:
            found = httpx.get(f"http://127.0.0.1:{port}/healthz", trust_env=False).status_code == 200
        except httpx.TransportError:
            found = False
        if found == until or time.monotonic() > end:
            return found
        time.sleep(0.1)


def test_demo_answers_three_fields_and_stops() -> None:
    port = free_port()
    done = typed("demo", "--port", str(port))
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    for number in ("1/3", "2/3", "3/3"):
        assert f"\n{number} " in done.stdout
    assert done.stdout.count("<- this one binds") == 3
    assert "Losses found on the ground" in done.stdout
    assert f"Interactive docs: http://127.0.0.1:{port}/docs" in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 100
    with pytest.raises(httpx.ConnectError):
        httpx.get(f"http://127.0.0.1:{port}/healthz", trust_env=False)


def test_demo_speaks_german_and_united_states_units() -> None:
    done = typed("demo", "--port", str(free_port()), "--lang", "de", "--units", "us")
    assert done.returncode == 0, done.stderr
    assert "Fuß/min" in done.stdout
    assert "Sicherheit" in done.stdout
    assert " km/h" not in done.stdout
    assert "Safety" not in done.stdout


def test_demo_stays_until_it_is_told_to_stop() -> None:
    port = free_port()
    command = [sys.executable, "-m", "service.cli", "demo", "--stay", "--port", str(port)]
    # started in the background, the tests ignore interrupts and hand that on to what they start
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, encoding="utf-8") as process:
        try:
            assert process.stdout is not None
            for line in process.stdout:
                if line.startswith("Interactive docs:"):
                    break
            assert httpx.get(f"http://127.0.0.1:{port}/docs", trust_env=False).status_code == 200
            process.send_signal(signal.SIGINT)
            assert process.wait(timeout=60) == 0
        finally:
            process.kill()
            signal.signal(signal.SIGINT, before)
    time.sleep(0.2)
    with pytest.raises(httpx.ConnectError):
        httpx.get(f"http://127.0.0.1:{port}/healthz", trust_env=False)


def test_demo_takes_the_next_free_port(live_url: str) -> None:
    taken = int(live_url.rsplit(":", 1)[1])
    assert next_free_port(taken) > taken


def test_demo_cases_are_marked_and_cover_what_they_shall() -> None:
    text = (ROOT / "service" / "cli" / "demo_cases.toml").read_text(encoding="utf-8")
    assert "invented" in text.splitlines()[0]
    asked = [
        (c["question"]["crop"], c["question"]["machine_class"], c["question"]["grain_moisture_pct"])
        for c in load_cases()
    ]
    assert asked == [("winter wheat", "hybrid", 14.0), ("canola", "axial", 9.0), ("soybean", "walker", 12.0)]


def test_sum_is_told_with_signs_and_without_zeros() -> None:
    def part(value: float, name: str) -> dict[str, object]:
        return {"amount": {"value": value, "unit": "mm"}, "name": name, "known": "read"}

    told = adds_up(
        Sheet(console(), "en", "metric"),
        {
            "contributions": [part(12.0, "table start"), part(-0.5, "straw"), part(0.0, "use"), part(1.25, "yield")],
            "sum": {"value": 12.75, "unit": "mm"},
            "bound": "high",
        },
    )
    assert told == (
        "12 table start (read in its source) \N{MINUS SIGN} 0.5 straw + 1.25 yield = 12.75, "
        "held at the high end of the range"
    )


def test_every_demo_answer_adds_up(live_url: str) -> None:
    for case in load_cases():
        answer = httpx.post(f"{live_url}/v1/starting-settings", json=case["question"], trust_env=False)
        for setting in json.loads(answer.content, parse_float=Decimal)["settings"]:
            parts = sum(Decimal(part["amount"]["value"]) for part in setting["contributions"])
            assert parts == setting["sum"]["value"], setting["id"]
