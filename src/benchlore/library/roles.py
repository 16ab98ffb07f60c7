"""What a person may do: three roles, each of which may do what those below it may."""

from enum import StrEnum
from typing import Final


class Role(StrEnum):
    """A role. Every role reads everything."""

    BENCH = "bench"
    AUTHOR = "author"
    STEWARD = "steward"

    def may(self, needed: "Role") -> bool:
        """Whether this role may do what ``needed`` may."""
        return _LADDER.index(self) >= _LADDER.index(needed)


_LADDER: Final = tuple(Role)

DUTIES: Final = {
    Role.BENCH: "starts jobs, enters readings and fixes, closes jobs",
    Role.AUTHOR: "all that, changes books and takes records in",
    Role.STEWARD: "all that, opens closed jobs again and manages accounts",
}
"""What each role does, for lists and refusals."""
