"""Finding which of a book's names a shop's word stands for."""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import chain
from typing import Final

from rapidfuzz import process
from rapidfuzz.distance import OSA

from benchlore.jobs.intake.words import fold, squeezed
from benchlore.notation import listed, nearest, quoted

_SHORTEST_CLOSE: Final = 6
_LONGEST: Final = 200
_MARGIN: Final = 2
_FEW: Final = 8
_DIGITS: Final = re.compile(r"[0-9]+")
_WORD: Final = re.compile(r"[^\W_]+")


@dataclass(frozen=True, slots=True)
class Found:
    """The name that a text stands for; ``is_close`` if its spelling only came close."""

    name: str
    is_close: bool = False


@dataclass(frozen=True, slots=True)
class NotFound:
    """Why a text stands for no name, and what may have been meant."""

    message: str
    suggestion: str = ""


class Names:
    """The names of one kind of thing, with every spelling that is known for them.

    ``known`` maps each name to its titles and other names; ``words`` are the mapping's own, whose keys may
    end in ``*``. ``kind`` is for the messages: "fault of halden-t4".
    """

    def __init__(
        self, kind: str, known: Mapping[str, tuple[str, ...]], words: Mapping[str, str] | None = None
    ) -> None:
        self.kind = kind
        self.known = known
        words = words or {}
        self._words = {squeezed(word): name for word, name in words.items() if not word.endswith("*")}
        self._has_words = bool(words)
        self._folded_words = _sets((fold(word), name) for word, name in self._words.items() if fold(word))
        self._begins = _beginnings(words)
        self._exact = {name: name for name in known} | self._words
        self._spellings = list(_spellings(known, self._words))
        self._titles = _sets((spelling, name) for spelling, name in self._spellings)
        self._folded = _sets((fold(spelling), name) for spelling, name in self._spellings)
        self._folded |= {fold(name): {name} for name in known}
        self._folded |= {fold(word): {name} for word, name in self._words.items()}
        self._near = [(fold(spelling), spelling, name) for spelling, name in self._spellings]

    def says(self, text: str) -> bool:
        """Say whether the mapping's own words settle ``text``, so that it counts even if it looks blank."""
        return squeezed(text) in self._words

    def stands_for(self, text: str) -> str | None:
        """Return what the mapping's own words make of ``text``, or ``None`` if they are silent."""
        if not self._has_words:
            return None
        plain = squeezed(text)
        if plain in self._words:
            return self._words[plain]
        found = self._folded_words.get(fold(plain)) or self._beginning(plain) or set()
        return next(iter(found)) if len(found) == 1 else None

    def find(self, text: str) -> Found | NotFound:
        """Return the name that ``text`` stands for, or why there is none."""
        plain = squeezed(text)
        if plain in self._exact:
            return self._checked(plain, self._exact[plain])
        for fitting in (self._titles.get(plain), self._folded.get(fold(plain)), self._beginning(plain)):
            if fitting and len(fitting) == 1:
                return self._checked(plain, next(iter(fitting)))
            if fitting:
                return NotFound(
                    f"{quoted(plain)} may be {listed(sorted(fitting), 'or')}", "use the name itself"
                )
        close = self._close(plain)
        return Found(close, is_close=True) if close else self._not_found(plain)

    def _checked(self, text: str, name: str) -> Found | NotFound:
        """Refuse a name that the mapping gives and this book lacks."""
        if name in self.known:
            return Found(name)
        return NotFound(
            f"{quoted(text)} stands for {quoted(name)}, which is no {self.kind}", self._suggestion(name)
        )

    def _beginning(self, text: str) -> set[str] | None:
        plain = fold(text)
        return next(({name} for word, name in self._begins if plain.startswith(word)), None)

    def _close(self, text: str) -> str | None:
        """Return the one name whose spelling is so close that a slip of the pen explains it."""
        wanted = fold(text)
        if not _SHORTEST_CLOSE <= len(wanted) <= _LONGEST:
            return None
        allowed = 1 + (len(wanted) >= 12) + (len(wanted) >= 20)
        near = process.extract(
            wanted,
            [folded for folded, _, _ in self._near],
            scorer=OSA.distance,
            score_cutoff=allowed + _MARGIN,
            limit=None,
        )
        distances: dict[str, float] = {}
        candidates: set[str] = set()
        for folded, distance, place in near:
            _, spelling, name = self._near[place]
            if _same_digits(wanted, folded) and _same_designators(text, spelling):
                distances[name] = min(distance, distances.get(name, distance))
                if folded[0] == wanted[0] and distance <= allowed:
                    candidates.add(name)
        return _clear_winner(distances, candidates & self.known.keys())

    def _not_found(self, text: str) -> NotFound:
        return NotFound(f"{quoted(text)} is no {self.kind}", self._suggestion(text))

    def _suggestion(self, text: str) -> str:
        near = nearest(text[:_LONGEST], self._titles)
        if near is not None and (names := self._titles[near] & self.known.keys()):
            name = min(names)
            return f"did you mean {quoted(name)}" + ("?" if name == near else f" ({near})?")
        names_given = list(self.known)
        return (
            f"there {'is' if len(names_given) == 1 else 'are'} {listed(names_given)}"
            if self._is_short
            else ""
        )

    @property
    def _is_short(self) -> bool:
        return 0 < len(self.known) <= _FEW


