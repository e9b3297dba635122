"""From a checked request for a harvest window to its question, in metric units."""

from fastapi import Request

from service.api.questions import frozen, remember, resolve
from service.api.reader import Reader
from service.api.requests_window import HarvestWindowRequest
from service.errors import InvalidInput
from service.usecases.window_types import Reading, Weather, WindowQuestion


def window_question(http: Request, request: HarvestWindowRequest, reader: Reader) -> WindowQuestion:
    """Return the question of a harvest-window request.

    Raises
    ------
    Contradiction
        If a field and its twin are both given.
    InvalidInput
        If there is no temperature.
    """
    resolved, sky = resolve(request), resolve(request.weather, "weather.")
    remember(http, resolved.twins | sky.twins)
    if not sky.values.get("temperature_c"):
        names = ["temperature_c", "temperature_f"]
        raise InvalidInput("weather.temperature_c", reason="reason.one_of", fields=names)
    weather = Weather(**frozen(sky.values))
    readings = tuple(Reading(time=one.time, moisture_pct=one.moisture_pct) for one in request.readings)
    return WindowQuestion(**resolved.values | {"weather": weather, "readings": readings, "revision": reader.revision})
