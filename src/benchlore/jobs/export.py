"""Jobs as three CSV files that any program reads and that give every job back exactly.

``jobs.csv`` has a row for each job, ``readings.csv`` and ``attempts.csv`` for each reading and attempt, in
the jobs' order; shop and number say which job. UTF-8, commas, quotes and line ends as RFC 4180 has them.
"""

import csv
import io
import os
import secrets
import shutil
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any, Final, TextIO, TypeAlias, TypeVar

from benchlore.jobs.errors import ExportExists, ExportTrouble, ExportUnreadable
from benchlore.jobs.export_cells import (
    choice_of,
    date_cell,
    date_of,
    number_cell,
    number_of,
    optional_text_cell,
    optional_text_of,
    text_cell,
    text_of,
    whole_of,
    yes_no_cell,
    yes_no_of,
)
from benchlore.jobs.storable import check_job
from benchlore.jobs.store_rows import extra_of, extra_text
from benchlore.jobs.store_values import Identity
from benchlore.jobs.values import Attempt, Job, Outcome, Reading, Retest
from benchlore.notation import reason_of

Row: TypeAlias = Sequence[str]
_T = TypeVar("_T")

JOB_COLUMNS: Final = (
    "shop",
    "number",
    "board",
    "complaint",
    "opened",
    "outcome",
    "fault",
    "fault_text",
    "hands_on_minutes",
    "waiting_minutes",
    "comeback",
    "technician",
    "notes",
    "extra",
)
READING_COLUMNS: Final = ("shop", "number", "step", "check", "result", "value", "text")
ATTEMPT_COLUMNS: Final = ("shop", "number", "step", "fix", "retest", "soaked_minutes")

FILES: Final = {"jobs.csv": JOB_COLUMNS, "readings.csv": READING_COLUMNS, "attempts.csv": ATTEMPT_COLUMNS}
"""The files of an export and their columns."""

_ADDED: Final = {"attempts.csv": ("soaked_minutes",)}
"""The last columns of files that an older benchlore wrote without them."""

_LONGEST_CELL: Final = 2**31 - 1

_BIT: Final = 65_536
"""Characters after which ``csv_text`` gives what it has."""


def export_csv(jobs: Iterable[Job], folder: Path) -> int:
    """Write jobs to ``folder``, whole or not at all, and return how many; an older export there is replaced.

    Raises
    ------
    ExportExists
        If something else than an export lies there.
    JobUnstorable
        If a job holds something that an export does not keep.
    ExportTrouble
        If the folder cannot be written.
    ValueError
        If two jobs have the same shop and number.
    """
    folder = Path(folder).resolve()
    _refuse_others(folder)
    beside = folder.with_name(f".{folder.name[:100]}.{secrets.token_hex(8)}.new")
    try:
        beside.mkdir()
        count = _write(jobs, beside)
        _put(beside, folder)
    except OSError as error:
        raise ExportTrouble(folder, f"the export was not written: {reason_of(error)}") from error
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    return count


def csv_text(jobs: Iterable[Job], file: str) -> Iterator[str]:
    """Give one file of an export (a name of ``FILES``) bit by bit, its head first."""
    rows = {"jobs.csv": _job_rows, "readings.csv": _reading_rows, "attempts.csv": _attempt_rows}[file]
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(FILES[file])
    for job in jobs:
        writer.writerows(rows(job))
        if stream.tell() >= _BIT:
            yield stream.getvalue()
            stream.seek(0)
            stream.truncate()
    yield stream.getvalue()


def import_csv(folder: Path) -> list[Job]:
    """Read an export; the jobs are as they were written.

    Raises
    ------
    ExportUnreadable
        If a file is missing, or a line of it is not as an export has it.
    """
    folder = Path(folder)
    jobs = _unique(folder / "jobs.csv", _rows(folder / "jobs.csv", _job_of))
    readings = _grouped(folder / "readings.csv", _rows(folder / "readings.csv", _reading_of), jobs)
    attempts = _grouped(folder / "attempts.csv", _rows(folder / "attempts.csv", _attempt_of), jobs)
    return [
        replace(job, readings=tuple(readings.get(name, ())), attempts=tuple(attempts.get(name, ())))
        for name, job in jobs.items()
    ]


