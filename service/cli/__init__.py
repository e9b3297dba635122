"""The command line: serve, try, look at the knowledge table, keep a store, write the API description.

Inside: which commands there are, and how a refusal is told. Outside: the commands themselves, one
module each.
"""

from typing import Annotated

import typer

from service import __version__
from service.cli.console import complain
from service.cli.demo import demo
from service.cli.knowledge import knowledge
from service.cli.organisations import organisations
from service.cli.refinement import refine
from service.cli.serve import openapi, serve
from service.cli.store import store
from service.domain.types import Message
from service.errors import KnowledgeFault, ServiceError, StoreUnavailable
from service.knowledge.schema import LocalText
from service.text import names, render

commands = typer.Typer(
    name="threshbook",
    help="Set a grain combine harvester, measure its losses, choose the next adjustment.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
commands.command()(serve)
commands.command()(demo)
commands.add_typer(knowledge, name="knowledge")
commands.add_typer(organisations, name="org")
commands.add_typer(store, name="store")
commands.command()(refine)
commands.command()(openapi)


def _version(wanted: bool) -> None:  # noqa: FBT001 (typer calls it by position)
    if wanted:
        typer.echo(f"threshbook {__version__}")
        raise typer.Exit


@commands.callback()
def root(
    *,
    version: Annotated[bool, typer.Option("--version", callback=_version, is_eager=True)] = False,
) -> None:
    """Set a grain combine harvester, measure its losses, choose the next adjustment."""


def app() -> None:
    """Run the command line; a refusal is told in words, with exit code 1."""
    try:
        commands()
    except KnowledgeFault as fault:
        complain(f"The knowledge table has {len(fault.faults)} fault(s):", *fault.faults)
        raise SystemExit(1) from None
    except StoreUnavailable as away:
        complain(f"The store cannot be used: {away.facts['why']}")
        raise SystemExit(1) from None
    except ServiceError as refusal:
        complain(f"{refusal.code.replace('_', ' ')}: {refusal.field}", *_facts(refusal))
        raise SystemExit(1) from None


def _facts(refusal: ServiceError) -> list[str]:
    """The facts that are there, one a line: given, nearest, allowed."""
    found = []
    for name, value in refusal.facts.items():
        if name == "reason":
            found.append(render(Message(str(value), refusal.facts), "en", "metric"))
        elif value not in (None, "", []):
            found.append(f"{name.replace('_', ' ')}: {_written(value)}")
    return found


def _written(value: object) -> str:
    if isinstance(value, LocalText):
        return names(value, "en")
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)
