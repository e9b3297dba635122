"""An invented co-op in a store of its own: contributors, keys, and an application that asks it."""

import atexit
import shutil
import tempfile
import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from fastapi import FastAPI

from service.api.app import create_app
from service.cli.invented_coop import fill, found
from service.config import Settings
from service.knowledge.load import load_table
from service.store import Store, open_store
from service.store.upgrading import upgrade
from service.usecases import organisations as cases
from service.usecases.access import SCOPES
from service.usecases.refinement_fold import FoldReport, fold

GROWN = datetime(2026, 9, 30, 12, tzinfo=UTC)
OBSERVED = "2026-07-28T14:30:00+02:00"
REPORT: dict[str, Any] = {
    "crop": "wheat",
    "machine_class": "hybrid",
    "grain_moisture_pct": 14.0,
    "yield_t_ha": 8.0,
    "observed_at": OBSERVED,
    "machine": "red one",
    "field": "north 12",
    "settings_used": [{"setting": "threshing_speed", "value": 25.0, "unit": "m/s"}],
    "machine_loss_pct": 1.1,
    "loss_method": "pans",
    "broken_pct": 0.8,
}


@dataclass(frozen=True)
class Coop:
    """Keys of an organisation with two contributors, and one of a stranger's organisation."""

    store: Store
    name: str
    farm: str  # contributor farm-1: read, contribute
    neighbour: str  # contributor farm-2: read, contribute
    office: str  # the organisation: everything
    reviewer: str  # contributor farm-1 with the scope review too
    reader: str  # contributor farm-1: read
    stranger: str  # another organisation: everything


def make_coop(store: Store) -> Coop:
    """Found two organisations in a store that is up to date."""
    now, name = datetime.now(UTC), f"hill-{uuid.uuid4().hex[:8]}"
    with store.writing() as session:
        hill = cases.create(session, name, 1, now)
        vale = cases.create(session, name.replace("hill", "vale"), 7, now)
        first, second = (cases.add_member(session, hill, farm, now) for farm in ("farm-1", "farm-2"))
        cases.add_member(session, vale, "farm-1", now)

        def key(organisation: Any, member: Any, scopes: Iterable[str]) -> str:
            return cases.issue_key(session, organisation, member, scopes, now).text

        return Coop(
            store=store,
            name=name,
            farm=key(hill, first, ("read", "contribute")),
            neighbour=key(hill, second, ("read", "contribute")),
            office=key(hill, None, SCOPES),
            reviewer=key(hill, first, ("read", "review")),
            reader=key(hill, first, ("read",)),
            stranger=key(vale, None, SCOPES),
        )


def grow(store: Store, *, without: str | None = None) -> FoldReport:
    """Fill a store with an invented co-op of ten farms, one of them lying, and fold what they report.

    One may be erased before anything is folded.
    """
    with store.writing() as session:
        callers = found(session, GROWN, 10)
        fill(session, load_table(), callers, GROWN, sessions=12, liars=1)
        if without is not None:
            cases.erase_member(session, cases.find(session, callers[0].organisation), without, GROWN)
    report = fold(store, load_table(), callers[0].organisation_id, 1, GROWN)
    store.engine.dispose()
    return report


def app_of(coop: Coop) -> FastAPI:
    """Return an application on the store of a co-op."""
    return create_app(Settings(database_url=coop.store.engine.url.render_as_string(hide_password=False)))


def embedded_coop() -> Coop:
    """Return a co-op in a file that goes when the tests end."""
    folder = Path(tempfile.mkdtemp(prefix="threshbook-test-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    store = open_store(f"sqlite:///{folder / 'store.sqlite3'}")
    upgrade(store)
    return make_coop(store)


def headers(key: str, idempotency_key: object | None = None) -> dict[str, str]:
    """Headers of a request: who asks, and a key of its own."""
    return {"Authorization": f"Bearer {key}", "Idempotency-Key": f'"{idempotency_key or uuid.uuid4()}"'}
