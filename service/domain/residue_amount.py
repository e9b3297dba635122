"""How much straw and chaff a crop leaves: by yield, by ratios, through the machine, on the ground.

Inside: dry matter, above-ground residue by a line over yield, straw and chaff by ratios, the part that
passes the machine, its load where it is laid down, ground cover. Outside: where it lands
(`spread_pattern.py`), figures of crops (the knowledge table).
"""

import math
from dataclasses import dataclass
from typing import Final

from service.domain.ranges import above, within
from service.errors import OutOfRange

MOST_T_HA: Final = 100.0


@dataclass(frozen=True, slots=True)
class ResidueParts:
    """Dry matter of what grew above ground beside the grain, per area."""

    straw_t_ha: float
    chaff_t_ha: float
    through_machine_t_ha: float
    stubble_t_ha: float

    @property
    def total_t_ha(self) -> float:
        """Straw, stubble and chaff."""
        return self.straw_t_ha + self.chaff_t_ha


def dry_matter_t(mass_t: float, moisture_pct: float) -> float:
    """Dry matter of a mass as it is.

    Parameters
    ----------
    mass_t : float
        Mass as it is, 0 or more; per area or not. [t]
    moisture_pct : float
        Moisture, wet basis, 0 to 95. [%]

    Returns
    -------
    float
        Dry matter. [t]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    References
    ----------
    Definition of moisture on wet basis.

    Examples
    --------
    >>> dry_matter_t(5.0, 11.0)
    4.45
    """
    within("mass_t", mass_t, 0, 1e6, "t")
    within("moisture_pct", moisture_pct, 0, 95, "%")
    return mass_t * (100 - moisture_pct) / 100


def mass_as_is_t(dry_matter_t: float, moisture_pct: float) -> float:
    """Mass that holds a dry matter at a moisture.

    Parameters
    ----------
    dry_matter_t : float
        Dry matter, 0 or more; per area or not. [t]
    moisture_pct : float
        Moisture, wet basis, 0 to 95. [%]

    Returns
    -------
    float
        Mass as it is. [t]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    References
    ----------
    Definition of moisture on wet basis.

    Examples
    --------
    >>> mass_as_is_t(4.25, 15.0)
    5.0
    """
    within("dry_matter_t", dry_matter_t, 0, 1e6, "t")
    within("moisture_pct", moisture_pct, 0, 95, "%")
    return dry_matter_t * 100 / (100 - moisture_pct)


def residue_by_yield_t_ha(grain_t_ha: float, slope: float, intercept_t_ha: float) -> float:
    """Above-ground residue by a line over yield, all in dry matter.

    Parameters
    ----------
    grain_t_ha : float
        Dry matter of the grain yield, 0 to 100. [t/ha]
    slope : float
        Residue per grain, 0 to 10. [1]
    intercept_t_ha : float
        Residue at no yield, 0 to 20. [t/ha]

    Returns
    -------
    float
        Dry matter of everything above ground but the grain, stubble and chaff included. [t/ha]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    References
    ----------
    Intergovernmental Panel on Climate Change, 2006 Guidelines for National Greenhouse Gas Inventories,
    volume 4, table 11.2.

    Examples
    --------
    Winter wheat, 5 t/ha at 89 % dry matter:

    >>> round(residue_by_yield_t_ha(4.45, 1.61, 0.40), 2)
    7.56
    """
    within("grain_t_ha", grain_t_ha, 0, MOST_T_HA, "t/har")
    within("slope", slope, 0, 10, "1")
    within("intercept_t_ha", intercept_t_ha, 0, 20, "t/har")
    return slope * grain_t_ha + intercept_t_ha


def residue_by_ratio(
    grain_t_ha: float, straw_to_grain: float, chaff_to_grain: float, straw_intake_pct: float
) -> ResidueParts:
    """Straw, chaff and stubble by ratios to the grain, all in dry matter.

    Parameters
    ----------
    grain_t_ha : float
        Dry matter of the grain yield, 0 to 100. [t/ha]
    straw_to_grain : float
        Straw without chaff per grain, stubble included, 0 to 20. [1]
    chaff_to_grain : float
        Chaff per grain, 0 to 5. [1]
    straw_intake_pct : float
        Part of the straw that is cut off and passes the machine, 0 to 100. [%]

    Returns
    -------
    ResidueParts
        Straw, chaff, what passes the machine, what stays as stubble. [t/ha]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    References
    ----------
    Definition of the ratios; all chaff passes the machine.

    Examples
    --------
    Wheat plants that are 40 % grain, 50 % straw and 10 % chaff:

    >>> round(residue_by_ratio(4.0, 1.25, 0.25, 50.0).total_t_ha, 6)
    6.0
    """
    within("grain_t_ha", grain_t_ha, 0, MOST_T_HA, "t/har")
    within("straw_to_grain", straw_to_grain, 0, 20, "1")
    within("chaff_to_grain", chaff_to_grain, 0, 5, "1")
    within("straw_intake_pct", straw_intake_pct, 0, 100, "%")
    straw, chaff = grain_t_ha * straw_to_grain, grain_t_ha * chaff_to_grain
    taken = straw * straw_intake_pct / 100
    return ResidueParts(straw, chaff, taken + chaff, straw - taken)


def strip_load_t_ha(through_machine_t_ha: float, cut_width_m: float, laid_width_m: float) -> float:
    """Load of the strip on which the material of the whole cut is laid down.

    Parameters
    ----------
    through_machine_t_ha : float
        What passes the machine, per area cut, 0 or more. [t/ha]
    cut_width_m : float
        Width that is cut, above 0. [m]
    laid_width_m : float
        Width on which it lies, above 0 up to the width cut. [m]

    Returns
    -------
    float
        Mass per area of that strip. [t/ha]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    References
    ----------
    Conservation of mass.

    Examples
    --------
    >>> strip_load_t_ha(3.0, 9.0, 1.5)
    18.0
    """
    within("through_machine_t_ha", through_machine_t_ha, 0, 1e6, "t/har")
    above("cut_width_m", cut_width_m, 0, "m")
    above("laid_width_m", laid_width_m, 0, "m")
    if laid_width_m > cut_width_m:
        raise OutOfRange("laid_width_m", laid_width_m, None, cut_width_m, "m")
    return through_machine_t_ha * cut_width_m / laid_width_m


def ground_cover_pct(residue_t_ha: float, cover_m2_kg: float) -> float:
    """Part of the ground that flat residue covers.

    Parameters
    ----------
    residue_t_ha : float
        Dry matter of flat residue, 0 to 1000. [t/ha]
    cover_m2_kg : float
        Ground that a kilogram would cover if no piece lay on another, 0 to 50. [m2/kg]

    Returns
    -------
    float
        Share of the ground. [%]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    C = 100 (1 - exp(-a M)): pieces fall at random, evenly over the ground. Where the layer is uneven the
    cover is less than the mean mass says.

    References
    ----------
    Gregory, J. M. Soil cover prediction with various amounts and types of crop residue, Transactions of
    the ASAE 25:1333-1337, 1982.

    Examples
    --------
    >>> round(ground_cover_pct(0.68, 5.2279), 1)
    29.9
    """
    within("residue_t_ha", residue_t_ha, 0, 1000, "t/har")
    within("cover_m2_kg", cover_m2_kg, 0, 50, "m2/kg")
    return -100 * math.expm1(-cover_m2_kg * residue_t_ha / 10)
