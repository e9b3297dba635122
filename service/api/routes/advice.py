"""Advice: starting settings and ground losses.

Computed from the request and the table alone, and from an organisation's local table where one is named.
"""

from typing import Annotated

from fastapi import APIRouter, Body, Query, Request, Response

from service.api import examples
from service.api.answers_losses import GroundLossAnswer
from service.api.answers_settings import StartingSettingsAnswer
from service.api.declaring import cacheable, computed, overlaid
from service.api.present_losses import present_losses
from service.api.present_settings import present_settings
from service.api.questions import loss_question, settings_question
from service.api.reader import AnyReader, OverlaidReader, overlaid_reader_of, reply
from service.api.requests import GroundLossRequest, StartingSettingsQuery, StartingSettingsRequest
from service.api.strict_route import StrictRoute
from service.usecases.ground_loss import assess
from service.usecases.starting_settings import recommend

router = APIRouter(prefix="/v1", tags=["advice"], route_class=StrictRoute)


@router.post(
    "/starting-settings",
    operation_id="recommendStartingSettings",
    summary="Starting settings for a crop, field and machine",
    response_model=StartingSettingsAnswer,
    responses=overlaid(computed()),
)
async def recommend_starting_settings(
    http: Request,
    body: Annotated[StartingSettingsRequest, Body(openapi_examples=examples.STARTING_SETTINGS)],
    reader: OverlaidReader,
) -> Response:
    """Start, low and high of every setting, why, which to try first, and the ground speed by named limits."""
    answer = recommend(reader.table, settings_question(http, body, reader), reader.local)
    return reply(reader, present_settings(answer, reader))


@router.get(
    "/starting-settings",
    operation_id="recommendStartingSettingsByQuery",
    summary="Starting settings, as an address that can be linked and cached",
    response_model=StartingSettingsAnswer,
    responses=overlaid(cacheable()),
)
async def recommend_starting_settings_by_query(
    http: Request, query: Annotated[StartingSettingsQuery, Query()]
) -> Response:
    """The same fields as query parameters, and byte for byte the same answer as POST."""
    reader = await overlaid_reader_of(http, query)
    answer = recommend(reader.table, settings_question(http, query, reader), reader.local)
    return reply(reader, present_settings(answer, reader))


@router.post(
    "/ground-loss",
    operation_id="assessGroundLoss",
    summary="Losses from what was counted on the ground",
    response_model=GroundLossAnswer,
    responses=computed(),
)
async def assess_ground_loss(
    http: Request,
    body: Annotated[GroundLossRequest, Body(openapi_examples=examples.GROUND_LOSS)],
    reader: AnyReader,
) -> Response:
    """Loss by place with its 95 % interval, money, a verdict, and how many more frames to lay."""
    answer = assess(reader.table, loss_question(http, body, reader))
    return reply(reader, present_losses(answer, reader))
