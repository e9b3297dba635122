"""The docstring is part of the contract: unit of every number, range, errors, source, example."""

import ast
import doctest
import inspect
import re
import textwrap
from collections.abc import Callable, Iterator
from types import ModuleType

import pytest
from numpydoc.docscrape import FunctionDoc

import service.units
from service.errors import ServiceError
from tests.public_functions import domain_modules, public_functions

DOMAIN = [(module, name, function) for module, name, function in public_functions() if module != "units"]
UNIT = re.compile(r"(?:^|\s)\[[^ \]].*\]$")  # UCUM codes hold brackets themselves: [[lb_av]/[bu_us]]
ERRORS = {cls.__name__ for cls in ServiceError.__subclasses__()} | {
    sub.__name__ for cls in ServiceError.__subclasses__() for sub in cls.__subclasses__()
}


def names(entry: str) -> list[str]:
    """numpydoc joins 'A, B' into one entry."""
    return [name.strip().lstrip("*") for name in entry.split(",")]


def raised_by(function: Callable[..., object], seen: set[object] | None = None) -> set[str]:
    """Errors that a function can raise itself or through what it calls in the domain.

    Unit conversions are not followed: the codes in formulas are constants.
    """
    seen = set() if seen is None else seen
    if function in seen:
        return set()
    seen.add(function)
    tree = ast.parse(textwrap.dedent(inspect.getsource(function)))
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call) and isinstance(node.exc.func, ast.Name):
            found.add(node.exc.func.id)
        if isinstance(node, ast.Name | ast.Attribute):
            for called in _resolved(node, function.__globals__):  # type: ignore[attr-defined]
                found |= raised_by(called, seen)
    return found & ERRORS


def _resolved(node: ast.Name | ast.Attribute, scope: dict[str, object]) -> Iterator[Callable[..., object]]:
    """The domain function that a name or `module.name` stands for; tables of functions too."""
    if isinstance(node, ast.Name):
        value = scope.get(node.id)
    elif isinstance(node.value, ast.Name) and isinstance(module := scope.get(node.value.id), ModuleType):
        value = getattr(module, node.attr, None)
    else:
        return
    for item in value.values() if isinstance(value, dict) else (value,):
        if inspect.isfunction(item) and item.__module__.startswith("service.domain."):
            yield item


@pytest.mark.parametrize(
    "function", [pytest.param(function, id=f"{module}.{name}") for module, name, function in DOMAIN]
)
class TestDomainFunction:
    def test_parameters_are_those_of_the_signature(self, function: Callable[..., object]) -> None:
        written = [name for entry in FunctionDoc(function)["Parameters"] for name in names(entry.name)]
        assert written == list(inspect.signature(function).parameters)

    def test_every_number_has_a_unit(self, function: Callable[..., object]) -> None:
        doc = FunctionDoc(function)
        entries = [*doc["Parameters"], *doc["Returns"]]
        numbers = [entry for entry in entries if re.search(r"float|array|Interval", f"{entry.name} {entry.type}")]
        without = [entry.name or entry.type for entry in numbers if not UNIT.search(" ".join(entry.desc).strip())]
        assert not without, f"no [unit] at the end: {', '.join(without)}"

    def test_the_answer_is_told(self, function: Callable[..., object]) -> None:
        if inspect.signature(function).return_annotation not in (None, "None"):
            assert FunctionDoc(function)["Returns"]

    def test_source_and_example_are_there(self, function: Callable[..., object]) -> None:
        doc = FunctionDoc(function)
        assert doc["References"], "no source"
        assert ">>>" in "\n".join(doc["Examples"]), "no example"
        assert doc["Summary"], "no summary"

    def test_every_error_is_told(self, function: Callable[..., object]) -> None:
        told = {entry.type or entry.name for entry in FunctionDoc(function)["Raises"]}
        assert raised_by(function) == told & ERRORS


def test_errors_are_found_through_calls() -> None:
    by_name = {f"{module}.{name}": function for module, name, function in DOMAIN}
    assert raised_by(by_name["moisture.shrink_pct"]) == {"OutOfRange"}
    assert raised_by(by_name["equilibrium.equilibrium_moisture_wb_pct"]) == {"OutOfRange", "UnknownName"}


@pytest.mark.parametrize("module", [*domain_modules(), service.units], ids=lambda module: module.__name__)
def test_examples_run(module: ModuleType) -> None:
    failed, tried = doctest.testmod(module)
    assert failed == 0
    assert tried > 0 or not list(public_functions_of(module))


def public_functions_of(module: ModuleType) -> list[str]:
    return [name for stem, name, _ in public_functions() if module.__name__ == f"service.domain.{stem}"]
