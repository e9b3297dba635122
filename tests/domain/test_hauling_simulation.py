"""The simulation against the exact chain, against times that never vary, and against itself."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import Phase, given, seed, settings
from hypothesis import strategies as st

from service.domain.finite_source_queue import finite_source_queue
from service.domain.hauling_chain import hauling_chain
from service.domain.hauling_simulation import HaulingSimulation, simulate_hauling
from service.domain.hauling_work import FieldWork, link_rates
from service.errors import OutOfRange

ONE_TANK = 1e9  # with less room than this a hauler drives off: after every tank


def field(**change: object) -> FieldWork:
    """All times exponential, a call with the full tank, one exponential time away."""
    fine: dict[str, object] = {
        "combines": 2,
        "tank_t": 7.7,
        "flow_t_h": 36.0,
        "unloading_t_h": 360.0,
        "on_the_move": False,
        "call_share": 1.0,
        "docking_h": 0.0,
        "approach_h": 0.0,
        "out_h": 0.0,
        "back_h": 0.0,
        "store_h": 0.7,
        "store_t_h": None,
        "store_places": None,
        "least_room_t": ONE_TANK,
        "variation": 1.0,
    }
    return FieldWork(**(fine | change))  # type: ignore[arg-type]


@pytest.mark.parametrize("on_the_move", [True, False])
@pytest.mark.parametrize(("combines", "haulers"), [(1, 1), (1, 2), (2, 3), (3, 2), (3, 5)])
def test_where_both_apply_the_exact_share_lies_inside_the_interval(
    combines: int, haulers: int, on_the_move: bool
) -> None:
    work = field(combines=combines, on_the_move=on_the_move)
    exact = hauling_chain(combines, haulers, work.fill_h, work.load_h, work.away_h(0.0))
    found = simulate_hauling(work, [1000.0] * haulers, tanks=500, runs=16)
    cutting = exact.filling_share + (exact.loading_share if on_the_move else 0.0)
    assert found.cutting_share.low <= cutting <= found.cutting_share.high
    assert found.waiting_share.low <= exact.waiting_share <= found.waiting_share.high
    assert found.hauler_idle_share == pytest.approx(exact.hauler_idle_share, abs=0.02)
    assert found.unloadings_per_h == pytest.approx(exact.tanks_per_h, rel=0.05)


def test_of_many_intervals_about_95_in_100_hold_the_exact_share() -> None:
    """Forty samples; fewer than 33 of 40 happen to a true 95 % interval once in fourteen hundred times."""
    work = field(on_the_move=True)
    exact = hauling_chain(2, 3, work.fill_h, work.load_h, work.away_h(0.0))
    found = [simulate_hauling(work, [1000.0] * 3, tanks=40, runs=8, seed=seed).cutting_share for seed in range(40)]
    share = exact.filling_share + exact.loading_share
    assert sum(one.low <= share <= one.high for one in found) >= 33
    assert sum(one.value for one in found) / 40 == pytest.approx(share, rel=0.02)


def phases(work: FieldWork, haulers: int) -> tuple[float, float]:
    """Filling and emptying, and standing for a hauler, as shares: each phase an exponential time of its own.

    A chain of its own, state by state: combines that fill, wait, are approached, dock, empty; haulers out, at the
    store, on the way back. One that is neither is free, and then no combine waits.
    """
    means = (work.fill_h, 0.0, work.approach_h, work.docking_h, work.emptying_h, work.out_h, work.store_h, work.back_h)
    follows = {2: 3, 3: 4, 5: 6, 6: 7}

    def after(state: tuple[int, ...], phase: int) -> tuple[int, ...]:
        new = list(state)
        new[phase] -= 1
        if phase in follows:
            new[follows[phase]] += 1
        elif phase == 4:  # the combine fills again, the hauler drives off
            new[0] += 1
            new[5] += 1
        elif phase == 0:
            new[2 if sum(state[2:]) < haulers else 1] += 1
        elif state[1]:  # one is back and goes to the combine that waits
            new[1] -= 1
            new[2] += 1
        return tuple(new)

    seen = {(work.combines, 0, 0, 0, 0, 0, 0, 0): 0}
    moves: list[tuple[int, int, float]] = []
    for state in (todo := list(seen)):
        for phase, count in enumerate(state):
            if phase != 1 and count:
                new = after(state, phase)
                if new not in seen:
                    seen[new] = len(seen)
                    todo.append(new)
                moves.append((seen[state], seen[new], count / means[phase]))
    flow = np.zeros((len(seen), len(seen)))
    for here, there, rate in moves:
        flow[here, there] += rate
        flow[here, here] -= rate
    equations = np.vstack([flow.T, np.ones(len(seen))])
    shares = np.linalg.lstsq(equations, np.r_[np.zeros(len(seen)), 1.0], rcond=None)[0]
    mean = np.array(list(seen)).T @ shares / work.combines
    return float(mean[0] + mean[4] * work.on_the_move), float(mean[1] + mean[2])


@pytest.mark.parametrize("on_the_move", [True, False])
@pytest.mark.parametrize(("combines", "haulers"), [(1, 1), (2, 2), (2, 3)])
def test_with_docking_and_a_way_in_the_field_the_chain_of_all_phases_lies_inside_the_interval(
    combines: int, haulers: int, on_the_move: bool
) -> None:
    times = {"docking_h": 0.03, "approach_h": 0.05, "out_h": 0.08, "store_h": 0.1, "back_h": 0.06}
    work = field(combines=combines, on_the_move=on_the_move, **times)
    cutting, waiting = phases(work, haulers)
    found = simulate_hauling(work, [1000.0] * haulers, tanks=600, runs=16)
    assert found.cutting_share.low <= cutting <= found.cutting_share.high
    assert found.waiting_share.low <= waiting <= found.waiting_share.high
    # one exponential time for each of the two kinds varies more, and so cuts less, but not by much
    side_h = work.approach_h + work.load_h
    tanks_per_h = hauling_chain(combines, haulers, work.fill_h, side_h, work.away_h(0.0)).tanks_per_h
    cutting_h = work.fill_h + work.emptying_h * work.on_the_move
    assert 0.9 * cutting < tanks_per_h * cutting_h / combines < cutting


def test_a_hauler_of_less_than_a_tank_is_filled_at_the_pace_of_the_auger() -> None:
    """Half of 7.7 t: times of half the mean, so that the chain of half tanks holds."""
    work = field(least_room_t=1.0, unloading_t_h=60.0)
    half = hauling_chain(2, 3, work.fill_h / 2, work.emptying_h / 2, work.store_h)
    found = simulate_hauling(work, [3.85] * 3, tanks=600, runs=16)
    assert found.cutting_share.low <= half.filling_share <= found.cutting_share.high


def test_the_printed_example_lies_inside_the_interval() -> None:
    """Six machines, a call in 20 h, 2 h a service, one server: 1 - L / N = 0.8591 of the time at work."""
    work = field(combines=6, tank_t=20.0, flow_t_h=1.0, unloading_t_h=10.0, store_h=0.0)
    exact = finite_source_queue(6, 1, 20.0, 2.0)
    assert round(exact.mean_waiting, 4) == 0.3297
    found = simulate_hauling(work, [1000.0], tanks=600, runs=10)
    assert found.cutting_share.low <= exact.working_share <= found.cutting_share.high
    assert found.wait_h == pytest.approx(1.279, rel=0.15)


def test_times_that_never_vary_give_the_round() -> None:
    # a hauler is back every 0.85 h; one tank of 10 t each time
    work = field(variation=0.0, tank_t=10.0, flow_t_h=100.0, unloading_t_h=200.0, combines=1, store_h=0.8)
    found = simulate_hauling(work, [1000.0], tanks=40, runs=2)
    assert found.grain_t_h.value == pytest.approx(10 / 0.85, rel=0.03)
    assert found.grain_t_h.low == pytest.approx(found.grain_t_h.high)


@pytest.mark.parametrize("on_the_move", [True, False])
def test_very_many_haulers_leave_the_combines_to_themselves(on_the_move: bool) -> None:
    work = field(on_the_move=on_the_move, variation=0.3, least_room_t=2.0, combines=2)
    found = simulate_hauling(work, [18.0] * 30, tanks=100, runs=4)
    own = 1.0 if on_the_move else work.fill_h / (work.fill_h + work.load_h)
    assert found.waiting_share.value == 0
    assert found.cutting_share.value == pytest.approx(own, abs=0.02)


def test_a_call_ahead_saves_the_wait_for_the_way_in_the_field() -> None:
    late, early = (
        simulate_hauling(
            field(approach_h=0.04, variation=0.2, call_share=share, on_the_move=True, store_h=0.05),
            [1000.0] * 4,
            tanks=150,
            runs=4,
        )
        for share in (1.0, 0.75)
    )
    # 0.04 h of 0.25 h a tank
    assert late.waiting_share.value > 0.12
    assert early.waiting_share.value < 0.02


def balance(found: HaulingSimulation) -> float:
    mass = found.mass
    return mass.started + mass.cut - mass.in_tanks - mass.on_haulers - mass.delivered


WORK = st.builds(
    field,
    combines=st.integers(1, 5),
    on_the_move=st.booleans(),
    call_share=st.floats(0.2, 1),
    docking_h=st.floats(0, 0.02),
    approach_h=st.floats(0, 0.05),
    out_h=st.floats(0, 1),
    back_h=st.floats(0, 1),
    store_h=st.floats(0, 0.3),
    store_t_h=st.one_of(st.none(), st.floats(20, 300)),
    store_places=st.one_of(st.none(), st.integers(1, 3)),
    least_room_t=st.floats(0, 8),
    variation=st.floats(0, 1),
)
HAULERS = st.lists(st.floats(2, 40), min_size=1, max_size=6)


@seed(5)
@settings(max_examples=40, deadline=None, database=None)
@given(work=WORK, capacities=HAULERS)
def test_no_grain_is_lost_and_no_link_does_more_than_it_can(work: FieldWork, capacities: list[float]) -> None:
    found = simulate_hauling(work, capacities, tanks=30, runs=2)
    assert balance(found) == pytest.approx(0, abs=1e-6 * max(1.0, found.mass.cut))
    assert min(found.mass.in_tanks, found.mass.on_haulers, found.mass.delivered) >= -1e-6
    assert found.mass.on_haulers <= 2 * sum(capacities) + 1e-6
    assert 0 <= found.cutting_share.low <= found.cutting_share.value <= found.cutting_share.high <= 1
    links = link_rates(work, capacities)
    for limit in (links.combines_t_h, links.haulers_t_h, links.store_t_h):
        assert limit is None or found.grain_t_h.high <= limit
    assert 0 <= found.waiting_share.value <= 1
    assert -1e-9 <= found.hauler_idle_share <= 1
    assert 0 <= found.store_busy_share <= 1 + 1e-9
    assert found.cutting_share.value + found.waiting_share.value <= 1 + 1e-9
    assert math.isfinite(found.wait_h + found.store_wait_h)


@seed(6)
@settings(max_examples=10, deadline=None, database=None, phases=[Phase.generate])
@given(
    work=st.builds(
        field,
        combines=st.integers(1, 3),
        on_the_move=st.booleans(),
        least_room_t=st.just(2.0),
        variation=st.floats(0, 0.6),
        store_places=st.one_of(st.none(), st.just(1)),
        store_h=st.floats(0.05, 0.3),
        out_h=st.floats(0.05, 0.5),
    ),
    capacity=st.floats(8, 30),
)
def test_one_hauler_more_never_lowers_the_throughput(work: FieldWork, capacity: float) -> None:
    rates = [simulate_hauling(work, [capacity] * number, tanks=60, runs=4).grain_t_h for number in (1, 2, 3, 4)]
    for fewer, more in pairwise(rates):
        # both are estimates: less may only be told where the limits part
        assert more.high >= fewer.low
        assert more.value >= fewer.value * 0.96


def test_throughput_never_exceeds_the_narrowest_link() -> None:
    work = field(least_room_t=2.0, variation=0.3, store_h=0.2, store_places=1, combines=3, out_h=0.2)
    for number in (1, 2, 4, 8):
        rates = link_rates(work, [18.0] * number)
        limit = min(rates.combines_t_h, rates.haulers_t_h, rates.store_t_h or math.inf)
        found = simulate_hauling(work, [18.0] * number, tanks=150, runs=6)
        assert found.grain_t_h.high <= limit
        assert found.grain_t_h.value >= 0.85 * limit
        assert found.cutting_share.high * work.combines * work.flow_t_h <= limit * (1 + 1e-12)


def test_a_narrow_store_makes_a_queue() -> None:
    narrow, wide = (
        simulate_hauling(
            field(least_room_t=2.0, variation=0.3, store_h=0.3, store_places=places, out_h=0.2, combines=3),
            [18.0] * 6,
            tanks=150,
            runs=4,
        )
        for places in (1, 6)
    )
    assert narrow.store_wait_h > 0.3
    assert wide.store_wait_h == pytest.approx(0, abs=1e-9)
    assert narrow.store_busy_share > 0.97
    assert narrow.grain_t_h.value < wide.grain_t_h.value


def test_larger_haulers_of_mixed_sizes_haul_more() -> None:
    work = field(least_room_t=2.0, variation=0.3, combines=3)
    small, mixed, large = (
        simulate_hauling(work, sizes, tanks=120, runs=4).grain_t_h.value
        for sizes in ([8.0, 8.0, 8.0], [8.0, 16.0, 24.0], [24.0, 24.0, 24.0])
    )
    assert small < mixed < large


def test_the_same_question_has_the_same_answer() -> None:
    work = field(store_places=1, variation=0.4, least_room_t=2.0)
    one, other = (simulate_hauling(work, [18.0, 9.0], tanks=60, runs=3) for _ in range(2))
    assert one == other


def test_more_runs_narrow_the_interval() -> None:
    # haulers to spare, so that no link cuts the interval off
    work = field()
    few, many = (simulate_hauling(work, [1000.0] * 5, tanks=60, runs=runs).grain_t_h for runs in (5, 40))
    assert many.high - many.low < few.high - few.low


@pytest.mark.parametrize(
    ("capacities", "more", "name"),
    [
        ([], {}, "haulers"),
        ([0.0], {}, "capacities_t.0"),
        ([9.0, -1.0], {}, "capacities_t.1"),
        ([9.0], {"tanks": 9}, "tanks"),
        ([9.0], {"runs": 1}, "runs"),
        ([9.0], {"runs": 201}, "runs"),
        ([9.0], {"seed": -1}, "seed"),
    ],
)
def test_what_cannot_be_is_refused(capacities: list[float], more: dict[str, int], name: str) -> None:
    with pytest.raises(OutOfRange) as refused:
        simulate_hauling(field(), capacities, **({"tanks": 20, "runs": 2} | more))
    assert refused.value.field == name
