"""Straw and chaff behind the machine: computed from trays or a yield and the table alone."""

from typing import Annotated

from fastapi import APIRouter, Body, Request, Response

from service.api.answers_residue import ResidueAmountAnswer, ResidueSpreadAnswer
from service.api.declaring import computed
from service.api.draw_residue import draw_spread
from service.api.drawn_route import DrawnRoute, drawn, reply_as_asked
from service.api.examples_residue import RESIDUE_AMOUNT, RESIDUE_SPREAD
from service.api.present_residue import present_spread
from service.api.present_residue_amount import present_amount
from service.api.questions_residue import amount_question, spread_question
from service.api.reader import AnyReader, reply
from service.api.requests_residue import ResidueAmountRequest, ResidueSpreadRequest
from service.api.strict_route import StrictRoute
from service.usecases.residue_amount import reckon_residue
from service.usecases.residue_spread import judge_spread

router = APIRouter(prefix="/v1", tags=["advice"], route_class=DrawnRoute)
amount = APIRouter(prefix="/v1", tags=["advice"], route_class=StrictRoute)


@router.post(
    "/residue-spread",
    operation_id="assessResidueSpread",
    summary="How even straw and chaff lie, and what to change about it",
    response_model=ResidueSpreadAnswer,
    responses=drawn(computed()),
)
async def assess_residue_spread(
    http: Request,
    body: Annotated[ResidueSpreadRequest, Body(openapi_examples=RESIDUE_SPREAD)],
    reader: AnyReader,
) -> Response:
    """Evenness of a row of trays and after overlap, corrections, wind and slope; as SVG, the chart of it."""
    answer = judge_spread(reader.table, spread_question(http, body, reader))
    return reply_as_asked(reader, present_spread(answer, reader), lambda: draw_spread(answer, reader))


@amount.post(
    "/residue-amount",
    operation_id="assessResidueAmount",
    summary="How much straw and chaff a yield leaves",
    response_model=ResidueAmountAnswer,
    responses=computed(),
)
async def assess_residue_amount(
    http: Request,
    body: Annotated[ResidueAmountRequest, Body(openapi_examples=RESIDUE_AMOUNT)],
    reader: AnyReader,
) -> Response:
    """Residue by yield and by ratios, what goes through the machine, its load where it lies, ground cover."""
    return reply(reader, present_amount(reckon_residue(reader.table, amount_question(http, body, reader)), reader))
