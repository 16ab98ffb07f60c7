"""The commands about what a library has brought, and by whom."""

from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from benchlore.cli import credit_text
from benchlore.cli.app import AsJson, ShopFile, app, library_of
from benchlore.cli.commands_money import Seed, refuse_no_folder
from benchlore.cli.console import progress_shown, say, say_json
from benchlore.cli.days import day_of
from benchlore.cli.proof_text import passage_lines
from benchlore.library import (
    By,
    CreditTerms,
    credit_csv,
    credit_passages,
    impact_passages,
    share_credit,
    weigh_impact,
)
from benchlore.library.folder import sound_shop_of
from benchlore.money import pot_of
from benchlore.notation import write_atomic
from benchlore.procedure import Effort

Boards = Annotated[
    list[str] | None, typer.Argument(metavar="[BOARD]", help="Boards; all, where none is named.")
]


@app.command()
def credit(
    context: typer.Context,
    boards: Boards = None,
    pot: Annotated[
        str | None, typer.Option(metavar="AMOUNT", help="Divide so much, to the last minor unit.")
    ] = None,
    by: Annotated[By, typer.Option(help="Whose records count as one contributor's.")] = By.SHOP,
    effort: Annotated[
        Effort, typer.Option(help="How hard each coalition's procedure is looked for.")
    ] = Effort.QUICK,
    orders: Annotated[
        int, typer.Option(metavar="N", help="Orders drawn where contributors are many; even.", min=4)
    ] = 24,
    most_exact: Annotated[
        int, typer.Option("--exact", metavar="N", help="Up to N contributors it is exact.", min=0, max=12)
    ] = 6,
    shop: ShopFile = None,
    seed: Seed = 1,
    table: Annotated[
        Path | None, typer.Option("--csv", metavar="FILE", help="Write the table as CSV there too.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Say who lowered the expected cost by how much, and divide a pot.

    Shapley values of books and recorded jobs. Every coalition's procedure is compiled; what was compiled is
    kept, so another pot takes no time.
    """
    refuse_no_folder(table)
    library = library_of(context)
    amount = None if pot is None else pot_of(pot, sound_shop_of(library, shop).currency)
    terms = CreditTerms(amount, by, effort, most_exact, orders, seed)
    with progress_shown(quiet=as_json) as report:
        shared = share_credit(library, boards or (), shop_file=shop, terms=terms, report=report)
    if table is not None:
        write_atomic(table, credit_csv(shared))
    if as_json:
        say_json(credit_text.credit_document(shared))
        return
    say(passage_lines(credit_passages(shared))[1:])


@app.command()
def impact(
    context: typer.Context,
    boards: Boards = None,
    since: Annotated[
        date | None,
        typer.Option(parser=day_of, metavar="DAY", help="Led jobs opened on that day or later."),
    ] = None,
    shop: ShopFile = None,
    seed: Seed = 1,
    page: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write it as a page to print there too.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Say what the books brought: boards repaired, hours, money.

    For those who pay for them. Jobs led by the app stand beside those done the bench's own way; where there
    are too few of either, it says what is missing.
    """
    refuse_no_folder(page)
    with progress_shown(quiet=as_json) as report:
        weighed = weigh_impact(
            library_of(context), boards or (), since=since, shop_file=shop, seed=seed, report=report
        )
    if page is not None:
        from benchlore.press import impact_html  # noqa: PLC0415 drawing takes long to import

        write_atomic(page, impact_html(weighed))
    if as_json:
        say_json(credit_text.impact_document(weighed))
        return
    say(passage_lines(impact_passages(weighed))[1:])
