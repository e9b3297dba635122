"""Drafts: the list, one draft, one crop and class of it with the decisions, publishing.

A form brings along the tag of the state that it was made from. If somebody else decided in between, nothing is kept,
the page shows both what they decided and what was entered, and the next click counts.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from starlette.responses import Response

from service.console import reviewing
from service.console.asking import Asked
from service.console.draw_evidence import WIDE, draw_evidence
from service.console.pages_overview import drawing, width_of
from service.console.review import Choice, Decision, DraftShown, RowShown, StaleError
from service.console.words import Words
from service.errors import Closed, NotFound
from service.usecases.same_day_evidence import same_day_evidence

REASON_AT_MOST: Final = 500
_CHOICES: Final[dict[str, Choice]] = {"accepted": "accepted", "refused": "refused"}


@dataclass(frozen=True, slots=True)
class Group:
    """A crop and class of a draft."""

    crop: str
    machine_class: str
    title: str
    rows: tuple[RowShown, ...]

    @property
    def proposed(self) -> list[RowShown]:
        """Rows on which there is something to decide."""
        return [row for row in self.rows if row.proposed]

    def count(self, choice: Choice | None) -> int:
        """Return how many rows were decided so."""
        return sum(row.decision.choice == choice for row in self.proposed)

    @property
    def gain(self) -> tuple[float, float]:
        """Least and greatest expected gain of a proposed row."""
        gains = [row.gain for row in self.proposed]
        return min(gains), max(gains)


@dataclass(frozen=True, slots=True)
class Entered:
    """What stands in the form for a row: as kept, or as it was entered and not kept."""

    choice: str
    reason: str
    differs: bool
    missing: bool

    @property
    def wants(self) -> bool:
        """Whether it has to be looked at before the next click."""
        return self.differs or self.missing


def drafts(asked: Asked) -> Response:
    """The list."""
    with asked.desk.store.reading() as session:
        found = reviewing.drafts(session, asked.caller)
    return asked.show("drafts", drafts=found)


def make(asked: Asked) -> Response:
    """Make a draft from what came in, and show it."""
    number = reviewing.make(asked.desk.store, asked.desk.table, asked.caller, asked.now)
    return asked.go(f"drafts/{number}")


def draft(asked: Asked) -> Response:
    """One draft: what it would move, what it leaves alone and why, who does not agree with the others."""
    found = _draft(asked)
    groups = _groups(asked.words, found)
    return asked.show(
        "draft",
        draft=found,
        moving=[one for one in groups if one.proposed],
        left=[(one, row) for one in groups for row in one.rows if not row.proposed],
    )


def group(asked: Asked) -> Response:
    """The rows of one crop and class, each with its evidence and what was decided."""
    found = _draft(asked)
    saved = asked.request.query_params.get("saved") == "1"
    return _show_group(asked, found, _group(asked, found), {}, notice="saved" if saved else "")


def decide(asked: Asked) -> Response:
    """Keep what was decided on the numbers of one crop and class."""
    found = _draft(asked)
    chosen = _group(asked, found)
    said = _said(asked.form, chosen)
    if any(one.choice == "refused" and not one.reason for one in said.values()):
        return _show_group(asked, found, chosen, said, notice="reason_missing", status=422)
    changed = {row.id: said[row.id] for row in chosen.proposed if _differs(row, said[row.id])}
    if not found.line.open:
        return _show_group(asked, found, chosen, said, notice="closed", status=409)
    if asked.form.get("tag") != found.tag:
        return _show_group(asked, found, chosen, said, notice="stale", status=412)
    if changed:
        try:
            with asked.desk.store.writing() as session:
                number = found.line.number
                reviewing.decide(session, asked.desk.table, asked.caller, number, found.tag, changed, asked.now)
        except StaleError:
            # somebody was faster by less than this request took
            found = _draft(asked)
            return _show_group(asked, found, _group(asked, found), said, notice="stale", status=412)
        except Closed:
            found = _draft(asked)
            return _show_group(asked, found, _group(asked, found), said, notice="closed", status=409)
    return asked.go(f"drafts/{found.line.number}/{chosen.crop}/{chosen.machine_class}", saved="1")


def evidence(asked: Asked) -> Response:
    """The chart of what was measured on both sides of one setting."""
    found, words, named = _draft(asked), asked.words, asked.request.path_params
    row = next((one for one in found.rows if one.id == named["row"]), None)
    number = None if row is None else next((one for one in row.numbers if one.setting == named["setting"]), None)
    if row is None or number is None:
        raise NotFound
    place = (row.crop, row.machine_class)
    aside = [one.contributor for one in found.standing if one.set_aside and (one.crop, one.machine_class) == place]
    with asked.desk.store.reading() as session:
        days = same_day_evidence(session, asked.desk.table, asked.caller, *place, row.band, number.setting, aside)
    return drawing(asked, draw_evidence(words, number, days, width_of(asked, WIDE)))


def ask_publish(asked: Asked) -> Response:
    """Page that shows what would be published and asks once more."""
    return _ask_publish(asked, _draft(asked))


def publish(asked: Asked) -> Response:
    """Publish the accepted numbers."""
    found = _draft(asked)
    if not found.line.open:
        return _ask_publish(asked, found, notice="closed", status=409)
    if asked.form.get("tag") != found.tag:
        return _ask_publish(asked, found, notice="stale", status=412)
    try:
        with asked.desk.store.writing() as session:
            number = reviewing.publish(session, asked.desk.table, asked.caller, found.line.number, found.tag, asked.now)
    except StaleError:
        return _ask_publish(asked, _draft(asked), notice="stale", status=412)
    except Closed:
        return _ask_publish(asked, _draft(asked), notice="closed", status=409)
    return asked.go(f"table/{number}", done="published")


def _ask_publish(asked: Asked, found: DraftShown, notice: str = "", status: int = 200) -> Response:
    groups = _groups(asked.words, found)
    rows = [(one, row) for one in groups for row in one.proposed]
    return asked.show(
        "publish",
        status,
        draft=found,
        accepted=[entry for entry in rows if entry[1].decision.choice == "accepted"],
        refused=sum(row.decision.choice == "refused" for _, row in rows),
        undecided=sum(row.decision.choice is None for _, row in rows),
        notice=notice,
    )


def _show_group(
    asked: Asked, found: DraftShown, chosen: Group, said: Mapping[str, Decision], *, notice: str, status: int = 200
) -> Response:
    entered = {row.id: _entered(row, said.get(row.id), notice) for row in chosen.proposed}
    return asked.show(
        "group",
        status,
        draft=found,
        group=chosen,
        entered=entered,
        notice=notice,
        most=REASON_AT_MOST,
    )


def _entered(row: RowShown, said: Decision | None, notice: str) -> Entered:
    told = row.decision if said is None else said
    differs = notice in ("stale", "closed") and said is not None and _differs(row, said)
    missing = notice == "reason_missing" and told.choice == "refused" and not told.reason
    return Entered(told.choice or "", told.reason, differs, missing)


def _differs(row: RowShown, said: Decision) -> bool:
    return (row.decision.choice, row.decision.reason) != (said.choice, said.reason)


def _said(form: Mapping[str, str], chosen: Group) -> dict[str, Decision]:
    """What a form says of each row; one that it does not name, or that stands as it was shown, stays as it is."""
    found = {}
    for row in chosen.proposed:
        choice = _CHOICES.get(form.get(f"choice-{row.id}", ""))
        reason = form.get(f"reason-{row.id}", "")[:REASON_AT_MOST]
        said = Decision(choice, reason if choice is not None else "")
        silent = choice is None or form.get(f"was-{row.id}") == said.mark
        found[row.id] = Decision(row.decision.choice, row.decision.reason) if silent else said
    return found


def _draft(asked: Asked) -> DraftShown:
    with asked.desk.store.reading() as session:
        return reviewing.draft(session, asked.desk.table, asked.caller, number_in(asked))


def number_in(asked: Asked) -> int:
    """Return the number that an address names."""
    told: str = asked.request.path_params["number"]
    if not (told.isascii() and told.isdecimal() and len(told) <= 9):
        raise NotFound
    return int(told)


def _groups(words: Words, found: DraftShown) -> list[Group]:
    rows: dict[tuple[str, str], list[RowShown]] = {}
    for row in found.rows:
        rows.setdefault((row.crop, row.machine_class), []).append(row)
    return [Group(crop, kind, words.place(crop, kind), tuple(inside)) for (crop, kind), inside in rows.items()]


def _group(asked: Asked, found: DraftShown) -> Group:
    named = (asked.request.path_params["crop"], asked.request.path_params["machine_class"])
    for one in _groups(asked.words, found):
        if (one.crop, one.machine_class) == named and one.proposed:
            return one
    raise NotFound
