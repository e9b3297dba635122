"""Answers by idempotency key, so that a request that comes twice is done once.

The unique (organisation_id, key) decides, not an isolation level: the answer is written before the
work, in the same transaction, and whoever comes second waits for the first and finds its answer.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final
from uuid import UUID

from sqlalchemy import delete, exc, select, tuple_
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from service.errors import KeyInUse
from service.store.tables import Idempotency

WINDOW: Final = timedelta(days=7)
_SWEPT: Final = 20  # each request adds one row and clears away up to so many that are past the window
_LOCK_NOT_AVAILABLE: Final = "55P03"


@dataclass(frozen=True, slots=True)
class Stored:
    """An answer that was given, and the digest of the request it was given to."""

    fingerprint: bytes
    body: str


def find(session: Session, organisation_id: int, keys: Sequence[UUID], now: datetime) -> Mapping[UUID, Stored]:
    """Return the answers that were given under these keys within the window."""
    query = select(Idempotency).where(
        Idempotency.organisation_id == organisation_id,
        Idempotency.key.in_(keys),
        Idempotency.created_at > now - WINDOW,
    )
    return {row.key: Stored(row.fingerprint, row.body) for row in session.scalars(query)}


def claim(
    session: Session, organisation_id: int, member_id: int, key: UUID, answer: Stored, now: datetime
) -> Stored | None:
    """Write the answer under a key; returns the one that stands there already, None if there was none.

    Raises
    ------
    KeyInUse
        If another request holds the key for longer than a request takes.
    """
    row = {"member_id": member_id, "fingerprint": answer.fingerprint, "body": answer.body, "created_at": now}
    # both databases have the same insert, in two modules
    insert: Any = sqlite.insert if session.get_bind().dialect.name == "sqlite" else postgresql.insert
    statement = (
        insert(Idempotency)
        .values(organisation_id=organisation_id, key=key, **row)
        .on_conflict_do_update(
            index_elements=["organisation_id", "key"], set_=row, where=Idempotency.created_at <= now - WINDOW
        )
        .returning(Idempotency.key)
    )
    try:
        claimed = session.execute(statement).one_or_none()
    except exc.OperationalError as error:
        if getattr(error.orig, "sqlstate", None) == _LOCK_NOT_AVAILABLE:
            raise KeyInUse from error
        raise
    return None if claimed is not None else find(session, organisation_id, [key], now)[key]


def sweep(session: Session, now: datetime) -> int:
    """Delete some of the answers that are past the window; rows that another request clears are passed over."""
    old = (
        select(Idempotency.organisation_id, Idempotency.key)
        .where(Idempotency.created_at <= now - WINDOW)
        .order_by(Idempotency.created_at)
        .limit(_SWEPT)
        .with_for_update(skip_locked=True)
    )
    found = [(row.organisation_id, row.key) for row in session.execute(old)]
    if found:
        session.execute(delete(Idempotency).where(tuple_(Idempotency.organisation_id, Idempotency.key).in_(found)))
    return len(found)
