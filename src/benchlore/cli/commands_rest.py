"""The commands that serve, give away and show the whole."""

import webbrowser
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from benchlore.book import json_schema as book_schema
from benchlore.cli import (
    intake_text,
)
from benchlore.cli.app import (
    REFUSED,
    AsJson,
    app,
    library_of,
)
from benchlore.cli.console import complain, progress_shown, say, say_json
from benchlore.cli.procedure_text import ProcedureText
from benchlore.library import (
    export_jobs,
    make_demo,
)
from benchlore.procedure import Effort
from benchlore.shop import json_schema as shop_schema
from benchlore.units import counted


@app.command("serve")
def serve_app(
    context: typer.Context,
    port: Annotated[int, typer.Option(help="Where to listen on this machine.", min=0, max=65535)] = 8470,
    host: Annotated[
        str,
        typer.Option(
            metavar="ADDRESS",
            help="The machine's own address to listen at. Any other than this one opens the app to others: "
            "it needs accounts, and TLS.",
        ),
    ] = "127.0.0.1",
    certificate: Annotated[
        Path | None, typer.Option(metavar="FILE", help="A certificate in PEM form, for TLS.")
    ] = None,
    key: Annotated[Path | None, typer.Option(metavar="FILE", help="The certificate's key.")] = None,
    behind_proxy: Annotated[
        str | None,
        typer.Option(
            metavar="ADDRESS", help="A proxy makes TLS and speaks from this address; it alone is believed."
        ),
    ] = None,
    browse: Annotated[bool, typer.Option("--open/--no-open", help="Open a browser.")] = True,
) -> None:
    """Serve the library as pages until Ctrl-C.

    On this machine alone, or on a network for people who sign in.
    """
    from benchlore.web import (  # noqa: PLC0415 the server takes long to import
        Listening,
        ServingError,
        serve,
    )

    library = library_of(context)
    where = Listening(host, port, certificate, key, behind_proxy)
    who = "Only this machine can open it." if where.is_private else "People sign in."

    def ready(address: str) -> None:
        say([f"{library.title}: {address}", f"Ctrl-C ends it. {who}"])
        if browse:
            webbrowser.open(address)

    try:
        serve(library, where, ready=ready)
    except ServingError as error:
        complain(f"benchlore: {error}")
        raise typer.Exit(REFUSED) from None


@app.command()
def export(
    context: typer.Context,
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="A new folder for the CSV files.")],
    as_json: AsJson = False,
) -> None:
    """Write every job to plain CSV files."""
    count = export_jobs(library_of(context), folder)
    if as_json:
        say_json({"folder": folder, "jobs": count})
    else:
        say([f"{counted(count, 'job')} written to {folder} (jobs.csv, readings.csv, attempts.csv)"])


@app.command()
def schema(
    of_shop: Annotated[
        bool, typer.Option("--shop", help="The shop file's instead of the fault book's.")
    ] = False,
) -> None:
    """Print the fault book's JSON Schema, for editors.

    An editor that knows it checks a book while it is written, and completes its keys.
    """
    say_json(shop_schema() if of_shop else book_schema())


@app.command()
def demo(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="A new folder, or an earlier demo's.")],
    effort: Annotated[Effort, typer.Option(help="How hard to look for each procedure.")] = Effort.NORMAL,
    as_json: AsJson = False,
) -> None:
    """Run the main job on an invented library."""
    with progress_shown(quiet=as_json, told=True) as report:
        made = make_demo(folder, now=datetime.now(UTC), effort=effort, report=report)
    if as_json:
        say_json({"folder": folder, "taken": [intake_text.summary(taken) for taken in made.taken]})
        return
    say(intake_text.demo_lines(made, folder))
    shown = made.planned[0]
    say(["", "-" * 80, "", *ProcedureText(shown.procedure, shown.book, 0.05).lines()])
