"""Published tables of organisations: public to whoever knows the name; going back needs a key to review."""

from datetime import UTC, datetime
from typing import Annotated

from fastapi import APIRouter, Body, Path, Request, Response

from service.api import answers_refinement as out
from service.api.access import AnyCaller, store_of
from service.api.declaring import cacheable, kept
from service.api.examples_refinement import RESTORE
from service.api.preconditions import TABLE, if_match, revision_held
from service.api.present_refinement import present_history, present_table
from service.api.problems import declared
from service.api.reader import AnyReader, reply, reply_private
from service.api.requests_refinement import RestoreRequest
from service.api.strict_route import StrictRoute
from service.errors import NotFound
from service.usecases import local_tables

router = APIRouter(prefix="/v1/tables", tags=["local tables"], route_class=StrictRoute)

Organisation = Annotated[str, Path(description="Name of the organisation.", max_length=40)]
_PUBLIC = cacheable() | declared(503)


@router.get(
    "/{organisation}",
    operation_id="getTable",
    summary="The table of an organisation that holds",
    response_model=out.TableAnswer,
    responses=_PUBLIC,
)
def get_table(http: Request, organisation: Organisation, reader: AnyReader) -> Response:
    """Every number that differs from the base table, with how many records and about how many farms it rests on."""
    with store_of(http).reading() as session:
        answer = present_table(local_tables.revision(session, organisation), reader)
    return reply(reader, answer, version=answer.number)


@router.get(
    "/{organisation}/revisions",
    operation_id="listTableRevisions",
    summary="Every published revision",
    response_model=out.RevisionsPage,
    responses=_PUBLIC,
)
def list_table_revisions(http: Request, organisation: Organisation, reader: AnyReader) -> Response:
    """Published revisions, newest first; the first of them holds."""
    with store_of(http).reading() as session:
        kept = local_tables.history(session, organisation)
        if not kept:  # that there is such an organisation is nobody's business before it publishes
            raise NotFound
        answer = present_history(organisation, kept, reader)
    return reply(reader, answer)


@router.get(
    "/{organisation}/revisions/{number}",
    operation_id="getTableRevision",
    summary="One published revision",
    response_model=out.TableAnswer,
    responses=_PUBLIC,
)
def get_table_revision(
    http: Request,
    organisation: Organisation,
    number: Annotated[str, Path(description="Number of the revision.", json_schema_extra={"format": "int32"})],
    reader: AnyReader,
) -> Response:
    """A revision as it was published; it never changes."""
    if not (number.isascii() and number.isdecimal() and len(number) < 10):
        raise NotFound
    with store_of(http).reading() as session:
        answer = present_table(local_tables.revision(session, organisation, int(number)), reader)
    return reply(reader, answer)


@router.post(
    "/{organisation}/rollback",
    operation_id="restoreTable",
    summary="Publish an earlier revision again",
    status_code=201,
    response_model=out.TableAnswer,
    responses=kept(201, 400, 412, 415, 428, Location="Address of the revision"),
    openapi_extra=if_match(TABLE),
)
def restore_table(
    http: Request,
    organisation: Organisation,
    body: Annotated[RestoreRequest, Body(openapi_examples=RESTORE)],
    caller: AnyCaller,
    reader: AnyReader,
) -> Response:
    """Make an earlier revision hold again, as a new one; what was published in between stays in the list."""
    held = revision_held(http)
    with store_of(http).writing() as session:
        made = local_tables.roll_back(session, caller, organisation, body.number, held, datetime.now(UTC))
        answer = present_table(local_tables.revision(session, organisation, made.number), reader)
    location = f"/v1/tables/{organisation}/revisions/{made.number}"
    return reply_private(reader, answer, status=201, headers={"Location": location})
