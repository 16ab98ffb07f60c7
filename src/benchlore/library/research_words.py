"""Whether research pays, in passages."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from benchlore.library.passages import Passage, table_of
from benchlore.library.researching import Gain, Researched
from benchlore.money import Research, Verdict
from benchlore.units import counted, money, share

ALL: Final = "all shops that would use it"


def researched_passages(researched: Researched) -> tuple[Passage, ...]:
    """Tell whether research pays: for one shop alone, and for all."""
    research, currency = researched.research, researched.currency
    passages = _passages(research, researched.verdict, currency, over_all=researched.over_all)
    if researched.gain is not None:
        passages = (*passages[:-1], _gain(researched.gain, currency), passages[-1])
    if researched.alone is None:
        return passages
    one = Passage("For one shop alone", tuple(_verdict(*researched.alone, currency, over_all=False)))
    return (one, replace(passages[0], heading=f"For {counted(round(research.shops), 'shop')}"), *passages[1:])


def _gain(gain: Gain, currency: str) -> Passage:
    with_book, without = money(gain.with_book, currency), money(gain.without, currency)
    told = (
        f"With the book a job leaves {with_book} of the repair's worth, without it {without}: declining, "
        f"or the book's own fixes without a check, whichever is more. The gain is the difference."
    )
    return Passage("What a job gains", (told,))


def _passages(research: Research, found: Verdict, currency: str, *, over_all: bool) -> tuple[Passage, ...]:
    rows = [
        (str(year.year), f"{year.jobs:,.1f}", money(year.gain, currency), money(year.balance, currency))
        for year in found.years
    ]
    head = ("year", "jobs", "gained", "balance, discounted")
    return (
        Passage("Does the research pay", tuple(_verdict(research, found, currency, over_all=over_all))),
        Passage("Year by year", (), table_of(head, rows, "<>>>")),
        Passage("What this takes for granted", (_assumed(research, currency, over_all=over_all),)),
    )


def _verdict(research: Research, found: Verdict, currency: str, *, over_all: bool) -> Iterator[str]:
    who = ALL if over_all else counted(round(research.shops), "shop")
    word = "pays" if found.pays else "does not pay"
    yield (
        f"For {who} it {word}: {money(research.cost, currency)} now, "
        f"{money(found.value + research.cost, currency)} gained over {counted(research.years, 'year')}, so "
        f"{money(found.value, currency)} in all, discounted."
    )
    if found.least_shops is not None and found.least_jobs is not None:
        shops = "" if over_all else f"{counted(found.least_shops, 'shop')} on, or from "
        yield f"It pays from {shops}{found.least_jobs:,.1f} jobs a year over all shops."
    else:
        yield "It never pays: a job gains nothing, or there are none."
    if found.most_hours is not None:
        yield f"At most {found.most_hours:,.1f} h of research would pay for {who}."
    if found.payback is not None:
        yield f"What was spent has come back by the end of year {found.payback}."
    yield (
        f"With demand as uncertain as it is, it pays with a chance of {share(found.chance)}; nine times "
        f"in ten it "
        f"comes out between {money(found.low, currency)} and {money(found.high, currency)}."
    )


def _assumed(research: Research, currency: str, *, over_all: bool) -> str:
    each = "over all shops" if over_all else "and shop"
    return (
        f"{research.hours:,.0f} h at {money(research.rate, currency)}; a job gains "
        f"{money(research.gain, currency)}; {research.demand.mean:,.2f} jobs a year {each}, "
        f"{share(research.fading)} fewer each year; money next year is worth {share(research.discount)} "
        f"less. "
        f"Gains count at the end of their year; every shop uses the book from the first day."
    )
