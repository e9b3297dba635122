"""The OpenAPI document: FastAPI's own, made exact.

Inside: the schema of a problem, formats of numbers, optional fields without null, no leftovers.
Outside: what each route declares (`declaring`).
"""

import json
from typing import Any, Final

from fastapi import FastAPI

from service.api.problems import Problem

DESCRIPTION: Final = """Settings, losses and the next adjustment of a grain combine harvester, from a
versioned and source-cited knowledge table.

* Every number has its unit (UCUM); `units=us` converts all of them.
* Every figure tells how it is known, and where it stands.
* A request that cannot be answered gets a problem (RFC 9457) that names the field and, for a
  misspelt name, the nearest ones.
* Clients ignore fields and names that they do not know; within v1 both are only ever added.

The advice is a place to start. The machine's own manual, local rules and the person in the cab decide.
"""
TAGS: Final = [
    {
        "name": "advice",
        "description": "Starting settings, ground losses, next adjustment, loss monitor, speed, relearning.",
    },
    {"name": "local tables", "description": "What an organisation learnt from its feedback: drafts, review, tables."},
    {"name": "feedback", "description": "What was set and what came of it, of one organisation; needs a key."},
    {"name": "knowledge", "description": "The table that the advice rests on."},
    {"name": "service", "description": "Index, health, version, problems."},
]


def install(app: FastAPI) -> None:
    """Replace the application's document by the exact one, made once."""
    plain = app.openapi

    def openapi() -> dict[str, Any]:
        if app.openapi_schema is None:
            document = plain()
            schemas = document.setdefault("components", {}).setdefault("schemas", {})
            problem = Problem.model_json_schema(ref_template="#/components/schemas/{model}")
            schemas.update(problem.pop("$defs", {}))
            schemas["Problem"] = problem
            _forget_own_errors(document)
            app.openapi_schema = exact(document)
        return app.openapi_schema

    app.openapi = openapi  # type: ignore[method-assign]


def _forget_own_errors(document: dict[str, Any]) -> None:
    """Drop FastAPI's error answer where a route declares none: a path of text alone cannot be wrong in kind."""
    for item in document["paths"].values():
        for operation in item.values():
            answers = operation["responses"]
            if "HTTPValidationError" in json.dumps(answers.get("422", {})):
                del answers["422"]
    for name in ("HTTPValidationError", "ValidationError"):
        document["components"]["schemas"].pop(name, None)


def exact(node: Any) -> Any:
    """Return a part of the document with formats on numbers, without null and generated titles."""
    if isinstance(node, list):
        return [exact(one) for one in node]
    if not isinstance(node, dict):
        return node
    node = {name: inner if name in ("example", "examples", "enum") else exact(inner) for name, inner in node.items()}
    if isinstance(node.get("anyOf"), list):
        node = _without_null(node)
    if node.get("type") == "number":
        node.setdefault("format", "double")
    elif node.get("type") == "integer":
        node.setdefault("format", "int32")
    if "default" in node and node["default"] is None:
        del node["default"]
    if isinstance(node.get("title"), str) and ("type" in node or "$ref" in node or "anyOf" in node):
        del node["title"]
    return node


def _without_null(node: dict[str, Any]) -> dict[str, Any]:
    """An optional field is left out, never null, so its schema is that of its value."""
    kinds = [one for one in node["anyOf"] if one != {"type": "null"}]
    rest = {name: inner for name, inner in node.items() if name != "anyOf"}
    return {**kinds[0], **rest} if len(kinds) == 1 else {**rest, "anyOf": kinds}


def openapi_text(app: FastAPI) -> str:
    """Return the document as it is committed: sorted, so that a change shows as a change."""
    return json.dumps(app.openapi(), indent=1, sort_keys=True, ensure_ascii=False, allow_nan=False) + "\n"
