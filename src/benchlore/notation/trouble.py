"""What a YAML parser stumbled over, in the words of somebody who has never heard of one."""

import re
from dataclasses import dataclass
from typing import Final

from ruamel.yaml.error import MarkedYAMLError
from ruamel.yaml.reader import ReaderError

from benchlore.notation.names import shortened
from benchlore.notation.problem import Key, Position, Problem

_MOST_TAB_LINES: Final = 20
_SINGLE_QUOTES: Final = "in double quotes '\\' has a meaning of its own; use single quotes"

_PLAIN_WORDS: Final = (
    (r"mapping values are not allowed", "a second ': ' where none is expected; put the text in quotes"),
    (r"mapping keys are not allowed", "a text cannot start with '? '; put it in quotes"),
    (r"sequence entries are not allowed", "'- ' where no list is expected; give each item its own line"),
    (r"found character '\\t'", "a tab where spaces are expected; indent with spaces only"),
    (r"found character (\S+) that cannot start", "a text cannot start with {0}; put it in quotes"),
    (r"could not find expected ':'", "a ':' with a space after it is missing"),
    (r"unexpected end of stream", "quotes open here and never close"),
    (r"unexpected document separator", "quotes open here and do not close before '---'"),
    (r"unknown escape character|escape sequence of", _SINGLE_QUOTES),
    (r"expected ',' or '\]'", "the list that '[' opens on line {line} needs a ',' or a closing ']' here"),
    (
        r"expected ',' or '\}",
        "what '{{' opens on line {line} needs a ',' or a closing '}}' here, or a text with ': ' in it quotes",
    ),
    (
        r"expected <block end>, but found '<scalar>'",
        "text after a closing quote, or a line indented too little",
    ),
    (r"expected <block end>, but found '-'", "a list item where a name is expected; indent the list more"),
    (
        r"expected <block end>",
        "this line is indented differently from its neighbours, which begin on line {line}; line them up",
    ),
    (
        r"expected the node content",
        "a value is missing here, or a text that starts with this sign needs quotes",
    ),
    (
        r"block scalar",
        "after '>' or '|' the text goes on below, indented; a text that starts with one needs quotes",
    ),
    (r"an alias|an anchor", "a text cannot start with '&' or '*'; put it in quotes"),
    (r"a tag|a directive|a node", "a text cannot start with '!' or '%'; put it in quotes"),
)


@dataclass(frozen=True, slots=True)
class Trouble:
    """A problem whose file is not known yet."""

    rule: str
    message: str
    place: Position | None
    key: Key = ()

    def problem(self, file: str) -> Problem:
        """Name the file."""
        return Problem(file, self.place, self.rule, self.message, key=self.key)


def explain(error: Exception, text: str, last: Position | None = None) -> list[Trouble]:
    """Say what stopped the parser, and where (or after ``last``); each line indented with tabs is named."""
    if isinstance(error, ReaderError):
        return [_unprintable(text)]
    if not isinstance(error, MarkedYAMLError):
        message = "what follows here cannot be read; see that each line reads 'name: value'"
        return [Trouble("syntax", message, last)]
    lines = text.splitlines()
    if "'\\t'" in str(error.problem) and (tabs := _tab_lines(lines)):
        return tabs
    if stray := _stray_text(error, lines):
        return [stray]
    place = _place(error)
    return [Trouble("syntax", f"{_words(error, lines, place)}{_quoted(lines, place)}", place)]


def _stray_text(error: MarkedYAMLError, lines: list[str]) -> Trouble | None:
    """Find the line above that made the parser take the text for complete, where names follow."""
    place = _place(error)
    if "<document start>" not in str(error.problem) or place is None:
        return None
    texts = (
        n for n in range(place.line - 1, 0, -1) if lines[n - 1].strip() and lines[n - 1].strip()[0] != "#"
    )
    above = next(texts, None)
    if above is None or ":" in lines[above - 1]:
        return None
    at = Position(above, len(lines[above - 1]) - len(lines[above - 1].lstrip()) + 1)
    message = "a text that is no 'name: value'; remove it, or put '# ' before it if it is a remark"
    return Trouble("syntax", f"{message}{_quoted(lines, at)}", at)


def _place(error: MarkedYAMLError) -> Position | None:
    """Return where reading stopped, or, for quotes that never close, where they open."""
    is_unclosed = "quoted scalar" in str(error.context) and "unexpected" in str(error.problem)
    mark = (error.context_mark if is_unclosed else error.problem_mark) or error.context_mark
    return Position(mark.line + 1, mark.column + 1) if mark else None


def _words(error: MarkedYAMLError, lines: list[str], place: Position | None) -> str:
    problem = str(error.problem)
    if "mapping values" in problem and place and (words := _broken_line_above(lines, place.line)):
        return words
    begin = error.context_mark.line + 1 if error.context_mark else 1
    for pattern, words in _PLAIN_WORDS:
        if found := re.search(pattern, f"{problem} {error.context}"):
            return words.format(*found.groups(), line=begin)
    return "this line cannot be read; see that it reads 'name: value'"


def _broken_line_above(lines: list[str], line: int) -> str | None:
    """Find a name without ``: `` above: the parser took it and this line for one long text."""
    if lines[line - 1 : line] and lines[line - 1].count(": ") > 1:
        return None
    above = next((each for each in range(line - 1, 0, -1) if lines[each - 1].strip()), None)
    if above is None:
        return None
    text = lines[above - 1].strip()
    if re.match(r"[\w-]+:\S", text):
        return f"line {above} has no space after ':'"
    if ":" not in text:
        return f"line {above} is a name without ':', or goes on in a line that looks like 'name: value'"
    return f"this line is indented as if it belonged to line {above}, which already has a value"


def _quoted(lines: list[str], place: Position | None) -> str:
    if place is None or not lines[place.line - 1 : place.line]:
        return ""
    text = shortened(lines[place.line - 1])
    return f" (the line reads: {text})" if text else ""


def _tab_lines(lines: list[str]) -> list[Trouble]:
    message = "a tab at the start of the line; indent with spaces only"
    places = [
        Position(number, line.index("\t") + 1)
        for number, line in enumerate(lines, 1)
        if re.match(r" *\t\s*\S", line)
    ]
    return [Trouble("tab", message, place) for place in places[:_MOST_TAB_LINES]]


def _unprintable(text: str) -> Trouble:
    """Name the first character that YAML forbids; the parser only counts bytes up to it."""
    for number, line in enumerate(text.split("\n"), 1):
        for column, character in enumerate(line, 1):
            if (
                not (character.isprintable() or character.isspace())
                or character in "\x1c\x1d\x1e\x1f\x0b\x0c"
            ):
                message = f"an unprintable character (U+{ord(character):04X}) stands here; remove it"
                return Trouble("unprintable", message, Position(number, column))
    return Trouble("unprintable", "the text holds an unprintable character; remove it", None)
