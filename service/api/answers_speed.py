"""The answer to how fast to drive. Money has units such as `{EUR}/har`."""

from pydantic import Field

from service.api.answers import Amount, Answer, Estimate, Evidence, Named, Note, Part, Reference, YieldAmount


class CostSplit(Part):
    """Money per area by kind."""

    machine: Amount = Field(description="Machine and driver.")
    delay: Amount = Field(description="What the area that still stands loses in that time.")
    loss: Amount = Field(description="Value of the grain left on the field.")
    total: Amount


class AtSpeed(Part):
    """Everything at one ground speed, by the curve."""

    ground_speed: Amount
    loss: Amount
    loss_share: Estimate = Field(
        description="Percent of all that grew; limits are 95 %, left out where nothing tells them."
    )
    area_rate: Amount
    cost: CostSplit
    extrapolated: bool = Field(description="The speed lies outside those that were tested.")


class DropTestOut(Part):
    """A drop test beside the curve."""

    ground_speed: Amount
    machine_loss: Amount
    header_loss: Amount | None = None
    loss: Amount = Field(description="Machine and header.")
    loss_share: Amount
    below: bool = Field(description="Nothing was found behind the machine: the loss is small, not zero.")
    fitted: AtSpeed


class CurveForm(Part):
    """A form of the loss curve, with its own best speed."""

    code: str = Field(examples=["exponential", "power", "quadratic"])
    name: str
    chosen: bool
    coefficients: list[float] = Field(
        description="For km/h and kg/ha whatever the unit system: a, k of a exp(k v); a, b of a v^b; c0, c1, c2."
    )
    misfit: float | None = Field(
        None, description="At tests that were left out, over that of the form chosen. Left out where it cannot be told."
    )
    best_speed: Amount
    cost: Amount


class BestSpeedOut(AtSpeed):
    """The ground speed at which an area costs least, within the range that the tests allow."""

    edge: str = Field(
        description="`low` or `high` where the least cost lies at an end of that range.",
        examples=["none", "low", "high"],
    )
    flat: Estimate = Field(description="Speeds that cost at most `flat_share` more.")
    flat_share: Amount
    left_out: Estimate | None = Field(None, description="Range of the best speed when each test is left out in turn.")
    grain_throughput: Amount
    straw_throughput: Amount = Field(description="Straw and chaff.")
    field_efficiency: Amount


class StepOut(Part):
    """What another speed changes; below zero is saved."""

    code: str = Field(examples=["slower", "faster", "between_tests"])
    name: str
    from_speed: Amount
    to_speed: Amount
    time: Amount = Field(description="Money for machine, driver and delay.")
    loss: Amount = Field(description="Money for grain left on the field.")
    total: Amount
    hours_on_area: Amount | None = Field(None, description="On the area left.")
    total_on_area: Amount | None = Field(None, description="On the area left.")


class HourPartOut(Part):
    """A part of what an hour costs."""

    code: str = Field(examples=["depreciation", "repair", "fuel", "labour"])
    name: str
    amount: Amount
    counted: bool
    evidence: Evidence | None = None


class HourOut(Part):
    """What an hour costs."""

    origin: str = Field(examples=["request", "computed"])
    machine: Amount
    delay: Amount
    parts: list[HourPartOut]
    delay_share_per_day: Amount | None = Field(None, description="Of the crop's value.")
    delay_evidence: Evidence | None = None


class CapacityOut(Part):
    """Capacity at a stated loss: a number without the level and what it counts says nothing."""

    loss_level: Amount
    scope: str = Field(examples=["machine"])
    evidence: Evidence | None = Field(None, description="Of the level, where it is not the caller's own.")
    reached: str = Field(examples=["inside", "above_range", "below_range", "not_rising"])
    text: str
    ground_speed: Amount | None = None
    grain_throughput: Amount | None = None
    straw_throughput: Amount | None = None
    area_rate: Amount | None = None
    extrapolated: bool


class MachineUsed(Part):
    """A dimension that was used."""

    code: str = Field(examples=["engine_power", "machine_mass"])
    name: str
    amount: Amount
    origin: str = Field(examples=["request", "default"])


class EngineOut(Part):
    """Engine power and fuel at the best speed."""

    power: Estimate
    power_share: Estimate
    speed_limit: Amount = Field(description="Where the model says that the engine is used up but for its reserve.")
    limits: bool = Field(description="Whether that limit ended the range. Tests that were faster overrule it.")
    fuel_per_hour: Amount = Field(description="Mean over a season, from rated power.")
    fuel_per_area: Amount
    machine: list[MachineUsed]
    power_evidence: Evidence
    fuel_evidence: Evidence


class RangeOut(Part):
    """Speeds that were tested, and those in which the curve may be used: one step more on either side."""

    tested_low: Amount
    tested_high: Amount
    step: Amount
    low: Amount
    high: Amount


class WorkingSpeedAnswer(Answer):
    """Cost by ground speed, the speed of least cost and its flat part, and capacity at a stated loss."""

    crop: Named
    crop_yield: YieldAmount
    cut_width: Amount
    price: Amount
    scope: str = Field(description="What the losses count.", examples=["machine", "machine_and_header"])
    summary: Note
    best: BestSpeedOut
    steps: list[StepOut]
    capacity: CapacityOut
    tests: list[DropTestOut]
    range: RangeOut
    forms: list[CurveForm] = Field(description="The form chosen first.")
    why_form: Note
    hour: HourOut
    engine: EngineOut | None = None
    line: list[AtSpeed] = Field(description="Points for a plot, over the whole range.")
    warnings: list[Note]
    cautions: list[Note]
    sources: list[Reference] = Field(description="Every source that is cited above.")
