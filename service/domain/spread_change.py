"""What one adjustment of a spreader, wind or slope makes of a measured pattern.

Inside: shifting, throwing further or shorter, turning the blades or fan of one side, mirroring, carrying
each piece from where it landed to where it lands now, adding two materials. Outside: how far wind
carries a piece (`residue_flight.py`), how large a step is (the knowledge table).

Every change keeps the mass: what leaves one place arrives at another.
"""

import math
from collections.abc import Sequence
from typing import Final, Literal

import numpy as np

from service.domain.ranges import above, within
from service.domain.spread_pattern import FARTHEST_M, SpreadPattern
from service.errors import Contradiction, OutOfRange

Side = Literal["left", "right", "both"]
STRAIGHT_ASIDE_DEG: Final = 90.0


def shifted(pattern: SpreadPattern, offset_m: float) -> SpreadPattern:
    """Pattern moved sideways.

    Parameters
    ----------
    pattern : SpreadPattern
        Any pattern.
    offset_m : float
        How far to the right, -60 to 60; negative is to the left. [m]

    Returns
    -------
    SpreadPattern
        The same layers elsewhere.

    Raises
    ------
    OutOfRange
        If the offset lies outside its range.

    References
    ----------
    Translation.

    Examples
    --------
    >>> shifted(SpreadPattern((0.0, 1.0), (2.0, 0.0)), -0.5).positions_m
    (-0.5, 0.5)
    """
    within("offset_m", offset_m, -FARTHEST_M, FARTHEST_M, "m")
    return SpreadPattern(tuple(place + offset_m for place in pattern.positions_m), pattern.layer)


def stretched(pattern: SpreadPattern, factor: float) -> SpreadPattern:
    """Pattern thrown further or shorter from the middle of the machine.

    Parameters
    ----------
    pattern : SpreadPattern
        Any pattern.
    factor : float
        Distance of throw over the one before, above 0 up to 10. [1]

    Returns
    -------
    SpreadPattern
        Places times the factor, layers over the factor.

    Raises
    ------
    OutOfRange
        If the factor lies outside its range.

    References
    ----------
    Conservation of mass.

    Examples
    --------
    >>> stretched(SpreadPattern((0.0, 1.0), (2.0, 0.0)), 2.0)
    SpreadPattern(positions_m=(0.0, 2.0), layer=(1.0, 0.0))
    """
    above("factor", factor, 0, "1")
    within("factor", factor, 0, 10, "1")
    return SpreadPattern(
        tuple(place * factor for place in pattern.positions_m), tuple(one / factor for one in pattern.layer)
    )


def mirrored(pattern: SpreadPattern) -> SpreadPattern:
    """Pattern with left and right exchanged.

    Parameters
    ----------
    pattern : SpreadPattern
        Any pattern.

    Returns
    -------
    SpreadPattern
        Its mirror image.

    References
    ----------
    Reflection.

    Examples
    --------
    >>> mirrored(SpreadPattern((0.0, 1.0), (2.0, 5.0)))
    SpreadPattern(positions_m=(-1.0, 0.0), layer=(5.0, 2.0))
    """
    places = tuple(-place + 0.0 for place in reversed(pattern.positions_m))
    return SpreadPattern(places, tuple(reversed(pattern.layer)))


def carried(pattern: SpreadPattern, landings_m: Sequence[float]) -> SpreadPattern:
    """Pattern of which each node lands elsewhere.

    Parameters
    ----------
    pattern : SpreadPattern
        Any pattern with three nodes or more.
    landings_m : sequence of float, one a node
        Where the node lands, in the same order from left to right. [m]

    Returns
    -------
    SpreadPattern
        The layer thins where nodes move apart and thickens where they come closer.

    Raises
    ------
    Contradiction
        If there are not as many landings as nodes, or they do not rise: pieces would cross.

    Notes
    -----
    Layer times old width over new width at each node, then scaled to the mass before; with fine nodes
    the scale is 1 within a thousandth.

    References
    ----------
    Conservation of mass.

    Examples
    --------
    >>> found = carried(SpreadPattern((0.0, 1.0, 2.0), (0.0, 4.0, 0.0)), [0.0, 2.0, 4.0])
    >>> found.layer
    (0.0, 2.0, 0.0)
    """
    before, layer = np.asarray(pattern.positions_m), np.asarray(pattern.layer)
    after = np.asarray(landings_m, dtype=np.float64)
    if len(after) != len(before):
        raise Contradiction(("landings_m", "pattern"), "lengths_differ")
    if bool((np.diff(after) <= 0).any()):
        raise Contradiction(("landings_m",), "not_rising")
    moved = layer * np.gradient(before) / np.gradient(after)
    mass, found = np.trapezoid(layer, before), np.trapezoid(moved, after)
    scale = float(mass / found) if found > 0 else 1.0
    return SpreadPattern(tuple(after.tolist()), tuple((moved * scale).tolist()))


