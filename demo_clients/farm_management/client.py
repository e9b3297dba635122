"""Starting settings for a season plan: one request a field, a table on the screen, a card for each cab.

python client.py --url http://127.0.0.1:8000 --plan season_plan.csv --out cards/

Needs httpx and rich. The columns of the plan are the field names of POST /v1/starting-settings, plus
`field` (name of the field), `units` (metric or us) and `lang` (en or de); empty cells are left out.
"""

import argparse
import csv
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from textwrap import fill
from typing import Any

import httpx
from rich.console import Console
from rich.markup import escape
from rich.table import Table

CARD_WIDTH = 86
NOT_ASKED = ("field", "units", "lang")
TEXTS = (
    "crop",
    "machine_class",
    "straw_condition",
    "stand",
    "use",
    "priority",
    "header",
    "size_band",
    "upper_sieve_design",
    "lower_sieve_design",
)
# UCUM codes as people write them; a code that is not here is shown as it is
LABELS = {
    "1": "",
    "[in_i]": "in",
    "[ft_i]/min": "ft/min",
    "[mi_i]/h": "mph",
    "{rev}/min": "rpm",
    "t/har": "t/ha",
    "har/h": "ha/h",
    "[acr_us]/h": "ac/h",
    "[lb_av]/h": "lb/h",
    "[bu_us]/[acr_us]": "bu/ac",
}
# words of the card itself; everything else comes in the language that was asked for
WORDS = {
    "en": {
        "sieves": "Sieves",
        "to": "to",
        "first": "First",
        "up": "{step} up",
        "down": "{step} down",
        "table": "Knowledge table",
        "end": "Starting points from an open table; the machine's own manual comes first.",
    },
    "de": {
        "sieves": "Siebe",
        "to": "bis",
        "first": "Zuerst",
        "up": "um {step} erhöhen",
        "down": "um {step} verringern",
        "table": "Wissenstabelle",
        "end": "Startwerte aus einer offenen Tabelle; die Betriebsanleitung der Maschine geht vor.",
    },
}


class PlanError(Exception):
    """The plan cannot be read; the text says which line and why."""


@dataclass(frozen=True)
class PlanLine:
    """One field of the plan: its name, the question, and how the answer is wanted."""

    field: str
    question: dict[str, str | float]
    params: dict[str, str]


@dataclass(frozen=True)
class Reply:
    """What the service said about one field: an answer, or why not."""

    line: PlanLine
    answer: dict[str, Any] | None
    reasons: list[str]


def read_plan(path: Path) -> list[PlanLine]:
    """Read the plan; numbers are written with a point."""
    with path.open(newline="", encoding="utf-8") as file:
        rows = csv.DictReader(file, strict=True)
        return [_plan_line(row, f"{path.name}, line {rows.line_num}") for row in rows]


def _plan_line(row: dict[str, str | None], where: str) -> PlanLine:
    cells = {name: (cell or "").strip() for name, cell in row.items() if name}
    if not cells.get("field"):
        raise PlanError(f"{where}: the field has no name")
    question: dict[str, str | float] = {}
    for name, cell in cells.items():
        if cell and name not in NOT_ASKED:
            question[name] = cell if name in TEXTS else _number(cell, f"{where}, {name}")
    params = {name: cells[name] for name in ("units", "lang") if cells.get(name)}
    return PlanLine(cells["field"], question, params)


def _number(cell: str, where: str) -> float:
    try:
        return float(cell)
    except ValueError:
        raise PlanError(f"{where}: {cell!r} is not a number; write it with a point") from None


def ask(client: httpx.Client, line: PlanLine, revision: str) -> Reply:
    """Ask for one field. A refusal is an answer too: it says what to change, and the next field goes on."""
    params = {**line.params, "revision": revision}
    response = client.post("/v1/starting-settings", json=line.question, params=params)
    if response.status_code == httpx.codes.OK:
        return Reply(line, response.json(), [])
    if response.headers.get("content-type", "").startswith("application/problem+json"):
        return Reply(line, None, list(_reasons(response.json())))
    response.raise_for_status()
    raise httpx.HTTPError(f"unexpected status {response.status_code}")


def _reasons(problem: dict[str, Any]) -> Iterator[str]:
    """Each wrong field with its reason; the problem's own text if no field is named."""
    for item in problem.get("errors", []):
        where = item.get("pointer") or item.get("parameter", "")
        yield f"{where.lstrip('/')}: {item['detail']}" if where else item["detail"]
    if not problem.get("errors"):
        yield f"{problem['title']}: {problem['detail']}"


def amount(part: dict[str, Any]) -> str:
    """Write `{value, unit}`."""
    return f"{part['value']:g} {LABELS.get(part['unit'], part['unit'])}".rstrip()


def setting(answer: dict[str, Any], name: str) -> dict[str, Any] | None:
    """Find a setting; a machine class need not have every one."""
    return next((one for one in answer["settings"] if one["id"] == name), None)


