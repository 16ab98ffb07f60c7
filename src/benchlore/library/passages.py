"""What an answer is told in, the same on every surface: passages of a heading, sentences and a table."""

from collections.abc import Sequence
from dataclasses import dataclass

from benchlore.proof import Table


@dataclass(frozen=True, slots=True)
class Passage:
    """A heading, sentences, and perhaps a table."""

    heading: str
    sentences: tuple[str, ...] = ()
    table: Table | None = None


def table_of(head: Sequence[str], rows: Sequence[Sequence[str]], align: str) -> Table:
    """Make a table; ``align`` has ``<`` or ``>`` for each column."""
    return Table(tuple(head), tuple(tuple(row) for row in rows), align)
