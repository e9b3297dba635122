"""Every gate in order, cheapest first, stopping at the first that is red.

python -m tests           all gates
python -m tests --fast    without those that install, start or fuzz
python -m tests checks    all check values with source, expected and got
"""

import argparse
import re
import shutil
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
BIN = Path(sys.executable).parent
CODE = ("service", "tests", "demo_clients")
CLIENT = "demo_clients/farm_management/client.py"
GROUPS = ("domain", "knowledge", "store", "usecases", "text", "api")
ALONE = ("architecture", "cli", "cli_org", "readme", "demo_clients", "docker", "wheel")
SPREAD = ("-n", "auto")  # over the cores of the machine
SUMMARY = re.compile(r"(\d+) passed")


@dataclass(frozen=True)
class Gate:
    """One command that must succeed."""

    name: str
    command: tuple[str, ...]
    slow: bool = False


def tool(name: str, *arguments: str) -> tuple[str, ...]:
    """A console script of the environment that runs the gates, whatever PATH says."""
    return (shutil.which(name, path=str(BIN)) or name, *arguments)


def pytest(*arguments: str) -> tuple[str, ...]:
    return (sys.executable, "-m", "pytest", *arguments)


def other_tests() -> list[str]:
    """Test files that no gate names; found, so that a new file cannot be forgotten."""
    named = {f"test_{name}.py" for name in ALONE}
    files = [path for path in (ROOT / "tests").glob("test_*.py") if path.name not in named]
    folders = [path.parent for path in (ROOT / "tests").glob("*/test_*.py") if path.parent.name not in GROUPS]
    return [str(path.relative_to(ROOT)) for path in sorted({*files, *folders})]


def gates() -> list[Gate]:
    """All gates, cheapest first."""
    return [
        Gate("format", tool("ruff", "format", "--check", *CODE)),
        Gate("lint", tool("ruff", "check", *CODE)),
        Gate("layers", tool("lint-imports", "--no-cache")),
        Gate("architecture", pytest("tests/test_architecture.py")),
        Gate("knowledge table", (sys.executable, "-m", "service.cli", "knowledge", "check")),
        Gate("types", tool("mypy")),
        Gate("types, demo client", tool("mypy", "--strict", CLIENT)),
        *(Gate(group, pytest(*SPREAD, f"tests/{group}"), slow=group == "api") for group in GROUPS),
        Gate("documents, check values, openapi", pytest(*SPREAD, *other_tests())),
        Gate("docker", pytest("tests/test_docker.py")),
        Gate("command line", pytest("tests/test_cli.py", "tests/test_cli_org.py"), slow=True),
        Gate("readme", pytest("tests/test_readme.py"), slow=True),
        Gate("demo clients", pytest("tests/test_demo_clients.py"), slow=True),
        Gate("wheel in a clean environment", pytest("tests/test_wheel.py"), slow=True),
    ]


def run(gate: Gate) -> tuple[bool, int]:
    """Run a gate, let its output through, and count the tests it says have passed."""
    passed = 0
    with subprocess.Popen(
        gate.command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, encoding="utf-8"
    ) as process:
        assert process.stdout is not None
        for line in process.stdout:
            print(f"    {line}", end="", flush=True)
            if found := SUMMARY.search(line):
                passed = int(found[1])
    return process.returncode == 0, passed


def run_all(*, fast: bool) -> int:
    """Run the gates; the last line says how it went."""
    chosen = [gate for gate in gates() if not (fast and gate.slow)]
    began, total = time.monotonic(), 0
    for number, gate in enumerate(chosen, 1):
        print(f"[{number}/{len(chosen)}] {gate.name}", flush=True)
        start = time.monotonic()
        green, passed = run(gate)
        total += passed
        seconds = time.monotonic() - start
        print(f"[{number}/{len(chosen)}] {gate.name}: {'green' if green else 'RED'} in {seconds:.1f} s", flush=True)
        if not green:
            print(f"1 failed, {total} passed: stopped at the gate '{gate.name}'")
            return 1
    print(f"{total} passed in {time.monotonic() - began:.1f}s, all {len(chosen)} gates green")
    return 0


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests", description=__doc__.splitlines()[0])
    parser.add_argument("what", nargs="?", choices=["all", "checks", "readme"], default="all")
    parser.add_argument("--fast", action="store_true", help="leave out the slow gates")
    arguments = parser.parse_args()
    if arguments.what == "checks":
        from tests.check_values import print_table  # noqa: PLC0415 (needs the project installed)

        return print_table()
    if arguments.what == "readme":
        from tests.test_readme import rewrite  # noqa: PLC0415 (needs the project installed)

        return rewrite()
    return run_all(fast=arguments.fast)


if __name__ == "__main__":
    sys.exit(main())
