"""Plain text for an 80-column terminal: wrapping, columns, money, shares."""

import shlex
import shutil
import sys
import textwrap
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Final

WIDTH: Final = 80
UNBROKEN: Final = "\u00a0"


def wrapped(
    text: str, *, indent: int = 0, width: int = WIDTH, hang: int = 0, whole: bool = False
) -> list[str]:
    """Wrap a text; ``hang`` indents every line but the first further.

    A per cent sign stays with its number; what is printed has plain spaces, which searches find. With
    ``whole``, a word that is longer than a line, such as a path, is left whole.

    >>> wrapped("from 72 % to 100 %", width=16)
    ['from 72 % to', '100 %']
    """
    lines = textwrap.wrap(
        " ".join(text.split()).replace(" %", UNBROKEN + "%"),
        width=width,
        initial_indent=" " * indent,
        subsequent_indent=" " * (indent + hang),
        break_on_hyphens=False,
        break_long_words=not whole,
    )
    return [line.replace(UNBROKEN, " ") for line in lines]


def two_ends(left: str, right: str, *, width: int = WIDTH) -> list[str]:
    """Set ``left`` and ``right`` at the two ends of a line; of two lines, where both do not fit one."""
    if len(left) + len(right) + 2 <= width:
        return [left + right.rjust(width - len(left))]
    return [*wrapped(left, width=width), right.rjust(width)]


def columns(rows: Iterable[Sequence[str]], *, align: str, indent: int = 0, gap: int = 2) -> list[str]:
    """Set rows in columns; ``align`` has ``<`` or ``>`` for each column.

    >>> columns([("ohm", "4.2 k"), ("V", "3.3")], align="<>")
    ['ohm  4.2 k', 'V      3.3']
    """
    rows = [tuple(row) for row in rows]
    widths = [max(len(row[k]) for row in rows) for k in range(len(align))] if rows else []
    lines = []
    for row in rows:
        cells = [f"{cell:{side}{size}}" for cell, side, size in zip(row, align, widths, strict=True)]
        lines.append((" " * indent + (" " * gap).join(cells)).rstrip())
    return lines


def program(*, elsewhere: bool = False) -> str:
    """How the reader calls this program; ``elsewhere`` is from another folder than the one they stand in.

    By its name where the shell finds it, else as it was called: from a folder that is on no path, or as a
    module of a Python.
    """
    called = sys.argv[0]
    name = Path(called).name
    if name == "__main__.py":
        return f"{shlex.quote(sys.executable)} -m benchlore"
    if shutil.which("benchlore") or name == called:
        return "benchlore"
    return shlex.quote(str(Path(called).absolute()) if elsewhere else called)


def command_lines(
    words: Sequence[str], *, before: str = "", indent: int = 0, width: int = WIDTH
) -> list[str]:
    r"""Set a command so that it can be copied into a shell: quoted, and continued with a backslash.

    ``before`` are words that are quoted already.

    >>> command_lines(["benchlore", "next", "rail=below 3 V"], width=28)
    ['benchlore next \\\\', "  'rail=below 3 V'"]
    """
    lines, margin = [" " * indent + before], indent + 2
    for word in map(shlex.quote, words):
        if len(lines[-1].strip()) and len(lines[-1]) + len(word) + 3 > width:
            lines[-1] += " \\"
            lines.append(" " * margin + word)
        else:
            lines[-1] += word if not lines[-1].strip() else f" {word}"
    return lines
