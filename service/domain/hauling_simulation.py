"""Combine harvesters, haulers and a store, event by event: what no formula reaches.

Inside: tanks that fill, a call ahead of the full tank, haulers of several sizes that take several tanks or
a part of one, the way, a queue at the store. Outside: exact results (`hauling_chain`), what it costs.

Every draw comes from a stream of its own combine or hauler, seeded by the number of the run: the same work
gives the same figures, and one hauler more meets the same tanks and trips as before.
"""

import math
from collections.abc import Generator, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import simpy
from scipy.special import gammaincinv, stdtrit

from service.domain.hauling_work import FieldWork, link_rates
from service.domain.intervals import scaled
from service.domain.ranges import above, within
from service.domain.types import Interval

SEED: Final = 20261125
BLOCK: Final = 32
WARM_UP_ROUNDS: Final = 1.5
# the longest warm-up over what is counted after it
MOST_WARM_UP: Final = 3
MOST_RUNS: Final = 200
MOST_TANKS: Final = 100_000
# a variation below which times count as steady
_STEADY: Final = 1e-3
# keeps draws off zero and infinity
_EDGE: Final = 1e-12

Steps = Generator[simpy.Event, Any, None]


@dataclass(frozen=True, slots=True)
class MassBalance:
    """Grain of all runs together, in tonnes: started + cut = in the tanks + on the haulers + delivered."""

    started: float
    cut: float
    in_tanks: float
    on_haulers: float
    delivered: float


@dataclass(frozen=True, slots=True)
class HaulingSimulation:
    """Means over the runs with 95 % limits; shares and rates after the warm-up."""

    grain_t_h: Interval  # cut by all combines together: their flow over the time that they cut
    cutting_share: Interval  # of the combines' time
    waiting_share: Interval  # of the combines' time, tank full and no hauler
    wait_h: float  # per unloading
    unloadings_per_h: float
    hauler_idle_share: float  # of the haulers' time, in the field without work
    store_busy_share: float  # of the time of the places at the store; 0 where there is no limit
    store_wait_h: float  # per load
    mass: MassBalance


def simulate_hauling(
    work: FieldWork, capacities_t: Sequence[float], *, tanks: int, runs: int, seed: int = SEED
) -> HaulingSimulation:
    """Simulate one set of haulers.

    Parameters
    ----------
    work : FieldWork
        Combines, way, store and how much times vary.
    capacities_t : sequence of float
        Payload of each hauler, each above 0. [t]
    tanks : int
        About how many tanks are unloaded in a run after the warm-up, 10 to 100 000. [1]
    runs : int
        Runs, 2 to 200. [1]
    seed : int
        Another seed, another sample: 0 or more. [1]

    Returns
    -------
    HaulingSimulation
        Rates [t/h], shares [1] and times [h].

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    A combine calls when the tank reaches the call level. The hauler that is fullest already comes, at equal
    room the first of the list; calls are served in their order. A hauler drives off when less room is left
    than it waits for. Times are gamma distributed about their means; a coefficient of variation of one is
    the exponential distribution of the formulas. Limits: Student's t over the runs, cut off at what the narrowest
    link allows (`link_rates`), which a short run may exceed by chance.

    References
    ----------
    Discrete-event simulation with SimPy 4; held against `hauling_chain` in the tests.

    Examples
    --------
    Times that never vary: a tank fills in 0.1 h and unloads in 0.05 h, with a hauler always there.

    >>> work = FieldWork(
    ...     combines=1, tank_t=5.0, flow_t_h=50.0, unloading_t_h=100.0, on_the_move=False, call_share=1.0,
    ...     docking_h=0.0, approach_h=0.0, out_h=0.0, back_h=0.0, store_h=0.0, store_t_h=None,
    ...     store_places=None, least_room_t=1.0, variation=0.0,
    ... )
    >>> round(simulate_hauling(work, [5.0], tanks=50, runs=2).cutting_share.value, 2)
    0.67
    """
    for place, capacity in enumerate(capacities_t):
        above(f"capacities_t.{place}", capacity, 0, "t")
    within("haulers", len(capacities_t), 1, math.inf, "1")
    within("tanks", tanks, 10, MOST_TANKS, "1")
    within("runs", runs, 2, MOST_RUNS, "1")
    within("seed", seed, 0, math.inf, "1")
    start_h, end_h = _span_h(work, capacities_t, tanks)
    found = [_Field(work, capacities_t, (seed, run), start_h, end_h).run() for run in range(runs)]
    seen_h = end_h - start_h
    combine_h, hauler_h = seen_h * work.combines, seen_h * len(capacities_t)
    cutting = _interval([one.cutting_h / combine_h for one in found])
    loads, unloadings = sum(one.loads for one in found), sum(one.unloadings for one in found)
    place_h = runs * seen_h * (work.store_places or 1)
    # a short run may by chance cut more than any long one can
    links = link_rates(work, capacities_t)
    most_t_h = min(links.combines_t_h, links.haulers_t_h, math.inf if links.store_t_h is None else links.store_t_h)
    flow_t_h = work.combines * work.flow_t_h
    cutting = _at_most(cutting, most_t_h / flow_t_h)
    grain_t_h = scaled(cutting, flow_t_h)
    return HaulingSimulation(
        grain_t_h=_at_most(grain_t_h, most_t_h),
        cutting_share=cutting,
        waiting_share=_interval([one.waiting_h / combine_h for one in found]),
        wait_h=sum(one.waiting_h for one in found) / max(1, unloadings),
        unloadings_per_h=unloadings / (runs * seen_h),
        hauler_idle_share=sum(one.idle_h for one in found) / (runs * hauler_h),
        store_busy_share=0.0 if work.store_places is None else sum(one.store_h for one in found) / place_h,
        store_wait_h=sum(one.store_wait_h for one in found) / max(1, loads),
        mass=MassBalance(*(sum(part) for part in zip(*(one.mass for one in found), strict=True))),
    )


