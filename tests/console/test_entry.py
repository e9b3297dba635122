"""Who comes in, for how long, and that nothing is done for a page of another site."""

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from http.cookies import SimpleCookie
from pathlib import Path

import pytest
from sqlalchemy import text
from starlette.applications import Starlette
from starlette.routing import Mount

from service.api.app import create_app
from service.config import Settings
from service.console import console
from service.console.guard import SESSION
from service.store import audit, open_store
from service.store.keys import prefix_of
from service.usecases import organisations as cases
from service.usecases.console_access import LASTS, is_form_of
from tests.console.conftest import ORIGIN, Site, Visitor, table, text_of

Visiting = Callable[..., Visitor]
PAGES = (
    "",
    "drafts",
    "drafts/1",
    "drafts/1/publish",
    "drafts/1/wheat/hybrid",
    "table",
    "table/1",
    "tests",
    "weeks.svg",
)


@pytest.mark.parametrize("path", PAGES)
def test_no_page_without_a_session(one_site: Site, visiting: Visiting, path: str) -> None:
    answer = visiting(one_site).get(f"/console/{path}", 303)
    assert answer.headers["location"].startswith("/console/login")
    assert answer.text == ""


def test_the_page_that_was_wanted_is_shown_after_logging_in(one_site: Site, visiting: Visiting) -> None:
    visitor = visiting(one_site)
    asked = visitor.get("/console/drafts/7", 303).headers["location"]
    assert visitor.page(asked).fields("/console/login")["to"] == "drafts/7"
    assert visitor.log_in(one_site.reviewer, "drafts/7").headers["location"] == "/console/drafts/7"


@pytest.mark.parametrize(
    "to", ["//evil.test/", "https://evil.test/", "/docs", "../docs", "a\\b", "javascript:x", "x?y"]
)
def test_logging_in_leads_nowhere_else(one_site: Site, visiting: Visiting, to: str) -> None:
    assert visiting(one_site).log_in(one_site.reviewer, to).headers["location"] == "/console/"


def test_the_cookie_is_for_this_browser_and_site_alone(one_site: Site, visiting: Visiting) -> None:
    answer = visiting(one_site).log_in(one_site.reviewer)
    cookie = SimpleCookie(answer.headers["set-cookie"])[SESSION]
    assert (cookie["httponly"], cookie["samesite"].lower(), cookie["path"]) == (True, "strict", "/console")
    assert int(cookie["max-age"]) == LASTS.total_seconds()
    assert not cookie["secure"]
    secure = visiting(one_site, origin="https://console.test")
    sent = secure.send(
        "POST", "/console/login", data={"key": one_site.reviewer}, headers={"Origin": "https://console.test"}
    )
    assert SimpleCookie(sent.headers["set-cookie"])[SESSION]["secure"]


def test_neither_key_nor_token_is_kept(one_site: Site, visiting: Visiting) -> None:
    visitor = visiting(one_site, one_site.reviewer)
    token = visitor.cookies[SESSION]
    assert one_site.reviewer not in token
    assert one_site.reviewer.rsplit("_", 1)[1] not in visitor.get("/console/").text
    assert token not in visitor.get("/console/").text
    with one_site.store.reading() as session:
        (kept,) = session.execute(text("SELECT token_sha256 FROM console_session")).scalars()
    assert token.encode() not in bytes(kept)
    assert len(kept) == 32


@pytest.mark.parametrize("key", ["", "tbk_", "x" * 4000, "tbk_aaaaaaaa_" + "a" * 52, "'; DROP TABLE api_key; --"])
def test_a_key_that_does_not_hold_is_refused(one_site: Site, visiting: Visiting, key: str) -> None:
    answer = visiting(one_site).post("/console/login", 401, key=key)
    assert "set-cookie" not in answer.headers
    assert "is not valid" in text_of(answer)
    assert len(key) < 5 or key not in answer.text


@pytest.mark.parametrize("whose", ["reader", "farm"])
def test_a_key_that_is_none_to_review_is_refused(one_site: Site, visiting: Visiting, whose: str) -> None:
    answer = visiting(one_site).post("/console/login", 403, key=getattr(one_site, whose))
    assert "set-cookie" not in answer.headers


