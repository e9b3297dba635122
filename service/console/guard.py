"""What protects the pages: headers, the cookies, where a form comes from, and reading it.

Inside: what a browser tells and is told. Outside: sessions (`usecases.console_access`), when each check is made
(`asking`).
"""

from collections.abc import Mapping
from email.message import Message as MediaType
from typing import Final
from urllib.parse import parse_qsl, urlsplit

from starlette.requests import Request
from starlette.responses import Response

from service.usecases.console_access import LASTS

SESSION: Final = "threshbook-console"
VIEW: Final = "threshbook-view"
FORM: Final = "application/x-www-form-urlencoded"
MOST_FIELDS: Final = 400
# with no-referrer a browser would hide where a form comes from (Fetch standard, 3.2: Origin is null)
HEADERS: Final[dict[str, str]] = {
    "Content-Security-Policy": (
        "default-src 'none'; style-src 'self'; img-src 'self'; form-action 'self'; base-uri 'none'; "
        "frame-ancestors 'none'"
    ),
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "X-Robots-Tag": "noindex, nofollow",
    "Cache-Control": "no-store",
    "Vary": "Cookie, Accept-Language, Accept-Encoding",
}


class ForeignFormError(Exception):
    """A form that does not come from a page of this console, or from one of an earlier session."""


def check_origin(request: Request) -> None:
    """Refuse a form that was sent by a page of another site.

    Scheme and port of the service itself may be hidden by a proxy, so the host alone is compared; browsers that tell
    how the page and the address relate are believed too (Fetch Metadata).

    Raises
    ------
    ForeignFormError
        If it was, or if the browser does not say where it comes from.
    """
    site = request.headers.get("sec-fetch-site", "same-origin")
    if site not in ("same-origin", "none"):
        raise ForeignFormError
    origin = request.headers.get("origin", "")
    if urlsplit(origin).netloc != request.headers.get("host") or not origin:
        raise ForeignFormError


def read_form(request: Request, body: bytes) -> Mapping[str, str]:
    """Return the fields of a form; of a field that stands twice the last one counts.

    Raises
    ------
    ForeignFormError
        If it is no form as our pages send it.
    """
    header = MediaType()
    header["content-type"] = request.headers.get("content-type", "")
    if header.get_content_type() != FORM:
        raise ForeignFormError
    try:
        pairs = parse_qsl(body.decode("ascii"), keep_blank_values=True, errors="strict", max_num_fields=MOST_FIELDS)
    except ValueError:
        raise ForeignFormError from None
    # browsers end lines of a text area with CR LF; other control characters come from no keyboard
    return {name: _clean(value) for name, value in pairs}


def _clean(value: str) -> str:
    kept = (c for c in value.replace("\r\n", "\n") if c.isprintable() or c == "\n")
    return "".join(kept).strip()


def keep_session(response: Response, request: Request, token: str) -> None:
    """Hand out the cookie of a session; no script can read it, no other site sends it along."""
    _keep(response, request, SESSION, token, int(LASTS.total_seconds()))


def drop_session(response: Response, request: Request) -> None:
    """Take the cookie of a session back."""
    _keep(response, request, SESSION, "", 0)


def keep_view(response: Response, request: Request, view: str) -> None:
    """Remember language and units for a year."""
    _keep(response, request, VIEW, view, 31536000)


def _keep(response: Response, request: Request, name: str, value: str, seconds: int) -> None:
    response.set_cookie(
        name,
        value,
        max_age=seconds,
        path=request.scope["root_path"] or "/",
        secure=request.url.scheme == "https",
        httponly=True,
        samesite="strict",
    )
