"""Bushels: how many make a tonne, and test weight in both worlds.

Inside: bushels per tonne from the legal bushel mass, kilograms per hectolitre from pounds per bushel,
exact and by the official formula for wheat. Outside: the legal masses (knowledge table), bushels per
acre (`service.units`).
"""

from typing import Final, Literal

from service.domain.ranges import above, within

_POUND_KG: Final = 0.45359237
_HECTOLITRES: Final[dict[str, float]] = {
    "us": 0.3523907016688,  # 2150.42 cubic inches
    "imperial": 0.3636872,  # 8 gallons of 4.54609 L
}


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


def metric_test_weight_kg_hl(test_weight_lb_bu: float, bushel: Literal["us", "imperial"] = "us") -> float:
    """Test weight in kilograms per hectolitre, by the exact volumes.

    Parameters
    ----------
    test_weight_lb_bu : float
        Mass of a bushel measure of this grain, 0 to 100. [[lb_av]/[bu_us]]
    bushel : str
        Which bushel: `us` (Winchester) or `imperial`.

    Returns
    -------
    float
        Mass per volume. [kg/hL]

    Raises
    ------
    OutOfRange
        If the test weight lies outside its range.

    Notes
    -----
    1 lb per US bushel is 1.28719 kg/hL, 1 lb per imperial bushel 1.24721 kg/hL.

    References
    ----------
    Definition of both bushels. The Canadian Grain Commission prints 1.247 for the imperial bushel.

    Examples
    --------
    >>> round(metric_test_weight_kg_hl(60), 2), round(metric_test_weight_kg_hl(60, "imperial"), 2)
    (77.23, 74.83)
    """
    within("test_weight_lb_bu", test_weight_lb_bu, 0, 100, "[lb_av]/[bu_us]")
    return test_weight_lb_bu * _POUND_KG / _HECTOLITRES[bushel]


def official_test_weight_kg_hl(test_weight_lb_bu: float, grain: Literal["wheat", "durum", "other"] = "wheat") -> float:
    """Test weight in kilograms per hectolitre, as United States inspection converts it.

    Parameters
    ----------
    test_weight_lb_bu : float
        Test weight, 0 to 100. [[lb_av]/[bu_us]]
    grain : str
        `wheat` except durum, `durum`, or `other`.

    Returns
    -------
    float
        Test weight in metric units. [kg/hL]

    Raises
    ------
    OutOfRange
        If the test weight lies outside its range.

    Notes
    -----
    Wheat 1.292 x + 1.419, durum 1.292 x + 0.630, other grain 1.287 x. The constants for wheat allow
    for how the kettle packs; the factor for other grain is recalled, its page was not read.

    References
    ----------
    Federal Grain Inspection Service, program notice FGIS-PN-97-5, as printed by the California Wheat
    Commission, Unit conversion factors (cawheat.org).

    Examples
    --------
    >>> round(official_test_weight_kg_hl(60), 1)
    78.9
    """
    within("test_weight_lb_bu", test_weight_lb_bu, 0, 100, "[lb_av]/[bu_us]")
    slope, offset = {"wheat": (1.292, 1.419), "durum": (1.292, 0.630), "other": (1.287, 0.0)}[grain]
    return slope * test_weight_lb_bu + offset
