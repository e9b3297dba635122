"""The chain of combines and haulers: limits, conservation, and the queue that it becomes without a way."""

import pytest
from hypothesis import given, seed, settings
from hypothesis import strategies as st

from service.domain.finite_source_queue import finite_source_queue
from service.domain.hauling_chain import MOST_HAULERS, haulers_needed, hauling_chain
from service.errors import OutOfRange

TIMES = st.floats(0.02, 5)
FEW = settings(max_examples=50, deadline=None, database=None)


@seed(1)
@FEW
@given(st.integers(1, 8), st.integers(1, 10), TIMES, TIMES, st.floats(0, 5))
def test_shares_add_up_and_nobody_works_more_than_all_the_time(
    combines: int, haulers: int, fill_h: float, load_h: float, away_h: float
) -> None:
    chain = hauling_chain(combines, haulers, fill_h, load_h, away_h)
    assert chain.filling_share + chain.loading_share + chain.waiting_share == pytest.approx(1)
    assert min(chain.filling_share, chain.loading_share, chain.waiting_share) >= -1e-12
    assert 0 <= chain.hauler_idle_share <= 1
    # every tank is filled, loaded and hauled once
    assert chain.filling_share * combines / fill_h == pytest.approx(chain.tanks_per_h, rel=1e-6)
    busy = (1 - chain.hauler_idle_share) * haulers
    assert busy == pytest.approx(chain.tanks_per_h * (load_h + away_h), rel=1e-6, abs=1e-9)


@seed(2)
@FEW
@given(st.integers(1, 8), st.integers(1, 10), TIMES, TIMES, st.floats(0, 5))
def test_one_hauler_more_never_lowers_the_throughput(
    combines: int, haulers: int, fill_h: float, load_h: float, away_h: float
) -> None:
    fewer, more = (hauling_chain(combines, count, fill_h, load_h, away_h) for count in (haulers, haulers + 1))
    assert more.tanks_per_h >= fewer.tanks_per_h * (1 - 1e-9)
    assert more.wait_h <= fewer.wait_h * (1 + 1e-9) + 1e-12


@seed(3)
@FEW
@given(st.integers(1, 10), st.integers(1, 10), TIMES, TIMES)
def test_a_way_that_takes_no_time_leaves_the_finite_source_queue(
    combines: int, haulers: int, fill_h: float, load_h: float
) -> None:
    queue = finite_source_queue(combines, haulers, fill_h, load_h)
    for away_h in (0.0, 1e-9):
        chain = hauling_chain(combines, haulers, fill_h, load_h, away_h)
        assert chain.filling_share == pytest.approx(queue.working_share, rel=1e-6)
        assert chain.wait_h == pytest.approx(queue.wait_h, rel=1e-5, abs=1e-7)


@seed(4)
@settings(max_examples=15, deadline=None, database=None)
@given(st.integers(1, 6), TIMES, TIMES, TIMES)
def test_very_many_haulers_leave_nobody_waiting(combines: int, fill_h: float, load_h: float, away_h: float) -> None:
    chain = hauling_chain(combines, MOST_HAULERS, fill_h, load_h, min(away_h, 2 * fill_h))
    assert chain.waiting_share < 0.01
    assert chain.filling_share == pytest.approx(fill_h / (fill_h + load_h), rel=0.02)


@seed(5)
@FEW
@given(TIMES, TIMES, TIMES)
def test_one_of_each_waits_for_the_longer_of_two_exponential_times(fill_h: float, load_h: float, away_h: float) -> None:
    longer = fill_h + away_h - 1 / (1 / fill_h + 1 / away_h)
    chain = hauling_chain(1, 1, fill_h, load_h, away_h)
    assert chain.filling_share == pytest.approx(fill_h / (longer + load_h), rel=1e-9)


def test_a_long_way_bounds_the_throughput_by_the_round() -> None:
    chain = hauling_chain(4, 2, 0.2, 0.05, 50.0)
    assert chain.tanks_per_h == pytest.approx(2 / 50.05, rel=1e-3)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("combines", 0),
        ("combines", 21),
        ("haulers", 0),
        ("haulers", 41),
        ("fill_h", 0.0),
        ("load_h", -0.1),
        ("away_h", -0.1),
        ("away_h", float("inf")),
    ],
)
def test_what_cannot_be_is_refused(field: str, value: float) -> None:
    fine = {"combines": 2, "haulers": 3, "fill_h": 0.2, "load_h": 0.05, "away_h": 0.5}
    with pytest.raises(OutOfRange) as refused:
        hauling_chain(**(fine | {field: value}))  # type: ignore[arg-type]
    assert refused.value.field == field


@seed(6)
@FEW
@given(st.floats(0.1, 500), st.floats(0.1, 500))
def test_the_haulers_that_are_needed_keep_up_and_one_less_does_not(cycle_min: float, load_min: float) -> None:
    needed = haulers_needed(cycle_min, load_min)
    assert needed * load_min >= cycle_min * (1 - 1e-8)
    assert needed == 1 or (needed - 1) * load_min < cycle_min


@pytest.mark.parametrize(("cycle_min", "load_min", "field"), [(0.0, 1.0, "cycle_min"), (1.0, 0.0, "load_min")])
def test_a_round_takes_time(cycle_min: float, load_min: float, field: str) -> None:
    with pytest.raises(OutOfRange) as refused:
        haulers_needed(cycle_min, load_min)
    assert refused.value.field == field
