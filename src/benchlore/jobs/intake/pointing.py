"""What a mapping's text says of each column, and the text changed where somebody points at a column.

The text stays the one truth: its remarks, its order and the shop's own words are kept, and only lines about
the columns pointed at change. It may be unfinished; whether it can be used says ``read_mapping``.
"""

import io
from collections.abc import Callable, Iterator, Mapping
from typing import Any, Final

from ruamel.yaml import YAML
from ruamel.yaml.comments import CommentedMap, CommentedSeq
from ruamel.yaml.error import YAMLError

from benchlore.jobs.intake.table import Table
from benchlore.notation import load_yaml
from benchlore.notation.document import Data

FIELDS: Final = (
    "job",
    "opened",
    "board",
    "complaint",
    "technician",
    "hands on",
    "waiting",
    "outcome",
    "fault",
    "comeback",
    "notes",
)
"""Meanings of a column that are fields of the job itself, by their names in a mapping."""

CHECK: Final = "check "
"""A wide table's column of readings of a check means this and the check's name."""

WIDE_ONLY: Final = ("fix", "retest", "soaked")
LONG_ONLY: Final = ("step", "reading check", "reading value", "reading unit", "fix", "retest", "soaked")
EXTRA: Final = "extra"

SETTINGS: Final = ("shop", "dates", "decimal")
"""What a mapping says of the table as a whole and can be set here; empty: left out."""

_TIMES: Final = frozenset({"hands on", "waiting", "soaked"})
_OF_FIX: Final = ("retest", "soaked")
"""Columns that say something of a fix."""
_WIDTH: Final = 10_000


class UnpointableError(Exception):
    """The text cannot be changed by pointing, because it cannot be read."""

    def __init__(self) -> None:
        super().__init__("the mapping's text cannot be read; mend it first, then point at columns")


def can_point(text: str) -> bool:
    """Whether a text can be read, so that it can be changed by pointing."""
    document = load_yaml(text, "")
    return isinstance(document.data, dict) and not document.problems


def is_long(text: str) -> bool:
    """Whether a mapping is of a long table."""
    return _entries(text).get("layout") == "long"


def settings_of(text: str) -> Mapping[str, str]:
    """Return what the text says of the table as a whole; empty where it says nothing."""
    data = _entries(text)
    return {name: value if isinstance(value := data.get(name), str) else "" for name in SETTINGS}


def meanings_of(text: str, table: Table) -> tuple[tuple[str, ...], ...]:
    """Return for each of the table's columns what the text says that it means; it may mean several things."""
    found: list[list[str]] = [[] for _ in table.header]
    for column, meaning in _uses(_entries(text)):
        place = table.place(column)
        if place is not None and place < len(found) and meaning not in found[place]:
            found[place].append(meaning)
    return tuple(map(tuple, found))


def point(
    text: str,
    table: Table,
    changes: Mapping[int, str],
    *,
    board: str,
    settings: Mapping[str, str] | None = None,
) -> str:
    """Change a mapping's text so that columns mean something else.

    Parameters
    ----------
    text
        The mapping as it stands.
    table
        The table that it is of.
    changes
        For places of columns the new meaning: ``""`` for none, one of ``FIELDS``, ``extra``, ``check NAME``,
        and what ``WIDE_ONLY`` or ``LONG_ONLY`` name. A field that had another column before has the new one.
    board
        The board of all rows where no column names it.
    settings
        Changes of ``SETTINGS``.

    Raises
    ------
    UnpointableError
        If the text cannot be read.
    """
    yaml = YAML()
    yaml.preserve_quotes = True
    yaml.width = _WIDTH
    yaml.indent(mapping=2, sequence=4, offset=2)
    data = _editable(yaml, text)
    for name, value in (settings or {}).items():
        _set(data, name, value)
    for place in changes:
        _forget(data, table, place)
    for place, meaning in changes.items():
        _mean(data, table.name(place), meaning)
    if "board" not in data:
        data["board"] = _flow({"always": board})
    stream = io.StringIO()
    yaml.dump(data, stream)
    return stream.getvalue()


def _entries(text: str) -> dict[str, Data]:
    data = load_yaml(text, "").data
    return data if isinstance(data, dict) else {}


def _editable(yaml: YAML, text: str) -> CommentedMap:
    """Read the text with its remarks; it was read once before, with care, by ``load_yaml``."""
    try:
        data = yaml.load(text) if can_point(text) else None
    except (YAMLError, ValueError):
        data = None
    if not isinstance(data, CommentedMap):
        raise UnpointableError
    return data


