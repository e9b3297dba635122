"""Feedback over HTTP, on both databases: stored once, seen by those who may, gone when taken back."""

import csv
import io
import json
import threading
import uuid
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from typing import Any

import httpx
import pyarrow.parquet as pq
import pytest
from fastapi import FastAPI
from sqlalchemy import text

from service.api.app import create_app
from service.api.examples_feedback import BATCH, FEEDBACK
from service.config import Settings
from service.knowledge.load import load_table
from service.store import Store, open_store
from service.store.feedback import Wanted
from service.usecases import feedback_listing
from service.usecases import organisations as cases
from tests.coop import REPORT, Coop, headers, make_coop

Ask = Callable[..., httpx.Response]
Refused = Callable[..., dict[str, Any]]


@pytest.fixture(scope="module")
def stored_app() -> FastAPI:
    return create_app(Settings())


@pytest.fixture
def coop(store: Store, stored_app: FastAPI) -> Coop:
    stored_app.state.store = store
    return make_coop(store)


@pytest.fixture
def ask(stored_app: FastAPI, asking: Callable[[FastAPI], Ask]) -> Ask:
    return asking(stored_app)


def sent(ask: Ask, key: str, report: dict[str, Any] = REPORT, **more: Any) -> httpx.Response:
    return ask("POST", "/v1/feedback", json=report, headers=headers(key, **more))


def ids(answer: httpx.Response) -> list[str]:
    assert answer.status_code == 200, answer.text
    return [item["id"] for item in answer.json()["items"]]


def listed(ask: Ask, key: str, **params: Any) -> list[str]:
    return ids(ask("GET", "/v1/feedback", params=params, headers=headers(key)))


def test_a_report_is_stored_and_found_at_its_address(ask: Ask, coop: Coop) -> None:
    answer = sent(ask, coop.farm)
    assert answer.status_code == 201, answer.text
    assert answer.headers["cache-control"] == "no-store"
    body = answer.json()
    assert answer.headers["location"] == f"/v1/feedback/{body['id']}"
    assert (body["contributor"], body["season"], body["session"]) == ("farm-1", 2026, "red one / north 12 / 2026-07-28")
    found = ask("GET", answer.headers["location"], headers=headers(coop.farm))
    assert found.status_code == 200
    record = found.json()["feedback"]
    assert record["observed_at"] == "2026-07-28T12:30:00Z"
    assert record["settings"] == [
        {"id": "threshing_speed", "name": "Drum or rotor peripheral speed", "amount": {"value": 25.0, "unit": "m/s"}}
    ]
    assert record["outcomes"]["broken"] == {"value": 0.8, "unit": "%"}
    # 1.1 % of all that grew, of which 98.9 % are the 8000 kg/ha in the tank: 8000 x 1.1 / 98.9 = 88.98 kg/ha
    assert record["outcomes"]["machine_loss"] == {
        "mass": {"value": 88.98, "unit": "kg/har"},
        "share": {"value": 1.1, "unit": "%"},
    }
    american = ask("GET", answer.headers["location"] + "?units=us", headers=headers(coop.farm)).json()["feedback"]
    # 25 m/s x 60 / 0.3048 = 4921 ft/min
    assert american["settings"][0]["amount"] == {"value": 4921.0, "unit": "[ft_i]/min"}


@pytest.mark.parametrize("name", FEEDBACK)
def test_every_documented_report_is_taken(name: str, ask: Ask, coop: Coop) -> None:
    assert sent(ask, coop.farm, FEEDBACK[name]["value"]).status_code == 201


def test_a_retry_gets_the_same_answer_and_stores_nothing(ask: Ask, coop: Coop) -> None:
    key = uuid.uuid4()
    first = sent(ask, coop.farm, idempotency_key=key)
    # the same report, written in another order and with a number of another look
    turned = dict(reversed(REPORT.items())) | {"yield_t_ha": 8}
    for again in (sent(ask, coop.farm, idempotency_key=key), sent(ask, coop.farm, turned, idempotency_key=key)):
        assert again.status_code == 201
        assert again.content == first.content
        assert again.headers["location"] == first.headers["location"]
    bare = headers(coop.farm) | {"Idempotency-Key": str(key).upper()}
    assert ask("POST", "/v1/feedback", json=REPORT, headers=bare).content == first.content
    assert listed(ask, coop.farm) == [first.json()["id"]]


