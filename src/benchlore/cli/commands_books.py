"""The commands about a library and what goes into it, one function each."""

import shlex
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from benchlore.cli import (
    intake_text,
    review_text,
)
from benchlore.cli.app import (
    REFUSED,
    AsJson,
    BoardName,
    app,
    library_of,
)
from benchlore.cli.console import progress_shown, say, say_json
from benchlore.cli.text import columns, program
from benchlore.library import (
    draft_mapping,
    init_library,
    preview_table,
    review_book,
    review_library,
    take_in,
    take_in_demand,
    take_on,
)
from benchlore.notation import Severity
from benchlore.units import counted


@app.command()
def init(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="A new or empty folder.")],
    name: Annotated[str | None, typer.Option(help="What the library is called.")] = None,
    board: Annotated[str, typer.Option(help="The first book's board, such as halden-t4.")] = "my-board",
    bundle: Annotated[
        Path | None, typer.Option("--from", metavar="BUNDLE", help="Carry on the library of a bundle.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Make a library with a shop file and a first book.

    The book works as it stands: change it bit by bit into the book of your own board.
    """
    here, called = f"cd {shlex.quote(str(folder))}", program(elsewhere=True)
    if bundle is not None:
        taken, jobs = take_on(bundle, folder)
        if as_json:
            say_json({"library": taken.folder, "boards": taken.boards(), "jobs": jobs})
        else:
            say(
                [
                    f"{folder}: {taken.title}",
                    f"{counted(len(taken.boards()), 'board')}, {counted(jobs, 'job')}",
                    "Next: set your rates and instruments in shop.yaml, then",
                    f"  {here}; {called} review; {called} serve",
                ]
            )
        return
    library = init_library(folder, title=name or folder.resolve().name, board=board)
    if as_json:
        say_json({"library": library.folder, "board": board})
        return
    rows = [
        ("library.yaml", "its name and licence, and that this folder is a library"),
        ("shop.yaml", "your rates and instruments: set them first"),
        (f"books/{board}/book.yaml", "a first fault book; change it bit by bit"),
    ]
    say(
        [
            f"{folder}: a library with",
            *columns(rows, align="<<", indent=2, gap=3),
            f"Next: {here}; {called} review; {called} plan {board} no-power",
        ]
    )


@app.command()
def review(
    context: typer.Context,
    board: Annotated[str | None, typer.Argument(metavar="[BOARD]", help="One board; else all.")] = None,
    strict: Annotated[bool, typer.Option("--strict", help="Refuse warnings too.")] = False,
    as_json: AsJson = False,
) -> None:
    """Say what is wrong or doubtful in the books and shop file."""
    library = library_of(context)
    reviews = (review_book(library, board),) if board else review_library(library)
    if as_json:
        say_json({"files": reviews})
    else:
        say(review_text.lines(reviews))
    refused = [Severity.ERROR, Severity.WARNING] if strict else [Severity.ERROR]
    if any(reviewed.count(severity) for reviewed in reviews for severity in refused):
        raise typer.Exit(REFUSED)


@app.command()
def draft(
    context: typer.Context,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A CSV or XLSX table.")],
    board: BoardName,
    as_json: AsJson = False,
) -> None:
    """Print a first mapping file for a table.

    Its columns are guessed from their headers and cells: look at every line before you use it.
    """
    text = draft_mapping(library_of(context), file, board)
    if as_json:
        say_json({"mapping": text})
    else:
        say(text.splitlines())


@app.command()
def intake(
    context: typer.Context,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A CSV or XLSX table of recorded jobs.")],
    mapping: Annotated[Path, typer.Option("--mapping", "-m", metavar="FILE", help="What its columns mean.")],
    preview: Annotated[
        bool, typer.Option("--preview", help="Say what would be taken; store nothing.")
    ] = False,
    rejects: Annotated[
        Path | None, typer.Option("--rejects", metavar="FILE", help="Where refused rows go.")
    ] = None,
    every: Annotated[
        bool, typer.Option("--all", help="Show every row, not only those with a remark.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Take a shop's recorded jobs into the library.

    Refused rows never stop the good ones: they go to a file of their own, which can be mended and taken in
    with the same mapping. Taking a file in twice adds nothing. A mapping file is drafted by "draft".
    """
    library = library_of(context)
    with progress_shown(quiet=as_json) as report:
        if preview:
            taken = preview_table(library, file, mapping, now=datetime.now(UTC), report=report)
        else:
            taken = take_in(library, file, mapping, now=datetime.now(UTC), rejects=rejects, report=report)
    if as_json:
        say_json(intake_text.summary(taken))
    else:
        say(intake_text.lines(taken, every=every))
    if taken.preview.problems or not taken.preview.rows:
        raise typer.Exit(REFUSED)


@app.command()
def demand(
    context: typer.Context,
    path: Annotated[Path, typer.Argument(metavar="PATH", help="A CSV file, or a folder of them.")],
    as_json: AsJson = False,
) -> None:
    """Take in repair events elsewhere, as a measure of demand.

    They are read from files of the Open Repair Data Standard 0.3 and kept apart from bench jobs.
    """
    with progress_shown(quiet=as_json) as report:
        taken = take_in_demand(library_of(context), path, report=report)
    if as_json:
        say_json(taken)
    else:
        say(intake_text.demand_lines(taken))
    added = taken.added
    if not (added.new or added.same or added.changed):
        raise typer.Exit(REFUSED)
