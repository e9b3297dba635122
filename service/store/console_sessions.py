"""Sessions of the console as statements: begun, found, ended.

Inside: rows in and out, and the digest of a cookie. Outside: how long one lasts and who may begin it
(`usecases.console_access`).
"""

import hashlib
from datetime import datetime

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from service.store.organisations import KeyHolder
from service.store.tables import ApiKey, ConsoleSession, Member, Organisation


def begin(session: Session, token: str, api_key_id: int, now: datetime, expires_at: datetime) -> None:
    """Keep a session."""
    session.add(
        ConsoleSession(token_sha256=_digest(token), api_key_id=api_key_id, created_at=now, expires_at=expires_at)
    )
    session.flush()


def holder(session: Session, token: str, now: datetime) -> KeyHolder | None:
    """Find the key that a session speaks for, if it has not run out; whether the key still holds is not asked."""
    query = (
        select(ApiKey, Organisation, Member)
        .join(ConsoleSession, ConsoleSession.api_key_id == ApiKey.id)
        .join(Organisation, Organisation.id == ApiKey.organisation_id)
        .outerjoin(Member, Member.id == ApiKey.member_id)
        .where(ConsoleSession.token_sha256 == _digest(token), ConsoleSession.expires_at > now)
    )
    found = session.execute(query).one_or_none()
    return None if found is None else KeyHolder(*found)


def end(session: Session, token: str) -> None:
    """Delete a session; ending one that is not there does nothing."""
    session.execute(delete(ConsoleSession).where(ConsoleSession.token_sha256 == _digest(token)))


def sweep(session: Session, now: datetime) -> None:
    """Delete sessions that have run out."""
    session.execute(delete(ConsoleSession).where(ConsoleSession.expires_at <= now))


def _digest(token: str) -> bytes:
    # 256 random bits, as with keys: one round is enough
    return hashlib.sha256(token.encode()).digest()
