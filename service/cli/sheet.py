"""Answers as a sheet to read in the cab: starting settings.

Inside: layout of what the service answered over HTTP. Outside: asking (`demo`), the sheet of a
ground-loss assessment (`sheet_losses`), any number that is not in the answer.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from rich.console import Console, Group, RenderableType
from rich.markup import escape
from rich.padding import Padding
from rich.table import Table

from service.domain.types import Message
from service.text import Language, decimal, render, unit_label
from service.units import UnitSystem

Answer = Mapping[str, Any]
MINUS = "\N{MINUS SIGN}"


@dataclass(slots=True)
class Sheet:
    """One reader's sheet on one console; remembers lines printed before, to print them once."""

    console: Console
    lang: Language
    units: UnitSystem
    printed: set[str] = field(default_factory=set)

    def text(self, code: str, **params: object) -> str:
        """Return a text of the sheet, safe to print."""
        return escape(render(Message(f"sheet.{code}", params), self.lang, self.units))

    def heading(self, code: str, **params: object) -> None:
        """Print a heading."""
        self.console.print(f"\n[bold]{self.text(code, **params)}[/]")

    def line(self, text: RenderableType) -> None:
        """Print indented text that wraps."""
        self.console.print(Padding(text, (0, 0, 0, 2), expand=False))

    def amount(self, amount: Answer) -> str:
        """Write `{value, unit}`."""
        return f"{decimal(amount['value'], self.lang)} {unit_label(amount['unit'], self.lang)}".rstrip()

    def span(self, low: float, high: float) -> str:
        """Write a range without unit."""
        return self.text("span", low=decimal(low, self.lang), high=decimal(high, self.lang))

    def estimate(self, estimate: Answer) -> str:
        """Write `{value, low, high, unit}`; the range in brackets where there is one."""
        low, high = estimate.get("low"), estimate.get("high")
        if low is None or high is None or low == high:
            return self.amount(estimate)
        return f"{self.amount(estimate)} ({self.span(low, high)})"

    def notes(self, code: str, notes: Iterable[Answer], *, once: bool = False) -> None:
        """Print texts under a heading; with `once`, those not printed before, and how many were."""
        texts = [note["text"] for note in notes]
        new = [text for text in texts if not (once and text in self.printed)]
        self.printed.update(texts)
        if texts:
            self.heading(code)
        for text in new:
            self.line(_bullet(escape(text)))
        if len(new) < len(texts):
            self.line(_bullet(self.text("as_above", count=len(texts) - len(new))))


def print_settings(sheet: Sheet, answer: Answer) -> None:
    """Print the answer to a question for starting settings."""
    sheet.notes("warnings", answer["warnings"])
    _settings(sheet, answer)
    _speed(sheet, answer)
    _first_step(sheet, answer)
    _output(sheet, answer)
    sheet.notes("checklist", answer["checklist"], once=True)
    sheet.notes("cautions", answer["cautions"], once=True)
    sheet.notes("notes", answer["notes"], once=True)
    _provenance(sheet, answer)


def _bullet(text: str) -> RenderableType:
    row = Table.grid(padding=(0, 1))
    row.add_row("-", text)
    return row


def _settings(sheet: Sheet, answer: Answer) -> None:
    """Print two lines a setting: the figures, and how the start adds up."""
    heads = ("setting", "start", "range", "also")
    sheet.console.print()
    sheet.console.print(_row(*(f"[bold underline]{sheet.text(head)}[/]" for head in heads)))
    for setting in answer["settings"]:
        start = f"[bold]{sheet.amount(setting['start'])}[/]"
        span = sheet.span(setting["low"]["value"], setting["high"]["value"])
        also = "\n".join(_equivalent(sheet, one) for one in setting["equivalents"])
        sheet.console.print(_row(f"[bold]{escape(setting['name'])}[/]", start, span, also))
        sheet.line(f"[dim]{escape(adds_up(sheet, setting))}[/]")
        if "local" in setting:
            sheet.line(_local_number(sheet, setting["local"]))
    sheet.console.print()
    designs = answer["sieve_designs"]
    sheet.line(sheet.text("sieves", upper=designs["upper"]["name"], lower=designs["lower"]["name"]))
    air = answer["air"]
    sheet.line(sheet.text("air", chaff=sheet.amount(air["chaff"]), kernel=sheet.amount(air["kernel"])))


