"""What combines, haulers and a store can do when nothing varies and nobody waits.

Inside: the figures of a field's hauling, a hauler's round, the rate that each link of the chain allows.
Outside: waiting (`finite_source_queue`, `hauling_chain`, `hauling_simulation`), costs.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from service.domain.ranges import INF, above, within
from service.errors import OutOfRange

Link = Literal["combines", "haulers", "store"]


@dataclass(frozen=True, slots=True)
class Round:
    """A hauler's round."""

    payload_t: float
    unloadings: int  # tanks, or parts of one, that make a load
    cycle_h: float

    @property
    def grain_t_h(self) -> float:
        """Grain that one such hauler moves, never waiting."""
        return self.payload_t / self.cycle_h

    @property
    def unloadings_per_h(self) -> float:
        """Tanks that one such hauler takes, never waiting."""
        return self.unloadings / self.cycle_h


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldWork:
    """Combines that are all alike, the way and the store; mean times. Refuses what cannot be."""

    combines: int
    tank_t: float
    flow_t_h: float  # grain into one tank while it works, turns counted in
    unloading_t_h: float
    on_the_move: bool
    call_share: float  # level of the tank at which a hauler is called, above 0 to 1
    docking_h: float  # tube out, line up, tube in; per unloading
    approach_h: float  # from where haulers wait to the combine
    out_h: float  # from the combine to the store
    back_h: float
    store_h: float  # per load, beside unloading
    store_t_h: float | None  # unloading; None if that is counted in `store_h`
    store_places: int | None  # None: nobody waits there
    least_room_t: float  # with less room a hauler drives off
    variation: float  # coefficient of variation of every time, 0 to 1

    def __post_init__(self) -> None:
        within("combines", self.combines, 1, INF, "1")
        for name, unit in (("tank_t", "t"), ("flow_t_h", "t/h"), ("unloading_t_h", "t/h"), ("call_share", "1")):
            above(name, getattr(self, name), 0, unit)
        within("call_share", self.call_share, 0, 1, "1")
        for name in ("docking_h", "approach_h", "out_h", "back_h", "store_h"):
            within(name, getattr(self, name), 0, INF, "h")
        if self.store_t_h is not None:
            above("store_t_h", self.store_t_h, 0, "t/h")
        if self.store_places is not None:
            within("store_places", self.store_places, 1, INF, "1")
        within("least_room_t", self.least_room_t, 0, INF, "t")
        within("variation", self.variation, 0, 1, "1")
        if self.on_the_move and self.unloading_t_h <= self.flow_t_h:
            raise OutOfRange("unloading_t_h", self.unloading_t_h, self.flow_t_h, None, "t/h", reason="not_above")

    @property
    def fill_h(self) -> float:
        """Time of a tank from empty to full."""
        return self.tank_t / self.flow_t_h

    @property
    def emptying_h(self) -> float:
        """Time of a full tank from full to empty."""
        return self.tank_t / (self.unloading_t_h - (self.flow_t_h if self.on_the_move else 0.0))

    @property
    def load_h(self) -> float:
        """Time that combine and hauler are side by side for a full tank."""
        return self.docking_h + self.emptying_h

    def round(self, capacity_t: float) -> Round:
        """Return the round of a hauler of this payload.

        A hauler takes tanks, the last one perhaps in part, until no more room is left than it drives off with.
        """
        above("capacity_t", capacity_t, 0, "t")
        # what is cut meanwhile goes over with the tank
        tank_t = self.unloading_t_h * self.emptying_h
        unloadings = max(1, math.ceil((capacity_t - self.least_room_t) / tank_t - 1e-9))
        payload_t = min(capacity_t, unloadings * tank_t)
        side_h = unloadings * (self.approach_h + self.docking_h) + payload_t / self.unloading_t_h
        return Round(payload_t, unloadings, side_h + self.away_h(payload_t))

    def away_h(self, load_t: float) -> float:
        """Time from leaving the field with a load to being back."""
        return self.out_h + self.service_h(load_t) + self.back_h

    def service_h(self, load_t: float) -> float:
        """Time of a load at the store, queue not counted."""
        return self.store_h + (0.0 if self.store_t_h is None else load_t / self.store_t_h)


@dataclass(frozen=True, slots=True)
class LinkRates:
    """What each link of the chain could move, were the others endless; `store` is None where nobody waits."""

    combines_t_h: float
    haulers_t_h: float
    store_t_h: float | None
    narrowest: Link


def link_rates(work: FieldWork, capacities_t: Sequence[float]) -> LinkRates:
    """Return what combines, haulers and store could each move.

    Parameters
    ----------
    work : FieldWork
        Combines, way and store.
    capacities_t : sequence of float
        Payload of each hauler, each above 0. [t]

    Returns
    -------
    LinkRates
        Rates and the narrowest link. [t/h]

    Raises
    ------
    OutOfRange
        If there is no hauler, or a payload is not above 0.

    Notes
    -----
    Combines: all of them, less the time they stand to unload. Haulers: payload over round. Store: places
    times load over the time of a load, each hauler counted by how many loads it would bring.

    References
    ----------
    Flow balance.

    Examples
    --------
    Two combines of 40 t/h against one truck of 20 t that is away for an hour and a half:

    >>> work = FieldWork(
    ...     combines=2, tank_t=10.0, flow_t_h=40.0, unloading_t_h=400.0, on_the_move=True, call_share=0.8,
    ...     docking_h=0.0, approach_h=0.0, out_h=0.7, back_h=0.6, store_h=0.15, store_t_h=None,
    ...     store_places=None, least_room_t=2.0, variation=0.3,
    ... )
    >>> rates = link_rates(work, [20.0])
    >>> rates.combines_t_h, round(rates.haulers_t_h, 2), rates.narrowest
    (80.0, 13.33, 'haulers')
    """
    within("haulers", len(capacities_t), 1, INF, "1")
    rounds = [work.round(capacity) for capacity in capacities_t]
    working = 1.0 if work.on_the_move else work.fill_h / (work.fill_h + work.load_h)
    combines = work.combines * work.flow_t_h * working
    haulers = sum(one.grain_t_h for one in rounds)
    store = None
    if work.store_places is not None:
        loads_h = sum(1 / one.cycle_h for one in rounds)
        service_h = sum(work.service_h(one.payload_t) / one.cycle_h for one in rounds) / loads_h
        store = None if service_h == 0 else work.store_places * haulers / loads_h / service_h
    links: list[tuple[float, Link]] = [(combines, "combines"), (haulers, "haulers")]
    if store is not None:
        links.append((store, "store"))
    # of equal links the first of the chain is named: nothing behind it holds it back
    return LinkRates(combines, haulers, store, min(links, key=lambda link: link[0])[1])
