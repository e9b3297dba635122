"""A hauler's round and the links of the chain, worked out by hand."""

import pytest
from hypothesis import given, seed, settings
from hypothesis import strategies as st

from service.domain.hauling_work import FieldWork, link_rates
from service.errors import OutOfRange


def field(**change: object) -> FieldWork:
    """Two combines of 40 t/h with tanks of 8 t; trucks an hour away; a pit of 60 t/h."""
    fine: dict[str, object] = {
        "combines": 2,
        "tank_t": 8.0,
        "flow_t_h": 40.0,
        "unloading_t_h": 200.0,
        "on_the_move": False,
        "call_share": 1.0,
        "docking_h": 0.01,
        "approach_h": 0.02,
        "out_h": 0.5,
        "back_h": 0.4,
        "store_h": 0.1,
        "store_t_h": 60.0,
        "store_places": 1,
        "least_room_t": 2.0,
        "variation": 0.3,
    }
    return FieldWork(**(fine | change))  # type: ignore[arg-type]


def test_times_of_a_tank() -> None:
    standing, moving = field(), field(on_the_move=True)
    assert standing.fill_h == pytest.approx(0.2)
    assert standing.load_h == pytest.approx(0.01 + 0.04)
    assert moving.emptying_h == pytest.approx(8 / 160)  # 40 of the 200 t/h flow in meanwhile


@pytest.mark.parametrize(
    ("capacity_t", "payload_t", "unloadings"),
    [
        (5.0, 5.0, 1),  # a part of a tank
        (8.0, 8.0, 1),
        (9.0, 8.0, 1),  # 1 t of room is less than it waits for
        (11.0, 11.0, 2),  # 3 t of room is more
        (24.0, 24.0, 3),
    ],
)
def test_a_load_is_whole_tanks_and_a_part_that_is_worth_it(
    capacity_t: float, payload_t: float, unloadings: int
) -> None:
    found = field().round(capacity_t)
    assert found.payload_t == pytest.approx(payload_t)
    assert found.unloadings == unloadings
    side = unloadings * 0.03 + payload_t / 200
    assert found.cycle_h == pytest.approx(side + 0.9 + 0.1 + payload_t / 60)


def test_on_the_move_a_tank_is_more_than_the_tank_holds() -> None:
    # 10 t leave the auger while 2 t flow in
    assert field(on_the_move=True).round(9.0).payload_t == pytest.approx(9.0)
    assert field(on_the_move=True).round(10.0).unloadings == 1
    assert field(on_the_move=True).round(21.0).payload_t == pytest.approx(20.0)


def test_rates_of_the_links() -> None:
    rates = link_rates(field(), [24.0])
    assert rates.combines_t_h == pytest.approx(80 * 0.2 / 0.25)
    assert rates.haulers_t_h == pytest.approx(24 / (0.09 + 0.12 + 0.9 + 0.1 + 0.4))
    assert rates.store_t_h == pytest.approx(24 / 0.5)
    assert rates.narrowest == "haulers"
    assert link_rates(field(), [24.0] * 4).narrowest == "store"
    assert link_rates(field(store_places=2), [24.0] * 10).narrowest == "combines"
    assert link_rates(field(store_places=None), [24.0]).store_t_h is None
    assert link_rates(field(store_h=0.0, store_t_h=None), [24.0]).store_t_h is None


def test_a_store_takes_each_size_as_often_as_it_comes() -> None:
    work = field(store_t_h=None)
    small, large = work.round(8.0), work.round(24.0)
    loads = 1 / small.cycle_h + 1 / large.cycle_h
    grain = 8 / small.cycle_h + 24 / large.cycle_h
    # every load takes 0.1 h, whatever its size
    assert link_rates(work, [8.0, 24.0]).store_t_h == pytest.approx(grain / loads / 0.1)


@seed(1)
@settings(max_examples=60, deadline=None, database=None)
@given(st.floats(0.5, 80), st.floats(0, 6), st.booleans())
def test_no_hauler_carries_more_than_it_holds(capacity_t: float, least_room_t: float, moving: bool) -> None:
    found = field(least_room_t=least_room_t, on_the_move=moving).round(capacity_t)
    assert 0 < found.payload_t <= capacity_t * (1 + 1e-12)
    assert found.payload_t >= min(capacity_t, capacity_t - least_room_t) * (1 - 1e-9)
    assert found.unloadings >= 1


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("combines", 0),
        ("tank_t", 0.0),
        ("flow_t_h", 0.0),
        ("unloading_t_h", 0.0),
        ("call_share", 0.0),
        ("call_share", 1.01),
        ("docking_h", -0.1),
        ("approach_h", -0.1),
        ("out_h", float("nan")),
        ("back_h", -1.0),
        ("store_h", -1.0),
        ("store_t_h", 0.0),
        ("store_places", 0),
        ("least_room_t", -1.0),
        ("variation", 1.01),
    ],
)
def test_what_cannot_be_is_refused(name: str, value: float) -> None:
    with pytest.raises(OutOfRange) as refused:
        field(**{name: value})
    assert refused.value.field == name


def test_an_auger_slower_than_the_flow_cannot_unload_on_the_move() -> None:
    with pytest.raises(OutOfRange) as refused:
        field(on_the_move=True, unloading_t_h=40.0)
    assert refused.value.field == "unloading_t_h"


def test_haulers_hold_something_and_there_is_one() -> None:
    with pytest.raises(OutOfRange):
        field().round(0.0)
    with pytest.raises(OutOfRange):
        link_rates(field(), [])
