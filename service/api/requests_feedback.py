"""What a feedback request may hold: the fields of starting settings, and what was used and found.

Inside: a single report, one of a batch, a batch, and what may be asked of the list. Outside: the kinds of
field (`fields`), bounds (`limits`), turning a report into a question (`questions_feedback`).
"""

from datetime import datetime
from typing import Annotated, Any, Final, Literal
from uuid import UUID

from pydantic import Field, GetCoreSchemaHandler
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from service.api.fields import Given, Name, Number, Truth, Whole
from service.api.moments import Moment
from service.api.requests import FrameRequest, ReaderQuery, RequestModel, StartingSettingsRequest
from service.api.requests_adjustment import CurrentSettingRequest
from service.usecases.feedback_types import Advice, LossMethod, ReturnsLevel, TrialArm

MOST_ITEMS: Final = 100
_UUID: Final = "^[0-9a-fA-F]{8}(-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12}$"


class FeedbackRequest(StartingSettingsRequest):
    """Crop, field and machine as for starting settings; what was set, what was suggested, and what came of it."""

    observed_at: Annotated[datetime, Moment()] = Field(
        description="When it was seen, with the offset of the place; not when it is sent, which may be days later.",
        examples=["2026-07-28T14:30:00+02:00"],
    )
    machine: Annotated[str, Name(40)] = Field(
        description="The machine by a name of your own choosing, always the same one; no plate, no serial number.",
        examples=["red one"],
    )
    field: Annotated[str | None, Name(60)] = Field(
        None, description="The field by a name of your own choosing.", examples=["north 12"]
    )
    session_group: Annotated[str | None, Name(40)] = Field(
        None,
        description=(
            "Parts reports of one machine, field and day where conditions changed between them. Without it, all "
            "of them are compared with each other."
        ),
    )
    contributor: Annotated[str | None, Name(40)] = Field(
        None, description="Whose report it is; only with a key of the organisation."
    )
    settings_used: list[CurrentSettingRequest] = Field(
        [],
        max_length=20,
        description=(
            "Where the settings stood, each once. One that is left out stands as in the report before it of the same "
            "machine, field and day."
        ),
    )
    suggested_settings: list[CurrentSettingRequest] = Field(
        [], max_length=20, description="What had been shown to you, if you changed settings because of it."
    )
    advice: Annotated[Advice | None, Given()] = Field(
        None, description="Which advice this answers; together with `advice_revision`."
    )
    advice_revision: Annotated[str | None, Name(40)] = Field(
        None, description="Revision of the knowledge table that the advice came from.", examples=["2026.11.1"]
    )
    trial_arm: Annotated[TrialArm | None, Given()] = Field(
        None,
        description=(
            "Part of a trial: `base` table, `refined` table, or `step_test`: one setting changed on purpose and "
            "everything measured again."
        ),
    )
    trial_randomised: Annotated[bool, Truth()] = Field(
        default=False, description="Whether chance decided which arm came when."
    )
    machine_loss_kg_ha: Annotated[float | None, Number("machine_loss_kg_ha")] = Field(
        None, description="What left the rear of the machine, in one of four units; or `frames`."
    )
    machine_loss_lb_ac: Annotated[float | None, Number("machine_loss_lb_ac")] = Field(
        None, description="The same as `machine_loss_kg_ha` in pounds per acre."
    )
    machine_loss_bu_ac: Annotated[float | None, Number("machine_loss_bu_ac")] = Field(
        None, description="The same as `machine_loss_kg_ha` in legal bushels per acre."
    )
    machine_loss_pct: Annotated[float | None, Number("machine_loss_pct")] = Field(
        None, description="The same as `machine_loss_kg_ha` in percent of all that grew."
    )
    header_loss_kg_ha: Annotated[float | None, Number("header_loss_kg_ha")] = Field(
        None, description="What fell at the header, in one of four units; or `frames`."
    )
    header_loss_lb_ac: Annotated[float | None, Number("header_loss_lb_ac")] = Field(
        None, description="The same as `header_loss_kg_ha` in pounds per acre."
    )
    header_loss_bu_ac: Annotated[float | None, Number("header_loss_bu_ac")] = Field(
        None, description="The same as `header_loss_kg_ha` in legal bushels per acre."
    )
    header_loss_pct: Annotated[float | None, Number("header_loss_pct")] = Field(
        None, description="The same as `header_loss_kg_ha` in percent of all that grew."
    )
    loss_method: Annotated[LossMethod | None, Given()] = Field(
        None, description="How the losses were found; not with `frames`, which say so themselves."
    )
    frames: list[FrameRequest] = Field(
        [],
        max_length=50,
        description="What was found on the ground, as for ground losses; needs cut width and discharge width.",
    )
    discharge_width_m: Annotated[float | None, Number("discharge_width_m")] = Field(
        None, description="Width of the swath or spread on the ground, with `frames`."
    )
    discharge_width_ft: Annotated[float | None, Number("discharge_width_ft")] = Field(
        None, description="The same as `discharge_width_m` in feet."
    )
    discharge_width_error_pct: Annotated[float | None, Number("discharge_width_error_pct")] = Field(
        None, description="Uncertainty of the discharge width, as a standard error; 5 % if it is left out."
    )
    spreading: Annotated[Literal["swath", "spread"] | None, Given()] = Field(
        None, description="Whether straw was laid in a swath or spread, with `frames`."
    )
    broken_pct: Annotated[float | None, Number("broken_pct")] = Field(
        None, description="Broken and cracked kernels, of the sample from the tank."
    )
    foreign_matter_pct: Annotated[float | None, Number("foreign_matter_pct")] = Field(
        None, description="All that is no grain, of the sample from the tank."
    )
    returns_level: Annotated[ReturnsLevel | None, Given()] = Field(None, description="How much the returns carry.")
    grain_throughput_t_h: Annotated[float | None, Number("grain_throughput_t_h")] = Field(
        None, description="Grain per hour of cutting."
    )
    grain_throughput_bu_h: Annotated[float | None, Number("grain_throughput_bu_h")] = Field(
        None, description="The same as `grain_throughput_t_h` in legal bushels per hour."
    )
    rating: Annotated[int | None, Whole("rating")] = Field(
        None, description="How content you were: 1 not at all, 5 entirely. For people; nothing is learned from it."
    )
    note: Annotated[str | None, Name(1000, lines=True)] = Field(
        None, description="What else there is to say. For people; leave out names of persons."
    )
    latitude_deg: Annotated[float | None, Number("latitude_deg")] = Field(
        None, description="Only if you want to; kept to about a kilometre, never closer."
    )
    longitude_deg: Annotated[float | None, Number("longitude_deg")] = Field(
        None, description="Only if you want to; kept to about a kilometre, never closer."
    )


