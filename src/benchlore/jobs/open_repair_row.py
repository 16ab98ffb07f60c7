"""One row of an open repair file: what its cells say, and which of them say nothing that can be kept."""

import csv
import re
from collections.abc import Callable, Mapping
from datetime import date
from functools import lru_cache
from typing import Final, TypeVar

from benchlore.jobs.demand import DemandRecord
from benchlore.notation import quoted

_T = TypeVar("_T")
Doubt = tuple[str, str]
"""A column and what is wrong with its cell."""

STATUSES: Final = ("Unknown", "Fixed", "Repairable", "End of life")
"""Repair statuses in the order of their codes (Open Repair Data Standard 0.3, repair_status)."""

BARRIERS: Final = (
    "Spare parts not available",
    "Spare parts too expensive",
    "No way to open product",
    "Repair information not available",
    "Lack of equipment",
    "Item too worn out",
)
"""Barriers to repair in the order of their codes, from 1 (repair_barrier_if_end_of_life)."""

_STATUS_OF: Final = {str(code): status for code, status in enumerate(STATUSES)} | {
    status.lower(): status for status in STATUSES
}
_BARRIER_OF: Final = (
    {str(code): barrier for code, barrier in enumerate(BARRIERS, start=1)}
    | {barrier.lower(): barrier for barrier in BARRIERS}
    # Spellings that published files and the publisher's own schema use.
    | {"no way to open the product": BARRIERS[2], "too worn out": BARRIERS[5]}
)

_WHOLE = re.compile(r"([0-9]{1,9})(?:\.0+)?")
_NUMBER = re.compile(r"[0-9]{1,9}(?:[.,][0-9]{1,9})?")
_DATE = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2})(?:[T ].*)?")
_OLDEST, _LATEST = 1800, 2200
_MOST_YEARS = 200


def record_of(cells: Mapping[str, str]) -> tuple[DemandRecord, list[Doubt]]:
    """Return the record that stripped ``cells`` hold by column, and the cells that could not be kept.

    A cell that cannot be read costs only its own value, never the row.
    """
    doubts: list[Doubt] = []

    def read(column: str, reader: Callable[[str], _T | None], expected: str) -> _T | None:
        text = cells.get(column, "")
        value = reader(text) if text else None
        if text and value is None:
            doubts.append((column, f"{column} {quoted(text)} is not {expected}; it was left out"))
        return value

    brand = cells.get("brand", "")
    barrier = cells.get("repair_barrier_if_end_of_life", "")
    record = DemandRecord(
        id=cells["id"],
        provider=cells["data_provider"],
        country=cells.get("country", "").upper(),
        partner_category=cells.get("partner_product_category", ""),
        category=cells.get("product_category", ""),
        category_id=read("product_category_id", _whole, "a whole number"),
        brand="" if brand.lower() == "unknown" else brand,
        year=read("year_of_manufacture", _year, f"a year between {_OLDEST} and {_LATEST}"),
        age=read("product_age", _age, f"a number of years up to {_MOST_YEARS}"),
        status=read("repair_status", _status, f"one of {', '.join(STATUSES)}") or STATUSES[0],
        barrier=_BARRIER_OF.get(barrier.lower(), barrier),
        group=cells.get("group_identifier", ""),
        event_date=read("event_date", _date, "a date such as 2025-03-31"),
        problem=cells.get("problem", ""),
    )
    return record, doubts


def swallows_rows(cell: str, separator: str, status_place: int) -> bool:
    """Say whether a later line of ``cell`` has a status where rows have theirs: a quotation never closed."""
    for line in cell.split("\n")[1:]:
        try:
            cells = next(csv.reader([line], delimiter=separator), [])
        except csv.Error:
            continue
        if len(cells) > status_place and cells[status_place].strip().lower() in _STATUS_OF:
            return True
    return False


@lru_cache(maxsize=1024)
def _whole(text: str) -> int | None:
    match = _WHOLE.fullmatch(text)
    return int(match[1]) if match else None


def _year(text: str) -> int | None:
    year = _whole(text)
    return year if year is not None and _OLDEST <= year <= _LATEST else None


@lru_cache(maxsize=1024)
def _age(text: str) -> float | None:
    age = float(text.replace(",", ".")) if _NUMBER.fullmatch(text) else None
    return age if age is not None and age <= _MOST_YEARS else None


def _status(text: str) -> str | None:
    return _STATUS_OF.get(text.lower())


@lru_cache(maxsize=8192)
def _date(text: str) -> date | None:
    match = _DATE.fullmatch(text)
    try:
        return date.fromisoformat(match[1]) if match else None
    except ValueError:
        return None
