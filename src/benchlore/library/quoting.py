"""Quoting: what to charge for a repair, from the kept procedure of a complaint."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from benchlore.book import Book
from benchlore.library.folder import Library
from benchlore.library.planning import Planned, fresh_procedure, kept_procedure
from benchlore.library.progress import Report, silent
from benchlore.model import Model
from benchlore.money import (
    AtRate,
    Decline,
    JobCosts,
    Offer,
    Ways,
    at_rates,
    decline_rule,
    job_costs,
    offer,
    ways_through,
)
from benchlore.money.errors import not_negative
from benchlore.procedure import Instance, Kind, Procedure, instance_of, worth_of
from benchlore.procedure.pricing import menu_of
from benchlore.shop import Shop

RATES: Final = (0.8, 0.9, 1.0, 1.1, 1.25)
"""Hourly rates that a quote is looked at under, as parts of the shop's own."""


@dataclass(frozen=True, slots=True)
class Terms:
    """What is asked of a quote; ``None`` where the shop file has the answer.

    ``price`` is asked for a repair, ``fee`` for a return; ``loss`` is the chance of a loss that is taken,
    over ``jobs`` jobs.
    """

    price: float | None = None
    fee: float | None = None
    loss: float = 0.1
    jobs: int = 1
    seed: int = 1


@dataclass(frozen=True, eq=False)
class Quoted:
    """A quote: the costs of a job, and each way of charging with where to decline.

    ``offers[0]`` charges nothing for a return, ``offers[1]``, if there is one, the diagnostic fee;
    ``declines`` are their rules. ``rates`` is the last offer under other hourly rates. ``stale`` names what
    has changed since the procedure was planned.
    """

    book: Book
    shop: Shop
    procedure: Procedure
    jobs: int
    costs: JobCosts
    offers: tuple[Offer, ...]
    declines: tuple[Decline | None, ...]
    rates: tuple[AtRate, ...]
    stale: tuple[str, ...] = ()


def quote_complaint(
    library: Library,
    board: str,
    complaint: str,
    *,
    shop_file: Path | None = None,
    terms: Terms = Terms(),
    report: Report = silent,
) -> Quoted:
    """Say what to charge for a complaint; its procedure is planned first if there is none or it is stale.

    Raises
    ------
    NoBookError, BookRefusedError, NoComplaintError, ShopRefusedError, PlanningError
        As for a plan.
    AmountError
        If a price, a fee or a chance makes no sense.
    """
    return _quoted(fresh_procedure(library, board, complaint, shop_file=shop_file, report=report), terms)


def kept_quote(library: Library, board: str, complaint: str, *, shop_file: Path | None = None) -> Quoted:
    """Say what to charge by the procedure that is kept, stale or not; nothing is planned.

    Raises
    ------
    NoBookError, BookRefusedError, NoComplaintError, ShopRefusedError, NoProcedureError
        As for a kept procedure.
    """
    return _quoted(kept_procedure(library, board, complaint, shop_file=shop_file), Terms())


def _quoted(planned: Planned, terms: Terms) -> Quoted:
    procedure, shop = planned.procedure, planned.shop
    instance = priced(planned.model, shop, procedure)
    ways = ways_through(procedure, instance)
    costs = job_costs(procedure, instance, ways=ways, seed=terms.seed)
    asked = worth_of(planned.model, shop) if terms.price is None else terms.price
    fee = shop.diagnostic_fee if terms.fee is None else terms.fee
    not_negative("the diagnostic fee", fee)
    fees = tuple(dict.fromkeys((0.0, fee)))
    return Quoted(
        book=planned.book,
        shop=shop,
        procedure=procedure,
        jobs=planned.jobs,
        costs=costs,
        offers=tuple(
            offer(costs, fee=each, asked=asked, target=terms.loss, jobs=terms.jobs, seed=terms.seed)
            for each in fees
        ),
        declines=tuple(
            None if ways is None else decline_rule(procedure, instance, ways, price=asked, fee=each)
            for each in fees
        ),
        rates=at_rates(tuple(_at_rates(planned, ways, costs, terms.seed)), fee=fees[-1], asked=asked),
        stale=planned.stale,
    )


def priced(model: Model, shop: Shop, procedure: Procedure) -> Instance:
    """Price a model so that a procedure can be followed on it, whatever soaks it asks for."""
    asked = {step.soak for step in procedure.steps if step.kind is Kind.FIX}
    return instance_of(model, shop, soaks=tuple(sorted(asked | set(menu_of(model, shop)))))


def _at_rates(
    planned: Planned, ways: Ways | None, own: JobCosts, seed: int
) -> Iterator[tuple[float, JobCosts]]:
    """The same procedure's costs where an hour costs less or more; its ways are the same."""
    for rate in RATES:
        shop = replace(planned.shop, hour=planned.shop.hour * rate)
        if shop.hour == planned.shop.hour:
            yield shop.hour, own
            continue
        instance = priced(planned.model, shop, planned.procedure)
        yield shop.hour, job_costs(planned.procedure, instance, ways=ways, seed=seed)
