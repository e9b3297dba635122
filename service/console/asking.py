"""One request of a page, from its first byte to its answer.

Inside: the order of the checks that every page makes, so that a new page cannot forget one: where a form comes from,
who is logged in, whether the form is of that session. Outside: the checks themselves (`guard`), pages (`pages_*`).
"""

import logging
import re
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Final
from urllib.parse import urlencode

from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from service.console import guard
from service.console.guard import ForeignFormError
from service.console.words import Words
from service.errors import (
    Closed,
    InvalidInput,
    NotCovered,
    NotFound,
    ScopeMissing,
    ServiceError,
    Stale,
    StoreMissing,
    StoreUnavailable,
    Unauthenticated,
    UnknownName,
)
from service.knowledge.table import KnowledgeTable
from service.store import Store
from service.text import LANGUAGES, negotiate
from service.usecases.access import Caller
from service.usecases.console_access import form_token, is_form_of, who

LOG = logging.getLogger("threshbook")
# a page of this console that a reader wanted to see before logging in
_LOCAL: Final = re.compile(r"[a-z0-9/_.-]{0,200}")
TEMPLATES: Final = Environment(
    loader=PackageLoader("service.console"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
    auto_reload=False,
)


@dataclass(frozen=True, slots=True)
class Desk:
    """What all pages share; `style` is the digest of the style sheet, which names its version."""

    table: KnowledgeTable
    store: Store
    style: str


@dataclass(frozen=True, slots=True)
class SignedIn:
    """Who is logged in, and the token of the session."""

    caller: Caller
    token: str


@dataclass(frozen=True, slots=True)
class Asked:
    """A request that passed the checks of its page."""

    request: Request
    desk: Desk
    words: Words
    form: Mapping[str, str]
    signed_in: SignedIn | None
    now: datetime

    @property
    def caller(self) -> Caller:
        """Who asks."""
        if self.signed_in is None:
            raise Unauthenticated
        return self.signed_in.caller

    def show(self, template: str, status: int = 200, **values: object) -> Response:
        """Answer with a page."""
        signed_in = self.signed_in
        return HTMLResponse(
            TEMPLATES.get_template(f"{template}.html").render(
                base=self.request.scope["root_path"],
                here=local_path(self.request),
                words=self.words,
                say=self.words.say,
                style=self.desk.style,
                caller=None if signed_in is None else signed_in.caller,
                form_token="" if signed_in is None else form_token(signed_in.token),
                **values,
            ),
            status,
            {"Content-Language": self.words.lang},
        )

    def go(self, path: str, **query: str) -> Response:
        """Send the browser to another page of the console, which it then asks for by GET."""
        written = f"?{urlencode(query)}" if query else ""
        return RedirectResponse(f"{self.request.scope['root_path']}/{path}{written}", 303)

    def wanted(self, path: str) -> str:
        """Return a page of this console that a form names, the first page for anything else."""
        return path if _LOCAL.fullmatch(path) and not path.startswith("/") and ".." not in path else ""


Page = Callable[[Asked], Response]


def local_path(request: Request) -> str:
    """Return the path of a request within the console, without the slash it begins with."""
    path: str = request.scope["path"]
    return path.removeprefix(request.scope["root_path"]).lstrip("/")


def answers(desk: Desk, page: Page, *, unknown: bool = False) -> Callable[[Request], Awaitable[Response]]:
    """Make an endpoint of a page; `unknown` is one that needs no log-in."""

    async def endpoint(request: Request) -> Response:
        body = await request.body() if request.method == "POST" else b""
        response = await run_in_threadpool(_answer, desk, page, request, body, unknown=unknown)
        for name, value in guard.HEADERS.items():
            response.headers.setdefault(name, value)
        return response

    return endpoint


def _answer(desk: Desk, page: Page, request: Request, body: bytes, *, unknown: bool) -> Response:
    words, now = _words(desk, request), datetime.now(UTC)
    asked = Asked(request, desk, words, {}, None, now)
    try:
        if request.method == "POST":
            guard.check_origin(request)
            asked = Asked(request, desk, words, guard.read_form(request, body), None, now)
        signed_in = _signed_in(desk, request, now)
        if signed_in is None and not unknown:
            return _to_log_in(asked)
        asked = Asked(request, desk, words, asked.form, signed_in, now)
        if request.method == "POST" and signed_in is not None and not unknown:
            _check_form(signed_in, asked.form)
        return page(asked)
    except (ServiceError, ForeignFormError) as error:
        return refusal(asked, error)
    except Exception as error:
        LOG.exception("mistake while answering %s %s", request.method, request.url.path)
        return refusal(asked, error)


def _words(desk: Desk, request: Request) -> Words:
    """Language and units: as chosen, else the language of the browser, and metric."""
    lang, _, units = request.cookies.get(guard.VIEW, "").partition(".")
    chosen = lang if lang in LANGUAGES else None
    spoken = negotiate(chosen, request.headers.get("accept-language"))
    return Words(desk.table, spoken, "us" if units == "us" else "metric")


def _signed_in(desk: Desk, request: Request, now: datetime) -> SignedIn | None:
    token = request.cookies.get(guard.SESSION)
    if token is None:
        return None
    with desk.store.reading() as session:
        try:
            return SignedIn(who(session, token, now), token)
        except (Unauthenticated, ScopeMissing):
            return None


def _to_log_in(asked: Asked) -> Response:
    to = asked.wanted(local_path(asked.request)) if asked.request.method == "GET" else ""
    again = {"ended": "1"} if guard.SESSION in asked.request.cookies else {}
    return asked.go("login", **({"to": to} if to else {}), **again)


def _check_form(signed_in: SignedIn, form: Mapping[str, str]) -> None:
    if not is_form_of(signed_in.token, form.get("form_token", "")):
        raise ForeignFormError


def refusal(asked: Asked, error: Exception) -> Response:
    """Answer with a page that says what is wrong, and how to go on."""
    match error:
        case ForeignFormError():
            kind, status = "form", 403
        case Unauthenticated():
            return _to_log_in(asked)
        case ScopeMissing():
            kind, status = "scope", 403
        case NotFound() | UnknownName():
            kind, status = "missing", 404
        case StoreMissing():
            kind, status = "no_store", 503
        case StoreUnavailable():
            LOG.warning("the store: %s", error.facts["why"])
            kind, status = "store", 503
        case InvalidInput() if error.facts.get("reason") == "reason.too_few_added":
            kind, status = "few", 422
        case InvalidInput() | NotCovered():
            kind, status = "input", 422
        case Closed() | Stale():
            kind, status = "closed", 409
        case _:
            LOG.error("refused by the service itself: %s", error)
            kind, status = "fault", 500
    return asked.show(
        "refusal",
        status,
        title=asked.words.say(f"console.refusal.{kind}_title"),
        detail=asked.words.say(f"console.refusal.{kind}"),
    )
