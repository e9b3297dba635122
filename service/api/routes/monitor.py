"""The loss monitor against what lay on the ground. Computed from the request and the table alone."""

from typing import Annotated

from fastapi import APIRouter, Body, Request, Response

from service.api.answers_monitor import MonitorCalibrationAnswer
from service.api.declaring import computed
from service.api.draw_monitor import draw_monitor
from service.api.drawn_route import DrawnRoute, drawn, reply_as_asked
from service.api.examples_monitor import MONITOR_CALIBRATION
from service.api.present_monitor import present_monitor
from service.api.questions_monitor import monitor_question
from service.api.reader import AnyReader
from service.api.requests_monitor import MonitorCalibrationRequest
from service.usecases.monitor_calibration import calibrate

router = APIRouter(prefix="/v1", tags=["advice"], route_class=DrawnRoute)


@router.post(
    "/monitor-calibration",
    operation_id="assessLossMonitor",
    summary="What a loss monitor is worth, from readings and measured losses",
    response_model=MonitorCalibrationAnswer,
    responses=drawn(computed()),
)
async def assess_loss_monitor(
    http: Request,
    body: Annotated[MonitorCalibrationRequest, Body(openapi_examples=MONITOR_CALIBRATION)],
    reader: AnyReader,
) -> Response:
    """Line with intervals, pairs that do not belong, detection limit, readings to hold, sensitivity; or its chart."""
    answer = calibrate(reader.table, monitor_question(http, body, reader))
    return reply_as_asked(reader, present_monitor(answer, reader), lambda: draw_monitor(answer, reader))
