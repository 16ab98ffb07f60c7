"""Plain numbers as people write them: decimal commas, thousands separators, unicode signs."""

import re
from math import isfinite
from typing import Literal, TypeAlias

from benchlore.units.errors import UnitError

Decimal: TypeAlias = Literal["either", "comma", "point"]
"""Which decimal mark a source uses; it settles only what a text leaves open (``1,234``)."""

LONGEST = 200
"""A cell longer than this is prose, not a number."""

_NORMAL = str.maketrans(
    {
        "\u00a0": " ",
        "\u2007": " ",
        "\u2009": " ",
        "\u200a": " ",
        "\u202f": " ",
        "\u3000": " ",
        "\t": " ",
        "\u200b": None,
        "\ufeff": None,
        "−": "-",
        "‐": "-",
        "‑": "-",
        "‒": "-",
        "–": "-",
        "—": "-",
        "’": "'",
        "µ": "u",
        "μ": "u",
        "Ω": "ohm",
        "\u2126": "ohm",
        "ω": "ohm",
        "\u212a": "K",
        "º": "°",
        "˚": "°",
        "\u2103": "°C",
        "\u2109": "°F",
    }
)

NUMBER = r"[+-]? ?(?:[0-9](?:[0-9.,' ]*[0-9])?[.,]?|[.,][0-9]+)(?:[eE][+-]?[0-9]+)?"
"""A number with separators, in normalised text; :func:`to_number` decides what its marks mean."""

_EXPONENT = re.compile(r"[eE]")
_GROUPED = {mark: re.compile(rf"[1-9][0-9]{{0,2}}(?:{re.escape(mark)}[0-9]{{3}})+") for mark in ".,' "}


def normalise(text: str) -> str:
    """Return ``text`` with one kind of space, minus sign, micro, ohm and degree sign, stripped."""
    if len(text) > LONGEST:
        raise UnitError(text, f"a value has at most {LONGEST} characters")
    plain = " ".join(text.translate(_NORMAL).split())
    if not plain:
        raise UnitError(text, "write a value", "nothing")
    return plain


def to_number(number: str, text: str, decimal: Decimal = "either") -> float:
    """Return the value of ``number``, a match of :data:`NUMBER` inside ``text``."""
    mantissa, *exponent = _EXPONENT.split(number)
    sign = "-" if mantissa.startswith("-") else ""
    plain = sign + _plain(mantissa.lstrip("+- "), text, decimal)
    value = float("e".join([plain, *exponent]))
    if not isfinite(value):
        raise UnitError(text, "write a number that fits the bench", "too large a number")
    return value


def _plain(body: str, text: str, decimal: Decimal) -> str:
    """Return digits with at most one point, deciding which marks group and which one is decimal."""
    for mark in "' ":
        if mark in body:
            whole, point, rest = _split_decimal(body)
            if not _GROUPED[mark].fullmatch(whole) or mark in rest:
                raise UnitError(text, "group digits in threes, such as 1 234 567", f"a stray {mark!r}")
            return _plain(whole.replace(mark, "") + point + rest, text, "point" if point == "." else "comma")
    marks = {mark for mark in ".," if mark in body}
    if len(marks) == 2:
        return _two_marks(body, text)
    return _one_mark(body, text, decimal, marks.pop()) if marks else body


def _split_decimal(body: str) -> tuple[str, str, str]:
    """Split at the first point or comma: beside groups set off by spaces it must be the decimal one."""
    place = next((i for i, letter in enumerate(body) if letter in ".,"), len(body))
    return body[:place], body[place : place + 1], body[place + 1 :]


def _two_marks(body: str, text: str) -> str:
    """Read ``1.234,5`` or ``1,234.5``: the last mark is the decimal one."""
    point = max(".,", key=body.rfind)
    group = "," if point == "." else "."
    whole, _, fraction = body.rpartition(point)
    if point in whole or not _GROUPED[group].fullmatch(whole):
        raise UnitError(text, "write 1234.5 or 1.234,5", f"unclear marks {body!r}")
    return f"{whole.replace(group, '')}.{fraction}"


def _one_mark(body: str, text: str, decimal: Decimal, mark: str) -> str:
    """Read a number whose only mark is ``mark``: grouping, decimal, or for one comma perhaps either."""
    if _GROUPED[mark].fullmatch(body):
        names: dict[str, Decimal] = {",": "comma", ".": "point"}
        if body.count(mark) > 1 or decimal not in {"either", names[mark]}:
            return body.replace(mark, "")
        if decimal == "either" and mark == ",":
            whole = body.replace(",", "")
            advice = f"write {body.replace(',', '.')} or {whole}, or say which decimal mark is used"
            raise UnitError(text, advice, f"an unclear comma {body!r}")
    if body.count(mark) > 1:
        raise UnitError(text, "write one decimal mark, such as 3.3", f"too many marks {body!r}")
    return body.replace(",", ".")
