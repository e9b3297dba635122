"""From what lies on the ground to the loss of a place, its share of the yield and its value.

Inside: concentration of the strip behind the machine, loss as a weighted sum of what was found, percent
of yield, bushels, money. Outside: counts to mass (`kernel_counts`), limits of what was found
(`sampling`, `weighing`), arithmetic with limits (`intervals`), targets (knowledge table).

Three places are compared. Standing crop: what fell before the machine came. Cut ground ahead of the
discharge or beside it: that plus what the header lost. Discharge strip: that plus what left the
machine, gathered from the cut width into the discharge width. The concentration factor divides the
machine's share alone; what already lay on the ground was not concentrated.
"""

from collections.abc import Sequence
from typing import Final

from service.domain.intervals import combined, propagated, scaled
from service.domain.ranges import INF, above, within
from service.domain.types import Interval
from service.errors import OutOfRange

Weighted = tuple[float, float, Interval]  # weight as it lies, weight where gathered into the strip, density
_POUND_KG: Final = 0.45359237


def concentration_factor(cut_width_m: float, discharge_width_m: float) -> float:
    """How many times denser the machine's loss lies in the discharge strip than over the cut.

    Parameters
    ----------
    cut_width_m : float
        Width of crop that the machine takes in one pass, > 0. [m]
    discharge_width_m : float
        Width of the strip that swath or spread covers, > 0, at most the cut width. [m]

    Returns
    -------
    float
        Cut width over discharge width. [1]

    Raises
    ------
    OutOfRange
        If a width is not positive or the discharge is wider than the cut.

    Notes
    -----
    Holds where the strip is covered evenly, which a running spreader rarely does.

    References
    ----------
    Prairie Agricultural Machinery Institute advice, 2010/11: 30 ft cut, 5 ft discharge, factor 6.

    Examples
    --------
    >>> concentration_factor(9.0, 1.5)
    6.0
    """
    above("cut_width_m", cut_width_m, 0, "m")
    above("discharge_width_m", discharge_width_m, 0, "m")
    if discharge_width_m > cut_width_m:
        raise OutOfRange("discharge_width_m", discharge_width_m, 0, cut_width_m, "m", reason="wider_than_cut")
    return cut_width_m / discharge_width_m


def ground_loss_kg_ha(
    counted: Sequence[Weighted], weighed: Sequence[Weighted], strip_share: Interval, thousand_kernel_mass_g: Interval
) -> Interval:
    """Loss over the field from the densities that were found, each with its weights.

    Parameters
    ----------
    counted : sequence of (float, float, Interval)
        Weight of the density as it lies, weight where it was gathered into the strip, and kernels per
        area with limits. [{kernel}/m2]
    weighed : sequence of (float, float, Interval)
        The same for what was weighed. [g/m2]
    strip_share : Interval
        Discharge width over cut width, the inverse of the concentration factor, 0 to 1. [1]
    thousand_kernel_mass_g : Interval
        Mass of a thousand kernels, low >= 0. [g]

    Returns
    -------
    Interval
        Loss per area of field with limits; negative where sampling has it so. [kg/har]

    Raises
    ------
    OutOfRange
        If strip share or kernel mass lies outside its range.

    Notes
    -----
    sum (a + b q) d, q the strip share. With P standing, B cut ground, A discharge: pre-harvest = P,
    header = B - P, machine = q (A - B), total = (1 - q) B + q A. So a density that enters a loss twice
    is never taken as two independent ones, the kernel mass is one factor for all counts, and an
    uncertain q moves what was gathered alone.

    References
    ----------
    Minnesota and North Dakota wheat growers (2003); North Dakota State University, Sunflower
    Production; University of Missouri Extension G1280 (1993); Western Australian department of
    agriculture, Calculating harvesting losses (2018). All four agree on the procedure. Limits: Zou and
    Donner (2008), as in `combined`.

    Examples
    --------
    >>> sixth, mass = Interval(1 / 6, 1 / 6, 1 / 6), Interval(40, 40, 40)
    >>> strip, ground = Interval(133, 111, 158), Interval(13, 7, 22)
    >>> round(ground_loss_kg_ha([(0, 1, strip), (0, -1, ground)], [], sixth, mass).value, 6)
    8.0
    """
    q = strip_share.value
    if not 0 <= strip_share.low <= q <= strip_share.high <= 1:
        raise OutOfRange("strip_share", q, 0, 1, "1")
    grams = scaled(thousand_kernel_mass_g, 1 / 1000)
    kernels, mass = (combined([(a + b * q, d) for a, b, d in found]) for found in (counted, weighed))
    gathered = sum(b * d.value for _, b, d in counted) * grams.value + sum(b * d.value for _, b, d in weighed)
    ends = [gathered * (end - q) for end in (strip_share.low, strip_share.high)]
    width = Interval(0.0, min(ends), max(ends))
    return scaled(combined([(1, propagated(kernels, grams)), (1, mass), (1, width)]), 10)


