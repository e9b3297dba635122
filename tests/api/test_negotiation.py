"""Methods, media types, languages, headers and the documentation pages."""

import re
from collections.abc import Callable
from typing import Any

import pytest
from fastapi import FastAPI

from service.api.app import create_app
from service.config import Settings

Refused = Callable[..., dict[str, Any]]
QUERY = {"crop": "wheat", "machine_class": "hybrid", "grain_moisture_pct": "14", "yield_t_ha": "8"}
ADDRESSES = [
    "/v1",
    "/v1/crops",
    "/v1/crops/wheat",
    "/v1/machine-classes",
    "/v1/relearn-tasks",
    "/v1/symptoms",
    "/v1/sources",
    "/v1/knowledge",
    "/healthz",
    "/readyz",
    "/version",
    "/problems",
    "/problems/not-found",
    "/openapi.json",
    "/docs",
]
JSON_ADDRESSES = [address for address in ADDRESSES if address.startswith("/v1")]


@pytest.mark.parametrize("address", [*ADDRESSES, "/v1/starting-settings", "/v1/ground-loss", "/v1/monitor-calibration"])
@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "QUERY", "TRACE"])
def test_another_method_is_refused_with_every_method_that_is_allowed(
    address: str, method: str, ask: Any, refused: Refused
) -> None:
    answer = ask(method, address)
    assert refused(answer, 405)["code"] == "method_not_allowed"
    allowed = {
        "/v1/starting-settings": "GET, HEAD, POST",
        "/v1/ground-loss": "POST",
        "/v1/monitor-calibration": "POST",
    }.get(address, "GET, HEAD")
    assert answer.headers["allow"] == allowed


@pytest.mark.parametrize("address", ADDRESSES)
def test_head_has_the_headers_of_get_and_no_body(address: str, ask: Any) -> None:
    head, get = ask("HEAD", address), ask("GET", address)
    assert head.status_code == get.status_code == 200
    assert head.content == b""
    assert head.headers == get.headers


@pytest.mark.parametrize("address", ["/", "/v1/", "/v1/crop", "/v2", "/v1/crops/wheat/x", "/%00", "/v1/%ff"])
def test_an_address_that_is_not_there_is_a_problem(address: str, ask: Any, refused: Refused) -> None:
    assert refused(ask("GET", address), 404)["code"] == "not_found"


@pytest.mark.parametrize("address", JSON_ADDRESSES)
@pytest.mark.parametrize(
    "accept", ["text/html", "application/xml", "application/json;q=0", "*/*;q=0", "application/json;q=0, */*"]
)
def test_a_reader_who_takes_no_json_is_told_so(address: str, accept: str, ask: Any, refused: Refused) -> None:
    assert refused(ask("GET", address, headers={"accept": accept}), 406)["code"] == "not_acceptable"


@pytest.mark.parametrize(
    "accept", ["application/json", "application/*", "*/*", "text/html, */*;q=0.1", "application/json;q=0.5", ""]
)
def test_a_reader_who_takes_json_gets_it(accept: str, ask: Any) -> None:
    assert ask("GET", "/v1/crops", headers={"accept": accept}).status_code == 200


@pytest.mark.parametrize(
    ("lang", "header", "spoken"),
    [
        (None, None, "en"),
        ("de", None, "de"),
        ("de-AT", None, "de"),
        ("en", "de", "en"),
        (None, "de-CH, fr;q=0.9", "de"),
        (None, "fr, de;q=0.2, en;q=0.1", "de"),
        (None, "fr", "en"),
        (None, "!!!;q=x", "en"),
    ],
)
def test_the_language_is_what_was_asked_for_else_the_best_of_the_header(
    lang: str | None, header: str | None, spoken: str, ask: Any
) -> None:
    params = QUERY | ({"lang": lang} if lang else {})
    answer = ask("GET", "/v1/starting-settings", params=params, headers={"accept-language": header} if header else {})
    assert answer.headers["content-language"] == spoken
    assert answer.json()["crop"]["name"] == {"en": "Wheat", "de": "Weizen"}[spoken]
    assert "Accept-Language" in answer.headers["vary"]


