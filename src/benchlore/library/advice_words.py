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


SAID: Final = {
    "costs": "It costs {cost}.",
    "nothing": "nothing",
    "parts": "{total}: {parts}",
    "return": "return the device unrepaired",
    "fix": "try the fix {named}",
    "named": "{title} ({name})",
    "tells": "Its result tells {bits} bit about the fault (1 bit halves the suspects).",
    "knowing": "Knowing it is worth {worth} to this job, against its cost of {cost}.",
    "expected": "If it comes first, the job is expected to cost {expected} from here ({method}).",
    "second": "Second best: {other}; it would cost {more} more.",
    "second seen from here": "Second best: {other}; seen from here it would cost {more} more.",
    "second by the plan": (
        "Second best: {other}; from here that looks no dearer, but the plan looked deeper."
    ),
    "looks cheaper": "A minus: seen from here it looks cheaper, but the plan looked deeper.",
    "nothing else": "Nothing else can be done here with this equipment.",
    "going on": "Going on is expected to cost {more} more; the best way would be {other}.",
    "worth": "A finished repair is worth at least {worth} (now {now}).",
    "surer": "{fault} is at least {needed} probable (now {chance}): then its fix {fix} pays.",
    "equipped": (
        "There is {equipment}: then {action} comes first, and the job is expected to cost {expected}."
    ),
    "no way": "Nothing here: no worth, no surer suspect and no equipment of the book makes going on pay.",
    "conflict": (
        "These do not go together, whatever the fault: {clash}. Read them again. Until then {aside} {are} "
        "set aside: the suspects are those that explain the rest best."
    ),
    "same fix": "{names} have the same fix ({fix}); nothing is spent to tell them apart.",
    "no fix": "No fix here pays for these, and nothing is spent to tell them apart: {names}.",
    "no check": "No check that can still be made here separates {names}.",
    "would": " These would: {checks}.",
    "lacking": "Not proposed, for want of equipment or skill: {held}.",
    "costly": "Not proposed, for want of money: {held}.",
    "not weighed": "The best step is another one; this one was not weighed.",
    "more": "Done first, the job is expected to cost {more} more than with the best step.",
}
"""The sentences of advice, with the places of what differs in braces: a page's script says them too."""


def fault_titles(asked: Asked) -> Mapping[str, str]:
    """The title of every fault."""
    return dict(zip(asked.model.faults, asked.model.fault_titles, strict=True))


def option_name(option: Option) -> str:
    """Name what an option does."""
    if option.kind is Kind.RETURN:
        return SAID["return"]
    named = option.title
    if named != option.action:
        named = SAID["named"].format(title=option.title, name=option.action)
    return SAID["fix"].format(named=named) if option.kind is Kind.FIX else named


def cost_text(cost: Cost, currency: str) -> str:
    """Print a cost with the parts that it is made of."""
    parts = [
        f"{money(amount, currency)} {word}"
        for name, word in PARTS.items()
        if (amount := getattr(cost, name)) > 0
    ]
    if not parts:
        return SAID["nothing"]
    if len(parts) == 1:
        return parts[0]
    return SAID["parts"].format(total=money(cost.total, currency), parts=", ".join(parts))


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
    return SAID["conflict"].format(
        clash=", ".join(asked.advice.conflict),
        aside=", ".join(aside),
        are="is" if len(aside) == 1 else "are",
    )


def alike_said(asked: Asked) -> Iterator[str]:
    """Say which suspects need not or cannot be told apart."""
    titles = fault_titles(asked)
    for group in asked.advice.alike:
        names = _and([titles[fault] for fault in group.faults])
        if group.reason == "same fix":
            yield SAID["same fix"].format(names=names, fix=group.fix)
        elif group.reason == "no fix":
            yield SAID["no fix"].format(names=names)
        else:
            would = "; ".join(f"{check} ({why})" for check, why in group.checks)
            yield SAID["no check"].format(names=names) + (SAID["would"].format(checks=would) if would else "")


def _and(names: Sequence[str]) -> str:
    if len(names) > MOST_ALIKE:
        names = [*names[: MOST_ALIKE - 1], f"{len(names) - MOST_ALIKE + 1} others"]
    return f"{', '.join(names[:-1])} and {names[-1]}"


def why_said(asked: Asked) -> Iterator[str]:
    """Say why the best step, a check or a fix, is best."""
    best, currency = asked.advice.best, asked.shop.currency
    yield SAID["costs"].format(cost=cost_text(best.cost, currency))
    if best.kind is Kind.CHECK:
        yield SAID["tells"].format(bits=f"{best.information:.2f}")
    if asked.advice.knowing is not None:
        worth = money(asked.advice.knowing, currency)
        yield SAID["knowing"].format(worth=worth, cost=money(best.cost.total, currency))
    yield SAID["expected"].format(expected=money(best.expected, currency), method=METHODS[best.method])
    if (other := asked.advice.runner_up) is not None:
        yield _second(asked, other)


def _second(asked: Asked, other: Option) -> str:
    more = money(asked.advice.saving, asked.shop.currency)
    if asked.advice.best.method != "plan":
        said = "second"
    else:
        said = "second seen from here" if asked.advice.saving > 0 else "second by the plan"
    return SAID[said].format(other=option_name(other), more=more)


def stop_said(asked: Asked) -> Iterator[str]:
    """Say why the return is best."""
    currency = asked.shop.currency
    best, other = asked.advice.best, asked.advice.runner_up
    yield SAID["costs"].format(cost=cost_text(best.cost, currency))
    if other is None:
        yield SAID["nothing else"]
    elif asked.advice.saving >= 0:
        yield SAID["going on"].format(more=money(asked.advice.saving, currency), other=option_name(other))


def go_on_said(asked: Asked) -> list[str]:
    """Say what would have to be true to go on, where the return is best; any one of it is enough."""
    said, currency, titles = asked.advice.go_on, asked.shop.currency, fault_titles(asked)
    if said is None:
        return []
    ways = []
    if said.worth is not None:
        now = money(said.worth_now, currency)
        ways.append(SAID["worth"].format(worth=money(said.worth, currency), now=now))
    if (surer := said.surer) is not None:
        needed, chance = share(surer.needed), share(surer.chance)
        fault = titles[surer.fault]
        ways.append(SAID["surer"].format(fault=fault, needed=needed, chance=chance, fix=surer.fix))
    ways += [
        SAID["equipped"].format(
            equipment=" and ".join(tool.equipment),
            action=tool.action,
            expected=money(tool.expected, currency),
        )
        for tool in said.equipment
    ]
    return ways or [SAID["no way"]]


def held_back_said(asked: Asked) -> Iterator[str]:
    """Say what is not proposed, for want of equipment, skill or money."""
    held = asked.advice.held_back
    lacking = [f"{name} ({why})" for name, why in held if "needs " in why]
    costly = [f"{name} ({why.split(',')[0]})" for name, why in held if why.startswith(OVER_BUDGET)]
    if lacking:
        yield SAID["lacking"].format(held="; ".join(lacking))
    if costly:
        yield SAID["costly"].format(held="; ".join(costly))
