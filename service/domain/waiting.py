"""Whether it pays to let a crop stand until it is drier: the value of grain now and later.

Inside: what a tonne is worth after drying, shrink and handling; field loss that waiting may cost before
drying is cheaper; days and grain price at which both are equal. Outside: fuel (`drying.py`), how fast
the crop dries (`drydown.py`), what stands in the field for long loses (the knowledge table).

Everything is per tonne of grain at the moisture of delivery, so that two options with different water
compare; a tonne means the same dry matter throughout.
"""

from dataclasses import dataclass

from service.domain.moisture import mass_at_moisture
from service.domain.ranges import above, within
from service.errors import OutOfRange

_HIGHEST_MONEY = 1e9


@dataclass(frozen=True, slots=True)
class GrainValue:
    """Money per tonne of grain at delivery moisture, and where it goes."""

    net_per_t: float
    drying_per_t: float
    handling_per_t: float
    overdry_per_t: float


def grain_value(
    price_per_t: float,
    moisture_pct: float,
    delivery_moisture_pct: float,
    drying_cost_per_wet_t: float,
    handling_loss_pct: float,
) -> GrainValue:
    """Value of grain harvested at a moisture and delivered at another.

    Parameters
    ----------
    price_per_t : float
        Price of grain at delivery moisture or drier, 0 or more. [money/t]
    moisture_pct : float
        Moisture at harvest, 0 to 95. [%]
    delivery_moisture_pct : float
        Highest moisture paid in full, 0 to 95. [%]
    drying_cost_per_wet_t : float
        Cost of drying a tonne of the wet grain, 0 or more; not used where nothing is dried. [money/t]
    handling_loss_pct : float
        Grain lost in dryer and conveyors, percent of what is dried, 0 to 100. [%]

    Returns
    -------
    GrainValue
        Net value, and the costs of drying, handling and of selling drier than paid for.

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    Grain drier than delivery moisture weighs less and earns no more: that is the cost of overdrying.
    The wet mass of a delivered tonne is (100 - Md) / (100 - M), the divisor of shrink the other way
    round.

    References
    ----------
    Conservation of dry matter.

    Examples
    --------
    >>> round(grain_value(200.0, 18.0, 15.0, 12.0, 0.5).net_per_t, 2)
    186.56
    """
    within("price_per_t", price_per_t, 0, _HIGHEST_MONEY, "1")
    within("drying_cost_per_wet_t", drying_cost_per_wet_t, 0, _HIGHEST_MONEY, "1")
    within("handling_loss_pct", handling_loss_pct, 0, 100, "%")
    harvested = mass_at_moisture(1.0, delivery_moisture_pct, moisture_pct)
    dried = moisture_pct > delivery_moisture_pct
    drying = drying_cost_per_wet_t * harvested if dried else 0.0
    handling = price_per_t * handling_loss_pct / 100 if dried else 0.0
    overdry = price_per_t * max(0.0, 1 - harvested)
    return GrainValue(price_per_t - drying - handling - overdry, drying, handling, overdry)


def tolerable_field_loss_pct(value_now_per_t: float, value_later_per_t: float) -> float:
    """Field loss at which waiting earns no more than harvesting now.

    Parameters
    ----------
    value_now_per_t : float
        Net value of grain harvested now, may be negative. [money/t]
    value_later_per_t : float
        Net value of grain harvested later, above 0. [money/t]

    Returns
    -------
    float
        Share of the crop; negative if waiting never pays, above 100 if grain is worth nothing now. [%]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    (1 - x) later = now. With nothing to dry later this is drying cost over grain price.

    References
    ----------
    South Dakota State University Extension: 0.32 over 2.50 is 12.8 %.

    Examples
    --------
    >>> round(tolerable_field_loss_pct(2.50 - 0.32, 2.50), 1)
    12.8
    """
    within("value_now_per_t", value_now_per_t, -_HIGHEST_MONEY, _HIGHEST_MONEY, "1")
    above("value_later_per_t", value_later_per_t, 0, "1")
    return 100 * (1 - value_now_per_t / value_later_per_t)


def field_loss_pct(days: float, loss_pct_per_day: float) -> float:
    """Share of the crop that waiting loses, in a straight line.

    Parameters
    ----------
    days : float
        Days of waiting, 0 or more. [d]
    loss_pct_per_day : float
        Loss a day as share of the crop, 0 to 100. [%/d]

    Returns
    -------
    float
        Loss, at most the whole crop. [%]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    Loss = K days, the simple form of the timeliness of ASABE EP496; at 100 % nothing is left to lose.

    References
    ----------
    Philbrook, B. D.; Oplinger, E. S., Agronomy Journal, 1989: soybean 6.1 to 13.9 % in a straight line
    over 42 days.

    Examples
    --------
    >>> round(6.1 + field_loss_pct(42, 0.186), 1)
    13.9
    """
    within("days", days, 0, 10_000, "d")
    within("loss_pct_per_day", loss_pct_per_day, 0, 100, "%/d")
    return min(100.0, days * loss_pct_per_day)


def break_even_days(tolerable_loss_pct: float, loss_pct_per_day: float) -> float:
    """Days after which waiting has cost as much as it saves.

    Parameters
    ----------
    tolerable_loss_pct : float
        Field loss at which both are equal; 0 or below gives no days. [%]
    loss_pct_per_day : float
        Loss a day as share of the crop, above 0 to 100. [%/d]

    Returns
    -------
    float
        Days, 0 or more. [d]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    References
    ----------
    Division of the tolerable loss by the loss a day.

    Examples
    --------
    >>> break_even_days(3.0, 0.5)
    6.0
    """
    within("tolerable_loss_pct", tolerable_loss_pct, -1e300, 1e300, "%")
    above("loss_pct_per_day", loss_pct_per_day, 0, "%/d")
    within("loss_pct_per_day", loss_pct_per_day, 0, 100, "%/d")
    return max(0.0, tolerable_loss_pct) / loss_pct_per_day


def break_even_price_per_t(cost_now_per_t: float, cost_later_per_t: float, kept_now: float, kept_later: float) -> float:
    """Grain price at which harvesting now and later earn the same; below it waiting pays.

    Parameters
    ----------
    cost_now_per_t, cost_later_per_t : float
        Drying cost of the two options per tonne of the standing crop, 0 or more. [money/t]
    kept_now, kept_later : float
        Share of the standing crop that is paid for, after field loss, handling and overdrying, 0 to 1;
        more is kept now than later. [1]

    Returns
    -------
    float
        Price; 0 if harvesting now is the cheaper one anyway. [money/t]

    Raises
    ------
    OutOfRange
        If an input lies outside its range, or no less is kept later than now, so that no price is equal.

    Notes
    -----
    kept_now P - cost_now = kept_later P - cost_later.

    References
    ----------
    Equality of two straight lines.

    Examples
    --------
    Drying costs 0.32 a bushel, waiting loses 12.8 % of the crop: equal at 2.50 a bushel.

    >>> round(break_even_price_per_t(0.32, 0.0, 1.0, 0.872), 2)
    2.5
    """
    for name, cost in (("cost_now_per_t", cost_now_per_t), ("cost_later_per_t", cost_later_per_t)):
        within(name, cost, 0, _HIGHEST_MONEY, "1")
    for name, share in (("kept_now", kept_now), ("kept_later", kept_later)):
        within(name, share, 0, 1, "1")
    if not kept_later < kept_now:
        raise OutOfRange("kept_later", kept_later, None, kept_now, "1", reason="no_equal_price")
    return max(0.0, (cost_now_per_t - cost_later_per_t) / (kept_now - kept_later))
