"""The route class of everything under /v1: checks a request before its fields are looked at.

Inside: Accept, Content-Type, Content-Encoding, repeated query parameters, strict JSON. Outside: the
parser (`json_body`), the fields (`requests`), the size of the body (`middleware`).
"""

from collections import Counter
from collections.abc import Callable, Coroutine
from email.message import Message as MediaType
from typing import Any, ClassVar, Final

from fastapi import Request, Response
from fastapi.routing import APIRoute

from service.api.json_body import parse
from service.api.refusal import RefusalError

JSON: Final = "application/json"


class ReadRequest(Request):
    """A request whose body was read already."""

    values: Any = None

    async def json(self) -> Any:
        """Return the values that were read."""
        return self.values


class StrictRoute(APIRoute):
    """A route that speaks JSON only, and says so."""

    offers: ClassVar[tuple[str, ...]] = (JSON,)

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """Wrap FastAPI's handler with the checks."""
        handle = super().get_route_handler()

        async def checked(request: Request) -> Response:
            accept = request.headers.get("accept")
            if not any(weight_of(accept, one) > 0 for one in self.offers):
                raise RefusalError("not_acceptable")
            repeated = [
                name for name, count in Counter(k for k, _ in request.query_params.multi_items()).items() if count > 1
            ]
            if repeated:
                raise RefusalError("duplicate_parameter", location=("query", repeated[0]))
            read = ReadRequest(request.scope, request.receive)
            if self.body_field is not None:
                _check_media_type(request)
                # here and not in json(): FastAPI makes one and the same error of whatever json() raises
                body = await read.body()
                read.values = parse(body) if body else None
            return await handle(read)

        return checked


def weight_of(accept: str | None, media_type: str) -> float:
    """Return how much an Accept header wants a media type, 0 for not at all.

    The most specific range that fits decides (RFC 9110, 12.5.1).
    """
    if accept is None or not accept.strip():
        return 1.0
    group = media_type.partition("/")[0] + "/*"
    fits: dict[int, float] = {}
    for element in accept.split(","):
        media, *parameters = (part.strip().lower() for part in element.split(";"))
        rank = {"*/*": 0, group: 1, media_type: 2}.get(media)
        if rank is not None:
            fits[rank] = max(fits.get(rank, 0.0), _weight(parameters))
    return fits[max(fits)] if fits else 0.0


def _weight(parameters: list[str]) -> float:
    for parameter in parameters:
        name, _, value = parameter.partition("=")
        if name.strip() == "q":
            try:
                return float(value)
            except ValueError:
                return 0.0
    return 1.0


def _check_media_type(request: Request) -> None:
    header = MediaType()
    header["content-type"] = request.headers.get("content-type", "")
    charset = str(header.get_param("charset", "utf-8")).lower()
    if header.get_content_type() != JSON or "content-type" not in request.headers or charset not in ("utf-8", "utf8"):
        raise RefusalError("unsupported_media_type", headers={"Accept-Post": JSON})
    if request.headers.get("content-encoding", "identity").strip().lower() != "identity":
        raise RefusalError("unsupported_media_type", headers={"Accept-Post": JSON, "Accept-Encoding": "identity"})
