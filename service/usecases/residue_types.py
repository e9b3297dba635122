"""What a caller says about straw and chaff behind the machine, and what is answered."""

from dataclasses import dataclass
from typing import Literal

from service.domain.residue_reach import Calibrated
from service.domain.spread_evenness import Uniformity
from service.domain.spread_overlap import Driving, Overlap
from service.domain.spread_pattern import SpreadPattern
from service.domain.types import Interval, Message
from service.knowledge.schema import LocalText
from service.usecases.settings_types import Proof

StandingCrop = Literal["left", "right", "both", "none"]
WindSide = Literal["left", "right"]
Level = Literal["good", "watch", "poor"]
Turn = Literal["keep", "mirror", "change"]


@dataclass(frozen=True, slots=True)
class SpreadQuestion:
    """A row of trays across the travel, filled in still air on level ground; right is positive."""

    crop: str
    cut_width_m: float
    standing_crop: StandingCrop
    positions_m: tuple[float, ...]
    residue_g: tuple[float, ...] = ()
    straw_g: tuple[float, ...] = ()
    chaff_g: tuple[float, ...] = ()
    tray_area_m2: float | None = None
    driving: Driving = "back_and_forth"
    swath_spacings_m: tuple[float, ...] = ()
    lateral_offset_m: float = 0.0
    lateral_offset_max_m: float | None = None
    crosswind_m_s: float = 0.0
    slope_across_deg: float = 0.0
    discharge_height_m: float | None = None
    discharge_speed_m_s: float | None = None
    revision: str | None = None


@dataclass(frozen=True, slots=True)
class Described:
    """One material, or both, behind one pass. Shares are of its mass."""

    code: str  # residue, straw, chaff
    share_pct: float
    evenness: Uniformity
    left_pct: float
    right_pct: float
    centre_m: float
    width_m: float
    coverage_pct: float
    past_left_pct: float
    past_right_pct: float
    standing_pct: float | None
    gap_left_m: float
    gap_right_m: float
    layer_t_ha: float | None


@dataclass(frozen=True, slots=True)
class OverlapAt:
    """What lies on the field in still air at one spacing."""

    driving: Driving
    spacing_m: float
    overlap: Overlap  # at places that lie as the trays do; along the lines between where that cannot be
    at_trays: bool
    line_cv_pct: float  # along the lines between the trays
    level: Level  # of the larger variation


@dataclass(frozen=True, slots=True)
class Outlook:
    """How it looks on the field: after overlap, past the standing edge, left against right."""

    cv_pct: float  # the larger one of at the trays and along the lines between them
    line_cv_pct: float  # along the lines: what changes are compared by, since trays would move with them
    max_to_min: float | None
    standing_pct: float | None
    right_pct: float
    aside: float  # points by which standing crop and either side get more than what is good
    score: float  # points of variation along the lines and of those together; the lower the better


@dataclass(frozen=True, slots=True)
class Correction:
    """One change and what comes of it. Patterns are seen in the direction of travel of their pass."""

    code: str
    change_m: float | None  # of an offset
    offset_m: float | None  # from neutral, after the change
    step_deg: float | None
    step_pct: float | None
    return_offset_m: float | None
    turn: Turn | None  # what becomes of the setting after the headland turn; None without one
    turn_text: Message | None
    pattern: SpreadPattern
    return_pattern: SpreadPattern | None
    outlook: Outlook
    gain: float


@dataclass(frozen=True, slots=True)
class WindLimit:
    """Crosswind from one side at which even spread is out of reach; None if not up to the strongest looked at."""

    wind_from: WindSide
    careful_m_s: float | None  # where all of it drifts as far as the furthest end of the drift
    latest_m_s: float | None  # where it drifts as little as the nearest end
    looked_up_to_m_s: float


@dataclass(frozen=True, slots=True)
class Flight:
    """How one material flies, and how far wind and slope move it on average."""

    code: str
    lone_fall_speed_m_s: float
    calibrated: Calibrated
    shift_m: Interval
    told_m_s: float | None  # discharge speed that was told and does not go with the trays
    proof: Proof


@dataclass(frozen=True, slots=True)
class Air:
    """Wind and slope, and what they do."""

    crosswind_m_s: float
    slope_across_deg: float
    flights: tuple[Flight, ...]
    shift_m: Interval  # of the whole, right is positive
    throw_more: Literal["left", "right", "neither"]
    offset_wanted_m: float  # change of offset that brings it back, left is negative
    limits: tuple[WindLimit, ...]


@dataclass(frozen=True, slots=True)
class Verdict:
    """A figure against its band."""

    code: str
    level: Level
    value: float | None
    unit: str
    limit: float
    proof: Proof


@dataclass(frozen=True, slots=True)
class Spread:
    """The answer."""

    crop: str
    crop_names: LocalText
    question: SpreadQuestion
    spacing_m: float
    even_layer_g: float  # reading of a tray if all were even over the cut
    decision: Message
    materials: tuple[Described, ...]
    overlaps: tuple[OverlapAt, ...]
    verdicts: tuple[Verdict, ...]
    air: Air
    measured: SpreadPattern
    as_it_is: Correction  # nothing changed, in this wind and on this slope
    corrections: tuple[Correction, ...]
    best: str | None
    throw_wanted_pct: float
    offset_max_m: float
    warnings: tuple[Message, ...]
    cautions: tuple[Message, ...]
    proofs: tuple[Proof, ...]
    revision: str
    digest: str


@dataclass(frozen=True, slots=True)
class AmountQuestion:
    """A yield, from which the residue is reckoned."""

    crop: str
    yield_t_ha: float | None = None
    yield_bu_ac: float | None = None
    grain_moisture_pct: float | None = None
    residue_moisture_pct: float | None = None
    straw_to_grain: float | None = None
    chaff_to_grain: float | None = None
    straw_intake_share_pct: float | None = None
    cut_width_m: float | None = None
    laid_width_m: float | None = None
    revision: str | None = None


@dataclass(frozen=True, slots=True)
class Mass:
    """Dry matter per area, and as it is where the moisture of straw was given."""

    dry_t_ha: Interval
    as_is_t_ha: Interval | None


@dataclass(frozen=True, slots=True)
class LineResult:
    """Above-ground residue by one line over yield."""

    kind: str | None
    above_ground: Mass
    proof: Proof


@dataclass(frozen=True, slots=True)
class Amount:
    """The answer on how much there is."""

    crop: str
    crop_names: LocalText
    grain_dry_t_ha: float
    grain_moisture_pct: float
    moisture_origin: Literal["request", "table"]
    summary: Message
    lines: tuple[LineResult, ...]
    straw: Mass
    chaff: Mass
    above_ground: Mass
    through_machine: Mass
    stubble: Mass
    chaff_share_pct: float
    strip_load: Mass | None
    strip_factor: float | None
    cover_pct: Interval | None
    cover_proof: Proof | None
    ratio_proofs: tuple[Proof, ...]
    warnings: tuple[Message, ...]
    cautions: tuple[Message, ...]
    revision: str
    digest: str
