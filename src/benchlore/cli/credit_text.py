"""What the commands about credit and impact print as JSON: amounts are decimal numbers in quotation marks."""

from typing import Any

from benchlore.library import CreditReport
from benchlore.units import decimal_amount


def credit_document(report: CreditReport) -> dict[str, Any]:
    """Shared credit as JSON data."""
    currency = report.currency
    return {
        "shop": report.shop,
        "currency": currency,
        "by": str(report.terms.by),
        "seed": report.terms.seed,
        "pot": report.terms.pot,
        "worth_a_year": decimal_amount(report.worth, currency),
        "demand_recorded": report.is_dated,
        "exact": report.is_exact,
        "contributors": [
            {
                "name": each.name,
                "orcid": each.orcid,
                "gave": str(each.gave),
                "boards": list(each.boards),
                "jobs": each.jobs,
                "worth_a_year": decimal_amount(each.worth, currency),
                "standard_error": decimal_amount(each.error, currency),
                "share": each.share,
                "amount": each.amount,
            }
            for each in report.contributors
        ],
        "boards": [
            {
                "board": board.board,
                "players": board.players,
                "coalitions": board.coalitions,
                "orders": board.orders,
                "jobs": board.jobs,
                "left_out": board.left_out,
                "complaints": [
                    {
                        "complaint": each.complaint,
                        "jobs_a_year": each.a_year,
                        "declined": decimal_amount(each.declined, currency),
                        "by_book": decimal_amount(each.by_book, currency),
                        "by_all": decimal_amount(each.by_all, currency),
                        "saved_a_year": decimal_amount(each.saved, currency),
                    }
                    for each in board.complaints
                ],
            }
            for board in report.boards
        ],
    }
