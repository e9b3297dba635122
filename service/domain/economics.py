"""What an hour of a machine costs, and what a day of delay costs.

Inside: repair, value that is left, capital, fuel, the sum per hour, the timeliness equation. Outside:
coefficients (knowledge table), the value of a loss (`losses`), what a ground speed costs (`working_speed`).

Money is in whatever currency the prices are in.
"""

import math
from dataclasses import dataclass

from service.domain.ranges import INF, above, within
from service.errors import OutOfRange


@dataclass(frozen=True, slots=True)
class HourCost:
    """Cost of a working hour by kind; `running` is what stops when the machine stops. [currency/h]"""

    depreciation: float
    interest: float
    taxes_insurance_housing: float
    repair: float
    fuel: float
    oil: float
    labour: float
    running: float
    total: float


def accumulated_repair_share_pct(hours: float, rf1: float, rf2: float) -> float:
    """Repair and maintenance since new, in percent of today's list price.

    Parameters
    ----------
    hours : float
        Hours of use since new, 0 or more. [h]
    rf1 : float
        Share of the list price after the first 1000 h, 0 or more. [1]
    rf2 : float
        Exponent, 1 or more: repairs grow with age. [1]

    Returns
    -------
    float
        Accumulated repair over list price. [%]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    100 RF1 (h / 1000)^RF2.

    References
    ----------
    ASABE D497, Agricultural Machinery Management Data; equation in EP496. Coefficients recalled.

    Examples
    --------
    A self-propelled combine harvester at the end of its life:

    >>> round(accumulated_repair_share_pct(3000, 0.04, 2.1), 1)
    40.2
    """
    within("hours", hours, 0, INF, "h")
    within("rf1", rf1, 0, INF, "1")
    within("rf2", rf2, 1, INF, "1")
    return float(100 * rf1 * (hours / 1000) ** rf2)


def remaining_value_share_pct(age_years: float, hours_per_year: float, c1: float, c2: float, c3: float) -> float:
    """Value that is left, in percent of today's list price.

    Parameters
    ----------
    age_years : float
        Age, 0 or more. [a]
    hours_per_year : float
        Mean hours of use a year, 0 or more. [h/a]
    c1, c2, c3 : float
        Coefficients of the kind of machine, 0 or more. [1]

    Returns
    -------
    float
        Remaining value over list price. [%]

    Raises
    ------
    OutOfRange
        If an input lies outside its range, or the equation has no value left (`field` is `age_years`,
        reason `nothing_left`).

    Notes
    -----
    100 (C1 - C2 sqrt(n) - C3 sqrt(h))^2, not past the point where the bracket is zero.

    References
    ----------
    ASABE D497, Agricultural Machinery Management Data, remaining value. Coefficients recalled.

    Examples
    --------
    A combine harvester of five years at 300 h a year:

    >>> round(remaining_value_share_pct(5, 300, 1.132, 0.165, 0.0079), 1)
    39.2
    """
    within("age_years", age_years, 0, INF, "1")
    within("hours_per_year", hours_per_year, 0, INF, "h")
    for name, coefficient in (("c1", c1), ("c2", c2), ("c3", c3)):
        within(name, coefficient, 0, INF, "1")
    root = c1 - c2 * math.sqrt(age_years) - c3 * math.sqrt(hours_per_year)
    if root <= 0:
        raise OutOfRange("age_years", age_years, 0, None, "1", reason="nothing_left")
    return 100 * root**2


