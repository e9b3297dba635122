"""Deciding, publishing, going back: by one reviewer, by two at once, and by one of another organisation."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime

import pytest

from service.cli.invented_coop import fill, found
from service.console import pages_drafts, pages_table, reviewing
from service.console.review import StaleError
from service.usecases import local_tables
from service.usecases import organisations as cases
from service.usecases.access import Caller
from tests.console.conftest import Reading, Site, Visitor, table, text_of, told
from tests.coop import GROWN

Visiting = Callable[..., Visitor]
GROUP = "/console/drafts/1/wheat/hybrid"
PUBLISH = "/console/drafts/1/publish"
HOSTILE = "<script>alert('x')</script> \"q\" & </textarea><img src=x onerror=y> {{ 7 * 7 }} \u202e\x00\x07"


def revisions(site: Site) -> list[tuple[int, int | None]]:
    """Number of each revision, newest first, and which earlier one it repeats."""
    with site.store.reading() as session:
        return [(one.number, one.repeats) for one in local_tables.history(session, "invented-co-op")]


def test_a_row_is_shown_with_what_a_reviewer_must_see(one_site: Site, visiting: Visiting) -> None:
    visitor = visiting(one_site, one_site.reviewer)
    visitor.draft()
    page = visitor.page(GROUP)
    text = " ".join(page.all("main")[0].text.split())
    for words in (
        "Grain loss", "Broken grain", "Foreign matter", "Cost of all three", "Foretold", "Records",
        "Contributors5–9", "Same-day comparisons", "Share of the largest contributor", "Chance that it is better",
        "Cost if one contributor is left out",
        "Range of the base table", "Base table", "Share of same-day evidence", "becomes",
    ):  # fmt: skip
        assert words in text, words
    assert len(page.all("article")) == len(page.all("img"))
    draft = text_of(visitor.get("/console/drafts/1"))
    assert "invented-farm-10" in draft
    assert "in proportion: loss 1, broken kernels 0.35, and foreign matter 0.4" in draft


def test_rows_left_alone_say_why_and_tell_of_nobody(one_site: Site, visiting: Visiting) -> None:
    """Three farms: below five nothing is learnt, and there is no count but that."""
    with one_site.store.writing() as session:
        callers = found(session, GROWN, 3, "invented-small")
        fill(session, table(), callers, GROWN, sessions=6)
        small = cases.find(session, "invented-small")
        key = cases.issue_key(session, small, None, ("read", "review"), datetime.now(UTC)).text
    visitor = visiting(one_site, key)
    page = visitor.page(visitor.draft())
    (left,) = [one for one in page.all("table") if "What the records do not move" in one.text]
    told_of = [one.text for one in page.all("td") if left in one.parents]
    assert len(told_of) == 3 * 4
    assert told_of[1::4] == ["not shown"] * 3
    assert told_of[2::4] == ["fewer than 5"] * 3
    assert all(one.startswith("Too few contributors") for one in told_of[3::4])
    assert "invented-farm" not in page.all("main")[0].text, "three are listed, so they can be counted"
    assert "Nothing would move" in page.all("main")[0].text
    visitor.get(GROUP, 404)


def test_decisions_are_kept_with_their_reason_and_reviewer(site: Site, visiting: Visiting) -> None:
    visitor = visiting(site, site.reviewer)
    address = visitor.draft()
    answer = visitor.decide(address, dry="accepted", best="tried it in vain")
    assert "Your decisions are saved" in text_of(visitor.get(answer.headers["location"]))
    fields = visitor.page(GROUP).fields(GROUP)
    assert fields["choice-wheat.hybrid.dry"] == "accepted"
    assert (fields["choice-wheat.hybrid.best"], fields["reason-wheat.hybrid.best"]) == ("refused", "tried it in vain")
    assert f"Refused by key {site.reviewer.split('_')[1]}" in text_of(visitor.get(GROUP))
    cells = [one.text for one in Reading(visitor.get("/console/drafts").text).all("td")]
    assert cells[1:4] == ["3", "1", "1"]


def test_refusing_needs_a_reason_and_nothing_that_was_entered_is_lost(one_site: Site, visiting: Visiting) -> None:
    visitor = visiting(one_site, one_site.reviewer)
    visitor.draft()
    fields = visitor.page(GROUP).fields(GROUP) | told({"dry": "accepted", "best": "a reason"})
    answer = visitor.post(GROUP, 422, **fields | {"reason-wheat.hybrid.best": "  "})
    assert "Say why you refuse" in text_of(answer)
    page = Reading(answer.text)
    kept = page.fields(GROUP)
    assert (kept["choice-wheat.hybrid.dry"], kept["choice-wheat.hybrid.best"]) == ("accepted", "refused")
    (wrong,) = [one for one in page.all("textarea") if one.get("aria-invalid")]
    assert wrong["name"] == "reason-wheat.hybrid.best"
    assert wrong["aria-describedby"] in [one.get("id") for one in page.all("p") if one.text == "A reason is missing."]
    (box,) = [one for one in page.all("fieldset") if one in wrong.parents]
    assert [one["href"] for one in page.all("a") if one.get("href").startswith("#decide")] == [f"#{box['id']}"]
    assert "choice-wheat.hybrid.best" not in [
        name for name, value in visitor.page(GROUP).fields(GROUP).items() if value == "refused"
    ]


def test_the_second_of_two_reviewers_is_told_and_loses_nothing(site: Site, visiting: Visiting) -> None:
    first, second = visiting(site, site.reviewer), visiting(site, site.other_reviewer)
    address = first.draft()
    seen = second.page(GROUP).fields(GROUP)
    first.decide(address, dry="accepted", damp="wait a season")
    answer = second.post(GROUP, 412, **seen | told({"dry": "too early", "best": "accepted"}))
    text = text_of(answer)
    assert "Somebody else decided on this draft in the meantime" in text
    assert f"Accepted by key {site.reviewer.split('_')[1]}" in text
    assert text.count("What you entered differs") == 2  # on damp the second one has said nothing
    again = Reading(answer.text).fields(GROUP)
    assert again["reason-wheat.hybrid.dry"] == "too early"
    assert again["choice-wheat.hybrid.best"] == "accepted"
    assert first.page(GROUP).fields(GROUP)["choice-wheat.hybrid.dry"] == "accepted", "the stale form was kept"
    second.post(GROUP, 303, **again)
    kept = first.page(GROUP).fields(GROUP)
    assert kept["reason-wheat.hybrid.dry"] == "too early"
    assert kept["choice-wheat.hybrid.best"] == "accepted"


def test_what_was_only_left_standing_does_not_overrule_another(one_site: Site, visiting: Visiting) -> None:
    """The second one sees `dry` accepted and decides on `best` alone, while the first takes `dry` back."""
    first, second = visiting(one_site, one_site.reviewer), visiting(one_site, one_site.other_reviewer)
    address = first.draft()
    first.decide(address, dry="accepted")
    seen = second.page(GROUP).fields(GROUP) | told({"best": "accepted"})
    first.decide(address, dry="a second thought")
    answer = second.post(GROUP, 412, **seen)
    again = Reading(answer.text).fields(GROUP)
    assert (again["choice-wheat.hybrid.dry"], again["choice-wheat.hybrid.best"]) == ("refused", "accepted")
    second.post(GROUP, 303, **again)
    kept = first.page(GROUP).fields(GROUP)
    assert (kept["reason-wheat.hybrid.dry"], kept["choice-wheat.hybrid.best"]) == ("a second thought", "accepted")


def test_of_two_who_decide_at_the_same_moment_one_is_heard(site: Site, visiting: Visiting) -> None:
    visitors = [visiting(site, key) for key in (site.reviewer, site.other_reviewer)]
    visitors[0].draft()
    forms = [one.page(GROUP).fields(GROUP) | told({"dry": f"reason {n}"}) for n, one in enumerate(visitors)]
    with ThreadPoolExecutor(2) as pool:
        answers = list(pool.map(lambda n: visitors[n].post(GROUP, None, **forms[n]), range(2)))
    assert sorted(one.status_code for one in answers) == [303, 412]
    winner = next(n for n, one in enumerate(answers) if one.status_code == 303)
    assert visitors[0].page(GROUP).fields(GROUP)["reason-wheat.hybrid.dry"] == f"reason {winner}"


def test_of_two_who_publish_at_the_same_moment_one_is_heard(site: Site, visiting: Visiting) -> None:
    visitors = [visiting(site, key) for key in (site.reviewer, site.other_reviewer)]
    visitors[0].decide(visitors[0].draft(), dry="accepted")
    forms = [one.page(PUBLISH).fields(PUBLISH) for one in visitors]
    with ThreadPoolExecutor(2) as pool:
        answers = list(pool.map(lambda n: visitors[n].post(PUBLISH, None, **forms[n]), range(2)))
    assert sorted(one.status_code for one in answers)[0] == 303
    assert sorted(one.status_code for one in answers)[1] in (409, 412)
    assert len(revisions(site)) == 1


def test_whoever_is_slower_than_a_reviewer_by_less_than_a_request_is_told_too(
    one_site: Site, visiting: Visiting, monkeypatch: pytest.MonkeyPatch
) -> None:
    visitor = visiting(one_site, one_site.reviewer)
    address = visitor.draft()

    def beaten(*_: object, **__: object) -> None:
        raise StaleError

    monkeypatch.setattr(pages_drafts.reviewing, "decide", beaten)
    answer = visitor.decide(address, 412, dry="mine alone")
    assert Reading(answer.text).fields(GROUP)["reason-wheat.hybrid.dry"] == "mine alone"
    monkeypatch.setattr(pages_drafts.reviewing, "publish", beaten)
    visitor.post(PUBLISH, 412, tag="1", form_token=visitor.page(GROUP).fields(GROUP)["form_token"])
    monkeypatch.undo()
    visitor.decide(address, dry="accepted")
    first = visitor.publish(address)
    monkeypatch.setattr(pages_table.reviewing, "roll_back", beaten)
    assert first == "/console/table/1"


def test_what_was_not_looked_at_is_not_published(one_site: Site, visiting: Visiting) -> None:
    first, second = visiting(one_site, one_site.reviewer), visiting(one_site, one_site.other_reviewer)
    address = first.draft()
    first.decide(address, dry="accepted")
    asked = first.page(PUBLISH).fields(PUBLISH)
    second.decide(address, dry="not this one", best="accepted")
    answer = first.post(PUBLISH, 412, **asked)
    assert "Nothing was published" in text_of(answer)
    assert revisions(one_site) == []
    first.post(PUBLISH, 303, **Reading(answer.text).fields(PUBLISH))
    with one_site.store.reading() as session:
        table = local_tables.active(session, 1)
    assert table is not None
    assert {row.moisture_band for row in table.rows} == {"best"}


def test_a_published_draft_is_closed(one_site: Site, visiting: Visiting) -> None:
    visitor = visiting(one_site, one_site.reviewer)
    address = visitor.draft()
    visitor.decide(address, dry="accepted")
    held = visitor.page(GROUP).fields(GROUP) | told({"best": "accepted"})
    asked = visitor.page(PUBLISH).fields(PUBLISH)
    visitor.publish(address)
    answer = visitor.post(GROUP, 409, **held)
    assert "This draft is closed" in text_of(answer)
    assert "What you entered differs" in text_of(answer)
    visitor.post(PUBLISH, 409, **asked)
    assert len(revisions(one_site)) == 1
    assert not visitor.page(GROUP).all("textarea")


def test_a_draft_that_was_overtaken_says_so_and_is_not_published(one_site: Site, visiting: Visiting) -> None:
    visitor = visiting(one_site, one_site.reviewer)
    first, second = visitor.draft(), visitor.draft()
    for address in (first, second):
        visitor.decide(address, dry="accepted")
    asked = visitor.page(f"{first}/publish").fields(f"{first}/publish")
    visitor.publish(second)
    assert "The table has changed since this draft was made" in text_of(visitor.get(first))
    visitor.post(f"{first}/publish", 409, **asked)
    assert len(revisions(one_site)) == 1


def test_publishing_and_going_back(site: Site, visiting: Visiting) -> None:
    visitor = visiting(site, site.reviewer)
    for band in ("dry", "best"):
        address = visitor.draft()
        visitor.decide(address, **{band: "accepted"})
        shown = text_of(visitor.get(f"{address}/publish"))
        assert "Publish now" in shown
        revision = visitor.publish(address)
    assert revision == "/console/table/2"
    back = "/console/table/1/rollback"
    assert "Go back to revision 1?" in text_of(visitor.get(back))
    assert len(revisions(site)) == 2, "looking changed something"
    answer = visitor.post(back, 303, **visitor.page(back).fields(back))
    assert "Published again" in text_of(visitor.get(answer.headers["location"]))
    assert revisions(site) == [(3, 1), (2, None), (1, None)]
    with site.store.reading() as session:
        ident = cases.find(session, "invented-co-op").id
        rows = [local_tables.active(session, ident, number) for number in (1, 3)]
    assert rows[0] is not None
    assert rows[1] is not None
    assert rows[0].rows == rows[1].rows
    history = text_of(visitor.get("/console/table"))
    assert "Revision 3 is in force" in history
    assert "Revision 1 again" in history


def test_going_back_is_asked_again_if_something_was_published_meanwhile(one_site: Site, visiting: Visiting) -> None:
    visitor = visiting(one_site, one_site.reviewer)
    for _ in range(2):
        address = visitor.draft()
        visitor.decide(address, dry="accepted", best="accepted")
        visitor.publish(address)
    back = "/console/table/1/rollback"
    fields = visitor.page(back).fields(back)
    visitor.post(back, 303, **fields)
    answer = visitor.post(back, 412, **fields)
    assert "revision 3 is in force now" in text_of(answer)
    assert len(revisions(one_site)) == 3
    holds = "/console/table/3/rollback"
    visitor.get(holds, 303)
    visitor.post(holds, 303, form_token=fields["form_token"], newest="3")
    assert len(revisions(one_site)) == 3, "what holds was published again"


def test_going_back_looks_again_inside_its_transaction(one_site: Site, visiting: Visiting) -> None:
    visitor = visiting(one_site, one_site.reviewer)
    for _ in range(2):
        address = visitor.draft()
        visitor.decide(address, dry="accepted", best="accepted")
        visitor.publish(address)
    with one_site.store.reading() as session:
        ident = cases.find(session, "invented-co-op").id
    who = Caller(ident, "invented-co-op", 1, None, None, "test", frozenset({"review"}))
    with pytest.raises(StaleError), one_site.store.writing() as session:
        reviewing.roll_back(session, who, 1, 1, datetime.now(UTC))
    assert len(revisions(one_site)) == 2


ADDRESSES = ("drafts/1", "drafts/1/publish", "drafts/1/wheat/hybrid", "table/1", "table/1/rollback")
EVIDENCE = "drafts/1/evidence/wheat.hybrid.dry/threshing_speed"


@pytest.mark.parametrize("path", [*ADDRESSES, EVIDENCE])
def test_what_belongs_to_another_organisation_is_not_found(one_site: Site, visiting: Visiting, path: str) -> None:
    visitor, stranger = visiting(one_site, one_site.reviewer), visiting(one_site, one_site.stranger)
    address = visitor.draft()
    visitor.decide(address, dry="accepted")
    visitor.publish(address)
    own = visitor.get(f"/console/{path}", 303 if path.endswith("rollback") else 200)
    assert own.status_code < 400
    foreign = text_of(stranger.get(f"/console/{path}", 404))
    assert foreign == text_of(stranger.get("/console/drafts/999", 404)), "the two can be told apart"
    token = stranger.page("/console/drafts").fields("/console/drafts")["form_token"]
    if not path.startswith("drafts/1/evidence"):
        for target in (PUBLISH, GROUP, "/console/table/1/rollback"):
            stranger.post(target, 404, form_token=token, tag="2", newest="1")
    assert len(revisions(one_site)) == 1
    for page in ("", "drafts", "table"):
        assert "invented-farm" not in stranger.get(f"/console/{page}").text


@pytest.mark.parametrize(
    "path",
    ["drafts/0", "drafts/2", "drafts/x", "drafts/-1", "drafts/1e3", "drafts/١", f"drafts/{'9' * 40}", "table/9",
     "drafts/1/wheat/walker", "drafts/1/x/y", "drafts/1/evidence/x/y", "drafts/1/evidence/wheat.hybrid.dry/x",
     "?season=1999", "?season=x", "weeks.svg?season=", "tests?crop=x&machine_class=hybrid", "tests?crop=wheat"],
)  # fmt: skip
def test_an_address_that_leads_nowhere(one_site: Site, visiting: Visiting, path: str) -> None:
    visitor = visiting(one_site, one_site.reviewer)
    visitor.draft()
    assert "no such page" in text_of(visitor.get(f"/console/{path}", 404))


@pytest.mark.parametrize("path", ["", "drafts/1", "table", "weeks.svg"])
def test_an_address_takes_only_its_methods(one_site: Site, visiting: Visiting, path: str) -> None:
    visitor = visiting(one_site, one_site.reviewer)
    token = visitor.page("/console/drafts").fields("/console/drafts")["form_token"]
    assert visitor.post(f"/console/{path}", None, form_token=token).status_code == 404
    assert visitor.send("DELETE", f"/console/{path}").status_code == 404


def test_what_a_reviewer_wrote_stays_text(one_site: Site, visiting: Visiting) -> None:
    visitor = visiting(one_site, one_site.reviewer)
    address = visitor.draft()
    visitor.decide(address, dry=HOSTILE, best="accepted")
    answer = visitor.get(GROUP)
    page = Reading(answer.text)
    assert not page.all("script")
    assert "onerror" not in [name for one in page.elements for name in one.attributes]
    kept = page.fields(GROUP)["reason-wheat.hybrid.dry"]
    assert kept == "<script>alert('x')</script> \"q\" & </textarea><img src=x onerror=y> {{ 7 * 7 }}"
    visitor.publish(address)
    closed = visitor.get(GROUP).text
    assert "&lt;script&gt;alert(&#39;x&#39;)" in closed
    assert "<script" not in closed
    assert "49" not in Reading(closed).all("q")[0].text


def test_a_reason_is_cut_where_the_form_ends(one_site: Site, visiting: Visiting) -> None:
    visitor = visiting(one_site, one_site.reviewer)
    visitor.decide(visitor.draft(), dry="ä" * 600)
    assert visitor.page(GROUP).fields(GROUP)["reason-wheat.hybrid.dry"] == "ä" * pages_drafts.REASON_AT_MOST


def test_a_form_names_no_row_that_is_not_proposed(one_site: Site, visiting: Visiting) -> None:
    visitor = visiting(one_site, one_site.reviewer)
    visitor.draft()
    fields = visitor.page(GROUP).fields(GROUP)
    visitor.post(GROUP, 303, **fields | {"choice-barley.walker.dry": "accepted", "choice-wheat.hybrid.dry": "sold"})
    assert visitor.page(GROUP).fields(GROUP)["choice-wheat.hybrid.dry"] == ""


def test_a_mistake_of_the_program_is_told_without_a_word_of_it(
    one_site: Site, visiting: Visiting, monkeypatch: pytest.MonkeyPatch
) -> None:
    visitor = visiting(one_site, one_site.reviewer)

    def broken(*_: object) -> None:
        raise RuntimeError("secret of the house")

    monkeypatch.setattr(pages_drafts.reviewing, "drafts", broken)
    answer = visitor.get("/console/drafts", 500)
    assert "The service made a mistake" in text_of(answer)
    assert "secret" not in answer.text
