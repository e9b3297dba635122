"""From a checked request to the question of a use case, in metric units.

Inside: United States twins to their metric fields, refusing both at once, required either-or fields.
Outside: bounds and kinds of fields (`requests`), what the answers mean (`usecases`).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from fastapi import Request

from service.api.limits import TWINS, Twin
from service.api.reader import Reader
from service.api.requests import FrameRequest, GroundLossRequest, OverlaidQuery, RequestModel
from service.api.requests_hauling import HaulingPlanRequest, UnloadingRequest
from service.api.requests_monitor import MonitorCalibrationRequest
from service.api.requests_residue import ResidueSpreadRequest
from service.api.requests_speed import DropTestRequest, WorkingSpeedRequest
from service.errors import Contradiction, InvalidInput
from service.usecases.loss_types import FrameSet, LossQuestion
from service.usecases.settings_types import SettingsQuestion

# fields that a question needs, but that may come as their twin
_EITHER: Final[dict[type[RequestModel], tuple[str, ...]]] = {
    GroundLossRequest: ("cut_width_m", "discharge_width_m"),
    FrameRequest: ("area_m2",),
    MonitorCalibrationRequest: ("cut_width_m", "ground_speed_km_h"),
    WorkingSpeedRequest: ("cut_width_m",),
    ResidueSpreadRequest: ("cut_width_m",),
    DropTestRequest: ("ground_speed_km_h", "machine_loss_kg_ha"),
    UnloadingRequest: ("cut_width_m", "ground_speed_km_h"),
    HaulingPlanRequest: ("cut_width_m", "ground_speed_km_h", "distance_km", "haul_speed_km_h"),
}


@dataclass(slots=True)
class Resolved:
    """Metric values by field, and for each that came as a twin the name of the twin."""

    values: dict[str, Any]
    twins: dict[str, str] = field(default_factory=dict)


def resolve(request: RequestModel, where: str = "") -> Resolved:
    """Return the given fields in metric units; `where` leads to a nested model, `frames.2.`.

    Raises
    ------
    Contradiction
        If a field and its twin, or two twins of one field, are both given.
    InvalidInput
        If neither a required field nor a twin of it is given.
    """
    given = {name: getattr(request, name) for name in sorted(request.model_fields_set, key=_order(request))}
    said: dict[str, str] = {}
    for name in given:
        metric = TWINS[name].metric if name in TWINS else name
        if metric in said:
            first, second = said[metric], name
            fields = [where + first, where + second]
            raise Contradiction(fields, "reason.both_given", first=first, second=second)
        said[metric] = name
    for required in _EITHER.get(type(request), ()):
        if required not in said:
            twins = [name for name, twin in TWINS.items() if twin.metric == required]
            raise InvalidInput(where + required, reason="reason.one_of", fields=[required, *twins])
    values: dict[str, Any] = {}
    came_as: dict[str, str] = {}
    for metric, name in said.items():
        if name != metric and TWINS[name].unit:
            values[metric] = _converted(TWINS[name], given[name])
            came_as[where + metric] = name
        else:
            values[name] = given[name]
    return Resolved(values, came_as)


def resolve_each(parts: Sequence[RequestModel], name: str) -> tuple[list[dict[str, Any]], dict[str, str]]:
    """Return the given fields of each nested model in metric units, and the names the caller wrote for them.

    Raises
    ------
    Contradiction, InvalidInput
        As `resolve`.
    """
    found = [resolve(part, f"{name}.{place}.") for place, part in enumerate(parts)]
    twins = {metric: wrote for one in found for metric, wrote in one.twins.items()}
    return [frozen(one.values) for one in found], twins


def frozen(values: Mapping[str, Any]) -> dict[str, Any]:
    """Return fields as a question keeps them, lists as tuples."""
    return {name: tuple(value) if isinstance(value, list) else value for name, value in values.items()}


def _converted(twin: Twin, value: Any) -> Any:
    return [twin.metric_value(one) for one in value] if isinstance(value, list) else twin.metric_value(value)


def _order(request: RequestModel) -> Any:
    places = {name: place for place, name in enumerate(type(request).model_fields)}
    return places.__getitem__


def settings_question(http: Request, request: RequestModel, reader: Reader) -> SettingsQuestion:
    """Return the question of a starting-settings request, from the body or from the query."""
    resolved = resolve(request)
    remember(http, resolved.twins)
    return SettingsQuestion(**_without_reader(resolved.values), revision=reader.revision)


def loss_question(http: Request, request: GroundLossRequest, reader: Reader) -> LossQuestion:
    """Return the question of a ground-loss request."""
    resolved = resolve(request)
    frames, twins = resolve_each(request.frames, "frames")
    remember(http, resolved.twins | twins)
    sets = tuple(FrameSet(**frame) for frame in frames)
    return LossQuestion(**resolved.values | {"frames": sets, "revision": reader.revision})


def _without_reader(values: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in values.items() if name not in OverlaidQuery.model_fields}


def remember(http: Request, twins: Mapping[str, str]) -> None:
    """Keep the names the caller wrote for the problem answer."""
    # a refusal of the use case names the metric field; the caller must read the name he wrote
    http.state.twins = dict(twins)
