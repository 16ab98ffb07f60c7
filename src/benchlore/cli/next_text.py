"""Advice as text: suspects, the best next step, why it is best, and what else could be done."""

from benchlore.book import GENERAL_CAUTION
from benchlore.cli.procedure_text import (
    caution_lines,
    hazards_of,
    retest_text,
    setup_lines,
    standing_lines,
    works_of,
)
from benchlore.cli.text import columns, money, share, two_ends, wrapped
from benchlore.library import Asked
from benchlore.procedure import Cost, Kind, Option

MOST_SUSPECTS = 6
MOST_OTHERS = 4
LEAST_CHANCE = 0.005
BAR = 24

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
        "",
        *_best(asked),
        "",
        *_others(asked),
        *_held_back(asked),
    ]
    return [*text, "", *wrapped(GENERAL_CAUTION)]


def _readings(asked: Asked) -> list[str]:
    if not asked.readings:
        return []
    rows = [(read.title, read.text) for read in asked.readings]
    return ["Read so far", *columns(rows, align="<<", indent=2, gap=3), ""]


def _conflict(asked: Asked) -> list[str]:
    if not asked.advice.conflict:
        return []
    return [
        *wrapped(
            f"These do not go together, whatever the fault: {', '.join(asked.advice.conflict)}. "
            "Read them again. Until then the suspects are those from before any reading."
        ),
        "",
    ]


def _suspects(asked: Asked) -> list[str]:
    titles = dict(zip(asked.model.faults, asked.model.fault_titles, strict=True))
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
    how = "exactly" if asked.advice.method == "exact" else "looking one step ahead, then estimated"
    text += wrapped(
        f"If it comes first, the job is expected to cost {money(best.expected, currency)} from here ({how}).",
        indent=2,
        hang=2,
    )
    if (other := asked.advice.runner_up) is not None:
        text += wrapped(
            f"Second best: {_name(other)}; it would cost {money(asked.advice.saving, currency)} more.",
            indent=2,
            hang=2,
        )
    return text


def _why_stop(asked: Asked) -> list[str]:
    currency = asked.shop.currency
    best, other = asked.advice.best, asked.advice.runner_up
    text = wrapped(f"It costs {_split(best.cost, currency)}.", indent=4)
    if other is None:
        return [*text, *wrapped("Nothing else can be done here with this equipment.", indent=4)]
    return [
        *text,
        *wrapped(
            f"Going on is expected to cost {money(asked.advice.saving, currency)} more; the best way "
            f"would be {_name(other)}.",
            indent=4,
        ),
    ]


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
    titles = dict(zip(asked.model.faults, asked.model.fault_titles, strict=True))
    rows = [
        (outlook.result, share(outlook.chance), _leader(outlook.suspects, titles))
        for outlook in option.outlooks
        if outlook.chance >= LEAST_CHANCE
    ]
    return ["What it would do to the suspects", *columns(rows, align="<><", indent=2, gap=3)]


def _leader(suspects: tuple[tuple[str, float], ...], titles: dict[str, str]) -> str:
    if not suspects:
        return ""
    fault, chance = suspects[0]
    title = titles[fault]
    return f"{title if len(title) < 40 else title[:38] + '…'} {share(chance)}"


def _others(asked: Asked) -> list[str]:
    best = asked.advice.best
    rows = [
        (f"+ {money(option.expected - best.expected, asked.shop.currency)}", _name(option))
        for option in asked.advice.options[1 : 1 + MOST_OTHERS]
    ]
    return ["Instead you could", *columns(rows, align="><", indent=2)] if rows else []


def _held_back(asked: Asked) -> list[str]:
    lacking = [(name, why) for name, why in asked.advice.held_back if why.startswith("needs")]
    if not lacking:
        return []
    names = "; ".join(f"{name} ({why})" for name, why in lacking)
    return ["", *wrapped(f"Not proposed, for want of equipment or skill: {names}.")]


def _name(option: Option) -> str:
    if option.kind is Kind.RETURN:
        return "return the device unrepaired"
    verb = "try the fix " if option.kind is Kind.FIX else ""
    named = option.title if option.title == option.action else f"{option.title} ({option.action})"
    return f"{verb}{named}"