def _span_h(work: FieldWork, capacities_t: Sequence[float], tanks: int) -> tuple[float, float]:
    """Begin and end of what is counted: some rounds later, and as long as the tanks take at the likely rate."""
    rounds = [work.round(capacity) for capacity in capacities_t]
    longest_h = max(work.fill_h + work.load_h, *(one.cycle_h for one in rounds))
    # what one unloading takes over: a tank, what a small hauler holds, or a tank that was called for early
    unloading_t = sum(one.payload_t for one in rounds) / sum(one.unloadings for one in rounds)
    unloading_t *= work.call_share if work.on_the_move else 1.0
    grain_t_h = link_rates(work, capacities_t).combines_t_h
    per_h = min(grain_t_h / unloading_t, sum(one.unloadings_per_h for one in rounds))
    # hundreds of tanks to a load would make the rounds of the warm-up endless
    start_h = min(WARM_UP_ROUNDS * longest_h, MOST_WARM_UP * tanks / per_h)
    return start_h, start_h + tanks / per_h


def _interval(values: Sequence[float]) -> Interval:
    # a share; the last bit of a sum of times may carry it beyond one
    mean = min(1.0, math.fsum(values) / len(values))
    spread = math.sqrt(math.fsum((value - mean) ** 2 for value in values) / (len(values) - 1))
    half = float(stdtrit(len(values) - 1, 0.975)) * spread / math.sqrt(len(values))
    return Interval(mean, max(0.0, mean - half), min(1.0, mean + half))


def _at_most(interval: Interval, most: float) -> Interval:
    return Interval(*(min(most, one) for one in (interval.value, interval.low, interval.high)))


def _draws(variation: float, *seed: int) -> Iterator[float]:
    """Positive numbers of mean one and this coefficient of variation, from their own stream."""
    if variation < _STEADY:
        while True:
            yield 1.0
    stream, shape = np.random.default_rng(seed), 1 / variation**2
    while True:
        # by the inverse of the distribution: one number of the stream for each draw, at any variation
        yield from (gammaincinv(shape, _EDGE + (1 - 2 * _EDGE) * stream.random(BLOCK)) / shape).tolist()


@dataclass(slots=True)
class _Combine:
    draws: Iterator[float]
    level_t: float
    rate_t_h: float = 0.0
    waiting: bool = False
    since_h: float = 0.0


