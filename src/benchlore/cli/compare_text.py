"""Two shops' procedures for one complaint, side by side."""

from collections.abc import Sequence
from dataclasses import fields
from itertools import zip_longest

from benchlore.cli.text import columns, two_ends, wrapped
from benchlore.library import PARTS, Planned
from benchlore.procedure import RELEASE, Cost, Kind, Step
from benchlore.units import money, share

FIRST_STEPS = 5
WIDEST = 24
MOST_NAMED = 6

LEAST_MONEY = 0.005
LEAST_SHARE = 0.005
"""Share of jobs below which it is not told that a shop does something."""


def lines(first: Planned, second: Planned) -> list[str]:
    """Print what the two cost, how they begin, and the money between them."""
    both = (first, second)
    rows = [
        ("", *(_cut(planned.shop.name) for planned in both)),
        ("expected cost of a job", *(_money(planned, planned.procedure.expected) for planned in both)),
        ("no way costs less than", *(_least(planned) for planned in both)),
        ("goes back unrepaired", *(share(returned(planned)) for planned in both)),
        *_causes(both),
        ("steps in all", *(f"{len(planned.procedure.steps):,}" for planned in both)),
    ]
    label = "most likely way"
    for pair in zip_longest(*(_names(planned) for planned in both), fillvalue=""):
        rows.append((label, *pair))
        label = ""
    return [
        *two_ends(first.book.complaints[first.procedure.complaint].title, first.book.board.title),
        "",
        *columns(rows, align="<<<"),
        "",
        *wrapped(_difference(first, second)),
        *_only_done(first, second),
        *_only_done(second, first),
        *_equipment(first, second),
        *_equipment(second, first),
    ]


def _least(planned: Planned) -> str:
    return (
        f"{_money(planned, planned.procedure.bound)}{', by a sample' if planned.procedure.is_sampled else ''}"
    )


def spent(planned: Planned) -> dict[str, float]:
    """Return the expected cost of a job by cause."""
    steps = planned.procedure.steps
    return {
        field.name: sum(step.reach * float(getattr(step.cost, field.name)) for step in steps)
        for field in fields(Cost)
    }


def done(planned: Planned) -> dict[str, float]:
    """Return how often a job gets each check and fix."""
    often: dict[str, float] = {}
    for step in planned.procedure.steps:
        if step.action:
            often[step.action] = often.get(step.action, 0.0) + step.reach
    return often


def returned(planned: Planned) -> float:
    """Return the share of jobs in which the device goes back unrepaired."""
    return sum(step.reach for step in planned.procedure.steps if step.kind is Kind.RETURN)


def likely_way(steps: Sequence[Step], most: int = FIRST_STEPS) -> tuple[Step, ...]:
    """Return the first steps of the way on which each time the most probable result turns up."""
    way = [steps[0]]
    while way[-1].branches and len(way) < most:
        result = max(way[-1].branches, key=way[-1].chances.__getitem__)
        if way[-1].branches[result] == RELEASE:
            break
        way.append(steps[way[-1].branches[result]])
    return tuple(way)


def _names(planned: Planned) -> tuple[str, ...]:
    return tuple(_cut(step.action or "return unrepaired") for step in likely_way(planned.procedure.steps))


def _causes(both: tuple[Planned, Planned]) -> list[tuple[str, ...]]:
    """What the money goes on: a row for each cause that costs either of them anything."""
    first, second = (spent(planned) for planned in both)
    return [
        (f"  {text}", _money(both[0], first[name]), _money(both[1], second[name]))
        for name, text in PARTS.items()
        if max(first[name], second[name]) >= LEAST_MONEY
    ]


def _only_done(one: Planned, other: Planned) -> list[str]:
    """What one procedure does in a noticeable share of jobs and the other never does."""
    mine, theirs = done(one), done(other)
    only = [name for name in mine if name not in theirs and mine[name] >= LEAST_SHARE]
    only.sort(key=lambda name: (-mine[name], name))
    if not only:
        return []
    named = ", ".join(f"{name} ({share(mine[name])})" for name in only[:MOST_NAMED])
    more = f" and {len(only) - MOST_NAMED} more" if len(only) > MOST_NAMED else ""
    return wrapped(f"Only at {one.shop.name}, in this share of jobs: {named}{more}.", hang=2)


def _money(planned: Planned, amount: float) -> str:
    return money(amount, planned.procedure.currency)


def _cut(text: str) -> str:
    return text if len(text) <= WIDEST else f"{text[: WIDEST - 1]}…"


def _difference(first: Planned, second: Planned) -> str:
    rate = _rate(first, second)
    one, other = first.procedure, second.procedure
    if rate is None:
        return (
            f"The two count in different currencies, and neither shop file says what a {other.currency} is "
            f"worth ('exchange'): their costs are not compared."
        )
    apart = other.expected * rate - one.expected
    if abs(apart) < 0.005:
        return "A job is expected to cost the same in both."
    dearer, cheaper = (second, first) if apart > 0 else (first, second)
    return (
        f"A job is expected to cost {money(abs(apart), one.currency)} more at {dearer.shop.name} than at "
        f"{cheaper.shop.name}."
    )


def _rate(first: Planned, second: Planned) -> float | None:
    """Return the price of the second shop's currency in the first's, as either of them states it."""
    one, other = first.shop, second.shop
    if one.currency == other.currency:
        return 1.0
    if other.currency in one.exchange:
        return one.exchange[other.currency]
    return 1 / other.exchange[one.currency] if other.exchange.get(one.currency) else None


def _equipment(owner: Planned, other: Planned) -> list[str]:
    only = sorted(owner.shop.equipment - other.shop.equipment)
    return wrapped(f"Only {owner.shop.name} has: {', '.join(only)}.", hang=2) if only else []
