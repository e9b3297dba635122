"""Organisations, their members and keys, as statements.

Inside: rows in and out. Outside: what may be done to them and the audit log (`usecases.organisations`).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import delete, func, select, text
from sqlalchemy.orm import Session

from service.store.keys import NewKey
from service.store.tables import ApiKey, Feedback, Member, Organisation


@dataclass(frozen=True, slots=True)
class KeyHolder:
    """A key with those it speaks for."""

    key: ApiKey
    organisation: Organisation
    member: Member | None


def add_organisation(session: Session, name: str, season_starts_month: int, now: datetime) -> Organisation:
    """Add an organisation; `organisation_named` tells beforehand whether its name is taken."""
    organisation = Organisation(name=name, season_starts_month=season_starts_month, created_at=now)
    session.add(organisation)
    session.flush()
    return organisation


def organisation_named(session: Session, name: str) -> Organisation | None:
    """Find an organisation."""
    return session.scalar(select(Organisation).where(Organisation.name == name))


def all_organisations(session: Session) -> Sequence[Organisation]:
    """Return every organisation by name."""
    return session.scalars(select(Organisation).order_by(Organisation.name)).all()


def add_member(session: Session, organisation_id: int, pseudonym: str, now: datetime) -> Member:
    """Add a contributor."""
    member = Member(organisation_id=organisation_id, pseudonym=pseudonym, joined_at=now)
    session.add(member)
    session.flush()
    return member


def member_named(session: Session, organisation_id: int, pseudonym: str) -> Member | None:
    """Find a contributor of an organisation."""
    return session.scalar(
        select(Member).where(Member.organisation_id == organisation_id, Member.pseudonym == pseudonym)
    )


def members(session: Session, organisation_id: int) -> Sequence[tuple[Member, int]]:
    """Return every contributor with the number of records, by pseudonym."""
    count = (
        select(func.count())
        .where(Feedback.organisation_id == Member.organisation_id, Feedback.member_id == Member.id)
        .correlate(Member)
        .scalar_subquery()
        .label("records")
    )
    query = select(Member, count).where(Member.organisation_id == organisation_id).order_by(Member.pseudonym)
    return [(member, records) for member, records in session.execute(query)]


def pseudonyms(session: Session, organisation_id: int) -> list[str]:
    """Return the pseudonyms of an organisation."""
    query = select(Member.pseudonym).where(Member.organisation_id == organisation_id).order_by(Member.pseudonym)
    return list(session.scalars(query))


def erase_member(session: Session, member: Member) -> int:
    """Delete a contributor with everything that hangs on it; returns how many records that were."""
    own = (Feedback.organisation_id == member.organisation_id, Feedback.member_id == member.id)
    records = session.scalar(select(func.count()).where(*own)) or 0
    if session.get_bind().dialect.name == "postgresql":
        session.execute(text("SET LOCAL statement_timeout = '10min'"))  # seasons of records take longer than a request
    # by statement: the cascade is the database's, so that no table of a later day can be forgotten here
    session.execute(delete(Member).where(Member.id == member.id))
    return records


def add_key(
    session: Session,
    new: NewKey,
    *,
    organisation_id: int,
    member_id: int | None,
    scopes: str,
    label: str,
    now: datetime,
    expires_at: datetime | None,
) -> ApiKey:
    """Add a key."""
    key = ApiKey(
        organisation_id=organisation_id,
        member_id=member_id,
        prefix=new.prefix,
        secret_sha256=new.digest,
        scopes=scopes,
        label=label,
        created_at=now,
        expires_at=expires_at,
        revoked_at=None,
    )
    session.add(key)
    session.flush()
    return key


def holder_of(session: Session, prefix: str) -> KeyHolder | None:
    """Find a key by its prefix, whether it still holds or not."""
    query = (
        select(ApiKey, Organisation, Member)
        .join(Organisation, Organisation.id == ApiKey.organisation_id)
        .outerjoin(Member, Member.id == ApiKey.member_id)
        .where(ApiKey.prefix == prefix)
    )
    found = session.execute(query).one_or_none()
    return None if found is None else KeyHolder(*found)


def keys(session: Session, organisation_id: int) -> Sequence[tuple[ApiKey, str | None]]:
    """Return every key of an organisation with the pseudonym of its contributor, oldest first."""
    query = (
        select(ApiKey, Member.pseudonym)
        .outerjoin(Member, Member.id == ApiKey.member_id)
        .where(ApiKey.organisation_id == organisation_id)
        .order_by(ApiKey.id)
    )
    return [(key, pseudonym) for key, pseudonym in session.execute(query)]
