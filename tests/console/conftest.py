"""A console on the invented co-op, and a visitor who reads its pages as a browser does, without one."""

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import anyio.from_thread
import httpx
import pytest
from starlette.applications import Starlette
from starlette.routing import Mount

from service.api.app import create_app
from service.cli.invented_coop import NAME
from service.config import Settings
from service.console import console
from service.knowledge.load import load_table
from service.knowledge.table import KnowledgeTable
from service.store import Store
from service.usecases import organisations as cases
from tests.databases import copied

ORIGIN = "http://console.test"
VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"}


@dataclass(frozen=True)
class Site:
    """A console with the keys of those who come to it."""

    app: Starlette
    store: Store
    reviewer: str
    other_reviewer: str
    reader: str  # read, but not review
    farm: str  # a contributor
    stranger: str  # reviews for another organisation


@dataclass
class Element:
    """An element with its attributes and all text inside."""

    tag: str
    attributes: dict[str, str]
    parents: tuple["Element", ...]
    text: str = ""

    def __getitem__(self, name: str) -> str:
        return self.attributes[name]

    def get(self, name: str, otherwise: str = "") -> str:
        return self.attributes.get(name, otherwise)

    def inside(self, tag: str) -> bool:
        return any(parent.tag == tag for parent in self.parents)


