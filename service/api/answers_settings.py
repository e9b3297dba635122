"""The answer to a question for starting settings."""

from pydantic import Field

from service.api.answers import (
    Amount,
    Answer,
    Estimate,
    Evidence,
    LocalTableOut,
    Named,
    Note,
    Part,
    Reference,
    YieldAmount,
)


class LocalNumberOut(Part):
    """What a local number rests on. Fewer than five contributors are never shown as such."""

    records: int = Field(description="Records it rests on, doubtful ones counted less.")
    contributors_band: str = Field(
        description="How many contributors there were.", examples=["5-9", "10-19", "20-49", "50+"]
    )
    start: Estimate = Field(
        description=(
            "Start as it was published, at the crop's reference and for the standard sieve; the range is the 80 % "
            "interval of the best start."
        )
    )
    base_start: Amount = Field(description="Start of the base table that it was learnt against.")
    stale: bool = Field(
        description=(
            "Whether the base table has another start today. The difference from `base_start` is then added to today's."
        )
    )


class Contribution(Evidence):
    """What one condition adds to or takes from a start value."""

    code: str = Field(examples=["base", "local", "reference", "grain_moisture", "straw_condition", "use", "priority"])
    name: str
    amount: Amount
    origin: str = Field(
        description=(
            "Row or response of the knowledge table, the speed limit that binds, or `organisation@number` of a local "
            "table."
        )
    )


class SameSetting(Part):
    """The same setting said in another way."""

    code: str = Field(examples=["rotational_speed", "fan_level", "fan_speed", "reel_tip_speed"])
    name: str
    start: Amount
    low: Amount
    high: Amount


class Setting(Evidence):
    """One setting: where to start, and how far to go either way.

    The contributions add up exactly to `sum`, as decimal numbers and in either unit system; `start` is
    `sum` held inside `low` to `high`.
    """

    id: str = Field(examples=["threshing_speed", "concave_clearance_inlet", "upper_sieve_opening"])
    name: str
    meaning: str
    start: Amount
    low: Amount
    high: Amount
    sum: Amount = Field(description="Sum of the contributions.")
    range_evidence: Evidence = Field(
        description="How low and high are known; the evidence beside is that of the start."
    )
    bound: str = Field(description="Which end of the range held the sum back.", examples=["none", "low", "high"])
    contributions: list[Contribution]
    equivalents: list[SameSetting]
    table: str = Field(description="Whose number the start rests on.", examples=["base", "local"])
    local: LocalNumberOut | None = Field(None, description="Left out for a number of the base table.")
    row: str = Field(description="Row of the knowledge table.")
    row_note: str | None = Field(None, description="What the table says about the row.")
    notes: list[Note]


class SpeedLimit(Evidence):
    """What limits the ground speed; the evidence is that of the capacity figure behind it."""

    code: str = Field(examples=["separation", "cleaning", "power", "header", "unloading", "ceiling"])
    name: str
    speed: Estimate


class SpeedLimits(Part):
    """Every limit of the ground speed; the smallest one binds."""

    binding: str
    limits: list[SpeedLimit]


class SameStep(Part):
    """A step in another unit."""

    code: str = Field(examples=["rotational_speed", "fan_speed"])
    name: str
    amount: Amount


class FirstStepOut(Evidence):
    """Which setting to try first, which way, and why."""

    setting: str
    name: str
    direction: str = Field(examples=["up", "down"])
    step: Amount
    also: list[SameStep] = Field(description="The same step said in another way.")
    why: Note


class OutputFigure(Evidence):
    """A figure of the work at the advised ground speed; the evidence is that of the figure it hangs on most."""

    code: str = Field(examples=["grain_throughput", "straw_throughput", "area_rate", "engine_power_share"])
    name: str
    amount: Estimate


class ExpectedLoss(Evidence):
    """Machine loss to expect at the advised ground speed, in percent of yield."""

    low: Amount
    high: Amount
    reference: Amount = Field(description="Loss at full load.")
    feed_ratio: Amount = Field(description="Feed per feed at full load.")


class AirWindowOut(Part):
    """The cleaning air lies between what lifts the chaff and what lifts the kernel."""

    chaff: Amount
    kernel: Amount
    machine_maximum: Amount = Field(description="Most that the fan of this class gives at the sieve.")
    method: str = Field(examples=["measured", "sphere", "shaped"])
    kernel_evidence: Evidence
    chaff_evidence: Evidence


class SieveDesigns(Part):
    """The sieves that the openings hold for; on other sieves the same number passes another amount."""

    upper: Named
    lower: Named


class MachineFigure(Part):
    """A dimension that was used."""

    code: str = Field(examples=["engine_power", "cut_width", "drum_diameter"])
    name: str
    amount: Amount
    origin: str = Field(
        description="You gave it, it is usual for the class, or it grew with the channel width you gave.",
        examples=["request", "default", "scaled"],
    )
    evidence: Evidence | None = None


class StartingSettingsAnswer(Answer):
    """Starting settings that explain themselves."""

    crop: Named
    machine_class: Named
    size_band: Named
    moisture_band: str = Field(
        description="Where the moisture lies in the crop's window.", examples=["dry", "best", "damp"]
    )
    coverage: str = Field(description="How much of the task the table covers.", examples=["complete", "partial"])
    crop_yield: YieldAmount = Field(description="Yield that was counted with.")
    settings: list[Setting]
    ground_speed: SpeedLimits
    first_step: FirstStepOut
    output: list[OutputFigure]
    expected_loss: ExpectedLoss
    air: AirWindowOut
    sieve_designs: SieveDesigns
    machine: list[MachineFigure]
    checklist: list[Note]
    cautions: list[Note]
    warnings: list[Note]
    sources: list[Reference] = Field(description="Every source that is cited above.")
    local: LocalTableOut | None = Field(None, description="Left out where `table` was not asked for.")
    notes: list[Note] = Field(description="What makes the table better.")
