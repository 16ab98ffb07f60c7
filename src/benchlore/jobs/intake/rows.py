"""A table's rows, as text."""

from typing import NamedTuple


class Row(NamedTuple):
    """A row as it stands in the table; ``number`` counts from one.

    ``troubles`` are what is wrong with it before anybody asks what it means: the cell's place (``None`` for
    the whole row) and a message.
    """

    number: int
    cells: tuple[str, ...]
    troubles: tuple[tuple[int | None, str], ...] = ()
