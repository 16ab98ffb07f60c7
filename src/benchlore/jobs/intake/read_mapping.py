"""Reading a mapping file: text in, a mapping or everything that is wrong with it out."""

import codecs
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from benchlore.jobs.intake.limits import MOST_COLUMNS, MOST_ROWS
from benchlore.jobs.intake.mapping import (
    LEAVE_OUT,
    NOT_CONFIRMED,
    CheckColumn,
    DateOrder,
    DecimalMark,
    FixColumn,
    Layout,
    Order,
    ReadingColumns,
    RetestSource,
    Source,
    TableMapping,
    Unreadable,
)
from benchlore.jobs.intake.walk import Walk
from benchlore.jobs.intake.words import minutes
from benchlore.jobs.values import UNLISTED
from benchlore.notation import Key, Problem, listed, load_yaml, quoted
from benchlore.notation.document import Data
from benchlore.units import UnitError

VERSION: Final = "1"
_DECIMALS: Final[Mapping[str, DecimalMark]] = {"comma": "comma", "point": "point", "either": "either"}
_SETTINGS: Final = ("mapping", "shop", "layout", "sheet", "header row", "separator", "encoding", "dates")
_MORE_SETTINGS: Final = ("decimal", "blank", "unreadable readings", "extra")
_NOT_FOR_FILES: Final = frozenset(
    {"idna", "punycode", "raw-unicode-escape", "undefined", "unicode-escape", "utf-7"}
)
"""Python's names of encodings that are none of a file's, or that give halves of characters."""

_FIELDS: Final = {
    "job": (),
    "board": ("names", "otherwise"),
    "complaint": ("names", "otherwise"),
    "opened": (),
    "technician": ("names",),
    "hands on": ("unit", "per"),
    "waiting": ("unit", "per"),
    "outcome": ("names",),
    "fault": ("names", "otherwise"),
    "comeback": ("names",),
    "notes": (),
}
_NEEDED: Final = ("mapping", "shop", "job", "board", "complaint")
_LAYOUT_KEYS: Final = {Layout.WIDE: ("order", "checks", "fixes"), Layout.LONG: ("step", "reading", "fix")}
_OTHERWISE: Final = {
    "board": (LEAVE_OUT,),
    "complaint": (LEAVE_OUT,),
    "fault": (UNLISTED, NOT_CONFIRMED),
}


@dataclass(frozen=True, slots=True)
class ReadMapping:
    """A mapping file's ``mapping`` (``None`` where something in it is wrong) and its ``problems``."""

    mapping: TableMapping | None
    problems: tuple[Problem, ...]


def read_mapping(text: str, file: str) -> ReadMapping:
    """Read a mapping file, called ``file`` in the problems; whatever the text is, the answer is a value."""
    document = load_yaml(text, file)
    walk = Walk(document.positions, list(document.problems))
    if document.data is None:
        if not walk.problems:
            walk.error((), "empty", "the mapping file is empty; begin with 'mapping: 1'")
        return ReadMapping(None, walk.in_order())
    mapping = _mapping(walk, document.data)
    return ReadMapping(None if walk.has_errors else mapping, walk.in_order())


def _mapping(walk: Walk, data: Data) -> TableMapping | None:
    if not isinstance(data, dict):
        walk.error(
            (), "wrong-kind", "a mapping file holds lines such as 'job: Auftrag'; this is something else"
        )
        return None
    layout = (
        walk.choice(data["layout"], ("layout",), Layout, Layout.WIDE) if "layout" in data else Layout.WIDE
    )
    _check_keys(walk, data, layout)
    sources = {name: _field(walk, data, name) for name in _FIELDS if name in data}
    settings = _settings(walk, data)
    kinds = _wide(walk, data) if layout is Layout.WIDE else _long(walk, data)
    if not all(sources.get(name) for name in ("job", "board", "complaint")):
        return None
    fields: dict[str, Any] = {name.replace(" ", "_"): source for name, source in sources.items() if source}
    return TableMapping(walk.positions, layout=layout, **settings, **fields, **kinds)