def _write(jobs: Iterable[Job], folder: Path) -> int:
    seen: set[Identity] = set()
    with _writers(folder) as (write_jobs, write_readings, write_attempts):
        for job in jobs:
            check_job(job)
            if (job.shop, job.number) in seen:
                raise ValueError(
                    f"job {job.number!r} of shop {job.shop!r} is there twice; an export has each once"
                )
            seen.add((job.shop, job.number))
            write_jobs(_job_rows(job))
            write_readings(_reading_rows(job))
            write_attempts(_attempt_rows(job))
    return len(seen)


def _job_rows(job: Job) -> Iterator[Row]:
    yield (*_name(job), *_job_cells(job))


def _reading_rows(job: Job) -> Iterator[Row]:
    return ((*_name(job), *_reading_cells(reading)) for reading in job.readings)


def _attempt_rows(job: Job) -> Iterator[Row]:
    return ((*_name(job), *_attempt_cells(attempt)) for attempt in job.attempts)


def _name(job: Job) -> Row:
    return text_cell(job.shop), text_cell(job.number)


@contextmanager
def _writers(folder: Path) -> Iterator[list[Callable[[Iterable[Row]], Any]]]:
    """Open all files with their heads written; what is written has reached the disk at the end."""
    with ExitStack() as stack:
        streams = [
            stack.enter_context((folder / name).open("w", encoding="utf-8", newline="")) for name in FILES
        ]
        writers = [csv.writer(stream, lineterminator="\r\n") for stream in streams]
        for writer, columns in zip(writers, FILES.values(), strict=True):
            writer.writerow(columns)
        yield [writer.writerows for writer in writers]
        for stream in streams:
            _sync(stream)


def _sync(stream: TextIO) -> None:
    stream.flush()
    os.fsync(stream.fileno())


def _refuse_others(folder: Path) -> None:
    if folder == Path.cwd():
        raise ExportExists(folder, "this is the folder that you are in")
    if folder.is_file():
        raise ExportExists(folder, "this is a file")
    if folder.is_dir() and (others := {each.name for each in folder.iterdir()} - FILES.keys()):
        raise ExportExists(folder, f"this folder holds {min(others)!r}")


def _put(new: Path, folder: Path) -> None:
    """Rename the new folder into place; the old one goes aside first, and comes back if that fails."""
    if not folder.is_dir():
        new.replace(folder)
        return
    aside = new.with_suffix(".old")
    folder.replace(aside)
    try:
        new.replace(folder)
    except OSError:
        aside.replace(folder)
        raise
    shutil.rmtree(aside)


def _job_cells(job: Job) -> Row:
    return (
        text_cell(job.board),
        text_cell(job.complaint),
        date_cell(job.opened),
        job.outcome,
        optional_text_cell(job.fault),
        text_cell(job.fault_text),
        number_cell(job.hands_on),
        number_cell(job.waiting),
        yes_no_cell(job.comeback),
        text_cell(job.technician),
        text_cell(job.notes),
        extra_text(job),
    )


def _job_of(cells: Row) -> tuple[Identity, Job]:
    shop, number, board, complaint, opened, outcome, fault, fault_text, *rest = cells
    hands_on, waiting, comeback, technician, notes, extra = rest
    name = text_of(shop), text_of(number)
    return name, Job(
        *name,
        board=text_of(board),
        complaint=text_of(complaint),
        opened=date_of(opened),
        outcome=choice_of(Outcome, outcome),
        fault=optional_text_of(fault),
        fault_text=text_of(fault_text),
        hands_on=number_of(hands_on),
        waiting=number_of(waiting),
        comeback=yes_no_of(comeback),
        technician=text_of(technician),
        notes=text_of(notes),
        extra=extra_of(extra),
    )


