"""From what lies on the ground to the loss of each place, its share of the yield and its value.

Inside: concentration of the strip behind the machine, the split into pre-harvest, header and machine
loss, percent of yield, money, the whole-swath method. Outside: counts to mass (`kernel_counts`),
limits (`sampling`, `weighing`, `intervals`), targets (knowledge table).

Three places are compared. Standing crop: what fell before the machine came. Cut ground ahead of the
discharge or beside it: that plus what the header lost. Discharge strip: that plus what left the
machine, gathered from the cut width into the discharge width. The concentration factor divides the
machine's share alone; what already lay on the ground was not concentrated.
"""

from dataclasses import dataclass

from service.domain.ranges import INF, above, within
from service.errors import OutOfRange


@dataclass(frozen=True, slots=True)
class LossSplit:
    """Loss of each place, all in the unit that went in. A share below zero is sampling noise."""

    preharvest: float
    header: float
    machine: float
    caused: float  # header + machine
    total: float


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


def field_loss(strip_loss: float, concentration: float) -> float:
    """Loss over the cut width from what a pan caught in the discharge strip.

    Parameters
    ----------
    strip_loss : float
        Caught from the machine alone, per area of the pan, >= 0. [any per area]
    concentration : float
        Concentration factor, >= 1. [1]

    Returns
    -------
    float
        Loss per area of field. [any per area]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    For a frame on the ground take off what lay there before: `split_losses`.

    References
    ----------
    Canola Council of Canada (2017), drop-pan question: pan loss over concentration factor.

    Examples
    --------
    >>> field_loss(322.8, 6)
    53.800000000000004
    """
    within("strip_loss", strip_loss, 0, INF, "1")
    within("concentration", concentration, 1, INF, "1")
    return strip_loss / concentration


def split_losses(standing: float, cut_ground: float, discharge: float, concentration: float) -> LossSplit:
    """Split what was found in three places into pre-harvest, header and machine loss.

    Parameters
    ----------
    standing : float
        Found in the standing crop, >= 0. [any per area]
    cut_ground : float
        Found on cut ground ahead of or beside the discharge, >= 0. [any per area]
    discharge : float
        Found on the ground in the discharge strip, >= 0. [any per area]
    concentration : float
        Concentration factor, >= 1. [1]

    Returns
    -------
    LossSplit
        Loss per area of field. [any per area]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    header = cut ground - standing; machine = (discharge - cut ground) / concentration;
    total = cut ground + machine.

    References
    ----------
    Minnesota and North Dakota wheat growers (2003); North Dakota State University, Sunflower
    Production; University of Missouri Extension G1280 (1993); Western Australian department of
    agriculture, Calculating harvesting losses (2018). All four agree on the procedure.

    Examples
    --------
    >>> split_losses(3, 13, 133, 6)
    LossSplit(preharvest=3, header=10, machine=20.0, caused=30.0, total=33.0)
    """
    for field, value in (("standing", standing), ("cut_ground", cut_ground), ("discharge", discharge)):
        within(field, value, 0, INF, "1")
    within("concentration", concentration, 1, INF, "1")
    header = cut_ground - standing
    machine = (discharge - cut_ground) / concentration
    return LossSplit(standing, header, machine, header + machine, standing + header + machine)


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


def share_of_harvest_pct(loss: float, harvested: float) -> float:
    """Loss as percent of the harvested yield, the other denominator in print.

    Parameters
    ----------
    loss : float
        Loss, >= 0. [any per area]
    harvested : float
        Yield that reached the tank, > 0. [any per area]

    Returns
    -------
    float
        Loss over harvested yield. [%]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    Always above `loss_share_pct`; to compare figures from sources that divide so.

    References
    ----------
    Definition.

    Examples
    --------
    >>> share_of_harvest_pct(217, 2000)
    10.85
    """
    within("loss", loss, 0, INF, "1")
    above("harvested", harvested, 0, "1")
    return 100 * loss / harvested


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


def whole_swath_loss_kg_ha(mass_g: float, swath_length_m: float, cut_width_m: float) -> float:
    """Loss from all grain on a piece of the full cut: swath, chaff and stubble together.

    Parameters
    ----------
    mass_g : float
        Grain gathered, >= 0. [g]
    swath_length_m : float
        Length of swath gathered, > 0. [m]
    cut_width_m : float
        Cut width over which it was gathered, > 0. [m]

    Returns
    -------
    float
        Loss per area of field. [kg/har]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    No concentration factor: the strip is as wide as the cut.

    References
    ----------
    Definition; the method with 1 m of swath is in Farmers Weekly, Accurately assessing combine losses.

    Examples
    --------
    >>> whole_swath_loss_kg_ha(90, 1.0, 9.0)
    100.0
    """
    within("mass_g", mass_g, 0, INF, "g")
    above("swath_length_m", swath_length_m, 0, "m")
    above("cut_width_m", cut_width_m, 0, "m")
    return 10 * mass_g / (swath_length_m * cut_width_m)