def _check_keys(walk: Walk, data: dict[str, Data], layout: Layout) -> None:
    """Note entries that are unknown, missing, or belong to the other layout."""
    other = Layout.LONG if layout is Layout.WIDE else Layout.WIDE
    for name in sorted(data.keys() & set(_LAYOUT_KEYS[other])):
        mine = listed(_LAYOUT_KEYS[layout])
        message = f"'{name}' belongs to 'layout: {other}', and this is 'layout: {layout}', which has {mine}"
        walk.error((name,), "other-layout", message)
    known = (*_SETTINGS, *_MORE_SETTINGS, *_FIELDS, *_LAYOUT_KEYS[layout])
    walk.table({name: each for name, each in data.items() if name not in _LAYOUT_KEYS[other]}, (), known)
    for name in _NEEDED:
        if name not in data:
            walk.error((), "missing", f"'{name}' is missing; see that the file says it")
    if "mapping" in data and data["mapping"] != VERSION:
        message = (
            f"'mapping' is the format's version, {VERSION}; this file says {quoted(str(data['mapping']))}"
        )
        walk.error(("mapping",), "unknown-version", message)
    if layout is Layout.LONG and not data.keys() & {"reading", "fix"}:
        walk.error((), "missing", "a long table needs 'reading', 'fix' or both")


def _settings(walk: Walk, data: dict[str, Data]) -> dict[str, Any]:
    """Return what the mapping says about the table as a whole."""
    found: dict[str, Any] = {"shop": None}
    for name in sorted(data.keys() & {"shop", "sheet"}):
        found[name] = walk.text(data[name], (name,))
    if "header row" in data:
        found["header_rows"] = _header_rows(walk, data["header row"])
    if "separator" in data:
        found["separator"] = _separator(walk, data["separator"])
    if "encoding" in data:
        found["encoding"] = _encoding(walk, data["encoding"])
    if "dates" in data:
        found["dates"] = walk.choice(data["dates"], ("dates",), DateOrder, DateOrder.DAY_FIRST)
    if "decimal" in data:
        found["decimal"] = _decimal(walk, data["decimal"])
    if "unreadable readings" in data:
        key = ("unreadable readings",)
        found["unreadable"] = walk.choice(data[key[0]], key, Unreadable, Unreadable.REFUSE)
    for name in sorted(data.keys() & {"blank", "extra"}):
        found[name] = walk.texts(data[name], (name,))
    return found


def _header_rows(walk: Walk, data: Data) -> tuple[int, ...]:
    key = ("header row",)
    if not isinstance(data, list):
        row = walk.whole(data, key, MOST_ROWS)
        return (row,) if row else ()
    rows = [walk.whole(each, (*key, number), MOST_ROWS) for number, each in enumerate(data)]
    found = [row for row in rows if row]
    if not found or found != sorted(set(found)):
        walk.error(key, "bad-header", "name the header's rows from top to bottom, such as [2, 3]")
    return tuple(found)


def _separator(walk: Walk, data: Data) -> str | None:
    if data == "\t" or (isinstance(data, str) and data.casefold().strip() in {"tab", r"\t"}):
        return "\t"
    text = walk.text(data, ("separator",))
    if text and (len(text) > 1 or text.isalnum() or text in "\"'\n\r.-" or not text.isprintable()):
        message = f"{quoted(text)} cannot separate columns; write ';', ',', '|' or tab"
        walk.error(("separator",), "bad-separator", message)
        return None
    return text


def _encoding(walk: Walk, data: Data) -> str | None:
    text = walk.text(data, ("encoding",))
    if text is None:
        return None
    try:
        "a".encode(text)
        is_known = codecs.lookup(text).name not in _NOT_FOR_FILES
    except (LookupError, ValueError):
        is_known = False
    if not is_known:
        message = f"unknown encoding {quoted(text)}; write utf-8, utf-16 or windows-1252, or leave it out"
        walk.error(("encoding",), "unknown-encoding", message)
        return None
    return text


