"""Who asks, and under which key a request is done once: the dependencies of routes that use the store.

Inside: headers to a caller and an idempotency key, both looked up in one transaction. Outside: proving a
key (`usecases.access`), answers by idempotency key (`usecases.feedback`).
"""

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Annotated, Final
from uuid import UUID

from fastapi import Depends, Request, Security
from fastapi.security import HTTPAuthorizationCredentials, HTTPBearer

from service.api.refusal import RefusalError
from service.errors import Unauthenticated
from service.store import Store
from service.store.idempotency import Stored
from service.store.keys import prefix_of
from service.usecases.access import Caller, authenticate
from service.usecases.feedback import answered

_SCHEME: Final = HTTPBearer(
    auto_error=False,
    scheme_name="key",
    bearerFormat="tbk_...",
    description="Key of a contributor or an organisation, made by `threshbook org`. Advice needs none.",
)
# a quoted string of structured fields (RFC 9651); many clients leave the quotes out
_UUID: Final = re.compile(r'("?)([0-9a-fA-F]{8}(?:-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12})\1')

Credentials = Annotated[HTTPAuthorizationCredentials | None, Security(_SCHEME)]


@dataclass(frozen=True, slots=True)
class Sending:
    """A contributor's request under its key, and the answer it got if it came before."""

    caller: Caller
    key: UUID
    earlier: Stored | None


def store_of(request: Request) -> Store:
    """Return the store of the application."""
    store: Store = request.app.state.store
    return store


def _key_text(credentials: Credentials) -> str:
    """Return what may be a key; what cannot be one is refused without asking the store."""
    if credentials is None or prefix_of(credentials.credentials) is None:
        raise Unauthenticated
    return credentials.credentials


def _caller(request: Request, key_text: Annotated[str, Depends(_key_text)]) -> Caller:
    with store_of(request).reading() as session:
        return authenticate(session, key_text, datetime.now(UTC))


def _sending(request: Request, key_text: Annotated[str, Depends(_key_text)]) -> Sending:
    now = datetime.now(UTC)
    with store_of(request).reading() as session:
        caller = authenticate(session, key_text, now)
        caller.needs("contribute")
        key = idempotency_key(request)
        return Sending(caller, key, answered(session, caller, [key], now).get(key))


def idempotency_key(request: Request) -> UUID:
    """Return the key of a request.

    Raises
    ------
    RefusalError
        If it is missing, no UUID, or given twice.
    """
    given = request.headers.getlist("idempotency-key")
    if not given:
        raise RefusalError("idempotency_key_missing")
    found = _UUID.fullmatch(given[0].strip())
    if len(given) > 1 or found is None:
        raise RefusalError("idempotency_key_malformed")
    return UUID(found[2])


AnyCaller = Annotated[Caller, Depends(_caller)]
AnySending = Annotated[Sending, Depends(_sending)]
