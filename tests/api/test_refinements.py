"""Review over HTTP, on both databases: who may, what was looked at, what is told of few, what the public sees."""

import re
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from service.api.app import create_app
from service.cli.invented_coop import NAME
from service.config import Settings
from service.store import Store, organisations
from service.usecases import organisations as cases
from service.usecases.access import SCOPES
from tests.coop import GROWN

Ask = Callable[..., httpx.Response]
Refused = Callable[..., dict[str, Any]]
ROW = "wheat.hybrid.best"


@dataclass(frozen=True)
class Keys:
    reviewer: str
    farm: str
    nobody: str
    stranger: str


@pytest.fixture(scope="module")
def stored_app() -> FastAPI:
    return create_app(Settings())


@pytest.fixture
def keys(grown_store: Store, stored_app: FastAPI) -> Keys:
    stored_app.state.store = grown_store
    with grown_store.writing() as session:
        hill = organisations.organisation_named(session, NAME)
        assert hill is not None
        vale = cases.create(session, "vale", 1, GROWN)
        farm = organisations.member_named(session, hill.id, "invented-farm-1")

        def key(organisation: Any, member: Any, *scopes: str) -> str:
            return cases.issue_key(session, organisation, member, scopes, GROWN).text

        return Keys(
            key(hill, None, "read", "review"),
            key(hill, farm, "read", "contribute"),
            key(hill, farm, "administer"),
            key(vale, None, *SCOPES),
        )


@pytest.fixture
def ask(stored_app: FastAPI, asking: Callable[[FastAPI], Ask]) -> Ask:
    plain = asking(stored_app)

    def send(method: str, url: str, key: str | None = None, **more: Any) -> httpx.Response:
        held = {} if key is None else {"Authorization": f"Bearer {key}"}
        return plain(method, url, **more | {"headers": held | more.pop("headers", {})})

    return send


def drafted(ask: Ask, key: str) -> httpx.Response:
    answer = ask("POST", "/v1/refinements", key, json={})
    assert answer.status_code == 201, answer.text
    return answer


def decision(ask: Ask, key: str, tag: str, *, number: int = 1, **told: str) -> httpx.Response:
    body = {"decisions": [{"row": ROW, "decision": "accept"} | told]}
    return ask("POST", f"/v1/refinements/{number}/decisions", key, json=body, headers={"If-Match": tag})


def published(ask: Ask, key: str) -> httpx.Response:
    draft = drafted(ask, key)
    number, row = draft.json()["id"], next(one["id"] for one in draft.json()["rows"] if one["proposed"])
    decided = decision(ask, key, draft.headers["etag"], number=number, row=row)
    assert decided.status_code == 200, decided.text
    tag = decided.headers["etag"]
    answer = ask("POST", f"/v1/refinements/{number}/publish", key, headers={"If-Match": tag})
    assert answer.status_code == 201, answer.text
    return answer


def test_a_draft_is_made_looked_at_decided_on_and_published(ask: Ask, keys: Keys, refused: Refused) -> None:
    draft = drafted(ask, keys.reviewer)
    assert draft.headers["location"] == "/v1/refinements/1"
    body = draft.json()
    row = next(one for one in body["rows"] if one["id"] == ROW)
    assert row["proposed"]
    assert row["evidence"]["contributors"] == "5-9"
    assert row["gain_low_pct"] <= row["gain_pct"] <= row["gain_high_pct"]
    assert {one["outcome"] for one in row["effects"]} == {"loss", "broken", "foreign_matter"}
    found = ask("GET", "/v1/refinements/1", keys.reviewer)
    assert found.json() == body
    assert found.headers["etag"] == draft.headers["etag"]
    assert [one["id"] for one in ask("GET", "/v1/refinements", keys.reviewer).json()["items"]] == [1]

    decided = decision(ask, keys.reviewer, draft.headers["etag"])
    assert decided.json()["version"] == 2
    assert next(one for one in decided.json()["rows"] if one["id"] == ROW)["decision"]["decision"] == "accept"
    publish = ask("POST", "/v1/refinements/1/publish", keys.reviewer, headers={"If-Match": decided.headers["etag"]})
    assert publish.status_code == 201, publish.text
    assert publish.headers["location"] == f"/v1/tables/{NAME}/revisions/1"
    assert {one["moisture_band"] for one in publish.json()["rows"]} == {"best"}
    closed = ask("GET", "/v1/refinements/1", keys.reviewer)
    assert (closed.json()["state"], closed.json()["outdated"]) == ("published", True)
    assert refused(decision(ask, keys.reviewer, closed.headers["etag"]), 409)["code"] == "refinement_closed"


