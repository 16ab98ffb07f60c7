"""YAML as the books use it: nested names, lists and texts, each with its place.

Every scalar is the text that its author wrote: ``4k7``, ``1e3``, ``0.50``, ``no`` and ``12:30`` stay so, and
whoever knows what the value means reads it. Only an empty value, ``~`` and ``null`` become ``None``. Tags are
refused; anchors work, within limits, and never reach back to themselves.
"""

import io
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, Final, TypeAlias

from ruamel.yaml import YAML
from ruamel.yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    Event,
    MappingEndEvent,
    MappingStartEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
    StreamEndEvent,
)

from benchlore.notation.files import LARGEST
from benchlore.notation.names import quoted, shortened
from benchlore.notation.problem import Key, Position, Positions, Problem
from benchlore.notation.trouble import Trouble, explain

Data: TypeAlias = "dict[str, Data] | list[Data] | str | None"

DEEPEST: Final = 40
MOST_VALUES: Final = 200_000
LONGEST_LINE: Final = 20_000
_NOTHING: Final = frozenset({"", "~", "null", "Null", "NULL"})


@dataclass(frozen=True, slots=True)
class Document:
    """A text's ``data`` (``None`` where it could not be read), where each value stands, and what is wrong."""

    data: Data
    positions: Positions
    problems: tuple[Problem, ...]


def load_yaml(text: str, file: str) -> Document:
    """Read YAML text; whatever the text is, the answer is data or problems."""
    text = text.removeprefix("\ufeff")
    if len(text) > LARGEST:
        most = f"{LARGEST // 1024 // 1024} MB"
        return _refused(file, [Trouble("too-large", f"the text is larger than {most}; split it", None)])
    if long_lines := _long_lines(text):
        return _refused(file, long_lines)
    builder = _Builder(_events(text))
    try:
        data = builder.document()
    except _Refused as refused:
        return _refused(file, [*builder.troubles, refused.trouble])
    except Exception as error:  # noqa: BLE001  however a hostile text trips the parser, it is a problem
        return _refused(file, [*builder.troubles, *explain(error, text, builder.last)])
    positions = Positions(file, builder.places)
    return Document(data, positions, tuple(each.problem(file) for each in builder.troubles))


def _long_lines(text: str) -> list[Trouble]:
    """Refuse monstrous lines: the parser's time grows with the square of some of them."""
    message = f"the line is longer than {LONGEST_LINE:,} characters; break it"
    return [
        Trouble("too-large", message, Position(number, 1))
        for number, line in enumerate(text.splitlines(), 1)
        if len(line) > LONGEST_LINE
    ]


def _refused(file: str, troubles: list[Trouble]) -> Document:
    return Document(None, Positions(file), tuple(trouble.problem(file) for trouble in troubles))


def _events(text: str) -> Iterator[Event]:
    yield from YAML(typ="safe", pure=True).parse(io.StringIO(text))


class _Refused(Exception):  # noqa: N818  it ends the reading; the caller turns it into a problem
    def __init__(self, rule: str, message: str, place: Position | None) -> None:
        super().__init__(message)
        self.trouble = Trouble(rule, message, place)


@dataclass(frozen=True, slots=True)
class _Anchor:
    data: Any
    size: int