def _decimal(walk: Walk, data: Data) -> DecimalMark:
    text = walk.text(data, ("decimal",)) or "either"
    if text not in _DECIMALS:
        walk.error(
            ("decimal",), "unknown-choice", f"{quoted(text)} is none of {listed(list(_DECIMALS), 'or')}"
        )
    return _DECIMALS.get(text, "either")


def _field(walk: Walk, data: dict[str, Data], name: str) -> Source | None:
    """Read one of the job's own fields."""
    key = (name,)
    if name == "job" and isinstance(data[name], list):
        columns = walk.texts(data[name], key)
        return Source(key, columns) if columns else None
    source = _source(walk, data[name], key, _FIELDS[name])
    if name == "job" and source and source.always is not None:
        walk.error(
            key, "same-for-all", "each job has a number of its own, so 'job' names a column or several"
        )
    return source


def _source(walk: Walk, data: Data, key: Key, more: tuple[str, ...] = ("names",)) -> Source | None:
    """Read a column's header, ``{column: …}`` or ``{always: …}``; ``more`` entries may stand beside."""
    if not isinstance(data, dict):
        column = walk.text(data, key)
        return Source(key, (column,)) if column else None
    walk.table(data, key, ("column", "always", *more))
    if ("column" in data) == ("always" in data):
        walk.error(
            key, "no-column", "say either 'column' (the column's header) or 'always' (the same for every row)"
        )
        return None
    entry = "column" if "column" in data else "always"
    text = walk.text(data[entry], (*key, entry))
    if text is None:
        return None
    where = {"columns": (text,)} if entry == "column" else {"always": text}
    return Source(key, **where, **_source_options(walk, data, key, more))


def _source_options(walk: Walk, data: dict[str, Data], key: Key, more: tuple[str, ...]) -> dict[str, Any]:
    options: dict[str, Any] = {}
    given = data.keys() & set(more)
    if "names" in given:
        options["names"] = walk.words(data["names"], (*key, "names"))
    if "otherwise" in given:
        options["otherwise"] = _one_of(walk, data["otherwise"], (*key, "otherwise"), _OTHERWISE[str(key[0])])
    if "unit" in given:
        options["unit"] = _time_unit(walk, data["unit"], (*key, "unit"))
    if "per" in given:
        options["per_row"] = _one_of(walk, data["per"], (*key, "per"), ("row", "job")) == "row"
    return options


def _one_of(walk: Walk, data: Data, key: Key, choices: tuple[str, ...]) -> str | None:
    text = walk.text(data, key)
    if text is not None and text not in choices:
        walk.error(key, "unknown-choice", f"{quoted(text)} is not {listed(choices, 'or')}")
    return text


def _time_unit(walk: Walk, data: Data, key: Key) -> str | None:
    text = walk.text(data, key)
    if text is None:
        return None
    try:
        minutes("1", text)
    except UnitError:
        walk.error(key, "unknown-unit", f"{quoted(text)} is no unit of time; write min, h, s or d")
    return text


