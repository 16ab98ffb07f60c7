"""The command line: ``benchlore COMMAND``. Exit codes: 0 done, 1 refused by content, 2 wrong usage."""

import io
import os
import sys
from pathlib import Path
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from benchlore import __version__
from benchlore.cli.console import complain, say_json
from benchlore.jobs import DemandUnstorable, JobUnstorable, StoreTrouble
from benchlore.jobs.errors import ExportTrouble
from benchlore.library import Library, LibraryError, open_library
from benchlore.model import ModelError
from benchlore.money import MoneyError
from benchlore.notation import FileTrouble
from benchlore.procedure import PlanningError
from benchlore.proof import ProofError
from benchlore.soak import SoakError

REFUSED = 1
EXPECTED = (
    LibraryError,
    FileTrouble,
    StoreTrouble,
    JobUnstorable,
    DemandUnstorable,
    ExportTrouble,
    ModelError,
    MoneyError,
    PlanningError,
    ProofError,
    SoakError,
)
"""What can go wrong outside the program; each composes its own message."""

ORDER = (
    *("init", "review", "draft", "intake", "demand"),
    *("plan", "show", "next", "prove", "soak"),
    *("sheet", "press", "bundle", "verify"),
    *("quote", "equip", "learning", "research", "fund", "credit", "impact"),
    *("serve", "account", "export", "schema", "demo"),
)
"""The commands as help lists them: in the order of the work."""


class _InOrder(TyperGroup):
    def list_commands(self, ctx: Any) -> list[str]:
        return sorted(super().list_commands(ctx), key=ORDER.index)


app = typer.Typer(
    name="benchlore",
    cls=_InOrder,
    help="Compile bench knowledge into the cheapest troubleshooting procedure for this shop.",
    epilog="A library is found in the current folder or above; --library or BENCHLORE_LIBRARY names one.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
)

AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON document instead of text.")]
BoardName = Annotated[str, typer.Argument(metavar="BOARD", help="The board: its folder's name under books/.")]
ComplaintName = Annotated[str, typer.Argument(metavar="COMPLAINT", help="The complaint's name in the book.")]
ShopFile = Annotated[
    Path | None, typer.Option("--shop", metavar="FILE", help="Another shop file than the library's.")
]


def _version(value: bool) -> None:
    if value:
        sys.stdout.write(f"benchlore {__version__}\n")
        raise typer.Exit


@app.callback()
def root(
    context: typer.Context,
    library: Annotated[
        Path | None,
        typer.Option("--library", "-L", metavar="FOLDER", envvar="BENCHLORE_LIBRARY", help="The library."),
    ] = None,
    version: Annotated[  # noqa: ARG001  its callback does the work
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """Compile bench knowledge into the cheapest troubleshooting procedure for this shop."""
    context.obj = library or Path.cwd()


def library_of(context: typer.Context) -> Library:
    """Open the library that the command line names, or the one around the current folder."""
    return open_library(context.find_root().obj)


def main() -> None:
    """Run the command line; a failure that was foreseen prints its message and ends with its code."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # a terminal that knows no '▪' shows '?' instead
            stream.reconfigure(errors="replace")
    try:
        try:
            app()
        finally:
            sys.stdout.flush()
    except EXPECTED as error:
        _report(error)
        sys.exit(REFUSED)
    except OSError as error:
        # The output could not be written; what remains of it must not be tried again on the way out.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        if isinstance(error, BrokenPipeError):  # a pager or head has gone: that is its right
            sys.exit(0)
        complain(f"benchlore: {error.strerror or error}")
        sys.exit(REFUSED)


def _report(error: Exception) -> None:
    if "--json" in sys.argv:
        say_json({"error": {"kind": type(error).__name__, "message": str(error)}})
    else:
        complain(f"benchlore: {error}")
