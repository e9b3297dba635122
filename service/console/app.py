"""The console as an application of its own, to be mounted in the service.

Inside: addresses, the style sheet, what is answered when nothing else is. Outside: pages (`pages_*`), checks
(`asking`).
"""

import hashlib
from collections.abc import Callable
from importlib.resources import files
from typing import Final

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from service.console import pages_drafts, pages_entry, pages_overview, pages_table, pages_tests
from service.console.asking import Asked, Desk, Page, answers, refusal
from service.errors import NotFound
from service.knowledge.table import KnowledgeTable
from service.store import Store

_PAGES: Final[tuple[tuple[str, str, Page], ...]] = (
    ("GET", "/", pages_overview.overview),
    ("GET", "/weeks.svg", pages_overview.weeks),
    ("GET", "/drafts", pages_drafts.drafts),
    ("POST", "/drafts", pages_drafts.make),
    ("GET", "/drafts/{number}", pages_drafts.draft),
    ("GET", "/drafts/{number}/publish", pages_drafts.ask_publish),
    ("POST", "/drafts/{number}/publish", pages_drafts.publish),
    ("GET", "/drafts/{number}/evidence/{row}/{setting}", pages_drafts.evidence),
    ("GET", "/drafts/{number}/{crop}/{machine_class}", pages_drafts.group),
    ("POST", "/drafts/{number}/{crop}/{machine_class}", pages_drafts.decide),
    ("GET", "/table", pages_table.table),
    ("GET", "/table/{number}", pages_table.revision),
    ("GET", "/table/{number}/rollback", pages_table.ask_roll_back),
    ("POST", "/table/{number}/rollback", pages_table.roll_back),
    ("GET", "/tests", pages_tests.tests),
    ("POST", "/logout", pages_entry.leave),
)
# what a browser may ask for without having logged in
_OPEN: Final[tuple[tuple[str, str, Page], ...]] = (
    ("GET", "/login", pages_entry.ask_key),
    ("POST", "/login", pages_entry.take_key),
    ("POST", "/view", pages_entry.choose_view),
)
_STATIC: Final = {"style.css": "text/css", "mark.svg": "image/svg+xml"}


def console(table: KnowledgeTable, store: Store) -> Starlette:
    """Build the console."""
    held = {name: files("service.console").joinpath("static", name).read_bytes() for name in _STATIC}
    desk = Desk(table, store, hashlib.sha256(b"".join(held.values())).hexdigest()[:12])
    routes = [Route(path, answers(desk, page), methods=[method]) for method, path, page in _PAGES]
    routes += [Route(path, answers(desk, page, unknown=True), methods=[method]) for method, path, page in _OPEN]
    routes += [Route(f"/{name}", _file(held[name], media), methods=["GET"]) for name, media in _STATIC.items()]
    missing = answers(desk, _missing, unknown=True)

    async def nothing_here(request: Request, _: Exception) -> Response:
        return await missing(request)

    return Starlette(routes=routes, exception_handlers={404: nothing_here, 405: nothing_here})


def _missing(asked: Asked) -> Response:
    return refusal(asked, NotFound())


def _file(content: bytes, media_type: str) -> Callable[[Request], Response]:
    # its address changes with its content
    headers = {"Cache-Control": "public, max-age=31536000, immutable"}
    return lambda _: Response(content, headers=headers, media_type=media_type)
