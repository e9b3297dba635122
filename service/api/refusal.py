"""A refusal that the HTTP layer itself decides on, before any use case is asked."""

from collections.abc import Mapping

Location = tuple[str | int, ...]


class RefusalError(Exception):
    """A problem code of `problems.STATUS`, facts for its text, headers, and where in the request it lies.

    `location` begins with `body`, `query` or `path`, as FastAPI writes it; empty means the request as
    a whole.
    """

    def __init__(
        self,
        code: str,
        facts: Mapping[str, object] | None = None,
        location: Location = (),
        headers: Mapping[str, str] | None = None,
    ) -> None:
        self.code = code
        self.facts = dict(facts or {})
        self.location = location
        self.headers = dict(headers or {})
        super().__init__(code)
