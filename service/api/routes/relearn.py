"""What to relearn and check, the tasks there are, and belt slip. Computed from the request and the table alone."""

from typing import Annotated

from fastapi import APIRouter, Body, Request, Response

from service.api.answers_relearn import BeltSlipAnswer, RelearnAnswer, RelearnTaskList
from service.api.declaring import cacheable, computed
from service.api.examples_relearn import BELT_SLIP, RELEARN
from service.api.present_relearn import present_relearn, present_relearn_tasks, present_slip
from service.api.questions_relearn import relearn_question, slip_question
from service.api.reader import AnyReader, reply
from service.api.requests_relearn import BeltSlipRequest, RelearnRequest
from service.api.strict_route import StrictRoute
from service.usecases.belt_slip import judge_slip
from service.usecases.relearn import what_to_relearn

router = APIRouter(prefix="/v1", tags=["advice"], route_class=StrictRoute)
tasks = APIRouter(prefix="/v1", tags=["knowledge"], route_class=StrictRoute)


@router.post(
    "/relearn",
    operation_id="recommendRelearning",
    summary="What to relearn or check now, why, in which order and machine state",
    response_model=RelearnAnswer,
    responses=computed(),
)
async def recommend_relearning(
    body: Annotated[RelearnRequest, Body(openapi_examples=RELEARN)], reader: AnyReader
) -> Response:
    """Tasks due now in the order of the work, due soon, unknown and not due, each with reasons and cautions."""
    answer = what_to_relearn(reader.table, relearn_question(body, reader))
    return reply(reader, present_relearn(answer, reader))


@router.post(
    "/belt-slip",
    operation_id="assessBeltSlip",
    summary="How much a belt slips, from measured and expected shaft speeds",
    response_model=BeltSlipAnswer,
    responses=computed(),
)
async def assess_belt_slip(
    http: Request, body: Annotated[BeltSlipRequest, Body(openapi_examples=BELT_SLIP)], reader: AnyReader
) -> Response:
    """Slip in percent with its interval, what that level means, and what to do in which order."""
    answer = judge_slip(reader.table, slip_question(http, body, reader))
    return reply(reader, present_slip(answer, reader))


@tasks.get(
    "/relearn-tasks",
    operation_id="listRelearnTasks",
    summary="Tasks, events, fittings and machine states that relearning knows",
    response_model=RelearnTaskList,
    responses=cacheable(),
)
async def list_relearn_tasks(reader: AnyReader) -> Response:
    """Every task with its rules, every event with its parts, every fitting: what an app builds its form from."""
    return reply(reader, present_relearn_tasks(reader))
