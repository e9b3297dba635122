"""How sure a density on the ground is, from the few frames that were laid.

Inside: exact limits for counts (Poisson, negative binomial), the test for uneven spread, and how many
counted frames a wanted precision takes. Outside: weighed frames (`weighing`), arithmetic with
estimates that have limits (`intervals`), what a density means as a loss (`losses`).

All limits are 95 %, two-sided. Frames of one place may differ in size; the formulas are exact for
frames of one size and close for others.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from scipy import special

from service.domain.ranges import INF, above, within
from service.domain.types import Interval
from service.domain.weighing import check_frames, weighed_density
from service.errors import OutOfRange

_TAIL: Final = 0.025
_Z: Final = 1.96  # as the sampling tables of the field have it
_UNEVEN_LEVEL: Final = 0.10  # few frames make a weak test, so the usual 5 % would miss too much
_FEWEST_DEGREES: Final = 4  # with fewer the limits would run away without telling more
_FEW_FRAMES: Final = 5  # below this Student's upper limit is the smaller and covers as often


@dataclass(frozen=True, slots=True)
class CountedDensity:
    """Kernels per square metre with limits, and the spread model behind them.

    `dispersion` is variance / mean, None with one frame. `k` is the moment estimate of the negative
    binomial, None under the Poisson model.
    """

    density_m2: Interval
    model: Literal["poisson", "negative_binomial"]
    dispersion: float | None
    k: float | None


def garwood_interval(count: float) -> Interval:
    """Exact limits of a Poisson mean from one count.

    Parameters
    ----------
    count : float
        Kernels found in all frames together, >= 0; need not be whole. [{kernel}]

    Returns
    -------
    Interval
        The count and its limits; 0 gives 0 to 3.69. [{kernel}]

    Raises
    ------
    OutOfRange
        If the count is negative or not finite.

    Notes
    -----
    low = chi2(0.025; 2n) / 2, high = chi2(0.975; 2n + 2) / 2, written as inverse incomplete gamma
    functions. Coverage is at least 95 % for every mean.

    References
    ----------
    Garwood, F. (1936). Fiducial limits for the Poisson distribution. Biometrika 28, 437-442.

    Examples
    --------
    >>> limits = garwood_interval(10)
    >>> round(limits.low, 2), round(limits.high, 2)
    (4.8, 18.39)
    """
    within("count", count, 0, INF, "1")
    low = float(special.gammaincinv(count, _TAIL)) if count > 0 else 0.0
    return Interval(float(count), low, float(special.gammainccinv(count + 1, _TAIL)))


def negative_binomial_mean_interval(total: float, frames: int, k: float) -> Interval:
    """Exact limits of the mean count per frame where frames scatter more than Poisson.

    Parameters
    ----------
    total : float
        Kernels found in all frames together, >= 0. [{kernel}]
    frames : int
        Number of frames, >= 1.
    k : float
        Exponent of the negative binomial, > 0, taken as known. Small is uneven. [1]

    Returns
    -------
    Interval
        Mean count per frame and its limits. [{kernel}]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    The sum of n frames is negative binomial with exponent n k; its distribution function is an
    incomplete beta function, which is inverted at both tails. k -> infinity gives `garwood_interval`.

    References
    ----------
    Johnson, N. L., Kemp, A. W., Kotz, S. (2005). Univariate discrete distributions, 3rd ed., Wiley,
    ch. 5 (distribution function as incomplete beta function; sum of equal k).

    Examples
    --------
    >>> limits = negative_binomial_mean_interval(60, 6, 2.0)
    >>> limits.value, round(limits.low, 1), round(limits.high, 1)
    (10.0, 5.7, 20.4)
    """
    within("total", total, 0, INF, "1")
    within("frames", frames, 1, INF, "1")
    above("k", k, 0, "1")
    low = _odds(frames * k, total, 1 - _TAIL) if total > 0 else 0.0
    high = _odds(frames * k, total + 1, _TAIL)
    return Interval(total / frames, k * low, k * high)


def dispersion_index(counts: Sequence[float], areas_m2: Sequence[float]) -> float:
    """Variance of the frame counts over their mean; 1 is chance alone.

    Parameters
    ----------
    counts : sequence of float
        Kernels found, one number a frame, two frames or more, not all zero. [{kernel}]
    areas_m2 : sequence of float
        Area of each frame, > 0. [m2]

    Returns
    -------
    float
        Index of dispersion. [1]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    Pearson's chi-square against one common density, over its degrees of freedom. For frames of one
    size this is s^2 / m.

    References
    ----------
    Elliott, J. M. (1977). Some methods for the statistical analysis of samples of benthic
    invertebrates, 2nd ed., Freshwater Biological Association, index of dispersion.

    Examples
    --------
    >>> dispersion_index([4, 8], [0.1, 0.1])
    1.3333333333333333
    """
    check_frames("counts", counts, areas_m2, 2)
    above("counts", sum(counts), 0, "1")
    density = sum(counts) / sum(areas_m2)
    pearson = sum((n - density * a) ** 2 / (density * a) for n, a in zip(counts, areas_m2, strict=True))
    return pearson / (len(counts) - 1)


def is_uneven(counts: Sequence[float], areas_m2: Sequence[float]) -> bool:
    """Say whether frames differ by more than chance does.

    Parameters
    ----------
    counts : sequence of float
        Kernels found, one number a frame, two frames or more, not all zero. [{kernel}]
    areas_m2 : sequence of float
        Area of each frame, > 0. [m2]

    Returns
    -------
    bool
        True where the index of dispersion is beyond its 10 % point.

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    One-sided chi-square test with n - 1 degrees of freedom. The level is 10 % and not 5 %, because a
    missed unevenness makes the limits too narrow, a false one only wider.

    References
    ----------
    Elliott, J. M. (1977), as in `dispersion_index`; the level is our choice.

    Examples
    --------
    >>> is_uneven([2, 30, 5], [0.1, 0.1, 0.1])
    True
    """
    index = dispersion_index(counts, areas_m2)
    degrees = len(counts) - 1
    return index * degrees > float(special.chdtri(degrees, _UNEVEN_LEVEL))


def moment_k(counts: Sequence[float], areas_m2: Sequence[float]) -> float:
    """Exponent of the negative binomial from mean and variance of the frames.

    Parameters
    ----------
    counts : sequence of float
        Kernels found, one number a frame, with more variance than mean. [{kernel}]
    areas_m2 : sequence of float
        Area of each frame, > 0. [m2]

    Returns
    -------
    float
        k at the mean frame size. [1]

    Raises
    ------
    OutOfRange
        If the variance is not above the mean, or an input lies outside its range.

    Notes
    -----
    k = m / (dispersion - 1), which is m^2 / (s^2 - m) for frames of one size.

    References
    ----------
    Anscombe, F. J. (1949). The statistical analysis of insect counts based on the negative binomial
    distribution. Biometrics 5, 165-173 (method of moments).

    Examples
    --------
    >>> round(moment_k([2, 30, 5], [0.1, 0.1, 0.1]), 2)
    0.68
    """
    index = dispersion_index(counts, areas_m2)
    above("dispersion", index, 1, "1")
    return sum(counts) / len(counts) / (index - 1)


def counted_density(counts: Sequence[float], areas_m2: Sequence[float]) -> CountedDensity:
    """Kernels per square metre from counted frames, with limits that fit their spread.

    Parameters
    ----------
    counts : sequence of float
        Kernels found, one number a frame. [{kernel}]
    areas_m2 : sequence of float
        Area of each frame, > 0. [m2]

    Returns
    -------
    CountedDensity
        Pooled density with limits, model, dispersion, k. [{kernel}/m2]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    Poisson limits unless the frames are uneven. Else negative binomial limits; as k comes from the
    same frames, they are drawn at the dispersion times (t / 1.96)^2, t with n - 1 and at least 4
    degrees of freedom, never more uneven than all kernels in one frame. With fewer than five frames
    the upper limit is at most Student's. In simulation (k 1 to 5, mean 10 to 50) this covers 90 to
    95 % with five frames or more, 82 to 90 % with three or four and 71 to 85 % with two; the plain k
    covers 77 to 88 % with three to six.

    References
    ----------
    Garwood (1936), Johnson, Kemp and Kotz (2005), Elliott (1977) as above; the allowance for an
    estimated k is ours.

    Examples
    --------
    >>> counted_density([12, 9, 11], [0.1, 0.1, 0.1]).model
    'poisson'
    """
    check_frames("counts", counts, areas_m2, 1)
    total, area, frames = sum(counts), sum(areas_m2), len(counts)
    poisson = garwood_interval(total)
    limits = Interval(total / area, poisson.low / area, poisson.high / area)
    if frames == 1 or total == 0:
        return CountedDensity(limits, "poisson", None, None)
    index = dispersion_index(counts, areas_m2)
    if not is_uneven(counts, areas_m2):
        return CountedDensity(limits, "poisson", index, None)
    limits = _uneven_limits(counts, areas_m2, index, limits)
    return CountedDensity(limits, "negative_binomial", index, moment_k(counts, areas_m2))


def frames_needed(mean_per_frame: float, relative_error: float, k: float = INF) -> int:
    """Counted frames that give the wanted precision.

    Parameters
    ----------
    mean_per_frame : float
        Mean count of a frame, > 0. [{kernel}]
    relative_error : float
        Half-width of the 95 % limits over the mean, > 0. [1]
    k : float
        Exponent of the negative binomial, > 0; infinity is Poisson. [1]

    Returns
    -------
    int
        Number of frames, rounded up.

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    N = (1.96 / e)^2 (1 / m + 1 / k).

    References
    ----------
    Karandinos, M. G. (1976). Optimum sample size and comments on some published formulae. Bulletin
    of the Entomological Society of America 22, 417-421.

    Examples
    --------
    >>> frames_needed(10, 0.2), frames_needed(10, 0.2, k=2)
    (10, 58)
    """
    above("mean_per_frame", mean_per_frame, 0, "1")
    above("relative_error", relative_error, 0, "1")
    if not k > 0:
        raise OutOfRange("k", k, 0, None, "1", reason="not_above")
    return math.ceil((_Z / relative_error) ** 2 * (1 / mean_per_frame + 1 / k))


def _uneven_limits(counts: Sequence[float], areas_m2: Sequence[float], index: float, poisson: Interval) -> Interval:
    total, area, frames = sum(counts), sum(areas_m2), len(counts)
    t = float(special.stdtrit(max(frames - 1, _FEWEST_DEGREES), 1 - _TAIL))
    # total / index is what frames * k becomes where one frame holds everything: 1, or 1/2 with the allowance
    cautious_k = max(total / (index * (t / _Z) ** 2 - 1), 0.5) / frames
    per_frame = negative_binomial_mean_interval(total, frames, cautious_k)
    high = per_frame.high * frames / area
    if frames < _FEW_FRAMES:
        high = min(high, weighed_density(counts, areas_m2).high)
    return Interval(poisson.value, min(poisson.low, per_frame.low * frames / area), max(poisson.high, high))


def _odds(exponent: float, count: float, share: float) -> float:
    """Mean over k of the sum whose distribution function I_p(exponent, count) is `share`."""
    if exponent < count:
        p = float(special.betaincinv(exponent, count, share))
        return (1 - p) / p
    q = float(special.betaincinv(count, exponent, 1 - share))  # the complement keeps its digits where k is large
    return q / (1 - q)
