"""Reading nested data key by key, with every mistake noted where it stands."""

from collections.abc import Iterable
from enum import StrEnum
from typing import TypeVar

from benchlore.notation import Key, did_you_mean, listed, quoted
from benchlore.notation.document import Data
from benchlore.notation.findings import Findings

_E = TypeVar("_E", bound=StrEnum)


class Walk(Findings):
    """Collects the problems of one file while its data are read."""

    def table(self, data: Data, key: Key, known: Iterable[str]) -> dict[str, Data]:
        """Return ``data`` if it is a set of named values; names that nobody knows are noted."""
        if not isinstance(data, dict):
            self._wrong(data, key, "names with values below it or in { }")
            return {}
        known = list(known)
        for name in data:
            if name not in known:
                hint = did_you_mean(name, known)
                self.error((*key, name), "unknown-key", f"unknown entry {quoted(name)}{hint}")
        return data

    def text(self, data: Data, key: Key) -> str | None:
        """Return ``data`` if it is a text that says something."""
        if isinstance(data, str) and data.strip():
            return data.strip()
        self._wrong(data, key, "a text")
        return None

    def texts(self, data: Data, key: Key) -> tuple[str, ...]:
        """Return one text, or a list of them."""
        if not isinstance(data, list):
            text = self.text(data, key)
            return (text,) if text else ()
        found = (self.text(each, (*key, number)) for number, each in enumerate(data))
        return tuple(text for text in found if text)

    def words(self, data: Data, key: Key) -> dict[str, str]:
        """Return the shop's words and what they stand for."""
        if not isinstance(data, dict):
            self._wrong(data, key, "the shop's words and what they stand for, such as {kaputt: ruined}")
            return {}
        words = {}
        for word, meaning in data.items():
            if isinstance(meaning, str) and meaning.strip() and word.strip():
                words[word] = meaning.strip()
            else:
                self.error((*key, word), "no-meaning", f"say what {quoted(word)} stands for, as one text")
        return words

    def choice(self, data: Data, key: Key, kind: type[_E], default: _E) -> _E:
        """Return one of an enumeration's values."""
        text = self.text(data, key)
        if text is None:
            return default
        try:
            return kind(" ".join(text.casefold().split()))
        except ValueError:
            self.error(key, "unknown-choice", f"{quoted(text)} is none of {listed(list(kind), 'or')}")
            return default

    def whole(self, data: Data, key: Key, most: int) -> int | None:
        """Return a whole number from one to ``most``."""
        text = self.text(data, key)
        if text is None:
            return None
        if text.isascii() and text.isdigit() and len(text) < 10 and 1 <= int(text) <= most:
            return int(text)
        self.error(key, "bad-number", f"{quoted(text)} is not a whole number from 1 to {most:,}")
        return None

    def _wrong(self, data: Data, key: Key, expected: str) -> None:
        found = (
            "nothing"
            if not data
            else {dict: "named values", list: "a list", str: quoted(str(data))}[type(data)]
        )
        name = f"'{key[-1]}'" if key and isinstance(key[-1], str) else "this place"
        self.error(key, "wrong-kind", f"{name} takes {expected}, and {found} stands there")
