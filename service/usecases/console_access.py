"""Logging in at the console with a key, and out again.

Inside: who may, for how long, the token of a session. Outside: the cookie that carries it (`console`), keys
(`access`). The key itself is read once and kept nowhere; the session ends with it.
"""

import hashlib
import hmac
import re
import secrets
from datetime import datetime, timedelta
from typing import Final

from service.errors import Unauthenticated
from service.store import Session, audit, console_sessions, organisations
from service.store.keys import prefix_of
from service.usecases.access import Caller, authenticate, speaks_for

LASTS: Final = timedelta(hours=12)  # a long day in the office; afterwards the key is asked for again
_TOKEN: Final = re.compile(r"[A-Za-z0-9_-]{43}")


def log_in(session: Session, key_text: str, now: datetime) -> str:
    """Begin a session with a key to review; returns its token.

    Raises
    ------
    Unauthenticated
        If the key does not hold.
    ScopeMissing
        If it is not one to review.
    """
    caller = authenticate(session, key_text, now)
    caller.needs("review")
    found = organisations.holder_of(session, prefix_of(key_text) or "")
    if found is None:
        raise Unauthenticated
    token = secrets.token_urlsafe(32)
    console_sessions.sweep(session, now)
    console_sessions.begin(session, token, found.key.id, now, now + LASTS)
    _note(session, caller, "console entered", now)
    return token


def who(session: Session, token: str | None, now: datetime) -> Caller:
    """Return who speaks in a session.

    Raises
    ------
    Unauthenticated
        If there is none, it has run out, or its key holds no longer.
    ScopeMissing
        If its key is one to review no longer.
    """
    found = console_sessions.holder(session, token, now) if token is not None and _TOKEN.fullmatch(token) else None
    if found is None:
        raise Unauthenticated
    caller = speaks_for(found, now)
    caller.needs("review")
    return caller


def log_out(session: Session, token: str, caller: Caller, now: datetime) -> None:
    """End a session."""
    console_sessions.end(session, token)
    _note(session, caller, "console left", now)


def form_token(token: str) -> str:
    """Return what a form of this session must bring along; it tells nothing of the token it comes from."""
    return hmac.new(token.encode(), b"form of the console", hashlib.sha256).hexdigest()


def is_form_of(token: str, told: str) -> bool:
    """Say whether a form belongs to a session, in a time that does not depend on where they differ."""
    return hmac.compare_digest(form_token(token).encode(), told.encode())


def _note(session: Session, caller: Caller, action: str, now: datetime) -> None:
    audit.record(
        session, now, organisation_id=caller.organisation_id, actor=caller.actor, action=action, subject="console"
    )
