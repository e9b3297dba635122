"""One entry per field that is wrong: where, why, and what was likely meant.

Inside: validation errors, refusals of the use cases and of the HTTP layer, each to entries in the
reader's language. Outside: status and shape of the answer (`problems`), nearest names (`nearest`).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from fastapi.routing import APIRoute
from pydantic import BaseModel, ConfigDict, Field

from service.api.limits import LIMITS, TWINS, slip
from service.api.nearest import choices_at, fields_at, nearest_fields, nearest_names
from service.api.refusal import Location, RefusalError
from service.api.requests import FrameRequest, GroundLossRequest, OverlaidQuery, StartingSettingsRequest
from service.api.requests_adjustment import NextAdjustmentRequest
from service.api.requests_feedback import FeedbackItemRequest
from service.api.requests_monitor import MonitorCalibrationRequest, MonitorPairRequest
from service.api.requests_relearn import BeltSlipRequest, RelearnRequest
from service.api.requests_residue import ResidueAmountRequest, ResidueSpreadRequest
from service.api.requests_speed import DropTestRequest, WorkingSpeedRequest
from service.domain.types import Message
from service.errors import Contradiction, NotCovered, OutOfRange, OutsideWindow, ServiceError, UnknownName
from service.knowledge.table import KnowledgeTable
from service.text import Language, decimal, render, unit_label
from service.units import UnitSystem

MOST_ITEMS: Final = 50
_MOST_GUESSES: Final = 10  # guessing costs more than all the rest of a refusal
_LONGEST_NAME: Final = 80
_FIELDS: Final = frozenset(
    field
    for model in (
        StartingSettingsRequest,
        GroundLossRequest,
        FrameRequest,
        MonitorCalibrationRequest,
        MonitorPairRequest,
        WorkingSpeedRequest,
        DropTestRequest,
        NextAdjustmentRequest,
        RelearnRequest,
        BeltSlipRequest,
        ResidueSpreadRequest,
        ResidueAmountRequest,
        FeedbackItemRequest,
        OverlaidQuery,
    )
    for field in model.model_fields
)

# what pydantic calls an error -> our code
_CODES: Final[dict[str, str]] = {
    "missing": "required",
    "extra_forbidden": "unknown_field",
    "finite_number": "not_finite",
    "greater_than_equal": "out_of_range",
    "less_than_equal": "out_of_range",
    "literal_error": "unknown_name",
    "string_too_short": "wrong_length",
    "string_too_long": "wrong_length",
    "too_short": "wrong_length",
    "too_long": "wrong_length",
    "string_unicode": "bad_text",
    "string_pattern_mismatch": "bad_text",
    "bad_text": "bad_text",
}
# the text of a wrong type names the type that is right
_TYPES: Final[dict[str, str]] = {
    "float_type": "number",
    "float_parsing": "number",
    "decimal_comma": "decimal_comma",
    "int_type": "whole_number",
    "int_from_float": "whole_number",
    "int_parsing": "whole_number",
    "int_parsing_size": "whole_number",
    "bool_type": "truth",
    "string_type": "text",
    "list_type": "list",
    "bad_moment": "moment",
    "bad_day": "day",
}


class ProblemItem(BaseModel):
    """One field that is wrong."""

    model_config = ConfigDict(extra="forbid")

    pointer: str | None = Field(None, description="JSON Pointer (RFC 6901) into the body.")
    parameter: str | None = Field(None, description="Name of the query or path parameter.")
    code: str = Field(description="What is wrong; stays the same in every language.")
    detail: str = Field(description="What is wrong, for people.")
    allowed: list[str] | None = Field(None, description="Names that are known.")
    nearest: list[str] | None = Field(None, description="Names that were likely meant.")
    suggested: float | None = Field(None, description="Value that was likely meant, where the unit looks wrong.")
    unit: str | None = Field(None, description="UCUM unit of `low`, `high` and `suggested`.")
    low: float | None = Field(None, description="Least value.")
    high: float | None = Field(None, description="Greatest value.")


@dataclass(frozen=True, slots=True)
class Telling:
    """How to tell: language, whether fields came as parameters, names the caller used, names of crops."""

    lang: Language
    units: UnitSystem
    parameters: bool
    twins: Mapping[str, str]
    table: KnowledgeTable

    def text(self, code: str, **params: object) -> str:
        """Render a text of this language."""
        return render(Message(code, params), self.lang, self.units)

    def named(self, field: str) -> str:
        """Return the name that the caller used for a field, for an element of a list that of the list."""
        head, _, last = field.rpartition(".")
        return self.twins.get(field) or (self.twins.get(head) if last.isdigit() else None) or field

    def where(self, field: str) -> dict[str, str]:
        """Return pointer or parameter of a field that a use case named."""
        if self.parameters or field in OverlaidQuery.model_fields:
            return {"parameter": field}
        return {"pointer": pointer(field.split(".") if field else ())}


def pointer(steps: Sequence[str | int]) -> str:
    """Return the JSON Pointer; a name of the caller's own making is cut to a fair length."""
    parts = (str(step)[:_LONGEST_NAME].replace("~", "~0").replace("/", "~1") for step in steps)
    return "".join("/" + part.encode("utf-8", "replace").decode() for part in parts)