def test_a_key_used_again_for_another_report_is_refused(ask: Ask, coop: Coop, refused: Refused) -> None:
    key = uuid.uuid4()
    first = sent(ask, coop.farm, idempotency_key=key)
    changed = sent(ask, coop.farm, REPORT | {"broken_pct": 0.9}, idempotency_key=key)
    assert refused(changed, 422)["code"] == "idempotency_key_reused"
    assert refused(sent(ask, coop.neighbour, idempotency_key=key), 422)["code"] == "idempotency_key_reused"
    assert sent(ask, coop.stranger, REPORT | {"contributor": "farm-1"}, idempotency_key=key).status_code == 201
    assert listed(ask, coop.office) == [first.json()["id"]]


def test_nothing_is_kept_of_a_refused_report_so_that_it_can_be_mended(ask: Ask, coop: Coop, refused: Refused) -> None:
    key = uuid.uuid4()
    refused(sent(ask, coop.farm, REPORT | {"crop": "barly"}, idempotency_key=key), 422)
    refused(sent(ask, coop.farm, REPORT | {"machine_loss_pct": 101}, idempotency_key=key), 422)
    assert sent(ask, coop.farm, idempotency_key=key).status_code == 201


def test_after_seven_days_a_key_is_free_again(ask: Ask, coop: Coop) -> None:
    key = uuid.uuid4()
    first = sent(ask, coop.farm, idempotency_key=key)
    with coop.store.writing() as session:
        past = datetime.now(UTC) - timedelta(days=7, seconds=1)
        moment = past.replace(tzinfo=None).isoformat(" ") if coop.store.file else past.isoformat()
        session.execute(text(f"UPDATE idempotency SET created_at = '{moment}'"))
    second = sent(ask, coop.farm, idempotency_key=key)
    assert second.status_code == 201
    assert listed(ask, coop.farm) == [second.json()["id"], first.json()["id"]]


@pytest.mark.parametrize(
    ("given", "code"),
    [
        (None, "idempotency_key_missing"),
        ("", "idempotency_key_malformed"),
        ("1", "idempotency_key_malformed"),
        ('"019829d4-7c00-7a6b-9d1e-5b2f8c0a4e11', "idempotency_key_malformed"),
        ("019829d47c007a6b9d1e5b2f8c0a4e11", "idempotency_key_malformed"),
        ("x" * 5000, "idempotency_key_malformed"),
    ],
)
def test_a_report_needs_a_key_of_its_own(given: str | None, code: str, ask: Ask, coop: Coop, refused: Refused) -> None:
    sending = {"Authorization": f"Bearer {coop.farm}"} | ({} if given is None else {"Idempotency-Key": given})
    assert refused(ask("POST", "/v1/feedback", json=REPORT, headers=sending), 400)["code"] == code
    assert listed(ask, coop.farm) == []


def test_of_many_at_once_with_one_key_one_is_stored_and_all_get_its_answer(ask: Ask, coop: Coop) -> None:
    count, key = 10, uuid.uuid4()
    start = threading.Barrier(count)

    def one(_: int) -> httpx.Response:
        start.wait()
        return sent(ask, coop.farm, idempotency_key=key)

    with ThreadPoolExecutor(count) as pool:
        answers = list(pool.map(one, range(count)))
    assert {answer.status_code for answer in answers} == {201}
    assert len({answer.content for answer in answers}) == 1
    assert listed(ask, coop.farm) == [answers[0].json()["id"]]


def test_batches_at_once_with_the_same_reports_in_another_order_store_each_once(ask: Ask, coop: Coop) -> None:
    items = [REPORT | {"idempotency_key": str(uuid.uuid4()), "broken_pct": n / 10} for n in range(8)]
    start = threading.Barrier(6)

    def one(number: int) -> httpx.Response:
        mine = items[number:] + items[:number] if number % 2 else items[::-1]
        start.wait()
        return ask("POST", "/v1/feedback/batch", json={"items": mine}, headers=headers(coop.farm))

    with ThreadPoolExecutor(6) as pool:
        answers = list(pool.map(one, range(6)))
    assert [answer.status_code for answer in answers] == [207] * 6
    told = [{r["idempotency_key"]: r["feedback"]["id"] for r in answer.json()["results"]} for answer in answers]
    assert told == [told[0]] * 6
    assert sorted(listed(ask, coop.farm)) == sorted(told[0].values())


