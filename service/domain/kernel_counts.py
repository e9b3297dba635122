"""Kernels on an area and what they weigh.

Inside: counts to mass per area and back through the thousand-kernel mass, published count rules and
the kernel mass each one implies, and the shapes laid on the ground to count in. Outside: how sure a
count is (`sampling`), which loss it is (`losses`).

A count rule ("so many kernels on an area equal so much loss") holds for one kernel mass only. The
mass is what to keep; a rule is what follows from it.
"""

from typing import Final

from service.domain.ranges import INF, above, within

_POUND_G: Final = 453.59237
_SQUARE_FEET_PER_ACRE: Final = 43560.0


def kernel_loss_kg_ha(kernels_m2: float, thousand_kernel_mass_g: float) -> float:
    """Mass per hectare of kernels on a square metre.

    Parameters
    ----------
    kernels_m2 : float
        Kernels per area, >= 0. [{kernel}/m2]
    thousand_kernel_mass_g : float
        Mass of a thousand kernels, > 0. [g]

    Returns
    -------
    float
        Mass per area. [kg/har]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    kernels x mass / 1000 g/m2, and 1 g/m2 is 10 kg/ha. Exact.

    References
    ----------
    Definition.

    Examples
    --------
    >>> kernel_loss_kg_ha(250, 40)
    100.0
    """
    within("kernels_m2", kernels_m2, 0, INF, "{kernel}/m2")
    above("thousand_kernel_mass_g", thousand_kernel_mass_g, 0, "g")
    return kernels_m2 * thousand_kernel_mass_g / 100


def kernels_in_frame(loss_kg_ha: float, thousand_kernel_mass_g: float, area_m2: float) -> float:
    """Kernels that a loss leaves in a frame.

    Parameters
    ----------
    loss_kg_ha : float
        Loss where the frame lies, >= 0. [kg/har]
    thousand_kernel_mass_g : float
        Mass of a thousand kernels, > 0. [g]
    area_m2 : float
        Area of the frame, > 0. [m2]

    Returns
    -------
    float
        Kernels in the frame. [{kernel}]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    Inverse of `kernel_loss_kg_ha`, times the area.

    References
    ----------
    Definition. Agriculture Victoria, Estimating crop yields and crop losses (AG0104), prints the
    kernels on 0.0875 m2 at 1 t/ha for six crops.

    Examples
    --------
    >>> kernels_in_frame(1000, 40, 0.0875)
    218.75
    """
    within("loss_kg_ha", loss_kg_ha, 0, INF, "kg/har")
    above("thousand_kernel_mass_g", thousand_kernel_mass_g, 0, "g")
    above("area_m2", area_m2, 0, "m2")
    return loss_kg_ha * 100 / thousand_kernel_mass_g * area_m2


def mass_loss_kg_ha(mass_g: float, area_m2: float) -> float:
    """Mass per hectare of the grain weighed from a frame or pan.

    Parameters
    ----------
    mass_g : float
        Grain found, >= 0. [g]
    area_m2 : float
        Area it lay on, > 0. [m2]

    Returns
    -------
    float
        Mass per area. [kg/har]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    References
    ----------
    Definition.

    Examples
    --------
    >>> mass_loss_kg_ha(3.0, 0.1)
    300.0
    """
    within("mass_g", mass_g, 0, INF, "g")
    above("area_m2", area_m2, 0, "m2")
    return 10 * mass_g / area_m2


def rule_kernel_mass_g(kernels: float, area_m2: float, loss_kg_ha: float) -> float:
    """Thousand-kernel mass that a count rule implies.

    Parameters
    ----------
    kernels : float
        Kernels of the rule, > 0. [{kernel}]
    area_m2 : float
        Area of the rule, > 0. [m2]
    loss_kg_ha : float
        Loss that the rule says they equal, > 0. [kg/har]

    Returns
    -------
    float
        Mass of a thousand kernels for which the rule is right. [g]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    `kernel_loss_kg_ha` solved for the kernel mass.

    References
    ----------
    Definition.

    Examples
    --------
    >>> round(rule_kernel_mass_g(20, 0.09290304, 67.25106), 1)
    31.2
    """
    above("kernels", kernels, 0, "1")
    above("area_m2", area_m2, 0, "m2")
    above("loss_kg_ha", loss_kg_ha, 0, "kg/har")
    return 100 * loss_kg_ha * area_m2 / kernels


def kernels_ft2_per_bu_ac(thousand_kernel_mass_g: float, bushel_lb: float) -> float:
    """Kernels on a square foot that equal one bushel per acre.

    Parameters
    ----------
    thousand_kernel_mass_g : float
        Mass of a thousand kernels, > 0. [g]
    bushel_lb : float
        Legal mass of a bushel, > 0. [[lb_av]]

    Returns
    -------
    float
        Kernels per area for one bushel per acre. [{kernel}/[sft_i]]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    Kernels in a bushel over square feet in an acre.

    References
    ----------
    Definition.

    Examples
    --------
    >>> round(kernels_ft2_per_bu_ac(31.2, 60), 1)
    20.0
    """
    above("thousand_kernel_mass_g", thousand_kernel_mass_g, 0, "g")
    above("bushel_lb", bushel_lb, 0, "[lb_av]")
    return bushel_lb * _POUND_G * 1000 / (_SQUARE_FEET_PER_ACRE * thousand_kernel_mass_g)


def strip_depth(enclosed_area: float, cut_width: float) -> float:
    """Depth of a strip across the whole cut that encloses an area.

    Parameters
    ----------
    enclosed_area : float
        Area to enclose, > 0. [length unit squared]
    cut_width : float
        Width of the strip, > 0. [length unit]

    Returns
    -------
    float
        Depth in the direction of travel. [length unit]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    Any consistent units: 10 square feet are 120 foot-inches, so a width in feet gives inches. For ears
    the width is rows times row spacing: one hundredth of an acre, 435.6 square feet, is 174.2 ft of one
    row at 30 in. Two printed sources give 187 ft, which is 7 % too long.

    References
    ----------
    University of Missouri Extension G1280 (1993) prints the depths for 10 square feet and 8 to 24 ft.

    Examples
    --------
    >>> strip_depth(120, 15)
    8.0
    """
    above("enclosed_area", enclosed_area, 0, "1")
    above("cut_width", cut_width, 0, "1")
    return enclosed_area / cut_width
