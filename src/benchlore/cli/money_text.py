"""What the commands about money print as JSON: amounts are decimal numbers in quotation marks."""

from decimal import Decimal
from typing import Any

from benchlore.library import Quoted
from benchlore.money import QUANTILES
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
            {
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
                "decline": None
                if rule is None
                else {
                    "declined": rule.declined,
                    "margin": cash(rule.margin),
                    "stops": [
                        {
                            "step": stop.step,
                            "action": stop.action,
                            "reach": stop.reach,
                            "margin": cash(stop.margin),
                        }
                        for stop in rule.stops
                    ],
                },
            }
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
