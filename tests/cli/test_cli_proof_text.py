"""How a proof's and an answer's tables stand on a terminal."""

import pytest

from benchlore.cli.proof_text import passage_lines
from benchlore.library import Passage
from benchlore.library.passages import table_of


def shown(width):
    """The lines of a table of which three columns are ``width`` wide, below their heading."""
    head = ("way", "95 % interval", "came back", "saved a year", "returned")
    rows = [("x" * width, "9", "9", "y" * width, "z" * width)]
    return passage_lines([Passage("Ways", (), table_of(head, rows, "<>>>>"))])[2:]


@pytest.mark.parametrize(
    ("width", "head"),
    [
        (16, ["  way               95 % interval  came back      saved a year          returned"]),
        (
            17,
            [
                "                         95 %  came              saved",
                "  way                interval  back             a year           returned",
            ],
        ),
        (
            20,
            [
                "                          95 %  came                 saved",
                "way                   interval  back                a year              returned",
            ],
        ),
        (
            21,
            [
                "                          95 % came                 saved",
                "way                   interval back                a year              returned",
            ],
        ),
    ],
)
def test_headings_of_a_wide_table_take_two_lines_before_its_columns_move_together(width, head):
    lines = shown(width)
    assert lines[:-1] == head
    assert max(map(len, lines)) <= 80


def test_headings_of_one_word_take_one_line():
    table = table_of(("way", "saved"), [("x" * 60, "y" * 25)], "<>")
    assert passage_lines([Passage("Ways", (), table)])[2].split() == ["way", "saved"]
