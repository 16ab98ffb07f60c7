"""What the commands about money print as JSON: amounts are decimal numbers in quotation marks."""

from decimal import Decimal
from typing import Any, Protocol

from benchlore.library import Funded, Quoted
from benchlore.money import QUANTILES, Chosen, Decline, Offer, Research, Verdict
from benchlore.units import decimal_amount


def quote_document(quoted: Quoted) -> dict[str, Any]:
    """A quote as JSON data."""
    costs, currency = quoted.costs, quoted.shop.currency

    def cash(amount: float | None, *, up: bool = False) -> Decimal | None:
        return None if amount is None else decimal_amount(amount, currency, up=up)

    return {
        "board": quoted.procedure.board,
        "complaint": quoted.procedure.complaint,
        "shop": quoted.shop.name,
        "currency": currency,
        "mean": cash(costs.mean),
        "deviation": cash(costs.deviation),
        "expected": cash(costs.expected),
        "lost_by_a_return": cash(costs.forgone),
        "returned": costs.returned,
        "exact": costs.draws == 0,
        "draws": costs.draws,
        "quantiles": [{"share": each, "cost": cash(costs.quantile(each))} for each in QUANTILES],
        "offers": [
            _offer_document(each, rule, cash)
            for each, rule in zip(quoted.offers, quoted.declines, strict=True)
        ],
        "rates": [
            {
                "hour": cash(each.hour),
                "cost": cash(each.cost),
                "break_even": cash(each.break_even, up=True),
                "margin": cash(each.margin),
            }
            for each in quoted.rates
        ],
    }


class _Cash(Protocol):
    """Makes an amount decimal in the quote's currency."""

    def __call__(self, amount: float | None, *, up: bool = False) -> Decimal | None: ...


def _offer_document(each: Offer, rule: Decline | None, cash: _Cash) -> dict[str, Any]:
    return {
        "fee": cash(each.fee),
        "asked": cash(each.asked),
        "margin": cash(each.margin),
        "loss": each.loss,
        "jobs": each.jobs,
        "target": each.target,
        "break_even": cash(each.break_even, up=True),
        "price": cash(each.price, up=True),
        "margin_at_price": cash(each.margin_at_price),
        "least_loss": each.least_loss,
        "decline": None if rule is None else _decline_document(rule, cash),
    }


def _decline_document(rule: Decline, cash: _Cash) -> dict[str, Any]:
    stops = [
        {"step": stop.step, "action": stop.action, "reach": stop.reach, "margin": cash(stop.margin)}
        for stop in rule.stops
    ]
    return {"declined": rule.declined, "margin": cash(rule.margin), "stops": stops}


def research_document(research: Research, found: Verdict, currency: str) -> dict[str, Any]:
    """What research is worth as JSON data."""
    return {
        "currency": currency,
        "cost": decimal_amount(research.cost, currency),
        "gain": decimal_amount(research.gain, currency),
        "jobs_a_year_and_shop": research.demand.mean,
        "value": decimal_amount(found.value, currency),
        "pays": found.pays,
        "least_shops": found.least_shops,
        "least_jobs": found.least_jobs,
        "most_hours": found.most_hours,
        "payback": found.payback,
        "chance": found.chance,
        "low": decimal_amount(found.low, currency),
        "high": decimal_amount(found.high, currency),
        "years": [
            {
                "year": year.year,
                "jobs": year.jobs,
                "gain": decimal_amount(year.gain, currency),
                "balance": decimal_amount(year.balance, currency),
            }
            for year in found.years
        ],
    }


def fund_document(funded: Funded, currency: str) -> dict[str, Any]:
    """A fund plan as JSON data."""
    names = [each.name for each in funded.candidates]

    def chosen(one: Chosen | None) -> dict[str, Any] | None:
        if one is None:
            return None
        return {
            "candidates": [names[place] for place in one.places],
            "cost": decimal_amount(one.cost, currency),
            "benefit": decimal_amount(one.benefit, currency),
        }

    return {
        "currency": currency,
        "budget": decimal_amount(funded.terms.budget, currency),
        "chosen": chosen(funded.chosen),
        "candidates": [
            {
                "name": each.name,
                "fund": place in funded.chosen.places,
                "drawn": funded.often[place],
                "fee": decimal_amount(each.cost, currency),
                "benefit": decimal_amount(each.benefit, currency),
                "hours": each.hours,
                "offer_from": decimal_amount(funded.fees[place][0], currency),
                "offer_to": None
                if (high := funded.fees[place][1]) is None
                else decimal_amount(high, currency),
                "jobs_a_year": funded.rows[place].jobs,
                "source": funded.rows[place].source,
                "own": funded.own[place],
                "elsewhere": funded.elsewhere[place],
            }
            for place, each in enumerate(funded.candidates)
        ],
        "curve": [chosen(each) for each in funded.curve],
        "more_from": None if funded.margin.more is None else decimal_amount(funded.margin.more, currency),
        "with_more": chosen(funded.margin.then),
        "with_less": chosen(funded.margin.less),
        "draws_with_a_conflict": funded.conflicts,
    }
