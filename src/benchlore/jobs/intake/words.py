"""Words that tables use everywhere: for nothing, for yes and no, for times, for failed formulas."""

import re
import unicodedata
from functools import lru_cache
from typing import Final

from benchlore.units import parse_duration

_SIGNS: Final = frozenset("+<>%")


@lru_cache(maxsize=65_536)
def fold(text: str) -> str:
    """Return what is left of ``text`` without case, accents, spaces, hyphens and other marks.

    ``+``, ``<``, ``>`` and ``%`` stay: a rail's ``+`` is not its ``-``.
    """
    plain = unicodedata.normalize("NFKD", unicodedata.normalize("NFKD", text).casefold())
    return "".join(letter for letter in plain if letter.isalnum() or letter in _SIGNS)


def squeezed(text: str) -> str:
    """Return ``text`` with single spaces, and none around it."""
    return " ".join(text.split())


_UNSTORABLE: Final = re.compile("[\0\ud800-\udfff]")


def clean(text: str) -> str:
    """Return ``text`` without what no database takes: NUL and halves of characters."""
    return _UNSTORABLE.sub(" ", text).strip()


NOTHING: Final = frozenset(
    squeezed(word).casefold()
    for word in ("", "-", "–", "—", "/", "./.", "?", "n/a", "n.a.", "#N/A", "k.A.", "k. A.", "null")
)
"""Cells that say nothing, in lower case."""

FAILED: Final = frozenset({"#DIV/0!", "#NAME?", "#NULL!", "#NUM!", "#REF!", "#VALUE!"})
"""What a spreadsheet shows for a formula that failed."""

_YES: Final = (
    "yes",
    "y",
    "ja",
    "j",
    "oui",
    "o",
    "si",
    "s",
    "sim",
    "tak",
    "da",
    "true",
    "wahr",
    "vrai",
    "1",
    "x",
)
_NO: Final = ("no", "n", "nein", "non", "nee", "nao", "nie", "ne", "false", "falsch", "faux", "0")
_TOTALS_EN: Final = ("sum", "sums", "total", "totals", "average", "mean")
_TOTALS_DE: Final = ("summe", "gesamt", "gesamtsumme", "insgesamt", "durchschnitt", "mittelwert")
_TOTALS_MORE: Final = (
    "somme",
    "moyenne",
    "totale",
    "media",
    "suma",
    "promedio",
    "totaal",
    "gemiddelde",
    "razem",
)
TOTALS: Final = frozenset((*_TOTALS_EN, *_TOTALS_DE, *_TOTALS_MORE))
"""Words that begin a row of totals, folded."""

YES_NO: Final = dict.fromkeys((*_YES, *"✓✔☑"), True) | dict.fromkeys((*_NO, *"✗✘☐"), False)
"""What ticks and the usual words mean; ``sí`` and ``não`` are found by :func:`fold`."""

_TIMES: Final = {
    "std": "h",
    "stunde": "h",
    "stunden": "h",
    "heure": "h",
    "heures": "h",
    "hora": "h",
    "horas": "h",
    "uur": "h",
    "minute": "min",
    "minuten": "min",
    "minutos": "min",
    "minuti": "min",
    "sek": "s",
    "sekunde": "s",
    "sekunden": "s",
    "tag": "d",
    "tage": "d",
    "jour": "d",
    "jours": "d",
    "dag": "d",
    "dagen": "d",
}
_TIME_WORD: Final = re.compile(r"[^\W\d_]{3,}\.?")
_BARE: Final = re.compile(r"[+-]?[0-9][0-9.,' ]*")


def minutes(text: str, unit: str | None = None) -> float:
    """Read a time in minutes; ``unit`` is that of a bare number (minutes, if none is given).

    Raises
    ------
    UnitError
        If the text is no time.
    """
    plain = squeezed(text)
    if unit and _BARE.fullmatch(plain):
        plain = f"{plain} {unit}"
    return parse_duration(_TIME_WORD.sub(_time_word, plain))


def _time_word(match: re.Match[str]) -> str:
    return _TIMES.get(match[0].casefold().rstrip("."), match[0])
