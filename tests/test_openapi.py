"""The OpenAPI document: committed as served, valid, exact, and every example in it is asked."""

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import anyio
import httpx
import pytest
from jsonschema import Draft202012Validator
from openapi_spec_validator import validate
from referencing import Registry, Resource
from referencing.jsonschema import DRAFT202012

from service.api.app import openapi_text
from tests.coop import app_of, embedded_coop, headers

COMMITTED = Path(__file__).resolve().parent.parent / "openapi" / "openapi.json"
COOP = embedded_coop()
APP = app_of(COOP)
DOCUMENT = APP.openapi()
OPERATIONS = [
    (path, method, operation) for path, item in DOCUMENT["paths"].items() for method, operation in item.items()
]
IDS = [operation["operationId"] for _, _, operation in OPERATIONS]
VERBS = ("recommend", "assess", "list", "get", "create", "export", "withdraw", "erase", "publish", "restore")
SUCCESS = (200, 201, 207)
STORED = "019829d4-7c00-7a6b-9d1e-5b2f8c0a4e11"  # any record: no example can name one that is there


def ask(method: str, url: str, **more: Any) -> httpx.Response:
    async def send() -> httpx.Response:
        async with httpx.AsyncClient(transport=httpx.ASGITransport(APP), base_url="http://test") as client:
            own = headers(COOP.office if url.startswith("/v1/refinements") else COOP.farm) | dict(
                more.pop("headers", {})
            )
            return await client.request(method, url, headers=own, **more)

    return anyio.run(send)


def schema_of(operation: dict[str, Any], status: int, media: str) -> Draft202012Validator:
    schema = operation["responses"][str(status)]["content"][media]["schema"]
    root = Resource.from_contents(DOCUMENT, default_specification=DRAFT202012)
    pointed = json.loads(json.dumps(schema).replace('"#/', '"urn:document#/'))
    return Draft202012Validator(pointed, registry=Registry().with_resource("urn:document", root))


def elsewhere(path: str) -> bool:
    """Whether an address names something that no example can name: asked in test_feedback and test_refinements."""
    return "{id}" in path or "{organisation}" in path


def examples() -> Iterator[Any]:
    for path, method, operation in OPERATIONS:
        if elsewhere(path):
            continue
        body = operation.get("requestBody", {}).get("content", {}).get("application/json", {})
        for name, example in body.get("examples", {}).items():
            yield pytest.param(
                path, method, operation, {"json": example["value"]}, id=f"{operation['operationId']}: {name}"
            )
        if method == "get" and "export" not in path:
            values = {
                parameter["name"]: parameter["schema"].get("examples", [None])[0]
                for parameter in operation.get("parameters", [])
            }
            given = {name: value for name, value in values.items() if value is not None}
            url = path
            for parameter in operation.get("parameters", []):
                if parameter["in"] == "path":
                    url = url.replace(f"{{{parameter['name']}}}", str(given.pop(parameter["name"])))
            yield pytest.param(url, method, operation, {"params": given}, id=operation["operationId"])


def test_the_committed_document_is_the_one_that_is_served() -> None:
    assert COMMITTED.read_text(encoding="utf-8") == openapi_text(APP), (
        "run: threshbook openapi --write openapi/openapi.json"
    )
    assert ask("GET", "/openapi.json").json() == json.loads(COMMITTED.read_text(encoding="utf-8"))


def test_the_document_is_valid_openapi_3_1() -> None:
    validate(DOCUMENT)
    assert DOCUMENT["openapi"].startswith("3.1")


def test_every_example_is_found() -> None:
    asked_elsewhere = sum(method == "delete" or elsewhere(path) or "export" in path for path, method, _ in OPERATIONS)
    assert len(list(examples())) >= len(OPERATIONS) - asked_elsewhere + 3


@pytest.mark.parametrize(("path", "method", "operation", "more"), list(examples()))
def test_every_example_runs_and_its_answer_is_as_declared(
    path: str, method: str, operation: dict[str, Any], more: dict[str, Any]
) -> None:
    for units in ("metric", "us") if path.startswith("/v1") else ("",):
        params = more.get("params", {}) | ({"units": units} if units else {})
        answer = ask(method.upper(), path, **more | {"params": params})
        assert answer.status_code in SUCCESS, answer.text[:500]
        schema_of(operation, answer.status_code, "application/json").validate(answer.json())
        declared = operation["responses"][str(answer.status_code)].get("headers", {})
        assert set(declared) <= {name.title() if name != "etag" else "ETag" for name in answer.headers}