@dataclass
class _Builder:
    """Turns parser events into data; ``size`` counts values with every alias spelt out."""

    events: Iterator[Event]
    places: dict[Key, Position] = field(default_factory=dict)
    troubles: list[Trouble] = field(default_factory=list)
    anchors: dict[str, _Anchor | None] = field(default_factory=dict)
    size: int = 0
    last: Position | None = None

    def document(self) -> Data:
        data: Data = None
        seen = False
        for event in self.events:
            if isinstance(event, DocumentStartEvent):
                if seen:
                    message = "a second document starts here ('---'); a file holds one"
                    raise _Refused("second-document", message, _place(event))
                data, seen = self._value(next(self.events), (), 0), True
            elif isinstance(event, StreamEndEvent):
                break
        return data

    def _value(self, event: Event, key: Key, depth: int) -> Data:
        place = self.last = _place(event)
        if key not in self.places:
            self.places[key] = place
        if depth > DEEPEST:
            raise _Refused("too-deep", f"more than {DEEPEST} levels inside each other", place)
        self._count(1, place)
        if isinstance(event, AliasEvent):
            return self._alias(event, place)
        self._check_tag(event, place)
        anchor, before = shortened(getattr(event, "anchor", None) or ""), self.size
        if anchor:
            self.anchors[anchor] = None  # not ready: an alias to it from inside would never end
        data = self._content(event, key, depth)
        if anchor:
            self.anchors[anchor] = _Anchor(data, self.size - before)
        return data

    def _content(self, event: Event, key: Key, depth: int) -> Data:
        if isinstance(event, MappingStartEvent):
            return self._mapping(key, depth)
        if isinstance(event, SequenceStartEvent):
            return self._list(key, depth)
        return self._scalar(event)

    def _mapping(self, key: Key, depth: int) -> Data:
        data: dict[str, Data] = {}
        while not isinstance(event := next(self.events), MappingEndEvent):
            place = _place(event)
            name = self._name(event, place)
            if name in data:
                self._value(next(self.events), ("",), depth + 1)  # read and dropped, under a key of no book
                self._say_twice(name, (*key, name), place)
                continue
            self.places[*key, name] = place
            data[name] = self._value(next(self.events), (*key, name), depth + 1)
        return data

    def _list(self, key: Key, depth: int) -> Data:
        data: list[Data] = []
        while not isinstance(event := next(self.events), SequenceEndEvent):
            data.append(self._value(event, (*key, len(data)), depth + 1))
        return data

    def _name(self, event: Event, place: Position) -> str:
        self._count(1, place)
        if not isinstance(event, ScalarEvent):
            message = "a name is expected before ':', not a list or another name's content"
            raise _Refused("bad-name", message, place)
        self._check_tag(event, place)
        if getattr(event, "anchor", None):
            raise _Refused("bad-name", "a name before ':' cannot carry an '&' mark", place)
        return self._text(event, place)

    def _scalar(self, event: Event) -> str | None:
        text = self._text(event, _place(event))
        is_plain = not getattr(event, "style", None)
        return None if is_plain and text in _NOTHING else text

    def _text(self, event: Event, place: Position) -> str:
        text = str(getattr(event, "value", ""))
        if any(_is_unprintable(character) for character in text):
            message = "an unprintable character (written with a backslash in quotes) stands here; remove it"
            self.troubles.append(Trouble("unprintable", message, place))
            return "".join(" " if _is_unprintable(character) else character for character in text)
        return text

    def _alias(self, event: AliasEvent, place: Position) -> Data:
        name = shortened(str(event.anchor))
        if name not in self.anchors:
            message = f"nothing above is marked '&{name}', so '*{name}' cannot repeat it"
            raise _Refused("unknown-alias", f"{message}; a text that starts with '*' needs quotes", place)
        anchor = self.anchors[name]
        if anchor is None:
            raise _Refused("endless-alias", f"'*{name}' stands inside what it repeats", place)
        self._count(anchor.size, place)
        data: Data = anchor.data
        return data

    def _check_tag(self, event: Event, place: Position) -> None:
        if tag := getattr(event, "tag", None):
            tag = str(tag).replace("tag:yaml.org,2002:", "!!")
            message = f"the tag {quoted(tag)} is not allowed; remove it, or put the text in quotes"
            raise _Refused("tag", message, place)

    def _count(self, more: int, place: Position) -> None:
        self.size += more
        if self.size > MOST_VALUES:
            raise _Refused("too-large", f"more than {MOST_VALUES:,} values, repeats included", place)

    def _say_twice(self, name: str, key: Key, place: Position) -> None:
        first = self.places[key].line
        message = f"{quoted(name)} stands twice; line {first} has it already, and only that one counts"
        self.troubles.append(Trouble("twice", message, place, key))


def _place(event: Event) -> Position:
    return Position(event.start_mark.line + 1, event.start_mark.column + 1)


def _is_unprintable(character: str) -> bool:
    return (
        (character < " " and character not in "\n\t") or "\x7f" <= character < "\xa0" or _is_half(character)
    )


def _is_half(character: str) -> bool:
    """Say whether a character is half of a UTF-16 pair, which no file or database takes."""
    return "\ud800" <= character <= "\udfff"
