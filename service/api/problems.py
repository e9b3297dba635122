"""Problems (RFC 9457): the one table from an error code to a status, and the answer that tells it.

Inside: status of each code, the body, its handlers and its declaration in OpenAPI. Outside: how each
kind of error becomes items (`problem_items`), what is wrong (`errors`, `refusal`).

No rejected value is repeated: a number that cannot be written as JSON must not break its own refusal.
"""

import logging
from collections.abc import Mapping, Sequence
from typing import Any, Final
from urllib.parse import quote

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import Response
from pydantic import BaseModel, ConfigDict, Field
from starlette.exceptions import HTTPException
from starlette.routing import Match
from starlette.types import Scope

from service.api.problem_items import ProblemItem, Telling, from_refusal, from_service_error, from_validation
from service.api.refusal import RefusalError
from service.domain.types import Message
from service.errors import ServiceError, UnknownName
from service.text import Language, negotiate, render

LOG = logging.getLogger("threshbook")
MEDIA_TYPE: Final = "application/problem+json"

STATUS: Final[dict[str, int]] = {
    # the HTTP layer's own
    "malformed_json": 400,
    "invalid_encoding": 400,
    "duplicate_key": 400,
    "too_deep": 400,
    "not_found": 404,
    "method_not_allowed": 405,
    "not_acceptable": 406,
    "body_too_large": 413,
    "unsupported_media_type": 415,
    "http_error": 400,  # an HTTP error that nothing above names; its own status is kept
    # fields
    "required": 422,
    "unknown_field": 422,
    "duplicate_parameter": 422,
    "wrong_type": 422,
    "not_finite": 422,
    "bad_text": 422,
    "wrong_length": 422,
    # refusals of the layers below, by their code
    "invalid_input": 422,
    "out_of_range": 422,
    "unknown_name": 422,
    "contradiction": 422,
    "outside_window": 422,
    "not_covered": 422,
    # ours
    "knowledge_fault": 500,
    "service_error": 500,
    "internal_error": 500,
    "not_ready": 503,
}
# what stands in a path unescaped (RFC 3986), and escapes as they came
_PATH: Final = "/%!$&'()*+,;=:@~"
_OF_STATUS: Final = {404: "not_found", 405: "method_not_allowed", 406: "not_acceptable", 413: "body_too_large"}


class Problem(BaseModel):
    """Why a request was refused (RFC 9457)."""

    model_config = ConfigDict(extra="forbid")

    type: str = Field(description="Address that explains this kind of problem, relative to the service.")
    title: str = Field(description="The kind of problem in a few words.")
    status: int = Field(description="HTTP status.")
    detail: str = Field(description="What is wrong with this request.")
    instance: str = Field(description="Path of the request.")
    code: str = Field(description="The kind of problem; stays the same in every language.")
    errors: list[ProblemItem] = Field([], description="One entry per field that is wrong, at most 50.")


def type_of(code: str) -> str:
    """Return the address of a problem page."""
    return "/problems/" + code.replace("_", "-")


def respond(
    scope: Scope,
    code: str,
    *,
    facts: Mapping[str, object] | None = None,
    items: Sequence[ProblemItem] = (),
    headers: Mapping[str, str] | None = None,
    status: int | None = None,
) -> Response:
    """Return the problem answer, in the reader's language."""
    lang = language(scope)
    problem = Problem(
        type=type_of(code),
        title=render(Message(f"problem.{code}.title"), lang, "metric"),
        status=status or STATUS[code],
        detail=_detail(code, facts, items, lang),
        instance=quote(scope.get("raw_path") or scope["path"], safe=_PATH),
        code=code,
        errors=list(items),
    )
    fixed = {"Cache-Control": "no-store", "Content-Language": lang, "Vary": "Accept-Language, Accept-Encoding"}
    return Response(
        problem.model_dump_json(exclude_none=True),
        problem.status,
        {**fixed, **(headers or {})},
        MEDIA_TYPE,
    )