def from_refusal(telling: Telling, error: RefusalError) -> list[ProblemItem]:
    """Entry of a refusal that the HTTP layer decided on."""
    return [
        ProblemItem(
            **_place(error.location),
            code=error.code,
            detail=telling.text(f"problem.{error.code}.detail", **error.facts),
        )
    ]


def _place(location: Location) -> dict[str, str]:
    kind, *steps = location
    return (
        {"pointer": pointer(steps)}
        if kind == "body"
        else {"parameter": str(steps[-1])[:_LONGEST_NAME] if steps else ""}
    )


def from_validation(telling: Telling, route: APIRoute, errors: Sequence[Mapping[str, Any]]) -> list[ProblemItem]:
    """Entries of the field checks, in the order of the fields, never with the rejected value."""
    return [
        _from_check(telling, route, error, guess=place < _MOST_GUESSES)
        for place, error in enumerate(errors[:MOST_ITEMS])
    ]


def _from_check(telling: Telling, route: APIRoute, error: Mapping[str, Any], *, guess: bool) -> ProblemItem:
    kind, location = error["type"], tuple(error["loc"])
    code = _CODES.get(kind, "wrong_type")
    place = _place(location)
    name = next((step for step in reversed(location) if isinstance(step, str)), "")
    if code == "unknown_field":
        near = nearest_fields(name, fields_at(route, location[:-1])) if guess else []
        return ProblemItem(
            **place, code=code, detail=_did_you_mean(telling, "problem.item.unknown_field", near), nearest=near or None
        )
    if code == "unknown_name":
        allowed = choices_at(route, location)
        return _unknown(telling, place, nearest_names(error.get("input"), allowed), allowed)
    if code == "out_of_range":
        return _range(telling, place, name, error.get("input"))
    if code == "wrong_type":
        right = "null" if error.get("input") is None else _TYPES.get(kind, "object")
        text = f"problem.item.wrong_type.{right}"
        return ProblemItem(**place, code=code, detail=telling.text(text))
    return ProblemItem(**place, code=code, detail=telling.text(f"problem.item.{code}"))


def _did_you_mean(telling: Telling, code: str, near: Sequence[str]) -> str:
    text = telling.text(code)
    return f"{text} {telling.text('problem.hint.did_you_mean', nearest=' / '.join(near))}" if near else text


def _unknown(telling: Telling, place: dict[str, str], near: Sequence[str], allowed: Sequence[str]) -> ProblemItem:
    detail = _did_you_mean(telling, "problem.item.unknown_name", near)
    return ProblemItem(**place, code="unknown_name", detail=detail, nearest=list(near) or None, allowed=list(allowed))


def _range(telling: Telling, place: dict[str, str], field: str, value: object) -> ProblemItem:
    limit = LIMITS[field]
    detail = _between(telling, limit.low, limit.high, limit.unit)
    found = slip(field, float(value)) if isinstance(value, int | float | str) and _is_number(value) else None
    suggested = None
    if found is not None:
        hint, suggested = found
        detail += " " + telling.text(f"problem.hint.{hint}", suggested=_number(telling, suggested, limit.unit))
    return ProblemItem(
        **place,
        code="out_of_range",
        detail=detail,
        suggested=suggested,
        unit=limit.unit or None,
        low=limit.low,
        high=limit.high,
    )


def _is_number(value: float | str) -> bool:
    try:
        float(value)
    except (ValueError, OverflowError):
        return False
    return True


