"""Cost of an hour and of delay, as questions tell it and answers give it. Money in the caller's currency."""

from dataclasses import dataclass
from typing import Literal

from service.usecases.settings_types import Proof

Timing = Literal["all_late", "about_best_day"]
HourCounts = Literal["all", "running"]


@dataclass(frozen=True, slots=True, kw_only=True)
class HourQuestion:
    """What a question says of money: prices, the cost of an hour whole or in parts, the area that waits."""

    # money
    price_per_t: float | None = None
    price_per_bu: float | None = None
    currency: str = ""
    cost_per_h: float | None = None
    list_price: float | None = None
    machine_age_years: float | None = None
    hours_per_year: float | None = None
    hours_counted: HourCounts = "all"
    interest_pct: float | None = None
    wage_per_h: float | None = None
    fuel_price_per_l: float | None = None
    # delay
    area_left_ha: float | None = None
    hours_per_day: float | None = None
    workday_share_pct: float = 100.0
    delay_loss_pct_per_day: float | None = None
    delay_timing: Timing = "all_late"


@dataclass(frozen=True, slots=True)
class HourPart:
    """A part of the cost of an hour."""

    code: str
    per_h: float
    counted: bool
    proof: Proof | None


@dataclass(frozen=True, slots=True)
class Hour:
    """What an hour costs."""

    origin: Literal["request", "computed"]
    machine_per_h: float
    delay_per_h: float
    parts: tuple[HourPart, ...]
    delay_share_per_day: float | None
    delay_proof: Proof | None
