"""If-Match: a change is made only to what the caller looked at (RFC 9110, 13.1.1)."""

import re
from collections.abc import Iterable, Iterator
from typing import Any, Final

from fastapi import Request

from service.api.refusal import RefusalError
from service.errors import Stale

_DRAFT: Final = re.compile(r'"(\d{1,9})\.(\d{1,9})\.[^"]*"')
_TABLE: Final = re.compile(r'"(\d{1,9})\.[0-9a-f]{32}"')
DRAFT: Final = (
    "ETag of the draft as you looked at it; if it was changed since, nothing is done (412).",
    '"1.1.en.metric"',
)
TABLE: Final = (
    "ETag of the table that holds, as you looked at it; if another has been published since, nothing is done (412).",
    '"2.0f343b0931126a20f133d67c2b018a3b"',
)


def version_held(request: Request, number: int) -> int:
    """Return the version of a draft that the caller holds.

    Raises
    ------
    RefusalError
        If there is no If-Match.
    Stale
        If it holds no tag of this draft; a star would be no look at all.
    """
    return _newest(int(match[2]) for match in _given(request, _DRAFT) if int(match[1]) == number)


def revision_held(request: Request) -> int:
    """Return the number of the revision that the caller took for the one that holds.

    Raises
    ------
    RefusalError
        If there is no If-Match.
    Stale
        If it holds no tag of a table; a star would be no look at all.
    """
    return _newest(int(match[1]) for match in _given(request, _TABLE))


def _given(request: Request, kind: re.Pattern[str]) -> Iterator[re.Match[str]]:
    given = request.headers.getlist("if-match")
    if not given:
        raise RefusalError("precondition_required")
    for tag in ",".join(given).split(","):
        found = kind.fullmatch(tag.strip().replace('-gzip"', '"'))
        if found is not None:
            yield found


def _newest(held: Iterable[int]) -> int:
    """Any of the tags may be the one, and none is newer than what is there."""
    newest = max(held, default=None)
    if newest is None:
        raise Stale
    return newest


def if_match(described: tuple[str, str]) -> dict[str, Any]:
    """Declare the header, described by a sentence and an example."""
    description, example = described
    schema = {"type": "string", "examples": [example]}
    header = {"name": "If-Match", "in": "header", "required": True, "description": description, "schema": schema}
    return {"parameters": [header]}
