"""The commands about money."""

from pathlib import Path
from typing import Annotated

import typer

from benchlore.cli import money_text
from benchlore.cli.app import AsJson, BoardName, ComplaintName, ShopFile, app, library_of
from benchlore.cli.console import progress_shown, say, say_json
from benchlore.cli.proof_text import passage_lines
from benchlore.cli.text import two_ends
from benchlore.library import Terms, quote_complaint, quote_passages
from benchlore.notation import FileNotWritten, write_atomic

PageFile = Annotated[
    Path | None, typer.Option("--page", metavar="FILE", help="Write a page with pictures there too.")
]
Seed = Annotated[int, typer.Option(metavar="N", help="Equal seeds give equal figures.", min=0)]


def refuse_no_folder(page: Path | None) -> None:
    """Say before the long work that a page could not be written."""
    if page is not None and not page.parent.is_dir():
        raise FileNotWritten(page, "there is no such folder")


@app.command()
def quote(
    context: typer.Context,
    board: BoardName,
    complaint: ComplaintName,
    shop: ShopFile = None,
    price: Annotated[
        float | None, typer.Option(metavar="AMOUNT", help="Asked for a repair; else its worth.", min=0)
    ] = None,
    fee: Annotated[
        float | None,
        typer.Option(metavar="AMOUNT", help="Asked for a return; else the shop's diagnostic fee.", min=0),
    ] = None,
    loss: Annotated[
        float, typer.Option(metavar="PERCENT", help="Chance of a loss that you would take.", min=0, max=100)
    ] = 10.0,
    jobs: Annotated[int, typer.Option(metavar="N", help="Count a loss over N jobs.", min=1, max=10_000)] = 1,
    seed: Seed = 1,
    page: PageFile = None,
    as_json: AsJson = False,
) -> None:
    """Say what to charge for a repair, and when to decline.

    The whole distribution of what a job costs in cash follows from the procedure. It is planned first if
    there is none, or it is out of date.
    """
    refuse_no_folder(page)
    terms = Terms(price, fee, loss / 100, jobs, seed)
    with progress_shown(quiet=as_json) as report:
        quoted = quote_complaint(
            library_of(context), board, complaint, shop_file=shop, terms=terms, report=report
        )
    if page is not None:
        from benchlore.press import quote_html  # noqa: PLC0415 drawing takes long to import

        write_atomic(page, quote_html(quoted))
    if as_json:
        say_json(money_text.quote_document(quoted))
        return
    head = two_ends(quoted.book.complaints[complaint].title, quoted.book.board.title)
    say([*head, f"for {quoted.shop.name}", *passage_lines(quote_passages(quoted))])
