"""Credit in passages, and as a table for the bookkeeper."""

import csv
import io
from collections.abc import Iterator
from decimal import Decimal

from benchlore.jobs.export_cells import text_cell
from benchlore.library.passages import Passage, table_of
from benchlore.library.sharing import By, Contributor, CreditedBoard, CreditReport, Gave
from benchlore.units import counted, decimal_amount, money, share

HEAD = (
    *("contributor", "orcid", "gave", "boards", "jobs", "worth a year", "standard error"),
    *("share", "amount", "currency"),
)


def credit_passages(report: CreditReport) -> tuple[Passage, ...]:
    """Tell who is worth what, how a pot is divided, and what that rests on."""
    return (_contributors(report), _complaints(report), _reckoned(report), _assumed(report))


def _contributors(report: CreditReport) -> Passage:
    rows = [_row(each, report) for each in report.contributors]
    head = ["contributor", "gave", "worth a year"]
    align = "<<>"
    if not report.is_exact:
        head, align = [*head, "±"], align + ">"
    head, align = [*head, "share"], align + ">"
    if report.terms.pot is not None:
        head, align = [*head, "paid"], align + ">"
    return Passage("Who lowered the cost", tuple(_sentences(report)), table_of(head, rows, align))


def _row(each: Contributor, report: CreditReport) -> list[str]:
    gave = "book" if each.gave is Gave.BOOK else counted(each.jobs, "job")
    cells = [each.name, gave, money(each.worth, report.currency)]
    if not report.is_exact:
        cells.append(money(each.error, report.currency))
    cells.append(share(each.share))
    if each.amount is not None:
        cells.append(f"{each.amount:,} {report.currency}")
    return cells


def _sentences(report: CreditReport) -> Iterator[str]:
    if not report.contributors:
        yield "There is no book here, so there is nothing to give credit for."
        return
    if report.worth <= 0:
        yield "By these books and records nothing is saved, so nobody has a share and nothing is paid."
        return
    yield (
        f"Together they save {money(report.worth, report.currency)} of expected cost a year at "
        f"{report.shop}'s prices."
    )
    if all(each.gave is Gave.BOOK for each in report.contributors):
        yield "No finished job of these boards is recorded, so all of it is the books'."
    if report.terms.pot is not None:
        paid = sum((each.amount or Decimal(0) for each in report.contributors), Decimal(0))
        yield f"The pot of {report.terms.pot:,} {report.currency} is divided to the last unit: {paid:,} paid."
    if not report.is_exact:
        yield "'±' is one standard error of drawing orders; the shares sum to the whole in any case."


def _complaints(report: CreditReport) -> Passage:
    currency = report.currency
    rows = [
        (
            f"{each.board}, {each.complaint}",
            f"{each.a_year:,.1f}",
            money(each.declined, currency),
            money(each.by_book, currency),
            money(each.by_all, currency),
            money(each.saved, currency),
        )
        for board in report.boards
        for each in board.complaints
    ]
    head = ("complaint", "jobs a year", "declined", "book alone", "with records", "saved a year")
    return Passage("What a job costs", (), table_of(head, rows, "<>>>>>") if rows else None)


def _reckoned(report: CreditReport) -> Passage:
    return Passage("How it was reckoned", tuple(map(_board, report.boards)))


def _board(board: CreditedBoard) -> str:
    others = counted(board.players - 1, "contributor")
    left = (
        f" {counted(board.left_out, 'job')} still open or of a complaint that the book does not have "
        f"did not count."
        if board.left_out
        else ""
    )
    some = "the one coalition" if board.coalitions == 1 else f"all {board.coalitions:,} coalitions"
    how = (
        f"exact, over {some}"
        if board.orders == 0
        else f"{board.orders} orders drawn, in which {counted(board.coalitions, 'coalition')} formed"
    )
    return f"{board.title}: the book and {others} of {counted(board.jobs, 'job')}; {how}.{left}"


def _assumed(report: CreditReport) -> Passage:
    who = "each shop" if report.terms.by is By.SHOP else "each technician (without a name: the shop)"
    demand = (
        "as many a year as the shops that keep records had, so a complaint without any saves nothing"
        if report.is_dated
        else "one a year of each complaint, for no job has a day on which it was opened"
    )
    return Passage(
        "What this takes for granted",
        (
            (
                f"The Shapley value of a game of the book and {who}: what everybody adds to what was there "
                f"before, on average over all orders of joining. A coalition is worth what its procedure "
                f"saves against declining the job; jobs are {demand}."
            ),
            (
                "A procedure compiled from some of the records is priced under the model of all of them, so "
                "nobody gains by records that mislead. Who stands together may use the best that some of "
                "them found, so no share is below zero."
            ),
            (
                "Without the book no record is worth anything, so the book has the larger part of most "
                "savings. A book does not say who wrote which entry: its people share alike."
            ),
            (
                "What somebody did for other shops, for teaching, or before anything was recorded is not "
                "in it. People who agree on other parts are right."
            ),
        ),
    )


def credit_csv(report: CreditReport) -> str:
    """The contributors as CSV, one a row; texts that a spreadsheet would run are guarded."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(HEAD)
    for each in report.contributors:
        writer.writerow(
            [
                *(text_cell(each.name), text_cell(each.orcid), str(each.gave)),
                *(text_cell("; ".join(each.boards)), each.jobs),
                decimal_amount(each.worth, report.currency),
                decimal_amount(each.error, report.currency),
                f"{each.share:.6f}",
                "" if each.amount is None else each.amount,
                report.currency,
            ]
        )
    return text.getvalue()
