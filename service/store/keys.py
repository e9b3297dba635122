"""API keys as text: making one, taking one apart, comparing secrets.

Inside: form and digest. Outside: whose key it is and what it may do (`organisations`, `usecases.access`).

A secret has 256 random bits, so that one round of SHA-256 protects it: there is no list of likely
secrets that a slow hash would have to hold off.
"""

import hashlib
import hmac
import re
import secrets
from base64 import b32encode
from dataclasses import dataclass
from typing import Final

SECRET_BYTES: Final = 32
_FORM: Final = re.compile(r"tbk_([a-z2-7]{8})_[a-z2-7]{52}")
_NOBODY: Final = hashlib.sha256(b"").digest()


@dataclass(frozen=True, slots=True)
class NewKey:
    """A key at the only moment at which it is known whole."""

    text: str
    prefix: str
    digest: bytes


def make_key() -> NewKey:
    """Return a key that nobody else has."""
    prefix, secret = _letters(5), _letters(SECRET_BYTES)
    text = f"tbk_{prefix}_{secret}"
    return NewKey(text, prefix, digest(text))


def _letters(count: int) -> str:
    return b32encode(secrets.token_bytes(count)).decode().rstrip("=").lower()


def prefix_of(text: str) -> str | None:
    """Return the part that a key is looked up by, None for what is no key."""
    found = _FORM.fullmatch(text)
    return found[1] if found else None


def digest(text: str) -> bytes:
    """Return what is kept of a key."""
    return hashlib.sha256(text.encode()).digest()


def is_key(text: str, kept: bytes | None) -> bool:
    """Compare a key with what was kept, in a time that does not tell how far they agree.

    Without anything kept the comparison is made all the same: an unknown prefix takes as long as a
    wrong secret.
    """
    same = hmac.compare_digest(digest(text), kept or _NOBODY)
    return same and kept is not None
