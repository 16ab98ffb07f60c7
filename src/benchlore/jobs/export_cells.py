"""Values as the cells of an exported CSV file, and back, exactly.

A spreadsheet takes a text that begins with ``=`` or one of a few other signs for a formula and runs it. Such
a text gets an apostrophe in front, as people at a spreadsheet write it too; a text that begins with an
apostrophe of its own gets another one, so that reading takes away exactly one. Where a text may be ``None``,
that is the empty cell, and a lone apostrophe is the empty text. Over range is ``OL``.
"""

from datetime import date
from enum import StrEnum
from math import inf, isnan
from typing import Final, TypeVar

_FORMULA: Final = ("=", "+", "-", "@", "＝", "＋", "－", "＠")
_SKIPPED: Final = ("\t", "\r", "\n")
_OVER: Final = "OL"
_UNDER: Final = "-OL"
_YES_NO: Final = {"": None, "yes": True, "no": False}

_E = TypeVar("_E", bound=StrEnum)


def text_cell(text: str) -> str:
    """Print a text."""
    # A spreadsheet may drop blanks, tabs and line ends before it looks for a formula.
    is_guarded = text.startswith(("'", *_SKIPPED)) or text.lstrip().startswith(_FORMULA)
    return f"'{text}" if is_guarded else text


def text_of(cell: str) -> str:
    """Read what ``text_cell`` printed."""
    return cell.removeprefix("'")


def optional_text_cell(text: str | None) -> str:
    """Print a text or ``None``."""
    if text is None:
        return ""
    return text_cell(text) or "'"


def optional_text_of(cell: str) -> str | None:
    """Read what ``optional_text_cell`` printed."""
    return text_of(cell) if cell else None


def number_cell(number: float | None) -> str:
    """Print a number in the fewest digits that give it back."""
    if number is None:
        return ""
    if number in (inf, -inf):
        return _OVER if number > 0 else _UNDER
    return repr(float(number))


def number_of(cell: str) -> float | None:
    """Read what ``number_cell`` printed, or a number that somebody typed.

    Raises
    ------
    ValueError
        If it is not a number.
    """
    if cell in ("", _OVER, _UNDER):
        return {"": None, _OVER: inf, _UNDER: -inf}[cell]
    try:
        number = float(cell)
    except ValueError:
        number = float("nan")
    if isnan(number):
        raise ValueError(f"{cell!r} is not a number; write 4200.0 or OL, or leave the cell empty")
    return number


def whole_of(cell: str) -> int:
    """Read a whole number.

    Raises
    ------
    ValueError
        If it is not one.
    """
    try:
        return int(cell)
    except ValueError:
        raise ValueError(f"{cell!r} is not a whole number") from None


def date_cell(day: date | None) -> str:
    """Print a date as ISO 8601 does."""
    return day.isoformat() if day else ""


def date_of(cell: str) -> date | None:
    """Read a date.

    Raises
    ------
    ValueError
        If it is not one.
    """
    try:
        return date.fromisoformat(cell) if cell else None
    except ValueError:
        raise ValueError(f"{cell!r} is not a date; write 2026-03-31") from None


def yes_no_cell(value: bool | None) -> str:
    """Print yes, no or nothing."""
    return "" if value is None else "yes" if value else "no"


def yes_no_of(cell: str) -> bool | None:
    """Read yes, no or nothing.

    Raises
    ------
    ValueError
        If it is something else.
    """
    if cell not in _YES_NO:
        raise ValueError(f"{cell!r} is neither yes nor no")
    return _YES_NO[cell]


def choice_of(kind: type[_E], cell: str) -> _E:
    """Read one of a few words.

    Raises
    ------
    ValueError
        If it is none of them.
    """
    try:
        return kind(cell)
    except ValueError:
        raise ValueError(f"{cell!r} is not one of {', '.join(kind)}") from None
