"""Feedback from the field: reports wait on the telephone until there is a signal, and none is stored twice.

python client.py note report.json
python client.py pair before.json after.json
python client.py list
python client.py send --url http://127.0.0.1:8000

Needs httpx. A report is a JSON object with the fields of POST /v1/feedback. The queue is a file of JSON
lines to which lines are only ever added: what was queued, what was sent, what came of it. A line that was
cut off by a dying battery is left out when the file is read.
"""

import argparse
import json
import os
import random
import sys
import time
import uuid
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Literal

import httpx

KEY_VARIABLE = "THRESHBOOK_KEY"
TRIES = 5
FIRST_WAIT_SECONDS = 1.0
LONGEST_WAIT_SECONDS = 60.0
# the service answers a key it knows for seven days; after that a second try could be stored a second time
KEY_LIVES = timedelta(days=6, hours=12)
TRY_AGAIN = frozenset({408, 409, 425, 429, 500, 502, 503, 504})
NO_ENTRY = frozenset({401, 403})
SAME_IN_A_PAIR = ("machine", "field", "crop", "machine_class", "session_group", "loss_method", "contributor")

State = Literal["waiting", "stored", "refused", "unsure"]
Report = Mapping[str, Any]


class PhoneError(Exception):
    """Something the person can mend; the text says what."""


class NoSignalError(Exception):
    """No answer now, everything stays in the queue; `arrived` says that the report may have got through."""

    def __init__(self, why: str, *, arrived: bool) -> None:
        self.arrived = arrived
        super().__init__(why)


@dataclass
class Entry:
    """A report in the queue, its key, and what became of it."""

    key: str
    report: Report
    state: State = "waiting"
    first_try: datetime | None = None
    told: str = ""


