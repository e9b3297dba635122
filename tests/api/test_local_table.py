"""`?table=` over HTTP: local numbers marked as such, cached by their digest, and no store for anyone else."""

import io
import json
import threading
from collections.abc import Callable
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import anyio.to_thread
import httpx
import pytest
from fastapi import FastAPI
from rich.console import Console

from service.api.app import create_app
from service.api.examples_adjustment import NEXT_ADJUSTMENT
from service.cli.sheet import Sheet, print_settings
from service.config import Settings
from service.store import Store
from service.text import Language
from service.usecases import local_tables, organisations
from service.usecases.access import authenticate
from service.usecases.local_types import LocalRow, LocalTable
from tests.coop import Coop, make_coop
from tests.local_tables import DIGEST, HILLS, NAME, finding, table_of

Ask = Callable[..., httpx.Response]
Refused = Callable[..., dict[str, Any]]
BODY = {
    "crop": "wheat",
    "machine_class": "hybrid",
    "grain_moisture_pct": 14,
    "yield_t_ha": 8,
    "upper_sieve_design": "standard_lip",
    "lower_sieve_design": "standard_lip",
}
START, NEXT = "/v1/starting-settings", "/v1/next-adjustment"
PLAIN = {"accept-encoding": "identity"}
READERS = [{}, {"units": "us"}, {"lang": "de"}, {"units": "us", "lang": "de"}]
CALLS = [
    pytest.param("POST", START, {"json": BODY}, id="post"),
    pytest.param("GET", START, {"params": BODY}, id="get"),
    pytest.param("POST", NEXT, {"json": BODY | {"symptoms": [{"symptom": "cracked", "severity": 4}]}}, id="next"),
]


def asked(ask: Ask, method: str, url: str, more: dict[str, Any], **params: Any) -> httpx.Response:
    return ask(method, url, **more | {"params": more.get("params", {}) | params}, headers=PLAIN)


def setting(answer: dict[str, Any], ident: str) -> dict[str, Any]:
    found: dict[str, Any] = next(one for one in answer["settings"] if one["id"] == ident)
    return found


class Untouchable:
    """A store that must not be asked."""

    def __getattr__(self, name: str) -> Any:
        raise AssertionError(f"the store was asked for {name}")


@pytest.fixture
def without_store(asking: Callable[[FastAPI], Ask]) -> Ask:
    """An application whose store fails whoever asks it."""
    app = create_app(Settings())
    app.state.store = Untouchable()
    return asking(app)


