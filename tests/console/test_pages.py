"""What every page keeps to: its policy, its markup, both languages, and that no link leads nowhere."""

import hashlib
import itertools
import re
from base64 import b64encode
from collections.abc import Callable, Iterator
from importlib.resources import files
from urllib.parse import urljoin, urlsplit
from xml.etree import ElementTree

import pytest

from service.console.words import Words
from tests.console.conftest import Reading, Site, Visitor, table, text_of

Visiting = Callable[..., Visitor]
POLICY = {
    "default-src 'none'",
    "style-src 'self'",
    "img-src 'self'",
    "form-action 'self'",
    "base-uri 'none'",
    "frame-ancestors 'none'",
}
GROUP = "/console/drafts/1/wheat/hybrid"


def published(visitor: Visitor) -> None:
    """Two published tables, and a draft that waits."""
    first = visitor.draft()
    visitor.decide(first, best="accepted", dry="not in this soil")
    visitor.publish(first)
    second = visitor.draft()
    visitor.decide(second, dry="accepted")
    visitor.publish(second)
    third = visitor.draft()
    visitor.decide(third, dry="accepted", best="accepted", damp="accepted")


def crawl(visitor: Visitor) -> Iterator[tuple[str, Reading]]:
    """Every page that a link leads to, from the first on."""
    seen, waiting = set(), ["/console/", "/console/login", "/console/nowhere"]
    while waiting:
        path = waiting.pop()
        if path in seen:
            continue
        seen.add(path)
        answer = visitor.send("GET", path)
        if answer.status_code == 303:
            waiting.append(answer.headers["location"])
            continue
        assert answer.status_code == (404 if path == "/console/nowhere" else 200), path
        if not answer.headers["content-type"].startswith("text/html"):
            continue
        check_headers(answer.headers, path)
        page = Reading(answer.text)
        yield path, page
        for element in page.all("a", "img", "link", "source"):
            target = urljoin(path, element.get("href") or element.get("src") or element.get("srcset"))
            assert urlsplit(target).netloc == "", target
            if not element.get("href").startswith("#"):
                waiting.append(target)


def check_headers(headers: dict[str, str], path: str) -> None:
    assert {part.strip() for part in headers["content-security-policy"].split(";")} == POLICY, path
    assert headers["cache-control"] == "no-store"
    assert headers["referrer-policy"] == "same-origin"
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["cross-origin-resource-policy"] == "same-origin"
    assert headers["cross-origin-opener-policy"] == "same-origin"
    assert "cookie" in headers["vary"].lower()


def check_markup(page: Reading, path: str, lang: str) -> None:
    """No script and no style in the page, and everything named that a reader who sees nothing needs named."""
    assert not page.all("script", "style", "iframe", "object", "base"), path
    for one in page.elements:
        assert not [name for name in one.attributes if name.startswith("on") or name == "style"], (path, one)
        assert not one.get("href").startswith(("javascript:", "data:"))
    idents = [one["id"] for one in page.elements if one.get("id")]
    assert len(idents) == len(set(idents)), path
    assert [one["lang"] for one in page.all("html")] == [lang]
    assert len(page.all("h1")) == len(page.all("main")) == len(page.all("header")) == len(page.all("footer")) == 1, path
    assert page.all("title")[0].text.strip()
    levels = [int(one.tag[1]) for one in page.all("h1", "h2", "h3", "h4")]
    assert all(after <= before + 1 for before, after in itertools.pairwise(levels)), (path, levels)
    labelled = {one.get("for") for one in page.all("label")}
    for one in page.all("input", "select", "textarea"):
        named = one.get("type") == "hidden" or one.inside("label") or one.get("id") in labelled
        assert named, (path, one.attributes)
    assert all(one["alt"] for one in page.all("img")), path
    tables = page.all("table")
    assert len(page.all("caption")) == len(tables), path
    assert all(one["scope"] in ("col", "row") for one in page.all("th")), path
    assert all(one.text.strip() for one in page.all("a", "button", "caption", "legend", "h1", "h2", "h3")), path
    for one in page.elements:
        for name in ("aria-labelledby", "aria-describedby"):
            assert set(one.get(name).split()) <= set(idents), (path, name)
    inside = {one["href"][1:] for one in page.all("a") if one.get("href").startswith("#")}
    assert inside <= set(idents), path
    skip = page.all("a")[0]
    assert skip["href"] == "#content"
    assert "content" in idents


@pytest.mark.parametrize("lang", ["en", "de"])
def test_every_page_keeps_to_its_policy_and_names_everything(whole_site: Site, visiting: Visiting, lang: str) -> None:
    visitor = visiting(whole_site, whole_site.reviewer)
    published(visitor)
    visitor.language = lang
    seen = dict(crawl(visitor))
    for path, page in seen.items():
        check_markup(page, path, lang)
    wanted = ("", "drafts", "drafts/1", "drafts/3/publish", "drafts/3/wheat/hybrid", "table", "table/1", "tests")
    assert {f"/console/{one}" for one in (*wanted, "table/1/rollback")} <= set(seen)
    out = visiting(whole_site)
    out.language = lang
    check_markup(out.page("/console/login"), "login", lang)


