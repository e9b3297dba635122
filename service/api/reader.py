"""Who reads an answer: unit system, language, table; and the answer with its headers.

Inside: the reader of a request, ETag, conditional requests, caching. Outside: what an answer holds
(`present_*`), how a header gets onto errors (`middleware`).
"""

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Annotated, Final

from fastapi import Depends, Query, Request, Response
from pydantic import BaseModel
from starlette.concurrency import run_in_threadpool

from service.api.requests import OverlaidQuery, ReaderQuery
from service.errors import UnknownName
from service.knowledge.table import KnowledgeTable
from service.store import Store
from service.text import Language, negotiate
from service.units import UnitSystem
from service.usecases.local_types import LocalTable

LATEST: Final = "public, max-age=300, stale-while-revalidate=86400, stale-if-error=604800"
# who takes a bad local table back wants that to be felt within minutes
LOCAL: Final = "public, max-age=60, stale-while-revalidate=600, stale-if-error=86400"
# a revision never changes, the program that computes from it does: a day, not for ever
PINNED: Final = "public, max-age=86400, stale-while-revalidate=604800, stale-if-error=2592000"


@dataclass(frozen=True, slots=True)
class Reader:
    """What an answer depends on beside the question."""

    request: Request
    table: KnowledgeTable
    lang: Language
    units: UnitSystem
    revision: str | None
    local: LocalTable | None = None

    @property
    def keeping(self) -> str:
        """How long an answer may be kept; a pinned revision does not pin the local table over it."""
        if self.local is not None:
            return LOCAL
        return LATEST if self.revision is None else PINNED


ActiveTable = Callable[[Store, str], LocalTable | None]


def reader_of(request: Request, query: ReaderQuery) -> Reader:
    """Return the reader of a request.

    Raises
    ------
    UnknownName
        If the language is not spoken here or the pinned revision is not the one served.
    """
    table: KnowledgeTable = request.app.state.table
    # a plus sign in a query is a blank, and local revisions have one
    revision = query.revision.replace(" ", "+") if query.revision is not None else None
    table.check_revision(revision)
    lang = negotiate(query.lang, request.headers.get("accept-language"))
    return Reader(request, table, lang, query.units, revision)


async def overlaid_reader_of(request: Request, query: OverlaidQuery) -> Reader:
    """Return the reader of a request that may name a local table.

    The store is asked only for such a table, in a thread: all other advice stays on the event loop, and is
    given where there is no store.

    Raises
    ------
    UnknownName
        If the language, the pinned revision or the local table is none that is served.
    StoreMissing, StoreUnavailable
        If a local table is asked for and there is no store, or it cannot be used.
    """
    reader = reader_of(request, query)
    if query.table is None:
        return reader
    active: ActiveTable = request.app.state.active_table
    local = await run_in_threadpool(active, request.app.state.store, query.table)
    if local is None:
        raise UnknownName("table", query.table, [])
    return replace(reader, local=local)


async def _reader(request: Request, query: Annotated[ReaderQuery, Query()]) -> Reader:
    return reader_of(request, query)


async def _overlaid_reader(request: Request, query: Annotated[OverlaidQuery, Query()]) -> Reader:
    return await overlaid_reader_of(request, query)


# both without a thread: there is nothing to wait for but a local table
AnyReader = Annotated[Reader, Depends(_reader)]
OverlaidReader = Annotated[Reader, Depends(_overlaid_reader)]


def reply(reader: Reader, answer: BaseModel, version: int | None = None) -> Response:
    """Write an answer: cacheable with a strong ETag for GET, led by a version if one is given, not kept for POST."""
    body = answer.model_dump_json(exclude_none=True).encode()
    headers = {"Content-Language": reader.lang, "Vary": "Accept-Language, Accept-Encoding"}
    if reader.local is not None:
        headers["Threshbook-Local-Digest"] = reader.local.digest
    if reader.request.method == "POST":
        return Response(body, headers=headers | {"Cache-Control": "no-store"}, media_type="application/json")
    # the answer is a pure function of question, tables, code, language and units, so its bytes are their digest;
    # the digest of a local table is among them
    tag = ("" if version is None else f"{version}.") + hashlib.sha256(body).hexdigest()[:32]
    headers |= {"ETag": f'"{tag}"', "Cache-Control": reader.keeping}
    held = held_tags(reader.request.headers.get("if-none-match"))
    if "*" in held or tag in held:
        return Response(status_code=304, headers=headers | {"ETag": f'"{held.get(tag, tag)}"'})
    return Response(body, headers=headers, media_type="application/json")


def reply_private(
    reader: Reader, answer: BaseModel | str | None, *, status: int = 200, headers: Mapping[str, str] | None = None
) -> Response:
    """Write an answer that is for the holder of a key alone; a text is one that was written before."""
    body = answer.model_dump_json(exclude_none=True) if isinstance(answer, BaseModel) else answer
    fixed = {
        "Content-Language": reader.lang,
        "Vary": "Accept-Language, Accept-Encoding",
        "Cache-Control": "no-store",
        **(headers or {}),
    }
    return Response(body, status, fixed, None if body is None else "application/json")


def held_tags(if_none_match: str | None) -> dict[str, str]:
    """Return the tags of an If-None-Match header by our own tag: weakly compared (RFC 9110, 13.1.2), over codings."""
    parts = (part.strip().removeprefix("W/").strip('"') for part in (if_none_match or "").split(","))
    return {part.removesuffix("-gzip"): part for part in parts if part}