class Queue:
    """The file of JSON lines."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def entries(self) -> dict[str, Entry]:
        """Return every report by its key, oldest first."""
        found: dict[str, Entry] = {}
        for line in self._lines():
            key = line["key"]
            match line["event"]:
                case "queued":
                    found[key] = Entry(key, line["report"])
                case "tried" if found[key].first_try is None:
                    found[key].first_try = datetime.fromisoformat(line["at"])
                case "not_there":
                    found[key].first_try = None
                case "stored" | "refused" | "unsure":
                    found[key].state, found[key].told = line["event"], line["told"]
        return found

    def _lines(self) -> Iterator[dict[str, Any]]:
        if not self.path.exists():
            return
        lines = self.path.read_bytes().split(b"\n")
        for number, line in enumerate(lines, 1):
            try:
                if line:
                    yield json.loads(line)
            except ValueError:
                if number == len(lines):  # not ended by a line feed: cut off while it was written
                    return
                raise PhoneError(f"{self.path}, line {number}, cannot be read; nothing was sent") from None

    def add(self, *lines: Mapping[str, Any]) -> None:
        """Add lines, and wait until they are on the disk."""
        text = "".join(json.dumps({**line, "at": _now().isoformat()}, ensure_ascii=False) + "\n" for line in lines)
        self.path.parent.mkdir(parents=True, exist_ok=True)
        with self.path.open("a+b") as file:
            size = file.seek(0, os.SEEK_END)
            file.seek(max(0, size - 1))
            if size and file.read(1) != b"\n":
                self._cut(file)
            file.write(text.encode())
            file.flush()
            os.fsync(file.fileno())

    @staticmethod
    def _cut(file: Any) -> None:
        """Drop a last line that was never ended."""
        file.seek(0)
        whole = file.read()
        file.truncate(whole.rfind(b"\n") + 1)
        file.seek(0, os.SEEK_END)

    def queue(self, *reports: Report) -> list[str]:
        """Queue reports, each under a key that it keeps over every try; all of them or none."""
        keys = [str(uuid.uuid4()) for _ in reports]
        self.add(*({"event": "queued", "key": key, "report": one} for key, one in zip(keys, reports, strict=True)))
        return keys


def _now() -> datetime:
    return datetime.now(UTC)


def read_report(path: Path) -> dict[str, Any]:
    """Read a report."""
    try:
        report = json.loads(path.read_text(encoding="utf-8"))
    except ValueError as error:
        raise PhoneError(f"{path}: {error}") from None
    if not isinstance(report, dict) or "machine" not in report:
        raise PhoneError(f"{path}: a report is an object with `observed_at`, `machine` and what was found")
    if not _is_moment(str(report.get("observed_at"))):
        raise PhoneError(f"{path}: `observed_at` is a time with the offset of the place, 2026-07-30T15:05:00+02:00")
    return report


def _is_moment(written: str) -> bool:
    try:
        return datetime.fromisoformat(written).tzinfo is not None
    except ValueError:
        return False


def pair_of(before: Report, after: Report) -> tuple[Report, Report]:
    """Return both sides of a paired test, the second marked as such.

    Same machine, field, day and way of measuring, and one setting apart: then all else cancels.
    """
    for name in SAME_IN_A_PAIR:
        if before.get(name) != after.get(name):
            raise PhoneError(f"no pair: `{name}` is {before.get(name)!r} and {after.get(name)!r}")
    days = [datetime.fromisoformat(one["observed_at"]) for one in (before, after)]
    if days[0].date() != days[1].date() or not days[0] < days[1]:
        raise PhoneError("no pair: the second report is of the same day and later than the first")
    changed = _changed(before, after)
    if len(changed) != 1:
        raise PhoneError(f"no pair: one setting has to differ, here {len(changed)} do: {', '.join(changed) or 'none'}")
    measured = [name for name in ("machine_loss_", "broken_pct", "foreign_matter_pct", "frames") if _has(before, name)]
    if not measured or any(not _has(after, name) for name in measured):
        raise PhoneError("no pair: measure the same things on both sides")
    return before, {**after, "trial_arm": "step_test"}


def _changed(before: Report, after: Report) -> list[str]:
    """Settings that differ; one that the second report leaves out stands as before."""
    try:
        first, second = (
            {one["setting"]: (one["value"], one.get("unit")) for one in report.get("settings_used", [])}
            for report in (before, after)
        )
    except (AttributeError, KeyError, TypeError):
        raise PhoneError("`settings_used` is a list of objects with `setting`, `value` and `unit`") from None
    for name in second.keys() - first.keys():
        raise PhoneError(f"no pair: the first report does not say where {name} stood")
    return [name for name, value in second.items() if first[name] != value]


def _has(report: Report, name: str) -> bool:
    return any(field.startswith(name) for field in report)


class Sender:
    """Sends what waits, one report after the other, each until it is acknowledged."""

    def __init__(self, client: httpx.Client, queue: Queue, wait: Callable[[float], None] = time.sleep) -> None:
        self.client, self.queue, self.wait = client, queue, wait

    def send(self) -> Iterator[Entry]:
        """Yield each report once it is settled.

        In the order they were queued: a later report of a day says only what changed. Raises NoSignalError
        when the service stays away; the rest then waits for another time.
        """
        for entry in self.queue.entries().values():
            if entry.state == "waiting":
                entry.state, entry.told = self._settle(entry)
                self.queue.add({"event": entry.state, "key": entry.key, "told": entry.told})
                yield entry

    def _settle(self, entry: Entry) -> tuple[State, str]:
        if entry.first_try is not None and _now() - entry.first_try > KEY_LIVES:
            return "unsure", "sent days ago, never answered; look it up at the service, note it anew if it is not there"
        fresh = entry.first_try is None
        if fresh:
            self.queue.add({"event": "tried", "key": entry.key})
        try:
            answer = self._answer(entry)
        except NoSignalError as away:
            if fresh and not away.arrived:
                self.queue.add({"event": "not_there", "key": entry.key})
            raise
        body = _json(answer)
        if answer.status_code == httpx.codes.CREATED and body is not None:
            return "stored", " ".join([body["say"]["text"], *(note["text"] for note in body["notes"])])
        if answer.status_code in NO_ENTRY:
            if fresh:
                self.queue.add({"event": "not_there", "key": entry.key})
            raise PhoneError(f"the key is not taken: {_reason(body, answer)}")
        return "refused", _reason(body, answer)

    def _answer(self, entry: Entry) -> httpx.Response:
        """Ask until there is an answer that will not change by asking again."""
        headers = {"Idempotency-Key": f'"{entry.key}"'}
        why, arrived = "", False
        for attempt in range(TRIES):
            pause = min(LONGEST_WAIT_SECONDS, FIRST_WAIT_SECONDS * 2**attempt) * random.uniform(0.5, 1)
            try:
                answer = self.client.post("/v1/feedback", json=dict(entry.report), headers=headers)
            except httpx.TransportError as error:
                why = str(error) or type(error).__name__
                arrived = arrived or not isinstance(error, httpx.ConnectError | httpx.ConnectTimeout)
            else:
                if answer.status_code not in TRY_AGAIN:
                    return answer
                why, arrived = _reason(_json(answer), answer), True
                asked = answer.headers.get("retry-after", "")
                pause = max(pause, float(asked)) if asked.isdecimal() else pause
            if attempt < TRIES - 1:
                self.wait(min(pause, LONGEST_WAIT_SECONDS))
        raise NoSignalError(why, arrived=arrived)


def _json(answer: httpx.Response) -> dict[str, Any] | None:
    """Return the body, None where something between here and the service answered in its stead."""
    try:
        body = answer.json()
    except ValueError:
        return None
    return body if isinstance(body, dict) else None


def _reason(body: Mapping[str, Any] | None, answer: httpx.Response) -> str:
    return str(body["detail"]) if body and "detail" in body else f"status {answer.status_code}"


def _title(report: Report) -> str:
    parts = (report.get("machine"), report.get("field"), report["observed_at"])
    return ", ".join(str(part) for part in parts if part is not None)


def note(queue: Queue, paths: list[Path]) -> int:
    """Queue single reports."""
    keys = queue.queue(*(read_report(path) for path in paths))
    print(f"{len(keys)} queued. Still there? Change one setting, measure again today and queue both as a pair.")
    return 0


def pair(queue: Queue, before: Path, after: Path) -> int:
    """Queue a paired test."""
    sides = pair_of(read_report(before), read_report(after))
    (changed,) = _changed(*sides)
    queue.queue(*sides)
    print(f"Pair queued: {changed} apart, everything else the same. That is what the table learns most from.")
    return 0


def show(queue: Queue) -> int:
    """Print the queue."""
    for entry in queue.entries().values():
        print(f"{entry.state:8} {_title(entry.report)}{': ' + entry.told if entry.told else ''}")
    return 0


def send(queue: Queue, url: str, lang: str) -> int:
    """Send what waits; 0 when nothing is left to do, 1 when something still waits or needs a look."""
    key = os.environ.get(KEY_VARIABLE, "")
    if not key:
        raise PhoneError(f"put the key of the contributor into {KEY_VARIABLE}")
    settled: list[Entry] = []
    headers = {"Authorization": f"Bearer {key}", "Accept-Language": lang}
    with httpx.Client(base_url=url, headers=headers, timeout=20, trust_env=False) as client:
        try:
            for entry in Sender(client, queue).send():
                settled.append(entry)
                print(f"{entry.state:8} {_title(entry.report)}: {entry.told}")
        except NoSignalError as away:
            waiting = sum(entry.state == "waiting" for entry in queue.entries().values())
            print(f"No signal ({away}); {waiting} still waiting.")
            return 1
    print(f"{sum(entry.state == 'stored' for entry in settled)} of {len(settled)} stored, nothing is waiting.")
    return 0 if all(entry.state == "stored" for entry in settled) else 1


def main() -> int:
    """Read the command line; every expected failure is told in words."""
    parser = argparse.ArgumentParser(description="Reports from the field that wait for a signal.")
    parser.add_argument("--queue", type=Path, default=Path("queue.jsonl"), help="file of the queue")
    commands = parser.add_subparsers(dest="command", required=True)
    single = commands.add_parser("note", help="queue reports")
    single.add_argument("report", type=Path, nargs="+", help="JSON file")
    both = commands.add_parser("pair", help="queue both sides of a change of one setting")
    both.add_argument("before", type=Path, help="JSON file")
    both.add_argument("after", type=Path, help="JSON file")
    commands.add_parser("list", help="show the queue")
    sending = commands.add_parser("send", help="send what waits")
    sending.add_argument("--url", default="http://127.0.0.1:8000", help="address of the service")
    sending.add_argument("--lang", default="en", help="language of the answers")
    told = parser.parse_args()
    queue = Queue(told.queue)
    try:
        match told.command:
            case "note":
                return note(queue, told.report)
            case "pair":
                return pair(queue, told.before, told.after)
            case "send":
                return send(queue, told.url, told.lang)
            case _:
                return show(queue)
    except (PhoneError, OSError) as error:
        print(f"field phone: {error}", file=sys.stderr)
        return 1


if __name__ == "__main__":
    sys.exit(main())
