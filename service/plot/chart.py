"""The parts of a chart.

Inside: what a chart is made of, and refusing one that cannot be drawn. Outside: how it looks.
All panels of a chart stand on one x axis. Every label is already in the reader's language and unit.
"""

from dataclasses import dataclass
from math import isfinite
from typing import Final, Literal

Points = tuple[tuple[float, float], ...]
Style = Literal["line", "dashed", "dots", "bars"]

COLOURS: Final = 6


@dataclass(frozen=True)
class Series:
    """One row of points: a line through them, dots at them, or bars from zero."""

    label: str
    points: Points
    style: Style = "line"
    colour: int = 0

    def __post_init__(self) -> None:
        _check_colour(self.colour)
        _check_finite(self.label, *self.points)


@dataclass(frozen=True)
class Band:
    """The area between two lines, as of an interval."""

    label: str
    lower: Points
    upper: Points
    colour: int = 0

    def __post_init__(self) -> None:
        _check_colour(self.colour)
        _check_finite(self.label, *self.lower, *self.upper)


@dataclass(frozen=True)
class Span:
    """A shaded stretch of the x axis, through all panels."""

    x_low: float
    x_high: float
    label: str

    def __post_init__(self) -> None:
        _check_finite(self.label, (self.x_low, self.x_high))
        if self.x_low > self.x_high:
            raise ValueError(f"span {self.label!r} ends before it starts")


@dataclass(frozen=True)
class Mark:
    """A vertical line through all panels."""

    x: float
    label: str

    def __post_init__(self) -> None:
        _check_finite(self.label, (self.x,))


@dataclass(frozen=True)
class Level:
    """A horizontal line through one panel, as of a target."""

    y: float
    label: str

    def __post_init__(self) -> None:
        _check_finite(self.label, (self.y,))


@dataclass(frozen=True)
class Axis:
    """An axis with its label, unit included. Ticks and ends left out are chosen from the data."""

    label: str
    ticks: tuple[tuple[float, str], ...] | None = None
    low: float | None = None
    high: float | None = None

    def __post_init__(self) -> None:
        ends = tuple(end for end in (self.low, self.high) if end is not None)
        _check_finite(self.label, ends, tuple(place for place, _ in self.ticks or ()))
        if len(ends) == 2 and ends[0] >= ends[1]:
            raise ValueError(f"axis {self.label!r} ends where or before it starts")


@dataclass(frozen=True)
class Panel:
    """One plot area with its own y axis."""

    y: Axis
    series: tuple[Series, ...]
    bands: tuple[Band, ...] = ()
    levels: tuple[Level, ...] = ()
    height: int = 220


@dataclass(frozen=True)
class Chart:
    """Panels on a common x axis, with a title and a description for who cannot see them."""

    title: str
    description: str
    x: Axis
    panels: tuple[Panel, ...]
    spans: tuple[Span, ...] = ()
    marks: tuple[Mark, ...] = ()
    width: int = 720

    def __post_init__(self) -> None:
        if not any(series.points for panel in self.panels for series in panel.series):
            raise ValueError(f"chart {self.title!r} has no points")


def _check_colour(colour: int) -> None:
    if not 0 <= colour < COLOURS:
        raise ValueError(f"colour {colour} is not one of 0 to {COLOURS - 1}")


def _check_finite(label: str, *groups: tuple[float, ...]) -> None:
    if not all(isfinite(number) for group in groups for number in group):
        raise ValueError(f"{label!r} has a number that is not finite")