def _row(name: str, start: str, span: str, also: str) -> Table:
    row = Table.grid(padding=(0, 2, 0, 0))
    row.add_column(width=34)
    row.add_column(width=14, justify="right")
    row.add_column(width=17, justify="right")
    row.add_column()
    row.add_row(name, start, span, also)
    return row


def _equivalent(sheet: Sheet, one: Answer) -> str:
    low, high = one["low"]["value"], one["high"]["value"]
    ends = f" ({sheet.span(low, high)})" if low != high else ""
    return f"{sheet.amount(one['start'])}{ends} {escape(one['name'])}"


def adds_up(sheet: Sheet, setting: Answer) -> str:
    """Write a start value as the sum of its contributions; those of zero are left out."""
    first, *others = setting["contributions"]
    known = render(Message(f"sheet.known.{first['known']}"), sheet.lang, sheet.units)
    words = [f"{decimal(first['amount']['value'], sheet.lang)} {first['name']} ({known})"]
    for part in others:
        value = part["amount"]["value"]
        if value != 0:
            words.append(f"{'+' if value > 0 else MINUS} {decimal(abs(value), sheet.lang)} {part['name']}")
    total = f"= {decimal(setting['sum']['value'], sheet.lang)}"
    if setting["bound"] != "none":
        total += ", " + render(Message(f"sheet.held_{setting['bound']}"), sheet.lang, sheet.units)
    return " ".join([*words, total])


def _local_number(sheet: Sheet, local: Answer) -> str:
    """Write what a local number rests on."""
    text = sheet.text("local_number", records=local["records"], contributors=local["contributors_band"])
    return f"{text}, {sheet.text('local_stale')}" if local["stale"] else text


def _speed(sheet: Sheet, answer: Answer) -> None:
    speed = answer["ground_speed"]
    sheet.heading("limits")
    ceiling = next(one["speed"]["value"] for one in speed["limits"] if one["code"] == "ceiling")
    for limit in sorted(speed["limits"], key=lambda one: float(one["speed"]["value"])):
        binds = f"  [bold]{sheet.text('binds')}[/]" if limit["code"] == speed["binding"] else ""
        slack = f" {sheet.text('slack')}" if limit["speed"]["value"] > ceiling else ""
        sheet.line(f"{escape(limit['name'])}: {sheet.estimate(limit['speed'])}{binds}{slack}")


def _first_step(sheet: Sheet, answer: Answer) -> None:
    first = answer["first_step"]
    step = ", ".join(sheet.amount(one) for one in (first["step"], *(also["amount"] for also in first["also"])))
    way = sheet.text(first["direction"], step=step)
    sheet.heading("first")
    sheet.line(f"[bold]{escape(first['name'])}, {way}.[/] {escape(first['why']['text'])}")


def _output(sheet: Sheet, answer: Answer) -> None:
    speed = next(one for one in answer["settings"] if one["id"] == "ground_speed")
    sheet.heading("output", speed=sheet.amount(speed["start"]))
    for figure in answer["output"]:
        sheet.line(f"{escape(figure['name'])}: {sheet.estimate(figure['amount'])}")
    loss = answer["expected_loss"]
    span = sheet.span(loss["low"]["value"], loss["high"]["value"])
    sheet.line(sheet.text("expected_loss", span=span, known=sheet.text(f"known.{loss['known']}")))


def _provenance(sheet: Sheet, answer: Answer) -> None:
    marks = [part["known"] for setting in answer["settings"] for part in setting["contributions"]]
    weak = sum(mark in ("memory", "practice", "derived") for mark in marks)
    knowledge = answer["knowledge"]
    lines = [
        sheet.text("marks", weak=weak, figures=len(marks)),
        sheet.text("revision", revision=knowledge["revision"], digest=knowledge["digest"][:23]),
    ]
    if "local" in answer:
        local = answer["local"]
        facts = {"organisation": local["organisation"], "number": local["number"], "revision": local["base_revision"]}
        lines.append(sheet.text("local", **facts, digest=local["digest"][:23]))
    sheet.console.print()
    sheet.console.print(Group(*(f"[dim]{line}[/]" for line in lines)))