def test_a_batch_judges_each_report_alone(ask: Ask, coop: Coop) -> None:
    good, later = (REPORT | {"idempotency_key": str(uuid.uuid4())} for _ in range(2))
    items = [
        good,
        REPORT,
        7,
        good | {"idempotency_key": str(uuid.uuid4()), "crop": "barly"},
        good | {"idempotency_key": str(uuid.uuid4()), "yield_bu_ac": 100},
        good | {"idempotency_key": str(uuid.uuid4()), "contributor": "farm-2"},
        good | {"broken_pct": 3.0},
        later,
        later,
    ]
    answer = ask("POST", "/v1/feedback/batch", json={"items": items}, headers=headers(coop.farm))
    assert answer.status_code == 207, answer.text
    body = answer.json()
    results = body["results"]
    assert [one["status"] for one in results] == [201, 422, 422, 422, 422, 422, 422, 201, 201]
    assert (body["stored"], body["refused"]) == (3, 6)
    pointers = [[item["pointer"] for item in one["problem"]["errors"]] for one in results[1:7]]
    assert pointers == [
        ["/items/1/idempotency_key"],
        ["/items/2"],
        ["/items/3/crop"],
        ["/items/4/yield_t_ha", "/items/4/yield_bu_ac"],
        ["/items/5/contributor"],
        [],
    ]
    assert results[6]["problem"]["code"] == "idempotency_key_reused"
    assert results[3]["problem"]["errors"][0]["nearest"] == ["barley"]
    assert results[7]["feedback"] == results[8]["feedback"]
    assert sorted(listed(ask, coop.farm)) == sorted(one["feedback"]["id"] for one in (results[0], results[7]))
    alone = {name: value for name, value in good.items() if name != "idempotency_key"}
    single = sent(ask, coop.farm, alone, idempotency_key=good["idempotency_key"])
    assert single.json() == results[0]["feedback"]


@pytest.mark.parametrize(
    ("body", "code"),
    [
        ({"items": []}, "wrong_length"),
        ({"items": [1] * 101}, "wrong_length"),
        ({"items": 1}, "wrong_type"),
        ({}, "required"),
    ],
    ids=["none", "too many", "no list", "nothing"],
)
def test_a_batch_is_a_list_of_up_to_a_hundred(body: Any, code: str, ask: Ask, coop: Coop, refused: Refused) -> None:
    problem = refused(ask("POST", "/v1/feedback/batch", json=body, headers=headers(coop.farm)), 422)
    assert (problem["code"], problem["errors"][0]["pointer"]) == (code, "/items")


@pytest.mark.parametrize("written", ['"\\ud800"', '"\\u0000"', "7", "null", '"' + "x" * 36 + '"', '{"a": 1}'])
def test_what_is_no_key_in_a_batch_is_not_repeated(written: str, ask: Ask, coop: Coop) -> None:
    body = json.dumps({"items": [REPORT | {"idempotency_key": "@"}, {"\ud800": 1}]}).replace('"@"', written)
    sending = headers(coop.farm) | {"content-type": "application/json"}
    answer = ask("POST", "/v1/feedback/batch", content=body.encode(), headers=sending)
    assert answer.status_code == 207
    first, second = answer.json()["results"]
    assert set(first) == set(second) == {"status", "problem"}
    assert first["problem"]["errors"][0]["pointer"] == "/items/0/idempotency_key"


def test_the_documented_batch_is_a_pair(ask: Ask, coop: Coop) -> None:
    (example,) = BATCH.values()
    answer = ask("POST", "/v1/feedback/batch", json=example["value"], headers=headers(coop.farm)).json()
    first, second = (one["feedback"] for one in answer["results"])
    assert first["session"] == second["session"]
    assert first["notes"][0]["code"] == "feedback.ask_for_pair_next_time"
    assert second["notes"][0]["params"] == {"count": 2}


def test_pages_lead_to_every_record_once(ask: Ask, coop: Coop, refused: Refused) -> None:
    made = [sent(ask, coop.farm).json()["id"] for _ in range(5)]
    found, address = [], "/v1/feedback?limit=2"
    while True:
        answer = ask("GET", address, headers=headers(coop.farm))
        found += ids(answer)
        if "next" not in answer.json():
            assert "link" not in answer.headers
            break
        address = answer.headers["link"].partition(">")[0][1:]
        assert answer.json()["next"] in address
    assert sorted(found) == sorted(made)
    assert len(found) == 5
    problem = refused(ask("GET", "/v1/feedback?cursor=nonsense", headers=headers(coop.farm)), 422)
    assert problem["errors"][0]["parameter"] == "cursor"
    for limit in ("0", "201", "1.5", "x", "", "-1", "١"):
        refused(ask("GET", "/v1/feedback", params={"limit": limit}, headers=headers(coop.farm)), 422)


