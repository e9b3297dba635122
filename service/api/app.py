"""The application: settings and table in, everything wired.

Inside: order of the middleware, routes, error handlers. Outside: what each of them does.
"""

from fastapi import FastAPI
from fastapi_offline import FastAPIOffline
from starlette.middleware.cors import CORSMiddleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import RedirectResponse

from service import __version__
from service.api import openapi, problems
from service.api.middleware import AnswerHeaders, BodyLimit, HeadAsGet, LastResort
from service.api.openapi import openapi_text
from service.api.routes import (
    about,
    advice,
    catalogue,
    feedback,
    harvest_window,
    hauling,
    monitor,
    next_adjustment,
    pages,
    refinements,
    relearn,
    residue,
    tables,
    working_speed,
)
from service.config import Settings
from service.console import console
from service.knowledge.load import load_table
from service.knowledge.table import KnowledgeTable
from service.store import open_store
from service.usecases.local_active import active_table

__all__ = ["create_app", "openapi_text"]

CONSOLE = "/console"
EXPOSED = (
    "Allow",
    "Content-Language",
    "ETag",
    "Link",
    "Location",
    "Retry-After",
    "Threshbook-Digest",
    "Threshbook-Local-Digest",
    "Threshbook-Revision",
)

TAKEN = ("Accept-Language", "Authorization", "Content-Type", "Idempotency-Key", "If-Match", "If-None-Match")


def create_app(settings: Settings) -> FastAPI:
    """Load the table and build the application; the store is asked only when a request needs it.

    Raises
    ------
    KnowledgeFault
        If the table, or a crop file of one's own, is wrong: better not to start than to advise wrongly.
    StoreUnavailable
        If the address of the store cannot be read.
    """
    table = load_table(extra_crops=settings.extra_crops)
    app = FastAPIOffline(
        docs_url=None,
        redoc_url=None,
        static_url=pages.STATIC,
        title="Threshbook",
        version=__version__,
        description=openapi.DESCRIPTION,
        license_info={"name": "Apache-2.0", "identifier": "Apache-2.0"},
        openapi_tags=openapi.TAGS,
        redirect_slashes=False,
    )
    app.state.table, app.state.settings = table, settings
    app.state.store = open_store(settings.database_url)
    app.state.active_table = active_table
    asked = (
        advice.router,
        next_adjustment.router,
        working_speed.router,
        harvest_window.router,
        hauling.router,
        monitor.router,
        relearn.router,
        residue.router,
        residue.amount,
    )
    stored = (feedback.export, feedback.router, refinements.router, tables.router)
    for router in (*asked, *stored, catalogue.router, relearn.tasks, about.index, about.router, pages.router):
        app.include_router(router)
    app.add_route(CONSOLE, _to_console, include_in_schema=False)
    app.mount(CONSOLE, console(table, app.state.store), name="console")
    problems.install(app)
    openapi.install(app)
    _surround(app, settings, table)
    return app


async def _to_console(request: Request) -> RedirectResponse:
    return RedirectResponse(f"{request.scope.get('root_path', '')}{CONSOLE}/", 308)


def _surround(app: FastAPI, settings: Settings, table: KnowledgeTable) -> None:
    """Add the middleware, innermost first."""
    app.add_middleware(BodyLimit, most_bytes=settings.max_body_bytes)
    app.add_middleware(LastResort)
    app.add_middleware(GZipMiddleware, minimum_size=1000, compresslevel=6)
    app.add_middleware(HeadAsGet)
    app.add_middleware(
        CORSMiddleware,
        allow_origins=settings.cors_origins,
        allow_methods=("GET", "HEAD", "POST", "DELETE"),
        allow_headers=(
            "Accept-Language",
            "Authorization",
            "Content-Type",
            "Idempotency-Key",
            "If-Match",
            "If-None-Match",
        ),
        expose_headers=EXPOSED,
        max_age=7200,
    )
    head = {"Threshbook-Revision": table.revision, "Threshbook-Digest": table.digest}
    app.add_middleware(AnswerHeaders, headers=head)
