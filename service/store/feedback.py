"""Feedback records as statements: add, find, list, withdraw, read by session.

Inside: rows in and out, always of one organisation. Outside: what a record means, who may see it.
"""

import secrets
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Final
from uuid import UUID

from sqlalchemy import Select, delete, func, select, tuple_
from sqlalchemy.orm import Session

from service.store.tables import Feedback, Member, Withdrawal
from service.store.tables_local import Rebuild

_CHUNK: Final = 1000


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which records of an organisation: of one contributor, of one crop, or all."""

    organisation_id: int
    member_id: int | None = None
    pseudonym: str | None = None
    crop: str | None = None


@dataclass(frozen=True, slots=True)
class Kept:
    """A record with the pseudonym of its contributor."""

    row: Feedback
    pseudonym: str


@dataclass(frozen=True, slots=True)
class InSession:
    """A record with every setting that was in force, those carried on from earlier in its session included."""

    row: Feedback
    settings: Mapping[str, float]


def new_id(now: datetime) -> UUID:
    """Return a UUIDv7 (RFC 9562, 5.7): milliseconds since 1970, then 74 random bits."""
    milliseconds = int(now.timestamp() * 1000)
    random = secrets.randbits(74)
    return UUID(int=milliseconds << 80 | 0x7 << 76 | (random >> 62) << 64 | 0b10 << 62 | random & (1 << 62) - 1)


def add(session: Session, rows: Sequence[Feedback]) -> None:
    """Add records."""
    session.add_all(rows)
    session.flush()


def one(session: Session, wanted: Wanted, ident: UUID) -> Kept | None:
    """Find a record among those that are wanted."""
    found = session.execute(_matching(wanted).where(Feedback.id == ident)).one_or_none()
    return None if found is None else Kept(*found)


def page(session: Session, wanted: Wanted, *, before: UUID | None, limit: int) -> Sequence[Kept]:
    """Return records, newest first, those that arrived before the one with this id."""
    query = _matching(wanted).order_by(Feedback.id.desc()).limit(limit)
    if before is not None:
        query = query.where(Feedback.id < before)
    return [Kept(*found) for found in session.execute(query)]


def following(session: Session, wanted: Wanted, *, after: UUID | None, limit: int) -> Sequence[Kept]:
    """Return records, oldest first, those that arrived after the one with this id."""
    query = _matching(wanted).order_by(Feedback.id).limit(limit)
    if after is not None:
        query = query.where(Feedback.id > after)
    return [Kept(*found) for found in session.execute(query)]


def count_in_sessions(
    session: Session, organisation_id: int, groups: Collection[tuple[int, str]]
) -> dict[tuple[int, str], int]:
    """Return how many records there are of a contributor, machine, field and day, by member and session key."""
    query = (
        select(Feedback.member_id, Feedback.session_key, func.count())
        .where(
            Feedback.organisation_id == organisation_id,
            tuple_(Feedback.member_id, Feedback.session_key).in_(groups),
        )
        .group_by(Feedback.member_id, Feedback.session_key)
    )
    return {(member_id, key): count for member_id, key, count in session.execute(query)}


def session_rows(session: Session, wanted: Wanted) -> Iterator[list[InSession]]:
    """Yield the records session by session, each in the order of observation, with settings carried on."""
    query = (
        _matching(wanted)
        .order_by(Feedback.member_id, Feedback.session_key, Feedback.observed_at, Feedback.id)
        .execution_options(yield_per=_CHUNK)
    )
    rows = (row for row, _ in session.execute(query))
    for _, group in groupby(rows, key=lambda row: (row.member_id, row.session_key)):
        yield list(carried_on(group))


def carried_on(rows: Iterator[Feedback]) -> Iterator[InSession]:
    """Fill in what a record leaves out from the one before it."""
    standing: dict[str, float] = {}
    for row in rows:
        standing = standing | row.settings
        yield InSession(row, standing)


def withdraw(session: Session, row: Feedback, now: datetime) -> None:
    """Delete a record, keep that it was there, and have the sums made anew that it was in."""
    session.add(Rebuild(organisation_id=row.organisation_id, member_id=row.member_id, season=row.season))
    session.add(
        Withdrawal(
            feedback_id=row.id,
            organisation_id=row.organisation_id,
            member_id=row.member_id,
            session_key=row.session_key,
            season=row.season,
            withdrawn_at=now,
        )
    )
    session.execute(delete(Feedback).where(Feedback.id == row.id))
    session.flush()


def was_withdrawn(session: Session, wanted: Wanted, ident: UUID) -> bool:
    """Say whether a record among those that are wanted was taken back."""
    query = select(func.count()).where(
        Withdrawal.feedback_id == ident, Withdrawal.organisation_id == wanted.organisation_id
    )
    if wanted.member_id is not None:
        query = query.where(Withdrawal.member_id == wanted.member_id)
    return bool(session.scalar(query))


def _matching(wanted: Wanted) -> Select[Feedback, str]:
    query = (
        select(Feedback, Member.pseudonym)
        .join(Member, Member.id == Feedback.member_id)
        .where(Feedback.organisation_id == wanted.organisation_id)
    )
    if wanted.member_id is not None:
        query = query.where(Feedback.member_id == wanted.member_id)
    if wanted.pseudonym is not None:
        query = query.where(Member.pseudonym == wanted.pseudonym)
    if wanted.crop is not None:
        query = query.where(Feedback.crop == wanted.crop)
    return query