def test_each_login_has_a_token_of_its_own(one_site: Site, visiting: Visiting) -> None:
    visitor = visiting(one_site, one_site.reviewer)
    first = visitor.cookies[SESSION]
    visitor.log_in(one_site.reviewer)
    assert visitor.cookies[SESSION] != first


def test_logging_out_ends_the_session_itself(one_site: Site, visiting: Visiting) -> None:
    visitor = visiting(one_site, one_site.reviewer)
    held = dict(visitor.cookies)
    visitor.post("/console/logout", 303, **visitor.page("/console/").fields("/console/logout"))
    assert SESSION not in visitor.cookies
    visitor.cookies = held
    visitor.get("/console/", 303)


def test_a_revoked_key_ends_its_sessions(one_site: Site, visiting: Visiting) -> None:
    visitor = visiting(one_site, one_site.reviewer)
    visitor.get("/console/")
    with one_site.store.writing() as session:
        cases.revoke_key(session, prefix_of(one_site.reviewer) or "", datetime.now(UTC))
    answer = visitor.get("/console/", 303)
    assert "has ended" in text_of(visitor.get(answer.headers["location"]))


def test_a_session_runs_out(one_site: Site, visiting: Visiting) -> None:
    visitor = visiting(one_site, one_site.reviewer)
    past = (datetime.now(UTC) - timedelta(seconds=1)).replace(tzinfo=None)
    with one_site.store.writing() as session:
        session.execute(text("UPDATE console_session SET expires_at = :past"), {"past": past.isoformat(" ")})
    visitor.get("/console/", 303)
    visitor.log_in(one_site.reviewer)
    with one_site.store.reading() as session:
        assert session.scalar(text("SELECT count(*) FROM console_session")) == 1, "the old one was not swept away"


def test_a_session_goes_with_its_contributor(site: Site, visiting: Visiting) -> None:
    visitor = visiting(site, site.other_reviewer)
    with site.store.writing() as session:
        cases.erase_member(session, cases.find(session, "invented-co-op"), "invented-farm-1", datetime.now(UTC))
    visitor.get("/console/", 303)


def test_coming_and_going_is_written_down(one_site: Site, visiting: Visiting) -> None:
    visitor = visiting(one_site, one_site.reviewer)
    visitor.post("/console/logout", 303, **visitor.page("/console/").fields("/console/logout"))
    with one_site.store.reading() as session:
        newest = [(event.action, event.actor) for event in audit.events(session, newest=2)]
    actor = f"key {prefix_of(one_site.reviewer)}"
    assert newest == [("console left", actor), ("console entered", actor)]


FOREIGN = {
    "no origin": {},
    "another site": {"Origin": "http://evil.test"},
    "a site with a like name": {"Origin": "http://console.test.evil.test"},
    "the name in the path": {"Origin": "http://evil.test/console.test"},
    "hidden": {"Origin": "null"},
    "told by the browser": {"Origin": ORIGIN, "Sec-Fetch-Site": "cross-site"},
    "a neighbour": {"Origin": ORIGIN, "Sec-Fetch-Site": "same-site"},
}


@pytest.mark.parametrize("headers", FOREIGN.values(), ids=FOREIGN.keys())
@pytest.mark.parametrize("path", ["drafts", "logout", "login", "view"])
def test_a_form_of_another_site_does_nothing(
    one_site: Site, visiting: Visiting, path: str, headers: dict[str, str]
) -> None:
    visitor = visiting(one_site, one_site.reviewer)
    fields = visitor.page("/console/drafts").fields("/console/drafts")
    held = dict(visitor.cookies)
    told = fields | {"key": one_site.stranger, "lang": "de", "units": "us"}
    answer = visitor.send("POST", f"/console/{path}", data=told, headers=headers)
    assert answer.status_code == 403
    assert visitor.cookies == held
    assert "no draft yet" in text_of(visitor.get("/console/drafts"))


