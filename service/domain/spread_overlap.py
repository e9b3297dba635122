"""What lies on the field after neighbouring passes.

Inside: the layer after any number of passes at any spacing, driven back and forth or round and round,
and its evenness. Outside: one pass alone (`spread_pattern.py`).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from service.domain.ranges import above, within
from service.domain.spread_change import mirrored
from service.domain.spread_evenness import Uniformity, uniformity
from service.domain.spread_pattern import FARTHEST_M, SpreadPattern, spread_pattern
from service.errors import OutOfRange

Driving = Literal["back_and_forth", "round_and_round"]
PASSES_AT_MOST: Final = 400
POINTS_AT_LEAST: Final = 3


@dataclass(frozen=True, slots=True)
class Overlap:
    """Layer over one period of the passes, and how even it is."""

    positions_m: tuple[float, ...]
    layer: tuple[float, ...]
    evenness: Uniformity


def layer_after_passes(
    passes: Sequence[SpreadPattern], spacing_m: float, positions_m: Sequence[float]
) -> tuple[float, ...]:
    """Layer where endless passes lie side by side.

    Parameters
    ----------
    passes : sequence of SpreadPattern
        Patterns of passes that follow each other across the field, in the directions of the field; they
        repeat. One for round and round, two for back and forth.
    spacing_m : float
        Distance between neighbouring passes, above 0. [m]
    positions_m : sequence of float
        Places on the field; the first pass is driven at 0. [m]

    Returns
    -------
    tuple of float
        Sum of all passes at each place. [any]

    Raises
    ------
    OutOfRange
        If there is no pattern, or the spacing is not above 0 or so narrow that hundreds of passes reach
        one place.

    Notes
    -----
    D(x) = sum over k of d_k(x - k S), d_k the patterns in turn.

    References
    ----------
    Overlap of spreader passes: definition.

    Examples
    --------
    >>> even = SpreadPattern((-10.0, 0.0, 10.0), (0.0, 10.0, 0.0))
    >>> layer_after_passes([even], 10.0, [0.0, 2.5, 5.0])
    (10.0, 10.0, 10.0)
    """
    above("spacing_m", spacing_m, 0, "m")
    within("passes", len(passes), 1, 16, "1")
    places = np.asarray(positions_m, dtype=np.float64)
    total = np.zeros_like(places)
    low, high = float(places.min()), float(places.max())
    for turn, pattern in enumerate(passes):
        first = int(np.floor((low - pattern.positions_m[-1]) / spacing_m))
        last = int(np.ceil((high - pattern.positions_m[0]) / spacing_m))
        if last - first > PASSES_AT_MOST:
            raise OutOfRange("spacing_m", spacing_m, unit="m", reason="too_narrow")
        for number in range(first, last + 1):
            if number % len(passes) == turn:
                total += np.interp(places - number * spacing_m, pattern.positions_m, pattern.layer, left=0.0, right=0.0)
    return tuple(total.tolist())


def overlap(passes: Sequence[SpreadPattern], spacing_m: float, sampling_m: float, first_m: float = 0.0) -> Overlap:
    """Evenness where endless passes lie side by side.

    Parameters
    ----------
    passes : sequence of SpreadPattern
        As for `layer_after_passes`.
    spacing_m : float
        Distance between neighbouring passes, above 0. [m]
    sampling_m : float
        Distance between the places that are compared, as of trays, above 0. [m]
    first_m : float
        Where the first of them lies, as one of the trays does, -60 to 60. [m]

    Returns
    -------
    Overlap
        Places from the first one over one period, their layers and evenness.

    Raises
    ------
    OutOfRange
        If an input lies outside its range, or the patterns are empty.

    Notes
    -----
    One period is the spacing times the number of patterns; it is cut into a whole number of equal steps
    near `sampling_m`. With trays that divide the spacing these are the trays.

    References
    ----------
    Overlapped pans of spreader tests: ASABE S341 and ISO 5690, recalled.

    Examples
    --------
    >>> triangle = SpreadPattern((-10.0, 0.0, 10.0), (0.0, 10.0, 0.0))
    >>> round(overlap([triangle], 14.0, 1.0).evenness.cv_pct, 2)
    19.69
    """
    above("sampling_m", sampling_m, 0, "m")
    above("spacing_m", spacing_m, 0, "m")
    within("first_m", first_m, -FARTHEST_M, FARTHEST_M, "m")
    period = spacing_m * len(passes)
    count = max(POINTS_AT_LEAST, round(period / sampling_m))
    places = tuple(first_m + period * number / count for number in range(count))
    layer = layer_after_passes(passes, spacing_m, places)
    return Overlap(places, layer, uniformity(layer))


def passes_of(pattern: SpreadPattern, driving: Driving) -> tuple[SpreadPattern, ...]:
    """Patterns of passes that follow each other, for a spreader that always throws the same.

    Parameters
    ----------
    pattern : SpreadPattern
        Pattern seen in the direction of travel.
    driving : str
        `round_and_round` or `back_and_forth`.

    Returns
    -------
    tuple of SpreadPattern
        The pattern; for back and forth also its mirror image, since the machine comes back.

    References
    ----------
    Driving patterns of spreader tests: definition.

    Examples
    --------
    >>> len(passes_of(SpreadPattern((0.0, 1.0), (1.0, 0.0)), "back_and_forth"))
    2
    """
    return (pattern,) if driving == "round_and_round" else (pattern, mirrored(pattern))


def overlapped_cv_pct(
    positions_m: Sequence[float], layers: Sequence[float], spacing_m: float, driving: Driving
) -> float:
    """Coefficient of variation of tray readings after overlap.

    Parameters
    ----------
    positions_m : sequence of float
        Middles of the trays, rising, -60 to 60. [m]
    layers : sequence of float, as many
        Reading of each tray, 0 or more, not all 0. [any]
    spacing_m : float
        Distance between neighbouring passes, above 0. [m]
    driving : str
        `round_and_round` or `back_and_forth`.

    Returns
    -------
    float
        Coefficient of variation over one period of the passes. [%]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.
    Contradiction
        If the positions do not rise, or there are not as many readings as positions.

    References
    ----------
    Overlapped pans of spreader tests: ASABE S341 and ISO 5690, recalled.

    Examples
    --------
    >>> trays = list(range(-10, 11))
    >>> round(overlapped_cv_pct(trays, [10 - abs(x) for x in trays], 8.0, "round_and_round"), 2)
    6.05
    """
    pattern = spread_pattern(positions_m, layers, 1e9)
    step = float(np.median(np.diff(np.asarray(positions_m, dtype=np.float64))))
    return overlap(passes_of(pattern, driving), spacing_m, step).evenness.cv_pct