def test_a_list_can_be_of_one_crop_or_contributor(ask: Ask, coop: Coop, refused: Refused) -> None:
    wheat = sent(ask, coop.farm).json()["id"]
    rye = sent(ask, coop.neighbour, REPORT | {"crop": "rye"}).json()["id"]
    assert listed(ask, coop.office, crop="Weizen") == [wheat]
    assert listed(ask, coop.office, contributor="farm-2") == [rye]
    assert listed(ask, coop.office, contributor="nobody") == []
    problem = refused(ask("GET", "/v1/feedback?crop=barly", headers=headers(coop.office)), 422)
    assert problem["errors"][0]["nearest"] == ["barley"]


def test_everyone_sees_what_is_theirs_to_see(ask: Ask, coop: Coop, refused: Refused) -> None:
    mine, theirs = sent(ask, coop.farm).json()["id"], sent(ask, coop.neighbour).json()["id"]
    sees = {
        coop.farm: {mine},
        coop.reader: {mine},
        coop.neighbour: {theirs},
        coop.office: {mine, theirs},
        coop.reviewer: {mine, theirs},
        coop.stranger: set(),
    }
    for key, expected in sees.items():
        assert set(listed(ask, key)) == expected
        exported = ask("GET", "/v1/feedback/export", headers=headers(key) | {"accept": "application/x-ndjson"})
        assert {json.loads(line)["id"] for line in exported.text.splitlines()} == expected
        for ident in (mine, theirs):
            answer = ask("GET", f"/v1/feedback/{ident}", headers=headers(key))
            if ident in expected:
                assert answer.status_code == 200
            else:
                assert refused(answer, 404)["code"] == "not_found"


def test_what_another_organisation_s_is_looks_as_if_it_were_not_there(ask: Ask, coop: Coop, refused: Refused) -> None:
    ident = sent(ask, coop.farm).json()["id"]
    for method in ("GET", "DELETE"):
        there, nowhere = (
            refused(ask(method, f"/v1/feedback/{one}", headers=headers(coop.stranger)), 404) | {"instance": ""}
            for one in (ident, uuid.uuid4())
        )
        assert there == nowhere
    assert listed(ask, coop.farm) == [ident]


@pytest.mark.parametrize("ident", ["x", "1", "019829d4", "%00", "exports"])
def test_what_is_no_id_is_not_found(ident: str, ask: Ask, coop: Coop, refused: Refused) -> None:
    for method in ("GET", "DELETE"):
        refused(ask(method, f"/v1/feedback/{ident}", headers=headers(coop.farm)), 404)


def test_a_report_may_be_taken_back_by_those_whose_it_is(ask: Ask, coop: Coop, refused: Refused) -> None:
    key = uuid.uuid4()
    ident = sent(ask, coop.farm, idempotency_key=key).json()["id"]
    address = f"/v1/feedback/{ident}"
    refused(ask("DELETE", address, headers=headers(coop.neighbour)), 404)
    assert refused(ask("DELETE", address, headers=headers(coop.reader)), 403)["code"] == "scope_missing"
    for _ in range(2):
        gone = ask("DELETE", address, headers=headers(coop.farm))
        assert (gone.status_code, gone.content) == (204, b"")
    assert listed(ask, coop.office) == []
    assert refused(ask("GET", address, headers=headers(coop.farm)), 410)["code"] == "withdrawn"
    refused(ask("GET", address, headers=headers(coop.neighbour)), 404)
    # the telephone that never got its answer does not bring it back
    assert sent(ask, coop.farm, idempotency_key=key).status_code == 201
    assert listed(ask, coop.office) == []
    other = sent(ask, coop.neighbour).json()["id"]
    assert ask("DELETE", f"/v1/feedback/{other}", headers=headers(coop.office)).status_code == 204


