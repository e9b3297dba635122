"""What to change next. Computed from the request and the table alone."""

from typing import Annotated

from fastapi import APIRouter, Body, Request, Response

from service.api.answers_adjustment import NextAdjustmentAnswer
from service.api.declaring import computed, overlaid
from service.api.examples_adjustment import NEXT_ADJUSTMENT
from service.api.present_adjustment import present_adjustment
from service.api.questions_adjustment import adjustment_question
from service.api.reader import OverlaidReader, reply
from service.api.requests_adjustment import NextAdjustmentRequest
from service.api.strict_route import StrictRoute
from service.usecases.next_adjustment import next_adjustment

router = APIRouter(prefix="/v1", tags=["advice"], route_class=StrictRoute)


@router.post(
    "/next-adjustment",
    operation_id="recommendNextAdjustment",
    summary="The one setting to change next, from what is wrong and what was tried",
    response_model=NextAdjustmentAnswer,
    responses=overlaid(computed()),
)
async def recommend_next_adjustment(
    http: Request,
    body: Annotated[NextAdjustmentRequest, Body(openapi_examples=NEXT_ADJUSTMENT)],
    reader: OverlaidReader,
) -> Response:
    """Mistakes to rule out first, one change with its expected effect on everything, when to undo it, alternatives."""
    answer = next_adjustment(reader.table, adjustment_question(http, body, reader), reader.local)
    return reply(reader, present_adjustment(answer, reader))
