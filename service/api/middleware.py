"""What happens around every request: headers, size of the body, HEAD, and the last resort.

Inside: plain ASGI classes. Outside: checks that need the route (`strict_route`), cross-origin headers
and compression, which are Starlette's own (`app`).
"""

import logging
from collections.abc import Mapping
from typing import Final

from starlette.datastructures import Headers, MutableHeaders
from starlette.middleware.body_limit import RequestBodyLimitMiddleware
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.api.problems import respond

LOG = logging.getLogger("threshbook")

SECURITY: Final[dict[str, str]] = {
    "X-Content-Type-Options": "nosniff",
    "Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "cross-origin",
}


class AnswerHeaders:
    """Set headers that every answer has, unless the answer brought its own."""

    def __init__(self, app: ASGIApp, headers: Mapping[str, str]) -> None:
        self.app = app
        self.headers = {**SECURITY, **headers}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on and add to the head of the answer."""

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in self.headers.items():
                    headers.setdefault(name, value)
                if "vary" in headers:
                    headers["vary"] = _once(headers["vary"])
                tag = headers.get("etag", "")
                # a strong tag names bytes, and compressed bytes are others (RFC 9110, 8.8.3.3)
                if headers.get("content-encoding") == "gzip" and tag.endswith('"'):
                    headers["etag"] = tag[:-1] + '-gzip"'
            await send(message)

        await self.app(scope, receive, with_headers if scope["type"] == "http" else send)


def _once(names: str) -> str:
    return ", ".join(dict.fromkeys(name.strip() for name in names.split(",")))


class HeadAsGet:
    """Answer HEAD as GET without the body: every GET address has it (RFC 9110, 9.3.2)."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass HEAD on as GET and drop the body of the answer."""
        if scope["type"] != "http" or scope["method"] != "HEAD":
            await self.app(scope, receive, send)
            return

        async def without_body(message: Message) -> None:
            if message["type"] == "http.response.body":
                if message.get("more_body"):
                    return
                message = {"type": "http.response.body", "body": b""}
            await send(message)

        await self.app({**scope, "method": "GET"}, receive, without_body)


class BodyLimit:
    """Refuse a body that is larger than the limit, declared or counted while it arrives.

    Starlette's own middleware counts; its refusal of a declared length is plain text, so that length
    is checked here first.
    """

    def __init__(self, app: ASGIApp, most_bytes: int) -> None:
        self.app = RequestBodyLimitMiddleware(app, max_body_size=most_bytes)
        self.most_bytes = most_bytes

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Check the declared length, then let the rest be counted."""
        if scope["type"] == "http":
            declared = Headers(scope=scope).get("content-length", "0")
            if declared.isdecimal() and int(declared[:20]) > self.most_bytes:
                # the unread body makes the connection unusable
                answer = respond(scope, "body_too_large", headers={"Connection": "close"})
                await answer(scope, receive, send)
                return
        await self.app(scope, receive, send)


class LastResort:
    """Answer a mistake of the program with a problem that tells nothing of it; the log tells all."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on; answer if nothing was answered."""
        started = False

        async def watched(message: Message) -> None:
            nonlocal started
            started = started or message["type"] == "http.response.start"
            await send(message)

        try:
            await self.app(scope, receive, watched)
        except Exception:
            if scope["type"] != "http" or started:
                raise
            LOG.exception("mistake while answering %s %s", scope["method"], scope["path"])
            answer = respond(scope, "internal_error")
            await answer(scope, receive, watched)
