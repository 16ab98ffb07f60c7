"""Dates as benches write them. Nothing is guessed: a date that can be read in two ways is refused."""

import re
from datetime import date, timedelta
from functools import lru_cache
from typing import Final

from benchlore.jobs.intake.mapping import DateOrder
from benchlore.jobs.intake.words import fold

EARLIEST: Final = 1970
LATEST: Final = 2099

_EPOCH_1900: Final = date(1899, 12, 30)
_EPOCH_1904: Final = date(1904, 1, 1)

_TIME: Final = (
    r"(?:[T ,]+[0-9]{1,2}:[0-9]{2}(?::[0-9]{2}(?:\.[0-9]+)?)?(?: ?[AaPp]\.?[Mm]\.?)?(?:Z|[+-][0-9:]{2,6})?)?"
)
_ISO: Final = re.compile(rf"([0-9]{{4}})-([0-9]{{1,2}})-([0-9]{{1,2}}){_TIME}")
_PACKED: Final = re.compile(r"((?:19|20)[0-9]{2})([0-9]{2})([0-9]{2})")
_NUMBERS: Final = re.compile(rf"([0-9]{{1,4}}) ?([./-]) ?([0-9]{{1,2}}) ?\2 ?([0-9]{{1,4}})\.?{_TIME}")
_WORDS: Final = re.compile(rf"([^\W_]+)[., -]+(?:de )?([^\W_]+)[., -]+(?:de )?([^\W_]+){_TIME}")
_SERIAL: Final = re.compile(r"([0-9]{5})(?:[.,][0-9]+)?")
_DAY_NUMBER: Final = re.compile(r"([0-9]{1,2})(?:st|nd|rd|th)?")
_WEEKDAY: Final = re.compile(r"\A[^\W\d_]{2,10}[.,]+ +(?=[0-9])")

_MONTHS: Final = (
    "january januar janvier enero gennaio januari janeiro",
    "february februar fevrier febrero febbraio februari fevereiro",
    "march marz maerz mars marzo maart marco",
    "april avril abril aprile",
    "may mai mayo maggio mei maio",
    "june juni juin junio giugno junho",
    "july juli juillet julio luglio julho",
    "august aout agosto augustus",
    "september septembre septiembre settembre setembro",
    "october oktober octobre octubre ottobre outubro",
    "november novembre noviembre novembro",
    "december dezember decembre diciembre dicembre dezembro",
)


class DateError(ValueError):
    """A text that is no date, or one that can be read in two ways; ``hint`` says what would help."""

    def __init__(self, message: str, hint: str) -> None:
        super().__init__(message)
        self.hint = hint


def parse_date(text: str, order: DateOrder | None = None) -> date:
    """Read a date of the years 1970 to 2099; a time of day behind it is passed over.

    Without an ``order``, dates with points are day first (the custom wherever points are written), and
    others are read only where one order makes sense.

    Raises
    ------
    DateError
        If the text is no date, or one that can be read in two ways.
    """
    plain = _WEEKDAY.sub("", " ".join(text.split()), count=1) if len(text) <= 60 else ""
    if match := _ISO.fullmatch(plain) or _PACKED.fullmatch(plain):
        return _date(int(match[1]), int(match[2]), int(match[3]))
    if match := _NUMBERS.fullmatch(plain):
        return _numbers((match[1], match[3], match[4]), match[2], order)
    if match := _WORDS.fullmatch(plain):
        return _words((match[1], match[2], match[3]))
    raise DateError("is no date", "write it as 2026-02-03")


def parse_serial(text: str, *, from_1904: bool = False) -> date | None:
    """Read a spreadsheet's serial number of a day, or return ``None`` if the text is none.

    Day 1 is 1 January 1900, and a 29 February 1900 is counted though there was none; or day 0 is
    1 January 1904 (ECMA-376, part 1, 18.17.4.1, from memory).
    """
    match = _SERIAL.fullmatch(text.strip())
    if match is None:
        return None
    day = (_EPOCH_1904 if from_1904 else _EPOCH_1900) + timedelta(days=int(match[1]))
    return day if EARLIEST <= day.year <= LATEST else None


def _date(year: int, month: int, day: int) -> date:
    if not EARLIEST <= year <= LATEST:
        raise DateError(f"has the year {year}", f"a job's year lies between {EARLIEST} and {LATEST}")
    try:
        return date(year, month, day)
    except ValueError:
        raise DateError("is not in the calendar", "write it as 2026-02-03") from None


def _year(digits: str) -> int:
    """Return a year; two digits from 70 on are of the last century."""
    if len(digits) != 2:
        return int(digits)
    return int(digits) + (1900 if int(digits) >= 70 else 2000)


def _numbers(parts: tuple[str, str, str], mark: str, order: DateOrder | None) -> date:
    """Read three numbers with points, slashes or hyphens between them."""
    first, second, third = parts
    if len(first) == 4:
        return _date(int(first), int(second), int(third))
    if order is DateOrder.YEAR_FIRST and len(first) == 2 and len(third) <= 2:
        return _date(_year(first), int(second), int(third))
    if len(first) > 2 or len(third) not in {2, 4}:
        raise DateError("is no date", "write it as 2026-02-03")
    if order in {DateOrder.DAY_FIRST, DateOrder.MONTH_FIRST}:
        day, month = (first, second) if order is DateOrder.DAY_FIRST else (second, first)
        return _date(_year(third), int(month), int(day))
    if mark == ".":
        return _date(_year(third), int(second), int(first))
    return _only_order(parts)


def _only_order(parts: tuple[str, str, str]) -> date:
    """Read a date whose order nobody stated, if only one order gives a date."""
    first, second, third = parts
    orders = [(third, second, first), (third, first, second)]
    if len(third) == 2:
        orders.append((first, second, third))
    found = set()
    for year, month, day in orders:
        if 1 <= int(month) <= 12 and 1 <= int(day) <= 31:
            found.add((_year(year), int(month), int(day)))
    if len(found) > 1:
        readings = " or ".join(f"{year}-{month:02}-{day:02}" for year, month, day in sorted(found))
        raise DateError(f"may be {readings}", "say in the mapping which it is, such as 'dates: day first'")
    if not found:
        raise DateError("is not in the calendar", "write it as 2026-02-03")
    return _date(*found.pop())


def _words(parts: tuple[str, str, str]) -> date:
    """Read ``3 Feb 2026``, ``Feb 3 2026`` or ``2026 Feb 3``."""
    places = [place for place in (0, 1) if _month(parts[place])]
    if len(places) != 1:
        raise DateError("is no date", "write it as 2026-02-03")
    month = _month(parts[places[0]])
    rest = [part for place, part in enumerate(parts) if place != places[0]]
    if len(rest[0]) == 4:
        rest.reverse()
    day = _DAY_NUMBER.fullmatch(rest[0])
    if (
        month is None
        or day is None
        or not (rest[1].isascii() and rest[1].isdigit() and len(rest[1]) in {2, 4})
    ):
        raise DateError("is no date", "write it as 2026-02-03")
    return _date(_year(rest[1]), month, int(day[1]))


@lru_cache(maxsize=1_000)
def _month(word: str) -> int | None:
    """Return the month that a word of at least three letters begins, if it begins only one."""
    plain = fold(word)
    if len(plain) < 3 or not plain.isalpha():
        return None
    fitting = {
        number
        for number, names in enumerate(_MONTHS, 1)
        if any(name.startswith(plain) for name in names.split())
    }
    return fitting.pop() if len(fitting) == 1 else None
