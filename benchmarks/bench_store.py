"""Time a large intake from the shop's table to the store, and reading it back.

Run: python benchmarks/bench_store.py [jobs]. The baseline does the least that keeps the same table: the csv
module, and sqlite3's executemany into two tables; it understands nothing and checks nothing.
"""

import csv
import hashlib
import random
import sqlite3
import sys
import tempfile
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from time import perf_counter
from typing import TypeVar

from benchlore.book import Book, read_book
from benchlore.jobs import IntakeRecord, Place, Store, export_csv
from benchlore.jobs.intake import Preview, preview, read_mapping, read_table

CHECKS = 8
HEAD = ["Job", "Date", "Complaint", "Minutes", "Outcome", "Fault", *(f"c{n}" for n in range(CHECKS))]
BOOK = """
book: 1
board: {name: Benchmark board, device: Benchmark device}
licence: CC0-1.0
currency: EUR
conditions: {rail: {at: TP1, states: [normal, shorted]}}
faults: {short: {title: Short, causes: {rail: {shorted: 90 %}}}}
fixes: {replace: {cures: {short: 90 %}, how: x, takes: 5 min}}
complaints: {dead: {title: Dead, retest: {takes: 1 min}}}
checks:
"""
SHOWS = "{normal: 1 kohm ± 9 %, shorted: 0 to 1 ohm}"
CHECK = f"{{reads: rail, how: x, measures: resistance, takes: 1 min, shows: {SHOWS}}}"
MAPPING = """
mapping: 1
shop: Benchmark
decimal: comma
dates: day first
job: Job
board: {always: bench}
complaint: Complaint
opened: Date
hands on: Minutes
outcome: Outcome
fault: Fault
checks:
"""

_T = TypeVar("_T")


def main() -> None:
    """Print the times."""
    jobs = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    print(f"{jobs:,} jobs x {CHECKS} readings")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_table(folder / "jobs.csv", jobs)
        baseline = timed(
            "baseline: csv and sqlite3", lambda: plain(folder / "jobs.csv", folder / "plain.sqlite")
        )[0]
        reading, table = timed("read the table into jobs", lambda: read(folder / "jobs.csv"))
        adding, store = timed("add the jobs to a new store", lambda: add(folder, table))
        with store:
            assert store.count() == jobs
            timed("compare them with the store", lambda: store.would_add(table.jobs))
            again = timed("read all jobs back", lambda: sum(1 for _ in store.jobs()))[1]
            columns = timed("read all jobs as columns", lambda: store.columns("bench"))[1]
            timed("export as CSV", lambda: export_csv(store.jobs(), folder / "export"))
            assert again == len(columns) == jobs
    whole = reading + adding
    print(f"intake {whole:.1f} s, {whole / baseline:.1f} x baseline, store {adding / baseline:.1f} x")


def timed(what: str, work: Callable[[], _T]) -> tuple[float, _T]:
    """Do the work and print how long it took."""
    start = perf_counter()
    result = work()
    seconds = perf_counter() - start
    print(f"  {what:30} {seconds:6.2f} s")
    return seconds, result


def write_table(path: Path, jobs: int) -> None:
    """Write a shop's table, with readings that are nearly all different."""
    rng = random.Random(1)
    with path.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.writer(stream, delimiter=";")
        writer.writerow(HEAD)
        for number in range(jobs):
            readings = (f"{rng.lognormvariate(6, 3):.4g}".replace(".", ",") for _ in range(CHECKS))
            day = f"{rng.randint(1, 28):02}.{rng.randint(1, 12):02}.2026"
            writer.writerow([f"J{number}", day, "Dead", rng.randint(5, 90), "repaired", "Short", *readings])


def plain(path: Path, target: Path) -> None:
    """Keep the table as it stands."""
    with closing(sqlite3.connect(target)) as connection, path.open(newline="", encoding="utf-8") as stream:
        connection.execute(
            "CREATE TABLE job (id INTEGER PRIMARY KEY, number, day, complaint, minutes, outcome, fault)"
        )
        connection.execute(
            "CREATE TABLE reading (job, place, check_name, text, PRIMARY KEY (job, place)) WITHOUT ROWID"
        )
        reader = csv.reader(stream, delimiter=";")
        names = next(reader)[6:]
        rows = list(reader)
        connection.executemany(
            "INSERT INTO job VALUES (?, ?, ?, ?, ?, ?, ?)",
            ((place, *row[:6]) for place, row in enumerate(rows)),
        )
        readings = (
            (place, n, names[n], text) for place, row in enumerate(rows) for n, text in enumerate(row[6:])
        )
        connection.executemany("INSERT INTO reading VALUES (?, ?, ?, ?)", readings)
        connection.commit()


def read(path: Path) -> Preview:
    """Understand the table."""
    columns = "".join(f"  c{n}: {{check: c{n}, unit: ohm}}\n" for n in range(CHECKS))
    mapping = read_mapping(MAPPING + columns, "mapping.yaml")
    assert mapping.mapping is not None, mapping.problems
    found = preview(read_table(path, mapping.mapping), mapping.mapping, {"bench": book()})
    assert not found.problems, found.problems
    return found


def book() -> Book:
    """Make a book with the checks."""
    found = read_book(BOOK + "".join(f"  c{n}: {CHECK}\n" for n in range(CHECKS)), name="bench")
    assert found.book is not None, found.problems
    return found.book


def add(folder: Path, table: Preview) -> Store:
    """Store the jobs and where they stood."""
    sha256 = hashlib.sha256((folder / "jobs.csv").read_bytes()).hexdigest()
    places = {("Benchmark", number): Place("", row) for number, row in table.first_rows().items()}
    store = Store.open(folder)
    store.add(
        table.jobs,
        intake=IntakeRecord("jobs.csv", sha256, datetime.now(UTC), "bench", len(table.rows), 0, places),
    )
    return store


if __name__ == "__main__":
    main()
