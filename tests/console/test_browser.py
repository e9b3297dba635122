"""The pages in a real browser, by keyboard alone, by day and by night, wide and narrow; pictures of each are kept."""

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from service.store import Store
from tests.conftest import running_service
from tests.console.browser import CHROMIUM, Browser, browsing
from tests.console.conftest import Site, site_on
from tests.databases import copied

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine")
INTRUDER = """(() => {
  const script = document.createElement("script");
  script.textContent = "window.ran = true";
  const styled = document.createElement("div");
  styled.id = "styled";
  styled.setAttribute("style", "color: red");
  document.body.append(script, styled);
})()"""
FOCUS = """(one => {
  const look = getComputedStyle(one);
  return one === document.body ? "" : look.outlineStyle + look.outlineWidth;
})(document.activeElement)"""
PAGES = ("", "drafts", "drafts/1", "drafts/1/wheat/hybrid", "table", "table/1", "tests")


@pytest.fixture(scope="module")
def grown(grown_templates: Callable[[str], Any], tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    store = copied(grown_templates("sqlite"), tmp_path_factory.mktemp("browsed"))
    yield store
    store.engine.dispose()


@pytest.fixture(scope="module")
def keys(grown: Store) -> Site:
    return site_on(grown)


@pytest.fixture(scope="module")
def served(grown: Store, keys: Site) -> Iterator[str]:
    with running_service(database=grown.engine.url.render_as_string()) as url:
        yield f"{url}/console"


@pytest.fixture(scope="module")
def browser(served: str, keys: Site) -> Iterator[Browser]:
    """One that has logged in, drafted, decided and published, all by keyboard."""
    with browsing() as browser:
        browser.look(dark=False)
        browser.open(f"{served}/")
        browser.tab_to("#key")
        browser.write(keys.reviewer)
        browser.key("Enter", leaves=True)
        browser.tab_to("nav li:nth-child(2) a")
        browser.key("Enter", leaves=True)
        browser.tab_to("main button")
        browser.key("Enter", leaves=True)
        browser.tab_to("main table a")
        browser.key("Enter", leaves=True)
        browser.tab_to("input[name='choice-wheat.hybrid.dry']")
        browser.key("ArrowRight")  # from "not yet", which is last, round to "accept"
        browser.tab_to("main button")
        browser.key("Enter", leaves=True)
        browser.open(f"{served}/drafts/1")
        browser.tab_to("a.main")
        browser.key("Enter", leaves=True)
        browser.tab_to("main button")
        browser.key("Enter", leaves=True)
        yield browser


def test_everything_can_be_done_by_keyboard(browser: Browser, served: str) -> None:
    browser.open(f"{served}/table")
    assert "Revision 1" in browser.run("document.querySelector('main table').innerText")


def test_pages_look_as_they_should_by_day_and_by_night(browser: Browser, served: str, tmp_path: Path) -> None:
    seen = len(browser.events)
    for path in PAGES:
        for dark, ground in ((False, "rgb(253, 253, 251)"), (True, "rgb(23, 27, 30)")):
            browser.look(dark=dark)
            browser.open(f"{served}/{path}")
            assert browser.colour_at("html") == ground
            assert browser.run("[...document.images].every(one => one.complete && one.naturalWidth > 0)"), path
            picture = tmp_path / f"{re.sub('[^a-z0-9]+', '-', path) or 'first'}-{'night' if dark else 'day'}.png"
            browser.picture(picture)
            assert picture.stat().st_size > 10_000
    assert browser.complaints(seen) == []


@pytest.mark.parametrize("width", [360, 800, 1600])
def test_no_page_is_wider_than_its_window(browser: Browser, served: str, width: int) -> None:
    browser.look(dark=False, width=width)
    for path in PAGES:
        browser.open(f"{served}/{path}")
        assert browser.run("document.documentElement.scrollWidth") <= width, path


def test_on_a_phone_a_row_is_a_list_and_a_chart_is_drawn_for_it(browser: Browser, served: str) -> None:
    """Every figure stands behind its name, is still a cell of its table to a screen reader, and letters can be read."""
    browser.look(dark=False, width=390)
    browser.open(f"{served}/table/1")
    assert browser.run("[...document.querySelectorAll('main td')].every(one => one.dataset.label)")
    assert browser.run("getComputedStyle(document.querySelector('main td'), '::before').content").startswith('"')
    assert browser.run("document.querySelector('.wide').scrollWidth <= document.querySelector('.wide').clientWidth")
    roles = {one["role"]["value"] for one in browser.accessible() if "role" in one}
    assert {"table", "row", "rowheader", "columnheader", "cell"} <= roles
    browser.open(f"{served}/drafts/1/wheat/hybrid")
    drawn = browser.run("[...document.images].map(one => one.currentSrc + ' ' + one.naturalWidth)")
    assert len(drawn) > 3
    assert all(one.endswith("?narrow=1 400") for one in drawn), drawn
    browser.look(dark=False, width=1280)
    browser.open(f"{served}/drafts/1/wheat/hybrid")
    assert "narrow" not in browser.run("document.images[0].currentSrc")


def test_print_is_dark_on_white_without_controls(browser: Browser, served: str) -> None:
    browser.look(dark=True, width=760)
    browser.open(f"{served}/drafts/1/wheat/hybrid")
    browser.print_look()
    assert browser.colour_at("html") == "rgb(253, 253, 251)"
    hidden = "[...document.querySelectorAll('nav, footer, .leave, .bar')].every(one => !one.checkVisibility())"
    assert browser.run(hidden)
    assert browser.run("document.documentElement.scrollWidth") <= 760
    browser.look(dark=False)


def test_the_first_key_leads_past_the_head_of_the_page(browser: Browser, served: str) -> None:
    browser.look(dark=False)
    browser.open(f"{served}/drafts")
    browser.key("Tab")
    assert browser.run("document.activeElement.getBoundingClientRect().left") >= 0
    browser.key("Enter")
    assert browser.run("document.activeElement.id") == "content"


def test_the_focus_can_be_seen_wherever_it_is(browser: Browser, served: str) -> None:
    browser.open(f"{served}/drafts/1/wheat/hybrid")
    for _ in range(25):
        browser.key("Tab")
        outline = browser.run(FOCUS)
        assert outline in ("", "solid3px"), outline


def test_a_page_runs_no_script_even_if_one_gets_in(browser: Browser, served: str) -> None:
    browser.open(f"{served}/drafts")
    seen = len(browser.events)
    browser.run(INTRUDER)
    assert browser.run("window.ran") is None
    assert browser.run("getComputedStyle(document.getElementById('styled')).color") != "rgb(255, 0, 0)"
    assert any("Content Security Policy" in one for one in browser.complaints(seen))


def test_a_form_of_another_site_does_nothing(browser: Browser, served: str, tmp_path: Path) -> None:
    """A page from a file: the browser sends its form without cookies of ours, and says where it comes from."""
    page = tmp_path / "foreign.html"
    page.write_text(f'<form method="post" action="{served}/drafts"><button>go</button></form>')
    browser.open(page.as_uri())
    browser.tab_to("button")
    browser.key("Enter", leaves=True)
    assert "was not accepted" in browser.run("document.body.innerText")
    browser.open(f"{served}/drafts")
    assert browser.run("document.querySelectorAll('main tbody tr').length") == 1
