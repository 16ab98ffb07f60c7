"""A proof as text for the terminal."""

from collections.abc import Iterable

from benchlore.cli.text import WIDTH, columns, two_ends, wrapped
from benchlore.library import Passage, Proved
from benchlore.proof import Part, Table, parts_of, tried_said


def lines(proved: Proved) -> list[str]:
    """Print what was proven, most important first."""
    proof = proved.proof
    head = two_ends(proved.book.complaints[proof.complaint].title, proved.book.board.title)
    return [*head, f"for {proof.shop}", *(line for part in parts_of(proof) for line in part_lines(part))]


def standing_lines(proved: Proved) -> list[str]:
    """Print the standing, as a procedure's sheet does."""
    old = f" {' and '.join(proved.stale).capitalize()} changed since." if proved.stale else ""
    return wrapped(f"Standing: {proved.proof.standing.standing}. {tried_said(proved.proof)}{old}")


def passage_lines(passages: Iterable[Passage]) -> list[str]:
    """Print passages below each other."""
    return [line for passage in passages for line in part_lines(passage)]


def part_lines(part: Part | Passage) -> list[str]:
    """Print a heading, a table and sentences, after an empty line."""
    sentences = [line for text in part.sentences for line in wrapped(text, indent=2, hang=2)]
    return ["", part.heading, *([] if part.table is None else _set(part.table)), *sentences]


def _set(table: Table) -> list[str]:
    rows = [table.head, *table.rows]
    lines = columns(rows, align=table.align, indent=2)
    return lines if max(map(len, lines)) <= WIDTH else columns(rows, align=table.align, gap=1)
