"""Weighed frames: density with limits, scatter, and how many frames a wanted precision takes.

Inside: ratio estimate with Student limits, coefficient of variation, number of frames. Outside:
counted frames (`sampling`), what a density means as a loss (`losses`).
"""

import math
from collections.abc import Sequence
from typing import Final

from scipy import special

from service.domain.ranges import INF, above, within
from service.domain.types import Interval

_TAIL: Final = 0.025
_Z: Final = 1.96


def check_frames(field: str, found: Sequence[float], areas_m2: Sequence[float], fewest: int) -> None:
    """Refuse frames that cannot be pooled: too few, without area, or with a negative find.

    Parameters
    ----------
    field : str
        Name of the argument that holds what was found.
    found : sequence of float
        Kernels or grams, one number a frame. [{kernel} or g]
    areas_m2 : sequence of float
        Area of each frame. [m2]
    fewest : int
        Fewest frames the formula can do with.

    Raises
    ------
    OutOfRange
        If a number lies outside its range or the two sequences differ in length.

    References
    ----------
    None; a comparison.

    Examples
    --------
    >>> check_frames("counts", [3, 5], [0.1, 0.1], 2)
    """
    within(field, len(found), fewest, INF, "1")
    within("areas_m2", len(areas_m2), len(found), len(found), "1")
    for value in found:
        within(field, value, 0, INF, "1")
    for area in areas_m2:
        above("areas_m2", area, 0, "m2")


def weighed_density(masses_g: Sequence[float], areas_m2: Sequence[float]) -> Interval:
    """Mass per square metre from weighed frames, with Student limits.

    Parameters
    ----------
    masses_g : sequence of float
        Grain found, one number a frame, two frames or more. [g]
    areas_m2 : sequence of float
        Area of each frame, > 0. [m2]

    Returns
    -------
    Interval
        Total mass over total area, with limits. [g/m2]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    Ratio estimate; for frames of one size it is the mean with the ordinary t limits. A mass cannot be
    negative, so a lower limit below zero is given as zero.

    References
    ----------
    Cochran, W. G. (1977). Sampling techniques, 3rd ed., Wiley, ch. 6 (ratio estimates).

    Examples
    --------
    >>> limits = weighed_density([1.0, 2.0, 3.0], [0.1, 0.1, 0.1])
    >>> round(limits.value, 6), limits.low, round(limits.high, 1)
    (20.0, 0.0, 44.8)
    """
    check_frames("masses_g", masses_g, areas_m2, 2)
    frames, area = len(masses_g), sum(areas_m2)
    density = sum(masses_g) / area
    half = float(special.stdtrit(frames - 1, 1 - _TAIL)) * _residual_g(masses_g, areas_m2) * math.sqrt(frames) / area
    return Interval(density, max(0.0, density - half), density + half)


def variation_pct(masses_g: Sequence[float], areas_m2: Sequence[float]) -> float:
    """Coefficient of variation of weighed frames about one common density.

    Parameters
    ----------
    masses_g : sequence of float
        Grain found, one number a frame, two frames or more, not all zero. [g]
    areas_m2 : sequence of float
        Area of each frame, > 0. [m2]

    Returns
    -------
    float
        Standard deviation over mean of a frame of mean size. [%]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    References
    ----------
    Cochran (1977), as in `weighed_density`.

    Examples
    --------
    >>> round(variation_pct([1.0, 2.0, 3.0], [0.1, 0.1, 0.1]), 6)
    50.0
    """
    check_frames("masses_g", masses_g, areas_m2, 2)
    above("masses_g", sum(masses_g), 0, "g")
    return 100 * _residual_g(masses_g, areas_m2) * len(masses_g) / sum(masses_g)


def frames_needed_weighed(variation_pct: float, relative_error: float) -> int:
    """Weighed frames that give the wanted precision.

    Parameters
    ----------
    variation_pct : float
        Coefficient of variation between frames, >= 0. [%]
    relative_error : float
        Half-width of the 95 % limits over the mean, > 0. [1]

    Returns
    -------
    int
        Smallest number of frames, at least 2, with N >= (t CV / e)^2.

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    t has N - 1 degrees of freedom, so N is found by trial from the normal value upwards.

    References
    ----------
    Cochran (1977), as in `weighed_density`, ch. 4 (sample size with t).

    Examples
    --------
    >>> frames_needed_weighed(40, 0.2)
    18
    """
    within("variation_pct", variation_pct, 0, INF, "%")
    above("relative_error", relative_error, 0, "1")
    ratio = variation_pct / 100 / relative_error
    frames = max(2, math.floor((_Z * ratio) ** 2))
    while frames < (float(special.stdtrit(frames - 1, 1 - _TAIL)) * ratio) ** 2:
        frames += 1
    return frames


def _residual_g(masses_g: Sequence[float], areas_m2: Sequence[float]) -> float:
    density = sum(masses_g) / sum(areas_m2)
    squares = sum((m - density * a) ** 2 for m, a in zip(masses_g, areas_m2, strict=True))
    return math.sqrt(squares / (len(masses_g) - 1))
