"""Whether the crop is fit: computed from weather and readings of the request and the table alone."""

from typing import Annotated

from fastapi import APIRouter, Body, Request, Response

from service.api.answers_window import HarvestWindowAnswer
from service.api.declaring import computed
from service.api.draw_window import draw_window
from service.api.drawn_route import DrawnRoute, drawn, reply_as_asked
from service.api.examples_window import HARVEST_WINDOW
from service.api.present_window import present_window
from service.api.questions_window import window_question
from service.api.reader import AnyReader
from service.api.requests_window import HarvestWindowRequest
from service.usecases.harvest_window import foresee

router = APIRouter(prefix="/v1", tags=["advice"], route_class=DrawnRoute)


@router.post(
    "/harvest-window",
    operation_id="assessHarvestWindow",
    summary="Hours in which the crop is fit, and whether to start, wait or dry",
    response_model=HarvestWindowAnswer,
    responses=drawn(computed()),
)
async def assess_harvest_window(
    http: Request,
    body: Annotated[HarvestWindowRequest, Body(openapi_examples=HARVEST_WINDOW)],
    reader: AnyReader,
) -> Response:
    """Grain moisture by hour with its band, fit hours, dew, and waiting against drying; as SVG, the chart of it."""
    answer = foresee(reader.table, window_question(http, body, reader))
    return reply_as_asked(reader, present_window(answer, reader), lambda: draw_window(answer, reader))
