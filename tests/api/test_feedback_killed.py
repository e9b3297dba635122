"""Workers are killed while telephones upload: nothing that was acknowledged is lost, nothing stands there twice."""

import random
import threading
import time
import uuid
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import httpx
import psutil
from sqlalchemy import text

from service.store import Store
from tests.conftest import started_service
from tests.coop import REPORT, make_coop

TELEPHONES = 4
KILLS = 4
SECONDS = 100.0


class Telephone:
    """Sends reports one after another, alone and in small batches, each until it is acknowledged."""

    def __init__(self, url: str, key: str, number: int, stop: threading.Event) -> None:
        self.client = httpx.Client(base_url=url, trust_env=False, timeout=20)
        self.headers = {"Authorization": f"Bearer {key}"}
        self.report = REPORT | {"machine": f"machine {number}"}
        self.stop = stop
        self.acknowledged: dict[str, str] = {}  # record by key
        self.interrupted = 0

    def run(self) -> None:
        with self.client:
            while not self.stop.is_set():
                self.one(str(uuid.uuid4()))
                self.some([str(uuid.uuid4()) for _ in range(3)])

    def until_answered(self, address: str, **more: Any) -> httpx.Response:
        until = time.monotonic() + SECONDS
        while True:
            try:
                answer = self.client.post(address, **more)
            except httpx.TransportError:
                self.interrupted += 1
            else:
                if answer.status_code < 500:
                    return answer
            assert time.monotonic() < until, "no answer any more"
            time.sleep(0.05)

    def one(self, key: str) -> None:
        sending = self.headers | {"Idempotency-Key": f'"{key}"'}
        answer = self.until_answered("/v1/feedback", json=self.report, headers=sending)
        assert answer.status_code == 201, answer.text
        self.acknowledged[key] = answer.json()["id"]

    def some(self, keys: list[str]) -> None:
        items = [self.report | {"idempotency_key": key} for key in keys]
        answer = self.until_answered("/v1/feedback/batch", json={"items": items}, headers=self.headers)
        assert answer.status_code == 207, answer.text
        for result in answer.json()["results"]:
            assert result["status"] == 201, result
            self.acknowledged[result["idempotency_key"]] = result["feedback"]["id"]


def workers(supervisor: int) -> list[psutil.Process]:
    """Processes that answer requests; the supervisor has one more child that counts its semaphores."""
    return [child for child in psutil.Process(supervisor).children() if "spawn_main" in " ".join(child.cmdline())]


def kill_some(supervisor: int, telephones: list[Telephone]) -> int:
    """Kill workers one after another, each in mid-upload: after the last kill something was acknowledged again."""
    chance, killed = random.Random(5), 0
    until = time.monotonic() + SECONDS
    while killed < KILLS and time.monotonic() < until:
        before = sum(len(telephone.acknowledged) for telephone in telephones)
        while sum(len(telephone.acknowledged) for telephone in telephones) < before + 8 and time.monotonic() < until:
            time.sleep(0.01)
        time.sleep(chance.uniform(0, 0.1))
        alive = workers(supervisor)
        if alive:
            chance.choice(alive).kill()
            killed += 1
    return killed


def test_killed_workers_lose_nothing_and_double_nothing(store: Store) -> None:
    coop, stop = make_coop(store), threading.Event()
    address = store.engine.url.render_as_string(hide_password=False)
    with started_service("--workers", "2", database=address) as (url, supervisor):
        keys = [coop.farm, coop.neighbour]
        telephones = [Telephone(url, keys[number % 2], number, stop) for number in range(TELEPHONES)]
        with ThreadPoolExecutor(TELEPHONES) as pool:
            running = [pool.submit(telephone.run) for telephone in telephones]
            try:
                killed = kill_some(supervisor, telephones)
            finally:
                stop.set()
            for one in running:
                one.result()
    assert killed == KILLS
    assert sum(telephone.interrupted for telephone in telephones) >= 1, "no upload was cut off: nothing was tried"
    acknowledged = {key: ident for telephone in telephones for key, ident in telephone.acknowledged.items()}
    with store.reading() as session:
        kept = [str(uuid.UUID(str(ident))) for ident in session.scalars(text("SELECT id FROM feedback"))]
        answers = session.scalar(text("SELECT count(*) FROM idempotency"))
    assert sorted(kept) == sorted(acknowledged.values())
    assert len(set(kept)) == len(kept) == len(acknowledged) == answers
