"""Advice as text: suspects, the best next step, why it is best, and what else could be done."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from benchlore.book import GENERAL_CAUTION
from benchlore.cli.procedure_text import caution_lines, setup_lines, standing_lines
from benchlore.cli.text import columns, two_ends, wrapped
from benchlore.library import UNCLEAR, Asked
from benchlore.library.sheet import hazards_of, retest_text, works_of
from benchlore.procedure import OVER_BUDGET, STILL_THERE, Cost, Kind, Option
from benchlore.units import money, share

MOST_SUSPECTS = 6
MOST_OTHERS = 4
MOST_ALIKE = 4
LEAST_CHANCE = 0.005
BAR = 24

METHODS = {
    "exact": "exactly",
    "look-ahead": "looking one step ahead, then estimated",
    "plan": "quoted from the plan, on which the job stands",
}

PARTS = {
    "hands_on": "hands-on",
    "waiting": "waiting",
    "setups": "setups",
    "parts": "parts",
    "retest": "retest",
    "risk": "risk of ruin",
    "comeback": "risk of a comeback",
    "lost_worth": "the repair that is not sold",
}


def lines(asked: Asked) -> list[str]:
    """Print the whole advice."""
    text = [
        *two_ends(asked.book.complaints[asked.model.complaint].title, asked.book.board.title),
        "",
        *_readings(asked),
        *_conflict(asked),
        "Suspects",
        *_suspects(asked),
        *_alike(asked),
        "",
        *_best(asked),
        "",
        *_others(asked),
        *_held_back(asked),
    ]
    return [*text, "", *wrapped(GENERAL_CAUTION)]


def document(asked: Asked) -> dict[str, Any]:
    """The answer as plain data: what was said of the job, and the advice."""
    model, situation = asked.model, asked.situation
    return {
        "readings": asked.readings,
        "tried": [model.fixes[fix].name for fix in situation.evidence.failed],
        "setups": [model.setups[setup].name for setup in situation.setups],
        "skipped": situation.skipped,
        "without": situation.without,
        "budget": situation.budget,
        "advice": asked.advice,
    }


def _readings(asked: Asked) -> list[str]:
    rows = [(read.title, read.text) for read in asked.readings]
    fixes = [asked.model.fixes[fix] for fix in asked.situation.evidence.failed]
    rows += [(f"fix: {fix.title}", STILL_THERE) for fix in fixes]
    told = columns([(_cut(title, 48), text) for title, text in rows], align="<<", indent=2, gap=3)
    for line in _said(asked):
        told += wrapped(line, indent=2, hang=2)
    return ["Read so far", *told, ""] if told else []


def _said(asked: Asked) -> Iterator[str]:
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


def _conflict(asked: Asked) -> list[str]:
    if not asked.advice.conflict:
        return []
    aside = asked.advice.set_aside
    return [
        *wrapped(
            f"These do not go together, whatever the fault: {', '.join(asked.advice.conflict)}. "
            f"Read them again. Until then {', '.join(aside)} {'is' if len(aside) == 1 else 'are'} set aside: "
            "the suspects are those that explain the rest best."
        ),
        "",
    ]


def _alike(asked: Asked) -> list[str]:
    """Say which suspects need not or cannot be told apart."""
    titles = _fault_titles(asked)
    text: list[str] = []
    for group in asked.advice.alike:
        names = _and([titles[fault] for fault in group.faults])
        if group.reason == "same fix":
            said = f"{names} have the same fix ({group.fix}); nothing is spent to tell them apart."
        elif group.reason == "no fix":
            said = f"For {names} no fix here pays; nothing is spent to tell them apart."
        else:
            said = f"No check that can still be made here separates {names}."
            would = "; ".join(f"{check} ({why})" for check, why in group.checks)
            said += f" These would: {would}." if would else ""
        text += wrapped(said, indent=2, hang=2)
    return text


def _and(names: Sequence[str]) -> str:
    if len(names) > MOST_ALIKE:
        names = [*names[: MOST_ALIKE - 1], f"{len(names) - MOST_ALIKE + 1} others"]
    return f"{', '.join(names[:-1])} and {names[-1]}"


def _fault_titles(asked: Asked) -> dict[str, str]:
    return dict(zip(asked.model.faults, asked.model.fault_titles, strict=True))


def _cut(title: str, most: int) -> str:
    return title if len(title) <= most else title[: most - 1] + "…"


def _suspects(asked: Asked) -> list[str]:
    titles = _fault_titles(asked)
    shown = asked.advice.suspects[:MOST_SUSPECTS]
    rows = [(share(chance), "▪" * max(1, round(BAR * chance)), titles[fault]) for fault, chance in shown]
    rest = sum(chance for _, chance in asked.advice.suspects[MOST_SUSPECTS:])
    if rest > 0:
        rows.append((share(rest), "", f"{len(asked.advice.suspects) - MOST_SUSPECTS} others together"))
    return columns(rows, align="><<", indent=2)


def _best(asked: Asked) -> list[str]:
    best = asked.advice.best
    if best.kind is Kind.RETURN:
        return ["Best next step: return the device unrepaired", *_why_stop(asked)]
    entry = asked.book.fixes[best.action] if best.kind is Kind.FIX else asked.book.checks[best.action]
    setups = [asked.book.setups[name] for name in best.setups]
    text = [f"Best next step: {_name(best)}", *(line for setup in setups for line in setup_lines(setup))]
    text += standing_lines(asked.book, entry, best.setups)
    text += wrapped(entry.how, indent=4)
    if best.kind is Kind.FIX:
        complaint = asked.book.complaints[asked.model.complaint]
        text += wrapped(retest_text(complaint, best.soak), indent=4)
    for hazard in hazards_of(works_of(asked.book, entry, asked.model.complaint)):
        text += caution_lines(hazard)
    return [*text, "", "Why", *_why(asked, best), "", *_outlooks(asked, best)]


def _why(asked: Asked, best: Option) -> list[str]:
    currency = asked.shop.currency
    text = wrapped(f"It costs {_split(best.cost, currency)}.", indent=2, hang=2)
    if best.kind is Kind.CHECK:
        text += wrapped(
            f"Its result tells {best.information:.2f} bit about the fault (1 bit halves the suspects).",
            indent=2,
            hang=2,
        )
    if asked.advice.knowing is not None:
        text += wrapped(
            f"Knowing it is worth {money(asked.advice.knowing, currency)} to this job, against its cost of "
            f"{money(best.cost.total, currency)}.",
            indent=2,
            hang=2,
        )
    how = METHODS[best.method]
    text += wrapped(
        f"If it comes first, the job is expected to cost {money(best.expected, currency)} from here ({how}).",
        indent=2,
        hang=2,
    )
    if (other := asked.advice.runner_up) is not None:
        text += wrapped(_second(asked, other), indent=2, hang=2)
    return text


def _second(asked: Asked, other: Option) -> str:
    more = money(asked.advice.saving, asked.shop.currency)
    if asked.advice.best.method != "plan":
        return f"Second best: {_name(other)}; it would cost {more} more."
    if asked.advice.saving > 0:
        return f"Second best: {_name(other)}; seen from here it would cost {more} more."
    return f"Second best: {_name(other)}; from here that looks no dearer, but the plan looked deeper."


def _why_stop(asked: Asked) -> list[str]:
    currency = asked.shop.currency
    best, other = asked.advice.best, asked.advice.runner_up
    text = wrapped(f"It costs {_split(best.cost, currency)}.", indent=4)
    if other is None:
        text += wrapped("Nothing else can be done here with this equipment.", indent=4)
    elif asked.advice.saving >= 0:
        text += wrapped(
            f"Going on is expected to cost {money(asked.advice.saving, currency)} more; the best way "
            f"would be {_name(other)}.",
            indent=4,
        )
    return [*text, "", "What would have to be true to go on", *_go_on(asked)]


def _go_on(asked: Asked) -> list[str]:
    said, currency, titles = asked.advice.go_on, asked.shop.currency, _fault_titles(asked)
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
    if not ways:
        ways = ["Nothing here: no worth, no surer suspect and no equipment of the book makes going on pay."]
    return [line for way in ways for line in wrapped(way, indent=2, hang=2)]


def _split(cost: Cost, currency: str) -> str:
    parts = [
        f"{money(amount, currency)} {word}"
        for name, word in PARTS.items()
        if (amount := getattr(cost, name)) > 0
    ]
    if not parts:
        return "nothing"
    return parts[0] if len(parts) == 1 else f"{money(cost.total, currency)}: {', '.join(parts)}"


def _outlooks(asked: Asked, option: Option) -> list[str]:
    titles, before = _fault_titles(asked), dict(asked.advice.suspects)
    rows = [
        (_cut(outlook.result, 20), share(outlook.chance), _leader(outlook.suspects, before, titles))
        for outlook in option.outlooks
        if outlook.chance >= LEAST_CHANCE
    ]
    return ["What it would do to the suspects", *columns(rows, align="<><", indent=2, gap=3)]


def _leader(
    suspects: tuple[tuple[str, float], ...], before: Mapping[str, float], titles: Mapping[str, str]
) -> str:
    """The first suspect after a result, with its chance now and then."""
    if not suspects:
        return ""
    fault, chance = suspects[0]
    return f"{_cut(titles[fault], 30)} {share(before.get(fault, 0.0))} → {share(chance)}"


def _others(asked: Asked) -> list[str]:
    rows = [
        (f"{_signed(asked.advice.beyond(option))} {asked.shop.currency}", _name(option))
        for option in asked.advice.options[1 : 1 + MOST_OTHERS]
    ]
    return ["Instead you could", *columns(rows, align="><", indent=2)] if rows else []


def _signed(amount: float) -> str:
    return f"{'-' if amount < 0 else '+'} {abs(amount):,.2f}"


def _held_back(asked: Asked) -> list[str]:
    held = asked.advice.held_back
    lacking = [f"{name} ({why})" for name, why in held if "needs " in why]
    costly = [f"{name} ({why.split(',')[0]})" for name, why in held if why.startswith(OVER_BUDGET)]
    text = []
    if lacking:
        text += ["", *wrapped(f"Not proposed, for want of equipment or skill: {'; '.join(lacking)}.")]
    if costly:
        text += ["", *wrapped(f"Not proposed, for want of money: {'; '.join(costly)}.")]
    return text


def _name(option: Option) -> str:
    if option.kind is Kind.RETURN:
        return "return the device unrepaired"
    verb = "try the fix " if option.kind is Kind.FIX else ""
    named = option.title if option.title == option.action else f"{option.title} ({option.action})"
    return f"{verb}{named}"