class Reading(HTMLParser):
    """Elements of a page in their order; a tag that is closed in the wrong place fails the test."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[Element] = []
        self._open: list[Element] = []
        self.feed(text)
        self.close()
        assert not self._open, [one.tag for one in self._open]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = [name for name, _ in attrs]
        assert len(names) == len(set(names)), attrs
        element = Element(tag, {name: value or "" for name, value in attrs}, tuple(self._open))
        self.elements.append(element)
        if tag not in VOID:
            self._open.append(element)

    def handle_endtag(self, tag: str) -> None:
        assert self._open.pop().tag == tag

    def handle_data(self, data: str) -> None:
        for element in self._open:
            element.text += data

    def all(self, *tags: str) -> list[Element]:
        return [one for one in self.elements if one.tag in tags]

    def fields(self, action: str) -> dict[str, str]:
        """What the form with this action would send as it stands."""
        (form,) = [one for one in self.all("form") if one["action"] == action and one.get("method") == "post"]
        found = {}
        for one in self.all("input", "textarea", "select"):
            if form not in one.parents or (one.get("type") == "radio" and "checked" not in one.attributes):
                continue
            found[one["name"]] = one.text if one.tag == "textarea" else one.get("value")
        return found


@dataclass
class Visitor:
    """Somebody with a browser: keeps cookies, sends forms from where they stand, does not follow on its own."""

    ask: Callable[..., httpx.Response]
    cookies: dict[str, str] = field(default_factory=dict)
    language: str = "en"

    def send(self, method: str, path: str, **more: Any) -> httpx.Response:
        headers = {"Accept-Language": self.language} | dict(more.pop("headers", {}))
        if self.cookies:
            headers["Cookie"] = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        answer = self.ask(method, path, headers=headers, **more)
        for line in answer.headers.get_list("set-cookie"):
            name, value = line.split(";")[0].split("=", 1)
            self.cookies[name] = value.strip('"')
            if not self.cookies[name]:
                del self.cookies[name]
        return answer

    def get(self, path: str, status: int = 200) -> httpx.Response:
        answer = self.send("GET", path)
        assert answer.status_code == status, f"{path}: {answer.status_code} {answer.text[:300]}"
        return answer

    def page(self, path: str, status: int = 200) -> Reading:
        return Reading(self.get(path, status).text)

    def post(self, path: str, status: int | None = 303, /, **fields: str) -> httpx.Response:
        answer = self.send("POST", path, data=fields, headers={"Origin": ORIGIN})
        assert status in (None, answer.status_code), f"{path}: {answer.status_code} {text_of(answer)}"
        return answer

    def log_in(self, key: str, to: str = "") -> httpx.Response:
        return self.post("/console/login", 303, key=key, to=to)

    def draft(self) -> str:
        """Make a draft; returns its address."""
        fields = self.page("/console/drafts").fields("/console/drafts")
        return str(self.post("/console/drafts", 303, **fields).headers["location"])

    def decide(self, address: str, status: int | None = 303, /, **decisions: str) -> httpx.Response:
        """Decide on rows of a draft by their band: `dry="accepted"`, or `dry="no, too dear"` to refuse."""
        group = f"{address}/wheat/hybrid"
        return self.post(group, status, **self.page(group).fields(group) | told(decisions))

    def publish(self, address: str) -> str:
        """Publish a draft; returns the address of the revision."""
        asked = f"{address}/publish"
        return str(self.post(asked, 303, **self.page(asked).fields(asked)).headers["location"].partition("?")[0])


def told(decisions: Mapping[str, str]) -> dict[str, str]:
    """Fields of the form for decisions by band."""
    found = {}
    for band, said in decisions.items():
        row, accepted = f"wheat.hybrid.{band}", said == "accepted"
        found |= {f"choice-{row}": said if accepted else "refused", f"reason-{row}": "" if accepted else said}
    return found


def text_of(answer: httpx.Response) -> str:
    """The words of a page."""
    (main,) = Reading(answer.text).all("main")
    return re.sub(r"\s+", " ", main.text).strip()


def site_on(store: Store, *, whole: bool = False) -> Site:
    """A console on a store: mounted in the whole service, or alone, which takes a tenth of the time to build."""
    now = datetime.now(UTC)
    with store.writing() as session:
        grown = cases.find(session, NAME)
        farm = cases.find_member(session, grown, "invented-farm-1")
        strange = cases.create(session, "invented-strangers", 1, now)

        def key(organisation: Any, member: Any, *scopes: str) -> str:
            return cases.issue_key(session, organisation, member, scopes, now).text

        keys = {
            "reviewer": key(grown, None, "read", "review"),
            "other_reviewer": key(grown, farm, "read", "review"),
            "reader": key(grown, None, "read", "administer"),
            "farm": key(grown, farm, "read", "contribute"),
            "stranger": key(strange, None, "read", "contribute", "review", "administer"),
        }
    if whole:
        url = store.engine.url.render_as_string(hide_password=False)
        return Site(create_app(Settings(database_url=url)), store, **keys)
    app = Starlette(routes=[Mount("/console", console(table(), store))])
    return Site(app, store, **keys)


@cache
def table() -> KnowledgeTable:
    return load_table()


@pytest.fixture
def site(grown_store: Store) -> Site:
    """On both databases."""
    return site_on(grown_store)


@pytest.fixture
def whole_site(grown_templates: Callable[[str], Any], tmp_path: Path) -> Iterator[Site]:
    """In the whole service, with all that it does around every request."""
    store = copied(grown_templates("sqlite"), tmp_path)
    yield site_on(store, whole=True)
    store.engine.dispose()


@pytest.fixture(scope="session")
def visiting() -> Iterator[Callable[..., Visitor]]:
    """Make a visitor of a site, without a log-in or with the key of one."""
    with anyio.from_thread.start_blocking_portal() as portal:

        def visitor_of(site: Site, key: str | None = None, origin: str = ORIGIN) -> Visitor:
            transport = httpx.ASGITransport(site.app, raise_app_exceptions=True)

            async def send(method: str, url: str, **more: Any) -> httpx.Response:
                async with httpx.AsyncClient(transport=transport, base_url=origin) as client:
                    return await client.request(method, url, **more)

            visitor = Visitor(lambda method, url, **more: portal.call(lambda: send(method, url, **more)))
            if key is not None:
                visitor.log_in(key)
            return visitor

        yield visitor_of


@pytest.fixture
def one_site(grown_templates: Callable[[str], Any], tmp_path: Path) -> Iterator[Site]:
    """On the embedded store alone, for what does not depend on the database."""
    store = copied(grown_templates("sqlite"), tmp_path)
    yield site_on(store)
    store.engine.dispose()
