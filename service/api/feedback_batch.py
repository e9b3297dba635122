"""A batch of reports: each judged alone, all that are right stored in one transaction.

Inside: the order of the work and what became of each report. Outside: a single report (`usecases.feedback`).
"""

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from fastapi import Request
from pydantic import ValidationError

from service.api.access import store_of
from service.api.present_feedback import present_receipt
from service.api.problems import Problem, of_field_checks, of_service_error
from service.api.questions_feedback import feedback_question, fingerprint
from service.api.reader import Reader
from service.api.requests_feedback import FeedbackItemRequest
from service.errors import InvalidInput, KeyReused, NotCovered, ServiceError
from service.usecases.access import Caller
from service.usecases.feedback import accept, answered, same_request
from service.usecases.feedback_reading import read_feedback
from service.usecases.feedback_types import Entry, Submission

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
        ready: dict[int, Entry] = {}
        for place, request in requests.items():
            with _Judged(self, place):
                if sent[place].key in earlier:
                    self.done[place] = same_request(earlier[sent[place].key], sent[place])
                else:
                    ready[place] = read_feedback(self.reader.table, feedback_question(self.http, request), now)
        if ready:
            self._accept(ready, sent, now)

    def _read(self, place: int, item: Any) -> FeedbackItemRequest | None:
        if isinstance(item, dict) and isinstance(key := item.get("idempotency_key"), str) and len(key) <= 36:
            self.keys[place] = key
        try:
            return FeedbackItemRequest.model_validate(item)
        except ValidationError as error:
            found = error.errors(include_url=False)
            errors = [{**one, "loc": ("body", "items", place, *one["loc"])} for one in found]
            self.done[place] = of_field_checks(self.http, errors)
            return None

    def _accept(self, ready: dict[int, Entry], sent: dict[int, Submission], now: datetime) -> None:
        with store_of(self.http).writing() as session:
            # by key: two batches with the same reports in another order would wait for each other
            for place in sorted(ready, key=lambda place: (sent[place].key, place)):
                with _Judged(self, place):
                    self.done[place] = accept(
                        session,
                        self.caller,
                        ready[place],
                        sent[place],
                        now,
                        lambda receipt: present_receipt(receipt, self.reader).model_dump_json(exclude_none=True),
                    )

    def results(self) -> Iterator[dict[str, Any]]:
        """Yield what became of each report, in the order they came in."""
        for place in sorted(self.done):
            found = self.done[place]
            key = {"idempotency_key": self.keys[place]} if place in self.keys else {}
            if isinstance(found, Problem):
                yield {**key, "status": found.status, "problem": found.model_dump(exclude_none=True)}
            else:
                yield {**key, "status": 201, "feedback": json.loads(found)}


@dataclass(slots=True)
class _Judged:
    """Makes a refusal of one report the problem of that report, with pointers into the batch."""

    batch: Batch
    place: int

    def __enter__(self) -> None:
        pass

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, _: object) -> bool:
        if not isinstance(error, ServiceError) or not isinstance(error, _OF_ONE):
            return False
        self.batch.done[self.place] = of_service_error(self.batch.http, error, f"/items/{self.place}")
        return True
