"""The search: a script, and what it finds as another script, since pages on a disk may not fetch."""

from collections.abc import Iterable
from itertools import chain

from benchlore.press.page import shared_file
from benchlore.press.site.set_page import script_json
from benchlore.press.site.values import BoardEntry


def search_script() -> bytes:
    """Give the script that searches."""
    return shared_file("site/search.js").encode()


def findable_script(boards: Iterable[BoardEntry]) -> bytes:
    """Write what is found as a script that sets ``findables``: rows of a ``Findable``'s fields."""
    rows = [
        [each.subject, each.title, each.inside, each.path, each.words]
        for each in chain.from_iterable(board.findables for board in boards)
    ]
    lines = ",\n".join(script_json(row) for row in rows)
    return f"window.findables = [\n{lines}\n];\n".encode()
