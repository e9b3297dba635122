"""The shape of the house: sizes, names and directions of import."""

import ast
import io
import shutil
import subprocess
import sys
import tokenize
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
MODULES = sorted((ROOT / "service").rglob("*.py"))
MODULE_LINES = 450
BODY_LINES = 40
VAGUE = {"utils", "util", "helpers", "helper", "common", "manager", "base", "misc"}
NOT_CODE = {
    tokenize.COMMENT,
    tokenize.NL,
    tokenize.NEWLINE,
    tokenize.INDENT,
    tokenize.DEDENT,
    tokenize.ENDMARKER,
    tokenize.ENCODING,
}


def code_lines(source: str) -> set[int]:
    """Lines that hold code: neither blank nor comment only."""
    lines: set[int] = set()
    for token in tokenize.generate_tokens(io.StringIO(source).readline):
        if token.type not in NOT_CODE:
            lines.update(range(token.start[0], token.end[0] + 1))
    return lines


def bodies(source: str) -> Iterator[tuple[str, int]]:
    """Each function with the number of code lines in its body, docstring left out."""
    code = code_lines(source)
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            statements = node.body[1:] if ast.get_docstring(node) is not None else node.body
            lines = {line for s in statements for line in range(s.lineno, (s.end_lineno or s.lineno) + 1)}
            yield node.name, len(lines & code)


def test_the_counter_leaves_out_docstring_comments_and_blank_lines() -> None:
    source = 'def f() -> int:\n    """Doc.\n\n    More.\n    """\n    # why\n\n    a = (\n        1\n    )\n    ...\n'
    assert list(bodies(source)) == [("f", 4)]


def test_there_are_modules_to_look_at() -> None:
    assert ROOT / "service" / "units.py" in MODULES


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_module_is_small_named_and_documented(path: Path) -> None:
    source = path.read_text(encoding="utf-8")
    assert len(source.splitlines()) <= MODULE_LINES
    assert path.stem not in VAGUE
    assert path.parent.name not in VAGUE
    assert ast.get_docstring(ast.parse(source)), "no module docstring"
    long = {name: lines for name, lines in bodies(source) if lines > BODY_LINES}
    assert not long, f"bodies over {BODY_LINES} code lines: {long}"


def test_imports_point_inwards() -> None:
    found = shutil.which("lint-imports", path=str(Path(sys.executable).parent))
    assert found is not None
    result = subprocess.run([found, "--no-cache"], cwd=ROOT, capture_output=True, text=True, check=False)
    assert result.returncode == 0, result.stdout
    assert "0 broken" in result.stdout


def test_top_level_is_the_agreed_one() -> None:
    seen = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    built = {name for name in seen if name.endswith(".egg-info")} | {"build", "dist", "cards"}
    agreed = {
        "service",
        "tests",
        "openapi",
        "docker",
        "demo_clients",
        "pyproject.toml",
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
    }
    assert seen - built == agreed
