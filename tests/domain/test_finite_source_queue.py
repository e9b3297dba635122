"""The finite-source queue: limits of one and many servers, conservation, and the mistake of an endless source."""

import pytest
from hypothesis import given, seed, settings
from hypothesis import strategies as st

from service.domain.finite_source_queue import MOST_SOURCES, finite_source_queue
from service.errors import OutOfRange

TIMES = st.floats(0.01, 100)
FEW = settings(max_examples=60, deadline=None, database=None)


@seed(1)
@FEW
@given(st.integers(1, 40), st.integers(1, 40), TIMES, TIMES)
def test_the_parts_add_up(sources: int, servers: int, working_h: float, service_h: float) -> None:
    queue = finite_source_queue(sources, servers, working_h, service_h)
    assert 0 < queue.working_share < 1
    assert 0 <= queue.none_down_share <= 1
    assert 0 <= queue.all_servers_busy_share <= 1 + 1e-12
    # a source works, or is down
    assert queue.working_share * sources + queue.mean_down == pytest.approx(sources)
    # servers are never busier than all of the time
    assert queue.mean_down - queue.mean_waiting <= servers * (1 + 1e-12)
    # a cycle is working, waiting and being served
    assert queue.working_share == pytest.approx(working_h / (working_h + queue.wait_h + service_h))
    assert queue.down_h == pytest.approx(queue.wait_h + service_h)


@seed(2)
@FEW
@given(st.integers(1, 30), st.integers(1, 30), TIMES, TIMES)
def test_one_server_more_never_makes_anyone_wait_longer(
    sources: int, servers: int, working_h: float, service_h: float
) -> None:
    fewer, more = (finite_source_queue(sources, count, working_h, service_h) for count in (servers, servers + 1))
    assert more.wait_h <= fewer.wait_h * (1 + 1e-9) + 1e-15
    assert more.working_share >= fewer.working_share * (1 - 1e-12)


@seed(3)
@FEW
@given(st.integers(1, 30), TIMES, TIMES)
def test_with_a_server_for_each_nobody_waits(sources: int, working_h: float, service_h: float) -> None:
    queue = finite_source_queue(sources, sources, working_h, service_h)
    assert queue.mean_waiting == 0
    assert queue.working_share == pytest.approx(working_h / (working_h + service_h))


def test_many_sources_keep_one_server_busy() -> None:
    queue = finite_source_queue(MOST_SOURCES, 1, 1.0, 50.0)
    assert queue.mean_down - queue.mean_waiting == pytest.approx(1.0)
    assert queue.working_share * MOST_SOURCES == pytest.approx(1 / 50)


def test_an_endless_source_is_another_queue() -> None:
    """M/M/1 with the calls of eight machines gives P0 0.20 and 10 h: the counter-example that the formula avoids."""
    calls, served = 8 * 0.05, 0.5
    assert 1 - calls / served == pytest.approx(0.20)
    assert 1 / (served - calls) == pytest.approx(10.0)
    queue = finite_source_queue(8, 1, 20.0, 2.0)
    assert queue.none_down_share > 0.30
    assert queue.down_h < 5


@pytest.mark.parametrize(
    "wrong",
    [
        {"sources": 0},
        {"sources": MOST_SOURCES + 1},
        {"servers": 0},
        {"working_h": 0.0},
        {"working_h": float("nan")},
        {"service_h": -1.0},
        {"service_h": float("inf")},
    ],
)
def test_what_cannot_be_is_refused(wrong: dict[str, float]) -> None:
    fine = {"sources": 6, "servers": 1, "working_h": 20.0, "service_h": 2.0}
    with pytest.raises(OutOfRange) as refused:
        finite_source_queue(**(fine | wrong))  # type: ignore[arg-type]
    assert refused.value.field == next(iter(wrong))
