"""The answer to readings of a loss monitor and what was measured for them."""

from pydantic import Field

from service.api.answers import Amount, Answer, Estimate, Evidence, Named, Note, Part, Reference, YieldAmount


class ReadingOut(Part):
    """A reading in the unit of the display, whatever unit system was asked for, with its 95 % interval."""

    value: float
    low: float | None = Field(None, description="Left out where nothing bounds it: the display may not follow.")
    high: float | None = Field(None, description="Left out where nothing bounds it.")


class MonitorPairOut(Part):
    """A pair, and whether it is on the line."""

    pair: int = Field(description="Place in the request, from 1.")
    reading: float
    loss: Amount = Field(description="Loss as measured.")
    error: Amount = Field(description="Its standard error, before the pairs told their scatter.")
    ground_speed: Amount
    loss_at_asked: Amount = Field(description="What the same signal means at the speed and width asked for.")
    role: str = Field(examples=["used", "stray", "beyond", "full_scale"])
    why: Note | None = Field(None, description="Why it is not on the line.")


class MonitorLineOut(Part):
    """Loss on reading: a straight line with its 95 % intervals."""

    method: str = Field(examples=["loss_on_reading", "errors_in_both"])
    note: Note
    loss_per_step: Estimate = Field(
        description="Loss for each step of the display: a rate, a loss, or 1 where the display shows a loss truly."
    )
    reading_without_loss: ReadingOut
    hidden_loss: Estimate | None = Field(None, description="Loss that a reading of zero leaves unseen.")
    residual: Amount = Field(description="Standard deviation of the pairs about the line.")
    scatter_ratio: float = Field(description="Scatter over the errors that were given; near 1 they were right.")
    r_squared: float
    pairs: int = Field(description="Pairs on the line.")
    follows_loss: bool = Field(description="Whether the display follows the loss beyond chance.")


class MonitorRangeOut(Part):
    """Where the line was seen to hold."""

    reading_low: float
    reading_high: float
    loss_low: Amount
    loss_high: Amount
    saturated: str = Field(examples=["yes", "no", "unknown"])
    note: Note


class DetectionOut(Evidence):
    """Least loss that stands out from readings without loss."""

    rate: Estimate
    loss: Estimate = Field(description="At the speed and width asked for.")
    kernels: Estimate
    origin: str = Field(examples=["no_loss_readings", "reading_error"])


class MonitorTargetOut(Part):
    """The loss of this stream that shall not be passed."""

    loss: Amount
    share: Amount
    origin: str = Field(examples=["request", "crop"])
    evidence: Evidence | None = None


class HoldOut(Part):
    """The reading that equals the target at a speed."""

    ground_speed: Amount
    reading: ReadingOut | None = Field(
        None,
        description="Left out where the display cannot show it: nothing yet, or past its range or scale.",
    )
    loss_at_same_reading: Amount = Field(description="Loss here if the reading of the asked speed is kept.")
    extrapolated: bool = Field(description="Outside the readings of the pairs.")


class SensitivityOut(Part):
    """Which way to move the sensitivity of this sensor, and by what share of what it is."""

    direction: str = Field(examples=["raise", "lower", "leave", "unknown"])
    change: Estimate | None = Field(None, description="Left out where no share can be told.")
    note: Note


class NotedOut(Evidence):
    """A text with how it is known."""

    note: Note


class MonitorCalibrationAnswer(Answer):
    """What a loss monitor is worth, the reading to hold, and which way to set it."""

    crop: Named
    sensor: Named
    summary: Note
    reading_unit: str = Field(examples=["index", "percent", "kg_ha", "lb_ac", "bu_ac"])
    follows: str = Field(examples=["rate", "area", "share"], description="What the display rises with.")
    ground_speed: Amount
    cut_width: Amount
    crop_yield: YieldAmount
    kernel_mass: Estimate
    pairs: list[MonitorPairOut]
    line: MonitorLineOut
    linear_range: MonitorRangeOut
    detection: DetectionOut | None = Field(None, description="Left out without readings at no loss.")
    target: MonitorTargetOut
    hold: list[HoldOut]
    sensitivity: SensitivityOut
    more_pairs: int | None = Field(
        None, description="Pairs to add for a slope known to 20 %; left out where no sensible number would do."
    )
    redo: list[NotedOut] = Field(description="When to do this again.")
    findings: list[NotedOut] = Field(description="What is known of loss monitors.")
    warnings: list[Note]
    cautions: list[Note]
    sources: list[Reference] = Field(description="Every source that is cited above.")
