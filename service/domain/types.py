"""Value types that the formulas return and the layers above pass on."""

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with its UCUM unit; a mass of grain may know the legal bushel of its crop."""

    value: float
    unit: str
    bushel_lb: float | None = None


@dataclass(frozen=True, slots=True)
class Message:
    """A text by its stable code; `params` fill it. Quantities are written in the reader's units."""

    code: str
    params: Mapping[str, object] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Interval:
    """An estimate with its lower and upper 95 % limit, low <= value <= high."""

    value: float
    low: float
    high: float
