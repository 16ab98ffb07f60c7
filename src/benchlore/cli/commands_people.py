"""The commands about people who sign in. A password comes from a hidden prompt or standard input."""

import getpass
import sys
from typing import Annotated

import typer

from benchlore.cli.app import REFUSED, AsJson, app, library_of
from benchlore.cli.console import complain, say, say_json
from benchlore.library import DUTIES, Account, Accounts, Role
from benchlore.library.accounts import LONGEST, SHORTEST

account = typer.Typer(
    name="account",
    help="Who may sign in where the app is served on a network.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
app.add_typer(account)

PersonName = Annotated[str, typer.Argument(metavar="NAME", help="It stands beside what they enter.")]
RoleChosen = Annotated[
    Role, typer.Option(help="; ".join(f"{role}: {duty}" for role, duty in DUTIES.items()) + ".")
]


@account.command("add")
def add(
    context: typer.Context, name: PersonName, role: RoleChosen = Role.BENCH, as_json: AsJson = False
) -> None:
    """Add a person. The password is asked for, or is the first line of standard input."""
    made = Accounts(library_of(context)).add(name, role, _new_password())
    _tell(made, f"{made.name} may sign in as {made.role} ({DUTIES[made.role]})", as_json=as_json)


@account.command("list")
def list_accounts(context: typer.Context, as_json: AsJson = False) -> None:
    """List who may sign in."""
    found = Accounts(library_of(context)).all()
    if as_json:
        say_json([_plain(each) for each in found])
        return
    if not found:
        say(["There are no accounts; the app serves this machine alone, and asks nobody to sign in."])
    width = max((len(each.name) for each in found), default=0)
    say([f"{each.name:<{width}}  {each.role:<8} since {each.since:%Y-%m-%d}" for each in found])


@account.command("password")
def password(context: typer.Context, name: PersonName, as_json: AsJson = False) -> None:
    """Give a person another password; every session of theirs ends.

    The password is asked for, or is the first line of standard input.
    """
    changed = Accounts(library_of(context)).set_password(name, _new_password())
    _tell(changed, f"{changed.name} has another password; whoever was signed in so is not", as_json=as_json)


@account.command("role")
def role(
    context: typer.Context,
    name: PersonName,
    role: Annotated[Role, typer.Argument(metavar="ROLE", help="bench, author or steward.")],
    as_json: AsJson = False,
) -> None:
    """Give a person another role; it holds at once."""
    changed = Accounts(library_of(context)).set_role(name, role)
    _tell(changed, f"{changed.name} is {changed.role} now ({DUTIES[changed.role]})", as_json=as_json)


@account.command("remove")
def remove(context: typer.Context, name: PersonName, as_json: AsJson = False) -> None:
    """Remove a person; every session of theirs ends. What they entered stays, under their name."""
    Accounts(library_of(context)).remove(name)
    if as_json:
        say_json({"removed": name})
    else:
        say([f"{name} cannot sign in any more"])


def _tell(found: Account, said: str, *, as_json: bool) -> None:
    if as_json:
        say_json(_plain(found))
    else:
        say([said])


def _plain(found: Account) -> dict[str, object]:
    return {"name": found.name, "role": found.role, "since": found.since.isoformat()}


def _new_password() -> str:
    """Read a new password: twice where somebody types it, since nobody sees it."""
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\r\n")
    first = getpass.getpass(f"Password ({SHORTEST} to {LONGEST} characters, not shown): ")
    if getpass.getpass("The same once more: ") != first:
        complain("benchlore: the two passwords differ; nothing was changed")
        raise typer.Exit(REFUSED)
    return first