@pytest.mark.parametrize(("path", "method", "operation"), OPERATIONS, ids=IDS)
def test_every_operation_is_a_verb_with_words_and_a_tag(path: str, method: str, operation: dict[str, Any]) -> None:
    assert re.fullmatch(f"({'|'.join(VERBS)})[A-Z][A-Za-z]+", operation["operationId"])
    assert operation["summary"]
    assert len(operation["description"]) > 20
    assert operation["tags"][0] in {tag["name"] for tag in DOCUMENT["tags"]}


def test_operation_ids_are_unique() -> None:
    assert len(set(IDS)) == len(IDS)


@pytest.mark.parametrize(("path", "method", "operation"), OPERATIONS, ids=IDS)
def test_every_problem_that_an_address_gives_is_declared_with_its_schema(
    path: str, method: str, operation: dict[str, Any]
) -> None:
    named = {"{crop}": "barly", "{code}": "nothing", "{id}": STORED, "{organisation}": "nobody", "{number}": "1"}
    url = path
    for name, value in named.items():
        url = url.replace(name, value)
    tries: list[dict[str, Any]] = [
        {"headers": {"accept": "text/html"}},
        {"params": {"nonsense": "1"}},
        {"params": {"revision": "1999.1.1"}},
        {},
        {"json": {}},
        {"json": {}, "params": {"nonsense": "1"}},
        {"content": b"{", "headers": {"content-type": "application/json"}},
        {"content": b"{}", "headers": {"content-type": "text/plain"}},
    ]
    seen = set()
    for more in tries:
        answer = ask(method.upper(), url, **more)
        assert str(answer.status_code) in operation["responses"], (answer.status_code, more)
        if answer.status_code >= 400:
            seen.add(answer.status_code)
            schema_of(operation, answer.status_code, "application/problem+json").validate(answer.json())
            assert list(operation["responses"][str(answer.status_code)]["content"]) == ["application/problem+json"]
    if path.startswith("/v1"):
        assert {406, 422} <= seen
        assert "500" in operation["responses"]


def nodes(node: Any, where: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    if isinstance(node, dict):
        yield where, node
        for name, inner in node.items():
            if name not in ("example", "examples", "enum"):
                yield from nodes(inner, f"{where}/{name}")
    elif isinstance(node, list):
        for place, inner in enumerate(node):
            yield from nodes(inner, f"{where}/{place}")


def test_every_number_has_a_format_and_nothing_is_null() -> None:
    for where, node in nodes(DOCUMENT):
        if node.get("type") in ("number", "integer"):
            assert node.get("format") in ("double", "int32"), where
        assert node.get("type") != "null", where
        assert "anyOf" not in node or "Problem" not in where, where


def test_answers_have_open_names_and_requests_closed_lists() -> None:
    schemas = DOCUMENT["components"]["schemas"]
    requests = {name for name in schemas if name.endswith("Request")}
    for where, node in nodes(schemas):
        if "enum" in node:
            assert where.split("/")[1] in requests, where
    assert {name for name in schemas if "HTTPValidation" in name or name == "ValidationError"} == set()
    # two models of one name would be told apart by their modules
    assert {name for name in schemas if "__" in name} == set()


def test_every_field_of_a_request_is_described() -> None:
    for name in (name for name in DOCUMENT["components"]["schemas"] if name.endswith("Request")):
        schema = DOCUMENT["components"]["schemas"][name]
        assert schema["additionalProperties"] is False
        for field, inner in schema["properties"].items():
            assert inner.get("description"), f"{name}.{field}"


def test_get_takes_every_field_of_post_in_the_same_bounds() -> None:
    body = DOCUMENT["components"]["schemas"]["StartingSettingsRequest"]
    parameters = {one["name"]: one for one in DOCUMENT["paths"]["/v1/starting-settings"]["get"]["parameters"]}
    assert set(parameters) == set(body["properties"]) | {"units", "lang", "revision", "table"}
    assert {name for name, one in parameters.items() if one["required"]} == set(body["required"])
    for name, schema in body["properties"].items():
        twin = parameters[name]["schema"]
        for key in ("type", "minimum", "maximum", "enum", "minLength", "maxLength", "default"):
            assert schema.get(key) == twin.get(key), (name, key)


def test_every_address_of_the_application_is_documented() -> None:
    hidden = {"/docs", "/docs/start.js", "/openapi.json", "/static-offline-docs"}
    for path in ("/v1", "/v1/crops", "/healthz", "/problems"):
        assert path in DOCUMENT["paths"]
    assert not hidden & set(DOCUMENT["paths"])
