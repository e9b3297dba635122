"""Who asks: a key to its organisation, its contributor and what it may do.

Inside: proving a key, scopes, whose records a caller sees. Outside: making and ending keys (`organisations`).
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Final, Literal, get_args

from service.errors import Contradiction, InvalidInput, ScopeMissing, Unauthenticated, UnknownName
from service.store import Session, organisations
from service.store.feedback import Wanted
from service.store.keys import is_key, prefix_of
from service.store.organisations import KeyHolder

Scope = Literal["read", "contribute", "review", "administer"]
SCOPES: Final[tuple[Scope, ...]] = get_args(Scope)


@dataclass(frozen=True, slots=True)
class Caller:
    """The holder of a key: a contributor of an organisation, or without `member_id` the organisation itself."""

    organisation_id: int
    organisation: str
    season_starts_month: int
    member_id: int | None
    pseudonym: str | None
    key_prefix: str
    scopes: frozenset[str]

    def needs(self, scope: Scope) -> None:
        """Refuse a caller whose key lacks a scope.

        Raises
        ------
        ScopeMissing
            If it does.
        """
        if scope not in self.scopes:
            raise ScopeMissing(scope)

    @property
    def actor(self) -> str:
        """Who is written into the audit log."""
        return f"key {self.key_prefix}"

    @property
    def sees(self) -> Wanted:
        """Return the records that this caller may read: its own; all with a key of the organisation or to review."""
        everything = self.member_id is None or "review" in self.scopes
        return Wanted(self.organisation_id, None if everything else self.member_id)

    @property
    def may_withdraw(self) -> Wanted:
        """Return the records that this caller may take back: its own; all with a key to administer."""
        everything = self.member_id is None or "administer" in self.scopes
        return Wanted(self.organisation_id, None if everything else self.member_id)


@dataclass(frozen=True, slots=True)
class Contributor:
    """Whom a record is from."""

    member_id: int
    pseudonym: str


def authenticate(session: Session, text: str | None, now: datetime) -> Caller:
    """Return the holder of a key.

    Raises
    ------
    Unauthenticated
        If there is none, or it is unknown, expired or revoked.
    """
    prefix = prefix_of(text) if text is not None else None
    if text is None or prefix is None:
        raise Unauthenticated
    found = organisations.holder_of(session, prefix)
    proven = is_key(text, found.key.secret_sha256 if found else None)
    if not proven or found is None:
        raise Unauthenticated
    return speaks_for(found, now)


def speaks_for(found: KeyHolder, now: datetime) -> Caller:
    """Return who speaks with a key that was proven.

    Raises
    ------
    Unauthenticated
        If it is expired or revoked.
    """
    if not holds(found.key.expires_at, found.key.revoked_at, now):
        raise Unauthenticated
    return Caller(
        organisation_id=found.organisation.id,
        organisation=found.organisation.name,
        season_starts_month=found.organisation.season_starts_month,
        member_id=found.key.member_id,
        pseudonym=found.member.pseudonym if found.member else None,
        key_prefix=found.key.prefix,
        scopes=frozenset(found.key.scopes.split()),
    )


def holds(expires_at: datetime | None, revoked_at: datetime | None, now: datetime) -> bool:
    """Say whether a key is still good."""
    return revoked_at is None and (expires_at is None or now < expires_at)


def contributor_of(session: Session, caller: Caller, named: str | None, field: str = "contributor") -> Contributor:
    """Return whom a record is from: the key's contributor, or the one that a key of the organisation names.

    Raises
    ------
    Contradiction
        If the key of one contributor names another.
    InvalidInput
        If a key of the organisation names nobody.
    UnknownName
        If the organisation has no such contributor.
    """
    if caller.member_id is not None and caller.pseudonym is not None:
        if named not in (None, caller.pseudonym):
            raise Contradiction([field], "reason.contributor_of_another_key")
        return Contributor(caller.member_id, caller.pseudonym)
    if named is None:
        raise InvalidInput(field, reason="reason.contributor_missing")
    member = organisations.member_named(session, caller.organisation_id, named)
    if member is None:
        raise UnknownName(field, named, organisations.pseudonyms(session, caller.organisation_id))
    return Contributor(member.id, member.pseudonym)
