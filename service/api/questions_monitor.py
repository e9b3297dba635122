"""From a checked loss-monitor request to the question of its use case, in metric units."""

from typing import Any

from fastapi import Request

from service.api.questions import remember, resolve
from service.api.reader import Reader
from service.api.requests_monitor import MonitorCalibrationRequest
from service.usecases.monitor_types import MonitorQuestion, PairGiven


def monitor_question(http: Request, request: MonitorCalibrationRequest, reader: Reader) -> MonitorQuestion:
    """Return the question of a loss-monitor request."""
    resolved = resolve(request)
    pairs, twins = [], dict(resolved.twins)
    for place, pair in enumerate(request.pairs):
        inner = resolve(pair, f"pairs.{place}.")
        twins |= inner.twins
        pairs.append(PairGiven(**_frozen(inner.values)))
    remember(http, twins)
    return MonitorQuestion(**_frozen(resolved.values) | {"pairs": tuple(pairs), "revision": reader.revision})


def _frozen(values: dict[str, Any]) -> dict[str, Any]:
    return {name: tuple(value) if isinstance(value, list) else value for name, value in values.items()}
