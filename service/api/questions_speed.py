"""From a checked working-speed request to the question of its use case, in metric units."""

from fastapi import Request

from service.api.questions import resolve
from service.api.reader import Reader
from service.api.requests_speed import WorkingSpeedRequest
from service.usecases.working_speed_types import DropTest, SpeedQuestion


def speed_question(http: Request, request: WorkingSpeedRequest, reader: Reader) -> SpeedQuestion:
    """Return the question of a working-speed request."""
    resolved = resolve(request)
    tests, twins = [], dict(resolved.twins)
    for place, test in enumerate(request.drop_tests):
        inner = resolve(test, f"drop_tests.{place}.")
        twins |= inner.twins
        tests.append(DropTest(**inner.values))
    # a refusal of the use case names the metric field; the caller must read the name he wrote
    http.state.twins = twins
    return SpeedQuestion(**resolved.values | {"drop_tests": tuple(tests), "revision": reader.revision})
