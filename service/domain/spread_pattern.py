"""The layer of residue across the direction of travel, and the figures that describe it.

Inside: the layer between and beyond readings, its mass and centre, the width that is covered. Outside: how
even readings are (`spread_evenness.py`), neighbouring passes (`spread_overlap.py`), what changes a pattern
(`spread_change.py`), from when on a figure is good (the knowledge table).

Positions are metres from the middle of the cut, right positive, seen in the direction of travel.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.domain.ranges import above, within
from service.domain.spread_evenness import HEAVIEST
from service.errors import Contradiction, OutOfRange

Floats = NDArray[np.float64]
FARTHEST_M: Final = 60.0


@dataclass(frozen=True, slots=True)
class SpreadPattern:
    """Layer at nodes from left to right: straight lines between them, nothing outside."""

    positions_m: tuple[float, ...]
    layer: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Covered:
    """Where a layer is at least a given one: outermost ends, and the length in all without the holes."""

    left_m: float
    right_m: float
    length_m: float


def spread_pattern(positions_m: Sequence[float], layers: Sequence[float], cell_m: float) -> SpreadPattern:
    """Layer between and beyond readings, on fine nodes.

    Parameters
    ----------
    positions_m : sequence of float
        Middles of the trays, rising, -60 to 60. [m]
    layers : sequence of float, as many
        Reading of each tray, 0 or more, not all 0. [any]
    cell_m : float
        Largest distance between two nodes of the answer, above 0. [m]

    Returns
    -------
    SpreadPattern
        Straight lines between the readings. Beyond the outermost tray the layer falls to nothing over
        the distance to the next tray inside.

    Raises
    ------
    OutOfRange
        If an input lies outside its range.
    Contradiction
        If the positions do not rise, or there are not as many readings as positions.

    Notes
    -----
    What fell beyond the outermost tray is not known; half a triangle is the least that a layer which
    ends in a full tray can have.

    References
    ----------
    Linear interpolation.

    Examples
    --------
    >>> spread_pattern([-1.0, 0.0, 1.0], [0.0, 10.0, 4.0], 1.0)
    SpreadPattern(positions_m=(-1.0, 0.0, 1.0, 2.0), layer=(0.0, 10.0, 4.0, 0.0))
    """
    above("cell_m", cell_m, 0, "m")
    if len(positions_m) != len(layers):
        raise Contradiction(("positions_m", "layers"), "lengths_differ")
    within("readings", len(layers), 2, 100_000, "1")
    for position, layer in zip(positions_m, layers, strict=True):
        within("positions_m", position, -FARTHEST_M, FARTHEST_M, "m")
        within("layer", layer, 0, HEAVIEST, "1")
    if any(after <= before for before, after in pairwise(positions_m)):
        raise Contradiction(("positions_m",), "not_rising")
    above("layers", max(layers), 0, "1")
    places, values = [*positions_m], [*layers]
    if values[0] > 0:
        places.insert(0, 2 * places[0] - places[1])
        values.insert(0, 0.0)
    if values[-1] > 0:
        places.append(2 * places[-1] - places[-2])
        values.append(0.0)
    nodes: list[float] = []
    for before, after in pairwise(places):
        parts = max(1, int(np.ceil((after - before) / cell_m - 1e-9)))
        nodes += [before + (after - before) * part / parts for part in range(parts)]
    nodes.append(places[-1])
    return SpreadPattern(tuple(nodes), tuple(np.interp(nodes, places, values).tolist()))


def layer_at(pattern: SpreadPattern, positions_m: Sequence[float]) -> tuple[float, ...]:
    """Layer of a pattern at places.

    Parameters
    ----------
    pattern : SpreadPattern
        Any pattern.
    positions_m : sequence of float
        Any places. [m]

    Returns
    -------
    tuple of float
        Layer at each place, 0 outside the pattern. [any]

    References
    ----------
    Linear interpolation.

    Examples
    --------
    >>> layer_at(SpreadPattern((-1.0, 0.0, 1.0), (0.0, 10.0, 0.0)), [-0.5, 0.0, 3.0])
    (5.0, 10.0, 0.0)
    """
    found = np.interp(positions_m, pattern.positions_m, pattern.layer, left=0.0, right=0.0)
    return tuple(found.tolist())


def mass_between(pattern: SpreadPattern, low_m: float, high_m: float) -> float:
    """Mass between two places, per length of travel.

    Parameters
    ----------
    pattern : SpreadPattern
        Any pattern.
    low_m, high_m : float
        Ends, low at most high; infinity is allowed. [m]

    Returns
    -------
    float
        Integral of the layer. [any.m]

    Raises
    ------
    OutOfRange
        If the ends are the wrong way round.

    References
    ----------
    Trapezoidal rule, exact for straight lines.

    Examples
    --------
    >>> mass_between(SpreadPattern((-1.0, 0.0, 1.0), (0.0, 10.0, 0.0)), 0.0, 9.0)
    5.0
    """
    if not low_m <= high_m:
        raise OutOfRange("high_m", high_m, low_m, None, "m")
    places, layer = np.asarray(pattern.positions_m), np.asarray(pattern.layer)
    low, high = np.clip((low_m, high_m), places[0], places[-1])
    inside = (places > low) & (places < high)
    cut = np.concatenate(([low], places[inside], [high]))
    layers = np.concatenate(([np.interp(low, places, layer)], layer[inside], [np.interp(high, places, layer)]))
    return float(((layers[1:] + layers[:-1]) * np.diff(cut)).sum() / 2)


def centre_m(pattern: SpreadPattern) -> float:
    """Centre of mass of a pattern.

    Parameters
    ----------
    pattern : SpreadPattern
        A pattern with some mass.

    Returns
    -------
    float
        Place; right is positive. [m]

    Raises
    ------
    OutOfRange
        If the pattern is empty.

    Notes
    -----
    Each piece between two nodes is a trapezium with its own centre.

    References
    ----------
    Centre of mass of a trapezium.

    Examples
    --------
    >>> centre_m(SpreadPattern((0.0, 3.0), (0.0, 1.0)))
    2.0
    """
    places, layer = np.asarray(pattern.positions_m), np.asarray(pattern.layer)
    masses = (layer[1:] + layer[:-1]) / 2 * np.diff(places)
    above("mass", float(masses.sum()), 0, "1")
    moments = np.diff(places) * (
        places[:-1] * (2 * layer[:-1] + layer[1:]) / 6 + places[1:] * (layer[:-1] + 2 * layer[1:]) / 6
    )
    return float(moments.sum() / masses.sum())


def quantile_m(pattern: SpreadPattern, share: float) -> float:
    """Place that has a share of the mass to its left.

    Parameters
    ----------
    pattern : SpreadPattern
        A pattern with some mass.
    share : float
        Share of the mass, 0 to 1. [1]

    Returns
    -------
    float
        Place. [m]

    Raises
    ------
    OutOfRange
        If the share lies outside its range, or the pattern is empty.

    Notes
    -----
    The mass is summed from node to node and straight lines are drawn through the sums.

    References
    ----------
    Definition of a quantile.

    Examples
    --------
    >>> quantile_m(SpreadPattern((-1.0, 1.0), (3.0, 3.0)), 0.75)
    0.5
    """
    within("share", share, 0, 1, "1")
    places, layer = np.asarray(pattern.positions_m), np.asarray(pattern.layer)
    sums = np.concatenate(([0.0], np.cumsum((layer[1:] + layer[:-1]) / 2 * np.diff(places))))
    above("mass", float(sums[-1]), 0, "1")
    return float(np.interp(share * sums[-1], sums, places))


def covered(pattern: SpreadPattern, level: float, low_m: float, high_m: float) -> Covered | None:
    """Where the layer is at least as thick as a level, between two places.

    Parameters
    ----------
    pattern : SpreadPattern
        Any pattern.
    level : float
        Layer that counts as covered, above 0. [any]
    low_m, high_m : float
        Ends of the stretch that is looked at, low below high; infinity is allowed. [m]

    Returns
    -------
    Covered or None
        Outermost places and covered length; None where nothing is covered. [m]

    Raises
    ------
    OutOfRange
        If the level is not above 0 or the ends are the wrong way round.

    References
    ----------
    Crossing of straight lines with a level; half the even layer as the edge of a swath is the usage
    of spreader tests.

    Examples
    --------
    >>> covered(SpreadPattern((-2.0, 0.0, 2.0), (0.0, 10.0, 0.0)), 5.0, -9.0, 9.0)
    Covered(left_m=-1.0, right_m=1.0, length_m=2.0)
    """
    above("level", level, 0, "1")
    if not low_m < high_m:
        raise OutOfRange("high_m", high_m, low_m, None, "m")
    stretches = [
        (max(left, low_m), min(right, high_m))
        for left, right in _stretches(pattern, level)
        if max(left, low_m) < min(right, high_m)
    ]
    if not stretches:
        return None
    return Covered(stretches[0][0], stretches[-1][1], sum(right - left for left, right in stretches))


def _stretches(pattern: SpreadPattern, level: float) -> list[tuple[float, float]]:
    found: list[tuple[float, float]] = []
    nodes = list(zip(pattern.positions_m, pattern.layer, strict=True))
    for (left, before), (right, after) in pairwise(nodes):
        if before < level and after < level:
            continue
        share = (level - before) / (after - before) if after != before else 0.0
        crossing = left + share * (right - left)
        ends = (left if before >= level else crossing, right if after >= level else crossing)
        if found and found[-1][1] == ends[0]:
            found[-1] = (found[-1][0], ends[1])
        else:
            found.append(ends)
    return found
