"""Whether a mapping fits a table and the books: its columns are there, its names known, its units right."""

from collections.abc import Callable, Collection, Iterable, Mapping

from benchlore.book import Book, Check
from benchlore.jobs.intake.booknames import board_names
from benchlore.jobs.intake.cells import Column
from benchlore.jobs.intake.mapping import ReadingColumns, Source, TableMapping
from benchlore.jobs.intake.names import Found
from benchlore.jobs.intake.readers import Readers
from benchlore.jobs.intake.table import Table
from benchlore.jobs.values import UNLISTED, Outcome, Retest
from benchlore.notation import Key, Problem, did_you_mean, quoted
from benchlore.notation.findings import Findings
from benchlore.units import UnitError, parse_reading


def check_mapping(mapping: TableMapping, table: Table, books: Mapping[str, Book]) -> tuple[Problem, ...]:
    """Return everything in which a mapping does not fit a table and the library's books."""
    fit = _Fit(mapping, table, books)
    fit.columns()
    fit.fields()
    fit.checks()
    fit.long_readings()
    fit.fixes()
    if not fit.findings.has_errors:
        fit.constants(Readers(table, mapping, books))
    return fit.findings.in_order()


class _Fit:
    """Compares one mapping with one table and the books that its rows may be about."""

    def __init__(self, mapping: TableMapping, table: Table, books: Mapping[str, Book]) -> None:
        self._mapping = mapping
        self._table = table
        self._all_books = books
        self.findings = Findings(mapping.positions)
        self._books = tuple(books.values())
        if mapping.board.always is not None:
            found = board_names(books, mapping.board.names).find(mapping.board.always)
            self._books = (books[found.name],) if isinstance(found, Found) else self._books

    def columns(self) -> None:
        """Find columns that the table does not have."""
        for column, key in dict.fromkeys(self._mapping.columns()):
            if self._table.place(column) is not None:
                continue
            hint = did_you_mean(column, self._table.header)
            if key == ("board",) and isinstance(board_names(self._all_books).find(column), Found):
                hint = f"; for the same board in every row write {{always: {column}}}"
            self.findings.error(key, "no-such-column", f"the table has no column {quoted(column)}{hint}")

    def fields(self) -> None:
        """Find words of the job's own fields that stand for unknown names."""
        mapping = self._mapping
        if not self._books:
            self.findings.error((), "no-books", "the library has no fault book that the jobs could be about")
            return
        self._meanings(mapping.board, "board", self._all_books)
        self._meanings(mapping.complaint, "complaint", self._every(lambda book: book.complaints))
        self._meanings(mapping.fault, "fault", [*self._every(lambda book: book.faults), UNLISTED])
        self._meanings(mapping.outcome, "outcome", list(map(str, Outcome)))
        self._meanings(mapping.comeback, "answer", ["yes", "no"])

    def checks(self) -> None:
        """Find unknown checks, and units, results and readings that they do not have."""
        for column in self._mapping.checks:
            self._known_check(column.check, column.key)
            self._unit(column.check, column.unit, (*column.key, "unit"))
            self._results(column.check, column.names, (*column.key, "names"))

    def long_readings(self) -> None:
        """Find the same in a long table's readings."""
        columns = self._mapping.reading
        if columns is None:
            return
        self._meanings(columns.check, "check", self._check_words(columns))
        for check, unit in columns.units.items():
            key = ("reading", "units", check)
            self._known_check(check, key)
            self._unit(check, unit, key)
        for check, words in columns.results.items():
            self._known_check(check, ("reading", "results", check))
            self._results(check, words, ("reading", "results", check))

    def fixes(self) -> None:
        """Find unknown fixes and retests."""
        mapping = self._mapping
        shared = mapping.reading.check.columns if mapping.reading else ()
        for fix in (*mapping.fixes, *([mapping.fix] if mapping.fix else [])):
            known = self._every(lambda book: book.fixes)
            if fix.source.columns == shared:
                known |= self._every(lambda book: book.checks)
            self._meanings(fix.source, "fix", known)
            if fix.retest and fix.retest.source:
                self._meanings(fix.retest.source, "outcome of a retest", list(map(str, Retest)))

    def constants(self, readers: Readers) -> None:
        """Find values for every row that cannot be read."""
        mapping = self._mapping
        boards = [readers.for_board(book.board.name) for book in self._books]
        kinds: list[tuple[Source | None, list[Column | None]]] = [
            (mapping.board, [readers.board]),
            (mapping.complaint, [each.complaint for each in boards]),
            (mapping.fault, [each.fault for each in boards]),
        ]
        kinds += [(getattr(mapping, name), [column]) for name, column in readers.fields.items()]
        for source, columns in kinds:
            reasons = [column.constant.reason for column in columns if column and column.constant]
            if source is not None and reasons and all(reasons) and (reason := reasons[0]):
                hint = f"; {reason.suggestion}" if reason.suggestion else ""
                self.findings.error((*source.key, "always"), "unreadable", f"{reason.message}{hint}")

    def _check_words(self, columns: ReadingColumns) -> dict[str, None]:
        known = self._every(lambda book: book.checks)
        fix = self._mapping.fix
        is_shared = fix is not None and fix.source.columns == columns.check.columns
        return known | self._every(lambda book: book.fixes) if is_shared else known

    def _meanings(self, source: Source | None, kind: str, known: Collection[str]) -> None:
        """Find words that stand for names which nobody has."""
        for word, name in source.names.items() if source else ():
            if name not in known:
                message = f"{quoted(word)} stands for the {kind} {quoted(name)}, which is not known"
                key = (*source.key, "names", word) if source else ()
                self.findings.error(key, "unknown-name", f"{message}{did_you_mean(name, known)}")

    def _known_check(self, name: str, key: Key) -> None:
        if not self._checks(name):
            hint = did_you_mean(name, self._every(lambda book: book.checks))
            self.findings.error(key, "unknown-name", f"no book has a check {quoted(name)}{hint}")

    def _unit(self, name: str, unit: str | None, key: Key) -> None:
        """Find a unit that a check's measure does not have."""
        for check in self._checks(name) if unit else []:
            if check.measures is None:
                self.findings.error(
                    key, "no-unit", f"{check.name} has results, not numbers, and takes no unit"
                )
                continue
            try:
                parse_reading("1", check.measures, unit=unit)
            except UnitError as error:
                self.findings.error(key, "unknown-unit", f"{error} ({check.name} measures {check.measures})")

    def _results(self, name: str, words: Mapping[str, str], key: Key) -> None:
        """Find words that stand for no result of their check, or for no reading of its measure."""
        checks = self._checks(name)
        for word, meaning in words.items() if checks else ():
            if not all(_is_result(check, meaning, self._mapping) for check in checks):
                results = checks[0].results
                hint = did_you_mean(meaning, results) if results else "; write a reading such as OL or 0 ohm"
                message = f"{quoted(word)} stands for {quoted(meaning)}, which {name} cannot show{hint}"
                self.findings.error((*key, word), "unknown-name", message)

    def _checks(self, name: str) -> list[Check]:
        return [book.checks[name] for book in self._books if name in book.checks]

    def _every(self, of: Callable[[Book], Iterable[str]]) -> dict[str, None]:
        """Return names of all the books, each once and in their order."""
        return dict.fromkeys(name for book in self._books for name in of(book))


def _is_result(check: Check, meaning: str, mapping: TableMapping) -> bool:
    if check.measures is None:
        return meaning in check.results
    try:
        parse_reading(meaning, check.measures, decimal=mapping.decimal)
    except UnitError:
        return False
    return True