def _beginnings(words: Mapping[str, str]) -> list[tuple[str, str]]:
    """Return the folded words that end in ``*``, the longest first, so that the closest fit counts."""
    found = ((fold(word[:-1]), name) for word, name in words.items() if word.endswith("*"))
    return sorted(((word, name) for word, name in found if word), key=lambda each: (-len(each[0]), each))


def _spellings(known: Mapping[str, tuple[str, ...]], words: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """Give every spelling that has a letter or digit in it, with its name."""
    own = ((name, name) for name in known)
    titles = ((squeezed(title), name) for name, more in known.items() for title in more)
    return ((spelling, name) for spelling, name in chain(own, titles, words.items()) if fold(spelling))


def _sets(pairs: Iterable[tuple[str, str]]) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    for key, name in pairs:
        found.setdefault(key, set()).add(name)
    return found


def _clear_winner(distances: Mapping[str, float], candidates: set[str]) -> str | None:
    """Return the nearest name if it is a candidate and every other one is clearly farther."""
    ranked = sorted(distances, key=lambda name: (distances[name], name))
    if not ranked or ranked[0] not in candidates:
        return None
    has_margin = len(ranked) == 1 or distances[ranked[1]] - distances[ranked[0]] >= _MARGIN
    return ranked[0] if has_margin else None


def names_of(things: Iterable[tuple[str, str, tuple[str, ...]]]) -> dict[str, tuple[str, ...]]:
    """Lay out names, titles and other names as :class:`Names` takes them."""
    return {
        name: tuple(dict.fromkeys(each for each in (title, *also) if each)) for name, title, also in things
    }


def _same_digits(one: str, other: str) -> bool:
    """Say whether two texts hold the same numbers: they tell parts apart, and no slip of the pen does."""
    return _DIGITS.findall(one) == _DIGITS.findall(other)


def _same_designators(one: str, other: str) -> bool:
    """Say whether nets and parts, which are written in capitals, are the same in both texts."""
    return _designators(one) <= _folded_words(other) and _designators(other) <= _folded_words(one)


def _designators(text: str) -> set[str]:
    words = _WORD.findall(text)
    if all(word == word.upper() for word in words):
        return set()
    return {fold(word) for word in words if len(word) > 1 and word == word.upper() and not word.isdigit()}


def _folded_words(text: str) -> set[str]:
    return {fold(word) for word in _WORD.findall(text)}