def loss_share_pct(loss: float, harvested: float, other_loss: float = 0.0) -> float:
    """Loss as percent of all that grew: harvested yield plus every loss.

    Parameters
    ----------
    loss : float
        The loss asked for, >= 0. [any per area]
    harvested : float
        Yield that reached the tank, > 0. [any per area]
    other_loss : float
        Every other loss, >= 0. [any per area]

    Returns
    -------
    float
        Share of what grew. [%]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    100 loss / (harvested + loss + other loss). Yield and lost grain at the same moisture.

    References
    ----------
    Minnesota and North Dakota wheat growers (2003), whose procedure has this denominator.

    Examples
    --------
    >>> round(loss_share_pct(1.65, 60), 2)
    2.68
    """
    within("loss", loss, 0, INF, "1")
    above("harvested", harvested, 0, "1")
    within("other_loss", other_loss, 0, INF, "1")
    return 100 * loss / (harvested + loss + other_loss)


def loss_for_share(share_pct: float, harvested: float) -> float:
    """Loss that is a given percent of all that grew, where it is the only loss.

    Parameters
    ----------
    share_pct : float
        Share of what grew, 0 to 99. [%]
    harvested : float
        Yield that reached the tank, > 0. [any per area]

    Returns
    -------
    float
        Loss. [any per area]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    Inverse of `loss_share_pct`: harvested x share / (100 - share).

    References
    ----------
    As `loss_share_pct`.

    Examples
    --------
    >>> loss_for_share(1.0, 9.9)
    0.1
    """
    within("share_pct", share_pct, 0, 99, "%")
    above("harvested", harvested, 0, "1")
    return harvested * share_pct / (100 - share_pct)


def bushels_per_tonne(bushel_lb: float) -> float:
    """Bushels in a tonne.

    Parameters
    ----------
    bushel_lb : float
        Legal mass of a bushel, > 0. [[lb_av]]

    Returns
    -------
    float
        Bushels per tonne. [1/t]

    Raises
    ------
    OutOfRange
        If the input lies outside its range.

    References
    ----------
    Definition: 1 lb = 0.45359237 kg.

    Examples
    --------
    >>> round(bushels_per_tonne(60), 3)
    36.744
    """
    above("bushel_lb", bushel_lb, 0, "[lb_av]")
    return 1000 / (bushel_lb * _POUND_KG)


def loss_value(loss: float, price: float) -> float:
    """Money that a loss is worth.

    Parameters
    ----------
    loss : float
        Loss per area, >= 0. [mass unit per area]
    price : float
        Price of one mass unit, >= 0. [currency per mass unit]

    Returns
    -------
    float
        Value per area. [currency per area]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    References
    ----------
    Definition.

    Examples
    --------
    >>> loss_value(2.0, 9.25)
    18.5
    """
    within("loss", loss, 0, INF, "1")
    within("price", price, 0, INF, "1")
    return loss * price
