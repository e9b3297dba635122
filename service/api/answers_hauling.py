"""The answers on unloading and hauling. Money has units such as `{EUR}/t`.

A mass of grain is told in tonnes, to a reader in the United States in bushels where the crop has a legal one.
"""

from pydantic import Field

from service.api.answers import Amount, Answer, Estimate, Evidence, Named, Note, Part, Reference, YieldAmount
from service.api.answers_speed import HourOut


class FigureUsed(Part):
    """A figure that the answer was worked out with."""

    code: str = Field(examples=["tank_volume", "unloading_rate", "bulk_density", "docking"])
    name: str
    amount: Estimate
    origin: str = Field(examples=["request", "class", "table", "computed"])
    evidence: Evidence | None = Field(None, description="Left out for the caller's own figure.")


class FindingOut(Part):
    """Something measured or known, beside what was computed."""

    code: str
    text: str
    evidence: Evidence


class FillingOut(Part):
    """How the grain tank fills."""

    tank: Amount = Field(description="Grain of a full tank.")
    grain_throughput: Amount
    time: Amount
    distance: Amount = Field(description="Cut from empty to full.")
    runs: Amount | None = Field(None, description="The same in runs across the field, where their length is given.")


class CallOut(Part):
    """When to call the cart."""

    level: Amount = Field(description="Of the tank; 0 where the cart must come along unasked.")
    after: Amount = Field(description="Minutes from the empty tank.")
    before_full: Amount
    before_full_distance: Amount
    arrival: Amount | None = Field(None, description="From the call until it is alongside, where that is known.")
    wait: Amount = Field(description="Minutes that the machine stands even if it calls with an empty tank.")
    cart_limits: bool = Field(description="Whether the cart is too small for more, so that it sets the level.")
    text: str


class TankNow(Part):
    """Where the tank stands."""

    level: Amount
    to_call: Amount = Field(description="0: call now.")
    to_full: Amount
    to_full_distance: Amount


class CartLoadOut(Part):
    """What the cart holds."""

    capacity: Amount
    tanks: float
    whole_tanks: int
    rest: Amount = Field(description="Part of a tank that fits in after the whole ones.")
    each: Amount = Field(description="That one unloading brings, with what is cut meanwhile.")
    unloadings: int = Field(description="After which it must leave.")
    away: Amount | None = Field(
        None, description="From driving off to being back at the earliest: twice its way, where that is known."
    )
    wait: Amount | None = Field(None, description="Of the machine for one such cart that drove off, per load.")
    most: Amount | None = Field(None, description="Grain that one such cart moves at most, with that wait.")
    text: str


class WayOut(Part):
    """One way of unloading; what does not apply is left out."""

    code: str = Field(examples=["moving", "moving_reduced", "standing", "standing_reduced", "headland", "edge"])
    name: str
    possible: bool
    why: Note | None = Field(None, description="Why not.")
    rate: Amount | None = None
    unload: Estimate | None = Field(None, description="Time of a tank, with the range that the auger's rate leaves.")
    distance: Amount | None = Field(None, description="That is cut meanwhile.")
    runs: Amount | None = Field(
        None, description="Runs that this takes; at the headland the runs between two unloadings."
    )
    breaks: int | None = Field(
        None, description="Times that it is broken off at the end of a run and the cart docks again."
    )
    drive: Amount | None = Field(None, description="To the edge of the field and back.")
    load: Amount | None = Field(None, description="Part of the tank that is unloaded each time.")
    lost: Amount | None = Field(None, description="Time without cutting, each time.")
    cutting_share: Amount | None = Field(None, description="Of the time, turns left out.")
    area_rate: Amount | None = Field(None, description="With turns where they are given.")
    grain_rate: Amount | None = None
    gain: Amount | None = Field(None, description="Of area per hour, against standing at the full rate.")
    evidence: list[Evidence]


class UnloadingAnswer(Answer):
    """When the tank is full, when to call, and what each way of unloading leaves of the work."""

    crop: Named
    crop_yield: YieldAmount
    decision: Note
    filling: FillingOut
    call: CallOut
    now: TankNow | None = None
    cart: CartLoadOut | None = None
    ways: list[WayOut]
    used: list[FigureUsed]
    findings: list[FindingOut]
    warnings: list[Note]
    cautions: list[Note]
    sources: list[Reference] = Field(description="Every source that is cited above.")


class LinksOut(Part):
    """What each link of the chain could move, were the others endless."""

    combines: Amount
    haulers: Amount
    store: Amount | None = Field(None, description="Left out where nobody waits.")
    narrowest: str = Field(examples=["combines", "haulers", "store"])


class ExactOut(Part):
    """What the formula says: exponential times, a call with the full tank, one tank or a part of one a trip."""

    grain_rate: Amount
    cutting_share: Amount
    wait: Amount = Field(description="Of a combine for a hauler, its way in the field counted, per unloading.")


class PlanCostOut(Part):
    """Money per mass of grain by kind."""

    combines: Amount
    haulers: Amount
    delay: Amount
    total: Amount


class PlanOut(Part):
    """One number of haulers, simulated; limits are 95 % of the simulation, not of the field."""

    haulers: int
    capacity: Amount = Field(description="Of all of them.")
    grain_rate: Estimate = Field(description="Of all combines together.")
    area_rate: Amount
    cutting_share: Estimate = Field(description="Of the combines' time, turns and corners left out.")
    field_efficiency: Amount = Field(description="Share of all time that is cutting.")
    wait: Amount = Field(description="Of a combine for a hauler, mean of all unloadings.")
    hauler_use: Amount = Field(description="Share of the haulers' time that is no waiting for a call.")
    store_use: Amount | None = None
    store_wait: Amount | None = Field(None, description="In the queue, mean of all loads.")
    links: LinksOut
    exact: ExactOut | None = Field(None, description="Left out where no formula reaches.")
    cost: PlanCostOut | None = None
    time_on_area: Amount | None = Field(None, description="For the area left.")


class RoundOut(Part):
    """A round of the first hauler of the list, when nobody waits."""

    payload: Amount
    unloadings: int = Field(description="Tanks, or parts of one, that make a load.")
    at_combine: Amount
    way: Amount = Field(description="Out and back.")
    at_store: Amount
    total: Amount
    loading: Amount = Field(description="Time in which the combines fill one such hauler.")
    needed: int | None = Field(
        None, description="Haulers that would do if times never varied; left out where all that can be had are too few."
    )


class FormulaOut(Part):
    """What the formula of waiting lines is worth here."""

    code: str
    text: str
    evidence: Evidence


class HaulingPlanAnswer(Answer):
    """How many haulers, what they let the combines do, and what a tonne costs."""

    crop: Named
    crop_yield: YieldAmount
    combines: int
    decision: Note
    bottleneck: Note
    best: PlanOut
    about_the_same: list[int] = Field(description="Fewest and most haulers that cost about the least; empty unpriced.")
    round: RoundOut
    tank: Amount
    fill: Amount = Field(description="Time of a tank from empty to full, turns counted in.")
    plans: list[PlanOut]
    formula: FormulaOut
    hour: HourOut | None = Field(None, description="Of one combine; delay of the whole area.")
    used: list[FigureUsed]
    findings: list[FindingOut]
    warnings: list[Note]
    cautions: list[Note]
    sources: list[Reference] = Field(description="Every source that is cited above.")
