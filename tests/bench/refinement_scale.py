"""Cost of refinement as records grow: python -m tests.bench.refinement_scale

  --rows N     most records, 1,000,000 without it; every power of ten from 10,000 up to it
  --reports N  reports sent one by one for the rate of intake, 200 without it

CPU is that of this process alone, so that a busy machine does not count; ratios and the bar are of it. Where few
processors are shared, OPENBLAS_NUM_THREADS=1 keeps threads from waiting for each other on account of this process.

Makes records inside a PostgreSQL of its own, folds those that are new, and refines. Prints for each size the time
of making and of folding a record, time and memory of one refinement that finds nothing new, and their ratios to the
first size; then how many reports one worker takes a second, alone and in batches of 100.

Bar: a refinement over the most records costs at most twice what it costs over ten times fewer.
"""

import argparse
import json
import sys
import time
import tracemalloc
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import anyio
import httpx
from rich.console import Console
from rich.table import Table
from sqlalchemy import text

from service.cli.invented_coop import CROP, MACHINE_CLASS, MOISTURES_PCT, found
from service.knowledge.load import load_table
from service.store import Store, open_store
from service.store.cell_sums import long_work
from service.usecases.refinement import Reviewer, find, refine
from service.usecases.refinement_base import base_of, starts_for_record
from service.usecases.refinement_fold import fold
from service.usecases.settings_types import SettingsQuestion
from service.usecases.starting_settings import recommend
from tests.coop import REPORT, app_of, headers, make_coop
from tests.databases import BROUGHT_UP, running_server

MEMBERS = 40
SEASONS = 2
NOW = datetime(2026, 11, 1, 12, tzinfo=UTC)
FIRST = NOW - timedelta(days=40)  # when the first report arrived; the others follow by the hundredth of a second
LARGEST_GROWTH = 2.0
TABLE = load_table()


@dataclass(frozen=True)
class Result:
    """What one size cost."""

    rows: int
    made_s: float
    new: int
    folded_s: float
    folded_cpu_s: float
    refined_s: float
    refined_cpu_s: float
    peak_mb: float
    sums: int
    row: str


def statement(organisation_id: int, members: Sequence[int]) -> str:
    """SQL that makes the records :first to :last - 1: two a session, the second with one setting changed."""
    # OFFSET 0 keeps a subquery apart: its columns are worked out once and not wherever they are used
    base = base_of(TABLE, CROP, MACHINE_CLASS)
    # a number from -0.5 to 0.5 that is the same for all records of a session, farm and setting
    even = "((hashint4({0}) & 1048575) / 1048575.0 - 0.5)"
    coded = [
        f"{even.format(f's * 31 + {j}')} * 0.4 + {even.format(f'm * 17 + {j}')} * 0.5"
        f" + CASE WHEN g % 2 = 1 AND s % {len(base.settings)} = {j} THEN 0.3 ELSE 0 END AS u{j}"
        for j in range(len(base.settings))
    ]
    settings = ", ".join(f"'{one.setting}', {one.start!r} + {one.half!r} * u{j}" for j, one in enumerate(base.settings))
    away = " + ".join(f"(u{j} - 0.2) * (u{j} - 0.2)" for j in range(len(base.settings)))
    amount = "least(60, {0} * exp(0.6 * ({1}) + 0.35 * (random() + random() + random() - 1.5)))"
    starts, bands = _starts(), list(MOISTURES_PCT)
    pick = " ".join(f"WHEN {k} THEN '{json.dumps(starts[band])}'::jsonb" for k, band in enumerate(bands))
    moist = " ".join(f"WHEN {k} THEN {MOISTURES_PCT[band]}" for k, band in enumerate(bands))
    names = " ".join(f"WHEN {k} THEN '{band}'" for k, band in enumerate(bands))
    return f"""
INSERT INTO feedback (id, organisation_id, member_id, api_key_prefix, received_at, observed_at, observed_on, season,
  machine, field, session_key, crop, machine_class, moisture_band, grain_moisture_pct, yield_t_ha, straw_condition,
  straw_to_grain, stand, slope_along_deg, slope_across_deg, use_for, priority, conditions, settings, base,
  trial_randomised, loss_method, machine_loss_pct, broken_pct, foreign_matter_pct, knowledge_revision, knowledge_digest)
SELECT (lpad(to_hex({int(FIRST.timestamp() * 1000)} + g / 5), 12, '0') || '7000' || '8000' ||
        lpad(to_hex(g), 12, '0'))::uuid,
  {organisation_id}, {members[0]} + m, 'invented', TIMESTAMPTZ '{FIRST.isoformat()}' + g * INTERVAL '0.2 ms',
  TIMESTAMPTZ '2025-07-01' + s * INTERVAL '1 second' + (g % 2) * INTERVAL '1 hour', DATE '2025-07-01',
  {NOW.year} - s % {SEASONS}, 'invented machine', 'invented field', 'session ' || s, '{CROP}', '{MACHINE_CLASS}',
  CASE c {names} END, CASE c {moist} END, 8.0, 'normal', 1.0, 'upright', 0, 0, 'feed', 'balanced', '{{}}'::jsonb,
  jsonb_build_object({settings}), CASE c {pick} END, false, 'pans', {amount.format(0.9, away)},
  {amount.format(1.1, away)}, {amount.format(0.9, away)}, 'invented', 'invented'
FROM (SELECT *, {", ".join(coded)} FROM (
  SELECT g, g / 2 AS s, (g / 2) % {len(members)} AS m, (g / 2 / {len(members)}) % 3 AS c
  FROM generate_series(CAST(:first AS int), CAST(:last AS int) - 1) AS g OFFSET 0) AS plain OFFSET 0) AS told"""


