"""The commands about money."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from benchlore.cli import money_text
from benchlore.cli.app import AsJson, BoardName, ComplaintName, ShopFile, app, library_of
from benchlore.cli.commands_press import Paper
from benchlore.cli.console import progress_shown, say, say_json, solver_silenced
from benchlore.cli.proof_text import passage_lines
from benchlore.cli.text import two_ends
from benchlore.library import (
    EquipTerms,
    FundTerms,
    LearningTerms,
    ResearchTerms,
    Terms,
    capacity_of,
    equip_passages,
    fund_passages,
    fund_rows,
    gain_of,
    learning_curve,
    learning_passages,
    mix_of,
    plan_fund,
    quote_complaint,
    quote_passages,
    research_for,
    researched_passages,
    value_instruments,
)
from benchlore.library.folder import sound_shop_of
from benchlore.notation import FileNotWritten, write_atomic
from benchlore.procedure import Effort

PageFile = Annotated[
    Path | None, typer.Option("--page", metavar="FILE", help="Write a page with pictures there too.")
]
Workers = Annotated[
    int | None, typer.Option(metavar="N", help="Processes at work; all cores if left out.", min=1)
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
    pdf: Annotated[
        Path | None, typer.Option("--pdf", metavar="FILE", help="Write it on paper there too.")
    ] = None,
    paper: Annotated[Paper, typer.Option(help="What it is printed on.")] = Paper.A4,
    as_json: AsJson = False,
) -> None:
    """Say what to charge for a repair, and when to decline.

    The whole distribution of what a job costs in cash follows from the procedure. It is planned first if
    there is none, or it is out of date.
    """
    refuse_no_folder(page)
    refuse_no_folder(pdf)
    terms = Terms(price, fee, loss / 100, jobs, seed)
    with progress_shown(quiet=as_json) as report:
        quoted = quote_complaint(
            library_of(context), board, complaint, shop_file=shop, terms=terms, report=report
        )
    if page is not None:
        from benchlore.press import quote_html  # noqa: PLC0415 drawing takes long to import

        write_atomic(page, quote_html(quoted))
    if pdf is not None:
        from benchlore.press import quote_pdf  # noqa: PLC0415 drawing takes long to import

        write_atomic(pdf, quote_pdf(quoted, paper=paper.value, day=datetime.now(UTC).astimezone().date()))
    if as_json:
        say_json(money_text.quote_document(quoted))
        return
    head = two_ends(quoted.book.complaints[complaint].title, quoted.book.board.title)
    say([*head, f"for {quoted.shop.name}", *passage_lines(quote_passages(quoted))])


Years = Annotated[int, typer.Option(metavar="N", help="Years that count.", min=1, max=100)]
Discount = Annotated[
    float, typer.Option(metavar="PERCENT", help="How much less next year's money is worth.", min=0, max=1000)
]


@app.command()
def research(
    context: typer.Context,
    board: Annotated[str | None, typer.Argument(metavar="[BOARD]", help="A board that has a book.")] = None,
    complaint: Annotated[
        str | None, typer.Argument(metavar="[COMPLAINT]", help="The complaint's name in the book.")
    ] = None,
    hours: Annotated[float, typer.Option(metavar="H", help="Hours of research.", min=0)] = 200.0,
    rate: Annotated[
        float | None, typer.Option(metavar="AMOUNT", help="What an hour costs; else the shop's.", min=0)
    ] = None,
    gain: Annotated[
        float | None, typer.Option(metavar="AMOUNT", help="What a job gains; else by the book.")
    ] = None,
    jobs: Annotated[
        float | None, typer.Option(metavar="N", help="Jobs a year at a shop; else by its records.", min=0)
    ] = None,
    jobs_high: Annotated[
        float | None, typer.Option("--jobs-high", metavar="N", help="No more than that with 95 %.", min=0)
    ] = None,
    shops: Annotated[float, typer.Option(metavar="N", help="Shops that would use it.", min=0)] = 1.0,
    years: Years = 5,
    discount: Discount = 5.0,
    fading: Annotated[
        float, typer.Option(metavar="PERCENT", help="How many fewer jobs each year.", min=0, max=99)
    ] = 0.0,
    shop: ShopFile = None,
    seed: Seed = 1,
    as_json: AsJson = False,
) -> None:
    """Say whether research pays, for one shop and for many.

    With a board and a complaint, gain and demand come from their book and recorded jobs. For a device
    without a book, name both.
    """
    library, by_book = library_of(context), None
    if gain is None:
        if board is None or complaint is None:
            raise typer.BadParameter("name BOARD and COMPLAINT, or say with --gain what a job gains")
        with progress_shown(quiet=as_json) as report:
            by_book = gain_of(library, board, complaint, shop_file=shop, report=report)
    terms = ResearchTerms(
        hours, rate, gain, jobs, jobs_high, shops, years, discount / 100, fading / 100, seed
    )
    found = research_for(library, board or "", complaint or "", terms, gain=by_book, shop_file=shop)
    if as_json:
        say_json(money_text.research_document(found.research, found.verdict, found.currency))
        return
    say(passage_lines(researched_passages(found))[1:])


@app.command()
def fund(
    context: typer.Context,
    table: Annotated[Path, typer.Argument(metavar="FILE", help="A CSV or XLSX table of candidates.")],
    budget: Annotated[float, typer.Option(metavar="AMOUNT", help="What may be spent.", min=0)],
    capacity: Annotated[
        list[str] | None,
        typer.Option("--capacity", metavar="NAME=HOURS", help="Hours that a person has; may be repeated."),
    ] = None,
    must: Annotated[
        list[str] | None,
        typer.Option("--must", metavar="NAME", help="Fund 'DEVICE, COMPLAINT' for sure; may be repeated."),
    ] = None,
    left_out: Annotated[
        list[str] | None,
        typer.Option("--leave-out", metavar="NAME", help="Do as if it were not there; may be repeated."),
    ] = None,
    rate: Annotated[
        float | None, typer.Option(metavar="AMOUNT", help="What an expert's hour is worth.", min=0)
    ] = None,
    years: Years = 5,
    discount: Discount = 5.0,
    draws: Annotated[
        int, typer.Option(metavar="N", help="How often demand and hours are drawn.", min=1, max=10_000)
    ] = 200,
    seed: Seed = 1,
    shop: ShopFile = None,
    page: PageFile = None,
    as_json: AsJson = False,
) -> None:
    """Choose which research to fund with a budget.

    Columns: device, complaint, gain (what a job saves), jobs a year with their source, hours, fee; and as you
    like board, category, jobs high, coverage, hours low, hours high, rate, who, must, either-or.
    """
    refuse_no_folder(page)
    library = library_of(context)
    owner = sound_shop_of(library, shop)
    terms = FundTerms(
        budget=budget,
        capacity=capacity_of(capacity or ()),
        rate=owner.hour if rate is None else rate,
        years=years,
        discount=discount / 100,
        must=tuple(must or ()),
        left_out=tuple(left_out or ()),
        draws=draws,
        seed=seed,
    )
    with progress_shown(quiet=as_json) as report, solver_silenced():
        funded = plan_fund(library, table, terms, report=report)
    if page is not None:
        from benchlore.press import fund_html  # noqa: PLC0415 drawing takes long to import

        write_atomic(page, fund_html(funded, owner.currency))
    if as_json:
        say_json(money_text.fund_document(funded, owner.currency))
        return
    say(passage_lines(fund_passages(funded, owner.currency))[1:])


@app.command()
def equip(
    context: typer.Context,
    board: Annotated[
        list[str] | None,
        typer.Option("--board", metavar="BOARD", help="Count this board's jobs only; may be repeated."),
    ] = None,
    jobs: Annotated[
        list[str] | None,
        typer.Option(
            "--jobs", metavar="BOARD/COMPLAINT=N", help="Jobs a year instead of the records; may be repeated."
        ),
    ] = None,
    prices: Annotated[
        Path | None,
        typer.Option("--prices", metavar="FILE", help="A CSV or XLSX table: equipment, price, years."),
    ] = None,
    years: Annotated[
        int,
        typer.Option(metavar="N", help="Years that equipment lasts, if the table has none.", min=1, max=100),
    ] = 5,
    discount: Discount = 5.0,
    effort: Annotated[Effort, typer.Option(help="How hard to look for each procedure.")] = Effort.QUICK,
    workers: Workers = None,
    shop: ShopFile = None,
    seed: Seed = 1,
    as_json: AsJson = False,
) -> None:
    """Say what an instrument or skill that is lacking would save.

    The complaints that the shop sees in a year are planned with what it has and with one thing more, with two
    and with all that they could use. Prices say what pays and when the money is back.
    """
    library = library_of(context)
    terms = EquipTerms(
        boards=tuple(board or ()),
        jobs=mix_of(jobs or ()),
        prices=prices,
        years=years,
        discount=discount / 100,
        effort=effort,
        seed=seed,
    )
    with progress_shown(quiet=as_json) as report:
        values = value_instruments(library, shop_file=shop, terms=terms, workers=workers, report=report)
    if as_json:
        say_json(money_text.equip_document(values))
        return
    say([f"for {values.shop.name}", *passage_lines(equip_passages(values))])


@app.command()
def learning(
    context: typer.Context,
    board: Annotated[str, typer.Argument(metavar="BOARD", help="A board, with a book or without.")],
    complaint: ComplaintName,
    hours: Annotated[
        float | None,
        typer.Option("--hours-per-board", metavar="H", help="Hours a board takes; else as recorded.", min=0),
    ] = None,
    rate: Annotated[
        float | None, typer.Option(metavar="AMOUNT", help="What an hour costs; else the shop's.", min=0)
    ] = None,
    jobs: Annotated[
        float | None, typer.Option(metavar="N", help="Jobs a year at a shop; else by its records.", min=0)
    ] = None,
    shops: Annotated[float, typer.Option(metavar="N", help="Shops that would use it.", min=0)] = 1.0,
    years: Years = 5,
    discount: Discount = 5.0,
    worth: Annotated[
        float | None,
        typer.Option(metavar="AMOUNT", help="Worth of a repair, for a device without a book.", min=0),
    ] = None,
    like: Annotated[
        list[str] | None,
        typer.Option("--like", metavar="BOARD", help="A board to go by without own jobs; may be repeated."),
    ] = None,
    effort: Annotated[Effort, typer.Option(help="How hard to look for each procedure.")] = Effort.QUICK,
    workers: Workers = None,
    shop: ShopFile = None,
    seed: Seed = 1,
    rows: Annotated[
        Path | None,
        typer.Option("--fund-rows", metavar="FILE", help="Write rows for 'fund' there, as CSV."),
    ] = None,
    page: PageFile = None,
    as_json: AsJson = False,
) -> None:
    """Say what each board examined adds, and when to stop.

    Coverage and the cost of a job against boards and hours: seen up to the boards there are, expected beyond.
    A device without a book goes by like boards.
    """
    refuse_no_folder(page)
    refuse_no_folder(rows)
    terms = LearningTerms(
        hours=hours,
        rate=rate,
        jobs=jobs,
        shops=shops,
        years=years,
        discount=discount / 100,
        worth=worth,
        like=tuple(like or ()),
        effort=effort,
        seed=seed,
    )
    with progress_shown(quiet=as_json) as report:
        curve = learning_curve(
            library_of(context), board, complaint, shop_file=shop, terms=terms, workers=workers, report=report
        )
    if rows is not None:
        write_atomic(rows, fund_rows(curve))
    if page is not None:
        from benchlore.press import learning_html  # noqa: PLC0415 drawing takes long to import

        write_atomic(page, learning_html(curve))
    if as_json:
        say_json(money_text.learning_document(curve))
        return
    say(
        [
            *two_ends(curve.title, curve.device),
            f"for {curve.shop.name}",
            *passage_lines(learning_passages(curve, bars=True)),
        ]
    )
