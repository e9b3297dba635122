"""The published table of the organisation: what holds now, what held before, and going back to it."""

from typing import Final

from starlette.responses import Response

from service.console import reviewing
from service.console.asking import Asked
from service.console.pages_drafts import number_in
from service.console.review import PublishedNumber, RevisionLine, StaleError

_DONE: Final = ("published", "rolled_back")


def table(asked: Asked) -> Response:
    """The history, and the table that holds."""
    with asked.desk.store.reading() as session:
        lines = reviewing.revisions(session, asked.caller)
    return asked.show("table", lines=lines)


def revision(asked: Asked) -> Response:
    """One published table."""
    newest, line, rows = _revision(asked)
    done = asked.request.query_params.get("done", "")
    return asked.show("revision", line=line, rows=rows, newest=newest, done=done if done in _DONE else "")


def ask_roll_back(asked: Asked) -> Response:
    """Page that shows an earlier table and asks once more."""
    return _ask(asked)


def roll_back(asked: Asked) -> Response:
    """Publish an earlier table again."""
    newest, line, _ = _revision(asked)
    told = asked.form.get("newest", "")
    if told != str(newest):
        return _ask(asked, stale=True)
    if line.number == newest:
        return asked.go(f"table/{newest}")
    try:
        with asked.desk.store.writing() as session:
            number = reviewing.roll_back(session, asked.caller, line.number, newest, asked.now)
    except StaleError:
        return _ask(asked, stale=True)
    return asked.go(f"table/{number}", done="rolled_back")


def _ask(asked: Asked, *, stale: bool = False) -> Response:
    newest, line, rows = _revision(asked)
    if line.number == newest:
        return asked.go(f"table/{newest}")
    return asked.show("rollback", 412 if stale else 200, line=line, rows=rows, newest=newest, stale=stale)


def _revision(asked: Asked) -> tuple[int, RevisionLine, tuple[PublishedNumber, ...]]:
    """The newest number, and the table that the address names."""
    number = number_in(asked)
    with asked.desk.store.reading() as session:
        line, rows = reviewing.revision(session, asked.desk.table, asked.caller, number)
        newest = max(one.number for one in reviewing.revisions(session, asked.caller))
    return newest, line, rows
