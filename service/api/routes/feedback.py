"""Feedback: what machines were set to and what came of it, of one organisation.

Routes that use the store are plain functions: they wait for a database, in a thread of their own. The block of
a transaction ends before the answer is made, so that an answer means that it has been committed. The caller stands
before the reader among the arguments: who asks is looked at before anything else that may be wrong.
"""

import json
from datetime import UTC, datetime
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Body, Path, Query, Request, Response
from fastapi.responses import StreamingResponse

from service.api import answers_feedback as out
from service.api.access import AnyCaller, AnySending, store_of
from service.api.declaring import kept, once
from service.api.examples_feedback import BATCH, FEEDBACK
from service.api.export_formats import SUFFIX, ExportRoute, chosen, write
from service.api.feedback_batch import Batch
from service.api.present_feedback import present_page, present_record, writer
from service.api.questions_feedback import feedback_question, fingerprint
from service.api.reader import AnyReader, reader_of, reply_private
from service.api.requests_feedback import (
    FeedbackBatchRequest,
    FeedbackExportQuery,
    FeedbackListQuery,
    FeedbackRequest,
)
from service.api.showing import Showing
from service.api.strict_route import StrictRoute
from service.errors import ServiceError
from service.usecases import feedback, feedback_listing, organisations
from service.usecases.feedback_reading import read_feedback
from service.usecases.feedback_types import Report, Submission

router = APIRouter(prefix="/v1", tags=["feedback"], route_class=StrictRoute)
export = APIRouter(prefix="/v1", tags=["feedback"], route_class=ExportRoute)

RecordId = Annotated[UUID, Path(description="`id` of the record.")]


@router.post(
    "/feedback",
    operation_id="createFeedback",
    summary="Report what was set and what came of it",
    status_code=201,
    response_model=out.FeedbackAccepted,
    responses=kept(201, 400, 409, 415, Location="Address of the record"),
    openapi_extra=once(),
)
def create_feedback(
    http: Request,
    body: Annotated[FeedbackRequest, Body(openapi_examples=FEEDBACK)],
    sending: AnySending,
    reader: AnyReader,
) -> Response:
    """Store a report once, however often it is sent. Measure twice on one day, one setting apart, and send both."""
    submission = Submission(sending.key, fingerprint(sending.caller, body))
    if sending.earlier is not None:
        return _created(reader, feedback.same_request(sending.earlier, submission))
    now = datetime.now(UTC)
    report = Report(read_feedback(reader.table, feedback_question(http, body), now), submission)
    with store_of(http).writing() as session:
        (found,) = feedback.accept(session, sending.caller, [report], now, writer(reader))
    if isinstance(found, ServiceError):
        raise found
    return _created(reader, found)


def _created(reader: AnyReader, written: str) -> Response:
    location = f"/v1/feedback/{json.loads(written)['id']}"
    return reply_private(reader, written, status=201, headers={"Location": location})


@router.post(
    "/feedback/batch",
    operation_id="createFeedbackBatch",
    summary="Report many at once, each judged alone",
    status_code=207,
    response_model=out.FeedbackBatchAnswer,
    responses=kept(207, 400, 409, 415),
)
def create_feedback_batch(
    http: Request,
    body: Annotated[FeedbackBatchRequest, Body(openapi_examples=BATCH)],
    caller: AnyCaller,
    reader: AnyReader,
) -> Response:
    """Store reports that waited for a signal; each has its own key, and may come again alone or in another batch."""
    caller.needs("contribute")
    batch = Batch(http, reader, caller)
    batch.store(body.items)
    results = list(batch.results())
    stored = sum(one["status"] == 201 for one in results)
    head = {"knowledge": Showing(reader).knowledge().model_dump(), "stored": stored, "refused": len(results) - stored}
    return reply_private(reader, json.dumps(head | {"results": results}, ensure_ascii=False), status=207)


@router.get(
    "/feedback",
    operation_id="listFeedback",
    summary="Records, newest first",
    response_model=out.FeedbackPage,
    responses=kept(200),
)
def list_feedback(http: Request, query: Annotated[FeedbackListQuery, Query()], caller: AnyCaller) -> Response:
    """Records of the contributor whose key it is; all of the organisation with a key of its own, or one to review."""
    reader = reader_of(http, query)
    wanted = feedback_listing.wanted(reader.table, caller, query.crop, query.contributor)
    with store_of(http).reading() as session:
        page = feedback_listing.page(session, wanted, query.cursor, query.limit)
        answer = present_page(page.kept, page.cursor, reader)
    following = http.url.include_query_params(cursor=page.cursor)
    headers = {"Link": f'<{following.path}?{following.query}>; rel="next"'} if page.cursor else {}
    return reply_private(reader, answer, headers=headers)


@export.get(
    "/feedback/export",
    operation_id="exportFeedback",
    summary="Records as JSON Lines, CSV or Parquet",
    response_class=StreamingResponse,
    responses=kept(200) | {200: {"content": {one: {"schema": {"type": "string"}} for one in ExportRoute.offers}}},
)
def export_feedback(http: Request, query: Annotated[FeedbackExportQuery, Query()], caller: AnyCaller) -> Response:
    """One flat row for each record, oldest first, metric, each column with its unit; `Accept` picks the form."""
    reader = reader_of(http, query)
    wanted = feedback_listing.wanted(reader.table, caller, query.crop, query.contributor)
    form = chosen(http.headers.get("accept"))
    with store_of(http).writing() as session:
        feedback_listing.note_export(session, caller, wanted, form, datetime.now(UTC))

    rows = feedback_listing.export(store_of(http), reader.table, wanted)
    headers = {
        "Cache-Control": "no-store",
        "Content-Language": reader.lang,
        "Vary": "Accept, Accept-Encoding",
        "Content-Disposition": f'attachment; filename="feedback.{SUFFIX[form]}"',
    }
    return StreamingResponse(write(form, feedback_listing.columns(reader.table), rows), 200, headers, form)


@router.get(
    "/feedback/{id:uuid}",
    operation_id="getFeedback",
    summary="One record",
    response_model=out.FeedbackAnswer,
    responses=kept(200, 410),
)
def get_feedback(http: Request, id: RecordId, caller: AnyCaller, reader: AnyReader) -> Response:  # noqa: A002
    """The record as it was stored; one of another organisation is not found, one that was taken back is gone."""
    with store_of(http).reading() as session:
        answer = present_record(feedback.find(session, caller, id), reader)
    return reply_private(reader, answer)


@router.delete(
    "/feedback/{id:uuid}",
    operation_id="withdrawFeedback",
    summary="Take a record back",
    status_code=204,
    responses=kept(204),
)
def withdraw_feedback(http: Request, id: RecordId, caller: AnyCaller, reader: AnyReader) -> Response:  # noqa: A002
    """Delete a record; nothing is learned from it any more. Taking it back twice does nothing."""
    with store_of(http).writing() as session:
        feedback.withdraw(session, caller, id, datetime.now(UTC))
    return reply_private(reader, None, status=204)


@router.delete(
    "/contributors/{contributor}",
    operation_id="eraseContributor",
    summary="Erase a contributor with every record",
    status_code=204,
    responses=kept(204),
)
def erase_contributor(
    http: Request,
    contributor: Annotated[str, Path(description="Pseudonym of the contributor.", max_length=40)],
    caller: AnyCaller,
    reader: AnyReader,
) -> Response:
    """Delete a contributor with its keys and records, for good; only with a key to administer."""
    with store_of(http).writing() as session:
        organisations.erase_contributor(session, caller, contributor, datetime.now(UTC))
    return reply_private(reader, None, status=204)
