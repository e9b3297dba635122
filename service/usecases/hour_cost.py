"""What an hour costs: machine and driver, and the delay of the area that still stands.

Inside: reading and refusing the question's money and delay, figures of the table. Outside: the formulas
(`domain.economics`).
"""

from service.domain.economics import (
    HourCost,
    accumulated_repair_share_pct,
    hour_cost,
    remaining_value_share_pct,
    timeliness_cost,
)
from service.errors import Contradiction, InvalidInput, OutOfRange
from service.knowledge.schema import CropFile
from service.knowledge.schema_economics import MachineCost
from service.knowledge.table import KnowledgeTable
from service.usecases.hour_types import Hour, HourPart, HourQuestion
from service.usecases.provenance import proof
from service.usecases.settings_types import Proof

_OWNED = ("list_price", "machine_age_years", "hours_per_year", "wage_per_h", "fuel_price_per_l")
_BOTH = (*_OWNED, "interest_pct")
RUNNING = ("repair", "fuel", "oil", "labour")
FIXED = ("depreciation", "interest", "taxes_insurance_housing")


def read_hour(
    table: KnowledgeTable,
    question: HourQuestion,
    crop: CropFile,
    *,
    yield_t_ha: float,
    price_per_t: float,
    fuel_l_h: float | None,
) -> Hour:
    """Return the cost of an hour; `fuel_l_h` is None where the engine is not known.

    Raises
    ------
    Contradiction
        If the cost is given whole and by its parts.
    InvalidInput, OutOfRange
        If parts of it, or of the delay, are missing or cannot be.
    """
    delay, share, delay_proof = _delay(table, question, crop, yield_t_ha, price_per_t)
    given = [name for name in _BOTH if getattr(question, name) is not None]
    if question.cost_per_h is None:
        parts = _owned(table, question, given, fuel_l_h)
        machine = sum(part.per_h for part in parts if part.counted)
        return Hour("computed", machine, delay, parts, share, delay_proof)
    if given:
        raise Contradiction(["cost_per_h", given[0]], "reason.both_given", first="cost_per_h", second=given[0])
    if question.hours_counted == "running":
        raise Contradiction(["hours_counted", "cost_per_h"], "reason.running_needs_parts")
    return Hour("request", question.cost_per_h, delay, (), share, delay_proof)


def _owned(
    table: KnowledgeTable, question: HourQuestion, given: list[str], fuel_l_h: float | None
) -> tuple[HourPart, ...]:
    if not given:
        raise InvalidInput("cost_per_h", reason="reason.hour_none", fields=list(_OWNED))
    missing = [name for name in _OWNED if name not in given]
    if missing:
        raise InvalidInput(missing[0], reason="reason.hour_part", fields=missing)
    if fuel_l_h is None:
        raise InvalidInput("engine_power_kw", reason="reason.fuel_needs_engine")
    figures = table.economics.machine_cost
    cost = _year(question, figures, fuel_l_h)
    proofs = {
        "depreciation": proof(figures.remaining_c1),
        "interest": proof(figures.interest) if question.interest_pct is None else None,
        "taxes_insurance_housing": proof(figures.taxes_insurance_housing),
        "repair": proof(figures.repair_rf1),
        "fuel": proof(figures.fuel_per_rated_power),
        "oil": proof(figures.oil_over_fuel),
    }
    counted = (*FIXED, *RUNNING) if question.hours_counted == "all" else RUNNING
    return tuple(HourPart(code, getattr(cost, code), code in counted, proofs.get(code)) for code in (*FIXED, *RUNNING))


def _year(question: HourQuestion, figures: MachineCost, fuel_l_h: float) -> HourCost:
    """Cost over the year of use that begins at the machine's age."""
    given = {name: float(getattr(question, name)) for name in _OWNED}
    age, hours = given["machine_age_years"], given["hours_per_year"]
    repair = [
        accumulated_repair_share_pct(years * hours, figures.repair_rf1.value, figures.repair_rf2.value)
        for years in (age, age + 1)
    ]
    interest = figures.interest.value if question.interest_pct is None else question.interest_pct
    return hour_cost(
        list_price=given["list_price"],
        hours_per_year=hours,
        value_start_pct=_value_pct(question, figures, age, hours),
        value_end_pct=_value_pct(question, figures, age + 1, hours),
        repair_start_pct=repair[0],
        repair_end_pct=repair[1],
        interest_pct=interest,
        taxes_insurance_housing_pct=figures.taxes_insurance_housing.value,
        fuel_l_h=fuel_l_h,
        fuel_price_per_l=given["fuel_price_per_l"],
        oil_pct=figures.oil_over_fuel.value,
        wage_per_h=given["wage_per_h"],
    )


def _value_pct(question: HourQuestion, figures: MachineCost, age_years: float, hours_per_year: float) -> float:
    try:
        share = remaining_value_share_pct(
            age_years,
            hours_per_year,
            figures.remaining_c1.value,
            figures.remaining_c2.value,
            figures.remaining_c3.value,
        )
    except OutOfRange:
        age = question.machine_age_years
        raise OutOfRange("machine_age_years", age, reason="reason.nothing_left") from None
    # the equation was fitted to used machines; a new one is worth its price
    return min(100.0, share)


def _delay(
    table: KnowledgeTable, question: HourQuestion, crop: CropFile, yield_t_ha: float, price_per_t: float
) -> tuple[float, float | None, Proof | None]:
    """Money that an hour of delay costs, the share of the value a day costs, and how that is known."""
    if question.area_left_ha is None:
        for name in ("hours_per_day", "delay_loss_pct_per_day"):
            if getattr(question, name) is not None:
                raise InvalidInput(name, reason="reason.delay_needs_area")
        return 0.0, None, None
    if question.hours_per_day is None:
        raise InvalidInput("hours_per_day", reason="reason.delay_needs_hours")
    row = table.timeliness(crop)
    if question.delay_loss_pct_per_day is not None:
        share, how = question.delay_loss_pct_per_day / 100, None
    elif row is not None:
        share, how = row.loss_per_day.value, proof(row.loss_per_day)
    else:
        raise InvalidInput("delay_loss_pct_per_day", reason="reason.delay_not_known", crop=crop.names)
    # per hour: cost of the whole area at 1 ha/h over the hours that it takes then
    per_h = timeliness_cost(
        loss_share_per_day=share,
        area_ha=question.area_left_ha,
        yield_t_ha=yield_t_ha,
        price_per_t=price_per_t,
        spread=2 if question.delay_timing == "all_late" else 4,
        hours_per_day=question.hours_per_day,
        area_rate_ha_h=1.0,
        workday_share=question.workday_share_pct / 100,
    )
    return per_h / question.area_left_ha, share, how