@pytest.mark.parametrize(("method", "url", "more"), CALLS)
def test_without_a_table_neither_store_nor_thread_is_used(
    method: str, url: str, more: dict[str, Any], without_store: Ask, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def no_thread(*_: object, **__: object) -> None:
        raise AssertionError("a thread was used")

    monkeypatch.setattr(anyio.to_thread, "run_sync", no_thread)
    answer = asked(without_store, method, url, more)
    assert answer.status_code == 200
    assert "local" not in answer.json()
    # the trap is set: with a table it closes
    assert asked(without_store, method, url, more, table=NAME).status_code == 500


def test_the_store_is_read_in_a_thread_of_its_own(app: FastAPI, asking: Callable[[FastAPI], Ask]) -> None:
    threads = []

    def active(_: object, name: str) -> LocalTable:
        threads.append((threading.current_thread(), name))
        return HILLS

    other = create_app(Settings())
    other.state.active_table = active
    loop: list[threading.Thread] = []

    @other.get("/which-thread")
    async def which() -> str:
        loop.append(threading.current_thread())
        return ""

    ask = asking(other)
    ask("GET", "/which-thread")
    assert asked(ask, "POST", START, {"json": BODY}, table=NAME).status_code == 200
    ((thread, name),) = threads
    assert name == NAME
    assert thread is not loop[0]


@pytest.mark.parametrize("reader", READERS, ids=str)
def test_local_numbers_are_marked_and_add_up_exactly(reader: dict[str, str], ask: Ask) -> None:
    answer = asked(ask, "POST", START, {"json": BODY}, table=NAME, **reader)
    found = json.loads(answer.content, parse_float=Decimal)
    assert {one["id"] for one in found["settings"] if one["table"] == "local"} == {row.setting for row in HILLS.rows}
    for one in found["settings"]:
        assert sum(part["amount"]["value"] for part in one["contributions"]) == one["sum"]["value"]
        assert one["low"]["value"] <= one["start"]["value"] <= one["high"]["value"]
        codes = [part["code"] for part in one["contributions"]]
        assert ("local" in one) == (one["table"] == "local") == ("local" in codes)
        if "local" in one:
            assert codes[:2] == ["base", "local"]
            assert one["contributions"][1]["origin"] == f"{NAME}@3"
            assert {one["contributions"][1][name] for name in ("basis", "known")} == {"computed"}
            assert one["local"]["start"]["low"] <= one["local"]["start"]["value"] <= one["local"]["start"]["high"]
    cited = {place["id"] for one in found["settings"] for part in one["contributions"] for place in part["sources"]}
    assert cited <= {source["id"] for source in found["sources"]}


def test_each_local_number_says_what_it_rests_on(ask: Ask) -> None:
    found = asked(ask, "POST", START, {"json": BODY}, table=NAME).json()
    assert setting(found, "lower_sieve_opening")["local"] == {
        "records": 240,
        "contributors_band": "5-9",
        "start": {"value": 8.3, "low": 7.8, "high": 8.8, "unit": "mm"},
        "base_start": {"value": 7.5, "unit": "mm"},
        "stale": False,
    }
    assert setting(found, "upper_sieve_opening")["local"]["stale"] is True
    (warning,) = [note for note in found["warnings"] if note["code"].startswith("warning.local")]
    assert warning["code"] == "warning.local_stale"
    assert "Upper sieve opening" in warning["text"]
    assert found["local"] == {
        "organisation": NAME,
        "number": 3,
        "digest": DIGEST,
        "base_revision": "2026.11.2",
        "published_at": "2026-11-20T09:30:00Z",
    }


def test_units_of_the_united_states_hold_for_local_numbers_too(ask: Ask) -> None:
    found = asked(ask, "POST", START, {"json": BODY}, table=NAME, units="us").json()
    drum = setting(found, "threshing_speed")
    # 23.7 m/s x 60 / 0.3048 = 4665.4 ft/min, 24.5 m/s = 4822.8 ft/min
    assert drum["local"]["start"] | {"low": 0, "high": 0} == {"value": 4665, "low": 0, "high": 0, "unit": "[ft_i]/min"}
    assert drum["local"]["base_start"] == {"value": 4823, "unit": "[ft_i]/min"}
    # -0.8 m/s = -157.5 ft/min, a last digit more or less for the rounded sums
    assert drum["contributions"][1]["amount"]["value"] == pytest.approx(-157.5, abs=1)


@pytest.mark.parametrize("reader", READERS, ids=str)
def test_get_and_post_give_the_same_bytes(reader: dict[str, str], ask: Ask) -> None:
    got = asked(ask, "GET", START, {"params": BODY}, table=NAME, **reader)
    posted = asked(ask, "POST", START, {"json": BODY}, table=NAME, **reader)
    assert got.status_code == 200
    assert got.content == posted.content


def test_numbers_that_are_not_local_are_those_of_the_base_table(ask: Ask) -> None:
    base = asked(ask, "POST", START, {"json": BODY}).json()
    found = asked(ask, "POST", START, {"json": BODY}, table=NAME).json()
    for one, other in zip(base["settings"], found["settings"], strict=True):
        assert one["table"] == "base"
        assert "local" not in one
        assert (one == other) == (other["table"] == "base")
        assert (one["low"], one["high"]) == (other["low"], other["high"])


def test_the_tag_follows_the_digest_of_the_local_table(app: FastAPI, asking: Callable[[FastAPI], Ask]) -> None:
    """The same numbers published again are another revision: another digest, another tag."""
    again = table_of(*HILLS.rows, digest="sha256:" + "4" * 64)
    answers = []
    for local in (HILLS, again):
        other = create_app(Settings())
        other.state.active_table = finding(local, app.state.active_table)
        answers.append(asked(asking(other), "GET", START, {"params": BODY}, table=NAME))
    assert answers[0].headers["etag"] != answers[1].headers["etag"]
    assert [one.headers["threshbook-local-digest"] for one in answers] == [HILLS.digest, again.digest]
    assert [one.json()["settings"] for one in answers[:1]] == [one.json()["settings"] for one in answers[1:]]


def test_who_holds_the_answer_gets_304_and_keeps_it_for_a_minute(ask: Ask) -> None:
    revision = ask("GET", "/version").json()["revision"]
    base = asked(ask, "GET", START, {"params": BODY})
    for pinned in ({}, {"revision": revision}):
        first = asked(ask, "GET", START, {"params": BODY}, table=NAME, **pinned)
        # a pinned revision does not pin what the organisation publishes over it
        assert first.headers["cache-control"] == "public, max-age=60, stale-while-revalidate=600, stale-if-error=86400"
        assert first.headers["vary"] == base.headers["vary"]
        assert first.headers["etag"] != base.headers["etag"]
        held = PLAIN | {"if-none-match": first.headers["etag"]}
        again = ask("GET", START, params=BODY | {"table": NAME} | pinned, headers=held)
        assert again.status_code == 304
        assert again.content == b""
        assert again.headers["threshbook-local-digest"] == DIGEST
        assert ask("GET", START, params=BODY, headers=held).status_code == 200
    assert "threshbook-local-digest" not in base.headers


def test_the_digest_can_be_read_by_a_page_of_another_origin(ask: Ask) -> None:
    answer = ask("GET", START, params=BODY | {"table": NAME}, headers={"origin": "https://example.org"})
    assert "Threshbook-Local-Digest" in answer.headers["access-control-expose-headers"]


@pytest.mark.parametrize("lang", ["en", "de"])
@pytest.mark.parametrize(("method", "url", "more"), CALLS)
def test_an_unknown_table_is_not_found_and_no_name_is_listed(
    method: str, url: str, more: dict[str, Any], lang: str, ask: Ask, coop: Coop, refused: Refused
) -> None:
    problems = []
    # nobody; nobody, though nearly the name of one; an organisation that has published nothing
    for name in ("nobody-at-all", coop.name[:-1], coop.name, "Hill Country", "'; --"):
        problem = refused(asked(ask, method, url, more, table=name, lang=lang), 404)
        (item,) = problem["errors"]
        assert (item["parameter"], item["code"]) == ("table", "unknown_name")
        assert not {"allowed", "nearest"} & set(item)
        problems.append(problem)
    assert all(problem == problems[0] for problem in problems)
    assert coop.name[:-1] not in json.dumps(problems)


@pytest.mark.parametrize(("method", "url", "more"), CALLS)
@pytest.mark.parametrize("broken", [False, True], ids=["no store", "broken store"])
def test_a_store_that_is_not_there_is_told_and_other_advice_goes_on(
    broken: bool,
    method: str,
    url: str,
    more: dict[str, Any],
    tmp_path: Path,
    asking: Callable[[FastAPI], Ask],
    refused: Refused,
) -> None:
    path = tmp_path / "store.sqlite3"
    if broken:
        path.write_bytes(b"no database" * 1000)
    ask = asking(create_app(Settings(database_url=f"sqlite:///{path}")))
    problem = refused(asked(ask, method, url, more, table=NAME), 503)
    assert problem["code"] == ("store_unavailable" if broken else "store_missing")
    assert "table" in problem["detail"]
    assert str(path) not in json.dumps(problem)
    assert asked(ask, method, url, more).status_code == 200
    assert not broken or path.stat().st_size == 11_000


@pytest.mark.parametrize("value", ["", "x" * 41, "a\u0000b"])
def test_a_name_that_cannot_be_one_is_refused(value: str, ask: Ask, refused: Refused) -> None:
    problem = refused(asked(ask, "POST", START, {"json": BODY}, table=value), 422)
    assert [item["parameter"] for item in problem["errors"]] == ["table"]


def test_a_table_named_twice_is_refused(ask: Ask, refused: Refused) -> None:
    answer = ask("POST", f"{START}?table={NAME}&table={NAME}", json=BODY)
    assert refused(answer, 422)["code"] == "duplicate_parameter"


@pytest.mark.parametrize("url", ["/v1/crops", "/v1/knowledge", "/v1"])
def test_addresses_that_have_no_local_numbers_refuse_the_parameter(url: str, ask: Ask, refused: Refused) -> None:
    problem = refused(ask("GET", url, params={"table": NAME}), 422)
    assert problem["code"] == "unknown_field"


def test_the_next_adjustment_marks_moves_that_start_from_local_numbers(ask: Ask) -> None:
    body = NEXT_ADJUSTMENT["wheat, cracked kernels"]["value"]
    rows = {row.setting: row for row in HILLS.rows}
    case = {name: value for name, value in body.items() if name not in ("current_settings", "history")}
    case |= {"machine_class": "hybrid", "grain_moisture_pct": 14.0}
    found = asked(ask, "POST", NEXT, {"json": case}, table=NAME).json()
    moves = [*([found["change"]] if "change" in found else []), *found["alternatives"]]
    ours = [move for move in moves if move["setting"] in rows]
    others = [move for move in moves if move["setting"] not in rows]
    assert ours
    assert others
    for move in ours:
        assert move["table"] == "local"
        assert move["local"]["contributors_band"] == rows[move["setting"]].contributors_band
    assert {move["table"] for move in others} == {"base"}
    assert found["local"]["digest"] == DIGEST
    base = asked(ask, "POST", NEXT, {"json": case}).json()
    assert base["knowledge"] == found["knowledge"]
    assert "local" not in base


def printed(answer: dict[str, Any], lang: Language) -> str:
    console = Console(record=True, width=160, file=io.StringIO())
    print_settings(Sheet(console, lang, "metric"), answer)
    return console.export_text()


def test_the_sheet_shows_local_numbers_as_such(ask: Ask) -> None:
    english = printed(asked(ask, "POST", START, {"json": BODY}, table=NAME).json(), "en")
    assert english.count("local: 240 records of 10-19 contributors") == 2
    assert "local: 240 records of 5-9 contributors" in english
    assert english.count("the base start has changed since") == 1
    assert "7.5 table start (recalled) + 0.8 local table = 8.3" in english
    assert f"Local table of {NAME}, revision 3, on base 2026.11.2, sha256:3333333333333333..." in english
    assert "The table learns most from pairs" in english
    german = printed(asked(ask, "POST", START, {"json": BODY}, table=NAME, lang="de").json(), "de")
    assert german.count("örtlich: 240 Meldungen von 10-19 Meldenden") == 2
    base = printed(asked(ask, "POST", START, {"json": BODY}).json(), "en")
    assert "local:" not in base
    assert "ocal table" not in base


def published(coop: Coop, rows: tuple[LocalRow, ...], number: int | None = None) -> LocalTable:
    """Publish rows as the next revision of the co-op, or an earlier one again."""
    now = datetime.now(UTC)
    with coop.store.writing() as session:
        if number is not None:
            office = authenticate(session, coop.office, now)
            return local_tables.roll_back(session, office, coop.name, number, 2, now)
        organisation = organisations.find(session, coop.name)
        base = ("2026.11.2", "sha256:" + "b" * 64)
        return local_tables.add_revision(session, organisation.id, coop.name, rows, base, now, "key test")


def test_what_was_published_or_taken_back_holds_at_once(store: Store, asking: Callable[[FastAPI], Ask]) -> None:
    app = create_app(Settings())
    app.state.store, coop, ask = store, make_coop(store), asking(app)
    first = published(coop, HILLS.rows[:1])
    seen = []
    for step in (lambda: first, lambda: published(coop, HILLS.rows[1:2]), lambda: published(coop, (), 1)):
        made = step()
        answer = asked(ask, "GET", START, {"params": BODY}, table=coop.name)
        assert answer.status_code == 200, answer.text
        local = answer.json()["local"]
        assert (local["number"], local["digest"]) == (made.number, made.digest)
        assert datetime.fromisoformat(local["published_at"]) == made.published_at
        marked = [one["id"] for one in answer.json()["settings"] if one["table"] == "local"]
        seen.append((marked, answer.headers["etag"]))
    assert [marked for marked, _ in seen] == [["threshing_speed"], ["lower_sieve_opening"], ["threshing_speed"]]
    assert len({tag for _, tag in seen}) == 3


@pytest.mark.parametrize(("method", "url", "more"), CALLS)
def test_advice_ends_with_the_request_for_a_pair(method: str, url: str, more: dict[str, Any], ask: Ask) -> None:
    for lang, word in (("en", "same day"), ("de", "am selben Tag")):
        (note,) = asked(ask, method, url, more, lang=lang).json()["notes"]
        assert note["code"] in ("pair.ask", "pair.ask_any", "pair.ask_both_sides")
        assert word in note["text"]
