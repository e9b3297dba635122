"""From a checked feedback request to the question of its use case, and the digest that tells requests apart."""

import hashlib
import json
from dataclasses import fields as fields_of
from typing import Any, Final

from fastapi import Request

from service.api.questions import remember, resolve, resolve_each
from service.api.requests import StartingSettingsRequest
from service.api.requests_feedback import FeedbackItemRequest, FeedbackRequest
from service.usecases.access import Caller
from service.usecases.adjustment_types import SettingTold
from service.usecases.feedback_types import FeedbackQuestion
from service.usecases.loss_types import FrameSet
from service.usecases.settings_types import SettingsQuestion

_ASKED: Final = frozenset(StartingSettingsRequest.model_fields)
_LOSSES: Final = ("machine_loss_", "header_loss_")
_PLAIN: Final = frozenset(field.name for field in fields_of(FeedbackQuestion))


def feedback_question(http: Request, request: FeedbackRequest) -> FeedbackQuestion:
    """Return the question of a report.

    Raises
    ------
    Contradiction, InvalidInput
        If a field and its twin are both given, or neither where one is needed.
    """
    resolved = resolve(request)
    frames, twins = resolve_each(request.frames, "frames")
    remember(http, resolved.twins | twins)
    values = resolved.values
    plain: dict[str, Any] = {name: value for name, value in values.items() if name in _PLAIN and name not in _ASKED}
    plain |= {
        "settings_used": tuple(SettingTold(**told.model_dump()) for told in request.settings_used),
        "suggested_settings": tuple(SettingTold(**told.model_dump()) for told in request.suggested_settings),
        "frames": tuple(FrameSet(**frame) for frame in frames),
    }
    return FeedbackQuestion(
        conditions=SettingsQuestion(**{name: value for name, value in values.items() if name in _ASKED}),
        losses={name: value for name, value in values.items() if name.startswith(_LOSSES)},
        **plain,
    )


def fingerprint(caller: Caller, request: FeedbackRequest) -> bytes:
    """Return a digest that is the same for the same report by the same sender, alone or in a batch."""
    own = {"idempotency_key"} if isinstance(request, FeedbackItemRequest) else None
    told = request.model_dump(mode="json", exclude_unset=True, exclude=own)
    written = json.dumps([caller.member_id, told], sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(written.encode()).digest()
