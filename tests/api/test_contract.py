"""What is promised to clients: requests with the part of the answer that stays, worked out by hand.

A case that turns red is a broken promise or a changed figure of the table; it is never recorded anew
from what the service says. `reasons` tells how each figure was worked out.
"""

import json
from pathlib import Path
from typing import Any

import pytest

KEYS = ("pointer", "parameter", "code", "id", "place", "outcome", "setting", "rule")
CASES = sorted((Path(__file__).parent / "contract").glob("*.json"))


def test_there_are_promises() -> None:
    assert len(CASES) >= 9


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_a_promise_is_kept(path: Path, ask: Any) -> None:
    case = json.loads(path.read_text(encoding="utf-8"))
    assert case["claim"]
    assert case["reasons"]
    request = case["request"]
    more = {"json": request["body"]} if "body" in request else {}
    answer = ask(request["method"], request["path"], params=request.get("query", {}), **more)
    assert answer.status_code == case["status"], answer.text[:500]
    for name, value in case.get("headers", {}).items():
        assert answer.headers[name] == value
    contains(answer.json(), case["answer"], "")


def contains(found: Any, promised: Any, where: str) -> None:
    """Objects may hold more than was promised; lists are searched by the first of KEYS that an entry has."""
    if isinstance(promised, dict):
        assert isinstance(found, dict), where
        for name, value in promised.items():
            assert name in found, f"{where}/{name} is gone"
            contains(found[name], value, f"{where}/{name}")
    elif isinstance(promised, list) and promised and isinstance(promised[0], dict):
        for one in promised:
            key = next(key for key in KEYS if key in one)
            match = next((other for other in found if other.get(key) == one[key]), None)
            assert match is not None, f"{where}: nothing with {key} {one[key]}"
            contains(match, one, f"{where}/{one[key]}")
    else:
        assert found == promised, where
