"""A proof as text for the terminal."""

from benchlore.cli.text import columns, two_ends, wrapped
from benchlore.library import Proved
from benchlore.proof import Part, parts_of


def lines(proved: Proved) -> list[str]:
    """Print what was proven, most important first."""
    proof = proved.proof
    head = two_ends(proved.book.complaints[proof.complaint].title, proved.book.board.title)
    return [*head, f"for {proof.shop}", *(line for part in parts_of(proof) for line in _lines(part))]


def _lines(part: Part) -> list[str]:
    table = (
        []
        if part.table is None
        else columns([part.table.head, *part.table.rows], align=part.table.align, indent=2)
    )
    sentences = [line for text in part.sentences for line in wrapped(text, indent=2, hang=2)]
    return ["", part.heading, *table, *sentences]
