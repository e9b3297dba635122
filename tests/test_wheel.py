"""The wheel that users install: built, put into a clean environment, started, asked once."""

import shutil
import subprocess
import sys
from pathlib import Path

import httpx
import pytest

from tests.conftest import ROOT, running_service

TABLE_FILES = {".toml", ".csv", ".md", ".po", ".html", ".css", ".svg"}


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Built from a copy, so that nothing stale comes in and no build folder stays behind."""
    source = tmp_path_factory.mktemp("source")
    shutil.copytree(ROOT / "service", source / "service", ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, source)
    out = tmp_path_factory.mktemp("dist")
    subprocess.run([sys.executable, "-m", "build", "--wheel", "--outdir", str(out), str(source)], check=True)
    (built,) = out.glob("threshbook-*.whl")
    return built


@pytest.fixture(scope="module")
def clean_python(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A new environment that holds the wheel and what it asks for, nothing of the development tools."""
    folder = tmp_path_factory.mktemp("clean")
    subprocess.run([sys.executable, "-m", "venv", str(folder)], check=True)
    python = folder / "bin" / "python"
    subprocess.run([str(python), "-m", "pip", "install", "--quiet", str(wheel)], check=True)
    return python


def test_wheel_holds_every_file_of_the_package(wheel: Path) -> None:
    listing = subprocess.run(
        [sys.executable, "-m", "zipfile", "-l", str(wheel)], check=True, capture_output=True, text=True
    )
    inside = {line.split()[0] for line in listing.stdout.splitlines()[1:]}
    files = {
        path.relative_to(ROOT).as_posix()
        for path in (ROOT / "service").rglob("*")
        if path.suffix in {".py", *TABLE_FILES} or path.name == "py.typed"
    }
    assert files - inside == set()
    assert not [name for name in inside if name.startswith(("tests", "demo_clients", "build"))]


def test_clean_installation_checks_its_table(clean_python: Path, tmp_path: Path) -> None:
    subprocess.run([str(clean_python), "-m", "service.cli", "knowledge", "check"], check=True, cwd=tmp_path)


def test_clean_installation_makes_a_store(clean_python: Path, tmp_path: Path) -> None:
    address = f"sqlite:///{tmp_path / 'store.sqlite3'}"
    for words in (("org", "create", "hill-coop"), ("store", "upgrade"), ("store", "check")):
        command = [str(clean_python), "-m", "service.cli", *words, "--database-url", address]
        subprocess.run(command, check=True, cwd=tmp_path)


def test_clean_installation_answers(clean_python: Path) -> None:
    question = {"crop": "wheat", "machine_class": "hybrid", "grain_moisture_pct": 14, "yield_t_ha": 8}
    with running_service(python=str(clean_python)) as url:
        answer = httpx.post(f"{url}/v1/starting-settings", json=question, trust_env=False)
    assert answer.status_code == 200, answer.text
    assert {setting["id"] for setting in answer.json()["settings"]} >= {"threshing_speed", "ground_speed"}
