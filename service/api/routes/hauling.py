"""Unloading the tank and hauling the grain: computed from the request and the table alone."""

from typing import Annotated

from fastapi import APIRouter, Body, Request, Response

from service.api.answers_hauling import HaulingPlanAnswer, UnloadingAnswer
from service.api.declaring import computed
from service.api.draw_hauling import draw_hauling, draw_unloading
from service.api.drawn_route import DrawnRoute, drawn, reply_as_asked
from service.api.examples_hauling import HAULING_PLAN, UNLOADING
from service.api.present_hauling import present_hauling
from service.api.present_unloading import present_unloading
from service.api.questions_hauling import hauling_question, unloading_question
from service.api.reader import AnyReader
from service.api.requests_hauling import HaulingPlanRequest, UnloadingRequest
from service.usecases.hauling_plan import plan_hauling
from service.usecases.unloading import advise_unloading

router = APIRouter(prefix="/v1", tags=["advice"], route_class=DrawnRoute)


@router.post(
    "/unloading",
    operation_id="recommendUnloading",
    summary="When the tank is full, when to call the cart, and what each way of unloading costs",
    response_model=UnloadingAnswer,
    responses=drawn(computed()),
)
async def recommend_unloading(
    http: Request, body: Annotated[UnloadingRequest, Body(openapi_examples=UNLOADING)], reader: AnyReader
) -> Response:
    """Filling, the call, unloading on the move, standing, at the headland and at the edge; as SVG, the chart of it."""
    answer = advise_unloading(reader.table, unloading_question(http, body, reader))
    return reply_as_asked(reader, present_unloading(answer, reader), lambda: draw_unloading(answer, reader))


# no coroutine: the simulation computes for about a second, and would hold up every other answer meanwhile
@router.post(
    "/hauling-plan",
    operation_id="recommendHaulingPlan",
    summary="How many carts or trucks, what they let the combines do, and what a tonne costs",
    response_model=HaulingPlanAnswer,
    responses=drawn(computed()),
)
def recommend_hauling_plan(
    http: Request, body: Annotated[HaulingPlanRequest, Body(openapi_examples=HAULING_PLAN)], reader: AnyReader
) -> Response:
    """Output and cost by the number of haulers, simulated and where one reaches by formula; the bottleneck.

    The same request gives the same answer: every draw is seeded. Ask for `image/svg+xml` to get it as a chart.
    """
    answer = plan_hauling(reader.table, hauling_question(http, body, reader))
    return reply_as_asked(reader, present_hauling(answer, reader), lambda: draw_hauling(answer, reader))
