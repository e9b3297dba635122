"""README.md says what is true: its commands are those that run, its code runs, its tables are complete.

`python -m tests readme` writes the outputs anew when the table or the code has changed them.
"""

import json
import os
import re
import shlex
import shutil
import subprocess
import sys
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import pytest

from service.config import settings_table
from tests.conftest import ROOT, running_service

README = ROOT / "README.md"
ADDRESS = "http://127.0.0.1:8000"
BLOCK = re.compile(r"^```(\w+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)


@dataclass(frozen=True)
class Block:
    """A fenced block and its place in the file."""

    language: str
    text: str
    start: int
    end: int


def blocks() -> list[Block]:
    text = README.read_text(encoding="utf-8")
    return [Block(found[1], found[2], found.start(2), found.end(2)) for found in BLOCK.finditer(text)]


def shown() -> list[tuple[Block, Block]]:
    """Each block of code with the output that stands below it."""
    found = blocks()
    return [(code, output) for code, output in pairwise(found) if output.language in ("text", "json")]


def commands() -> list[str]:
    return [line for block in blocks() if block.language == "sh" for line in block.text.splitlines()]


def output_of(code: Block, url: str) -> str:
    """Run a block against the service at `url`, in a process of its own."""
    text = code.text.replace(ADDRESS, url)
    command = [sys.executable, "-c", text] if code.language == "python" else ["bash", "-euo", "pipefail", "-c", text]
    environment = os.environ | {"PYTHONUTF8": "1", "NO_PROXY": "127.0.0.1"}
    done = subprocess.run(command, capture_output=True, text=True, encoding="utf-8", env=environment, check=False)
    assert done.returncode == 0, done.stderr
    if code.language == "sh":
        return json.dumps(json.loads(done.stdout), indent=2, ensure_ascii=False) + "\n"
    return done.stdout


def rewrite() -> int:
    """Put the real outputs below the code blocks."""
    text = README.read_text(encoding="utf-8")
    with running_service() as url:
        for code, output in reversed(shown()):
            text = text[: output.start] + output_of(code, url) + text[output.end :]
    README.write_text(text, encoding="utf-8")
    return 0


@pytest.mark.parametrize("index", range(3))
def test_code_gives_the_output_below_it(index: int, live_url: str) -> None:
    code, output = shown()[index]
    if code.language == "sh" and shutil.which("curl") is None:
        pytest.skip("no curl on this machine")
    assert output_of(code, live_url) == output.text


def test_no_block_is_left_untried() -> None:
    tried = {block for pair in shown() for block in pair}
    assert len(tried) == 6
    assert {block.language for block in blocks() if block not in tried} == {"sh"}


def test_first_two_commands_are_those_of_the_continuous_check() -> None:
    """`.ci/run` runs them word for word in a fresh copy; here they would only run once more."""
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    ran = [line.removesuffix(" < /dev/null") for line in script if line.startswith("python3 -m venv")]
    installing = [line for line in commands() if "venv" in line]
    assert installing == commands()[:2] == ran


def test_every_other_command_works(live_url: str) -> None:
    assert live_url
    others = [line for line in commands()[2:] if line.startswith("threshbook")]
    assert "threshbook serve" in others  # the live service of these tests was started by it
    for line in others:
        if line != "threshbook serve":
            words = [sys.executable, "-m", "service.cli", *shlex.split(line)[1:]]
            done = subprocess.run(words, capture_output=True, text=True, encoding="utf-8", check=False)
            assert done.returncode == 0, done.stderr
            assert done.stdout
    known = ("threshbook ", "curl ", "python3 -m venv ")
    assert [line for line in commands() if not line.startswith(known)] == []


def test_addresses_are_those_of_the_description() -> None:
    description = json.loads((ROOT / "openapi" / "openapi.json").read_text(encoding="utf-8"))
    offered = {
        (f"{method.upper()} {path}", operation["summary"])
        for path, operations in description["paths"].items()
        for method, operation in operations.items()
    }
    listed = re.findall(
        r"^\| `((?:GET|POST|DELETE) [^`]+)` \| (.+) \|$", README.read_text(encoding="utf-8"), re.MULTILINE
    )
    assert set(listed) == offered
    assert len(listed) == len(offered)


def test_settings_are_those_of_the_program() -> None:
    rows = re.findall(r"^\| `(THRESHBOOK_\w+)` \| (.*?) ?\| (.+) \|$", README.read_text(encoding="utf-8"), re.MULTILINE)
    assert [(name, default.strip("`"), text) for name, default, text in rows] == [
        (line.variable, line.default, line.help) for line in settings_table()
    ]


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_named_files_exist(name: str) -> None:
    text = (ROOT / name).read_text(encoding="utf-8")
    named = re.findall(r"`((?:service|tests|docker|demo_clients|openapi|\.ci)/[\w./-]*)`", text)
    assert [path for path in named if not (ROOT / path).exists()] == []


def test_credits_stand_there() -> None:
    text = README.read_text(encoding="utf-8")
    assert "Contains EPPO Codes (www.eppo.int)" in text
    assert "Apache License" in (ROOT / "LICENSE").read_text(encoding="utf-8")
    assert Path(ROOT / "LICENSE").stat().st_size > 10_000
