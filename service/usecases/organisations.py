"""Organisations, members and keys: making, ending, erasing, each with its line in the audit log.

Inside: rules of names, scopes and overlap, and what the log says. Outside: statements (`store.organisations`),
who asks (`access`). The log names contributors by number, so that an erased one is named nowhere.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from service.errors import Contradiction, InvalidInput, NotFound, OutOfRange, UnknownName
from service.store import Session, audit, cell_sums
from service.store import organisations as rows
from service.store.keys import make_key
from service.store.tables import ApiKey, Member, Organisation
from service.usecases.access import SCOPES, Caller, holds

OVERLAP_DAYS: Final = 7
MOST_OVERLAP_DAYS: Final = 90
COMMAND_LINE: Final = "command line"
_NAME: Final = re.compile(r"[a-z0-9](?:[a-z0-9-]{0,38}[a-z0-9])?")


@dataclass(frozen=True, slots=True)
class Issued:
    """A new key; `text` is shown once and kept nowhere."""

    text: str
    prefix: str
    expires_at: datetime | None


def create(session: Session, name: str, season_starts_month: int, now: datetime) -> Organisation:
    """Add an organisation.

    Raises
    ------
    InvalidInput
        If it cannot be called so.
    OutOfRange
        If there is no such month.
    Contradiction
        If another one is called so.
    """
    _refuse_name("name", name)
    if not 1 <= season_starts_month <= 12:
        raise OutOfRange("season_starts_month", season_starts_month, 1, 12)
    if rows.organisation_named(session, name) is not None:
        raise Contradiction(["name"], "reason.name_taken", name=name)
    made = rows.add_organisation(session, name, season_starts_month, now)
    facts = {"name": name, "season_starts_month": season_starts_month}
    audit.record(
        session, now, organisation_id=made.id, actor=COMMAND_LINE, action="organisation created", subject=name, **facts
    )
    return made


def _refuse_name(field: str, name: str) -> None:
    if not _NAME.fullmatch(name):
        raise InvalidInput(field, reason="reason.name_form")


def find(session: Session, name: str) -> Organisation:
    """Return an organisation, or raise UnknownName."""
    found = rows.organisation_named(session, name)
    if found is None:
        raise UnknownName("organisation", name, [one.name for one in rows.all_organisations(session)])
    return found


def find_member(session: Session, organisation: Organisation, pseudonym: str) -> Member:
    """Return a contributor of an organisation, or raise UnknownName."""
    found = rows.member_named(session, organisation.id, pseudonym)
    if found is None:
        raise UnknownName("contributor", pseudonym, rows.pseudonyms(session, organisation.id))
    return found


def add_member(session: Session, organisation: Organisation, pseudonym: str, now: datetime) -> Member:
    """Add a contributor under a pseudonym; who that is, only the organisation knows.

    Raises
    ------
    InvalidInput
        If it cannot be called so.
    Contradiction
        If another one is called so.
    """
    _refuse_name("contributor", pseudonym)
    if rows.member_named(session, organisation.id, pseudonym) is not None:
        raise Contradiction(["contributor"], "reason.name_taken", name=pseudonym)
    member = rows.add_member(session, organisation.id, pseudonym, now)
    subject = f"member {member.id}"
    audit.record(
        session, now, organisation_id=organisation.id, actor=COMMAND_LINE, action="member added", subject=subject
    )
    return member


def issue_key(
    session: Session,
    organisation: Organisation,
    member: Member | None,
    scopes: Iterable[str],
    now: datetime,
    *,
    label: str = "",
    days: int | None = None,
) -> Issued:
    """Make a key for a contributor, or without one for the organisation.

    Raises
    ------
    UnknownName
        If there is no such scope.
    InvalidInput
        If there is no scope at all.
    """
    wanted = set(scopes)
    for scope in sorted(wanted):
        if scope not in SCOPES:
            raise UnknownName("scopes", scope, SCOPES)
    if not wanted:
        raise InvalidInput("scopes", reason="reason.scopes_missing")
    expires_at = None if days is None else now + timedelta(days=days)
    written = " ".join(scope for scope in SCOPES if scope in wanted)
    member_id = None if member is None else member.id
    return _issue(session, organisation.id, member_id, written, label, now, expires_at, "key created")


def _issue(
    session: Session,
    organisation_id: int,
    member_id: int | None,
    scopes: str,
    label: str,
    now: datetime,
    expires_at: datetime | None,
    action: str,
    **facts: object,
) -> Issued:
    new = make_key()
    rows.add_key(
        session,
        new,
        organisation_id=organisation_id,
        member_id=member_id,
        scopes=scopes,
        label=label,
        now=now,
        expires_at=expires_at,
    )
    audit.record(
        session,
        now,
        organisation_id=organisation_id,
        actor=COMMAND_LINE,
        action=action,
        subject=f"key {new.prefix}",
        scopes=scopes,
        member=member_id,
        **facts,
    )
    return Issued(new.text, new.prefix, expires_at)


def rotate_key(session: Session, prefix: str, now: datetime, overlap_days: int = OVERLAP_DAYS) -> Issued:
    """Make a key that takes the place of another, which goes on holding for the days of overlap.

    Raises
    ------
    UnknownName
        If there is no such key.
    InvalidInput
        If it holds no longer: then there is nothing to hand over.
    OutOfRange
        If the overlap is none.
    """
    if not 0 <= overlap_days <= MOST_OVERLAP_DAYS:
        raise OutOfRange("overlap_days", overlap_days, 0, MOST_OVERLAP_DAYS, "d")
    old = _key(session, prefix)
    if not holds(old.expires_at, old.revoked_at, now):
        raise InvalidInput("prefix", reason="reason.key_ended")
    lasting = None if old.expires_at is None else now + (old.expires_at - old.created_at)
    issued = _issue(
        session, old.organisation_id, old.member_id, old.scopes, old.label, now, lasting, "key rotated", replaces=prefix
    )
    end = now + timedelta(days=overlap_days)
    old.expires_at = end if old.expires_at is None else min(end, old.expires_at)
    return issued


def revoke_key(session: Session, prefix: str, now: datetime) -> None:
    """End a key at once; ending it twice does nothing.

    Raises
    ------
    UnknownName
        If there is no such key.
    """
    key = _key(session, prefix)
    if key.revoked_at is None:
        key.revoked_at = now
        audit.record(
            session,
            now,
            organisation_id=key.organisation_id,
            actor=COMMAND_LINE,
            action="key revoked",
            subject=f"key {prefix}",
        )


def _key(session: Session, prefix: str) -> ApiKey:
    holder = rows.holder_of(session, prefix)
    if holder is None:
        raise UnknownName("prefix", prefix, [])
    return holder.key


def erase_member(session: Session, organisation: Organisation, pseudonym: str, now: datetime) -> int:
    """Delete a contributor with keys and records; returns how many records that were, or raises UnknownName."""
    return _erase(session, find_member(session, organisation, pseudonym), COMMAND_LINE, now)


def erase_contributor(session: Session, caller: Caller, pseudonym: str, now: datetime) -> int:
    """Delete a contributor of the caller's organisation; returns how many records that were.

    Raises
    ------
    ScopeMissing
        If the key is not one to administer.
    NotFound
        If the organisation has no such contributor.
    """
    caller.needs("administer")
    member = rows.member_named(session, caller.organisation_id, pseudonym)
    if member is None:
        raise NotFound
    return _erase(session, member, caller.actor, now)


def _erase(session: Session, member: Member, actor: str, now: datetime) -> int:
    cell_sums.forget(session, member.organisation_id)
    records = rows.erase_member(session, member)
    audit.record(
        session,
        now,
        organisation_id=member.organisation_id,
        actor=actor,
        action="member erased",
        subject=f"member {member.id}",
        records=records,
    )
    return records
