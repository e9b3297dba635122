"""Logging in, logging out, choosing language and units."""

from starlette.responses import Response

from service.console import guard
from service.console.asking import Asked
from service.errors import ScopeMissing, Unauthenticated
from service.text import LANGUAGES
from service.usecases.console_access import log_in, log_out


def ask_key(asked: Asked) -> Response:
    """Page that asks for a key."""
    if asked.signed_in is not None:
        return asked.go("")
    query = asked.request.query_params
    problem = "ended" if query.get("ended") else "left" if query.get("left") else ""
    return _ask(asked, asked.wanted(query.get("to", "")), problem)


def take_key(asked: Asked) -> Response:
    """Log in; a key that does not hold and one that is not known get the same answer."""
    to = asked.wanted(asked.form.get("to", ""))
    try:
        with asked.desk.store.writing() as session:
            token = log_in(session, asked.form.get("key", ""), asked.now)
    except Unauthenticated:
        return _ask(asked, to, "unknown", 401)
    except ScopeMissing:
        return _ask(asked, to, "scope", 403)
    response = asked.go(to)
    guard.keep_session(response, asked.request, token)
    return response


def _ask(asked: Asked, to: str, problem: str, status: int = 200) -> Response:
    said = asked.words.say(f"console.login.{problem}") if problem else ""
    return asked.show("login", status, to=to, problem=problem, said=said)


def leave(asked: Asked) -> Response:
    """Log out."""
    if asked.signed_in is not None:
        with asked.desk.store.writing() as session:
            log_out(session, asked.signed_in.token, asked.caller, asked.now)
    response = asked.go("login", left="1")
    guard.drop_session(response, asked.request)
    return response


def choose_view(asked: Asked) -> Response:
    """Remember language and units, and go back to where they were chosen."""
    lang, units = asked.form.get("lang", ""), asked.form.get("units", "")
    response = asked.go(asked.wanted(asked.form.get("to", "")))
    if lang in LANGUAGES and units in ("metric", "us"):
        guard.keep_view(response, asked.request, f"{lang}.{units}")
    return response
