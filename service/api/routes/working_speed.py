"""How fast to drive. Computed from the request and the table alone; written as JSON or drawn as SVG."""

from typing import Annotated

from fastapi import APIRouter, Body, Request, Response

from service.api.answers_speed import WorkingSpeedAnswer
from service.api.declaring import computed
from service.api.drawn_route import DrawnRoute, drawn, reply_as_asked
from service.api.examples_speed import WORKING_SPEED
from service.api.plot_speed import plot_speed
from service.api.present_speed import present_speed
from service.api.questions_speed import speed_question
from service.api.reader import AnyReader
from service.api.requests_speed import WorkingSpeedRequest
from service.usecases.working_speed import advise_speed

router = APIRouter(prefix="/v1", tags=["advice"], route_class=DrawnRoute)


@router.post(
    "/working-speed",
    operation_id="recommendWorkingSpeed",
    summary="Ground speed of least cost, from drop tests at two speeds or more",
    response_model=WorkingSpeedAnswer,
    responses=drawn(computed()),
)
async def recommend_working_speed(
    http: Request,
    body: Annotated[WorkingSpeedRequest, Body(openapi_examples=WORKING_SPEED)],
    reader: AnyReader,
) -> Response:
    """Loss curve, cost of time, delay and loss by speed, the best speed and its flat part, capacity at a stated loss.

    Ask for `image/svg+xml` to get the same as a chart.
    """
    answer = advise_speed(reader.table, speed_question(http, body, reader))
    return reply_as_asked(reader, present_speed(answer, reader), lambda: plot_speed(answer, reader))
