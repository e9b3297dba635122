"""From numbers to places on paper.

Inside: the ends of an axis, round tick numbers, the linear scale. Outside: drawing, the language of a number.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import ceil, floor, log10
from typing import Final

# steps that people count in
_STEPS: Final = (1.0, 2.0, 2.5, 5.0, 10.0)
# allowance for the rounding of a division, in steps
_HAIR: Final = 1e-9


@dataclass(frozen=True)
class Scale:
    """A linear scale: `low` lies at `start_px`, `high` at `end_px`."""

    low: float
    high: float
    start_px: float
    end_px: float

    def at(self, value: float) -> float:
        """Return the place of a number, rounded to a hundredth of a pixel so that bytes do not depend on the machine.

        >>> Scale(0.0, 10.0, 100.0, 0.0).at(2.5)
        75.0
        """
        share = (value - self.low) / (self.high - self.low)
        return round(self.start_px + share * (self.end_px - self.start_px), 2) + 0.0


@dataclass(frozen=True)
class Ticks:
    """Round numbers along an axis, and the decimals needed to write them."""

    places: tuple[float, ...]
    decimals: int


def step(low: float, high: float, wanted: int) -> float:
    """Return the round step that cuts a range into about this many parts, and no more.

    >>> step(0.0, 10.0, 5)
    2.0
    >>> step(0.0, 0.7, 5)
    0.2
    """
    rough = (high - low) / wanted
    power = 10.0 ** floor(log10(rough))
    return float(f"{next(size for size in _STEPS if size * power >= rough * (1 - _HAIR)) * power:.12g}")


def ticks(low: float, high: float, wanted: int) -> Ticks:
    """Return the multiples of a round step inside a range.

    >>> ticks(2.6, 8.1, 5)
    Ticks(places=(4.0, 6.0, 8.0), decimals=0)
    """
    size = step(low, high, wanted)
    decimals = max(0, *(-exponent for exponent in _exponents(size)))
    first, last = ceil(low / size - _HAIR), floor(high / size + _HAIR)
    return Ticks(tuple(round(count * size, decimals) + 0.0 for count in range(first, last + 1)), decimals)


def outward(low: float, high: float, wanted: int) -> tuple[float, float]:
    """Return ends moved outward to round numbers.

    >>> outward(0.3, 9.2, 5)
    (0.0, 10.0)
    """
    size = step(low, high, wanted)
    return floor(low / size + _HAIR) * size, ceil(high / size - _HAIR) * size


def extent(values: Iterable[float], low: float | None, high: float | None) -> tuple[float, float]:
    """Return the ends of an axis: the given ones, else those of the data, never both the same."""
    known = [*values]
    bottom = min(known, default=0.0) if low is None else low
    top = max(known, default=1.0) if high is None else high
    if bottom < top:
        return bottom, top
    # all values alike, or all beyond the one end that is given
    pad = max(abs(bottom), abs(top), 1.0) / 2
    return (bottom if low is not None else top - pad), (top if high is not None else bottom + pad)


def from_zero(low: float, high: float) -> float:
    """Return zero for a lower end that lies near it: a loss of 1 to 3 % is drawn from 0."""
    return 0.0 if 0.0 < low <= high / 2 else low


def _exponents(size: float) -> tuple[int, ...]:
    """Powers of ten of the digits of a round number: 2.5 has 0 and -1."""
    mantissa, _, power = f"{size:.11e}".partition("e")
    digits = mantissa.replace(".", "").rstrip("0")
    return tuple(int(power) - place for place in range(len(digits)))