def test_erasing_a_contributor_leaves_no_trace_of_them(ask: Ask, coop: Coop, refused: Refused) -> None:
    sent(ask, coop.farm)
    kept = sent(ask, coop.neighbour).json()["id"]
    refused(ask("DELETE", "/v1/contributors/farm-1", headers=headers(coop.reviewer)), 403)
    refused(ask("DELETE", "/v1/contributors/nobody", headers=headers(coop.office)), 404)
    assert ask("DELETE", "/v1/contributors/farm-1", headers=headers(coop.office)).status_code == 204
    assert listed(ask, coop.office) == [kept]
    refused(ask("GET", "/v1/feedback", headers=headers(coop.farm)), 401)
    refused(ask("DELETE", "/v1/contributors/farm-1", headers=headers(coop.office)), 404)
    problem = refused(sent(ask, coop.office, REPORT | {"contributor": "farm-1"}), 422)
    assert problem["errors"][0]["pointer"] == "/contributor"
    assert ask("GET", "/v1/feedback", headers=headers(coop.stranger)).status_code == 200


def test_a_key_of_the_organisation_says_whose_report_it_is(ask: Ask, coop: Coop, refused: Refused) -> None:
    problem = refused(sent(ask, coop.office), 422)
    assert problem["errors"][0]["pointer"] == "/contributor"
    assert sent(ask, coop.office, REPORT | {"contributor": "farm-2"}).json()["contributor"] == "farm-2"
    assert len(listed(ask, coop.neighbour)) == 1
    assert refused(sent(ask, coop.farm, REPORT | {"contributor": "farm-2"}), 422)["code"] == "contradiction"
    assert sent(ask, coop.farm, REPORT | {"contributor": "farm-1"}).status_code == 201


ADDRESSES = [
    ("POST", "/v1/feedback"),
    ("POST", "/v1/feedback/batch"),
    ("GET", "/v1/feedback"),
    ("GET", "/v1/feedback/export"),
    ("GET", f"/v1/feedback/{uuid.UUID(int=7)}"),
    ("DELETE", f"/v1/feedback/{uuid.UUID(int=7)}"),
    ("DELETE", "/v1/contributors/farm-1"),
]


@pytest.mark.parametrize(("method", "address"), ADDRESSES)
def test_without_a_key_that_holds_nothing_is_told(
    method: str, address: str, ask: Ask, coop: Coop, refused: Refused
) -> None:
    other = coop.farm[:-1] + ("a" if coop.farm[-1] != "a" else "b")
    for given in (None, "", "Bearer", "Bearer x", "Basic YTpi", f"Bearer {other}", f"Bearer tbk_aaaaaaaa_{'a' * 52}"):
        sending = {"Idempotency-Key": str(uuid.uuid4())} | ({} if given is None else {"Authorization": given})
        # whatever is wrong beside: who asks comes first
        wrong = {"json": {"crop": 7}} if method == "POST" else {}
        answer = ask(method, address, params={"revision": "1999.1.1"}, headers=sending, **wrong)
        assert refused(answer, 401)["code"] == "unauthenticated"
        assert answer.headers["www-authenticate"].startswith("Bearer")


def test_expired_and_revoked_keys_hold_no_longer_and_rotated_ones_for_a_while(
    ask: Ask, coop: Coop, refused: Refused
) -> None:
    now = datetime.now(UTC)
    with coop.store.writing() as session:
        hill = cases.find(session, coop.name)
        long_ago = now - timedelta(days=40)
        expired = cases.issue_key(session, hill, None, ("read",), long_ago, days=30)
        old = cases.issue_key(session, hill, None, ("read",), now)
        new = cases.rotate_key(session, old.prefix, now, 7)
        done = cases.issue_key(session, hill, None, ("read",), now)
        instead = cases.rotate_key(session, done.prefix, now, 0)
        revoked = cases.issue_key(session, hill, None, ("read",), now)
        cases.revoke_key(session, revoked.prefix, now)
    for key in (old, new, instead):
        assert listed(ask, key.text) == []
    for key in (expired, done, revoked):
        refused(ask("GET", "/v1/feedback", headers=headers(key.text)), 401)


def test_each_address_asks_for_its_scope(ask: Ask, coop: Coop, refused: Refused) -> None:
    with coop.store.writing() as session:
        hill = cases.find(session, coop.name)
        only = {s: cases.issue_key(session, hill, None, (s,), datetime.now(UTC)).text for s in ("read", "contribute")}
    batch = {"items": [REPORT | {"contributor": "farm-1", "idempotency_key": str(uuid.uuid4())}]}
    for method, address in ADDRESSES:
        more = {"json": batch if "batch" in address else REPORT} if method == "POST" else {}
        needed = {"POST": "contribute", "GET": "read", "DELETE": "contribute"}[method]
        without = only["read" if needed == "contribute" else "contribute"]
        problem = refused(ask(method, address, headers=headers(without), **more), 403)
        scope = "administer" if "contributors" in address else needed
        assert scope in problem["detail"]