def _between(telling: Telling, low: float | None, high: float | None, unit: str) -> str:
    ends = {name: _number(telling, end, unit) for name, end in (("low", low), ("high", high)) if end is not None}
    code = {("low", "high"): "between", ("low",): "at_least", ("high",): "at_most"}.get(tuple(ends), "not_possible")
    return telling.text(f"problem.item.out_of_range.{code}", **ends)


def _number(telling: Telling, value: float, unit: str) -> str:
    label = unit_label(unit, telling.lang) if unit else ""
    return f"{decimal(value, telling.lang)} {label}".strip()


def from_service_error(telling: Telling, error: ServiceError) -> list[ProblemItem]:
    """Entries of a refusal by a use case, under the names that the caller used."""
    field = telling.named(error.field)
    place = telling.where(_renamed(error.field, field))
    match error:
        case OutOfRange():
            return [_domain_range(telling, place, error, field)]
        case UnknownName():
            return [_unknown_name(telling, place, error)]
        case OutsideWindow():
            return [_window(telling, place, error)]
        case NotCovered():
            why = error.facts["why"]
            return [ProblemItem(**place, code=error.code, detail=telling.text("problem.not_covered.detail", why=why))]
        case Contradiction():
            detail = _reason(telling, error)
            fields: Any = error.facts["fields"]
            names = [_renamed(one, telling.named(one)) for one in fields]
            return [ProblemItem(**telling.where(name), code=error.code, detail=detail) for name in names]
        case _:
            return [ProblemItem(**place, code=error.code, detail=_reason(telling, error))]


def _unknown_name(telling: Telling, place: dict[str, str], error: UnknownName) -> ProblemItem:
    if error.field == "table":  # who else is an organisation here is nobody's business
        return ProblemItem(**place, code=error.code, detail=telling.text("problem.item.unknown_name.unlisted"))
    return _unknown(telling, place, error.facts["nearest"], error.facts["allowed"])  # type: ignore[arg-type]


def _renamed(field: str, name: str) -> str:
    """Put the caller's name at the end of the path: `frames.2.area_m2` to `frames.2.area_ft2`."""
    head, dot, last = field.rpartition(".")
    if name == field:
        return field
    return f"{_renamed(head, name)}.{last}" if last.isdigit() else head + dot + name


def _reason(telling: Telling, error: ServiceError) -> str:
    # a text that names fields names them as the caller wrote them
    facts = {name: telling.twins.get(one, one) if isinstance(one, str) else one for name, one in error.facts.items()}
    return telling.text(str(error.facts["reason"]), **facts)


def _domain_range(telling: Telling, place: dict[str, str], error: OutOfRange, name: str) -> ProblemItem:
    low, high, unit = (error.facts[key] for key in ("low", "high", "unit"))
    twin = TWINS.get(name) if name != error.field else None
    ends: list[float | None] = [None if end is None else float(str(end)) for end in (low, high)]
    if twin is not None and twin.unit:
        ends = [None if end is None else twin.own_value(end) for end in ends]
        unit = twin.unit
    reason = str(error.facts["reason"])
    if "." in reason:
        detail = telling.text(reason, **error.facts)
    elif any(part in _FIELDS for part in error.field.split(".")) or error.field == "":
        detail = _between(telling, ends[0], ends[1], str(unit))
    else:  # a formula refused what several fields together gave it
        place = {"pointer": ""} if "pointer" in place else {"parameter": ""}
        detail = telling.text("problem.item.out_of_range.together", quantity=error.field.replace("_", " "))
    return ProblemItem(**place, code=error.code, detail=detail, unit=str(unit) or None, low=ends[0], high=ends[1])


def _window(telling: Telling, place: dict[str, str], error: OutsideWindow) -> ProblemItem:
    facts = error.facts
    crop = telling.table.crop(str(facts["crop"])).names
    low, high = float(str(facts["low"])), float(str(facts["high"]))
    side = str(facts["side"])
    moist = side in ("dry", "wet")  # else the use that sets the limit
    detail = telling.text(
        f"problem.item.outside_window.{side if moist else 'use'}",
        crop=crop,
        use=side,
        low=_number(telling, low, "%"),
        high=_number(telling, high, "%"),
    )
    return ProblemItem(**place, code=error.code, detail=detail, unit="%", low=low, high=high)