def _detail(code: str, facts: Mapping[str, object] | None, items: Sequence[ProblemItem], lang: Language) -> str:
    """Say it in one sentence where one sentence says it all."""
    if not items:
        return render(Message(f"problem.{code}.detail", dict(facts or {})), lang, "metric")
    if len({item.detail for item in items}) > 1:
        return render(Message("problem.many", {"count": len(items)}), lang, "metric")
    fields = ", ".join(field for item in items if (field := (item.pointer or item.parameter or "").removeprefix("/")))
    return f"{fields}: {items[0].detail}" if fields else items[0].detail


def language(scope: Scope) -> Language:
    """Return the language of a problem; a wish that cannot be met does not hide the problem itself."""
    request = Request(scope)
    try:
        return negotiate(request.query_params.get("lang"), request.headers.get("accept-language"))
    except UnknownName:
        return negotiate(None, request.headers.get("accept-language"))


def install(app: FastAPI) -> None:
    """Give every error of the application this one shape."""
    app.add_exception_handler(RefusalError, _refusal)
    app.add_exception_handler(ServiceError, _service_error)
    app.add_exception_handler(RequestValidationError, _validation)
    app.add_exception_handler(HTTPException, _http)


async def _refusal(request: Request, error: Exception) -> Response:
    assert isinstance(error, RefusalError)
    items = from_refusal(_telling(request), error) if error.location else []
    return respond(request.scope, error.code, facts=error.facts, items=items, headers=error.headers)


async def _service_error(request: Request, error: Exception) -> Response:
    assert isinstance(error, ServiceError)
    if STATUS[error.code] >= 500:
        LOG.error("refused by the service itself: %s", error)
        return respond(request.scope, "internal_error")
    items = from_service_error(_telling(request), error)
    # a name in the address that nothing is called by is an address that leads nowhere
    if isinstance(error, UnknownName) and (error.field in request.path_params or error.field == "revision"):
        return respond(request.scope, "not_found", items=items)
    return respond(request.scope, error.code, items=items)


async def _validation(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    items = from_validation(_telling(request), request.scope["route"], error.errors())
    codes = {item.code for item in items}
    return respond(request.scope, codes.pop() if len(codes) == 1 else "invalid_input", items=items)


async def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    headers = dict(error.headers or {})
    code = _OF_STATUS.get(error.status_code, "http_error")
    if code == "method_not_allowed":
        headers["Allow"] = ", ".join(allowed_methods(request))
    return respond(request.scope, code, headers=headers, status=error.status_code)


def allowed_methods(request: Request) -> list[str]:
    """Every method of this address: two routes share one where GET and POST do the same."""
    found: set[str] = set()
    for method in ("GET", "POST"):
        scope = {**request.scope, "method": method}
        if any(route.matches(scope)[0] is Match.FULL for route in request.app.routes):
            found |= {"GET", "HEAD"} if method == "GET" else {method}
    return sorted(found)


def _telling(request: Request) -> Telling:
    return Telling(
        lang=language(request.scope),
        units="us" if request.query_params.get("units") == "us" else "metric",
        parameters=request.method in ("GET", "HEAD"),
        twins=getattr(request.state, "twins", {}),
        table=request.app.state.table,
    )


def declared(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """Declare problem answers in OpenAPI; `$ref` alone keeps FastAPI from adding its own error schema."""
    content = {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}}
    return {status: {"description": _DESCRIPTIONS[status], "content": content} for status in statuses}


_DESCRIPTIONS: Final = {
    400: "The body is not JSON, or names a field twice",
    404: "Nothing is called so, or the revision is not served",
    405: "The address does not take this method",
    406: "Only JSON is served",
    413: "The body is too large",
    415: "Only JSON is taken",
    422: "The request says something that cannot be, or that the table does not cover",
    500: "A mistake of the service",
    503: "The service is not ready",
}