@pytest.mark.parametrize(
    ("change", "pointers"),
    [
        ({"observed_at": "2999-01-01T00:00:00Z"}, ["/observed_at"]),
        ({"observed_at": "2026-07-28T14:30:00"}, ["/observed_at"]),
        ({"rating": 6}, ["/rating"]),
        ({"latitude_deg": 52.0}, ["/latitude_deg", "/longitude_deg"]),
        ({"trial_randomised": True}, ["/trial_randomised", "/trial_arm"]),
        ({"advice": "starting_settings"}, ["/advice", "/advice_revision"]),
        ({"suggested_settings": REPORT["settings_used"]}, ["/suggested_settings", "/advice"]),
        ({"settings_used": REPORT["settings_used"] * 2}, ["/settings_used/1/setting", "/settings_used/0/setting"]),
        ({"settings_used": [{"setting": "threshing_sped", "value": 1, "unit": "m/s"}]}, ["/settings_used/0/setting"]),
        ({"settings_used": [{"setting": "threshing_speed", "value": 99, "unit": "m/s"}]}, ["/settings_used/0/value"]),
        ({"machine_loss_kg_ha": 80}, ["/machine_loss_pct", "/machine_loss_kg_ha"]),
        ({"machine_loss_pct": 60, "header_loss_pct": 45}, None),
        ({"frames": FEEDBACK["frames on the ground"]["value"]["frames"]}, ["/frames", "/loss_method"]),
        ({"discharge_width_m": 2}, ["/discharge_width_m"]),
        ({"grain_moisture_pct": 40}, ["/grain_moisture_pct"]),
        ({"note": "bad\x00text"}, ["/note"]),
        ({"organisation_id": 1}, ["/organisation_id"]),
        ({"id": "01982a10-7c2e-7d11-9a5b-3f2b6c8d9e01"}, ["/id"]),
    ],
    ids=str,
)
def test_a_report_that_cannot_be_is_refused_with_its_field(
    change: dict[str, Any], pointers: list[str] | None, ask: Ask, coop: Coop, refused: Refused
) -> None:
    problem = refused(sent(ask, coop.farm, REPORT | change), 422)
    found = [item["pointer"] for item in problem["errors"]]
    assert found if pointers is None else sorted(found) == sorted(pointers)
    assert listed(ask, coop.farm) == []


def test_a_report_that_says_nothing_is_refused(ask: Ask, coop: Coop, refused: Refused) -> None:
    empty = {
        name: value for name, value in REPORT.items() if name not in ("machine_loss_pct", "loss_method", "broken_pct")
    }
    refused(sent(ask, coop.farm, empty), 422)
    assert sent(ask, coop.farm, empty | {"note": "All well.\nNothing broke."}).status_code == 201


def test_a_report_of_last_season_is_welcome_and_one_of_a_wrong_clock_is_not(
    ask: Ask, coop: Coop, refused: Refused
) -> None:
    now = datetime.now(UTC)
    for year, noted in ((now.year - 1, False), (now.year - 3, True), (1970, True)):
        late = sent(ask, coop.farm, REPORT | {"observed_at": f"{year}-12-28T18:00:00+02:00"}).json()
        assert late["season"] == year
        assert ("feedback.long_ago" in {one["code"] for one in late["notes"]}) is noted
    ahead = (now + timedelta(minutes=5)).isoformat(timespec="seconds")
    assert sent(ask, coop.farm, REPORT | {"observed_at": ahead}).status_code == 201
    refused(sent(ask, coop.farm, REPORT | {"observed_at": (now + timedelta(hours=1)).isoformat()}), 422)


def test_a_season_that_begins_in_july_goes_over_new_year(ask: Ask, coop: Coop) -> None:
    for observed, season in (("2025-12-20T15:00:00+10:30", 2025), ("2026-01-05T15:00:00+10:30", 2025)):
        report = REPORT | {"contributor": "farm-1", "observed_at": observed}
        assert sent(ask, coop.stranger, report).json()["season"] == season


