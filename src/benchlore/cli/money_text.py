"""What the commands about money print as JSON: amounts are decimal numbers in quotation marks."""

from decimal import Decimal
from typing import Any

from benchlore.library import EquipmentValue, Funded, InstrumentValues, LearningCurve, Quoted
from benchlore.money import QUANTILES, Chosen, Research, StopPaying, Verdict
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


def equip_document(values: InstrumentValues) -> dict[str, Any]:
    """What equipment is worth as JSON data."""
    currency = values.shop.currency

    def one(value: EquipmentValue | None) -> dict[str, Any] | None:
        return None if value is None else _equipment(value, values, currency)

    return {
        "shop": values.shop.name,
        "currency": currency,
        "discount": values.terms.discount,
        "complaints": [
            {
                "board": row.board,
                "complaint": row.complaint,
                "jobs_a_year": row.demand.mean,
                "source": row.source,
                "needs": row.needs,
            }
            for row in values.mix
        ],
        "equipment": [one(value) for value in values.single],
        "only_together": [one(value) for value in values.together],
        "best_two": one(values.best_two),
        "everything": one(values.everything),
        "saves_nothing": values.needless,
        "owned": values.owned,
        "left_out": [{"what": each.what, "why": each.why} for each in values.left_out],
        "plans_asked": values.asked,
        "plans_made": values.planned,
    }


def _equipment(value: EquipmentValue, values: InstrumentValues, currency: str) -> dict[str, Any]:
    bought = value.bought
    return {
        "names": value.names,
        "saved_a_year": decimal_amount(value.yearly.saved, currency),
        "low": decimal_amount(value.yearly.low, currency),
        "high": decimal_amount(value.yearly.high, currency),
        "proven_at_least": decimal_amount(value.least, currency),
        "proven_at_most": decimal_amount(value.most, currency),
        "proven": value.is_proven,
        "complaints": [
            {
                "board": row.board,
                "complaint": row.complaint,
                "cost_now": decimal_amount(saved.now, currency),
                "cost_then": decimal_amount(saved.then, currency),
            }
            for row, saved in zip(values.mix, value.saved, strict=True)
        ],
        "price": None if value.price is None else decimal_amount(value.price, currency),
        "years": value.years,
        "value": None if bought is None else decimal_amount(bought.value, currency),
        "value_low": None if bought is None else decimal_amount(bought.low, currency),
        "value_high": None if bought is None else decimal_amount(bought.high, currency),
        "pays": None if bought is None else bought.pays,
        "chance": None if bought is None else bought.chance,
        "payback": None if bought is None else bought.payback,
        "paid_by": None if bought is None else bought.paid_by,
        "most_price": None if bought is None else decimal_amount(bought.most, currency),
    }


def learning_document(curve: LearningCurve) -> dict[str, Any]:
    """A learning curve as JSON data."""
    currency = curve.shop.currency
    return {
        "board": curve.board,
        "complaint": curve.complaint,
        "currency": currency,
        "source": curve.source,
        "like": [{"board": b, "complaint": c, "boards": n} for b, c, n in curve.like],
        "boards": curve.boards,
        "hours_per_board": curve.hours_per_board,
        "hours_from": curve.hours_from,
        "rate": decimal_amount(curve.rate, currency),
        "jobs_a_year_and_shop": curve.demand.mean,
        "demand_from": curve.demand_from,
        "cost_of_a_return": decimal_amount(curve.ignorant, currency),
        "points": [
            {
                "boards": point.boards,
                "hours": point.hours,
                "coverage": point.coverage,
                "cost": decimal_amount(point.cost, currency),
                "value": decimal_amount(point.value, currency),
                "next_hour": None if point.next_hour is None else decimal_amount(point.next_hour, currency),
                "expected": point.expected,
            }
            for point in curve.points
        ],
        "stop": _stop(curve, curve.stop),
        "stop_alone": _stop(curve, curve.alone),
    }


def _stop(curve: LearningCurve, stop: StopPaying) -> dict[str, Any]:
    point = curve.at(stop.place)
    return {
        "shops": stop.shops,
        "boards": point.boards,
        "hours": point.hours,
        "value": decimal_amount(stop.value, curve.shop.currency),
        "hours_low": curve.at(stop.low).hours,
        "hours_high": curve.at(stop.high).hours,
        "still_pays": stop.still,
    }
