"""`threshbook store`: bring the database up, look through it."""

from typing import Annotated

import typer

from service.cli.console import complain, console
from service.config import Settings
from service.store import Store, open_store, schema
from service.store.upgrading import upgrade as bring_up

store = typer.Typer(help="The database that feedback is kept in: upgrade, check.", no_args_is_help=True)

Address = Annotated[
    str | None,
    typer.Option("--database-url", help="Address of the database; without it THRESHBOOK_DATABASE_URL, or your file."),
]


def opened(address: str | None, *, make: bool = False) -> Store:
    """Return the store; with `make`, a file of one's own that is not there yet is made."""
    found = open_store(address or Settings().database_url)
    if make and not found.exists:
        bring_up(found)
        complain(f"Made {found.address}")  # standard output is for the key alone
    return found


@store.command()
def upgrade(address: Address = None) -> None:
    """Bring the database to the newest schema; running workers of the release before go on meanwhile."""
    found = opened(address)
    revision = bring_up(found)
    console().print(f"{found.address} is at {revision}.", soft_wrap=True)


@store.command()
def check(address: Address = None) -> None:
    """Look through the database; lists every fault, exit code 1 if there is one."""
    report = schema.check(opened(address))
    console().print(
        f"{report.address}\nschema {report.revision or 'empty'}, newest {report.newest}; "
        f"{report.organisations} organisations, {report.members} contributors, {report.records} records",
        soft_wrap=True,
        markup=False,
    )
    if report.faults:
        complain(*report.faults)
        raise typer.Exit(1)
    console().print("No faults.")