def test_problems_speak_the_reader_s_language_and_keep_their_code(ask: Any, refused: Refused) -> None:
    wrong = QUERY | {"grain_moisture_pct": "0.145"}
    english = refused(ask("GET", "/v1/starting-settings", params=wrong), 422)
    answer = ask("GET", "/v1/starting-settings", params=wrong | {"lang": "de"})
    german = refused(answer, 422)
    assert answer.headers["content-language"] == "de"
    assert english["code"] == german["code"]
    assert english["title"] != german["title"]
    assert "14.5" in english["detail"]
    assert "14,5" in german["detail"]


def test_a_language_that_is_not_spoken_is_refused_when_asked_for(ask: Any, refused: Refused) -> None:
    problem = refused(ask("GET", "/v1/crops", params={"lang": "fr"}), 422)
    assert problem["errors"][0] == {
        "parameter": "lang",
        "code": "unknown_name",
        "detail": problem["errors"][0]["detail"],
        "allowed": ["en", "de"],
    }


@pytest.mark.parametrize("address", ADDRESSES)
def test_every_answer_has_the_safety_headers_and_the_state_of_the_table(address: str, ask: Any) -> None:
    headers = ask("GET", address).headers
    version = ask("GET", "/version").json()
    assert headers["x-content-type-options"] == "nosniff"
    assert "default-src 'none'" in headers["content-security-policy"]
    assert headers["threshbook-revision"] == version["revision"]
    assert headers["threshbook-digest"] == version["digest"]


def test_a_page_of_any_origin_may_read(ask: Any) -> None:
    origin = {"origin": "https://farm.example"}
    answer = ask("GET", "/v1/crops", headers=origin)
    assert answer.headers["access-control-allow-origin"] == "*"
    for exposed in ("ETag", "Content-Language", "Threshbook-Revision", "Threshbook-Digest", "Retry-After", "Allow"):
        assert exposed in answer.headers["access-control-expose-headers"]
    preflight = ask(
        "OPTIONS",
        "/v1/starting-settings",
        headers=origin | {"access-control-request-method": "POST", "access-control-request-headers": "content-type"},
    )
    assert preflight.status_code == 200
    assert preflight.headers["access-control-max-age"] == "7200"
    assert ask("GET", "/v1/crops/barly", headers=origin).headers["access-control-allow-origin"] == "*"


def test_origins_can_be_limited(asking: Any) -> None:
    ask = asking(create_app(Settings(cors_origins=("https://coop.example",))))
    ours = ask("GET", "/v1", headers={"origin": "https://coop.example"})
    other = ask("GET", "/v1", headers={"origin": "https://other.example"})
    assert ours.headers["access-control-allow-origin"] == "https://coop.example"
    assert "access-control-allow-origin" not in other.headers
    assert "Origin" in other.headers["vary"]


def test_the_documentation_needs_nothing_from_elsewhere_and_keeps_its_own_policy(ask: Any) -> None:
    page = ask("GET", "/docs")
    assert not re.search(r"(https?:)?//", page.text.replace("<!DOCTYPE html>", ""))
    assert "<script>" not in page.text
    policy = page.headers["content-security-policy"]
    assert "script-src 'self';" in policy
    for address in re.findall(r'(?:src|href)="(/[^"]+)"', page.text):
        found = ask("GET", address)
        assert found.status_code == 200, address
        assert not re.search(rb"@import|url\(\s*['\"]?https?:", found.content)


def test_a_mistake_of_the_program_tells_nothing_of_itself(
    app: FastAPI, ask: Any, refused: Refused, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError("inner secret")

    monkeypatch.setattr("service.api.routes.advice.recommend", broken)
    answer = ask("GET", "/v1/starting-settings", params=QUERY, headers={"origin": "https://farm.example"})
    assert refused(answer, 500)["code"] == "internal_error"
    assert "secret" not in answer.text
    assert "ZeroDivision" not in answer.text
    assert answer.headers["access-control-allow-origin"] == "*"
    assert "inner secret" in caplog.text


def test_readiness_fails_without_a_table(asking: Any, refused: Refused) -> None:
    app = create_app(Settings())
    app.state.table = None
    ask = asking(app)
    answer = ask("GET", "/readyz")
    assert refused(answer, 503)["code"] == "not_ready"
    assert answer.headers["retry-after"] == "1"
    assert ask("GET", "/healthz").json() == {"status": "ok"}
