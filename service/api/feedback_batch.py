"""A batch of reports: each judged alone, all that are right stored in one transaction.

Inside: the order of the work and what became of each report. Outside: a single report (`usecases.feedback`).
"""

import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from fastapi import Request
from pydantic import ValidationError

from service.api.access import store_of
from service.api.present_feedback import writer
from service.api.problems import Problem, of_field_checks, of_service_error
from service.api.questions_feedback import feedback_question, fingerprint
from service.api.reader import Reader
from service.api.requests_feedback import UUID_FORM, FeedbackItemRequest
from service.errors import InvalidInput, KeyReused, NotCovered, ServiceError
from service.usecases.access import Caller
from service.usecases.feedback import accept, answered, same_request
from service.usecases.feedback_reading import read_feedback
from service.usecases.feedback_types import Report, Submission

# what is the fault of one report; anything else refuses the batch as a whole, with nothing stored
_OF_ONE = (InvalidInput, NotCovered, KeyReused)


@dataclass(slots=True)
class Batch:
    """Reports on their way, and what became of those that are done."""

    http: Request
    reader: Reader
    caller: Caller
    done: dict[int, str | Problem] = field(default_factory=dict)
    keys: dict[int, str] = field(default_factory=dict)

    def store(self, items: Sequence[Any]) -> None:
        """Judge every report and store those that are right."""
        now = datetime.now(UTC)
        requests = {place: read for place, item in enumerate(items) if (read := self._read(place, item)) is not None}
        sent = {place: Submission(one.key, fingerprint(self.caller, one)) for place, one in requests.items()}
        with store_of(self.http).reading() as session:
            earlier = answered(session, self.caller, [one.key for one in sent.values()], now)
        ready: dict[int, Report] = {}
        for place, request in requests.items():
            try:
                if sent[place].key in earlier:
                    self.done[place] = same_request(earlier[sent[place].key], sent[place])
                else:
                    entry = read_feedback(self.reader.table, feedback_question(self.http, request), now)
                    ready[place] = Report(entry, sent[place])
            except _OF_ONE as refusal:
                self.done[place] = self._problem(place, refusal)
        if ready:
            self._accept(ready, now)

    def _read(self, place: int, item: Any) -> FeedbackItemRequest | None:
        key = item.get("idempotency_key") if isinstance(item, dict) else None
        if isinstance(key, str) and re.fullmatch(UUID_FORM, key):
            self.keys[place] = key  # so that a refusal can be told apart; anything else is not repeated
        try:
            return FeedbackItemRequest.model_validate(item)
        except ValidationError as error:
            found = error.errors(include_url=False)
            errors = [{**one, "loc": ("body", "items", place, *one["loc"])} for one in found]
            self.done[place] = of_field_checks(self.http, errors)
            return None

    def _accept(self, ready: dict[int, Report], now: datetime) -> None:
        with store_of(self.http).writing() as session:
            found = accept(session, self.caller, list(ready.values()), now, writer(self.reader))
        for place, one in zip(ready, found, strict=True):
            self.done[place] = self._problem(place, one) if isinstance(one, ServiceError) else one

    def _problem(self, place: int, error: ServiceError) -> Problem:
        return of_service_error(self.http, error, f"/items/{place}")

    def results(self) -> Iterator[dict[str, Any]]:
        """Yield what became of each report, in the order they came in."""
        for place in sorted(self.done):
            found = self.done[place]
            key = {"idempotency_key": self.keys[place]} if place in self.keys else {}
            if isinstance(found, Problem):
                yield {**key, "status": found.status, "problem": found.model_dump(exclude_none=True)}
            else:
                yield {**key, "status": 201, "feedback": json.loads(found)}
