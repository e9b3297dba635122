"""Answers about feedback records."""

from datetime import datetime

from pydantic import Field

from service.api.answers import Amount, Answer, Estimate, Named, Note, Part, YieldAmount
from service.api.problems import Problem


class LossRecorded(Part):
    """A loss as it was recorded."""

    mass: Amount
    share: Estimate = Field(description="Percent of all that grew, with its 95 % interval where frames gave one.")


class FeedbackAccepted(Answer):
    """A report that is stored: when this answer goes out, it has been committed."""

    say: Note
    id: str = Field(description="Name of the record, for looking it up or taking it back.")
    contributor: str
    received_at: datetime
    season: int = Field(description="Year in which the season began.")
    session: str = Field(description="Reports with the same one are compared with each other.")
    machine_loss: LossRecorded | None = None
    header_loss: LossRecorded | None = None
    notes: list[Note]


class BatchResult(Part):
    """What became of one report of a batch: the record, or the problem."""

    idempotency_key: str | None = Field(None, description="Left out where the report had none that could be read.")
    status: int = Field(description="The status that the report alone would have had.", examples=[201, 422])
    feedback: FeedbackAccepted | None = None
    problem: Problem | None = None


class FeedbackBatchAnswer(Answer):
    """What became of each report, in the order they came in."""

    stored: int
    refused: int
    results: list[BatchResult]


class SettingRecorded(Part):
    """A setting as it stood, or as it was suggested."""

    id: str
    name: str
    amount: Amount


class ConditionsRecorded(Part):
    """Crop, field and wishes at the time."""

    grain_moisture: Amount
    moisture_band: str = Field(examples=["dry", "best", "damp"])
    crop_yield: YieldAmount
    straw_condition: str = Field(examples=["normal", "tough"])
    straw_to_grain: Amount
    stand: str = Field(examples=["upright", "lodged"])
    slope_along: Amount
    slope_across: Amount
    use: str = Field(examples=["feed", "milling"])
    priority: str = Field(examples=["balanced", "loss"])


class OutcomesRecorded(Part):
    """What came of it; what was not measured is left out."""

    machine_loss: LossRecorded | None = None
    header_loss: LossRecorded | None = None
    loss_method: str | None = Field(None, examples=["frames", "pans", "monitor", "estimate"])
    broken: Amount | None = None
    foreign_matter: Amount | None = None
    returns_level: str | None = Field(None, examples=["little", "normal", "much", "overloaded"])
    grain_throughput: Amount | None = None
    rating: int | None = None
    note: str | None = None


class CoarsePlaceOut(Part):
    """About where, to a kilometre."""

    latitude_deg: float
    longitude_deg: float


class FeedbackRecord(Part):
    """One record."""

    id: str
    contributor: str
    received_at: datetime
    observed_at: datetime
    season: int
    machine: str
    field: str | None = None
    session: str
    crop: Named
    machine_class: Named
    conditions: ConditionsRecorded
    settings: list[SettingRecorded]
    suggested: list[SettingRecorded] | None = None
    suggested_from: str | None = Field(
        None,
        description="Whether the contributor told it, or it was worked out from the table.",
        examples=["told", "computed"],
    )
    advice: str | None = Field(None, examples=["starting_settings", "next_adjustment"])
    advice_revision: str | None = None
    trial_arm: str | None = Field(None, examples=["base", "refined", "step_test"])
    trial_randomised: bool
    outcomes: OutcomesRecorded
    place: CoarsePlaceOut | None = None
    knowledge_revision: str = Field(description="Revision of the table that units and losses were worked out with.")


class FeedbackAnswer(Answer):
    """One record."""

    feedback: FeedbackRecord


class FeedbackPage(Answer):
    """Records, newest first."""

    items: list[FeedbackRecord]
    next: str | None = Field(None, description="`cursor` of the next page; left out on the last one.")
