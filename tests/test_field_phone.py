"""The telephone client: run as its README says, and through every way that a signal can fail."""

import importlib.util
import json
import os
import re
import shlex
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from types import ModuleType
from typing import Any

import httpx
import pytest

from tests.conftest import ROOT, free_port, running_service
from tests.coop import Coop, embedded_coop

FOLDER = ROOT / "demo_clients" / "field_phone"
REPORTS = {path.stem: path for path in sorted((FOLDER / "example_reports").iterdir())}
Done = subprocess.CompletedProcess[str]


@pytest.fixture(scope="module")
def coop() -> Coop:
    return embedded_coop()


@pytest.fixture(scope="module")
def url(coop: Coop) -> Iterator[str]:
    with running_service(database=str(coop.store.engine.url)) as address:
        yield address


@pytest.fixture(scope="module")
def phone() -> ModuleType:
    spec = importlib.util.spec_from_file_location("field_phone_client", FOLDER / "client.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # its dataclasses look themselves up
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def queue(phone: ModuleType, tmp_path: Path) -> Any:
    return phone.Queue(tmp_path / "queue.jsonl")


def report(name: str, **changed: Any) -> dict[str, Any]:
    return json.loads(REPORTS[name].read_text(encoding="utf-8")) | changed


def ran(queue: Path, *words: str, key: str | None = None) -> Done:
    environment = {name: value for name, value in os.environ.items() if not name.startswith("THRESHBOOK_")}
    if key is not None:
        environment["THRESHBOOK_KEY"] = key
    command = [sys.executable, str(FOLDER / "client.py"), "--queue", str(queue), *words]
    return subprocess.run(
        command, capture_output=True, text=True, encoding="utf-8", env=environment, check=False, timeout=90
    )


def stored(url: str, key: str) -> list[dict[str, Any]]:
    answer = httpx.get(f"{url}/v1/feedback", headers={"Authorization": f"Bearer {key}"}, trust_env=False)
    items: list[dict[str, Any]] = answer.raise_for_status().json()["items"]
    return items


def sending(
    phone: ModuleType, queue: Any, handler: Callable[[httpx.Request], httpx.Response], waits: list[float] | None = None
) -> Any:
    client = httpx.Client(base_url="http://service.test", transport=httpx.MockTransport(handler))
    return phone.Sender(client, queue, wait=(waits if waits is not None else []).append)


def passed_on(url: str, coop: Coop) -> Callable[[httpx.Request], httpx.Response]:
    """Hand a request on to the service."""

    def hand_on(request: httpx.Request) -> httpx.Response:
        headers = {name: request.headers[name] for name in ("idempotency-key", "content-type")}
        headers["Authorization"] = f"Bearer {coop.neighbour}"
        answer = httpx.post(url + request.url.path, content=request.content, headers=headers, trust_env=False)
        return httpx.Response(answer.status_code, content=answer.content, headers={"content-type": "application/json"})

    return hand_on


def states(queue: Any) -> list[str]:
    return [entry.state for entry in queue.entries().values()]


def test_the_commands_of_the_readme_store_a_single_report_and_a_pair(url: str, coop: Coop, tmp_path: Path) -> None:
    (block,) = re.findall(r"```sh\n(.+?)\n```", (FOLDER / "README.md").read_text(encoding="utf-8"), re.DOTALL)
    said, before = [], {one["id"] for one in stored(url, coop.farm)}
    for line in block.splitlines():
        words = shlex.split(line)
        assert words[:4] == ["python", "demo_clients/field_phone/client.py", "--queue", "queue.jsonl"]
        more = [url if word == "http://127.0.0.1:8000" else word for word in words[4:]]
        more = [str(ROOT / word) if word.endswith(".json") else word for word in more]
        done = ran(tmp_path / "queue.jsonl", *more, key=coop.farm)
        assert (done.returncode, done.stderr) == (0, ""), done.stdout
        said.append(done.stdout)
    assert "measure again today" in said[0]
    assert "threshing_speed apart" in said[1]
    assert said[2].endswith("3 of 3 stored, nothing is waiting.\n")
    assert "one day teach the table most" in said[2]
    assert [line.split()[0] for line in said[3].splitlines()] == ["stored"] * 3
    records = [one for one in stored(url, coop.farm) if one["id"] not in before]
    assert sorted(record.get("trial_arm", "") for record in records) == ["", "", "step_test"]
    # sent months after they were seen, and still of their own day
    pair = [record["session"] for record in records if record["crop"]["id"] == "wheat"]
    assert len(pair) == 2
    assert len(set(pair)) == 1
    again = ran(tmp_path / "queue.jsonl", "send", "--url", url, key=coop.farm)
    assert again.stdout == "0 of 0 stored, nothing is waiting.\n"
    assert len(stored(url, coop.farm)) == len(before) + 3


def test_an_answer_that_is_lost_on_the_way_does_not_double_the_report(
    phone: ModuleType, queue: Any, url: str, coop: Coop
) -> None:
    """The record was committed, its answer never came: the next try gets the same answer."""
    hand_on, lost = passed_on(url, coop), []

    def handler(request: httpx.Request) -> httpx.Response:
        answer = hand_on(request)
        if len(lost) < 2:
            lost.append(request.headers["idempotency-key"])
            raise httpx.ReadTimeout("no answer", request=request)
        return answer

    before = len(stored(url, coop.neighbour))
    queue.queue(report("single"), report("before"))
    assert [entry.state for entry in sending(phone, queue, handler).send()] == ["stored", "stored"]
    assert len(set(lost)) == 1
    assert len(stored(url, coop.neighbour)) == before + 2


def test_without_a_signal_everything_waits_and_is_sent_another_day(
    phone: ModuleType, queue: Any, url: str, coop: Coop, monkeypatch: pytest.MonkeyPatch
) -> None:
    waits: list[float] = []

    def no_signal(request: httpx.Request) -> httpx.Response:
        raise httpx.ConnectError("no route", request=request)

    queue.queue(report("before"), report("after"))
    with pytest.raises(phone.NoSignalError):
        list(sending(phone, queue, no_signal, waits).send())
    assert states(queue) == ["waiting", "waiting"]
    assert len(waits) == phone.TRIES - 1
    assert all(one <= phone.LONGEST_WAIT_SECONDS for one in waits)
    assert waits[-1] > waits[0]
    # a fortnight later: it never got through, so that there is no doubt
    now = phone._now()
    monkeypatch.setattr(phone, "_now", lambda: now + timedelta(days=14))
    assert [entry.state for entry in sending(phone, queue, passed_on(url, coop)).send()] == ["stored", "stored"]


def test_a_service_that_is_not_there_is_told_in_words(tmp_path: Path) -> None:
    path = tmp_path / "queue.jsonl"
    ran(path, "note", str(REPORTS["single"]))
    # the pauses between tries are not waited for
    script = (
        "import runpy, sys, time; time.sleep = lambda seconds: None; "
        f"runpy.run_path({str(FOLDER / 'client.py')!r}, run_name='__main__')"
    )
    words = ["--queue", str(path), "send", "--url", f"http://127.0.0.1:{free_port()}"]
    done = subprocess.run(
        [sys.executable, "-c", script, *words],
        capture_output=True,
        text=True,
        env=os.environ | {"THRESHBOOK_KEY": "tbk_none"},
        check=False,
        timeout=60,
    )
    assert (done.returncode, done.stderr) == (1, "")
    assert re.fullmatch(r"No signal \(.+\); 1 still waiting\.\n", done.stdout)


def test_a_try_that_may_have_arrived_is_not_made_again_after_the_key_is_forgotten(
    phone: ModuleType, queue: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []

    def cut_off(request: httpx.Request) -> httpx.Response:
        asked.append(request.headers["idempotency-key"])
        raise httpx.ReadError("cut off", request=request)

    queue.queue(report("single"))
    with pytest.raises(phone.NoSignalError):
        list(sending(phone, queue, cut_off).send())
    tries, now = len(asked), phone._now()
    monkeypatch.setattr(phone, "_now", lambda: now + timedelta(days=6))
    with pytest.raises(phone.NoSignalError):
        list(sending(phone, queue, cut_off).send())
    assert len(asked) == 2 * tries
    monkeypatch.setattr(phone, "_now", lambda: now + timedelta(days=8))
    (entry,) = sending(phone, queue, cut_off).send()
    assert (entry.state, len(asked)) == ("unsure", 2 * tries)
    assert states(queue) == ["unsure"]


def test_a_busy_service_is_given_the_time_it_asks_for(phone: ModuleType, queue: Any, url: str, coop: Coop) -> None:
    answers = [httpx.Response(503, headers={"Retry-After": "17"}), httpx.Response(502, text="<html>gateway</html>")]
    hand_on, waits = passed_on(url, coop), []
    queue.queue(report("single"))
    sender = sending(phone, queue, lambda request: answers.pop(0) if answers else hand_on(request), waits)
    assert [entry.state for entry in sender.send()] == ["stored"]
    assert waits[0] == 17
    assert 0 < waits[1] < 17


def test_a_refused_report_is_kept_with_its_reason_and_the_next_goes_on(url: str, coop: Coop, tmp_path: Path) -> None:
    wrong, path = tmp_path / "wrong.json", tmp_path / "queue.jsonl"
    wrong.write_text(json.dumps(report("single", crop="whaet")), encoding="utf-8")
    ran(path, "note", str(wrong), str(REPORTS["single"]))
    done = ran(path, "send", "--url", url, key=coop.farm)
    assert done.returncode == 1
    assert [line.split()[0] for line in done.stdout.splitlines()] == ["refused", "stored", "1"]
    assert "Did you mean wheat" in ran(path, "list").stdout


@pytest.mark.parametrize("key", ["tbk_wrong", None])
def test_a_key_that_is_not_taken_stops_and_nothing_is_lost(
    key: str | None, url: str, coop: Coop, tmp_path: Path
) -> None:
    path = tmp_path / "queue.jsonl"
    ran(path, "note", str(REPORTS["single"]))
    done = ran(path, "send", "--url", url, key=key)
    assert done.returncode == 1
    assert done.stderr.startswith("field phone: ")
    assert "Traceback" not in done.stderr
    assert ran(path, "send", "--url", url, key=coop.farm).returncode == 0


def test_a_line_that_was_cut_off_is_dropped_and_the_rest_stays(phone: ModuleType, queue: Any) -> None:
    (first,) = queue.queue(report("single"))
    whole = queue.path.read_bytes()
    queue.queue(report("before"))
    cut = queue.path.read_bytes()[: len(whole) + 40]
    queue.path.write_bytes(cut)
    assert list(queue.entries()) == [first]
    (third,) = queue.queue(report("after"))
    assert list(queue.entries()) == [first, third]
    queue.path.write_bytes(whole[:40] + b"\n" + whole)
    with pytest.raises(phone.PhoneError, match="line 1"):
        queue.entries()


@pytest.mark.parametrize(
    ("before", "after", "told"),
    [
        ({}, {"field": "another"}, "`field` is"),
        ({}, {"loss_method": "estimate"}, "`loss_method` is"),
        ({}, {"observed_at": "2026-07-31T15:40:00+02:00"}, "of the same day"),
        ({}, {"observed_at": "2026-07-30T15:00:00+02:00"}, "later than the first"),
        ({}, {"settings_used": []}, "here 0 do"),
        (
            {},
            {
                "settings_used": [
                    {"setting": "threshing_speed", "value": 24},
                    {"setting": "lower_sieve_opening", "value": 9},
                ]
            },
            "here 2 do: threshing_speed, lower_sieve_opening",
        ),
        ({"settings_used": []}, {}, "does not say where threshing_speed stood"),
        ({}, {"settings_used": [{"setting": "threshing_speed"}]}, "is a list of objects"),
        ({"foreign_matter_pct": 0.4}, {}, "measure the same things"),
    ],
)
def test_what_is_no_pair_is_not_queued_as_one(
    before: dict[str, Any], after: dict[str, Any], told: str, tmp_path: Path
) -> None:
    paths = []
    for name, changed in (("before", before), ("after", after)):
        paths.append(tmp_path / f"{name}.json")
        paths[-1].write_text(json.dumps(report(name, **changed)), encoding="utf-8")
    done = ran(tmp_path / "queue.jsonl", "pair", *map(str, paths))
    assert done.returncode == 1
    assert told in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "queue.jsonl").exists()


@pytest.mark.parametrize("content", ["{", "[]", "{}", '{"machine": "a", "observed_at": "2026-07-30"}'])
def test_a_file_that_is_no_report_is_told(content: str, tmp_path: Path) -> None:
    path = tmp_path / "report.json"
    path.write_text(content, encoding="utf-8")
    done = ran(tmp_path / "queue.jsonl", "note", str(path))
    assert done.returncode == 1
    assert done.stderr.startswith(f"field phone: {path}: ")
    assert not (tmp_path / "queue.jsonl").exists()


def test_reports_are_marked_as_invented() -> None:
    assert len(REPORTS) == 3
    assert all("(invented)" in report(name)["machine"] and "(invented)" in report(name)["field"] for name in REPORTS)