def _reading_cells(reading: Reading) -> Row:
    return (
        str(reading.step),
        text_cell(reading.check),
        optional_text_cell(reading.result),
        number_cell(reading.value),
        text_cell(reading.text),
    )


def _reading_of(cells: Row) -> tuple[Identity, Reading]:
    shop, number, step, check, result, value, text = cells
    reading = Reading(
        text_of(check), whole_of(step), optional_text_of(result), number_of(value), text_of(text)
    )
    return (text_of(shop), text_of(number)), reading


def _attempt_cells(attempt: Attempt) -> Row:
    return str(attempt.step), text_cell(attempt.fix), attempt.retest, number_cell(attempt.soaked)


def _attempt_of(cells: Row) -> tuple[Identity, Attempt]:
    shop, number, step, fix, retest, soaked = cells
    attempt = Attempt(text_of(fix), whole_of(step), choice_of(Retest, retest), number_of(soaked))
    return (text_of(shop), text_of(number)), attempt


def _rows(path: Path, read: Callable[[Row], tuple[Identity, _T]]) -> Iterator[tuple[int, Identity, _T]]:
    """Read a file's rows, each with the line that it ends on."""
    line, columns, missing = 0, FILES[path.name], 0
    try:
        with path.open(encoding="utf-8-sig", newline="") as stream, _long_cells():
            reader = csv.reader(stream, strict=True)
            for cells in reader:
                line, head = reader.line_num, line == 0
                if head:
                    missing = _missing(cells, path.name)
                else:
                    yield line, *read(_whole_row([*cells, *[""] * missing], columns))
        if not line:
            raise ExportUnreadable(path, 0, "it is empty")
    except UnicodeDecodeError:
        raise ExportUnreadable(path, 0, "it is not UTF-8 text") from None
    except (ValueError, csv.Error) as error:
        raise ExportUnreadable(path, max(line, 1), str(error)) from None
    except OSError as error:
        raise ExportUnreadable(path, 0, reason_of(error)) from error


@contextmanager
def _long_cells() -> Iterator[None]:
    """Let cells be as long as they are: the reader's limit is for files of strangers, and shared by all."""
    limit = csv.field_size_limit(_LONGEST_CELL)
    try:
        yield
    finally:
        csv.field_size_limit(limit)


def _missing(head: Row, file: str) -> int:
    """Return how many of the last columns a file lacks because an older benchlore wrote it."""
    columns, added = FILES[file], _ADDED.get(file, ())
    if tuple(head) == columns:
        return 0
    if added and tuple(head) == columns[: -len(added)]:
        return len(added)
    raise ValueError(f"the columns are {', '.join(head)}; an export has {', '.join(columns)}")


def _whole_row(cells: Row, columns: Row) -> Row:
    if len(cells) != len(columns):
        raise ValueError(f"there are {len(cells)} cells; an export has {len(columns)} here")
    return cells


def _unique(path: Path, rows: Iterable[tuple[int, Identity, Job]]) -> dict[Identity, Job]:
    jobs: dict[Identity, Job] = {}
    for line, name, job in rows:
        if name in jobs:
            raise ExportUnreadable(path, line, f"job {name[1]!r} of shop {name[0]!r} is there twice")
        jobs[name] = job
    return jobs


def _grouped(
    path: Path, rows: Iterable[tuple[int, Identity, _T]], jobs: Mapping[Identity, Job]
) -> dict[Identity, list[_T]]:
    groups: dict[Identity, list[_T]] = {}
    for line, name, entry in rows:
        if name not in jobs:
            raise ExportUnreadable(path, line, f"job {name[1]!r} of shop {name[0]!r} is not in jobs.csv")
        groups.setdefault(name, []).append(entry)
    return groups
