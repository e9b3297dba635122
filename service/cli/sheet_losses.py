"""Answers as a sheet to read in the cab: a ground-loss assessment."""

from typing import Any

from rich.markup import escape
from rich.table import Table

from service.cli.sheet import Answer, Sheet
from service.text import decimal, unit_label


def print_losses(sheet: Sheet, answer: Answer) -> None:
    """Print the answer to what was found on the ground."""
    sheet.heading("ground_loss")
    _losses(sheet, answer["losses"])
    for verdict in answer["verdicts"]:
        sheet.line(escape(verdict["text"]))
    if dominant := answer.get("dominant"):
        code = "dominant_sure" if dominant["sure"] else "dominant_unsure"
        sheet.line(sheet.text(code, place=dominant["name"]))
    for one in answer["not_measured"]:
        sheet.line(f"{escape(one['name'])}: {escape(one['why']['text'])}")
    _frames(sheet, answer)
    sheet.line(escape(answer["definition"]["text"]))
    sheet.notes("warnings", answer["warnings"])
    sheet.notes("cautions", answer["cautions"], once=True)


def _losses(sheet: Sheet, losses: list[Any]) -> None:
    first = losses[0]
    money = [key for key in ("money_per_area", "money_per_hour") if key in first]
    columns = ["mass", "share", *money]
    grid = Table(header_style="bold", pad_edge=False)
    grid.add_column(sheet.text("place"))
    for key in columns:
        name = sheet.text("share_of_yield") if key == "share" else unit_label(first[key]["unit"], sheet.lang)
        grid.add_column(escape(name), justify="right")
    for loss in losses:
        grid.add_row(escape(loss["name"]), *(_interval(sheet, loss[key], below=loss["below"]) for key in columns))
    sheet.console.print(grid)
    sheet.line(sheet.text("interval"))


def _interval(sheet: Sheet, estimate: Answer, *, below: bool) -> str:
    if below:
        return sheet.text("below", high=decimal(estimate["high"], sheet.lang))
    return f"[bold]{decimal(estimate['value'], sheet.lang)}[/]\n{sheet.span(estimate['low'], estimate['high'])}"


def _frames(sheet: Sheet, answer: Answer) -> None:
    for one in answer["frames"]:
        if "more_frames" in one:
            sheet.line(sheet.text("more_frames", place=one["name"], frames=one["frames"], more=one["more_frames"]))
    for line in answer["card"]:
        kernels = decimal(line["kernels"], sheet.lang)
        mass = sheet.amount(line["mass"])
        sheet.line(sheet.text("card", place=line["name"], area=sheet.amount(line["area"]), kernels=kernels, mass=mass))
