"""Question and answer of a ground-loss assessment. All numbers metric."""

from dataclasses import dataclass
from typing import Literal

from service.domain.types import Interval, Message
from service.knowledge.schema import LocalText
from service.usecases.settings_types import Proof

Place = Literal["standing", "cut_ahead", "discharge", "outside"]
Catch = Literal["all", "straw", "chaff"]
Surface = Literal["ground", "pan"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameSet:
    """Frames of one size laid in one place.

    standing: in the standing crop. cut_ahead: on cut ground ahead of the discharge. discharge: under
    the swath or the spread. outside: on cut ground beside the discharge strip. `catch` says what was
    caught in a discharge frame, where straw and chaff leave apart. Give `kernels` or `masses_g`;
    `unthreshed_kernels` are those still in heads, rubbed out and counted apart, one number a frame.
    `surface` says whether a discharge frame lay on the ground, where earlier loss is found too, or was
    a pan that caught only what left the machine. Straw or chaff caught apart always came from a pan.

    A whole swath, gathered with all the grain below and beside it, is a discharge frame of length x cut
    width with the cut width as discharge width: nothing is concentrated, and it holds the total loss.
    """

    place: Place
    area_m2: float
    kernels: tuple[int, ...] = ()
    masses_g: tuple[float, ...] = ()
    unthreshed_kernels: tuple[int, ...] = ()
    catch: Catch = "all"
    surface: Surface = "ground"


@dataclass(frozen=True, slots=True, kw_only=True)
class LossQuestion:
    """What was found on the ground.

    Give `yield_t_ha` or `yield_bu_ac`: what was harvested, at the moisture of the lost grain.
    `concentration_scope` says what the asker divides by the concentration factor. Only the machine's share
    is right; "everything" is the usual mistake, which a client can name in order to be told why not.
    """

    crop: str
    frames: tuple[FrameSet, ...]
    cut_width_m: float
    discharge_width_m: float
    discharge_width_error_pct: float = 5.0  # standard error
    yield_t_ha: float | None = None
    yield_bu_ac: float | None = None
    spreading: Literal["swath", "spread"] = "swath"
    header: Literal["reel", "row_crop", "pickup"] | None = None
    machine_class: str | None = None
    thousand_kernel_mass_g: float | None = None
    thousand_kernel_mass_error_pct: float = 5.0  # standard error, used with a kernel mass of the caller's own
    rule_kernels_per_ft2_per_bu_ac: float | None = None  # a published count rule the caller wants to use
    concentration_scope: Literal["machine", "everything"] = "machine"
    price_per_t: float | None = None
    price_per_bu: float | None = None
    currency: str = ""
    ground_speed_km_h: float | None = None
    field_efficiency_pct: float | None = None
    area_rate_ha_h: float | None = None
    revision: str | None = None


@dataclass(frozen=True, slots=True)
class PlaceLoss:
    """Loss of one place. `below` means nothing was found: the high limit is the answer, not zero."""

    code: str  # preharvest, header, machine, threshing, separation, cleaning, caused (header + machine), total
    mass_kg_ha: Interval
    share_pct: Interval  # loss / (harvested yield + total loss) x 100
    money_per_ha: Interval | None
    money_per_h: Interval | None
    below: bool


@dataclass(frozen=True, slots=True)
class NotMeasured:
    """A place that these frames cannot tell, and why."""

    code: str
    why: Message


@dataclass(frozen=True, slots=True)
class FrameSummary:
    """What was counted in one place, the spread model that fits, and how many more frames give +-20 %."""

    place: Place
    catch: Catch
    frames: int
    area_m2: float
    kernels: float
    density_m2: Interval
    model: Literal["poisson", "negative_binomial", "weighed"]
    dispersion: float | None  # variance / mean; None with one frame
    k: float | None
    more_frames: int | None  # None: cannot be told (nothing found, or one weighed frame)
    surface: Surface = "ground"


@dataclass(frozen=True, slots=True)
class Verdict:
    """A loss against the crop's usual target."""

    code: str  # header, machine, total
    target_pct: float
    upper_pct: float | None
    verdict: Literal["within", "above", "uncertain"]
    proof: Proof


@dataclass(frozen=True, slots=True)
class CardLine:
    """Pocket card: kernels and grams in one frame of this area in this place that equal 1 % loss here."""

    place: Place
    area_m2: float
    kernels: float
    mass_g: float


@dataclass(frozen=True, slots=True)
class RuleCheck:
    """A published count rule against the kernel mass in use."""

    text: str
    implied_thousand_kernel_mass_g: float
    ratio: float  # loss by the rule / loss by the kernel mass in use
    fits: bool
    proof: Proof


@dataclass(frozen=True, slots=True)
class GroundLoss:
    """The whole answer."""

    crop: str
    crop_names: LocalText
    yield_t_ha: float
    bushel_lb: float | None
    thousand_kernel_mass_g: Interval
    kernel_mass_origin: Literal["request", "default", "rule"]
    kernel_mass_proof: Proof | None
    concentration_factor: float
    currency: str
    area_rate_ha_h: float | None
    losses: tuple[PlaceLoss, ...]
    not_measured: tuple[NotMeasured, ...]
    frames: tuple[FrameSummary, ...]
    verdicts: tuple[Verdict, ...]
    dominant: str | None
    dominant_sure: bool
    card: tuple[CardLine, ...]
    rules: tuple[RuleCheck, ...]
    definition: Message
    warnings: tuple[Message, ...]
    cautions: tuple[Message, ...]
    revision: str
    digest: str
