"""A request body to JSON values, strictly.

Inside: text encoding, duplicate names, depth. Outside: which fields there are (`requests`), the media
type (`strict_route`), the size (`middleware`).

RFC 8259 leaves duplicate names to the reader; here they are refused, because the last one winning
hides a slip. NaN and Infinity are let through as numbers, so that the field check can name the field.
"""

import json
from collections import Counter
from collections.abc import Iterator
from typing import Any

from service.api.refusal import RefusalError


class _Repeating(dict[str, Any]):
    """An object of the body in which a name stands more than once."""

    name: str = ""


def parse(body: bytes) -> Any:
    """Return the values of a JSON body.

    Raises
    ------
    RefusalError
        If it is not UTF-8, not JSON, too deep, or names a field twice.
    """
    try:
        text = body.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise RefusalError("invalid_encoding") from None
    repeating: list[_Repeating] = []

    def collect(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        found = dict(pairs)
        if len(found) != len(pairs):
            twice = _Repeating(found)
            twice.name = next(name for name, count in Counter(name for name, _ in pairs).items() if count > 1)
            repeating.append(twice)
            return twice
        return found

    try:
        values = json.loads(text, object_pairs_hook=collect)
    except RecursionError:
        raise RefusalError("too_deep") from None
    except json.JSONDecodeError as error:
        raise RefusalError("malformed_json", {"line": str(error.lineno), "column": str(error.colno)}) from None
    except ValueError:  # an integer of thousands of digits
        raise RefusalError("malformed_json", {"line": "1", "column": "1"}) from None
    if repeating:
        first = repeating[0]
        path = next((path for path, value in _walk(values, ()) if value is first), ())
        raise RefusalError("duplicate_key", location=("body", *path, first.name))
    return values


def _walk(value: Any, path: tuple[str | int, ...]) -> Iterator[tuple[tuple[str | int, ...], Any]]:
    # a stack, not recursion: the body may be nested as deep as the parser allows
    stack = [(path, value)]
    while stack:
        here, inner = stack.pop()
        yield here, inner
        if isinstance(inner, dict):
            stack += [((*here, name), one) for name, one in inner.items()]
        elif isinstance(inner, list):
            stack += [((*here, place), one) for place, one in enumerate(inner)]
