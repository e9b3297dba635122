"""Every refusal of the service. No HTTP here: `api/problems.py` maps a class to a status.

ServiceError
├── InvalidInput            the request says something that cannot be
│   ├── OutOfRange          a number outside what is allowed
│   ├── UnknownName         a name that is not in a list; carries the nearest ones
│   ├── Contradiction       two statements that exclude each other
│   └── OutsideWindow       grain too dry or too wet to combine
├── NotCovered              the knowledge table has nothing for this combination, and says why
├── KnowledgeFault          the knowledge files themselves are wrong (file, row, key)
├── Unauthenticated         no key, or none that holds
├── ScopeMissing            the key holds, but not for this
├── NotFound                nothing is called so, for this caller
├── Withdrawn               it was there, and its contributor took it back
├── KeyReused               an idempotency key came again with another request
├── KeyInUse                a request with the same idempotency key is being answered
├── Stale                   it was changed by someone else since it was looked at
├── Closed                  the draft was published, or another one before it; nothing can be decided any more
└── StoreUnavailable        the store cannot be reached, or not be used as it is; says why
    └── StoreMissing        nobody has set up a store
"""

from collections.abc import Sequence
from difflib import get_close_matches
from typing import ClassVar


class ServiceError(Exception):
    """Base of every refusal: a stable code, the field it is about, and facts for the text."""

    code: ClassVar[str] = "service_error"

    def __init__(self, field: str = "", **facts: object) -> None:
        self.field = field
        self.facts = facts
        super().__init__(f"{self.code}: {field} {facts}")


class InvalidInput(ServiceError):
    """The request says something that cannot be; `reason` is a message code."""

    code = "invalid_input"


class OutOfRange(InvalidInput):
    """A number outside its range. `low` and `high` are inclusive; either may be None."""

    code = "out_of_range"

    def __init__(
        self,
        field: str,
        value: object,
        low: float | None = None,
        high: float | None = None,
        unit: str = "",
        reason: str = "",
    ) -> None:
        super().__init__(field, value=value, low=low, high=high, unit=unit, reason=reason)


class UnknownName(InvalidInput):
    """A name that is not in its list; `nearest` are the likely intended ones."""

    code = "unknown_name"

    def __init__(self, field: str, given: str, allowed: Sequence[str], candidates: Sequence[str] | None = None) -> None:
        near = get_close_matches(given.lower(), list(candidates or allowed), n=3, cutoff=0.6)
        super().__init__(field, given=given, nearest=near, allowed=list(allowed))


class Contradiction(InvalidInput):
    """Two statements that exclude each other; `reason` is a message code, `fields` all involved."""

    code = "contradiction"

    def __init__(self, fields: Sequence[str], reason: str, **facts: object) -> None:
        super().__init__(fields[0], fields=list(fields), reason=reason, **facts)


class OutsideWindow(InvalidInput):
    """Grain too dry or too wet to combine; `side` is `dry` or `wet`."""

    code = "outside_window"

    def __init__(self, field: str, value: float, low: float, high: float, side: str, crop: str) -> None:
        super().__init__(field, value=value, low=low, high=high, side=side, crop=crop, unit="%")


class NotCovered(ServiceError):
    """The table has nothing for this combination; `why` is the table's own reason, a text or one per language."""

    code = "not_covered"

    def __init__(self, field: str, task: str, crop: str, why: object) -> None:
        super().__init__(field, task=task, crop=crop, why=why)


class KnowledgeFault(ServiceError):
    """The knowledge files are wrong; lists every fault with file, row and key."""

    code = "knowledge_fault"

    def __init__(self, faults: Sequence[str]) -> None:
        self.faults = list(faults)
        super().__init__("knowledge", faults=self.faults)


class Unauthenticated(ServiceError):
    """No key, or one that is unknown, expired or revoked; which of these is not told."""

    code = "unauthenticated"


class ScopeMissing(ServiceError):
    """The key holds, but lacks the scope that this needs."""

    code = "scope_missing"

    def __init__(self, scope: str) -> None:
        super().__init__("", scope=scope)


class NotFound(ServiceError):
    """Nothing is called so, or it belongs to someone else: the two are not told apart."""

    code = "not_found"


class Withdrawn(ServiceError):
    """It was there, and was taken back."""

    code = "withdrawn"


class KeyReused(ServiceError):
    """An idempotency key came again with another request."""

    code = "idempotency_key_reused"


class KeyInUse(ServiceError):
    """A request with the same idempotency key is being answered at this moment."""

    code = "idempotency_key_in_use"


class Stale(ServiceError):
    """It was changed by someone else since the caller looked at it."""

    code = "precondition_failed"


class Closed(ServiceError):
    """The draft was published; or the table or its base has changed since the draft was made."""

    code = "refinement_closed"


class StoreUnavailable(ServiceError):
    """The store cannot be used now; `why` is for the log and the command line, never for an answer."""

    code = "store_unavailable"

    def __init__(self, why: str) -> None:
        super().__init__("", why=why)


class StoreMissing(StoreUnavailable):
    """Nobody has set up a store on this installation."""

    code = "store_missing"
