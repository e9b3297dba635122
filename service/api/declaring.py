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


def overlaid(responses: dict[int | str, dict[str, Any]]) -> dict[int | str, dict[str, Any]]:
    """Declare a route that may read a local table from the store."""
    return {**responses, **declared(503)}


_PRIVATE: Final = {"Content-Language": _ALWAYS["Content-Language"], "Cache-Control": _ALWAYS["Cache-Control"]}


def kept(success: int, *others: int, **headers: str) -> dict[int | str, dict[str, Any]]:
    """Declare a route that reads or writes the store, with the headers of its success and the problems it may give."""
    more = {name.replace("_", "-"): {"description": text, **_TEXT} for name, text in headers.items()}
    always = (401, 403, 404, 406, 413, 422, 500, 503)
    return {success: {"headers": {**_PRIVATE, **more}}, **declared(*sorted({*always, *others}))}


def once() -> dict[str, Any]:
    """Declare the header that keeps a request from being done twice."""
    description = (
        "UUID of this request, made once and kept over every retry. The same key with the same request gives the "
        "same answer for seven days; with another request it is refused."
    )
    schema = {"type": "string", "format": "uuid", "examples": ["019829d4-7c00-7a6b-9d1e-5b2f8c0a4e11"]}
    header = {"name": "Idempotency-Key", "in": "header", "required": True, "description": description, "schema": schema}
    return {"parameters": [header]}
