"""Paper: plain values and a template in, a PDF out.

What is set reaches the template as data and is never read as markup, so no text can run anything. The folder
of templates is all that the compiler may read: no file beside it, no package, no network. Equal values give
equal bytes: the fonts are those that Typst's wheel carries, and no clock is asked.
"""

import json
import re
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import asdict
from datetime import date
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal, TypeAlias

import typst

from benchlore.press.text import printable

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

Paper: TypeAlias = Literal["a4", "letter", "a5", "half-letter"]
PAPERS: Final[Mapping[Paper, tuple[float, float]]] = {
    "a4": (210.0, 297.0),
    "letter": (215.9, 279.4),
    "a5": (148.0, 210.0),
    "half-letter": (139.7, 215.9),
}
"""Width and height in millimetres: ISO 216:2007, table 1; ANSI/ASME Y14.1 size A, 8.5 × 11 in, and half."""
ACCESSIBLE: Final = "ua-1"
"""PDF/UA-1 (ISO 14289-1): tagged in reading order, with title and language."""
LASTING: Final = "a-2a"
"""PDF/A-2a (ISO 19005-2): all that a reader needs in decades is in the file. It asks for a day."""
TOO_LONG: Final = re.compile(r"\S{30}(?=\S)")
NUMBER_AND_UNIT: Final = re.compile(
    r"(?<=\d) (?=(?:%|°C|[numkMGµ]?(?:ohm|Ω|V|A|W|F|H|Hz|s|m)|min|h|[A-Z]{3})(?!\w))"
)
"""The space between a number and its unit or currency, where no line ends."""
UNBROKEN: Final = "\u00a0"
BREAK: Final = "\u200b"
"""Zero-width space: a place where a line may end."""
TEMPLATES: Final = Path(__file__).parent / "typst"


def typeset(template: str, values: "DataclassInstance", paper: Paper, *, day: date | None = None) -> bytes:
    """Set values on paper, as a tagged PDF; equal values give equal bytes.

    Parameters
    ----------
    template
        The name of a template.
    values
        What it shows, as a dataclass of texts, numbers and tuples.
    paper
        One of ``PAPERS``.
    day
        The document's own day, which makes it an archival file too.

    Returns
    -------
    bytes
        A PDF/UA-1 file, with a day a PDF/A-2a one as well. Where a text needs letters that the wheel's fonts
        lack, the system's fonts help out, and the bytes are those of this machine. Where those lack them
        too, a box stands for the letter, and the file does not claim to follow a standard.
    """
    width, height = PAPERS[paper]
    shown = {**_clean(asdict(values)), "width": width, "height": height}
    data = json.dumps({**shown, "day": None if day is None else [day.year, day.month, day.day]})
    standards = [ACCESSIBLE] if day is None else [ACCESSIBLE, LASTING]
    with suppress(typst.TypstError):
        return _compiled(template, data, standards)
    with suppress(typst.TypstError):
        return _compiled(template, data, standards, system_fonts=True)
    return _compiled(template, data, [], system_fonts=True)


def day_text(day: date) -> str:
    """Print a day: ``3 November 2026``."""
    return f"{day.day} {day:%B %Y}"


def _compiled(template: str, data: str, standards: list[Any], *, system_fonts: bool = False) -> bytes:
    # A compiler keeps what it was given last, so each one serves one call: the app sets several at once.
    compiler = typst.Compiler(
        TEMPLATES / template,
        root=TEMPLATES,
        font_paths=_fonts(with_system=system_fonts),
        sys_inputs={"data": data},
    )
    made = compiler.compile(format="pdf", pdf_standards=standards, timestamp=0)
    assert isinstance(made, bytes)
    return made


@cache
def _fonts(*, with_system: bool) -> typst.Fonts:
    """The fonts of the wheel, and the system's where they are wanted; they are looked up once."""
    return typst.Fonts(include_system_fonts=with_system)


def _clean(value: Any) -> Any:
    """Keep characters out that may not stand in a document, and set where lines may end and where not."""
    if isinstance(value, str):
        return TOO_LONG.sub(rf"\g<0>{BREAK}", NUMBER_AND_UNIT.sub(UNBROKEN, printable(value)))
    if isinstance(value, Mapping):
        return {name: _clean(each) for name, each in value.items()}
    if isinstance(value, list | tuple):
        return [_clean(each) for each in value]
    return value
