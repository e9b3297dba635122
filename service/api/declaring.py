"""What the routes declare in OpenAPI beside their answer: headers, 304 and problems.

Inside: declarations shared by all routes under /v1. Outside: the schema of a problem (`openapi`).
"""

from typing import Any, Final

from service.api.problems import declared

_TEXT: Final = {"schema": {"type": "string"}}
_ALWAYS: Final = {
    "Content-Language": {"description": "Language of the texts", **_TEXT},
    "Threshbook-Revision": {"description": "Revision of the knowledge table", **_TEXT},
    "Threshbook-Digest": {"description": "Digest of the knowledge table", **_TEXT},
    "Cache-Control": {"description": "How long the answer may be kept", **_TEXT},
}
_CACHED: Final = {**_ALWAYS, "ETag": {"description": "Strong tag of exactly these bytes", **_TEXT}}


def cacheable() -> dict[int | str, dict[str, Any]]:
    """Declare a GET route whose answer has an ETag."""
    return {
        200: {"headers": _CACHED},
        304: {"description": "You hold this answer already", "headers": _CACHED},
        **declared(404, 406, 413, 422, 500),
    }


def computed() -> dict[int | str, dict[str, Any]]:
    """Declare a POST route that computes from its body."""
    return {200: {"headers": _ALWAYS}, **declared(400, 404, 406, 413, 415, 422, 500)}