class FeedbackItemRequest(FeedbackRequest):
    """One report of a batch, with a key of its own."""

    idempotency_key: Annotated[str, Name(36, _UUID)] = Field(
        description="UUID of this report, made once and kept over every retry, alone or in another batch.",
        examples=["019829d4-7c00-7a6b-9d1e-5b2f8c0a4e11"],
    )

    @property
    def key(self) -> UUID:
        """Return the key as such."""
        return UUID(self.idempotency_key)


class EachAlone:
    """A list whose elements are checked one by one later on, so that a wrong one does not refuse the others."""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        def unchecked(value: Any, _: Any) -> Any:
            if not isinstance(value, list):
                raise PydanticCustomError("list_type", "not a list")
            if not value:
                raise PydanticCustomError("too_short", "an empty list")
            if len(value) > MOST_ITEMS:
                raise PydanticCustomError("too_long", "too long a list")
            return value

        # what this validates is never used, but the description of the list is made from it
        described = core_schema.list_schema(
            handler.generate_schema(FeedbackItemRequest), max_length=MOST_ITEMS, min_length=1
        )
        return core_schema.no_info_wrap_validator_function(unchecked, described)


class FeedbackBatchRequest(RequestModel):
    """Reports that were kept until there was a signal."""

    items: Annotated[list[FeedbackItemRequest], EachAlone()] = Field(
        description="Reports, each judged alone: those that are right are stored, whatever the others are."
    )


class FeedbackListQuery(ReaderQuery):
    """Which records, and how many at once."""

    crop: Annotated[str | None, Name()] = Field(None, description="Only this crop.", examples=["wheat"])
    contributor: Annotated[str | None, Name(40)] = Field(None, description="Only this contributor.")
    limit: Annotated[int, Whole("limit", text=True)] = Field(50, description="Records at once.")
    cursor: Annotated[str | None, Name(40)] = Field(None, description="`next` of the page before.")


class FeedbackExportQuery(ReaderQuery):
    """Which records."""

    crop: Annotated[str | None, Name()] = Field(None, description="Only this crop.", examples=["wheat"])
    contributor: Annotated[str | None, Name(40)] = Field(None, description="Only this contributor.")
