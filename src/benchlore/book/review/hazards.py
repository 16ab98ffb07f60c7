"""Steps that can hurt someone and carry no caution for it.

The rules look for words and for equipment. They are meant to be too careful rather than too trusting, but
not to cry wolf: a battery that the text says is unplugged needs no caution for being mentioned.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from benchlore.book.review.steps import Step, retest_steps, setup_steps, steps
from benchlore.book.values import Book, Hazard
from benchlore.notation import Positions, Problem, Severity

_MAINS: Final = re.compile(
    r"\b(?:mains(?! (?:adapt[eo]r|charger))|(?:220|230|240) ?V(?! ?DC)\b|(?:100|110|115|120|127) ?V ?(?:AC|~)"
    r"|line voltage|wall (?:socket|outlet)|netzspannung|netspanning)",
    re.IGNORECASE,
)
_CELL: Final = (
    r"(?:batter(?:y|ies|ie|ij)(?! (?:icon|symbol|level|percent\w*|indicator|status|menu|app|light|led)\b)"
    r"(?![ -](?:powered|operated|driven))"
    r"|akkus?|accus?|li-?ion|lithium|li-?po\w*|18650|21700|pouch"
    r"|(?<!solar )(?<!memory )(?<!load )(?<!flash )(?<!photo )(?<!bit )cells?"
    r"(?! (?:phone|modem|tower|network)))"
)
_PACK: Final = rf"(?:{_CELL}|packs?)"
_LITHIUM: Final = re.compile(rf"\b{_CELL}\b", re.IGNORECASE)
_OTHER_CELLS: Final = re.compile(r"\b(?:ni-?mh|ni-?cd|alkaline|lead[ -]acid|zinc|AAA?\b)", re.IGNORECASE)
_IS_OUT: Final = re.compile(
    rf"\b{_PACK}(?: \w+){{0,3}} (?:unplugged|disconnected|removed|out|off)\b"
    rf"|\b(?:without|no|unplugged|disconnected|removed)(?: the| a| any)? {_PACK}\b",
    re.IGNORECASE,
)
_TAKES_OUT: Final = re.compile(
    rf"\b(?:unplug|disconnect|remove|take out|pull)(?: \w+){{0,3}} {_PACK}\b", re.IGNORECASE
)
_HOT_AIR: Final = re.compile(
    r"(?<!no )(?<!not )(?<!never )(?<!without )(?<!instead of )(?<!than )"
    r"\b(?:hot[ -]air|heat gun|heißluft\w*|hete lucht)\b"
    r"(?! (?:melts|harms|kills|damages|destroys|burns|would|is too|must not))",
    re.IGNORECASE,
)
_SOLVENT: Final = re.compile(
    r"\b(?:isopropyl|isopropanol|ethanol|acetone|alcohol|solvents?|flux remover|contact cleaner|thinner)\b"
    r"(?![ -]free)|\b(?-i:IPA)\b",
    re.IGNORECASE,
)
_LIGHT: Final = re.compile(
    r"\blaser\b(?![ -](?:etch|print|mark|engrav|cut ))|\bultraviolet\b"
    r"|\bUV[ -]?(?:lamp|light|torch|cur|glue|mask|led)",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class _Danger:
    """A hazard with the words and the equipment that give it away."""

    hazard: Hazard
    rule: str
    severity: Severity
    words: re.Pattern[str]
    equipment: frozenset[str]


_DANGERS: Final = {
    danger.hazard: danger
    for danger in (
        _Danger(
            Hazard.MAINS,
            "mains-without-caution",
            Severity.ERROR,
            _MAINS,
            frozenset({"isolating-transformer", "variable-transformer", "lamp-limiter", "mains-work"}),
        ),
        _Danger(
            Hazard.LITHIUM,
            "lithium-without-caution",
            Severity.ERROR,
            _LITHIUM,
            frozenset({"lithium-cells", "spot-welder"}),
        ),
        _Danger(
            Hazard.HOT_AIR,
            "hot-air-without-caution",
            Severity.WARNING,
            _HOT_AIR,
            frozenset({"hot-air", "bga-station"}),
        ),
        _Danger(Hazard.SOLVENT, "solvent-without-caution", Severity.WARNING, _SOLVENT, frozenset()),
        _Danger(
            Hazard.LIGHT, "light-without-caution", Severity.WARNING, _LIGHT, frozenset({"laser", "uv-lamp"})
        ),
    )
}


def missing_mains_caution(book: Book, positions: Positions) -> Iterator[Problem]:
    """Refuse steps that speak of mains, or need equipment for it, without that caution."""
    return _without(Hazard.MAINS, steps(book), positions)


def missing_lithium_caution(book: Book, positions: Positions) -> Iterator[Problem]:
    """Refuse steps that touch a lithium cell without that caution.

    Retests use the device as its owner does. A step whose text, or whose setups, have the battery out does
    not touch it; taking it out does.
    """
    retests = {step.key for step in retest_steps(book)}
    is_out = {
        str(step.key[-1])
        for step in setup_steps(book)
        if _IS_OUT.search(step.text) or _TAKES_OUT.search(step.text)
    }
    touching = (
        step
        for step in steps(book)
        if step.key not in retests
        and not _OTHER_CELLS.search(step.text)
        and not (_IS_OUT.search(step.text) and not _TAKES_OUT.search(step.text))
        and not is_out.intersection(step.work.setups)
    )
    return _without(Hazard.LITHIUM, touching, positions)


def missing_hot_air_caution(book: Book, positions: Positions) -> Iterator[Problem]:
    """Doubt steps with hot air and without that caution."""
    return _without(Hazard.HOT_AIR, steps(book), positions)


def missing_solvent_caution(book: Book, positions: Positions) -> Iterator[Problem]:
    """Doubt steps with a solvent and without that caution."""
    return _without(Hazard.SOLVENT, steps(book), positions)


def missing_light_caution(book: Book, positions: Positions) -> Iterator[Problem]:
    """Doubt steps with laser or UV light and without that caution."""
    return _without(Hazard.LIGHT, steps(book), positions)


def _without(hazard: Hazard, among: Iterable[Step], positions: Positions) -> Iterator[Problem]:
    danger = _DANGERS[hazard]
    for step in among:
        if hazard not in step.work.cautions and (sign := _sign(step, danger)):
            message = f"{step.words} {sign} and has no caution; add 'cautions: [{hazard}]'"
            yield positions.problem(step.key, danger.rule, message, danger.severity)


def _sign(step: Step, danger: _Danger) -> str:
    """Return what gives the danger away, in words; empty if nothing does."""
    if found := danger.words.search(step.text):
        return f"speaks of '{found[0]}'"
    needed = sorted(danger.equipment.intersection(step.work.equipment))
    return f"needs '{needed[0]}'" if needed else ""
