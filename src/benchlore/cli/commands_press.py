"""The command that prints."""

import re
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Final

import typer

from benchlore.cli.app import AsJson, BoardName, ComplaintName, ShopFile, app, library_of
from benchlore.cli.commands_plans import warn_of_stale
from benchlore.cli.console import say, say_json
from benchlore.cli.typed import to_type
from benchlore.library import kept_sheet
from benchlore.notation import FileNotWritten, write_atomic

ADDRESS: Final = re.compile(r"https?://[^\s<>\"]+")
LONGEST: Final = 200
"""A longer address makes a QR code too fine for a small camera at this size."""


class Paper(StrEnum):
    """Paper that a printer has."""

    A4 = "a4"
    LETTER = "letter"


NAMES: Final = {Paper.A4: "A4", Paper.LETTER: "Letter"}


@app.command()
def sheet(
    context: typer.Context,
    board: BoardName,
    complaint: ComplaintName,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="FILE", help="Where to write; BOARD-COMPLAINT.pdf here if left out."),
    ] = None,
    paper: Annotated[Paper, typer.Option(help="What it is printed on.")] = Paper.A4,
    base: Annotated[
        str | None,
        typer.Option("--base", metavar="URL", help="The library's own address, printed with its QR code."),
    ] = None,
    shop: ShopFile = None,
    as_json: AsJson = False,
) -> None:
    """Write the procedure that was planned last as a PDF to print.

    A sheet leads to the fault without a screen. It grows with the procedure: 'benchlore plan --steps N' makes
    a shorter one, and says what that costs.
    """
    _check_base(base)
    file = Path(f"{board}-{complaint}.pdf") if out is None else out
    if not file.parent.is_dir():
        raise FileNotWritten(file, "there is no such folder")
    kept = kept_sheet(library_of(context), board, complaint, shop_file=shop)
    warn_of_stale(kept.stale, to_type(context, "plan", board, complaint, shop=shop))
    from benchlore.press import sheet_pdf  # noqa: PLC0415 drawing takes long to import

    content = sheet_pdf(
        kept.book,
        kept.procedure,
        kept.proof,
        shop=kept.shop,
        base=base,
        paper=paper.value,
        made=kept.planned,
        stale=kept.stale,
    )
    write_atomic(file, content)
    if as_json:
        say_json({"file": file, "paper": paper, "stale": kept.stale})
        return
    say([f"{file} written, to print on {NAMES[paper]}"])


def _check_base(base: str | None) -> None:
    if base is not None and (not ADDRESS.fullmatch(base) or len(base) > LONGEST):
        raise typer.BadParameter(
            f"'{base}' is no address of a page; write it whole, such as https://repair.example/, in at most "
            f"{LONGEST} signs",
            param_hint="--base",
        )
