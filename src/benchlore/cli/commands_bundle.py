"""The commands that give the whole library away, and look such a gift through."""

import os
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Annotated

import typer

from benchlore.cli.app import REFUSED, AsJson, app, library_of
from benchlore.cli.console import progress_shown, say, say_json
from benchlore.cli.days import day_of
from benchlore.library import MOST_BYTES, check_bag
from benchlore.procedure import Effort
from benchlore.units import counted


@app.command()
def bundle(
    context: typer.Context,
    out: Annotated[Path, typer.Argument(metavar="OUT.zip", help="The zip; an older one is replaced.")],
    day: Annotated[
        date | None,
        typer.Option("--day", parser=day_of, metavar="DAY", help="The edition's day, if it is to have one."),
    ] = None,
    effort: Annotated[
        Effort, typer.Option(help="How hard to look for procedures that are missing.")
    ] = Effort.QUICK,
    workers: Annotated[
        int | None, typer.Option(metavar="N", help="Processes at work; all cores if left out.", min=1)
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Pack the library into one zip to read, check and carry on.

    It holds the site, books, pictures, skills pages, models, procedures, proofs, and the jobs of those shops
    that "records" in library.yaml allows, without names, numbers and texts. An unchanged library gives the
    same bytes; SOURCE_DATE_EPOCH sets the day too.
    """
    from benchlore.press.bundle import bundle_library  # noqa: PLC0415 drawing takes long to import

    with progress_shown(quiet=as_json) as report:
        made = bundle_library(
            library_of(context), out, day=_day(day), effort=effort, workers=workers, report=report
        )
    if as_json:
        say_json(made)
    else:
        say(
            [
                f"{out}: {counted(len(made.boards), 'board')}, {counted(made.jobs, 'job')}",
                f"{counted(made.files, 'file')}, {made.size:,} bytes",
                f"SHA-256: {made.sha256}",
                *(
                    []
                    if made.jobs
                    else ["No job is in it: 'records' in library.yaml says which shops allow it."]
                ),
                *(f"Left out, its book has errors: {board}" for board in made.left_out),
            ]
        )
    if made.left_out:
        raise typer.Exit(REFUSED)


@app.command()
def verify(
    path: Annotated[Path, typer.Argument(metavar="BUNDLE", help="A bundle.")],
    most: Annotated[
        int, typer.Option(metavar="BYTES", help="The most that it may take when unpacked.", min=1)
    ] = MOST_BYTES,
    as_json: AsJson = False,
) -> None:
    """Look a bundle through, without unpacking it.

    Names what is missing, extra, changed or unsafe; the exit code is then 1.
    """
    checked = check_bag(path, most=most)
    if as_json:
        say_json(
            {
                "sound": checked.is_sound,
                "files": checked.files,
                "bytes": checked.size,
                "troubles": checked.troubles,
            }
        )
    elif checked.is_sound:
        say([f"{path}: whole and unchanged: {counted(checked.files, 'file')}, {checked.size:,} bytes"])
    else:
        say(
            [
                *map(str, checked.troubles),
                "",
                f"{path}: not to be used: {counted(len(checked.troubles), 'finding')}",
            ]
        )
    if not checked.is_sound:
        raise typer.Exit(REFUSED)


def _day(given: date | None) -> datetime | None:
    if given is not None:
        return datetime(given.year, given.month, given.day, tzinfo=UTC)
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
    return datetime.fromtimestamp(int(epoch), UTC) if epoch.isdecimal() else None
