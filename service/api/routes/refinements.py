"""Drafts of an organisation's table: made, looked at, decided on, published; and what is worth trying.

All with a key of the organisation; a draft of another organisation is not found. Routes are plain functions: they
wait for a database.
"""

from datetime import UTC, datetime
from typing import Annotated

from fastapi import APIRouter, Body, Path, Query, Request, Response

from service.api import answers_refinement as out
from service.api.access import AnyCaller, store_of
from service.api.declaring import kept
from service.api.examples_refinement import DECISIONS, PRICES
from service.api.preconditions import DRAFT, if_match, version_held
from service.api.present_refinement import draft_tag, present_draft, present_drafts, present_pairs, present_table
from service.api.reader import AnyReader, reader_of, reply_private
from service.api.requests_refinement import DecisionsRequest, PairedTestsQuery, RefinementRequest
from service.api.strict_route import StrictRoute
from service.errors import Contradiction, NotFound
from service.usecases import local_tables, refinement
from service.usecases.paired_tests import advise_tests
from service.usecases.refinement import Decision, reviewer

router = APIRouter(prefix="/v1", tags=["local tables"], route_class=StrictRoute)

DraftId = Annotated[str, Path(description="Number of the draft.", json_schema_extra={"format": "int32"})]
_TAG = {"ETag": "Tag of the draft as it is, for If-Match"}


def _number(written: str) -> int:
    """Return the number in an address; what is none leads nowhere."""
    if not (written.isascii() and written.isdecimal() and len(written) < 10):
        raise NotFound
    return int(written)


@router.post(
    "/refinements",
    operation_id="createRefinement",
    summary="Draft a local table from what has come in",
    status_code=201,
    response_model=out.RefinementAnswer,
    responses=kept(201, 400, 412, 415, Location="Address of the draft", **_TAG),
)
def create_refinement(
    http: Request,
    body: Annotated[RefinementRequest, Body(openapi_examples=PRICES)],
    caller: AnyCaller,
    reader: AnyReader,
) -> Response:
    """Fold new records in and propose, for each row, a move or a reason to leave it alone; nothing is published."""
    who, store = reviewer(caller), store_of(http)
    prices = {name.removesuffix("_price"): price for name, price in body.model_dump(exclude_none=True).items()}
    number, _ = refinement.refine(store, reader.table, who, datetime.now(UTC), prices)
    with store.reading() as session:
        view = refinement.find(session, reader.table, who, number)
        answer, tag = present_draft(view, reader), draft_tag(view.draft, reader)
    headers = {"Location": f"/v1/refinements/{number}", "ETag": tag}
    return reply_private(reader, answer, status=201, headers=headers)


@router.get(
    "/refinements",
    operation_id="listRefinements",
    summary="Drafts, newest first",
    response_model=out.RefinementsPage,
    responses=kept(200),
)
def list_refinements(http: Request, caller: AnyCaller, reader: AnyReader) -> Response:
    """Drafts of the organisation; only with a key to review."""
    who = reviewer(caller)
    with store_of(http).reading() as session:
        answer = present_drafts(refinement.newest(session, who), reader)
    return reply_private(reader, answer)


@router.get(
    "/refinements/{id}",
    operation_id="getRefinement",
    summary="One draft",
    response_model=out.RefinementAnswer,
    responses=kept(200, **_TAG),
)
def get_refinement(http: Request, id: DraftId, caller: AnyCaller, reader: AnyReader) -> Response:  # noqa: A002
    """A draft with the decisions on it; its ETag is what a decision must name."""
    who = reviewer(caller)
    with store_of(http).reading() as session:
        view = refinement.find(session, reader.table, who, _number(id))
        answer, tag = present_draft(view, reader), draft_tag(view.draft, reader)
    return reply_private(reader, answer, headers={"ETag": tag})


@router.post(
    "/refinements/{id}/decisions",
    operation_id="createDecisions",
    summary="Accept or refuse rows of a draft",
    response_model=out.RefinementAnswer,
    responses=kept(200, 400, 409, 412, 415, 428, **_TAG),
    openapi_extra=if_match(DRAFT),
)
def create_decisions(
    http: Request,
    id: DraftId,  # noqa: A002
    body: Annotated[DecisionsRequest, Body(openapi_examples=DECISIONS)],
    caller: AnyCaller,
    reader: AnyReader,
) -> Response:
    """Decide on rows; of two reviewers who looked at the same state only the first is heard, the other looks again."""
    who, number = reviewer(caller), _number(id)
    version, told = version_held(http, number), {}
    for place, one in enumerate(body.decisions):
        if one.row in told:
            raise Contradiction([f"decisions.{place}.row"], "reason.row_decided_twice")
        told[one.row] = Decision(one.decision == "accept", one.reason)
    with store_of(http).writing() as session:
        view = refinement.decide(session, reader.table, who, number, version, told, datetime.now(UTC))
        answer, tag = present_draft(view, reader), draft_tag(view.draft, reader)
    return reply_private(reader, answer, headers={"ETag": tag})


@router.post(
    "/refinements/{id}/publish",
    operation_id="publishRefinement",
    summary="Publish the accepted rows",
    status_code=201,
    response_model=out.TableAnswer,
    responses=kept(201, 409, 412, 428, Location="Address of the revision"),
    openapi_extra=if_match(DRAFT),
)
def publish_refinement(http: Request, id: DraftId, caller: AnyCaller, reader: AnyReader) -> Response:  # noqa: A002
    """Publish accepted rows as the next revision of the organisation's table; it can never be changed again."""
    who, number = reviewer(caller), _number(id)
    version = version_held(http, number)
    with store_of(http).writing() as session:
        made = refinement.publish(session, reader.table, who, number, version, datetime.now(UTC))
        answer = present_table(local_tables.revision(session, who.organisation, made.number), reader)
    location = f"/v1/tables/{who.organisation}/revisions/{made.number}"
    return reply_private(reader, answer, status=201, headers={"Location": location})


@router.get(
    "/paired-tests",
    operation_id="listPairedTests",
    summary="Which setting is worth a paired test",
    response_model=out.PairedTestsAnswer,
    responses=kept(200),
)
def list_paired_tests(http: Request, query: Annotated[PairedTestsQuery, Query()], caller: AnyCaller) -> Response:
    """Measure, change this one setting, measure again the same day, send both: such pairs teach almost everything."""
    reader = reader_of(http, query)
    with store_of(http).reading() as session:
        found = advise_tests(session, reader.table, caller, query.crop, query.machine_class, datetime.now(UTC))
    return reply_private(reader, present_pairs(found, query.moisture_band, reader))
