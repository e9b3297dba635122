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
from service.errors import InvalidInput, NotCovered, ServiceError, StoreUnavailable, UnknownName
from service.text import Language, negotiate, render

LOG = logging.getLogger("threshbook")
MEDIA_TYPE: Final = "application/problem+json"

STATUS: Final[dict[str, int]] = {
    # the HTTP layer's own
    "malformed_json": 400,
    "invalid_encoding": 400,
    "duplicate_key": 400,
    "too_deep": 400,
    "idempotency_key_missing": 400,
    "idempotency_key_malformed": 400,
    "unauthenticated": 401,
    "scope_missing": 403,
    "not_found": 404,
    "method_not_allowed": 405,
    "not_acceptable": 406,
    "parquet_missing": 406,
    "idempotency_key_in_use": 409,
    "refinement_closed": 409,
    "withdrawn": 410,
    "precondition_failed": 412,
    "body_too_large": 413,
    "unsupported_media_type": 415,
    "http_error": 400,  # an HTTP error that nothing above names; its own status is kept
    "precondition_required": 428,
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
    "idempotency_key_reused": 422,
    # ours
    "knowledge_fault": 500,
    "service_error": 500,
    "internal_error": 500,
    "not_ready": 503,
    "store_unavailable": 503,
    "store_missing": 503,
}
_HEADERS: Final[dict[str, dict[str, str]]] = {
    "unauthenticated": {"WWW-Authenticate": 'Bearer realm="threshbook"'},
    "idempotency_key_in_use": {"Retry-After": "1"},
    "store_unavailable": {"Retry-After": "5"},
}
# parameters that choose the table an answer rests on
_TABLES: Final = ("revision", "table")
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


def compose(
    scope: Scope,
    code: str,
    *,
    facts: Mapping[str, object] | None = None,
    items: Sequence[ProblemItem] = (),
    status: int | None = None,
) -> Problem:
    """Return a problem in the reader's language."""
    lang = language(scope)
    return Problem(
        type=type_of(code),
        title=render(Message(f"problem.{code}.title"), lang, "metric"),
        status=status or STATUS[code],
        detail=_detail(code, facts, items, lang),
        instance=quote(scope.get("raw_path") or scope["path"], safe=_PATH),
        code=code,
        errors=list(items),
    )


def respond(
    scope: Scope,
    code: str,
    *,
    facts: Mapping[str, object] | None = None,
    items: Sequence[ProblemItem] = (),
    headers: Mapping[str, str] | None = None,
    status: int | None = None,
) -> Response:
    """Return the problem answer."""
    return _written(scope, compose(scope, code, facts=facts, items=items, status=status), headers)


def _written(scope: Scope, problem: Problem, headers: Mapping[str, str] | None = None) -> Response:
    fixed = {
        "Cache-Control": "no-store",
        "Content-Language": language(scope),
        "Vary": "Accept-Language, Accept-Encoding",
        **_HEADERS.get(problem.code, {}),
    }
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
    return _written(request.scope, of_service_error(request, error))


def of_service_error(request: Request, error: ServiceError, within: str = "") -> Problem:
    """Return the problem of a refusal by the layers below; `within` points to the part of the body it is about."""
    if isinstance(error, StoreUnavailable):
        LOG.warning("the store: %s", error.facts["why"])
        return compose(request.scope, error.code)
    if STATUS[error.code] >= 500:
        LOG.error("refused by the service itself: %s", error)
        return compose(request.scope, "internal_error")
    if not isinstance(error, InvalidInput | NotCovered):  # about who asks, or about an address: no field is wrong
        return compose(request.scope, error.code, facts=error.facts)
    items = from_service_error(_telling(request), error)
    for item in items:
        item.pointer = None if item.pointer is None else within + item.pointer
    # a name in the address that nothing is called by is an address that leads nowhere
    if isinstance(error, UnknownName) and (error.field in request.path_params or error.field in _TABLES):
        return compose(request.scope, "not_found", items=items)
    return compose(request.scope, error.code, items=items)


async def _validation(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    return _written(request.scope, of_field_checks(request, error.errors()))


def of_field_checks(request: Request, errors: Sequence[Mapping[str, Any]]) -> Problem:
    """Return the problem of fields that are wrong."""
    items = from_validation(_telling(request), request.scope["route"], errors)
    codes = {item.code for item in items}
    return compose(request.scope, codes.pop() if len(codes) == 1 else "invalid_input", items=items)


async def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    headers = dict(error.headers or {})
    code = _OF_STATUS.get(error.status_code, "http_error")
    if code == "method_not_allowed":
        headers["Allow"] = ", ".join(allowed_methods(request))
    return respond(request.scope, code, headers=headers, status=error.status_code)


def allowed_methods(request: Request) -> list[str]:
    """Every method of this address: several routes may share one."""
    found: set[str] = set()
    for method in ("GET", "POST", "DELETE"):
        scope = {**request.scope, "method": method}
        if any(route.matches(scope)[0] is Match.FULL for route in request.app.routes):
            found |= {"GET", "HEAD"} if method == "GET" else {method}
    return sorted(found)


def _telling(request: Request) -> Telling:
    return Telling(
        lang=language(request.scope),
        units="us" if request.query_params.get("units") == "us" else "metric",
        parameters=request.method in ("GET", "HEAD", "DELETE"),
        twins=getattr(request.state, "twins", {}),
        table=request.app.state.table,
    )


def declared(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """Declare problem answers in OpenAPI; `$ref` alone keeps FastAPI from adding its own error schema."""
    content = {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}}
    return {status: {"description": _DESCRIPTIONS[status], "content": content} for status in statuses}


_DESCRIPTIONS: Final = {
    400: "The body is not JSON, names a field twice, or the idempotency key is missing",
    401: "No key, or none that holds",
    403: "The key is not one for this",
    404: "Nothing is called so, or the revision or local table is not served",
    405: "The address does not take this method",
    406: "Nothing that you take is served",
    409: "A request with the same idempotency key is being answered, or nothing can be decided any more",
    410: "It was taken back",
    412: "It was changed since you looked at it",
    413: "The body is too large",
    415: "Only JSON is taken",
    422: "The request says something that cannot be, or that the table does not cover",
    428: "If-Match is missing",
    500: "A mistake of the service",
    503: "The service is not ready, or its store cannot be used",
}
