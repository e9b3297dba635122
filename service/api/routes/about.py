"""The service itself: index, health, version, and what each kind of problem means."""

from typing import Annotated

from fastapi import APIRouter, Path, Request, Response

from service import __version__
from service.api import answers_catalogue as out
from service.api.declaring import cacheable
from service.api.problems import STATUS, declared, language, type_of
from service.api.reader import LATEST, AnyReader, reply
from service.api.refusal import RefusalError
from service.api.showing import Showing
from service.api.strict_route import StrictRoute
from service.domain.types import Message
from service.knowledge.table import KnowledgeTable
from service.store import Store, schema
from service.text import Language, render

API = "v1"
LINKS = (
    ("self", "/v1"),
    ("starting-settings", "/v1/starting-settings"),
    ("ground-loss", "/v1/ground-loss"),
    ("next-adjustment", "/v1/next-adjustment"),
    ("harvest-window", "/v1/harvest-window"),
    ("monitor-calibration", "/v1/monitor-calibration"),
    ("working-speed", "/v1/working-speed"),
    ("relearn", "/v1/relearn"),
    ("belt-slip", "/v1/belt-slip"),
    ("feedback", "/v1/feedback"),
    ("refinements", "/v1/refinements"),
    ("paired-tests", "/v1/paired-tests"),
    ("crops", "/v1/crops"),
    ("machine-classes", "/v1/machine-classes"),
    ("relearn-tasks", "/v1/relearn-tasks"),
    ("sources", "/v1/sources"),
    ("knowledge", "/v1/knowledge"),
    ("problems", "/problems"),
    ("service-desc", "/openapi.json"),
    ("service-doc", "/docs"),
)

router = APIRouter(tags=["service"])
index = APIRouter(tags=["service"], route_class=StrictRoute)


@index.get(
    "/v1", operation_id="getIndex", summary="Where everything is", response_model=out.IndexAnswer, responses=cacheable()
)
async def get_index(reader: AnyReader) -> Response:
    """Links, the revision served, and what a client must know to go on working."""
    show = Showing(reader)
    links = [out.Link(rel=rel, href=href, title=show.text(f"link.{rel.replace('-', '_')}")) for rel, href in LINKS]
    contract = out.ClientContract(api=API, recommended_api=API, unknown_fields="ignore")
    answer = out.IndexAnswer(
        knowledge=show.knowledge(), service="threshbook", version=__version__, client=contract, links=links
    )
    return reply(reader, answer)


@router.get("/healthz", operation_id="getHealth", summary="Whether the process is alive", response_model=out.Health)
async def get_health() -> Response:
    """Answers without looking at anything."""
    return _written(out.Health(status="ok"), "no-store")


@router.get(
    "/readyz",
    operation_id="getReadiness",
    summary="Whether questions can be answered",
    response_model=out.Readiness,
    responses=declared(503),
)
def get_readiness(http: Request) -> Response:
    """Ready once the knowledge table is loaded, and the store, if there is to be one, can be read and written."""
    table: KnowledgeTable | None = getattr(http.app.state, "table", None)
    if table is None:
        raise RefusalError("not_ready", headers={"Retry-After": "1"})
    store: Store = http.app.state.store
    # without a store all advice works; only one that was asked for, or made, must be there
    kept = store.named or store.exists
    if kept:
        schema.ready(store)
    readiness = out.Readiness(status="ready", revision=table.revision, store="ready" if kept else "none")
    return _written(readiness, "no-store")


@router.get("/version", operation_id="getVersion", summary="What is running", response_model=out.Version)
async def get_version(http: Request) -> Response:
    """Version of the code, of the interface, and the revision of the table."""
    table: KnowledgeTable = http.app.state.table
    version = out.Version(service=__version__, api=API, revision=table.revision, digest=table.digest)
    return _written(version, "no-store")


@router.get("/problems", operation_id="listProblems", summary="Every kind of problem", response_model=out.ProblemPages)
async def list_problems(http: Request) -> Response:
    """What each `type` of a problem answer means."""
    lang = language(http.scope)
    return _written(out.ProblemPages(problems=[_page(code, lang) for code in STATUS]), LATEST, lang)


@router.get(
    "/problems/{code}",
    operation_id="getProblem",
    summary="What a kind of problem means",
    response_model=out.ProblemPage,
    responses=declared(404),
)
async def get_problem(
    http: Request, code: Annotated[str, Path(description="As in `type`.", examples=["out-of-range"])]
) -> Response:
    """The page that the `type` of a problem answer leads to."""
    known = code.replace("-", "_")
    if known not in STATUS:
        raise RefusalError("not_found")
    lang = language(http.scope)
    return _written(_page(known, lang), LATEST, lang)


def _page(code: str, lang: Language) -> out.ProblemPage:
    title, about = (render(Message(f"problem.{code}.{part}"), lang, "metric") for part in ("title", "about"))
    return out.ProblemPage(type=type_of(code), code=code, status=STATUS[code], title=title, explanation=about)


def _written(
    answer: out.Health | out.Readiness | out.Version | out.ProblemPage | out.ProblemPages,
    cache: str,
    lang: Language = "en",
) -> Response:
    headers = {"Cache-Control": cache, "Content-Language": lang, "Vary": "Accept-Language, Accept-Encoding"}
    return Response(answer.model_dump_json(), headers=headers, media_type="application/json")
