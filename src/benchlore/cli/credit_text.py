"""What the commands about credit and impact print as JSON: amounts are decimal numbers in quotation marks."""

from typing import Any

from benchlore.library import CreditReport, ImpactReport, Saving, Tally
from benchlore.proof import Estimate
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


def impact_document(report: ImpactReport) -> dict[str, Any]:
    """What books have brought as JSON data; what cannot be said is null."""
    return {
        "shop": report.shop,
        "currency": report.currency,
        "since": report.since,
        "seed": report.seed,
        "boards": list(report.boards),
        "led": _tally(report.led),
        "own_way": _tally(report.own),
        "measured": _saving(report.measured, report.currency),
        "expected": _saving(report.expected, report.currency),
        "undated": report.undated,
        "complaints": [
            {
                "board": each.board,
                "complaint": each.complaint,
                "led": _tally(each.led),
                "own_way": _tally(each.own),
                "compared": each.is_compared,
                "replayed": _saving(each.replayed, report.currency),
                "proven": each.is_proven,
                "changed_since_proof": list(each.stale),
            }
            for each in report.complaints
        ],
    }


def _tally(tally: Tally) -> dict[str, Any]:
    return {
        "jobs": tally.jobs,
        "repaired": tally.repaired,
        "came_back": tally.came_back,
        "returned": tally.returned,
        "ruined": tally.ruined,
        "timed": tally.timed,
        "hours": tally.hours,
    }


def _saving(found: Saving | None, currency: str) -> dict[str, Any] | None:
    if found is None:
        return None
    cash = found.money
    return {
        "jobs": found.jobs,
        "beside": found.beside,
        "timed": found.timed,
        "more_repaired": _interval(found.repaired),
        "hours_saved": None if found.hours is None else _interval(found.hours),
        "money_saved": None
        if cash is None
        else {
            "value": decimal_amount(cash.value, currency),
            "low": decimal_amount(cash.low, currency),
            "high": decimal_amount(cash.high, currency),
        },
    }


def _interval(found: Estimate) -> dict[str, float]:
    return {"value": found.value, "low": found.low, "high": found.high}
