"""A proof as text for the terminal."""

from collections.abc import Iterable, Sequence

from benchlore.cli.text import UNBROKEN, WIDTH, columns, two_ends, wrapped
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
    """Set a table; where it does not fit, with headings of two lines, then with columns closer together."""
    for head in ([table.head], _two_lines(table.head)):
        for indent in (2, 0):
            lines = columns([*head, *table.rows], align=table.align, indent=indent)
            if max(map(len, lines)) <= WIDTH:
                return lines
    return columns([*_two_lines(table.head), *table.rows], align=table.align, gap=1)


def _two_lines(head: Sequence[str]) -> list[tuple[str, ...]]:
    """Set headings in two lines, each divided where its halves are shortest; one word stands below."""
    halves = []
    for text in head:
        words = text.replace(" %", f"{UNBROKEN}%").split(" ")
        ways = [(" ".join(words[:k]), " ".join(words[k:])) for k in range(len(words))]
        halves.append(min(ways, key=lambda way: max(map(len, way))))
    lines = [tuple(half.replace(UNBROKEN, " ") for half in line) for line in zip(*halves, strict=True)]
    return [line for line in lines if any(line)]
