"""Fund plans in passages."""

from math import inf

from benchlore.library.funding import Funded
from benchlore.library.passages import Passage, table_of
from benchlore.units import counted, money, share

MOST_ON_CURVE = 12
TINY = 1e-7


def fund_passages(funded: Funded, currency: str) -> tuple[Passage, ...]:
    """Tell a fund plan, what to do first."""
    return (
        _chosen(funded, currency),
        _reasons(funded, currency),
        _next(funded, currency),
        _fees(funded, currency),
        _curve(funded, currency),
        _demand(funded),
    )


def _chosen(funded: Funded, currency: str) -> Passage:
    terms, chosen = funded.terms, funded.chosen
    rows = [
        (
            each.name,
            "yes" if place in chosen.places else "no",
            share(funded.often[place]),
            money(each.cost, currency),
            money(each.benefit, currency),
        )
        for place, each in enumerate(funded.candidates)
    ]
    told = (
        f"{counted(len(chosen.places), 'candidate')} of {len(rows)} for {money(chosen.cost, currency)} of "
        f"{money(terms.budget, currency)}: a benefit of {money(chosen.benefit, currency)} expected over "
        f"{counted(terms.years, 'year')}."
    )
    sentences = [told]
    if not chosen.places and rows:
        cheapest = min(each.cost for each in funded.candidates)
        sentences.append(f"Nothing can be had for that; the least fee is {money(cheapest, currency)}.")
    poor = [each.name for each in funded.candidates if each.benefit <= each.cost and not each.must]
    if poor:
        sentences.append(f"Brings no more than it costs, so never chosen: {'; '.join(poor)}.")
    if funded.conflicts:
        sentences.append(
            f"In {funded.conflicts} of {terms.draws} draws what must be funded did not fit the hours; "
            f"they do not "
            f"count."
        )
    sentences.append(
        f"'Drawn' is how often it is chosen when demand and hours are drawn again: "
        f"{counted(terms.draws, 'draw')}, seed {terms.seed}."
    )
    return Passage(
        "What to fund",
        tuple(sentences),
        table_of(("candidate", "fund", "drawn", "fee", "benefit"), rows, "<<>>>"),
    )


def _reasons(funded: Funded, currency: str) -> Passage:
    told = [
        f"{each.name}: {_inside(funded, place, currency) or _outside(funded, place, currency)}."
        for place, each in enumerate(funded.candidates)
    ]
    return Passage("Why", tuple(told))


def _inside(funded: Funded, place: int, currency: str) -> str:
    """Say why a candidate is in; empty where it is not."""
    each, highest = funded.candidates[place], funded.fees[place][1]
    if place not in funded.chosen.places:
        return ""
    if each.must:
        return "in, because it must be"
    much = f"{each.benefit / each.cost:,.1f} times its fee" if each.cost else "something for nothing"
    up_to = "" if highest is None else f", and would be in up to a fee of {money(highest, currency)}"
    return f"in; it brings {much}{up_to}"


def _outside(funded: Funded, place: int, currency: str) -> str:
    """Say why a candidate is out: the first thing that settles it."""
    each, highest = funded.candidates[place], funded.fees[place][1]
    taken = [funded.candidates[other] for other in funded.chosen.places]
    if each.benefit <= each.cost:
        return "out, because it brings no more than it costs"
    rival = next((other.name for other in taken if each.group and other.group == each.group), None)
    if rival is not None:
        return f"out, because {rival} of the same either-or group '{each.group}' is in"
    free = funded.terms.capacity.get(each.who, inf) - sum(o.hours for o in taken if o.who == each.who)
    if each.hours > free + TINY:
        left = f"{max(0.0, free):,.0f} h"
        return f"out; {each.who} has {left} left beside the chosen, it needs {each.hours:,.0f} h"
    if highest is None:
        return "out at any fee, because of what must be in"
    return f"out at {money(each.cost, currency)}; it would be in up to a fee of {money(highest, currency)}"


def _next(funded: Funded, currency: str) -> Passage:
    names, beyond, now = [each.name for each in funded.candidates], funded.margin, set(funded.chosen.places)
    sentences = []
    if beyond.more is not None and beyond.then is not None:
        then = set(beyond.then.places)
        sentences.append(
            f"From {money(beyond.more, currency)} on more can be had: {_listed(names, then - now)} comes in"
            + (f", {_listed(names, now - then)} goes out" if now - then else "")
            + f", for {money(beyond.then.benefit - funded.chosen.benefit, currency)} more benefit."
        )
    else:
        sentences.append("No larger budget would buy more.")
    if beyond.less is not None:
        less = set(beyond.less.places)
        back = f", {_listed(names, less - now)} comes in" if less - now else ""
        sentences.append(
            f"With less than {money(funded.chosen.cost, currency)}, {_listed(names, now - less)} falls "
            f"first{back}: "
            f"{money(funded.chosen.benefit - beyond.less.benefit, currency)} of benefit lost."
        )
    return Passage("With more or less money", tuple(sentences))


def _listed(names: list[str], places: set[int]) -> str:
    return "; ".join(names[place] for place in sorted(places)) or "nothing"


def _fees(funded: Funded, currency: str) -> Passage:
    rows = [
        (
            each.name,
            each.who or "anybody",
            f"{each.hours:,.0f} h",
            money(low, currency),
            "at no fee" if high is None else money(high, currency),
        )
        for each, (low, high) in zip(funded.candidates, funded.fees, strict=True)
    ]
    sentence = (
        "From what the hours are worth to the most at which it would still be chosen, all else as it "
        "is. Where "
        "the second is below the first, there is no fee that suits both sides."
    )
    head = ("candidate", "who", "hours", "from", "to")
    return Passage("What to offer", (sentence,), table_of(head, rows, "<<>>>"))


def _curve(funded: Funded, currency: str) -> Passage:
    step = max(1, len(funded.curve) // MOST_ON_CURVE)
    shown = [*funded.curve[::step], funded.curve[-1]]
    rows = [
        (money(each.cost, currency), money(each.benefit, currency), str(len(each.places))) for each in shown
    ]
    head = ("for", "benefit", "candidates")
    return Passage("Benefit against budget", (), table_of(head, list(dict.fromkeys(rows)), ">>>"))


def _demand(funded: Funded) -> Passage:
    rows, told = [], []
    for row, own, others in zip(funded.rows, funded.own, funded.elsewhere, strict=True):
        said = "–" if own is None else f"{own.a_year:.1f} ({own.jobs} jobs)"
        events = ", ".join(f"{each.provider} {share(each.share)}" for each in others)
        rows.append((row.name, f"{row.jobs:,.1f}", said, events or "–"))
        told.append(f"{row.name}: {row.source}.")
    sentence = (
        "Jobs a year are what the plan counts with. What the library's own jobs say, and the share of each "
        "provider's repair events that fall in the category, stand beside it and are not in the plan. "
        "Compare "
        "shares within a provider only."
    )
    head = ("candidate", "jobs a year", "own jobs a year", "repair events")
    return Passage("Where the demand comes from", (*told, sentence), table_of(head, rows, "<><<"))