def _starts() -> dict[str, dict[str, Any] | None]:
    """What a record of each moisture band is coded by, as the service keeps it."""
    questions = {
        band: SettingsQuestion(crop=CROP, machine_class=MACHINE_CLASS, grain_moisture_pct=moisture, yield_t_ha=8.0)
        for band, moisture in MOISTURES_PCT.items()
    }
    return {band: starts_for_record(TABLE, recommend(TABLE, question)) for band, question in questions.items()}


def one_size(store: Store, who: Reviewer, members: Sequence[int], before: int, rows: int) -> Result:
    """Make the records up to a size, fold them, refine."""
    began = time.perf_counter()
    with store.writing() as session:
        long_work(session)
        session.execute(text("SET LOCAL statement_timeout = 0"))
        session.execute(text("SET LOCAL session_replication_role = replica"))  # the members are known to be there
        session.execute(text(statement(who.organisation_id, members)), {"first": before, "last": rows})
    with store.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.execute(text("SET statement_timeout = 0"))
        connection.execute(text("VACUUM ANALYZE feedback"))
    made, made_cpu = time.perf_counter(), time.process_time()
    report = fold(store, TABLE, who.organisation_id, 1, NOW)
    folded, folded_cpu = time.perf_counter(), time.process_time()
    assert report.records == rows - before, report
    refine(store, TABLE, who, NOW)
    refined, refined_cpu = time.perf_counter(), time.process_time()
    tracemalloc.start()
    number, _ = refine(store, TABLE, who, NOW)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    with store.reading() as session:
        row = find(session, TABLE, who, number).draft.document["rows"][1]
        sums = session.execute(text("SELECT count(*) FROM cell_sums")).scalar_one()
    told = f"{row['reason']}, {100 * row['gain']:.0f} %"
    return Result(
        rows=rows,
        made_s=made - began,
        new=rows - before,
        folded_s=folded - made,
        folded_cpu_s=folded_cpu - made_cpu,
        refined_s=refined - folded,
        refined_cpu_s=refined_cpu - folded_cpu,
        peak_mb=peak / 1e6,
        sums=sums,
        row=told,
    )


def show(results: Sequence[Result]) -> Table:
    """One row a size."""
    heads = (
        "records",
        "made",
        "folded",
        "a record",
        "refinement",
        "of it CPU",
        "ratio",
        "peak memory",
        "ratio",
        "sums",
    )
    grid = Table(*heads, "row")
    first = results[0]
    for one in results:
        grid.add_row(
            f"{one.rows:,}",
            f"{one.made_s:.1f} s",
            f"{one.folded_s:.1f} s",
            f"{1e6 * one.folded_cpu_s / one.new:.0f} µs CPU",
            f"{one.refined_s:.2f} s",
            f"{one.refined_cpu_s:.2f} s",
            f"{one.refined_cpu_s / first.refined_cpu_s:.2f}",
            f"{one.peak_mb:.1f} MB",
            f"{one.peak_mb / first.peak_mb:.2f}",
            f"{one.sums:,}",
            one.row,
        )
    return grid


def intake(store: Store, reports: int) -> list[str]:
    """Reports that one worker takes a second, each committed before it is answered."""
    coop = make_coop(store)
    app = app_of(coop)

    async def send() -> tuple[float, float]:
        async with httpx.AsyncClient(transport=httpx.ASGITransport(app), base_url="http://test") as client:
            began = time.perf_counter()
            for _ in range(reports):
                answer = await client.post("/v1/feedback", json=REPORT, headers=headers(coop.farm))
                assert answer.status_code == 201, answer.text
            alone = time.perf_counter()
            for _ in range(max(1, reports // 100)):
                items = [REPORT | {"idempotency_key": str(uuid.uuid4())} for _ in range(100)]
                answer = await client.post("/v1/feedback/batch", json={"items": items}, headers=headers(coop.farm))
                assert answer.json()["stored"] == 100, answer.text[:500]
            return alone - began, time.perf_counter() - alone

    one_by_one, batches = anyio.run(send)
    return [
        f"one worker takes {reports / one_by_one:.0f} reports a second one by one",
        f"one worker takes {100 * max(1, reports // 100) / batches:.0f} reports a second in batches of 100",
    ]


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the table and the rates; 1 if a refinement grows with the records."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.refinement_scale", description=__doc__.splitlines()[0])
    parser.add_argument("--rows", type=int, default=1_000_000, metavar="N", help="most records")
    parser.add_argument("--reports", type=int, default=200, metavar="N", help="reports sent one by one")
    told = parser.parse_args(arguments)
    console, results = Console(width=140), list[Result]()
    with running_server() as server:
        store = open_store(server.address(server.new_database(template=BROUGHT_UP)))
        with store.writing() as session:
            callers = found(session, NOW, MEMBERS)
        who = Reviewer(callers[0].organisation_id, callers[0].organisation, 1, "bench")
        members = [caller.member_id for caller in callers if caller.member_id is not None]
        size, before = 10_000, 0
        while size <= told.rows:
            results.append(one_size(store, who, members, before, size))
            console.print(show(results[-1:]))
            size, before = size * 10, size
        rates = intake(store, told.reports)
        store.engine.dispose()
    console.print(show(results))
    console.print(*rates, sep="\n")
    growth = results[-1].refined_cpu_s / results[-2].refined_cpu_s if len(results) > 1 else 1.0
    reached = growth <= LARGEST_GROWTH
    verdict = "[green]reached[/]" if reached else "[bold red]MISSED [/]"
    console.print(f"{verdict}  ten times the records: {growth:.2f} times the cost of one refinement")
    return int(not reached)


if __name__ == "__main__":
    sys.exit(main())
