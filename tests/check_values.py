"""Published and exact figures that the formulas must reproduce, one CSV file per module.

A reviewer compares a row with the page it cites without reading Python. Columns: id, function,
arguments (JSON), expected (as printed), unit, source, locator, status; optional: known (how the
figure is known), field (part of a dataclass result, dots between steps), tolerance with its reason.

python -m tests checks     print every row with what the code gives
"""

import csv
import importlib
import json
import math
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any

import numpy as np
from rich.console import Console
from rich.table import Table

from service.domain.linear_fit import Line
from service.domain.monitor_line import ErrorModel, MonitorPair
from service.domain.refinement_types import Layout
from service.domain.types import Interval

FOLDER = Path(__file__).parent / "domain" / "check_values"
REQUIRED = ("id", "function", "arguments", "expected", "unit", "source", "locator", "status")
OPTIONAL = ("known", "field", "tolerance", "reason")
# computed: our own arithmetic on the named formula; guards against change, proves nothing
STATUSES = ("published", "standard", "definition", "library", "computed")
RECORDS: tuple[type[Any], ...] = (Interval, Line, MonitorPair, ErrorModel, Layout)
KNOWN = ("", "read", "read_secondhand", "memory", "computed", "derived", "practice")


@dataclass(frozen=True, slots=True)
class Row:
    """One figure: which call must give it, and where it is printed."""

    module: str
    id: str
    function: str
    arguments: Mapping[str, Any]
    expected: str
    unit: str
    source: str
    locator: str
    status: str
    known: str = ""
    field: str = ""
    tolerance: str = ""
    reason: str = ""

    @property
    def name(self) -> str:
        return f"{self.module}:{self.id}"

    @property
    def outside(self) -> bool:
        """Whether the figure comes from anywhere but our own arithmetic."""
        return self.status != "computed"


@dataclass(frozen=True, slots=True)
class Outcome:
    """What the code gives for a row."""

    got: object
    allowed: float
    passed: bool


def rows() -> list[Row]:
    """Every row of every file, in file order."""
    return [row for path in sorted(FOLDER.glob("*.csv")) for row in _read(path)]


def half_last_digit(printed: str) -> float:
    """Half a unit of the last printed digit: '13.2' gives 0.05, '240' gives 0.5."""
    exponent = Decimal(printed).as_tuple().exponent
    if not isinstance(exponent, int):
        raise TypeError(f"{printed} is not a finite number")
    return float(Decimal(1).scaleb(exponent) / 2)


def function_of(row: Row) -> Callable[..., object]:
    """The function that a row calls; `units` stands beside the domain, not in it."""
    path = "service.units" if row.module == "units" else f"service.domain.{row.module}"
    function: Callable[..., object] = getattr(importlib.import_module(path), row.function)
    return function


def outcome(row: Row) -> Outcome:
    """Call the function of a row and compare."""
    got = function_of(row)(**{name: _argument(value) for name, value in row.arguments.items()})
    for step in filter(None, row.field.split(".")):
        got = got[int(step)] if isinstance(got, list | tuple | np.ndarray) and step.isdigit() else getattr(got, step)
    got = got.item() if isinstance(got, np.generic) else got
    try:
        expected = float(Decimal(row.expected))
    except InvalidOperation:  # a name, not a number
        return Outcome(got, 0.0, str(got) == row.expected)
    if not isinstance(got, int | float):
        return Outcome(got, 0.0, passed=False)
    allowed = float(row.tolerance) if row.tolerance else half_last_digit(row.expected)
    # the last term forgives the binary form of a decimal, not a digit
    slack = allowed * 1e-9 + 4 * math.ulp(expected)
    return Outcome(got, allowed, abs(got - expected) <= allowed + slack)


def print_table() -> int:
    """Print every row with source, expected and got; returns 1 if a row fails."""
    console = Console(soft_wrap=True) if Console().width >= 120 else Console(width=160, soft_wrap=True)
    table = Table("check value", "expected", "got", "unit", "status", "known", "source", "", title="Check values")
    failed, statuses = 0, Counter[str]()
    for row in rows():
        result = outcome(row)
        failed += not result.passed
        statuses[row.status] += 1
        mark = "[green]pass[/]" if result.passed else "[bold red]FAIL[/]"
        source = f"{row.source}, {row.locator}"
        table.add_row(row.name, row.expected, _short(result.got), row.unit, row.status, row.known, source, mark)
    console.print(table)
    counts = ", ".join(f"{count} {status}" for status, count in statuses.most_common())
    console.print(f"{sum(statuses.values()) - failed} of {sum(statuses.values())} pass: {counts}")
    return int(failed > 0)


def _read(path: Path) -> list[Row]:
    with path.open(newline="", encoding="utf-8") as file:
        reader = csv.DictReader(file, strict=True)
        names = tuple(reader.fieldnames or ())
        if missing := set(REQUIRED) - set(names):
            raise ValueError(f"{path.name}: columns missing: {', '.join(sorted(missing))}")
        if unknown := set(names) - set(REQUIRED) - set(OPTIONAL):
            raise ValueError(f"{path.name}: columns unknown: {', '.join(sorted(unknown))}")
        return [_row(path, number, cells) for number, cells in enumerate(reader, 2)]


def _row(path: Path, number: int, cells: dict[str, str]) -> Row:
    if None in cells or None in cells.values():
        raise ValueError(f"{path.name}: row {number} has not as many cells as the header")
    try:
        arguments = json.loads(cells["arguments"])
    except json.JSONDecodeError as error:
        raise ValueError(f"{path.name}: row {number}: arguments: {error}") from error
    return Row(path.stem, **{**cells, "arguments": arguments})


def _argument(value: object) -> object:
    """JSON as an argument: an object with the fields of a record of the domain is that record."""
    if isinstance(value, dict):
        for record in RECORDS:
            if set(value) == {one.name for one in fields(record)}:
                return record(**value)
    if isinstance(value, list):
        return [_argument(item) for item in value]
    return value


def _short(value: object) -> str:
    return f"{value:.7g}" if isinstance(value, float) else str(value)
