"""Every figure in tests/domain/check_values/*.csv is reproduced, and every formula has figures."""

import csv
from collections import Counter
from pathlib import Path

import pytest

from tests.check_values import KNOWN, STATUSES, Row, function_of, half_last_digit, outcome, rows
from tests.public_functions import public_functions

ROWS = rows()
FUNCTIONS = [(module, name) for module, name, _ in public_functions()]
EXEMPT_FILE = Path(__file__).parent / "domain" / "without_outside_value.csv"
OUTSIDE_AT_LEAST = 150


def exempt() -> dict[tuple[str, str], str]:
    with EXEMPT_FILE.open(newline="", encoding="utf-8") as file:
        return {(row["module"], row["function"]): row["reason"] for row in csv.DictReader(file, strict=True)}


def defined_in(row: Row) -> tuple[str, str]:
    """Module and name of the function itself, also when the row calls it through another module."""
    function = function_of(row)
    return function.__module__.rpartition(".")[2], row.function


@pytest.mark.parametrize("row", [pytest.param(row, id=row.name) for row in ROWS])
def test_value_is_reproduced(row: Row) -> None:
    result = outcome(row)
    assert result.passed, f"got {result.got}, {row.source} ({row.locator}) has {row.expected} +- {result.allowed:g}"


@pytest.mark.parametrize("row", [pytest.param(row, id=row.name) for row in ROWS])
def test_row_says_where_it_comes_from(row: Row) -> None:
    assert row.status in STATUSES
    assert row.known in KNOWN
    assert row.source
    assert row.locator
    assert row.unit
    assert bool(row.tolerance) == bool(row.reason), "a tolerance needs a reason, and a reason a tolerance"
    assert not (row.status in {"published", "standard"} and row.known in {"computed", "practice"})


def test_ids_are_unique() -> None:
    twice = [name for name, count in Counter(row.name for row in ROWS).items() if count > 1]
    assert not twice


def test_no_figure_of_a_source_stands_twice() -> None:
    calls = Counter((row.module, row.function, str(row.arguments), row.field, row.source) for row in ROWS)
    assert [call for call, count in calls.items() if count > 1] == []


def test_there_are_enough_figures_from_outside() -> None:
    assert sum(row.outside for row in ROWS) >= OUTSIDE_AT_LEAST


@pytest.mark.parametrize(("module", "name"), FUNCTIONS, ids=[".".join(pair) for pair in FUNCTIONS])
def test_function_has_a_figure_from_outside(module: str, name: str) -> None:
    outside = [row for row in ROWS if row.outside and defined_in(row) == (module, name)]
    if reason := exempt().get((module, name)):
        assert not outside, f"has {outside[0].name} now, strike it from {EXEMPT_FILE.name}"
        assert len(reason) > 10
    else:
        assert outside, f"no row with a figure from outside, nor a reason in {EXEMPT_FILE.name}"


def test_exempt_functions_exist() -> None:
    assert set(exempt()) <= set(FUNCTIONS)


@pytest.mark.parametrize(
    ("printed", "half"), [("13.2", 0.05), ("240", 0.5), ("0.4845", 0.00005), ("6.6612e-5", 5e-10), ("-1.0", 0.05)]
)
def test_tolerance_is_half_the_last_printed_digit(printed: str, half: float) -> None:
    assert half_last_digit(printed) == pytest.approx(half, rel=1e-12)


def test_a_wrong_figure_is_noticed() -> None:
    row = next(row for row in ROWS if not row.field and not row.tolerance and row.expected.count(".") == 1)
    shifted = str(float(row.expected) + 4 * half_last_digit(row.expected))
    wrong = Row(row.module, "wrong", row.function, row.arguments, shifted, row.unit, "none", "none", "computed")
    assert outcome(row).passed
    assert not outcome(wrong).passed
