"""`threshbook refine`: fold what has come in, draft a local table, show why; publish only when asked to.

Inside: what is typed and what is shown. Outside: the work (`usecases.refinement`).
"""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Annotated, Any

import typer
from rich.console import Console
from rich.table import Table

from service.cli.console import complain, console
from service.cli.store import Address, opened
from service.config import Settings
from service.domain.types import Message
from service.knowledge.load import load_table
from service.text import decimal, render, unit_label
from service.usecases import organisations as cases
from service.usecases.local_documents import contributors_band
from service.usecases.organisations import COMMAND_LINE
from service.usecases.refinement import Reviewer, accept_all, find, publish, repeated
from service.usecases.refinement import refine as draft
from service.usecases.refinement_fold import FoldReport


def refine(
    organisation: Annotated[str, typer.Argument(help="Name of the organisation.")],
    publish_all: Annotated[bool, typer.Option("--publish-all", help="Accept every proposed row and publish.")] = False,  # noqa: FBT002
    repeat: Annotated[
        int | None, typer.Option(min=1, help="Make this earlier draft again from its inputs, and compare.")
    ] = None,
    address: Address = None,
) -> None:
    """Draft a local table from what has come in; without --publish-all nothing is published."""
    store, table = opened(address), load_table(extra_crops=Settings().extra_crops)
    with store.reading() as session:
        found = cases.find(session, organisation)
        who = Reviewer(found.id, found.name, found.season_starts_month, COMMAND_LINE)
    if repeat is not None:
        with store.reading() as session:
            same = repeated(session, table, who, repeat)
        console().print(
            f"Draft {repeat} " + ("comes out the same, digit for digit." if same else "comes out otherwise.")
        )
        raise typer.Exit(0 if same else 1)
    now = datetime.now(UTC)
    number, report = draft(store, table, who, now)
    with store.reading() as session:
        document = find(session, table, who, number).draft.document
    show_fold(console(), report)
    show_draft(console(), number, document["rows"])
    if publish_all:
        with store.writing() as session:
            view = accept_all(session, table, who, number, now)
            if not view.decisions:
                complain("Nothing is proposed, so nothing is published.")
                raise typer.Exit(1)
            made = publish(session, table, who, number, view.draft.version, now)
        console().print(f"Published as revision {made.number}, {made.digest}.", soft_wrap=True)


def show_fold(out: Console, report: FoldReport) -> None:
    """Print what was folded."""
    left = ", ".join(f"{count} {why.replace('_', ' ')}" for why, count in sorted(report.refused.items()))
    out.print(
        f"{report.records} new records folded; {report.waiting} wait until they are a day old."
        + (f" Left out: {left}." if left else "")
    )


def show_draft(out: Console, number: int, rows: Sequence[Mapping[str, Any]]) -> None:
    """Print a draft: each row with its reason, each number that would move."""
    out.print(f"[bold]Draft {number}[/]")
    for row in rows:
        reason = render(Message(f"draft.row.{row['reason']}"), "en", "metric")
        out.print(f"\n[bold]{row['id']}[/]  {reason}")
        if row["effects"]:
            band = contributors_band(row["evidence"]["contributors"])
            out.print(
                f"saves {100 * row['gain']:.1f} % of the cost (80 %: {100 * row['gain_low']:.1f} to "
                f"{100 * row['gain_high']:.1f}), sure to {100 * row['probability']:.0f} %; "
                f"{row['evidence']['records']:.0f} records of {band} contributors"
            )
        moved = [one for one in row["settings"] if one["proposed"] != one["now"]]
        if moved:
            out.print(_numbers(moved))


def _numbers(moved: Sequence[Mapping[str, Any]]) -> Table:
    grid = Table("setting", "base", "now", "proposed", "", "why")
    for one in moved:
        values = (decimal(round(one[name], 2), "en") for name in ("base_start", "now", "proposed"))
        why = render(Message(f"draft.setting.{one['reason']}"), "en", "metric")
        grid.add_row(one["setting"].replace("_", " "), *values, unit_label(one["unit"], "en"), why)
    return grid