def test_who_does_not_say_what_was_looked_at_or_saw_an_earlier_state_is_refused(
    ask: Ask, keys: Keys, refused: Refused
) -> None:
    tag = drafted(ask, keys.reviewer).headers["etag"]
    for url, more in (
        ("/v1/refinements/1/decisions", {"json": {"decisions": [{"row": ROW, "decision": "accept"}]}}),
        ("/v1/refinements/1/publish", {}),
    ):
        missing = refused(ask("POST", url, keys.reviewer, **more), 428)
        assert missing["code"] == "precondition_required"
        for wrong in ("*", 'W/"1.1.en.metric"', '"2.1.en.metric"', '"1.9.en.metric"', "nonsense"):
            stale = refused(ask("POST", url, keys.reviewer, headers={"If-Match": wrong}, **more), 412)
            assert stale["code"] == "precondition_failed"
    decided = decision(ask, keys.reviewer, f'"7.7.x", {tag[:-1]}-gzip"')
    assert decided.status_code == 200
    refused(decision(ask, keys.reviewer, tag), 412)
    # RFC 9110, 13.1.1: any of the tags may be the one
    assert decision(ask, keys.reviewer, f"{tag}, {decided.headers['etag']}").status_code == 200


def test_what_cannot_be_decided_is_refused_with_its_field(ask: Ask, keys: Keys, refused: Refused) -> None:
    tag = drafted(ask, keys.reviewer).headers["etag"]
    unknown = refused(decision(ask, keys.reviewer, tag, row="wheat.hybrid.bset"), 422)
    assert (unknown["errors"][0]["pointer"], unknown["errors"][0]["nearest"][0]) == ("/decisions/0/row", ROW)
    silent = refused(decision(ask, keys.reviewer, tag, decision="refuse"), 422)
    assert silent["errors"][0]["pointer"] == "/decisions/0/reason"
    twice = {"decisions": [{"row": ROW, "decision": "accept"}] * 2}
    answer = ask("POST", "/v1/refinements/1/decisions", keys.reviewer, json=twice, headers={"If-Match": tag})
    assert refused(answer, 422)["errors"][0]["pointer"] == "/decisions/1/row"
    refused(ask("POST", "/v1/refinements/1/publish", keys.reviewer, headers={"If-Match": tag}), 422)
    refused(ask("POST", "/v1/refinements", keys.reviewer, json={"loss_price": 0}), 422)


def test_only_reviewers_of_the_organisation_see_its_drafts(ask: Ask, keys: Keys, refused: Refused) -> None:
    tag = drafted(ask, keys.reviewer).headers["etag"]
    for key in (keys.farm, keys.nobody):
        refused(ask("GET", "/v1/refinements", key), 403)
        refused(ask("GET", "/v1/refinements/1", key), 403)
        refused(ask("POST", "/v1/refinements", key, json={}), 403)
        refused(decision(ask, key, tag), 403)
    refused(ask("GET", "/v1/refinements"), 401)
    for url in ("/v1/refinements/1", "/v1/refinements/x", "/v1/refinements/99999999999"):
        refused(ask("GET", url, keys.stranger), 404)
    refused(decision(ask, keys.stranger, tag), 404)
    refused(ask("POST", "/v1/refinements/1/publish", keys.stranger, headers={"If-Match": tag}), 404)
    assert ask("GET", "/v1/refinements", keys.stranger).json()["items"] == []


def test_of_two_reviewers_at_once_one_is_heard(ask: Ask, keys: Keys) -> None:
    tag = drafted(ask, keys.reviewer).headers["etag"]
    together = threading.Barrier(2)

    def at_once(told: dict[str, str]) -> int:
        together.wait()
        return decision(ask, keys.reviewer, tag, **told).status_code

    with ThreadPoolExecutor(2) as pool:
        wishes = [{"decision": "accept"}, {"decision": "refuse", "reason": "not yet"}]
        assert sorted(pool.map(at_once, wishes)) == [200, 412]