def _wide(walk: Walk, data: dict[str, Data]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    if "order" in data:
        found["order"] = walk.choice(data["order"], ("order",), Order, Order.READINGS_FIRST)
    if "checks" in data:
        found["checks"] = _checks(walk, data["checks"])
    if "fixes" in data:
        each = data["fixes"] if isinstance(data["fixes"], list) else [data["fixes"]]
        keys: list[Key] = [
            ("fixes", n) if isinstance(data["fixes"], list) else ("fixes",) for n in range(len(each))
        ]
        fixes = (_fix(walk, one, key) for one, key in zip(each, keys, strict=True))
        found["fixes"] = tuple(fix for fix in fixes if fix)
    return found


def _checks(walk: Walk, data: Data) -> tuple[CheckColumn, ...]:
    if not isinstance(data, dict):
        walk.error(
            ("checks",), "wrong-kind", "'checks' takes lines such as 'VSYS (Ohm): vsys-ohms', column: check"
        )
        return ()
    if len(data) > MOST_COLUMNS:
        walk.error(("checks",), "too-many", f"'checks' names more than {MOST_COLUMNS} columns")
        return ()
    found = (_check(walk, column, data[column], ("checks", column)) for column in data)
    return tuple(check for check in found if check)


def _check(walk: Walk, column: str, data: Data, key: Key) -> CheckColumn | None:
    if not isinstance(data, dict):
        name = walk.text(data, key)
        return CheckColumn(key, column, name) if name else None
    walk.table(data, key, ("check", "unit", "names"))
    if "check" not in data:
        walk.error(key, "missing", f"say which check the column {quoted(column)} holds, as 'check: …'")
        return None
    name = walk.text(data["check"], (*key, "check"))
    unit = walk.text(data["unit"], (*key, "unit")) if "unit" in data else None
    names = walk.words(data["names"], (*key, "names")) if "names" in data else {}
    return CheckColumn(key, column, name, unit, names) if name else None


def _fix(walk: Walk, data: Data, key: Key) -> FixColumn | None:
    more = ("names", "split", "retest", "soaked")
    source = _source(walk, data, key, more)
    if source is None:
        return None
    split = retest = soaked = None
    if isinstance(data, dict) and "split" in data:
        split = walk.text(data["split"], (*key, "split"))
    if isinstance(data, dict) and "retest" in data:
        retest = _retest(walk, data["retest"], (*key, "retest"))
    if isinstance(data, dict) and "soaked" in data:
        soaked = _source(walk, data["soaked"], (*key, "soaked"), ("unit",))
    if source.always is not None:
        walk.error(key, "same-for-all", "fixes stand in a column; name it with 'column'")
    return FixColumn(key, source, split, retest, soaked)


def _retest(walk: Walk, data: Data, key: Key) -> RetestSource | None:
    if isinstance(data, dict) and "from" in data:
        walk.table(data, key, ("from",))
        _one_of(walk, data["from"], (*key, "from"), ("outcome",))
        return RetestSource(key)
    source = _source(walk, data, key)
    return RetestSource(key, source) if source else None


def _long(walk: Walk, data: dict[str, Data]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    if "step" in data:
        found["step"] = _source(walk, data["step"], ("step",), ())
    if "reading" in data:
        found["reading"] = _reading(walk, data["reading"])
    if "fix" in data:
        found["fix"] = _fix(walk, data["fix"], ("fix",))
    return found


def _reading(walk: Walk, data: Data) -> ReadingColumns | None:
    key: Key = ("reading",)
    entries = walk.table(data, key, ("check", "value", "unit", "units", "results"))
    if not {"check", "value"} <= entries.keys():
        walk.error(
            key,
            "missing",
            "'reading' needs 'check' and 'value', the columns of the check's name and its value",
        )
        return None
    check = _source(walk, entries["check"], ("reading", "check"))
    value = _source(walk, entries["value"], ("reading", "value"), ())
    unit = _source(walk, entries["unit"], ("reading", "unit"), ()) if "unit" in entries else None
    units = walk.words(entries["units"], ("reading", "units")) if "units" in entries else {}
    results = {}
    if "results" in entries and isinstance(entries["results"], dict):
        results = {
            name: walk.words(each, (*key, "results", name)) for name, each in entries["results"].items()
        }
    elif "results" in entries:
        walk.error(
            (*key, "results"),
            "wrong-kind",
            "'results' takes for each check its words: {liquid-mark: {ja: wet}}",
        )
    return ReadingColumns(key, check, value, unit, units, results) if check and value else None
