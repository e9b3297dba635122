"""The answer to what was found on the ground."""

from pydantic import Field

from service.api.answers import Amount, Answer, Estimate, Evidence, Named, Note, Part, Reference, YieldAmount


class PlaceLossOut(Part):
    """The loss of one place, with its 95 % interval."""

    code: str = Field(
        examples=["preharvest", "header", "machine", "threshing", "separation", "cleaning", "caused", "total"]
    )
    name: str
    mass: Estimate
    bushels: Estimate | None = Field(None, description="The same in legal bushels per acre.")
    share: Estimate = Field(description="Percent of the yield as `definition` says.")
    money_per_area: Estimate | None = None
    money_per_hour: Estimate | None = None
    below: bool = Field(description="Nothing was found: the loss is below the high end, not zero.")


class NotMeasuredOut(Part):
    """A place that these frames cannot tell."""

    code: str
    name: str
    why: Note


class FramesOut(Part):
    """What was counted in one place, and how many more frames give plus or minus 20 %."""

    place: str = Field(examples=["standing", "cut_ahead", "discharge", "outside"])
    name: str
    catch: str = Field(examples=["all", "straw", "chaff"])
    surface: str = Field(examples=["ground", "pan"])
    frames: int
    area: Amount = Field(description="Area of all frames together.")
    kernels: float = Field(description="Kernels found in all frames together.")
    density: Estimate
    model: str = Field(examples=["poisson", "negative_binomial", "weighed"])
    dispersion: float | None = Field(None, description="Variance per mean of the counts.")
    k: float | None = Field(None, description="Clumping of the negative binomial; small is patchy.")
    more_frames: int | None = Field(None, description="Left out where it cannot be told.")


class VerdictOut(Evidence):
    """A loss against the crop's usual target."""

    code: str
    name: str
    target: Amount
    upper: Amount | None = None
    verdict: str = Field(examples=["within", "above", "uncertain"])
    text: str


class CardLineOut(Part):
    """Kernels in one frame that equal 1 % of the yield here."""

    place: str
    name: str
    area: Amount
    kernels: float
    mass: Amount


class RuleOut(Evidence):
    """A published count rule against the kernel mass in use."""

    text: str
    implied_thousand_kernel_mass: Amount
    ratio: float = Field(description="Loss by the rule per loss by the kernel mass in use.")
    fits: bool


class KernelMass(Part):
    """Thousand-kernel mass in use, and where it comes from."""

    amount: Estimate
    origin: str = Field(examples=["request", "default", "rule"])
    evidence: Evidence | None = None


class Dominant(Part):
    """The place where most is lost, and whether the intervals allow to say so."""

    code: str
    name: str
    sure: bool


class GroundLossAnswer(Answer):
    """Losses by place, how sure they are, what they cost, and what to count next."""

    crop: Named
    crop_yield: YieldAmount = Field(description="Yield that was counted with.")
    kernel_mass: KernelMass
    concentration_factor: float = Field(description="Cut width per discharge width.")
    area_rate: Amount | None = None
    losses: list[PlaceLossOut]
    not_measured: list[NotMeasuredOut]
    frames: list[FramesOut]
    verdicts: list[VerdictOut]
    dominant: Dominant | None = None
    card: list[CardLineOut]
    rules: list[RuleOut]
    definition: Note
    warnings: list[Note]
    cautions: list[Note]
    sources: list[Reference] = Field(description="Every source that is cited above.")