def test_a_published_table_is_public_and_cached_and_tells_no_small_number(
    ask: Ask, keys: Keys, refused: Refused
) -> None:
    for part in ("", "/revisions", "/revisions/1"):
        unpublished = refused(ask("GET", f"/v1/tables/{NAME}{part}"), 404)
        unknown = refused(ask("GET", f"/v1/tables/nobody{part}"), 404)
        assert unpublished | {"instance": ""} == unknown | {"instance": ""}
    publish = published(ask, keys.reviewer)
    found = ask("GET", f"/v1/tables/{NAME}")
    assert found.json() == publish.json()
    assert "public" in found.headers["cache-control"]
    again = ask("GET", f"/v1/tables/{NAME}", headers={"If-None-Match": found.headers["etag"]})
    assert again.status_code == 304
    assert {row["contributors"] for row in found.json()["rows"]} == {"5-9"}
    assert not re.search(r"farm|member|set_aside|disagreement", found.text)
    german = ask("GET", f"/v1/tables/{NAME}?lang=de&units=us").json()
    assert german["say"]["text"].startswith("Ausgabe 1")
    assert {row["start"]["unit"] for row in german["rows"]} <= {"[ft_i]/min", "[in_i]", "[mi_i]/h"}
    refused(ask("GET", "/v1/tables/nobody"), 404)
    refused(ask("GET", f"/v1/tables/{NAME}/revisions/2"), 404)
    refused(ask("GET", "/v1/tables/vale"), 404)


def test_the_way_back_is_a_new_revision(ask: Ask, keys: Keys, refused: Refused) -> None:
    first = published(ask, keys.reviewer).json()
    second = published(ask, keys.reviewer).json()
    assert second["number"] == 2
    url = f"/v1/tables/{NAME}/rollback"
    tag = ask("GET", f"/v1/tables/{NAME}?lang=de&units=us").headers["etag"]
    held = {"If-Match": tag}
    refused(ask("POST", url, keys.farm, json={"number": 1}, headers=held), 403)
    refused(ask("POST", url, keys.stranger, json={"number": 1}, headers=held), 404)
    refused(ask("POST", url, keys.reviewer, json={"number": 2}, headers=held), 422)
    refused(ask("POST", url, keys.reviewer, json={"number": 7}, headers=held), 404)
    refused(ask("POST", url, keys.reviewer, json={"number": 1}), 428)
    earlier = ask("GET", f"/v1/tables/{NAME}/revisions/1").headers["etag"]
    for wrong in ("*", earlier, f'"1.{"0" * 32}"', f'"{tag}', "W/" + tag):
        refused(ask("POST", url, keys.reviewer, json={"number": 1}, headers={"If-Match": wrong}), 412)
    zipped = tag.replace("-gzip", "").removesuffix('"') + '-gzip"'
    back = ask("POST", url, keys.reviewer, json={"number": 1}, headers={"If-Match": f'"other", {zipped}'})
    assert back.status_code == 201, back.text
    assert (back.json()["number"], back.json()["repeats"]) == (3, 1)
    assert back.json()["rows"] == first["rows"]
    heads = ask("GET", f"/v1/tables/{NAME}/revisions").json()["items"]
    assert [(one["number"], one["holds"]) for one in heads] == [(3, True), (2, False), (1, False)]
    kept = ask("GET", f"/v1/tables/{NAME}/revisions/2").json()
    assert kept["digest"] == second["digest"]
    refused(ask("POST", url, keys.reviewer, json={"number": 2}, headers=held), 412)


def test_paired_tests_come_by_value_and_few_contributors_are_not_told(ask: Ask, keys: Keys, refused: Refused) -> None:
    asked = {"crop": "wheat", "machine_class": "hybrid", "moisture_band": "best"}
    for key in (keys.reviewer, keys.farm):
        found = ask("GET", "/v1/paired-tests", key, params=asked)
        assert found.status_code == 200, found.text
        (band,) = found.json()["bands"]
        values = [one["value_pct"] for one in band["tests"]]
        assert values == sorted(values, reverse=True)
        assert found.json()["contributors"] == "5-9"
        assert found.json()["say"]["params"]["setting"] == band["tests"][0]["name"]
    stranger = ask("GET", "/v1/paired-tests", keys.stranger, params=asked).json()
    assert "contributors" not in stranger
    refused(ask("GET", "/v1/paired-tests", keys.nobody, params=asked), 403)
    refused(ask("GET", "/v1/paired-tests", keys.farm, params=asked | {"crop": "wheet"}), 422)


def test_how_few_contributors_stand_is_not_listed(ask: Ask, keys: Keys, grown_store: Store) -> None:
    assert len(drafted(ask, keys.reviewer).json()["contributors"]) == 10
    with grown_store.writing() as session:
        hill = cases.find(session, NAME)
        for number in range(5, 11):
            cases.erase_member(session, hill, f"invented-farm-{number}", GROWN)
    assert drafted(ask, keys.reviewer).json()["contributors"] == []
