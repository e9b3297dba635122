"""From a checked next-adjustment request to the question of its use case.

Settings keep the unit that they came in: which ones a setting may come in is known where it is looked up.
"""

from typing import Any, Final

from fastapi import Request

from service.api.questions import remember, resolve
from service.api.reader import Reader
from service.api.requests_adjustment import (
    MeasuredRequest,
    NextAdjustmentRequest,
    PastChangeRequest,
    SymptomRequest,
)
from service.usecases.adjustment_types import AdjustmentQuestion, PastChange, SettingTold, Symptom
from service.usecases.settings_types import SettingsQuestion

_OWN: Final = ("current_settings", "symptoms", "measured", "checks_done", "history")


def adjustment_question(http: Request, request: NextAdjustmentRequest, reader: Reader) -> AdjustmentQuestion:
    """Return the question of a next-adjustment request."""
    resolved = resolve(request)
    remember(http, resolved.twins)
    conditions: dict[str, Any] = {name: value for name, value in resolved.values.items() if name not in _OWN}
    return AdjustmentQuestion(
        conditions=SettingsQuestion(**conditions, revision=reader.revision),
        current_settings=tuple(SettingTold(**told.model_dump()) for told in request.current_settings),
        symptoms=_symptoms(request.symptoms),
        measured=_measured(request.measured),
        checks_done=tuple(request.checks_done),
        history=tuple(_past(past) for past in request.history),
    )


def _past(past: PastChangeRequest) -> PastChange:
    return PastChange(
        setting=past.setting,
        from_value=past.from_value,
        to_value=past.to_value,
        unit=past.unit,
        effect=past.effect,
        measured_before=_measured(past.measured_before),
        measured_after=_measured(past.measured_after),
        symptoms_before=_symptoms(past.symptoms_before),
        symptoms_after=_symptoms(past.symptoms_after),
    )


def _symptoms(seen: list[SymptomRequest]) -> tuple[Symptom, ...]:
    return tuple(Symptom(**one.model_dump()) for one in seen)


def _measured(measured: MeasuredRequest | None) -> dict[str, float]:
    return {} if measured is None else measured.model_dump(exclude_unset=True)
