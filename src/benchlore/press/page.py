"""Pages: frozen contexts in, one self-contained HTML file out.

Every text is escaped; pictures stand as they are, since we drew them and escaped the names in them. The HTML
is well-formed XML too, so that any tool can read it.
"""

import re
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any, Final, Literal

from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from benchlore.book import GENERAL_CAUTION
from benchlore.press.drawing import Picture
from benchlore.press.text import printable, whole_minutes
from benchlore.press.theme import DARK, LIGHT, ROLES, recoloured
from benchlore.units import counted, money, share

NUMBER: Final = re.compile(r"([^\d]*\d[\d,]*)(?:\.(\d+))?(.*)", re.DOTALL)
"""A sign, digits in groups, decimals, and what follows, such as a unit."""
SHARED: Final = "benchlore.press"


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table; numbers stand in line at their decimal points."""

    heading: str
    kind: Literal["text", "number"] = "text"


@dataclass(frozen=True, slots=True)
class Table:
    """A table whose first column names its rows. Cells are text, as long as there are columns.

    Raises ``ValueError`` for a row that is longer or shorter.
    """

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    empty: str = "Nothing to list yet."
    """What stands there if there are no rows."""

    def __post_init__(self) -> None:
        """Refuse rows that do not fit the columns."""
        for number, row in enumerate(self.rows, start=1):
            if len(row) != len(self.columns):
                raise ValueError(
                    f"table “{self.caption}”: row {number} has {len(row)} cells, not {len(self.columns)}"
                )


@dataclass(frozen=True, slots=True)
class Section:
    """A part of a page, in the order in which it is shown; its parts stand one heading lower."""

    heading: str
    paragraphs: tuple[str, ...] = ()
    picture: Picture | None = None
    table: Table | None = None
    note: str | None = None
    """How to read the figures, where they come from, what they do not say."""
    cautions: tuple[str, ...] = ()
    parts: tuple["Section", ...] = ()


@dataclass(frozen=True, slots=True)
class ReportPage:
    """A report: its sections between what it is about and who made it possible, under which licence."""

    title: str
    lead: str
    sections: tuple[Section, ...]
    facts: tuple[tuple[str, str], ...] = ()
    """What the report is about, by name: board, complaint, shop, jobs, day."""
    cautions: tuple[str, ...] = ()
    """Beside the general one, which every page has."""
    licence: str = ""
    """One sentence: under which licence this may be used."""
    credits: tuple[str, ...] = ()
    """Who made it possible, a line each."""
    made_with: str = "Made with benchlore."
    language: str = "en"


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell as it is set: what it says, and the decimals that it lacks, which keep its place unseen."""

    text: str
    lacks: str = ""
    tail: str = ""


def report_html(page: ReportPage) -> str:
    """Set a report as one HTML file with everything in it; equal reports give equal text."""
    return environment().get_template("report.html").render(page=page)


def colours_css() -> str:
    """The colours of both schemes as a style sheet, and the pictures' in the dark one."""
    return environment().get_template("colours.css").render()


@cache
def shared_file(name: str) -> str:
    """Read a style sheet or script that the app and the site share."""
    return (resources.files(SHARED) / "templates" / name).read_text(encoding="utf-8")


@cache
def environment() -> Environment:
    """Open the templates of reports."""
    found = templates_of(SHARED)
    found.filters["cells"] = cells
    found.globals |= {
        "dark": tuple((role, getattr(DARK, role)) for role in ROLES),
        "light": tuple((role, getattr(LIGHT, role)) for role in ROLES),
        "recoloured": recoloured(),
    }
    return found


def templates_of(package: str) -> Environment:
    """Open a package's templates; a name that one gets wrong is an error, and all text is escaped.

    What the package does not have comes from here: the pieces that every surface shows alike.
    ``drawn`` lets drawings stand as they are: those of our own alone, which escaped the names in them.
    """
    loaders = [PackageLoader(each) for each in dict.fromkeys((package, SHARED))]
    found = Environment(
        loader=ChoiceLoader(loaders),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=set_printable,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    found.filters |= {
        "counted": counted,
        "drawn": Markup,
        "money": money,
        "plain": "{:g}".format,
        "share": share,
        "whole_minutes": whole_minutes,
    }
    found.globals |= {"counted": counted, "general_caution": GENERAL_CAUTION}
    return found


def set_printable(value: Any) -> Any:
    """Keep characters out of a page that may not stand in one."""
    return printable(value) if isinstance(value, str) and not isinstance(value, Markup) else value


def cells(table: Table) -> list[list[Cell]]:
    """Set the cells of a table: numbers of a column lack what the longest decimals among them have more.

    >>> table = Table("Cost", (Column("way"), Column("EUR", "number")), (("a", "48.2"), ("b", "7")))
    >>> [row[1] for row in cells(table)]
    [Cell(text='48.2', lacks='', tail=''), Cell(text='7', lacks='.0', tail='')]
    """
    longest = [
        max((decimals_of(row[k]) for row in table.rows), default=0) if column.kind == "number" else 0
        for k, column in enumerate(table.columns)
    ]
    return [
        [
            set_cell(text, most) if column.kind == "number" else Cell(text)
            for text, column, most in zip(row, table.columns, longest, strict=True)
        ]
        for row in table.rows
    ]


def decimals_of(text: str) -> int:
    """Count the decimals of a cell that begins with a number."""
    found = NUMBER.match(text)
    return len(found[2] or "") if found else 0


def set_cell(text: str, most: int) -> Cell:
    """Split a number from its tail, and fill up its decimals; other text stands as it is."""
    found = NUMBER.match(text)
    if not found:
        return Cell(text)
    number = found[1] if found[2] is None else f"{found[1]}.{found[2]}"
    missing = most - len(found[2] or "")
    point = "." if found[2] is None and missing else ""
    return Cell(number, point + "0" * missing, found[3])
