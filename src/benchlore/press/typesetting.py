"""Paper: plain values and a template in, a PDF out.

What is set reaches the template as data and is never read as markup, so no text can run anything. The folder
of templates is all that the compiler may read: no file beside it, no package, no network. Equal values give
equal bytes: the fonts are those that Typst's wheel carries, and no clock is asked.
"""

import json
from collections.abc import Mapping
from dataclasses import asdict
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
TEMPLATES: Final = Path(__file__).parent / "typst"


def typeset(template: str, values: "DataclassInstance", paper: Paper) -> bytes:
    """Set values on paper, as a tagged PDF; equal values give equal bytes.

    Where a text needs letters that the wheel's fonts lack, the system's fonts help out, and the bytes are
    those of this machine. Where those lack them too, a box stands for the letter, and the file does not claim
    to be accessible.
    """
    width, height = PAPERS[paper]
    data = json.dumps({**_clean(asdict(values)), "width": width, "height": height}, ensure_ascii=False)
    try:
        return _compiled(template, data, [ACCESSIBLE])
    except typst.TypstError:
        pass
    try:
        return _compiled(template, data, [ACCESSIBLE], system_fonts=True)
    except typst.TypstError:
        return _compiled(template, data, [], system_fonts=True)


def _compiled(template: str, data: str, standards: list[Any], *, system_fonts: bool = False) -> bytes:
    compiler = _compiler(system_fonts=system_fonts)
    made = compiler.compile(
        TEMPLATES / template, format="pdf", sys_inputs={"data": data}, pdf_standards=standards, timestamp=0
    )
    assert isinstance(made, bytes)
    return made


@cache
def _compiler(*, system_fonts: bool) -> typst.Compiler:
    """A compiler that sees the templates alone; fonts are looked up once."""
    return typst.Compiler(root=TEMPLATES, ignore_system_fonts=not system_fonts)


def _clean(value: Any) -> Any:
    """Keep characters out that may not stand in a document."""
    if isinstance(value, str):
        return printable(value)
    if isinstance(value, Mapping):
        return {name: _clean(each) for name, each in value.items()}
    if isinstance(value, list | tuple):
        return [_clean(each) for each in value]
    return value
