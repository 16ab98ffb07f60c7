"""Advice as text: suspects, the best next step, why it is best, and what else could be done."""

from collections.abc import Iterable, Mapping
from typing import Any

from benchlore.book import GENERAL_CAUTION
from benchlore.cli.procedure_text import caution_lines, setup_lines, standing_lines
from benchlore.cli.text import WIDTH, columns, two_ends, wrapped
from benchlore.library import (
    Asked,
    alike_said,
    conflict_said,
    fault_titles,
    go_on_said,
    held_back_said,
    limits_said,
    option_name,
    stop_said,
    why_said,
)
from benchlore.library.sheet import hazards_of, retest_text, works_of
from benchlore.procedure import STILL_THERE, Kind, Option
from benchlore.units import share

MOST_SUSPECTS = 6
MOST_OTHERS = 4
LEAST_CHANCE = 0.005
BAR = 24
GAP = 3


def lines(asked: Asked) -> list[str]:
    """Print the whole advice."""
    text = [
        *two_ends(asked.book.complaints[asked.model.complaint].title, asked.book.board.title),
        "",
        *_readings(asked),
        *_conflict(asked),
        "Suspects",
        *_suspects(asked),
        *_set(alike_said(asked)),
        "",
        *_best(asked),
        "",
        *_others(asked),
        *(line for text in held_back_said(asked) for line in ("", *wrapped(text))),
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
    told += _set(limits_said(asked))
    return ["Read so far", *told, ""] if told else []


def _conflict(asked: Asked) -> list[str]:
    said = conflict_said(asked)
    return [*wrapped(said), ""] if said else []


def _cut(title: str, most: int) -> str:
    return title if len(title) <= most else title[: most - 1] + "…"


def _suspects(asked: Asked) -> list[str]:
    titles = fault_titles(asked)
    shown = asked.advice.suspects[:MOST_SUSPECTS]
    rows = [(share(chance), "▪" * max(1, round(BAR * chance)), titles[fault]) for fault, chance in shown]
    rest = sum(chance for _, chance in asked.advice.suspects[MOST_SUSPECTS:])
    if rest > 0:
        rows.append((share(rest), "", f"{len(asked.advice.suspects) - MOST_SUSPECTS} others together"))
    return columns(rows, align="><<", indent=2)


def _best(asked: Asked) -> list[str]:
    best = asked.advice.best
    if best.kind is Kind.RETURN:
        return [
            "Best next step: return the device unrepaired",
            *(line for text in stop_said(asked) for line in wrapped(text, indent=4)),
            "",
            "What would have to be true to go on",
            *_set(go_on_said(asked)),
        ]
    entry = asked.book.fixes[best.action] if best.kind is Kind.FIX else asked.book.checks[best.action]
    setups = [asked.book.setups[name] for name in best.setups]
    text = [
        f"Best next step: {option_name(best)}",
        *(line for setup in setups for line in setup_lines(setup)),
    ]
    text += standing_lines(asked.book, entry, best.setups)
    text += wrapped(entry.how, indent=4)
    if best.kind is Kind.FIX:
        complaint = asked.book.complaints[asked.model.complaint]
        text += wrapped(retest_text(complaint, best.soak), indent=4)
    for hazard in hazards_of(works_of(asked.book, entry, asked.model.complaint)):
        text += caution_lines(hazard)
    return [*text, "", "Why", *_set(why_said(asked)), "", *_outlooks(asked, best)]


def _set(sentences: Iterable[str]) -> list[str]:
    return [line for text in sentences for line in wrapped(text, indent=2, hang=2)]


def _outlooks(asked: Asked, option: Option) -> list[str]:
    titles, before = fault_titles(asked), dict(asked.advice.suspects)
    shown = [outlook for outlook in option.outlooks if outlook.chance >= LEAST_CHANCE]
    heads = [(_cut(outlook.result, 20), share(outlook.chance)) for outlook in shown]
    taken = sum(max((len(cell) for cell in column), default=0) for column in zip(*heads, strict=True))
    room = WIDTH - 2 - taken - 2 * GAP
    rows = [
        (*head, _leader(outlook.suspects, before, titles, room))
        for head, outlook in zip(heads, shown, strict=True)
    ]
    return ["What it would do to the suspects", *columns(rows, align="<><", indent=2, gap=GAP)]


def _leader(
    suspects: tuple[tuple[str, float], ...], before: Mapping[str, float], titles: Mapping[str, str], room: int
) -> str:
    """The first suspect after a result, with its chance now and then; its title is cut to fit the room."""
    if not suspects:
        return ""
    fault, chance = suspects[0]
    moved = f" {share(before.get(fault, 0.0))} → {share(chance)}"
    return f"{_cut(titles[fault], room - len(moved))}{moved}"


def _others(asked: Asked) -> list[str]:
    rows = [
        (f"{_signed(asked.advice.beyond(option))} {asked.shop.currency}", option_name(option))
        for option in asked.advice.options[1 : 1 + MOST_OTHERS]
    ]
    return ["Instead you could", *columns(rows, align="><", indent=2)] if rows else []


def _signed(amount: float) -> str:
    return f"{'-' if amount < 0 else '+'} {abs(amount):,.2f}"
