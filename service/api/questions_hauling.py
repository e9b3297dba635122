"""From checked requests on unloading and hauling to their questions, in metric units."""

from fastapi import Request

from service.api.questions import remember, resolve, resolve_each
from service.api.reader import Reader
from service.api.requests_hauling import HaulingPlanRequest, UnloadingRequest
from service.usecases.hauling_types import Haulers, HaulingQuestion
from service.usecases.unloading_types import UnloadingQuestion


def unloading_question(http: Request, request: UnloadingRequest, reader: Reader) -> UnloadingQuestion:
    """Return the question of an unloading request."""
    resolved = resolve(request)
    remember(http, resolved.twins)
    return UnloadingQuestion(**resolved.values | {"revision": reader.revision})


def hauling_question(http: Request, request: HaulingPlanRequest, reader: Reader) -> HaulingQuestion:
    """Return the question of a hauling-plan request."""
    resolved = resolve(request)
    given, twins = resolve_each(request.haulers, "haulers")
    remember(http, resolved.twins | twins)
    haulers = tuple(Haulers(**one) for one in given)
    return HaulingQuestion(**resolved.values | {"haulers": haulers, "revision": reader.revision})
