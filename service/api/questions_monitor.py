"""From a checked loss-monitor request to the question of its use case, in metric units."""

from fastapi import Request

from service.api.questions import frozen, remember, resolve, resolve_each
from service.api.reader import Reader
from service.api.requests_monitor import MonitorCalibrationRequest
from service.usecases.monitor_types import MonitorQuestion, PairGiven


def monitor_question(http: Request, request: MonitorCalibrationRequest, reader: Reader) -> MonitorQuestion:
    """Return the question of a loss-monitor request."""
    resolved = resolve(request)
    given, twins = resolve_each(request.pairs, "pairs")
    remember(http, resolved.twins | twins)
    pairs = tuple(PairGiven(**pair) for pair in given)
    return MonitorQuestion(**frozen(resolved.values) | {"pairs": pairs, "revision": reader.revision})
