"""The one failure of this package, and a cache that remembers failures as well as values."""

from collections.abc import Callable
from functools import lru_cache, wraps
from typing import TypeVar, TypeVarTuple

_A = TypeVarTuple("_A")
_T = TypeVar("_T")

_QUOTED_LENGTH = 60
_CACHED_TEXTS = 65_536


def quote(text: str) -> str:
    """Return ``text`` in quotes, cut where it is too long to be read in a message."""
    return repr(text if len(text) <= _QUOTED_LENGTH else text[: _QUOTED_LENGTH - 1] + "…")


class UnitError(ValueError):
    """A text that is not the quantity, duration, chance or span that was asked for.

    ``text`` is what was written, ``wrong`` what is the matter with it, ``expected`` what would be right.
    """

    def __init__(self, text: str, expected: str, wrong: str = "") -> None:
        super().__init__(text, expected, wrong)
        self.text = text
        self.expected = expected
        self.wrong = wrong

    def __str__(self) -> str:
        """Say what is wrong, where, and what would be right."""
        what = f"{self.wrong} in {quote(self.text)}" if self.wrong else f"cannot read {quote(self.text)}"
        return f"{what}; {self.expected}"


def remembered(parse: Callable[[*_A], _T]) -> Callable[[*_A], _T]:
    """Cache what ``parse`` returns or refuses; a sheet repeats the same few cells thousands of times."""

    @lru_cache(maxsize=_CACHED_TEXTS)
    def outcome(args: tuple[*_A]) -> _T | UnitError:
        try:
            return parse(*args)
        except UnitError as error:
            return UnitError(error.text, error.expected, error.wrong)

    @wraps(parse)
    def recall(*args: *_A) -> _T:
        # A fresh exception each time: raising a cached one again would lengthen its traceback for ever.
        found = outcome(args)
        if isinstance(found, UnitError):
            raise UnitError(found.text, found.expected, found.wrong)
        return found

    return recall