@dataclass(slots=True)
class _Hauler:
    place: int
    capacity_t: float
    room_t: float
    draws: Iterator[float]
    idle_since_h: float | None = None
    called: simpy.Event | None = None


@dataclass(slots=True)
class _Call:
    """A combine that wants a hauler: one that comes, that it is there, that it may go."""

    alongside: simpy.Event
    released: simpy.Event
    hauler: "_Hauler | None" = None


@dataclass(slots=True)
class _Seen:
    """Sums of one run, over the hours that are counted; `mass` over the whole run."""

    cutting_h: float = 0.0
    waiting_h: float = 0.0
    unloadings: int = 0
    idle_h: float = 0.0
    store_h: float = 0.0
    store_wait_h: float = 0.0
    loads: int = 0
    mass: tuple[float, ...] = ()


class _Field:
    """One run."""

    def __init__(
        self, work: FieldWork, capacities_t: Sequence[float], seed: tuple[int, int], start_h: float, end_h: float
    ) -> None:
        self.work, self.start_h, self.end_h = work, start_h, end_h
        self.env = simpy.Environment()
        # the store's own stream: its pace does not depend on who comes
        self.store_draws = _draws(work.variation, *seed, 3, 0)
        self.store = None if work.store_places is None else simpy.Resource(self.env, work.store_places)
        self.seen = _Seen()
        self.started_t = self.cut_t = self.delivered_t = 0.0
        self.calls: list[_Call] = []
        self.idle: list[_Hauler] = []
        # tanks that start at one and the same level would fill in step for hours
        levels = np.random.default_rng((*seed, 0)).random(work.combines) * work.tank_t
        # haulers start where they will pile up, or it would take a day until they do
        self.at_store = link_rates(work, capacities_t).narrowest == "store"
        self.combines = [
            _Combine(_draws(work.variation, *seed, 1, k), float(level) if work.combines > 1 else 0.0)
            for k, level in enumerate(levels)
        ]
        self.haulers = [
            _Hauler(k, capacity, capacity, _draws(work.variation, *seed, 2, k))
            for k, capacity in enumerate(capacities_t)
        ]

    def run(self) -> _Seen:
        """Run to the end and return the sums."""
        self.started_t = math.fsum(one.level_t for one in self.combines)
        for hauler in self.haulers:
            if self.at_store:
                hauler.room_t -= self.work.round(hauler.capacity_t).payload_t
                self.started_t += hauler.capacity_t - hauler.room_t
            self.env.process(self.haul(hauler))
        for combine in self.combines:
            self.env.process(self.harvest(combine))
        self.env.run(until=self.end_h)
        for combine in self.combines:
            self.turn_to(combine, 0.0)
        for hauler in self.idle:
            self.seen.idle_h += self.counted_h(hauler.idle_since_h or 0.0)
        tanks = math.fsum(one.level_t for one in self.combines)
        carried = math.fsum(one.capacity_t - one.room_t for one in self.haulers)
        self.seen.mass = (self.started_t, self.cut_t, tanks, carried, self.delivered_t)
        return self.seen

    def counted_h(self, since_h: float) -> float:
        """Part of the time since then that lies in the hours that are counted."""
        return max(0.0, min(self.env.now, self.end_h) - max(since_h, self.start_h))

    def turn_to(self, combine: _Combine, rate_t_h: float, *, waiting: bool = False) -> None:
        """Book what a combine did until now, and what it does from now on."""
        counted_h = self.counted_h(combine.since_h)
        cut_t = (self.env.now - combine.since_h) * combine.rate_t_h
        combine.level_t += cut_t
        self.cut_t += cut_t
        if combine.rate_t_h > 0:
            self.seen.cutting_h += counted_h
        if combine.waiting:
            self.seen.waiting_h += counted_h
        combine.rate_t_h, combine.waiting, combine.since_h = rate_t_h, waiting, self.env.now

    def harvest(self, combine: _Combine) -> Steps:
        """A combine: fill, call, fill on, wait if nobody comes, unload."""
        work, env = self.work, self.env
        while True:
            rate = work.flow_t_h / next(combine.draws)
            self.turn_to(combine, rate)
            yield env.timeout(max(0.0, work.call_share * work.tank_t - combine.level_t) / rate)
            call = _Call(env.event(), env.event())
            self.calls.append(call)
            self.match()
            self.turn_to(combine, rate)
            full = env.timeout(max(0.0, work.tank_t - combine.level_t) / rate)
            # one that stops to unload fills the tank first; on the move the hauler is made use of at once
            yield (call.alongside | full) if work.on_the_move else full
            if not call.alongside.processed:
                self.turn_to(combine, 0.0, waiting=True)
                yield call.alongside
            if call.hauler is not None:
                yield from self.unload(combine, call.hauler, rate)
            call.released.succeed()
            self.seen.unloadings += env.now >= self.start_h

    def unload(self, combine: _Combine, hauler: _Hauler, rate: float) -> Steps:
        """Bring the tube over the hauler and empty the tank, or as much of it as there is room for."""
        work, env = self.work, self.env
        docking_h = work.docking_h * next(combine.draws)
        if work.on_the_move:
            self.turn_to(combine, rate)
            cutting_h = min(docking_h, max(0.0, work.tank_t - combine.level_t) / rate)
            if cutting_h > 0:
                yield env.timeout(cutting_h)
            docking_h -= cutting_h
        if docking_h > 0:
            self.turn_to(combine, 0.0)
            yield env.timeout(docking_h)
        inflow = work.flow_t_h if work.on_the_move else 0.0
        duration_h = combine.level_t / (work.unloading_t_h - inflow) * next(combine.draws)
        moved_t = combine.level_t + inflow * duration_h
        if hauler.room_t < moved_t:
            # the auger runs at the pace of this draw until the hauler is full
            duration_h, moved_t = duration_h * hauler.room_t / moved_t, hauler.room_t
        self.turn_to(combine, inflow)
        yield env.timeout(duration_h)
        self.turn_to(combine, 0.0)
        combine.level_t -= moved_t
        hauler.room_t -= moved_t

    def haul(self, hauler: _Hauler) -> Steps:
        """A hauler: wait for a call, drive to the combine, take the tank, drive off when full."""
        work, env = self.work, self.env
        if self.at_store:
            yield from self.deliver(hauler)
        while True:
            hauler.idle_since_h, hauler.called = env.now, env.event()
            self.idle.append(hauler)
            self.match()
            call: _Call = yield hauler.called
            if work.approach_h > 0:
                yield env.timeout(work.approach_h * next(hauler.draws))
            call.hauler = hauler
            call.alongside.succeed()
            yield call.released
            if hauler.room_t <= max(work.least_room_t, _EDGE * hauler.capacity_t):
                yield env.timeout(work.out_h * next(hauler.draws))
                yield from self.deliver(hauler)

    def match(self) -> None:
        """Send haulers to the combines that called, the oldest call first."""
        while self.calls and self.idle:
            hauler = min(self.idle, key=lambda one: (one.room_t, one.place))
            self.idle.remove(hauler)
            if hauler.idle_since_h is not None and hauler.called is not None:
                self.seen.idle_h += self.counted_h(hauler.idle_since_h)
                hauler.called.succeed(self.calls.pop(0))

    def deliver(self, hauler: _Hauler) -> Steps:
        """Into the queue at the store, unload, and back."""
        work, env = self.work, self.env
        load_t = hauler.capacity_t - hauler.room_t
        service_h = work.service_h(load_t) * next(self.store_draws)
        if self.store is None:
            yield env.timeout(service_h)
        else:
            came_h = env.now
            with self.store.request() as place:
                yield place
                if env.now >= self.start_h:
                    self.seen.store_wait_h += env.now - came_h
                    self.seen.loads += 1
                ends_h = env.now + service_h
                self.seen.store_h += max(0.0, min(ends_h, self.end_h) - max(env.now, self.start_h))
                yield env.timeout(service_h)
        self.delivered_t += load_t
        hauler.room_t = hauler.capacity_t
        yield env.timeout(work.back_h * next(hauler.draws))
