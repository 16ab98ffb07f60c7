"""Advice in sentences that every surface prints alike: why a step is best, what else could be done."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from benchlore.library.asking import Asked
from benchlore.library.bench import UNCLEAR
from benchlore.procedure import OVER_BUDGET, Cost, Kind, Option
from benchlore.units import money, share

MOST_ALIKE: Final = 4

METHODS: Final = {
    "exact": "exactly",
    "look-ahead": "looking one step ahead, then estimated",
    "plan": "quoted from the plan, on which the job stands",
}

PARTS: Final = {
    "hands_on": "hands-on",
    "waiting": "waiting",
    "setups": "setups",
    "parts": "parts",
    "retest": "retest",
    "risk": "risk of ruin",
    "comeback": "risk of a comeback",
    "lost_worth": "the repair that is not sold",
}


def fault_titles(asked: Asked) -> Mapping[str, str]:
    """The title of every fault."""
    return dict(zip(asked.model.faults, asked.model.fault_titles, strict=True))


def option_name(option: Option) -> str:
    """Name what an option does."""
    if option.kind is Kind.RETURN:
        return "return the device unrepaired"
    verb = "try the fix " if option.kind is Kind.FIX else ""
    named = option.title if option.title == option.action else f"{option.title} ({option.action})"
    return f"{verb}{named}"


def cost_text(cost: Cost, currency: str) -> str:
    """Print a cost with the parts that it is made of."""
    parts = [
        f"{money(amount, currency)} {word}"
        for name, word in PARTS.items()
        if (amount := getattr(cost, name)) > 0
    ]
    if not parts:
        return "nothing"
    return parts[0] if len(parts) == 1 else f"{money(cost.total, currency)}: {', '.join(parts)}"


def limits_said(asked: Asked) -> Iterator[str]:
    """Say back what limits the job."""
    situation, model = asked.situation, asked.model
    if situation.setups:
        yield f"Standing: {', '.join(model.setups[setup].title for setup in situation.setups)}."
    if any(read.text == UNCLEAR for read in asked.readings):
        yield "What was read unclear tells nothing, and is not proposed again."
    if situation.skipped:
        yield f"Not to be done here: {', '.join(situation.skipped)}."
    if situation.without:
        yield f"Missing today: {', '.join(situation.without)}."
    if situation.budget is not None:
        yield f"May still be spent: {money(situation.budget, asked.shop.currency)}."


def conflict_said(asked: Asked) -> str:
    """Say which readings and fixes do not go together, and what is made of them; nothing where they do."""
    if not asked.advice.conflict:
        return ""
    aside = asked.advice.set_aside
    return (
        f"These do not go together, whatever the fault: {', '.join(asked.advice.conflict)}. "
        f"Read them again. Until then {', '.join(aside)} {'is' if len(aside) == 1 else 'are'} set aside: "
        "the suspects are those that explain the rest best."
    )


def alike_said(asked: Asked) -> Iterator[str]:
    """Say which suspects need not or cannot be told apart."""
    titles = fault_titles(asked)
    for group in asked.advice.alike:
        names = _and([titles[fault] for fault in group.faults])
        if group.reason == "same fix":
            yield f"{names} have the same fix ({group.fix}); nothing is spent to tell them apart."
        elif group.reason == "no fix":
            yield f"For {names} no fix here pays; nothing is spent to tell them apart."
        else:
            would = "; ".join(f"{check} ({why})" for check, why in group.checks)
            yield f"No check that can still be made here separates {names}." + (
                f" These would: {would}." if would else ""
            )


def _and(names: Sequence[str]) -> str:
    if len(names) > MOST_ALIKE:
        names = [*names[: MOST_ALIKE - 1], f"{len(names) - MOST_ALIKE + 1} others"]
    return f"{', '.join(names[:-1])} and {names[-1]}"


def why_said(asked: Asked) -> Iterator[str]:
    """Say why the best step, a check or a fix, is best."""
    best, currency = asked.advice.best, asked.shop.currency
    yield f"It costs {cost_text(best.cost, currency)}."
    if best.kind is Kind.CHECK:
        yield f"Its result tells {best.information:.2f} bit about the fault (1 bit halves the suspects)."
    if asked.advice.knowing is not None:
        yield (
            f"Knowing it is worth {money(asked.advice.knowing, currency)} to this job, against its cost of "
            f"{money(best.cost.total, currency)}."
        )
    yield (
        f"If it comes first, the job is expected to cost {money(best.expected, currency)} from here "
        f"({METHODS[best.method]})."
    )
    if (other := asked.advice.runner_up) is not None:
        yield _second(asked, other)


def _second(asked: Asked, other: Option) -> str:
    more = money(asked.advice.saving, asked.shop.currency)
    if asked.advice.best.method != "plan":
        return f"Second best: {option_name(other)}; it would cost {more} more."
    if asked.advice.saving > 0:
        return f"Second best: {option_name(other)}; seen from here it would cost {more} more."
    return f"Second best: {option_name(other)}; from here that looks no dearer, but the plan looked deeper."


def stop_said(asked: Asked) -> Iterator[str]:
    """Say why the return is best."""
    currency = asked.shop.currency
    best, other = asked.advice.best, asked.advice.runner_up
    yield f"It costs {cost_text(best.cost, currency)}."
    if other is None:
        yield "Nothing else can be done here with this equipment."
    elif asked.advice.saving >= 0:
        yield (
            f"Going on is expected to cost {money(asked.advice.saving, currency)} more; the best way "
            f"would be {option_name(other)}."
        )


def go_on_said(asked: Asked) -> list[str]:
    """Say what would have to be true to go on, where the return is best; any one of it is enough."""
    said, currency, titles = asked.advice.go_on, asked.shop.currency, fault_titles(asked)
    if said is None:
        return []
    ways = []
    if said.worth is not None:
        ways.append(
            f"A finished repair is worth at least {money(said.worth, currency)} "
            f"(now {money(said.worth_now, currency)})."
        )
    if (surer := said.surer) is not None:
        ways.append(
            f"{titles[surer.fault]} is at least {share(surer.needed)} probable (now {share(surer.chance)}): "
            f"then its fix {surer.fix} pays."
        )
    ways += [
        f"There is {' and '.join(tool.equipment)}: then {tool.action} comes first, and the job is expected "
        f"to cost {money(tool.expected, currency)}."
        for tool in said.equipment
    ]
    return ways or [
        "Nothing here: no worth, no surer suspect and no equipment of the book makes going on pay."
    ]


def held_back_said(asked: Asked) -> Iterator[str]:
    """Say what is not proposed, for want of equipment, skill or money."""
    held = asked.advice.held_back
    lacking = [f"{name} ({why})" for name, why in held if "needs " in why]
    costly = [f"{name} ({why.split(',')[0]})" for name, why in held if why.startswith(OVER_BUDGET)]
    if lacking:
        yield f"Not proposed, for want of equipment or skill: {'; '.join(lacking)}."
    if costly:
        yield f"Not proposed, for want of money: {'; '.join(costly)}."
