"""`threshbook demo --coop`: an invented co-op in a store of its own, refined, published, asked before and after.

Inside: the order of the show; everything is deleted afterwards. Outside: what the invented farms report
(`invented_coop`), the work itself (`usecases`).
"""

import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from rich.console import Console
from rich.table import Table

from service.cli.invented_coop import CROP, MACHINE_CLASS, NAME, TRUTH, fill, found
from service.cli.refinement import show_draft, show_fold
from service.knowledge.load import load_table
from service.knowledge.table import KnowledgeTable
from service.store import Store, open_store
from service.store.upgrading import upgrade
from service.text import decimal, unit_label
from service.usecases.local_types import LocalTable
from service.usecases.refinement import Reviewer, accept_all, find, publish, refine
from service.usecases.refinement_base import base_of
from service.usecases.settings_types import SettingsQuestion
from service.usecases.starting_settings import recommend

MEMBERS: Final = 10
SESSIONS: Final = 30
REVISIONS: Final = 2
QUESTION: Final = SettingsQuestion(crop=CROP, machine_class=MACHINE_CLASS, grain_moisture_pct=15.0, yield_t_ha=8.0)


def demo_coop(out: Console) -> None:
    """Fill, refine, publish twice, and show how the answer changes."""
    table, now = load_table(), datetime.now(UTC)
    with tempfile.TemporaryDirectory(prefix="threshbook-demo-") as folder:
        store = open_store(f"sqlite:///{Path(folder) / 'store.sqlite3'}")
        upgrade(store)
        try:
            _show(out, store, table, now)
        finally:
            store.engine.dispose()


def _show(out: Console, store: Store, table: KnowledgeTable, now: datetime) -> None:
    out.print(f"[bold]{NAME}[/]: invented farms, invented reports, nothing of it was ever measured.")
    with store.writing() as session:
        callers = found(session, now, MEMBERS)
        count = fill(session, table, callers, now, sessions=SESSIONS, liars=1)
    out.print(
        f"{MEMBERS} farms send {count} reports of wheat; one of them makes its figures up. In this invented region the "
        "best settings lie beside the base table."
    )
    who = Reviewer(callers[0].organisation_id, NAME, 1, "demonstration")
    made: LocalTable | None = None
    for _ in range(REVISIONS):
        number, report = refine(store, table, who, now)
        with store.reading() as session:
            view = find(session, table, who, number)
            rows, aside = (
                view.draft.document["rows"],
                [one.pseudonym for one in view.standings if one.told["set_aside"]],
            )
        out.rule(f"Draft {number}", align="left")
        show_fold(out, report)
        show_draft(out, number, [row for row in rows if row["moisture_band"] == "best"])
        out.print(f"Left out because they contradict all others: {', '.join(aside) or 'nobody'}")
        with store.writing() as session:
            accepted = accept_all(session, table, who, number, now)
            if accepted.decisions:
                made = publish(session, table, who, number, accepted.draft.version, now)
                out.print(f"A reviewer accepts; published as revision {made.number}, {made.digest[:18]}...")
    out.rule("Wheat at 15 % moisture, 8 t/ha: the answer before and after", align="left")
    out.print(_before_and_after(table, made))


def _before_and_after(table: KnowledgeTable, local: LocalTable | None) -> Table:
    """Starting settings of the base table, with the local table over it, and where the invented best is."""
    grid = Table("setting", "base table", "with the local table", "best in this invention", "", "rests on")
    learnt = {one.setting for one in base_of(table, CROP, MACHINE_CLASS).settings}
    before, after = recommend(table, QUESTION), recommend(table, QUESTION, local)
    for setting, now in zip(before.settings, after.settings, strict=True):
        if setting.id not in learnt:
            continue
        best = setting.start + TRUTH.get(setting.id, 0.0) * (setting.high - setting.low) / 2
        values = (decimal(round(value, 1), "en") for value in (setting.start, now.start, best))
        rests = "base" if now.local is None else f"{now.local.records} records of {now.local.contributors_band} farms"
        grid.add_row(setting.id.replace("_", " "), *values, unit_label(setting.unit, "en"), rests)
    return grid
