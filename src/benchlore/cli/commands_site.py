"""The command that publishes the library."""

import os
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from benchlore.cli.app import REFUSED, AsJson, ShopFile, app, library_of
from benchlore.cli.console import progress_shown, say, say_json
from benchlore.library import site_address
from benchlore.procedure import Effort


@app.command()
def press(
    context: typer.Context,
    out: Annotated[Path, typer.Argument(metavar="OUT", help="A new folder, or one that a press wrote.")],
    shop: ShopFile = None,
    base: Annotated[
        str | None,
        typer.Option(
            metavar="ADDRESS", help="Where the site will stand, if not what 'site' in library.yaml says."
        ),
    ] = None,
    effort: Annotated[
        Effort, typer.Option(help="How hard to look for procedures that are missing.")
    ] = Effort.QUICK,
    renew: Annotated[bool, typer.Option("--renew", help="Plan stale procedures anew too.")] = False,
    as_is: Annotated[
        bool, typer.Option("--as-is", help="Plan nothing; list what has no procedure yet.")
    ] = False,
    workers: Annotated[
        int | None, typer.Option(metavar="N", help="Processes at work; all cores if left out.", min=1)
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Write the library as a site that works from any folder.

    Open OUT/index.html, or put OUT on any file server: it asks for nothing from elsewhere. Only what has
    changed since the last time is made; files in OUT that are not the site's are left alone. Books with
    errors are listed with them, and the exit code is then 1.
    """
    from benchlore.cli import site_text  # noqa: PLC0415 drawing takes long to import
    from benchlore.press.site import press_site  # noqa: PLC0415 as above

    if as_is and renew:
        raise typer.BadParameter("--as-is plans nothing, and --renew asks for it")
    try:
        address = None if base is None else site_address(base)
    except ValueError as error:
        raise typer.BadParameter(str(error), param_hint="--base") from None
    library = library_of(context)
    with progress_shown(quiet=as_json) as report:
        pressed = press_site(
            library,
            out,
            now=_now(),
            shop_file=shop,
            base=address,
            effort=None if as_is else effort,
            renew=renew,
            workers=workers,
            report=report,
        )
    if as_json:
        say_json(pressed)
    else:
        say(site_text.lines(pressed))
    if pressed.is_lacking:
        raise typer.Exit(REFUSED)


def _now() -> datetime:
    """The time, or the one that SOURCE_DATE_EPOCH sets, as builds do that are to be the same every time."""
    given = os.environ.get("SOURCE_DATE_EPOCH", "")
    return datetime.fromtimestamp(int(given), UTC) if given.isdecimal() else datetime.now(UTC)