def overview(replies: list[Reply]) -> Table:
    """Return one line a field."""
    table = Table(title="Starting settings by field")
    for heading in ("Field", "Crop", "Drum or rotor", "Concave", "Ground speed", "Limited by", "Try first"):
        table.add_column(heading, overflow="fold")
    for reply in replies:
        table.add_row(escape(reply.line.field), *_cells(reply))
    return table


def _cells(reply: Reply) -> list[str]:
    answer = reply.answer
    if answer is None:
        return [escape(str(reply.line.question.get("crop", ""))), "[bold]no advice[/]", "", "", "", ""]
    concave = setting(answer, "concave_clearance") or setting(answer, "concave_clearance_inlet")
    cells = []
    for found in (setting(answer, "threshing_speed"), concave, setting(answer, "ground_speed")):
        rpm = (
            [amount(one["start"]) for one in found["equivalents"] if one["code"] == "rotational_speed"] if found else []
        )
        cells.append("\n".join([amount(found["start"]), *rpm]) if found else "")
    limits = answer["ground_speed"]
    binding = next(one["name"] for one in limits["limits"] if one["code"] == limits["binding"])
    first = answer["first_step"]
    arrow = {"up": "+", "down": "-"}[first["direction"]]
    return [answer["crop"]["name"], *cells, binding, f"{first['name']} {arrow}{amount(first['step'])}"]


def card(line: PlanLine, answer: dict[str, Any]) -> str:
    """Return the card of a field: what to set, what to try, what to check, and on which table it rests."""
    words = WORDS[line.params.get("lang", "en")]
    sieves, first, knowledge = answer["sieve_designs"], answer["first_step"], answer["knowledge"]
    step = words[first["direction"]].format(step=amount(first["step"]))
    parts = [
        line.field,
        "=" * len(line.field),
        f"{answer['crop']['name']}, {answer['machine_class']['name']}",
        f"{words['sieves']}: {sieves['upper']['name']} / {sieves['lower']['name']}",
        "",
        *(_wrapped("! ", note["text"]) for note in answer["warnings"]),
        *(_setting_line(one, words["to"]) for one in answer["settings"]),
        "",
        _wrapped("", f"{words['first']}: {first['name']}, {step}. {first['why']['text']}"),
        "",
        *(_wrapped("[ ] ", note["text"]) for note in answer["checklist"]),
        "",
        *(_wrapped("! ", note["text"]) for note in answer["cautions"]),
        "",
        f"{words['table']} {knowledge['revision']} {knowledge['digest'][:23]}",
        words["end"],
    ]
    return "\n".join(parts) + "\n"


def _setting_line(one: dict[str, Any], to: str) -> str:
    also = "".join(f", {amount(same['start'])}" for same in one["equivalents"])
    ends = f"({one['low']['value']:g} {to} {one['high']['value']:g})"
    return f"{one['name']:<46}{amount(one['start']) + also:<22} {ends}"


def _wrapped(lead: str, text: str) -> str:
    return fill(text, CARD_WIDTH, initial_indent=lead, subsequent_indent=" " * len(lead))


def write_cards(replies: list[Reply], folder: Path) -> list[Path]:
    """Write a text file for each field that has an answer."""
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for reply in replies:
        if reply.answer is not None:
            name = re.sub(r"\W+", "_", reply.line.field).strip("_").lower()
            path = folder / f"{name}.txt"
            path.write_text(card(reply.line, reply.answer), encoding="utf-8")
            written.append(path)
    return written


def run(url: str, plan: Path, out: Path, console: Console) -> int:
    """Ask for the whole plan from one revision of the table, and tell how it went."""
    lines = read_plan(plan)
    with httpx.Client(base_url=url, timeout=10, trust_env=False) as client:
        revision = client.get("/v1/knowledge").raise_for_status().json()["knowledge"]["revision"]
        replies = [ask(client, line, revision) for line in lines]
    console.print(overview(replies))
    for reply in replies:
        for reason in reply.reasons:
            console.print(f"[bold]{escape(reply.line.field)}[/]: {escape(reason)}")
    written = write_cards(replies, out)
    console.print(f"{len(written)} of {len(lines)} cards written to {out}, knowledge table {revision}.", soft_wrap=True)
    return 0


def main() -> int:
    """Read the command line; every expected failure is told in words."""
    parser = argparse.ArgumentParser(description="Starting settings for every field of a season plan.")
    parser.add_argument("--url", default="http://127.0.0.1:8000", help="address of the service")
    parser.add_argument("--plan", type=Path, default=Path(__file__).with_name("season_plan.csv"), help="CSV file")
    parser.add_argument("--out", type=Path, default=Path("cards"), help="folder for the cards")
    arguments = parser.parse_args()
    console = Console() if sys.stdout.isatty() else Console(width=110)
    try:
        return run(arguments.url, arguments.plan, arguments.out, console)
    except (PlanError, OSError, csv.Error) as error:
        print(f"plan: {error}", file=sys.stderr)
    except httpx.HTTPError as error:
        print(f"service at {arguments.url}: {error}", file=sys.stderr)
    return 1


if __name__ == "__main__":
    sys.exit(main())
