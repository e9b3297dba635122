"""If-Match: a change is made only to what the caller looked at (RFC 9110, 13.1.1)."""

import re
from typing import Any, Final

from fastapi import Request

from service.api.refusal import RefusalError
from service.errors import Stale

_DRAFT: Final = re.compile(r'"(\d{1,9})\.(\d{1,9})\.[^"]*"')


def version_held(request: Request, number: int) -> int:
    """Return the version of a draft that the caller holds.

    Raises
    ------
    RefusalError
        If there is no If-Match.
    Stale
        If it holds no tag of this draft; a star would be no look at all.
    """
    given = request.headers.getlist("if-match")
    if not given:
        raise RefusalError("precondition_required")
    for tag in ",".join(given).split(","):
        found = _DRAFT.fullmatch(tag.strip().replace('-gzip"', '"'))
        if found is not None and int(found[1]) == number:
            return int(found[2])
    raise Stale


def if_match() -> dict[str, Any]:
    """Declare the header."""
    description = "ETag of the draft as you looked at it; if it was changed since, nothing is done (412)."
    schema = {"type": "string", "examples": ['"1.1.en.metric"']}
    header = {"name": "If-Match", "in": "header", "required": True, "description": description, "schema": schema}
    return {"parameters": [header]}
