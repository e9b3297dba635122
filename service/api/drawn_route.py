"""The route class of answers that can also be drawn: JSON or SVG, as the Accept header asks.

Inside: choosing between the two (RFC 9110, 12.5.1), the drawn answer. Outside: what is drawn (`plot`), the
checks that all routes share (`strict_route`).
"""

from collections.abc import Callable
from typing import Any, ClassVar, Final

from fastapi import Response
from pydantic import BaseModel

from service.api.reader import Reader, reply
from service.api.strict_route import JSON, StrictRoute, weight_of
from service.plot import Chart, svg

SVG: Final = "image/svg+xml"


class DrawnRoute(StrictRoute):
    """A route that speaks JSON and draws SVG."""

    offers: ClassVar[tuple[str, ...]] = (JSON, SVG)


def wants_svg(accept: str | None) -> bool:
    """Say whether an Accept header prefers the drawing; where it does not care, it gets JSON.

    >>> wants_svg("image/svg+xml"), wants_svg("*/*"), wants_svg("application/json;q=0.5, image/*")
    (True, False, True)
    """
    return weight_of(accept, SVG) > weight_of(accept, JSON)


def reply_as_asked(reader: Reader, answer: BaseModel, chart: Callable[[], Chart]) -> Response:
    """Write the answer or draw its chart, whichever the reader prefers."""
    if not wants_svg(reader.request.headers.get("accept")):
        written = reply(reader, answer)
        written.headers["Vary"] = f"Accept, {written.headers['Vary']}"
        return written
    headers = {
        "Content-Language": reader.lang,
        "Vary": "Accept, Accept-Language, Accept-Encoding",
        "Cache-Control": "no-store",
        # a style sheet of its own and nothing else, also when it is opened as a page
        "Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'",
    }
    return Response(svg(chart(), reader.lang), headers=headers, media_type=SVG)


def drawn(responses: dict[int | str, dict[str, Any]]) -> dict[int | str, dict[str, Any]]:
    """Declare in OpenAPI that a route's answer can also be drawn."""
    fine = responses.get(200, {})
    content = {**fine.get("content", {}), SVG: {"schema": {"type": "string"}}}
    return {**responses, 200: {**fine, "content": content}}
