"""The demo client, run as its README says, against a live service."""

import csv
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from tests.conftest import ROOT, free_port

FOLDER = ROOT / "demo_clients" / "farm_management"
PLAN = FOLDER / "season_plan.csv"


def client(*arguments: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, str(FOLDER / "client.py"), *arguments]
    return subprocess.run(command, capture_output=True, text=True, encoding="utf-8", cwd=ROOT, check=False, timeout=60)


def plan_rows() -> list[dict[str, str]]:
    with PLAN.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file, strict=True))


@pytest.fixture(scope="module")
def ran(live_url: str, tmp_path_factory: pytest.TempPathFactory) -> tuple[subprocess.CompletedProcess[str], Path]:
    """The command of the client's README with this server's address and a folder of this test."""
    out = tmp_path_factory.mktemp("cards")
    (command,) = re.findall(r"```sh\n(.+?)\n```", (FOLDER / "README.md").read_text(encoding="utf-8"), re.DOTALL)
    words = shlex.split(command)
    assert words[:2] == ["python", "demo_clients/farm_management/client.py"]
    told = {words[i]: words[i + 1] for i in range(2, len(words), 2)}
    assert set(told) == {"--url", "--plan", "--out"}
    told |= {"--url": live_url, "--out": str(out)}
    return client(*(word for pair in told.items() for word in pair)), out


def test_every_field_is_told(ran: tuple[subprocess.CompletedProcess[str], Path]) -> None:
    done, out = ran
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    rows = plan_rows()
    cards = sorted(path.name for path in out.iterdir())
    assert len(cards) == len(rows) - 2
    assert f"{len(cards)} of {len(rows)} cards written" in done.stdout


def test_wet_field_gets_a_reason_and_no_card(ran: tuple[subprocess.CompletedProcess[str], Path]) -> None:
    done, out = ran
    (wet,) = [row for row in plan_rows() if row["grain_moisture_pct"] == "31"]
    reason = done.stdout[done.stdout.index(f"{wet['field']}: ") :]
    assert reason.startswith(f"{wet['field']}: grain_moisture_pct: Soybean is not combined above")
    assert not (out / "example_field_8_invented.txt").exists()


def test_misspelt_crop_gets_a_hint(ran: tuple[subprocess.CompletedProcess[str], Path]) -> None:
    assert re.search(r"crop: .*Did you mean barley", ran[0].stdout)


def test_card_is_in_the_units_and_language_of_the_row(ran: tuple[subprocess.CompletedProcess[str], Path]) -> None:
    american = (ran[1] / "example_field_6_invented.txt").read_text(encoding="utf-8")
    assert re.search(r"ft/min, \d+ rpm", american)
    assert " mph" in american
    assert "m/s" not in american
    german = (ran[1] / "example_field_5_invented.txt").read_text(encoding="utf-8")
    assert "Roggen" in german
    assert re.search(r"^Korbspalt, Einlauf +[\d.]+ mm", german, re.MULTILINE)
    assert "First" not in german


def test_card_names_table_and_manual(ran: tuple[subprocess.CompletedProcess[str], Path]) -> None:
    for path in ran[1].iterdir():
        text = path.read_text(encoding="utf-8")
        assert re.search(r"^(Knowledge table|Wissenstabelle) \d{4}\.\d\d\.\d+ sha256:[0-9a-f]{16}$", text, re.MULTILINE)
        assert "manual comes first" in text or "Betriebsanleitung der Maschine geht vor" in text


def test_plan_is_marked_as_invented() -> None:
    assert all("(invented)" in row["field"] for row in plan_rows())


def test_service_that_is_not_there_is_told_in_words(tmp_path: Path) -> None:
    done = client("--url", f"http://127.0.0.1:{free_port()}", "--out", str(tmp_path))
    assert done.returncode == 1
    assert "Traceback" not in done.stderr
    assert done.stderr.startswith("service at http://127.0.0.1:")


@pytest.mark.parametrize(
    ("content", "told"),
    [
        ('field,crop,yield_t_ha\nA,wheat,"8,2"\n', "plan.csv, line 2, yield_t_ha: '8,2' is not a number"),
        ("field,crop\n,wheat\n", "line 2: the field has no name"),
    ],
)
def test_plan_that_cannot_be_read_is_told_by_line(tmp_path: Path, content: str, told: str) -> None:
    plan = tmp_path / "plan.csv"
    plan.write_text(content, encoding="utf-8")
    done = client("--plan", str(plan), "--out", str(tmp_path))
    assert done.returncode == 1
    assert told in done.stderr
