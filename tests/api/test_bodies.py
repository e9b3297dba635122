"""Bodies that are not what they should be, down to the bytes."""

import json
from collections.abc import Callable
from typing import Any

import anyio
import pytest
from fastapi import FastAPI

JSON = {"content-type": "application/json"}
PATHS = ["/v1/starting-settings", "/v1/ground-loss", "/v1/monitor-calibration", "/v1/next-adjustment"]
Refused = Callable[..., dict[str, Any]]
WHEAT = {"crop": "wheat", "machine_class": "hybrid", "grain_moisture_pct": 14, "yield_t_ha": 8}


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize(
    ("body", "status", "code"),
    [
        (b"{", 400, "malformed_json"),
        (b"{'crop': 'wheat'}", 400, "malformed_json"),
        (b'{"crop": "wheat",}', 400, "malformed_json"),
        (b'{"crop": "wheat"} x', 400, "malformed_json"),
        (b"9" * 5000, 400, "malformed_json"),
        (b'{"crop": "wh\xffeat"}', 400, "invalid_encoding"),
        (json.dumps(WHEAT).encode("utf-16"), 400, "invalid_encoding"),
        (b"[" * 60_000, 400, "too_deep"),
        (b'{"a":' * 10_000 + b"1" + b"}" * 10_000, 400, "too_deep"),
        (b"[" * 900 + b"]" * 900, 422, "wrong_type"),
        (b"[]", 422, "wrong_type"),
        (b'"wheat"', 422, "wrong_type"),
        (b"1", 422, "wrong_type"),
        (b"null", 422, "wrong_type"),
        (b"", 422, "required"),
        (b"{}", 422, "required"),
        (b'{"\\ud800": 1}', 422, "bad_text"),
    ],
    ids=lambda value: str(value)[:30],
)
def test_a_body_that_is_no_object_of_known_fields_is_refused(
    path: str, body: bytes, status: int, code: str, ask: Any, refused: Refused
) -> None:
    assert refused(ask("POST", path, content=body, headers=JSON), status)["code"] == code


@pytest.mark.parametrize(
    ("path", "body", "pointer"),
    [
        (PATHS[0], b'{"crop": "wheat", "crop": "barley"}', "/crop"),
        (PATHS[1], b'{"frames": [{"place": "standing"}, {"kernels": [1], "kernels": [2]}]}', "/frames/1/kernels"),
        (PATHS[0], b'{"a/b~c": {"x": 1, "x": 2}}', "/a~1b~0c/x"),
    ],
)
def test_a_field_given_twice_is_refused_with_its_place(
    path: str, body: bytes, pointer: str, ask: Any, refused: Refused
) -> None:
    problem = refused(ask("POST", path, content=body, headers=JSON), 400)
    assert problem["code"] == "duplicate_key"
    assert [item["pointer"] for item in problem["errors"]] == [pointer]


def test_a_byte_order_mark_is_tolerated(ask: Any) -> None:
    plain = ask("POST", PATHS[0], content=json.dumps(WHEAT).encode(), headers=JSON)
    marked = ask("POST", PATHS[0], content=b"\xef\xbb\xbf" + json.dumps(WHEAT).encode(), headers=JSON)
    assert plain.status_code == 200
    assert marked.content == plain.content


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"content-type": "text/plain"},
        {"content-type": "application/x-www-form-urlencoded"},
        {"content-type": "application/json; charset=latin-1"},
        {"content-type": "application/xml"},
        {"content-type": ""},
        {"content-type": "application/json", "content-encoding": "gzip"},
    ],
    ids=str,
)
def test_what_is_not_json_is_refused_and_told_what_is_taken(
    path: str, headers: dict[str, str], ask: Any, refused: Refused
) -> None:
    answer = ask("POST", path, content=json.dumps(WHEAT).encode(), headers=headers)
    assert refused(answer, 415)["code"] == "unsupported_media_type"
    assert answer.headers["accept-post"] == "application/json"


@pytest.mark.parametrize("media", ["application/json", "APPLICATION/JSON", "application/json; charset=UTF-8"])
def test_json_is_taken_however_its_type_is_written(media: str, ask: Any) -> None:
    answer = ask("POST", PATHS[0], content=json.dumps(WHEAT).encode(), headers={"content-type": media})
    assert answer.status_code == 200


@pytest.mark.parametrize("path", [*PATHS, "/v1/crops", "/healthz", "/nowhere"])
def test_a_body_over_the_limit_is_refused_by_its_declared_length(path: str, ask: Any, refused: Refused) -> None:
    answer = ask("POST", path, content=b" " * 65_537, headers=JSON)
    assert refused(answer, 413)["code"] == "body_too_large"


@pytest.mark.parametrize("path", PATHS)
def test_a_body_at_the_limit_is_read(path: str, ask: Any, refused: Refused) -> None:
    assert refused(ask("POST", path, content=b"{}".ljust(65_536), headers=JSON), 422)["code"] == "required"


@pytest.mark.parametrize("path", PATHS)
def test_a_body_without_declared_length_is_counted_and_refused_before_it_is_whole(path: str, app: FastAPI) -> None:
    sent, answers = 0, []

    async def receive() -> dict[str, Any]:
        nonlocal sent
        sent += 1
        return {"type": "http.request", "body": b" " * 8192, "more_body": True}

    async def send(message: Any) -> None:
        answers.append(message)

    scope = {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": "POST",
        "scheme": "http",
        "path": path,
        "raw_path": path.encode(),
        "query_string": b"",
        "root_path": "",
        "headers": [(b"content-type", b"application/json"), (b"transfer-encoding", b"chunked")],
        "server": ("test", 80),
        "client": ("test", 1),
    }
    anyio.run(app, scope, receive, send)
    assert answers[0]["status"] == 413
    assert (b"content-type", b"application/problem+json") in answers[0]["headers"]
    assert json.loads(answers[1]["body"])["code"] == "body_too_large"
    assert sent == 9


@pytest.mark.parametrize("length", ["-1", "x", "1" * 400, "6.5"])
def test_a_nonsense_length_does_no_harm(length: str, ask: Any) -> None:
    answer = ask("POST", PATHS[0], content=json.dumps(WHEAT).encode(), headers=JSON | {"content-length": length})
    assert answer.status_code in (200, 413)
