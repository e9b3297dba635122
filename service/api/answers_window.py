"""The answer to whether the crop is fit."""

from pydantic import Field

from service.api.answers import Amount, Answer, Estimate, Evidence, Named, Note, Part, Reference


class EquilibriumSetOut(Part):
    """Constants of an equilibrium equation, moisture in percent of dry matter."""

    grain: str = Field(examples=["wheat", "wheat_soft", "maize"])
    form: str = Field(examples=["henderson", "chung_pfost", "halsey", "oswin"])
    source: str
    known: str = Field(description="Whether the source was read, or read in a transcription, or recalled.")
    seen_in: str | None = Field(None, description="Where a transcription was read.")
    verified: str | None = Field(None, description="Printed figures that the set reproduces.")
    note: str | None = None
    coefficients: dict[str, float] = Field(description="A, B and C of the equation.")
    temperature: Estimate | None = Field(None, description="Middle and ends of the measurements, where stated.")


class EquilibriumOut(Part):
    """Moisture that the grain would come to rest at, from now to the end of the series."""

    moisture: Estimate = Field(description="Mean, lowest and highest hour.")
    used: EquilibriumSetOut
    others: list[EquilibriumSetOut] = Field(description="Sets of the same grain that may be asked for.")


class PaceOut(Part):
    """How fast this crop follows the air."""

    rate: Estimate = Field(description="Rate constant of dM/dt = -k (M - Me).")
    origin: str = Field(examples=["readings", "table"])
    hours: Amount | None = Field(None, description="Hours between the readings.")
    several: bool = Field(description="A faster pace would explain the readings as well.")
    open_ended: bool = Field(description="The readings with their errors set no limit on one side.")
    evidence: Evidence | None = None


class WindowHourOut(Part):
    """One hour of the series."""

    start: str = Field(description="RFC 3339, in the offset of the weather.")
    end: str
    temperature: Amount
    relative_humidity: Amount
    rain: Amount | None = None
    equilibrium: Amount
    held: bool = Field(description="Air outside the range of the equation; its end was taken.")
    dew: bool
    wet: bool = Field(description="Rain or dew in this hour or shortly before.")
    moisture: Estimate | None = Field(None, description="Grain moisture at the end; left out before the first reading.")
    at_target: bool | None = Field(None, description="At or below the target all hour; from now on.")
    fit: bool | None = Field(None, description="At the target, and dry outside; from now on.")


class FitSpanOut(Part):
    """Hours on end that are fit."""

    start: str
    end: str
    hours: Amount
    lowest: Amount = Field(description="Driest grain in it.")
    sure: bool = Field(description="The upper limit is at or below the target too, and no rain falls before.")


class ReachOut(Part):
    """When the grain comes down to the target; a moment that lies beyond the series is left out."""

    expected: str | None = None
    earliest: str | None = None
    latest: str | None = None


class OptionOut(Part):
    """Harvest at one moisture. Water and fuel are per mass as harvested, money per mass at delivery moisture."""

    code: str = Field(examples=["now", "later"])
    name: str
    moisture: Amount
    wait: Amount | None = Field(None, description="Days from now; left out if not in the series.")
    points: Amount = Field(description="Points of moisture to dry.")
    water: Amount
    shrink: Amount = Field(description="Water as share of the mass harvested.")
    fuel: Estimate
    field_loss: Estimate | None = None
    drying: Amount | None = None
    handling: Amount | None = None
    overdry: Amount | None = Field(None, description="Mass sold drier than paid for.")
    net: Amount | None = Field(None, description="What remains per mass of the crop that stands now.")
    net_per_area: Amount | None = None
    net_total: Amount | None = None


class BalanceOut(Part):
    """Waiting against drying; what needs a price or a loss that nobody gave is left out."""

    better: str = Field(examples=["waiting", "drying", "same", "unclear", "unknown"])
    text: str
    options: list[OptionOut]
    loss_per_day: Estimate | None = None
    loss_origin: str = Field(examples=["request", "table", "none"])
    loss_evidence: Evidence | None = None
    fuel_evidence: Evidence | None = None
    tolerable_loss: Amount | None = Field(None, description="Field loss at which drying now earns as much.")
    break_even_wait: Estimate | None = Field(
        None, description="Days after which waiting has cost what it saves; no high end where it may lose nothing."
    )
    break_even_price: Amount | None = Field(None, description="Grain price at which both earn the same.")
    gain: Amount | None = Field(None, description="Of waiting; negative if it costs.")
    gain_per_area: Amount | None = None
    gain_total: Amount | None = None


class TargetOut(Part):
    """A moisture, and where it comes from."""

    moisture: Amount
    origin: str = Field(examples=["request", "table"])
    market: str | None = Field(None, description="Market whose trade moisture was taken.")


class HarvestWindowAnswer(Answer):
    """Hours that are fit, how sure they are, and what to do."""

    crop: Named
    decision: Note
    now: str = Field(description="Moment of the last reading.")
    moisture_now: Estimate
    target: TargetOut
    delivery: TargetOut
    spans: list[FitSpanOut]
    hours_at_target: Amount = Field(description="Hours from now on at or below the target, wet outside or not.")
    fit_hours: Amount = Field(description="Those of them that are dry outside.")
    dew_hours: int
    reach: ReachOut
    pace: PaceOut
    equilibrium: EquilibriumOut
    balance: BalanceOut
    hours: list[WindowHourOut]
    warnings: list[Note]
    cautions: list[Note]
    evidence: list[Evidence] = Field(description="Figures of the table behind the whole answer.")
    sources: list[Reference] = Field(description="Every source that is cited above.")
