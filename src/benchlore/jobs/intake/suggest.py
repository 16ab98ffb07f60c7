"""The first draft of a mapping file for a table that nobody has described yet."""

import json
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Final

from benchlore.book import Book
from benchlore.jobs.intake.booknames import (
    check_names,
    comeback_names,
    complaint_names,
    fault_names,
    fix_names,
    outcome_names,
    result_names,
)
from benchlore.jobs.intake.guess import (
    Guess,
    Sampled,
    date_order,
    decimal_mark,
    guess,
    needs_date_order,
    sample,
    split_mark,
    time_unit_of,
    unit_of,
    words_left,
)
from benchlore.jobs.intake.names import Names
from benchlore.jobs.intake.table import Table
from benchlore.jobs.intake.words import YES_NO, fold, squeezed

_PLAIN: Final = re.compile(r"[^\W_][\w .()/+-]*")
_MOST_WORDS: Final = 25
_LONGEST_WORD: Final = 80


def suggest_mapping(table: Table, book: Book) -> str:
    """Draft a mapping file for ``table`` as the jobs of ``book``'s board.

    Every guess is marked, words that the book does not know are listed with the names to choose from, and
    columns that nothing uses are named. The draft can be read as it stands.
    """
    found = guess(sample(table), book)
    lines = [*_head(table, book, found), *_job_lines(found, book)]
    lines += _long_lines(found, book) if found.is_long else _wide_lines(found, book)
    lines += _unused(found)
    return "\n".join(lines) + "\n"


def _head(table: Table, book: Book, found: Guess) -> Iterator[str]:
    yield f"# A draft, guessed from {_remark(table.path.name)} and the book {book.board.name}."
    yield "# Look at every line: '#' begins a remark, '?' asks for a name. Then look at the preview."
    yield "mapping: 1"
    yield "shop: My shop                 # this shop's name; keep it the same for ever"
    yield f"layout: {'long' if found.is_long else 'wide'}"
    if table.sheet:
        yield f"sheet: {_quoted(table.sheet)}"
    if len(table.top) > 1:
        yield f"header row: {len(table.top)}"
    yield from _dates(found)
    mark = decimal_mark([column for column, _ in found.checks] + list(_valued(found)))
    if mark is not None:
        yield f"decimal: {mark}"
    yield ""


def _valued(found: Guess) -> Iterator[Sampled]:
    return (column for part, column in found.fields.items() if part == "value")


def _dates(found: Guess) -> Iterator[str]:
    if "opened" not in found.fields:
        return
    texts = list(found.fields["opened"].texts)
    order = date_order(texts)
    if order is not None:
        yield f"dates: {order}"
    elif needs_date_order(texts):
        yield "# dates: day first   # ? or month first: the first rows can be read either way"


def _job_lines(found: Guess, book: Book) -> Iterator[str]:
    fields = found.fields
    if "job" in fields:
        yield f"job: {_quoted(fields['job'].header)}"
    else:
        place = found.rest[0].place if found.rest else 0
        header = found.rest[0].header if found.rest else "column A"
        yield f"job: {_quoted(header)}   # ? no column looks like a job number; column {place + 1} stands in"
    yield from _board(fields, book)
    if "complaint" in fields:
        yield from _named("complaint", fields["complaint"], complaint_names(book))
    else:
        complaint = next(iter(book.complaints), "?")
        choices = _choices(complaint_names(book))
        yield f"complaint: {{always: {_quoted(complaint)}}}   # ? or one of: {choices}"
    for part in ("opened", "technician", "notes"):
        if part in fields:
            yield f"{part}: {_quoted(fields[part].header)}"
    for part in ("hands on", "waiting"):
        if part in fields:
            yield f"{part}: {_time(fields[part])}"
    if "outcome" in fields:
        yield from _named("outcome", fields["outcome"], outcome_names())
    if "fault" in fields:
        yield from _named("fault", fields["fault"], fault_names(book))
    if "comeback" in fields:
        yield from _named("comeback", _without_usual(fields["comeback"]), comeback_names())


def _board(fields: Mapping[str, Sampled], book: Book) -> Iterator[str]:
    always = f"board: {{always: {_quoted(book.board.name)}}}"
    if "board" not in fields:
        yield always
        return
    column = fields["board"]
    yield f"{always}   # or, where jobs of other boards are to be passed over:"
    names = f"{{?: {book.board.name}}}"
    yield f"# board: {{column: {_quoted(column.header)}, names: {names}, otherwise: leave out}}"


def _without_usual(column: Sampled) -> Sampled:
    """Forget the words for yes and no that need no explaining."""
    texts = {text: count for text, count in column.texts.items() if (fold(text) or text) not in YES_NO}
    return replace(column, texts=Counter(texts))


def _time(column: Sampled) -> str:
    """Write a column whose bare numbers are times."""
    return f"{{column: {_quoted(column.header)}, unit: {_quoted(time_unit_of(column) or 'min')}}}"