def test_a_place_is_kept_no_closer_than_a_kilometre(ask: Ask, coop: Coop) -> None:
    answer = sent(ask, coop.farm, REPORT | {"latitude_deg": 52.407213, "longitude_deg": 10.888123})
    record = ask("GET", answer.headers["location"], headers=headers(coop.farm)).json()["feedback"]
    assert record["place"] == {"latitude_deg": 52.41, "longitude_deg": 10.88}
    with coop.store.reading() as session:
        row = session.execute(text("SELECT * FROM feedback")).mappings().one()
        assert "407213" not in str(dict(row))
        assert "888123" not in str(dict(row))


def test_what_was_suggested_is_kept_or_worked_out(ask: Ask, coop: Coop) -> None:
    revision = ask("GET", "/version").json()["revision"]
    advice = {"advice": "starting_settings", "advice_revision": revision}
    question = {k: REPORT[k] for k in ("crop", "machine_class", "grain_moisture_pct", "yield_t_ha")}
    starts = {s["id"]: s["start"] for s in ask("POST", "/v1/starting-settings", json=question).json()["settings"]}
    told = {"suggested_settings": [{"setting": "threshing_speed", "value": 24, "unit": "m/s"}]}
    for more, origin in (
        (advice, "computed"),
        (advice | told, "told"),
        (advice | {"advice_revision": "1999.1.1"}, None),
    ):
        answer = sent(ask, coop.farm, REPORT | more)
        record = ask("GET", answer.headers["location"], headers=headers(coop.farm)).json()["feedback"]
        assert record.get("suggested_from") == origin
        found = {one["id"]: one["amount"] for one in record.get("suggested", [])}
        expected = {"computed": starts, "told": {"threshing_speed": {"value": 24.0, "unit": "m/s"}}, None: {}}[origin]
        assert found == expected


def test_exports_hold_every_record_in_every_form(ask: Ask, coop: Coop, refused: Refused) -> None:
    sent(ask, coop.farm, FEEDBACK["frames on the ground"]["value"])
    sent(ask, coop.neighbour, REPORT | {"note": '=cmd|"x"!A1, "quoted"\nsecond line', "machine": "@2"})
    forms = {
        form: ask("GET", "/v1/feedback/export", headers=headers(coop.office) | {"accept": form})
        for form in ("application/x-ndjson", "text/csv", "application/vnd.apache.parquet", "*/*")
    }
    assert all(answer.status_code == 200 for answer in forms.values())
    assert forms["*/*"].headers["content-type"] == "application/x-ndjson"
    lines = [json.loads(line) for line in forms["application/x-ndjson"].text.splitlines()]
    rows = list(csv.DictReader(io.StringIO(forms["text/csv"].text, newline="")))
    table = pq.read_table(io.BytesIO(forms["application/vnd.apache.parquet"].content)).to_pylist()
    assert len(lines) == len(rows) == len(table) == 2
    for line, row, record in zip(lines, rows, table, strict=True):
        assert set(row) == set(record) >= set(line)
        for name, value in record.items():
            assert (value is None) == (name not in line) == (row[name] == ""), name
            if isinstance(value, float):
                assert line[name] == float(row[name]) == value
        assert line["observed_at"] == row["observed_at"]
        assert record["observed_at"] == datetime.fromisoformat(line["observed_at"])
        assert record["trial_randomised"] is line["trial_randomised"] is False
    assert lines[0]["used_threshing_speed_m_s"] == 25.0
    assert lines[0]["suggested_threshing_speed_m_s"] == 23.7
    # what a spreadsheet would run is text there, and untouched elsewhere
    assert rows[1]["note"] == "'" + lines[1]["note"]
    assert rows[1]["machine"] == "'@2"
    assert table[1]["note"] == lines[1]["note"] == '=cmd|"x"!A1, "quoted"\nsecond line'
    refused(ask("GET", "/v1/feedback/export", headers=headers(coop.office) | {"accept": "text/html"}), 406)
    only = ask("GET", "/v1/feedback/export?contributor=farm-2", headers=headers(coop.office))
    assert len(only.text.splitlines()) == 1


@pytest.mark.parametrize("page", [1, 2, 3, 4])
def test_an_export_read_by_pages_holds_every_record_once(ask: Ask, coop: Coop, page: int) -> None:
    for number in range(3):
        sent(ask, coop.farm, REPORT | {"note": f"number {number}"})
    with coop.store.reading() as session:
        wanted = Wanted(cases.find(session, coop.name).id)
    rows = feedback_listing.export(coop.store, load_table(), wanted, page)
    assert [row["note"] for row in rows] == ["number 0", "number 1", "number 2"]


