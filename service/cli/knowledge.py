"""`threshbook knowledge`: check the table, show a crop, count how figures are known, release a revision."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer
from rich.markup import escape
from rich.table import Table

from service.cli.console import console
from service.domain.types import Quantity
from service.knowledge.digest import bump as next_revision
from service.knowledge.load import load_table
from service.knowledge.report import MARKS, Shares, shared_files, shares, total
from service.knowledge.schema import ClassId, CropFile, Evidence, Figure, SettingRow
from service.knowledge.table import KnowledgeTable
from service.knowledge.tree import PACKAGE_FOLDER
from service.text import decimal, quantity, unit_label

knowledge = typer.Typer(help="The knowledge table: check, show, report, bump.", no_args_is_help=True)

Folder = Annotated[
    Path | None, typer.Option("--folder", help="A knowledge folder; without it, the one that is installed.")
]
ExtraCrops = Annotated[
    Path | None, typer.Option("--extra-crops", help="A folder of further crop files, laid over the table.")
]


@knowledge.command()
def check(folder: Folder = None, extra_crops: ExtraCrops = None) -> None:
    """Read the whole table and check every rule; lists every fault with file, row and key."""
    table = load_table(folder, extra_crops)
    rows = sum(len(crop.row) for crop in table.crops.values())
    console().print(
        f"Knowledge table {table.revision} of {table.released}: {len(table.crops)} crops, {rows} setting rows, "
        f"{len(table.sources)} sources. No faults.\n{table.digest}",
        soft_wrap=True,
    )


@knowledge.command()
def show(
    crop: Annotated[str, typer.Argument(help="A crop by id, name, alias or EPPO code.")],
    machine_class: Annotated[
        ClassId | None, typer.Option("--class", help="Only the rows of this machine class.")
    ] = None,
    extra_crops: ExtraCrops = None,
) -> None:
    """Show everything the table holds on a crop, with mark and source of each figure."""
    table = load_table(extra_crops=extra_crops)
    found = table.crop(crop)
    out = console()
    code = f", EPPO code {found.eppo.value}" if found.eppo else ""
    out.print(f"[bold]{found.names.en}[/] ({found.id}){code}; also called {', '.join(found.aliases) or 'nothing else'}")
    for task, coverage in found.coverage.items():
        why = f": {coverage.why.en}" if coverage.why else ""
        out.print(f"Coverage of {task.replace('_', ' ')}: {coverage.level}{why}")
    out.print(_figures(found))
    out.print(_rows(table, found, machine_class))


@knowledge.command()
def report(extra_crops: ExtraCrops = None) -> None:
    """Count how the figures of each crop are known, so that recalled ones can be replaced one by one."""
    table = load_table(extra_crops=extra_crops)
    counts = shares(table)
    files = shared_files(table)
    grid = Table(title=f"How figures are known, share of each crop's figures [%], table {table.revision}")
    grid.add_column("crop")
    grid.add_column("figures", justify="right")
    for mark in MARKS:
        grid.add_column(mark.replace("_", " "), justify="right")
    for part in counts:
        grid.add_row(*_shares(part))
    grid.add_section()
    for part in files:
        grid.add_row(*_shares(part))
    grid.add_section()
    grid.add_row(*_shares(total([*counts, *files])), style="bold")
    console().print(grid)


@knowledge.command()
def bump(
    folder: Folder = None,
    released: Annotated[str | None, typer.Option(help="Day of release as 2026-11-30; without it, today.")] = None,
) -> None:
    """Write the next revision with its digest; the entry in CHANGES.md is yours to write."""
    day = released or datetime.now(tz=UTC).date().isoformat()
    revision = next_revision(folder or PACKAGE_FOLDER, day)
    console().print(f"revision.toml names {revision}. Tell in CHANGES.md what changed, then run: knowledge check")


def _shares(part: Shares) -> list[str]:
    return [part.name, str(part.total), *(f"{part.share_pct(mark):.0f}" for mark in MARKS)]


def _figures(crop: CropFile) -> Table:
    """Physical figures, moisture window, trade moistures and targets."""
    grid = Table(title="Figures", title_justify="left")
    for name in ("figure", "value", "range", "basis, mark", "source"):
        grid.add_column(name, overflow="fold")
    for lead, group in (("", crop.physical), ("combining moisture, ", crop.moisture), ("target, ", crop.targets)):
        for name, figure in group:
            if isinstance(figure, Figure):
                grid.add_row(lead + name.replace("_", " "), *_figure(figure))
        grid.add_section()
    for trade in crop.trade_moisture:
        grid.add_row(f"trade moisture, {trade.market}", *_figure(trade))
    return grid


def _figure(figure: Figure) -> list[str]:
    ends = [decimal(end, "en") for end in (figure.low, figure.high) if end is not None]
    return [quantity(Quantity(figure.value, figure.unit), "en", "metric"), " to ".join(ends), *_evidence(figure)]


def _rows(table: KnowledgeTable, crop: CropFile, machine_class: ClassId | None) -> Table:
    """Setting rows, in the order of the file."""
    grid = Table(title="Setting rows", title_justify="left")
    for name in ("setting", "classes", "low, start, high", "basis, mark", "source"):
        grid.add_column(name, overflow="fold")
    for row in crop.row:
        if machine_class is None or machine_class in row.classes:
            use = f" ({row.use})" if row.use else ""
            setting = table.vocabulary[row.setting].names.en + use
            grid.add_row(setting, ", ".join(row.classes), _span(row), *_evidence(row))
    return grid


def _span(row: SettingRow) -> str:
    numbers = ", ".join(decimal(value, "en") for value in (row.low, row.start, row.high))
    return f"{numbers} {unit_label(row.unit, 'en')}".strip()


def _evidence(entry: Evidence) -> list[str]:
    sources = escape("; ".join(f"{citation.id}: {citation.at}" for citation in entry.source))
    return [f"{entry.basis}, {entry.known}", sources]
