"""One key, one answer: in order, at once, and until the window closes."""

import threading
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
from sqlalchemy import func, select

from service.errors import KeyInUse, StoreUnavailable
from service.store import Store, idempotency, organisations
from service.store.idempotency import WINDOW, Stored
from service.store.tables import Idempotency

NOW = datetime(2026, 7, 28, 12, 30, tzinfo=UTC)
FIRST, SECOND = Stored(b"1" * 32, '{"answer": 1}'), Stored(b"2" * 32, '{"answer": 2}')


@pytest.fixture
def whose(store: Store) -> tuple[int, int]:
    with store.writing() as session:
        made = organisations.add_organisation(session, "hill", 1, NOW)
        return made.id, organisations.add_member(session, made.id, "farm-1", NOW).id


def claimed(store: Store, whose: tuple[int, int], key: object, answer: Stored, now: datetime = NOW) -> Stored | None:
    with store.writing() as session:
        return idempotency.claim(session, *whose, key, answer, now)  # type: ignore[arg-type]


def test_the_window_is_seven_days() -> None:
    assert timedelta(days=7) == WINDOW


def test_the_first_answer_stands_until_the_window_closes(store: Store, whose: tuple[int, int]) -> None:
    key, last = uuid4(), NOW + WINDOW - timedelta(seconds=1)
    assert claimed(store, whose, key, FIRST) is None
    assert claimed(store, whose, key, SECOND) == FIRST
    assert claimed(store, whose, key, SECOND, last) == FIRST
    with store.reading() as session:
        assert idempotency.find(session, whose[0], [key, uuid4()], last) == {key: FIRST}
        assert idempotency.find(session, whose[0], [key], NOW + WINDOW) == {}
    assert claimed(store, whose, key, SECOND, NOW + WINDOW) is None
    assert claimed(store, whose, key, FIRST, NOW + WINDOW) == SECOND


def test_organisations_do_not_share_keys(store: Store, whose: tuple[int, int]) -> None:
    key = uuid4()
    with store.writing() as session:
        other = organisations.add_organisation(session, "vale", 1, NOW)
        others = other.id, organisations.add_member(session, other.id, "farm-1", NOW).id
    assert claimed(store, whose, key, FIRST) is None
    assert claimed(store, others, key, SECOND) is None
    with store.reading() as session:
        assert idempotency.find(session, others[0], [key], NOW) == {key: SECOND}


def test_a_claim_goes_with_its_transaction(store: Store, whose: tuple[int, int]) -> None:
    key = uuid4()
    with suppress(ZeroDivisionError), store.writing() as session:
        idempotency.claim(session, *whose, key, FIRST, NOW)
        raise ZeroDivisionError
    assert claimed(store, whose, key, SECOND) is None


def test_of_many_at_once_one_claims_and_the_others_get_its_answer(store: Store, whose: tuple[int, int]) -> None:
    count, key = 12, uuid4()
    start = threading.Barrier(count)

    def one(number: int) -> Stored | None:
        start.wait()
        return claimed(store, whose, key, Stored(bytes([number]) * 32, str(number)))

    with ThreadPoolExecutor(count) as pool:
        found = list(pool.map(one, range(count)))
    winner = found.index(None)
    assert [answer for answer in found if answer is not None] == [Stored(bytes([winner]) * 32, str(winner))] * (
        count - 1
    )


def test_who_waits_longer_than_a_request_takes_is_told_to_come_again(store: Store, whose: tuple[int, int]) -> None:
    key = uuid4()
    with store.writing() as session:
        idempotency.claim(session, *whose, key, FIRST, NOW)
        # SQLite lets only one write at a time, whatever the key
        with pytest.raises(KeyInUse if store.file is None else StoreUnavailable):
            claimed(store, whose, key, FIRST)
    assert claimed(store, whose, key, FIRST) == FIRST


def test_answers_past_the_window_are_cleared_away_little_by_little(store: Store, whose: tuple[int, int]) -> None:
    for _ in range(25):
        claimed(store, whose, uuid4(), FIRST)
    kept = uuid4()
    claimed(store, whose, kept, FIRST, NOW + timedelta(days=1))
    swept = []
    for _ in range(3):
        with store.writing() as session:
            swept.append(idempotency.sweep(session, NOW + WINDOW))
    assert swept == [20, 5, 0]
    with store.reading() as session:
        assert session.scalars(select(Idempotency.key)).all() == [kept]


def test_two_sweeps_at_once_do_not_wait_for_each_other(store: Store, whose: tuple[int, int]) -> None:
    for _ in range(5):
        claimed(store, whose, uuid4(), FIRST)
    if store.file is not None:
        return  # SQLite has one writer
    with store.writing() as one, store.writing() as other:
        assert idempotency.sweep(one, NOW + WINDOW) == 5
        assert idempotency.sweep(other, NOW + WINDOW) == 0
    with store.reading() as session:
        assert session.scalar(select(func.count()).select_from(Idempotency)) == 0
