"""What hauling.toml may hold.

Inside: shape of the file. Outside: rules across its entries and crops (`hauling.py`).
"""

from typing import Annotated, Literal

from pydantic import Field

from service.knowledge.schema import Entry, Evidence, Figure, Number, RowId, Slug

Topic = Literal["unloading", "edge", "plan", "formula"]


class BulkDensity(Evidence):
    """Bulk density by moisture, rho = a - b M + c M^2 in kg/m3 with M as a decimal.

    Only its course is used: the crop's own bulk density is taken to hold at `at_moisture_pct`.
    """

    id: RowId
    crop: Slug
    a: Number
    b: Number
    c: Number
    at_moisture_pct: Number


class HaulingFigures(Entry):
    """Figures of unloading and hauling that hold for every crop."""

    unloading_rate: Figure  # where no machine is told
    reduced_share: Figure  # of the full rate, with one of two cross augers off
    docking: Figure  # tube out, lined up, run empty and in again; per stop
    call_level: Figure  # of the tank, where the way of the cart is not told
    call_reserve: Figure  # of the tank that should be free when the cart arrives
    cart_speed: Figure  # in the field
    edge_drive_out: Figure  # from where the tank is full to a vehicle at the edge
    edge_drive_back: Figure
    turning_efficiency: Figure  # share of the time that is cutting, unloading and waiting left out
    time_variation: Figure  # standard deviation over mean of filling, driving and unloading
    least_room: Figure  # of a tank; with less room a hauler drives off
    enough: Figure  # below the most that can be cut, up to which a plan counts as enough
    plan_flat: Figure  # cost above the least that still counts as the same


class Finding(Evidence):
    """Something measured or known; text is message code haul.finding.<code>."""

    code: Slug
    topic: Topic


class HaulingFile(Entry):
    """hauling.toml."""

    figures: HaulingFigures
    bulk_density: list[BulkDensity]
    finding: Annotated[list[Finding], Field(min_length=1)]