def _uses(data: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Give each column that a mapping names with what it means."""
    for name in FIELDS:
        for column in _columns(data.get(name)):
            yield column, name
    if isinstance(checks := data.get("checks"), dict):
        for column, said in checks.items():
            yield str(column), f"{CHECK}{said.get('check') if isinstance(said, dict) else said}"
    for fix in _fixes(data):
        yield from ((column, "fix") for column in _columns(fix))
        if isinstance(fix, dict):
            for part in _OF_FIX:
                yield from ((column, part) for column in _columns(fix.get(part)))
    yield from ((column, "step") for column in _columns(data.get("step")))
    if isinstance(reading := data.get("reading"), dict):
        for part in ("check", "value", "unit"):
            yield from ((column, f"reading {part}") for column in _columns(reading.get(part)))
    yield from ((column, EXTRA) for column in _columns(data.get("extra")))


def _columns(said: Any) -> list[str]:
    """Return the columns that an entry names: as a text, a list of them, or ``{column: …}``."""
    if isinstance(said, dict):
        said = said.get("column")
    return [str(each) for each in (said if isinstance(said, list) else [said]) if each is not None]


def _fixes(data: Mapping[str, Any]) -> list[Any]:
    fixes = data.get("fixes")
    listed = fixes if isinstance(fixes, list) else [] if fixes is None else [fixes]
    return [*listed, *([data["fix"]] if data.get("fix") is not None else [])]


def _set(data: CommentedMap, name: str, value: str) -> None:
    if value:
        data[name] = value
    else:
        data.pop(name, None)


def _forget(data: CommentedMap, table: Table, place: int) -> None:
    """Take a column out of everything that names it."""

    def is_it(column: str) -> bool:
        return table.place(column) == place

    for name in (*FIELDS, "step", EXTRA):
        _forget_in(data, name, is_it)
    if isinstance(checks := data.get("checks"), dict):
        for column in [each for each in checks if is_it(str(each))]:
            del checks[column]
        _drop_empty(data, "checks")
    if isinstance(reading := data.get("reading"), dict):
        for part in ("check", "value", "unit"):
            _forget_in(reading, part, is_it)
        _drop_empty(data, "reading")
    _forget_fixes(data, is_it)


def _forget_fixes(data: CommentedMap, is_it: Callable[[str], bool]) -> None:
    for fix in _fixes(data):
        if isinstance(fix, dict):
            for part in _OF_FIX:
                _forget_in(fix, part, is_it)
    if isinstance(fixes := data.get("fixes"), list):
        for fix in [each for each in fixes if any(map(is_it, _columns(each)))]:
            fixes.remove(fix)
        _drop_empty(data, "fixes")
    else:
        _forget_in(data, "fixes", is_it)
    _forget_in(data, "fix", is_it)


def _forget_in(data: dict[str, Any], name: str, is_it: Callable[[str], bool]) -> None:
    columns = _columns(data.get(name))
    kept = [column for column in columns if not is_it(column)]
    if len(kept) == len(columns):
        return
    if not kept:
        del data[name]
    else:
        data[name] = kept if len(kept) > 1 or name == EXTRA else kept[0]


def _drop_empty(data: CommentedMap, name: str) -> None:
    if not data[name]:
        del data[name]


def _mean(data: CommentedMap, column: str, meaning: str) -> None:
    if meaning in FIELDS or meaning == "step":
        _name(data, meaning, column)
    elif meaning.startswith(CHECK):
        if not isinstance(data.get("checks"), CommentedMap):
            data["checks"] = CommentedMap()
        data["checks"][column] = meaning.removeprefix(CHECK)
    elif meaning.startswith("reading "):
        if not isinstance(data.get("reading"), CommentedMap):
            data["reading"] = CommentedMap()
        _name(data["reading"], meaning.removeprefix("reading "), column)
    elif meaning == "fix":
        _mean_fix(data, column)
    elif meaning in _OF_FIX:
        _mean_of_fix(data, column, meaning)
    elif meaning == EXTRA:
        listed = CommentedSeq([*_columns(data.get(EXTRA)), column])
        listed.fa.set_flow_style()
        data[EXTRA] = listed


def _name(data: CommentedMap, name: str, column: str) -> None:
    """Name a field's column; words and units that stand there already stay."""
    said = data.get(name)
    if isinstance(said, CommentedMap) and "column" in said:
        said["column"] = column
    elif name in _TIMES:
        data[name] = _flow({"column": column, "unit": "min"})
    else:
        data[name] = column


def _mean_fix(data: CommentedMap, column: str) -> None:
    if data.get("layout") == "long":
        _name(data, "fix", column)
        return
    fixes = data.get("fixes")
    if not isinstance(fixes, CommentedSeq):
        data["fixes"] = CommentedSeq([] if fixes is None else [fixes])
    data["fixes"].append(_flow({"column": column}))


def _mean_of_fix(data: CommentedMap, column: str, part: str) -> None:
    """Give the last fix its retest or soak; where there is no fix yet, there is nothing it could be of."""
    if data.get("layout") == "long":
        _mean_of(data, "fix", column, part)
        return
    fixes = data.get("fixes")
    if fixes and not isinstance(fixes, CommentedSeq):
        fixes = data["fixes"] = CommentedSeq([fixes])
    if fixes:
        _mean_of(fixes, len(fixes) - 1, column, part)


def _mean_of(holder: Any, key: str | int, column: str, part: str) -> None:
    if isinstance(holder, dict) and key not in holder:
        return
    if not isinstance(holder[key], CommentedMap):
        holder[key] = _flow({"column": str(holder[key])})
    _name(holder[key], part, column)


def _flow(said: dict[str, str]) -> CommentedMap:
    """Write a few entries in braces on one line."""
    found = CommentedMap(said)
    found.fa.set_flow_style()
    return found
