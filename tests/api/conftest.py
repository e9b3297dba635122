"""The application in this process, asked without a socket."""

import json
from collections.abc import Callable, Iterator
from typing import Any

import anyio.from_thread
import httpx
import pytest
from fastapi import FastAPI

from tests.coop import Coop, app_of, embedded_coop, headers
from tests.local_tables import HILLS, finding

PROBLEM = "application/problem+json"
Ask = Callable[..., httpx.Response]


@pytest.fixture(scope="session")
def coop() -> Coop:
    return embedded_coop()


@pytest.fixture(scope="session")
def app(coop: Coop) -> FastAPI:
    made = app_of(coop)
    made.state.active_table = finding(HILLS, made.state.active_table)
    return made


@pytest.fixture(scope="session")
def asking() -> Iterator[Callable[[FastAPI], Ask]]:
    """Make a blocking client of an application; an error that leaves the application fails the test."""
    with anyio.from_thread.start_blocking_portal() as portal:

        def client_of(app: FastAPI) -> Ask:
            transport = httpx.ASGITransport(app, raise_app_exceptions=True)

            async def send(method: str, url: str, **more: Any) -> httpx.Response:
                async with httpx.AsyncClient(transport=transport, base_url="http://test") as client:
                    return await client.request(method, url, **more)

            return lambda method, url, **more: portal.call(lambda: send(method, url, **more))

        yield client_of


@pytest.fixture(scope="session")
def ask(app: FastAPI, coop: Coop, asking: Callable[[FastAPI], Ask]) -> Ask:
    """Ask with a key of a contributor and a fresh idempotency key; advice overlooks both."""
    plain = asking(app)
    return lambda method, url, **more: plain(
        method, url, **more | {"headers": headers(coop.farm) | dict(more.get("headers") or {})}
    )


@pytest.fixture(scope="session")
def document(app: FastAPI) -> dict[str, Any]:
    return app.openapi()


@pytest.fixture(scope="session")
def refused() -> Callable[..., dict[str, Any]]:
    """Check the shape of a problem answer and return it; nothing of it may be missing or too much."""

    def check(answer: httpx.Response, status: int | tuple[int, ...]) -> dict[str, Any]:
        statuses = (status,) if isinstance(status, int) else status
        assert answer.status_code in statuses, f"{answer.status_code} {answer.text[:600]}"
        assert answer.headers["content-type"] == PROBLEM
        problem: dict[str, Any] = json.loads(answer.content.decode("utf-8"), parse_constant=pytest.fail)
        assert set(problem) == {"type", "title", "status", "detail", "instance", "code", "errors"}
        assert problem["status"] == answer.status_code
        assert problem["type"] == "/problems/" + problem["code"].replace("_", "-")
        assert problem["instance"] == answer.request.url.raw_path.decode().partition("?")[0]
        assert problem["title"]
        assert problem["detail"]
        for item in problem["errors"]:
            assert ("pointer" in item) != ("parameter" in item), item
            assert item["code"]
            assert item["detail"]
            extra = {"allowed", "nearest", "suggested", "unit", "low", "high"}
            assert set(item) <= {"pointer", "parameter", "code", "detail", *extra}
        for header in ("x-content-type-options", "content-security-policy", "content-language"):
            assert header in answer.headers
        assert answer.headers["cache-control"] == "no-store"
        return problem

    return check
