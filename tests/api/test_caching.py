"""Validators, conditional requests, what may be kept how long, and GET against POST."""

from collections.abc import Callable
from typing import Any

import pytest

Refused = Callable[..., dict[str, Any]]
QUERY = {"crop": "wheat", "machine_class": "hybrid", "grain_moisture_pct": "14", "yield_t_ha": "8"}
BODY = {"crop": "wheat", "machine_class": "hybrid", "grain_moisture_pct": 14, "yield_t_ha": 8}
CACHED = ["/v1", "/v1/crops", "/v1/crops/wheat", "/v1/machine-classes", "/v1/sources", "/v1/knowledge"]
CACHED += ["/v1/relearn-tasks"]
CACHED += ["/v1/symptoms"]
CACHED += ["/v1/starting-settings?" + "&".join(f"{name}={value}" for name, value in QUERY.items())]
PLAIN = {"accept-encoding": "identity"}


def more(address: str, addition: str) -> str:
    return f"{address}{'&' if '?' in address else '?'}{addition}"


@pytest.mark.parametrize("address", CACHED)
def test_the_same_question_has_the_same_bytes_and_tag(address: str, ask: Any) -> None:
    one, two = ask("GET", address, headers=PLAIN), ask("GET", address, headers=PLAIN)
    assert one.content == two.content
    assert one.headers["etag"] == two.headers["etag"]
    assert one.headers["etag"].startswith('"')
    assert one.headers["cache-control"] == "public, max-age=300, stale-while-revalidate=86400, stale-if-error=604800"


@pytest.mark.parametrize("address", CACHED)
def test_two_answers_have_the_same_tag_exactly_when_they_have_the_same_bytes(address: str, ask: Any) -> None:
    variants = [address, more(address, "lang=de"), more(address, "units=us"), more(address, "units=us&lang=de")]
    answers = [ask("GET", one, headers=PLAIN) for one in variants]
    assert len({one.headers["etag"] for one in answers}) == len({one.content for one in answers})
    by_header = ask("GET", address, headers=PLAIN | {"accept-language": "de"})
    assert by_header.content == answers[1].content
    assert by_header.headers["etag"] == answers[1].headers["etag"]


def test_every_part_of_a_question_changes_the_tag_of_its_answer(ask: Any) -> None:
    variants = [{}, {"units": "us"}, {"lang": "de"}, {"grain_moisture_pct": "15"}, {"crop": "rye"}, {"use": "seed"}]
    tags = {ask("GET", "/v1/starting-settings", params=QUERY | one, headers=PLAIN).headers["etag"] for one in variants}
    assert len(tags) == len(variants)


@pytest.mark.parametrize("address", CACHED)
@pytest.mark.parametrize("coding", ["identity", "gzip"])
def test_who_holds_the_answer_gets_304_without_a_body(address: str, coding: str, ask: Any) -> None:
    first = ask("GET", address, headers={"accept-encoding": coding})
    tag = first.headers["etag"]
    for held in (tag, f"W/{tag}", f'"other", {tag}', "*"):
        answer = ask("GET", address, headers={"accept-encoding": coding, "if-none-match": held})
        assert answer.status_code == 304
        assert answer.content == b""
        for header in ("cache-control", "vary", "content-language"):
            assert answer.headers[header] == first.headers[header]
    same = ask("GET", address, headers={"accept-encoding": coding, "if-none-match": tag})
    assert same.headers["etag"] == tag
    assert ask("GET", address, headers={"if-none-match": '"other"'}).status_code == 200


def test_compressed_bytes_have_a_tag_of_their_own(ask: Any) -> None:
    packed, plain = ask("GET", "/v1/crops", headers={"accept-encoding": "gzip"}), ask("GET", "/v1/crops", headers=PLAIN)
    assert packed.headers["content-encoding"] == "gzip"
    assert packed.content == plain.content
    assert packed.headers["etag"] != plain.headers["etag"]
    assert [name.strip() for name in packed.headers["vary"].split(",")].count("Accept-Encoding") == 1


@pytest.mark.parametrize("address", CACHED)
def test_a_pinned_revision_may_be_kept_for_ever_and_another_one_is_not_found(
    address: str, ask: Any, refused: Refused
) -> None:
    revision = ask("GET", "/version").json()["revision"]
    pinned = ask("GET", more(address, f"revision={revision}"))
    assert (
        pinned.headers["cache-control"]
        == "public, max-age=86400, stale-while-revalidate=604800, stale-if-error=2592000"
    )
    assert pinned.content == ask("GET", address).content
    problem = refused(ask("GET", more(address, "revision=1999.1.1")), 404)
    assert problem["errors"][0]["allowed"] == [revision]


def test_post_may_pin_too_and_is_never_stored(ask: Any, refused: Refused) -> None:
    revision = ask("GET", "/version").json()["revision"]
    answer = ask("POST", f"/v1/starting-settings?revision={revision}", json=BODY)
    assert answer.status_code == 200
    assert answer.headers["cache-control"] == "no-store"
    assert "etag" not in answer.headers
    refused(ask("POST", "/v1/starting-settings?revision=1999.1.1", json=BODY), 404)


@pytest.mark.parametrize("reader", ["", "units=us", "lang=de", "units=us&lang=de"])
@pytest.mark.parametrize(
    "question",
    [
        {},
        {"yield_bu_ac": 120, "yield_t_ha": None},
        {"cut_width_ft": 30, "engine_power_hp": 400},
        {"straw_condition": "tough", "use": "seed", "priority": "sample", "slope_along_deg": -3.5},
        {"sieve_rear_section": False, "fan_speed_min_rpm": 500, "fan_speed_max_rpm": 1300},
        {"crop": "weizen", "upper_sieve_design": "deep_lip", "lower_sieve_design": "round_hole"},
    ],
    ids=str,
)
def test_get_and_post_give_the_same_bytes(question: dict[str, Any], reader: str, ask: Any) -> None:
    body = {name: value for name, value in (BODY | question).items() if value is not None}
    written = {name: str(value).lower() for name, value in body.items()}
    address = "/v1/starting-settings?" + "&".join(f"{name}={value}" for name, value in written.items())
    got = ask("GET", more(address, reader) if reader else address, headers=PLAIN)
    posted = ask("POST", f"/v1/starting-settings?{reader}", json=body, headers=PLAIN)
    assert got.status_code == posted.status_code == 200, got.text[:300]
    assert got.content == posted.content
    assert got.headers["content-language"] == posted.headers["content-language"]


@pytest.mark.parametrize("alias", ["wheat", "Wheat", "WHEAT", "winter wheat", "TRZAX", "trzax", "Weizen"])
def test_every_name_of_a_crop_gives_the_same_answer(alias: str, ask: Any) -> None:
    assert (
        ask("POST", "/v1/starting-settings", json=BODY | {"crop": alias}).content
        == ask("POST", "/v1/starting-settings", json=BODY).content
    )
    assert ask("GET", f"/v1/crops/{alias}").content == ask("GET", "/v1/crops/wheat").content
