"""Question and answer of the harvest window. All numbers metric; moments carry the offset of the weather."""

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from service.domain.types import Interval, Message
from service.knowledge.coefficients import CoefficientSet
from service.knowledge.schema import LocalText
from service.usecases.settings_types import Proof

LossOrigin = Literal["request", "table", "none"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Weather:
    """Hour after hour from `start`, one figure an hour; humidity or dew point or both; wind and rain if known."""

    start: datetime
    temperature_c: tuple[float, ...]
    relative_humidity_pct: tuple[float, ...] = ()
    dew_point_c: tuple[float, ...] = ()
    wind_m_s: tuple[float, ...] = ()
    rain_mm: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """Grain moisture of a mixed sample, and when it was taken."""

    time: datetime
    moisture_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowQuestion:
    """Crop, weather and one or two readings; everything about money may be left out."""

    crop: str
    weather: Weather
    readings: tuple[Reading, ...]
    target_moisture_pct: float | None = None
    delivery_moisture_pct: float | None = None
    market: str | None = None
    equilibrium_grain: str | None = None
    equilibrium_form: str | None = None
    equilibrium_source: str | None = None
    reading_error_pct: float | None = None
    wet_hours: float | None = None
    loss_pct_per_day: float | None = None
    price_per_t: float | None = None
    price_per_bu: float | None = None
    currency: str = ""
    yield_t_ha: float | None = None
    yield_bu_ac: float | None = None
    area_ha: float | None = None
    fuel_price_per_l: float | None = None
    fuel_l_t_point: float | None = None
    fuel_gal_bu_point: float | None = None
    drying_cost_per_t_point: float | None = None
    drying_cost_per_bu_point: float | None = None
    revision: str | None = None


@dataclass(frozen=True, slots=True)
class Hour:
    """One hour of the series. Moisture at its end; None before the first reading. The last two: None before now."""

    start: datetime
    end: datetime
    temperature_c: float
    relative_humidity_pct: float
    rain_mm: float | None
    equilibrium_pct: float
    held: bool  # humidity or temperature outside the range of the set, and taken at its end
    dew: bool
    wet: bool
    moisture_pct: Interval | None
    at_target: bool | None  # moisture at or below the target all hour
    fit: bool | None  # and dry outside


@dataclass(frozen=True, slots=True)
class FitSpan:
    """Hours on end that are dry and at or below the target; `sure` if the upper limit is too, and no rain before."""

    start: datetime
    end: datetime
    hours: float
    lowest_pct: float
    sure: bool


@dataclass(frozen=True, slots=True)
class Pace:
    """How fast this crop follows the air, and what that rests on."""

    rate_per_h: Interval
    origin: Literal["readings", "table"]
    hours: float | None  # between the readings
    several: bool
    unbounded: bool
    proof: Proof | None


@dataclass(frozen=True, slots=True)
class Reach:
    """When the grain comes down to the target: value, earliest, latest; None where not in the series."""

    value: datetime | None
    earliest: datetime | None
    latest: datetime | None


@dataclass(frozen=True, slots=True)
class Option:
    """Harvest at one moisture: what must be dried, and what remains. Money per tonne at delivery moisture."""

    code: Literal["now", "later"]
    moisture_pct: float
    days: float | None
    points: float
    water_kg_t: float  # per tonne as harvested
    shrink_pct: float
    fuel_l_t: Interval  # per tonne as harvested
    field_loss_pct: Interval | None
    drying_cost_per_t: float | None
    handling_per_t: float | None
    overdry_per_t: float | None
    net_per_t: float | None  # of the crop that stands now: field loss is taken off
    net_per_ha: float | None
    net_total: float | None


@dataclass(frozen=True, slots=True)
class Balance:
    """Waiting against drying. Empty where prices were not given or the loss a day is not known."""

    options: tuple[Option, ...]
    loss_pct_per_day: Interval | None
    loss_origin: LossOrigin
    loss_proof: Proof | None
    fuel_proof: Proof | None
    tolerable_loss_pct: float | None
    break_even_days: Interval | None  # high is infinite where the loss may be nothing
    break_even_price_per_t: float | None
    gain_per_t: float | None  # of waiting
    gain_per_ha: float | None
    gain_total: float | None
    better: Literal["waiting", "drying", "same", "unclear", "unknown"]


@dataclass(frozen=True, slots=True)
class HarvestWindow:
    """The whole answer."""

    crop: str
    crop_names: LocalText
    bushel_lb: float | None
    now: datetime
    moisture_now_pct: Interval
    target_pct: float
    target_origin: Literal["request", "table"]
    delivery_pct: float
    delivery_origin: Literal["request", "table"]
    delivery_market: str | None  # whose trade moisture was taken
    currency: str
    equilibrium_set: CoefficientSet
    other_sets: tuple[CoefficientSet, ...]
    equilibrium_pct: Interval  # mean, lowest and highest from now on
    pace: Pace
    hours: tuple[Hour, ...]
    spans: tuple[FitSpan, ...]
    hours_at_target: float
    fit_hours: float
    dew_hours: int
    reach: Reach
    balance: Balance
    decision: Message
    warnings: tuple[Message, ...]
    cautions: tuple[Message, ...]
    proofs: tuple[Proof, ...]
    revision: str
    digest: str