def turned(
    pattern: SpreadPattern, step_deg: float, side: Side, *, radius_m: float, widest_deg: float, middle_m: float
) -> SpreadPattern:
    """Pattern with the blades or the fan of one side turned.

    Parameters
    ----------
    pattern : SpreadPattern
        Any pattern.
    step_deg : float
        How far the outermost blade turns, -20 to 20; outward is positive. [deg]
    side : str
        `left`, `right` or `both`.
    radius_m : float
        Distance of throw in the direction of the blade, above 0. [m]
    widest_deg : float
        Direction of the outermost blade from straight back, 20 to 80. [deg]
    middle_m : float
        Place below which a piece thrown straight back lands. [m]

    Returns
    -------
    SpreadPattern
        The pattern after the change.

    Raises
    ------
    OutOfRange
        If an input lies outside its range.
    Contradiction
        If pieces would cross.

    Notes
    -----
    A piece that lands at x left the blade at asin((x - middle) / radius). Blades on one linkage turn in
    proportion to how far they point aside already, so that the middle stays and no gap opens; beyond the
    outermost blade the turn fades out to nothing straight aside. Model of ours.

    References
    ----------
    Geometry of a fan of throws of one radius.

    Examples
    --------
    >>> plain = SpreadPattern((-5.0, -2.5, 0.0, 2.5, 5.0), (0.0, 4.0, 4.0, 4.0, 0.0))
    >>> found = turned(plain, 5.0, "right", radius_m=6.0, widest_deg=60.0, middle_m=0.0)
    >>> [round(place, 2) for place in found.positions_m]
    [-5.0, -2.5, 0.0, 2.69, 5.26]
    """
    within("step_deg", step_deg, -20, 20, "deg")
    within("widest_deg", widest_deg, 20, 80, "deg")
    above("radius_m", radius_m, 0, "m")
    if side not in ("left", "right", "both"):
        raise OutOfRange("side", side, reason="not_a_side")
    landings = [
        middle_m + _landing(place - middle_m, step_deg, side, radius_m, widest_deg) for place in pattern.positions_m
    ]
    return carried(pattern, landings)


def _landing(aside: float, step_deg: float, side: Side, radius: float, widest: float) -> float:
    to_the = "left" if aside < 0 else "right"
    if side not in (to_the, "both") or abs(aside) >= radius:
        return aside
    angle = math.degrees(math.asin(abs(aside) / radius))
    weight = angle / widest if angle <= widest else (STRAIGHT_ASIDE_DEG - angle) / (STRAIGHT_ASIDE_DEG - widest)
    return math.copysign(radius * math.sin(math.radians(angle + step_deg * weight)), aside)


def together(patterns: Sequence[SpreadPattern]) -> SpreadPattern:
    """Layers of several materials on top of each other.

    Parameters
    ----------
    patterns : sequence of SpreadPattern
        One pattern or more.

    Returns
    -------
    SpreadPattern
        Their sum, on the nodes of all.

    Raises
    ------
    OutOfRange
        If there is no pattern.

    References
    ----------
    Addition.

    Examples
    --------
    >>> one, other = SpreadPattern((0.0, 2.0), (1.0, 1.0)), SpreadPattern((1.0, 2.0), (0.0, 4.0))
    >>> together([one, other]).layer
    (1.0, 1.0, 5.0)
    """
    within("patterns", len(patterns), 1, 16, "1")
    nodes = np.unique(np.concatenate([np.asarray(one.positions_m) for one in patterns]))
    layers = [np.interp(nodes, one.positions_m, one.layer, left=0.0, right=0.0) for one in patterns]
    return SpreadPattern(tuple(nodes.tolist()), tuple(np.sum(layers, axis=0).tolist()))