def hour_cost(
    *,
    list_price: float,
    hours_per_year: float,
    value_start_pct: float,
    value_end_pct: float,
    repair_start_pct: float,
    repair_end_pct: float,
    interest_pct: float,
    taxes_insurance_housing_pct: float,
    fuel_l_h: float,
    fuel_price_per_l: float,
    oil_pct: float,
    wage_per_h: float,
) -> HourCost:
    """Cost of an hour of machine and driver over one year of use.

    Parameters
    ----------
    list_price : float
        Price of the machine new today, above 0. [currency]
    hours_per_year : float
        Hours of use in the year, above 0. [h/a]
    value_start_pct, value_end_pct : float
        Remaining value at the start and end of the year over list price, 0 to 150, falling. [%]
    repair_start_pct, repair_end_pct : float
        Accumulated repair at the start and end over list price, 0 or more, rising. [%]
    interest_pct : float
        Interest a year on the value at the start, 0 to 100. [%]
    taxes_insurance_housing_pct : float
        Taxes, insurance and housing a year over list price, 0 to 100. [%]
    fuel_l_h : float
        Mean fuel use, 0 or more. [L/h]
    fuel_price_per_l : float
        Price of fuel, 0 or more. [currency/L]
    oil_pct : float
        Oil and lubricants over the cost of fuel, 0 to 100. [%]
    wage_per_h : float
        Labour, 0 or more. [currency/h]

    Returns
    -------
    HourCost
        Kinds of cost and their sums. [currency/h]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    Costs of the year over its hours. Running cost is repair, fuel, oil and labour; the rest is there
    whether the machine works that hour or not.

    References
    ----------
    ASABE EP496, Agricultural Machinery Management, cost of ownership and operation. Recalled.

    Examples
    --------
    >>> cost = hour_cost(
    ...     list_price=400_000, hours_per_year=250, value_start_pct=50, value_end_pct=45, repair_start_pct=5,
    ...     repair_end_pct=7, interest_pct=4, taxes_insurance_housing_pct=2, fuel_l_h=60, fuel_price_per_l=1,
    ...     oil_pct=15, wage_per_h=25,
    ... )
    >>> round(cost.depreciation), round(cost.interest), round(cost.repair), round(cost.running), round(cost.total)
    (80, 32, 32, 126, 270)
    """
    above("list_price", list_price, 0, "1")
    above("hours_per_year", hours_per_year, 0, "h")
    within("value_start_pct", value_start_pct, 0, 150, "%")
    within("value_end_pct", value_end_pct, 0, value_start_pct, "%")
    within("repair_start_pct", repair_start_pct, 0, INF, "%")
    within("repair_end_pct", repair_end_pct, repair_start_pct, INF, "%")
    for name, percent in (
        ("interest_pct", interest_pct),
        ("taxes_insurance_housing_pct", taxes_insurance_housing_pct),
        ("oil_pct", oil_pct),
    ):
        within(name, percent, 0, 100, "%")
    for name, amount in (("fuel_l_h", fuel_l_h), ("fuel_price_per_l", fuel_price_per_l), ("wage_per_h", wage_per_h)):
        within(name, amount, 0, INF, "1")
    per_point = list_price / 100 / hours_per_year
    depreciation = (value_start_pct - value_end_pct) * per_point
    interest = value_start_pct * per_point * interest_pct / 100
    taxes = taxes_insurance_housing_pct * per_point
    repair = (repair_end_pct - repair_start_pct) * per_point
    fuel = fuel_l_h * fuel_price_per_l
    oil = fuel * oil_pct / 100
    running = repair + fuel + oil + wage_per_h
    total = depreciation + interest + taxes + running
    return HourCost(depreciation, interest, taxes, repair, fuel, oil, wage_per_h, running, total)


def timeliness_cost(
    *,
    loss_share_per_day: float,
    area_ha: float,
    yield_t_ha: float,
    price_per_t: float,
    spread: float,
    hours_per_day: float,
    area_rate_ha_h: float,
    workday_share: float,
) -> float:
    """Value that a field loses because it cannot be harvested in one day.

    Parameters
    ----------
    loss_share_per_day : float
        K: share of the yield's value lost per day of delay, 0 to 1. [1/d]
    area_ha : float
        Area left to harvest, 0 or more. [har]
    yield_t_ha : float
        Yield, above 0. [t/har]
    price_per_t : float
        Price of the grain, 0 or more. [currency/t]
    spread : float
        4 where the harvest lies evenly about the best day, 2 where all of it comes after or before. [1]
    hours_per_day : float
        Hours of work on a day that allows it, above 0 to 24. [h/d]
    area_rate_ha_h : float
        Area worked per hour, above 0. [har/h]
    workday_share : float
        Share of the days that allow work, above 0 to 1. [1]

    Returns
    -------
    float
        Cost of the whole area. [currency]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    W = K A^2 Y V / (Z G C pwd). Z = 2: the days that the area takes, halved because the mean hectare
    waits half of them.

    References
    ----------
    ASABE EP496, Agricultural Machinery Management, timeliness. Equation recalled.

    Examples
    --------
    100 ha at 5 ha/h and 10 h a day take two days; the mean hectare waits one of them and loses 1 %:

    >>> timeliness_cost(
    ...     loss_share_per_day=0.01, area_ha=100, yield_t_ha=8, price_per_t=200, spread=2, hours_per_day=10,
    ...     area_rate_ha_h=5, workday_share=1,
    ... )
    1600.0
    """
    within("loss_share_per_day", loss_share_per_day, 0, 1, "1")
    within("area_ha", area_ha, 0, INF, "har")
    above("yield_t_ha", yield_t_ha, 0, "t/har")
    within("price_per_t", price_per_t, 0, INF, "1")
    if spread not in (2, 4):
        raise OutOfRange("spread", spread, 2, 4, "1")
    above("hours_per_day", hours_per_day, 0, "h")
    within("hours_per_day", hours_per_day, 0, 24, "h")
    above("area_rate_ha_h", area_rate_ha_h, 0, "har/h")
    above("workday_share", workday_share, 0, "1")
    within("workday_share", workday_share, 0, 1, "1")
    worth = area_ha * yield_t_ha * price_per_t
    return loss_share_per_day * area_ha * worth / (spread * hours_per_day * area_rate_ha_h * workday_share)
