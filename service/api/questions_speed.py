"""From a checked working-speed request to the question of its use case, in metric units."""

from fastapi import Request

from service.api.questions import remember, resolve, resolve_each
from service.api.reader import Reader
from service.api.requests_speed import WorkingSpeedRequest
from service.usecases.working_speed_types import DropTest, SpeedQuestion


def speed_question(http: Request, request: WorkingSpeedRequest, reader: Reader) -> SpeedQuestion:
    """Return the question of a working-speed request."""
    resolved = resolve(request)
    given, twins = resolve_each(request.drop_tests, "drop_tests")
    remember(http, resolved.twins | twins)
    tests = tuple(DropTest(**test) for test in given)
    return SpeedQuestion(**resolved.values | {"drop_tests": tests, "revision": reader.revision})