def _named(
    part: str, column: Sampled, names: Names, indent: str = "", extra: Sequence[str] = ()
) -> Iterator[str]:
    """Write a column whose cells are names, with the words that need explaining."""
    words = list(words_left(column, names))
    if not words:
        plain = _quoted(column.header)
        more = "".join(f", {each}" for each in extra)
        yield f"{indent}{part}: {{column: {plain}{more}}}" if extra else f"{indent}{part}: {plain}"
        return
    yield f"{indent}{part}:"
    yield f"{indent}  column: {_quoted(column.header)}"
    yield from (f"{indent}  {line}" for line in extra)
    yield from _word_lines(words, names, f"{indent}  ")


def _word_lines(words: list[tuple[str, str | None, int]], names: Names, indent: str) -> Iterator[str]:
    """Write the words that came close to a name, and ask for the others."""
    close = [(word, name) for word, name, _ in words if name and len(word) <= _LONGEST_WORD]
    if close:
        yield f"{indent}names:"
        yield from (
            f"{indent}  {_quoted(word)}: {_quoted(name)}   # ? a close spelling" for word, name in close
        )
    open_words = [(word, count) for word, name, count in words if not name]
    if open_words:
        yield f"{indent}# names to choose from: {_choices(names)}"
        yield from () if close else (f"{indent}# names:",)
        for word, count in open_words[:_MOST_WORDS]:
            times = f"   # in {count} of the first rows" if count > 1 else ""
            yield f"{indent}#   {_quoted(word[:_LONGEST_WORD])}: ?{times}"
        if len(open_words) > _MOST_WORDS:
            yield f"{indent}#   and {len(open_words) - _MOST_WORDS} more"


def _wide_lines(found: Guess, book: Book) -> Iterator[str]:
    if found.checks:
        yield ""
        yield "checks:"
    for column, name in found.checks:
        yield from _check(column, name, book)
    if "fixes" in found.fields:
        yield ""
        yield "fixes:"
        column = found.fields["fixes"]
        names = fix_names(book)
        yield f"  - column: {_quoted(column.header)}"
        if mark := split_mark(column, names):
            yield f'    split: "{mark}"'
        if "soaked" in found.fields:
            yield f"    soaked: {_time(found.fields['soaked'])}"
        yield from _word_lines(list(words_left(_cut(column, mark), names)), names, "    ")


def _cut(column: Sampled, mark: str | None) -> Sampled:
    """Return a column as if each text of its lists stood in a cell of its own."""
    texts: Counter[str] = Counter()
    for text, count in column.texts.items():
        for part in text.split(mark) if mark else [text]:
            if squeezed(part):
                texts[squeezed(part)] += count
    return replace(column, texts=texts)


def _check(column: Sampled, name: str, book: Book) -> Iterator[str]:
    check, header = book.checks[name], _quoted(column.header)
    if check.measures is not None:
        unit = unit_of(column, name, book)
        yield f"  {header}: {{check: {name}, unit: {_quoted(unit)}}}" if unit else f"  {header}: {name}"
        return
    names = result_names(check)
    words = list(words_left(column, names))
    if not words:
        yield f"  {header}: {name}"
        return
    yield f"  {header}:"
    yield f"    check: {name}"
    yield from _word_lines(words, names, "    ")


def _long_lines(found: Guess, book: Book) -> Iterator[str]:
    fields = found.fields
    yield ""
    if "step" in fields:
        yield f"step: {_quoted(fields['step'].header)}"
    value = fields.get("value") or (found.rest[0] if found.rest else fields["check"])
    remark = "" if "value" in fields else "   # ? no column looks like the values"
    yield "reading:"
    yield from _named("check", fields["check"], check_names(book), "  ")
    yield f"  value: {_quoted(value.header)}{remark}"
    if "unit" in fields:
        yield f"  unit: {_quoted(fields['unit'].header)}"
    if "fixes" in fields:
        more = [f"retest: {_quoted(fields['retest'].header)}"] if "retest" in fields else []
        more += [f"soaked: {_time(fields['soaked'])}"] if "soaked" in fields else []
        yield from _named("fix", fields["fixes"], fix_names(book), extra=more)


def _unused(found: Guess) -> Iterator[str]:
    headers = [_remark(column.header) for column in found.rest]
    if headers:
        yield ""
        yield f"# Not used: {', '.join(headers)}."
        yield "# 'extra: [ ]' keeps a column with its job as it stands; leave out what is about customers."


def _choices(names: Names) -> str:
    return ", ".join(names.known)


def _remark(text: str) -> str:
    """Return ``text`` as it can stand in a remark, which is one line."""
    return "".join(letter if letter.isprintable() else " " for letter in text)


def _quoted(text: str) -> str:
    """Write ``text`` as YAML reads it back, within braces too."""
    plain = _remark(text).strip()
    is_plain = (
        _PLAIN.fullmatch(plain)
        and plain.casefold() not in {"null", "true", "false"}
        and plain == plain.strip()
    )
    return plain if is_plain else json.dumps(plain, ensure_ascii=False)
