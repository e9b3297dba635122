"""Public functions of the units and the domain, found by walking the packages."""

import importlib
import inspect
import pkgutil
from collections.abc import Callable, Iterator
from types import ModuleType

import service.domain
import service.units


def domain_modules() -> list[ModuleType]:
    """Every module of the domain."""
    walk = pkgutil.walk_packages(service.domain.__path__, "service.domain.")
    return [importlib.import_module(found.name) for found in walk]


def functions_of(module: ModuleType) -> Iterator[tuple[str, Callable[..., object]]]:
    """Public functions that a module defines itself, not those it hands on."""
    for name, function in inspect.getmembers(module, inspect.isfunction):
        if function.__module__ == module.__name__ and not name.startswith("_"):
            yield name, function


def public_functions() -> list[tuple[str, str, Callable[..., object]]]:
    """Module stem, name and function of everything public in the domain and the units."""
    return [
        (module.__name__.rpartition(".")[2], name, function)
        for module in [*domain_modules(), service.units]
        for name, function in functions_of(module)
    ]