def policy_of(drawn: str) -> str:
    """The one policy that fits a drawing: its own style sheet by its digest (CSP 3, 8.3), and nothing else."""
    (sheet,) = [one.text or "" for one in ElementTree.fromstring(drawn).iter("{http://www.w3.org/2000/svg}style")]
    digest = b64encode(hashlib.sha256(sheet.encode()).digest()).decode()
    return f"default-src 'none'; style-src 'sha256-{digest}'; frame-ancestors 'none'"


def test_what_is_drawn_brings_its_own_style_and_nothing_else(one_site: Site, visiting: Visiting) -> None:
    visitor = visiting(one_site, one_site.reviewer)
    visitor.draft()
    pictures = [one["src"] for one in visitor.page(GROUP).all("img")] + ["/console/weeks.svg"]
    assert len(pictures) > 5
    for path in pictures:
        answer = visitor.get(path)
        assert answer.headers["content-type"] == "image/svg+xml"
        assert answer.headers["content-security-policy"] == policy_of(answer.text)
        assert "<script" not in answer.text


def test_language_and_units_stay_as_chosen(one_site: Site, visiting: Visiting) -> None:
    visitor = visiting(one_site, one_site.reviewer)
    visitor.draft()
    assert " m/s" in text_of(visitor.get(GROUP))
    answer = visitor.post("/console/view", 303, lang="de", units="us", to=GROUP.removeprefix("/console/"))
    assert answer.headers["location"] == GROUP
    text = text_of(visitor.get(GROUP))
    assert "Weizen" in text
    assert " m/s" not in text
    assert "Fuß/min" in text
    visitor.post("/console/view", 303, lang="xx", units="us", to="")
    assert visitor.page("/console/").all("html")[0]["lang"] == "de"


@pytest.mark.parametrize(
    ("before", "after", "unit", "told"),
    [
        (11.0, 10.8, "mm", ("11.0 mm", "10.8 mm")),
        (17.0, 16.0, "mm", ("17 mm", "16 mm")),
        (6.34, 6.31, "m/s", ("6.34 m/s", "6.31 m/s")),
        (11.0, 11.0, "mm", ("11 mm", "11 mm")),
    ],
)
def test_two_values_have_as_many_decimals(before: float, after: float, unit: str, told: tuple[str, str]) -> None:
    words = Words(table(), "en", "metric")
    assert words.pair(before, after, unit) == tuple(one.replace(" ", "\N{NO-BREAK SPACE}") for one in told)


@pytest.mark.parametrize(
    ("probability", "told"), [(1.0, "> 99 %"), (0.996, "> 99 %"), (0.91, "91 %"), (0.004, "< 1 %")]
)
def test_no_chance_is_told_as_certain(probability: float, told: str) -> None:
    assert Words(table(), "en", "metric").chance(probability) == told.replace(" ", "\N{NO-BREAK SPACE}")


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, contrast ratio of relative luminances."""

    def luminance(colour: str) -> float:
        parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
        linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_words_can_be_read_by_day_and_by_night(scheme: str) -> None:
    """At least 4.5:1 for words (WCAG 2.2, 1.4.3) and 3:1 for what marks a control (1.4.11)."""
    sheet = files("service.console").joinpath("static", "style.css").read_text(encoding="utf-8")
    day, night = re.findall(r":root \{(.*?)\}", sheet, flags=re.DOTALL)
    colours = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", day if scheme == "light" else night))
    words = [("ink", ground) for ground in ("page", "panel", "good-page", "bad-page")]
    words += [("faint", "page"), ("faint", "panel"), ("link", "page"), ("act-ink", "act"), ("straw-ink", "straw")]
    words += [
        ("good", "good-page"),
        ("bad", "bad-page"),
        ("ink", "heed-page"),
        ("bad", "page"),
        ("bad", "panel"),
        ("link", "good-page"),
    ]
    words += [("shade-ink", f"shade{n}") for n in (1, 2, 3, 4)] + [("link", "bad-page")]
    assert not [pair for pair in words if contrast(colours[pair[0]], colours[pair[1]]) < 4.5]
    assert contrast(colours["faint"], colours["page"]) >= 3


def test_the_style_sheet_is_ours_alone() -> None:
    sheet = files("service.console").joinpath("static", "style.css").read_text(encoding="utf-8")
    assert "@import" not in sheet
    assert "url(" not in sheet


def test_the_style_sheet_may_be_kept_for_ever_under_its_address(whole_site: Site, visiting: Visiting) -> None:
    visitor = visiting(whole_site)
    (sheet,) = [one for one in visitor.page("/console/login").all("link") if one["rel"] == "stylesheet"]
    assert re.fullmatch(r"/console/style\.css\?[0-9a-f]{12}", sheet["href"])
    answer = visitor.get(sheet["href"])
    assert "immutable" in answer.headers["cache-control"]
    assert answer.headers["content-type"].startswith("text/css")
