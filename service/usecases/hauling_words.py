"""What a hauling plan says in words: the decision, the bottleneck, what the formula is worth, warnings.

Inside: choosing the message. Outside: its wording (the catalogues).
"""

from collections.abc import Iterator, Sequence
from typing import Final

from service.domain.types import Message, Quantity
from service.usecases.hauling_terms import Terms, formula_fit, formula_gap
from service.usecases.hauling_types import HaulingPlan, Plan

CAUTIONS: Final = tuple(
    Message(code)
    for code in (
        "caution.grain_entrapment",
        "caution.side_by_side",
        "caution.tube_kept_clear",
        "caution.power_lines",
        "caution.haul_roads",
        "caution.tipping",
        "caution.machine_manual_first",
    )
)
# output of formula and simulation that differ only in times taken one by one: never found further apart in the tests
FORMULA_CLOSE_PCT: Final = 10.0
# shares of the time above which a link has no room left, and an interval too wide to rank by
_BUSY_PCT: Final = 90.0
_WIDE: Final = 0.04


def decision(terms: Terms, plans: Sequence[Plan], best: Plan) -> Message:
    """The number of haulers in one sentence."""
    count = terms.work.combines
    work: dict[str, object] = {
        "count": count,
        "rate": Quantity(best.area_rate_ha_h, "har/h"),
        "cutting": Quantity(round(best.cutting_share_pct.value), "%"),
    }
    facts: dict[str, object] = {
        "haulers": _counted(best.haulers),
        "fewest": plans[0].haulers,
        "most": plans[-1].haulers,
        "combines": Message("haul.combines_one" if count == 1 else "haul.combines_many", work),
    }
    return Message(f"haul.decision_{_verdict(terms, plans, best)}", facts)


def _verdict(terms: Terms, plans: Sequence[Plan], best: Plan) -> str:
    """How good the number is: only one with a worse neighbour on each side is told as the best."""
    priced = best.cost is not None
    if best.haulers < len(terms.haulers):
        return "cheapest" if priced else "enough"
    if terms.endless:
        # the last that a plan looks at, and still better than the one before
        return "cheapest_so_far" if priced else "most_so_far"
    if best.links.narrowest == "haulers":
        return "all"
    if _uneven(terms, best):
        return "all_wait"
    return "all_do" if len(plans) > 1 else "only"


def _counted(haulers: int) -> Message:
    return Message("haul.hauler_one" if haulers == 1 else "haul.hauler_many", {"count": haulers})


def _uneven(terms: Terms, best: Plan) -> bool:
    """Whether the combines noticeably wait although no other link is too slow on average."""
    return best.links.narrowest == "combines" and best.waiting_share_pct > terms.figures.enough.value


def bottleneck(terms: Terms, best: Plan) -> Message:
    """The link that holds the others back, with the area whose grain each could move."""
    links, yield_t_ha = best.links, terms.yield_t_ha
    facts: dict[str, object] = {
        "combines": Quantity(links.combines_t_h / yield_t_ha, "har/h"),
        "haulers": Quantity(links.haulers_t_h / yield_t_ha, "har/h"),
    }
    if links.store_t_h is not None:
        facts["store"] = Message("haul.store_could", {"rate": Quantity(links.store_t_h / yield_t_ha, "har/h")})
    else:
        facts["store"] = Message("haul.store_no_limit")
    if not _uneven(terms, best):
        return Message(f"haul.bottleneck_{links.narrowest}", facts)
    facts |= {
        "wait": Quantity(best.wait_min, "min"),
        "cut": Quantity(best.area_rate_ha_h, "har/h"),
        "reached": Quantity(round(100 * best.grain_t_h.value / links.combines_t_h), "%"),
    }
    return Message("haul.bottleneck_uneven", facts)


def formula_words(terms: Terms) -> Message:
    """Whether a formula reaches this case, and what it assumes."""
    gap = formula_gap(terms.work, [one.capacity_t for one in terms.haulers])
    if gap is None:
        work = terms.work
        fit = formula_fit(work, terms.haulers[0].capacity_t)
        if fit != "other":
            close = {"within": Quantity(FORMULA_CLOSE_PCT, "%")}
            return Message("haul.formula_agrees") if fit == "same" else Message("haul.formula_close", close)
        facts = {"variation": Quantity(100 * work.variation, "%"), "level": Quantity(100 * work.call_share, "%")}
        return Message("haul.formula_applies", facts)
    # a store that is too narrow for many haulers leaves the formula to the few
    return Message(f"haul.formula_{gap}", {"places": terms.work.store_places} if gap == "store" else {})


def warnings(terms: Terms, answer: HaulingPlan) -> Iterator[Message]:
    """What to look out for with this plan."""
    best, work = answer.best, terms.work
    if answer.needed is None:
        if terms.endless:
            yield Message("haul.more_than_looked_at", {"limit": len(terms.haulers)})
        else:
            yield Message("haul.all_are_too_few", {"count": len(terms.haulers)})
    if best.links.store_t_h is not None and best.store_use_pct is not None and best.store_use_pct > _BUSY_PCT:
        yield Message("haul.store_is_full", {"use": Quantity(round(best.store_use_pct), "%")})
    smallest = min(one.capacity_t for one in terms.haulers[: best.haulers])
    if smallest < work.tank_t:
        facts = {
            name: Quantity(mass, "t", answer.bushel_lb)
            for name, mass in (("capacity", smallest), ("tank", work.tank_t))
        }
        yield Message("haul.holds_less_than_a_tank", facts)
    limits = best.grain_t_h
    if limits.high - limits.low > 2 * _WIDE * limits.value:
        yield Message("haul.limits_wide")
    if answer.flat is not None and answer.flat[0] < answer.flat[1]:
        fewest, most = answer.flat
        yield Message("haul.about_the_same", {"fewest": fewest, "most": most})
