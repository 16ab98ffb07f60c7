"""A shop's table of what equipment would cost."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from benchlore.jobs.intake import read_table
from benchlore.library.cells import CellReader, cells_of
from benchlore.library.errors import PricesRefusedError
from benchlore.notation import Position, Problem, did_you_mean

COLUMNS: Final = ("equipment", "price", "years")


@dataclass(frozen=True, slots=True)
class Price:
    """What equipment costs in the shop's currency, and how many years it lasts (``None``: not said)."""

    amount: float
    years: int | None = None


def read_prices(path: Path, known: Mapping[str, str]) -> Mapping[str, Price]:
    """Read a CSV or XLSX table of prices; ``known`` is all equipment that the library has a word for.

    Raises
    ------
    PricesRefusedError
        If the table has mistakes; every one is named with its line.
    """
    table = read_table(path)
    problems: list[Problem] = []
    found: dict[str, Price] = {}
    for column in ("equipment", "price"):
        if table.place(column) is None:
            message = f"no column '{column}'; the columns are {', '.join(COLUMNS)}"
            problems.append(Problem(str(path), Position(1, 1), "no-column", message))
    for line, cells in cells_of(table, COLUMNS) if not problems else ():
        reader = CellReader(str(path), line, cells)
        name, price = reader.text("equipment"), _price(reader)
        if name and name not in known:
            reader.wrong("unknown-name", f"no equipment '{name}'{did_you_mean(name, tuple(known))}")
        if name in found:
            reader.wrong("twice", f"'{name}' has a price already; keep one line")
        problems += reader.problems
        found[name] = price
    if problems:
        raise PricesRefusedError(tuple(problems))
    return found


def _price(reader: CellReader) -> Price:
    amount, years = reader.number("price"), reader.number("years", most=100)
    if amount is None:
        reader.wrong("empty", "'price' is empty; write what it costs, or leave the line out")
    if years is not None and (years < 1 or years != int(years)):
        reader.wrong("number", f"'years': {years:g} makes no sense; write whole years from 1 on")
    return Price(amount or 0.0, None if years is None else max(1, int(years)))