@pytest.mark.parametrize("token", [None, "", "0" * 64, "of another session", "é"])
def test_a_form_without_the_token_of_its_session_does_nothing(
    one_site: Site, visiting: Visiting, token: str | None
) -> None:
    visitor, other = visiting(one_site, one_site.reviewer), visiting(one_site, one_site.other_reviewer)
    if token == "of another session":
        token = other.page("/console/drafts").fields("/console/drafts")["form_token"]
    visitor.post("/console/drafts", 403, **({} if token is None else {"form_token": token}))
    assert "no draft yet" in text_of(visitor.get("/console/drafts"))


def test_only_forms_are_read(one_site: Site, visiting: Visiting) -> None:
    visitor = visiting(one_site, one_site.reviewer)
    token = visitor.page("/console/drafts").fields("/console/drafts")["form_token"]
    for more in ({"json": {"form_token": token}}, {"files": {"form_token": (None, token)}}):
        assert visitor.send("POST", "/console/drafts", headers={"Origin": ORIGIN}, **more).status_code == 403
    many = "&".join(f"f{n}=1" for n in range(401)) + f"&form_token={token}"
    form = {"Origin": ORIGIN, "Content-Type": "application/x-www-form-urlencoded"}
    assert visitor.send("POST", "/console/drafts", content=many, headers=form).status_code == 403
    assert visitor.send("POST", "/console/drafts", content=b"a=\xff", headers=form).status_code == 403
    assert visitor.send("POST", "/console/drafts", content="a=%ff", headers=form).status_code == 403


def test_the_token_of_a_form_tells_nothing_of_the_session(one_site: Site, visiting: Visiting) -> None:
    visitor = visiting(one_site, one_site.reviewer)
    told = visitor.page("/console/drafts").fields("/console/drafts")["form_token"]
    assert re.fullmatch(r"[0-9a-f]{64}", told)
    assert is_form_of(visitor.cookies[SESSION], told)
    assert not is_form_of("x" + visitor.cookies[SESSION][1:], told)


def test_without_a_named_database_the_console_stands(visiting: Visiting) -> None:
    site = Site(create_app(Settings(database_url=None)), None, *[""] * 5)  # type: ignore[arg-type]
    assert visiting(site).get("/console/", 303).headers["location"] == "/console/login"
    assert visiting(site).page("/console/login").all("form")
    assert visiting(site).get("/console/style.css").text


def test_without_its_database_the_console_says_so(one_site: Site, visiting: Visiting) -> None:
    visitor = visiting(one_site, one_site.reviewer)
    assert one_site.store.file is not None
    one_site.store.engine.dispose()
    one_site.store.file.rename(one_site.store.file.with_suffix(".away"))
    assert "No store on this installation" in text_of(visitor.get("/console/", 503))
    assert "No store on this installation" in text_of(visitor.post("/console/login", 503, key=one_site.reviewer))


def test_a_store_that_is_damaged_is_told_as_such(one_site: Site, visiting: Visiting) -> None:
    visitor = visiting(one_site, one_site.reviewer)
    assert one_site.store.file is not None
    one_site.store.engine.dispose()
    one_site.store.file.write_bytes(b"no database at all" * 1000)
    answer = visitor.get("/console/", 503)
    assert "The store cannot be reached" in text_of(answer)
    assert str(one_site.store.file) not in answer.text


def test_the_address_without_a_slash_leads_in(whole_site: Site, visiting: Visiting) -> None:
    assert visiting(whole_site).get("/console", 308).headers["location"] == "/console/"


def test_who_comes_before_there_is_a_store_is_told_so(visiting: Visiting, tmp_path: Path) -> None:
    alone = open_store(f"sqlite:///{tmp_path / 'none.sqlite3'}")
    app = Starlette(routes=[Mount("/console", console(table(), alone))])
    visitor = visiting(Site(app, alone, *["tbk_0_0"] * 5))
    assert visitor.page("/console/login").all("form")
    answer = visitor.post("/console/login", 503, key="tbk_0_0", to="")
    assert "threshbook org create" in text_of(answer)
    assert not (tmp_path / "none.sqlite3").exists()