def test_an_empty_export_is_a_table_without_rows(ask: Ask, coop: Coop) -> None:
    for form, length in (("application/x-ndjson", 0), ("text/csv", 1)):
        answer = ask("GET", "/v1/feedback/export", headers=headers(coop.farm) | {"accept": form})
        assert len(answer.text.splitlines()) == length
    answer = ask(
        "GET", "/v1/feedback/export", headers=headers(coop.farm) | {"accept": "application/vnd.apache.parquet"}
    )
    assert pq.read_table(io.BytesIO(answer.content)).num_rows == 0


def test_without_its_library_parquet_is_refused_in_words(
    ask: Ask, coop: Coop, refused: Refused, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("service.api.export_formats.find_spec", lambda _: None)
    parquet = headers(coop.farm) | {"accept": "application/vnd.apache.parquet"}
    problem = refused(ask("GET", "/v1/feedback/export", headers=parquet), 406)
    assert problem["code"] == "parquet_missing"
    assert "threshbook[parquet]" in problem["detail"]
    either = parquet | {"accept": "application/vnd.apache.parquet, text/csv;q=0.5"}
    assert ask("GET", "/v1/feedback/export", headers=either).headers["content-type"].startswith("text/csv")


def test_the_audit_log_tells_what_was_done_and_names_nobody(ask: Ask, coop: Coop) -> None:
    ident = sent(ask, coop.farm).json()["id"]
    ask("GET", "/v1/feedback/export", headers=headers(coop.office))
    ask("DELETE", f"/v1/feedback/{ident}", headers=headers(coop.farm))
    ask("DELETE", "/v1/contributors/farm-1", headers=headers(coop.office))
    with coop.store.reading() as session:
        lines = session.execute(text("SELECT actor, action, subject, facts FROM audit_event ORDER BY id")).all()
    assert [action for _, action, _, _ in lines][-3:] == ["feedback exported", "feedback withdrawn", "member erased"]
    assert lines[-2].actor == f"key {coop.farm.split('_')[1]}"
    assert not [line for line in lines if "farm-1" in str(line) or coop.farm.rpartition("_")[2] in str(line)]


def test_a_store_that_is_away_refuses_reports_and_lets_advice_through(
    ask: Ask, coop: Coop, stored_app: FastAPI, refused: Refused, tmp_path: Any
) -> None:
    question = {k: REPORT[k] for k in ("crop", "machine_class", "grain_moisture_pct", "yield_t_ha")}
    stored_app.state.store = open_store(f"postgresql://nobody@/none?host={tmp_path}")
    answer = sent(ask, coop.farm)
    assert refused(answer, 503)["code"] == "store_unavailable"
    assert answer.headers["retry-after"] == "5"
    assert "nobody" not in answer.text
    refused(ask("GET", "/v1/feedback/export", headers=headers(coop.farm)), 503)
    refused(ask("GET", "/readyz"), 503)
    assert ask("POST", "/v1/starting-settings", json=question).status_code == 200
    stored_app.state.store = open_store(f"sqlite:///{tmp_path / 'none.sqlite3'}")
    assert refused(sent(ask, coop.farm), 503)["code"] == "store_missing"
    assert refused(ask("GET", "/readyz"), 503)["code"] == "store_missing"
    stored_app.state.store = coop.store
    assert sent(ask, coop.farm).status_code == 201
    assert ask("GET", "/readyz").json()["store"] == "ready"


def test_without_any_store_the_service_is_ready_for_advice(
    ask: Ask, stored_app: FastAPI, refused: Refused, monkeypatch: pytest.MonkeyPatch, tmp_path: Any
) -> None:
    monkeypatch.setattr("service.store.engine.USER_FILE", tmp_path / "nobody made it.sqlite3")
    stored_app.state.store = open_store()
    assert ask("GET", "/readyz").json() == ask("GET", "/readyz").json() | {"status": "ready", "store": "none"}
    assert refused(ask("GET", "/v1/feedback"), 401)["code"] == "unauthenticated"
    key = f"tbk_aaaaaaaa_{'a' * 52}"
    assert refused(ask("GET", "/v1/feedback", headers=headers(key)), 503)["code"] == "store_missing"
    assert not (tmp_path / "nobody made it.sqlite3").exists()
