"""`threshbook org`: organisations, their contributors and keys.

Inside: what is typed and what is shown. Outside: the rules (`usecases.organisations`). A key is shown once, on
standard output alone, so that it can be piped to where it belongs.
"""

from datetime import UTC, datetime
from typing import Annotated

import typer
from rich.table import Table

from service.cli.console import complain, console
from service.cli.store import Address, opened
from service.store import audit
from service.store import organisations as rows
from service.usecases import organisations as cases
from service.usecases.access import SCOPES, holds
from service.usecases.organisations import MOST_OVERLAP_DAYS, OVERLAP_DAYS, Issued

organisations = typer.Typer(help="Organisations, their contributors and keys.", no_args_is_help=True)
key = typer.Typer(help="Keys: create, rotate, revoke, list.", no_args_is_help=True)
member = typer.Typer(help="Contributors: add, erase, list.", no_args_is_help=True)
organisations.add_typer(key, name="key")
organisations.add_typer(member, name="member")

Organisation = Annotated[str, typer.Argument(help="Name of the organisation.")]
Pseudonym = Annotated[str, typer.Argument(help="Name that the contributor goes by here; no real name.")]
Prefix = Annotated[str, typer.Argument(help="The part of a key between its two underscores.")]
Scopes = Annotated[str, typer.Option(help=f"What the key may do, parted by commas: {', '.join(SCOPES)}.")]
Label = Annotated[str, typer.Option(help="Where the key is used, for the list.")]
Days = Annotated[int | None, typer.Option(min=1, max=3650, help="Days that the key holds; without it, until revoked.")]


def _now() -> datetime:
    return datetime.now(UTC)


@organisations.command()
def create(
    name: Annotated[str, typer.Argument(help="Small letters, digits and hyphens.")],
    season_starts: Annotated[
        int, typer.Option(min=1, max=12, help="Month in which a season begins: 1 in the north, 7 in the south.")
    ] = 1,
    address: Address = None,
) -> None:
    """Add an organisation, and a key to administer it; the first one makes the store."""
    now = _now()
    with opened(address, make=True).writing() as session:
        made = cases.create(session, name, season_starts, now)
        issued = cases.issue_key(session, made, None, SCOPES, now, label="first key")
    complain(f"{name} is there.")
    _show(issued)


@organisations.command("list")
def list_organisations(address: Address = None) -> None:
    """List every organisation with its contributors, records and keys."""
    grid = Table("organisation", "season starts", "contributors", "records", "keys that hold")
    with opened(address).reading() as session:
        for one in rows.all_organisations(session):
            members = rows.members(session, one.id)
            good = [k for k, _ in rows.keys(session, one.id) if holds(k.expires_at, k.revoked_at, _now())]
            records = sum(count for _, count in members)
            grid.add_row(one.name, str(one.season_starts_month), str(len(members)), str(records), str(len(good)))
    console().print(grid)


@organisations.command()
def log(
    organisation: Organisation,
    newest: Annotated[int, typer.Option(min=1, max=10000, help="How many lines.")] = 50,
    address: Address = None,
) -> None:
    """Show the newest lines of the audit log."""
    grid = Table("at", "by", "what", "to", "facts")
    with opened(address).reading() as session:
        for event in audit.events(session, cases.find(session, organisation).id, newest=newest):
            facts = ", ".join(f"{name} {value}" for name, value in event.facts.items() if value is not None)
            grid.add_row(f"{event.at:%Y-%m-%d %H:%M:%S}Z", event.actor, event.action, event.subject, facts)
    console().print(grid)


@key.command("create")
def create_key(
    organisation: Organisation,
    contributor: Annotated[
        str | None, typer.Option("--member", help="Contributor whose key it is; without it, the organisation's.")
    ] = None,
    scopes: Scopes = "read,contribute",
    label: Label = "",
    days: Days = None,
    address: Address = None,
) -> None:
    """Make a key and show it, once."""
    with opened(address).writing() as session:
        found = cases.find(session, organisation)
        whose = None if contributor is None else cases.find_member(session, found, contributor)
        wanted = [scope.strip() for scope in scopes.split(",") if scope.strip()]
        issued = cases.issue_key(session, found, whose, wanted, _now(), label=label, days=days)
    _show(issued)


@key.command()
def rotate(
    prefix: Prefix,
    overlap_days: Annotated[
        int, typer.Option(min=0, max=MOST_OVERLAP_DAYS, help="Days that the old key goes on holding.")
    ] = OVERLAP_DAYS,
    address: Address = None,
) -> None:
    """Make a key that takes the place of another, and show it, once."""
    with opened(address).writing() as session:
        issued = cases.rotate_key(session, prefix, _now(), overlap_days)
    complain(f"{prefix} holds for {overlap_days} more days.")
    _show(issued)


@key.command()
def revoke(prefix: Prefix, address: Address = None) -> None:
    """End a key at once."""
    with opened(address).writing() as session:
        cases.revoke_key(session, prefix, _now())
    console().print(f"{prefix} holds no longer.")


@key.command("list")
def list_keys(organisation: Organisation, address: Address = None) -> None:
    """List the keys of an organisation; what is shown of a key does not open anything."""
    grid = Table("prefix", "contributor", "scopes", "label", "made", "holds until")
    now = _now()
    with opened(address).reading() as session:
        for one, pseudonym in rows.keys(session, cases.find(session, organisation).id):
            if one.revoked_at is not None:
                until = "revoked"
            elif one.expires_at is None:
                until = "revoked or rotated"
            else:
                until = f"{one.expires_at:%Y-%m-%d %H:%M}Z" if holds(one.expires_at, None, now) else "expired"
            grid.add_row(one.prefix, pseudonym or "-", one.scopes, one.label, f"{one.created_at:%Y-%m-%d}", until)
    console().print(grid)


@member.command()
def add(
    organisation: Organisation,
    contributor: Pseudonym,
    with_key: Annotated[bool, typer.Option("--key/--no-key", help="Make a key and show it, once.")] = True,  # noqa: FBT002
    address: Address = None,
) -> None:
    """Add a contributor; who that is, only the organisation knows."""
    now = _now()
    with opened(address).writing() as session:
        found = cases.find(session, organisation)
        made = cases.add_member(session, found, contributor, now)
        issued = cases.issue_key(session, found, made, ("read", "contribute"), now) if with_key else None
    complain(f"{contributor} is there.")
    if issued is not None:
        _show(issued)


@member.command()
def erase(
    organisation: Organisation,
    contributor: Pseudonym,
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask.")] = False,  # noqa: FBT002
    address: Address = None,
) -> None:
    """Delete a contributor with keys and records, for good; the next refinement folds all others anew without them."""
    if not yes:
        typer.confirm(f"Delete {contributor} of {organisation} with every record?", abort=True)
    with opened(address).writing() as session:
        records = cases.erase_member(session, cases.find(session, organisation), contributor, _now())
    console().print(f"{contributor} is gone, with {records} records.")


@member.command("list")
def list_members(organisation: Organisation, address: Address = None) -> None:
    """List the contributors of an organisation."""
    grid = Table("contributor", "since", "records")
    with opened(address).reading() as session:
        for one, records in rows.members(session, cases.find(session, organisation).id):
            grid.add_row(one.pseudonym, f"{one.joined_at:%Y-%m-%d}", str(records))
    console().print(grid)


def _show(issued: Issued) -> None:
    until = "until it is rotated or revoked" if issued.expires_at is None else f"until {issued.expires_at:%Y-%m-%d}"
    complain(f"This key holds {until}. It is shown this once:")
    typer.echo(issued.text)
