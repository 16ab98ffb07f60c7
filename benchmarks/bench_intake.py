"""Time the intake of a large CSV table against reading the same file with the csv module alone.

Run: python benchmarks/bench_intake.py [rows]. Prints seconds of one processor, rows a second, and the
ratio to the baseline; other work on the machine does not count.
"""

import csv
import random
import sys
import tempfile
from pathlib import Path
from time import process_time

from benchlore.book import Book, read_book
from benchlore.jobs.intake import preview, read_mapping, read_table

CHECKS = 8
BOOK = """
book: 1
board: {name: Benchmark board, device: Benchmark device}
licence: CC0-1.0
currency: EUR
conditions: {rail: {at: TP1, states: [normal, shorted]}}
checks:
"""
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


def book() -> Book:
    """Make a book with measured checks."""
    shows = "{normal: 1 kohm ± 9 %, shorted: 0 to 1 ohm}"
    check = f"reads: rail, how: x, measures: resistance, takes: 1 min, shows: {shows}"
    checks = "".join(f"  c{n}: {{{check}}}\n" for n in range(CHECKS))
    rest = """
faults: {short: {title: Short, causes: {rail: {shorted: 90 %}}}}
fixes: {replace: {cures: {short: 90 %}, how: x, takes: 5 min}}
complaints: {dead: {title: Does not start, retest: {takes: 1 min}}}
"""
    read = read_book(BOOK + checks + rest, name="bench")
    assert read.book is not None, read.problems
    return read.book


def write_table(path: Path, rows: int) -> None:
    """Write a table whose readings are nearly all different."""
    rng = random.Random(1)
    with path.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.writer(stream, delimiter=";")
        writer.writerow(
            [
                "Job",
                "Date",
                "Complaint",
                "Minutes",
                "Outcome",
                "Fault",
                *(f"c{n} (ohm)" for n in range(CHECKS)),
            ]
        )
        for number in range(rows):
            readings = (f"{rng.lognormvariate(6, 3):.4g}".replace(".", ",") for _ in range(CHECKS))
            day = f"{rng.randint(1, 28):02}.{rng.randint(1, 12):02}.2026"
            writer.writerow([f"J{number}", day, "Dead", rng.randint(5, 90), "repaired", "Short", *readings])


def main() -> None:
    """Print the times."""
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    mapping = MAPPING + "".join(f"  c{n} (ohm): c{n}\n" for n in range(CHECKS))
    mapping = mapping.replace("complaint: Complaint", "complaint: {column: Complaint, names: {Dead: dead}}")
    read = read_mapping(mapping, "mapping.yaml")
    assert read.mapping is not None, read.problems
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "jobs.csv"
        write_table(path, rows)
        start = process_time()
        with path.open(newline="", encoding="utf-8") as stream:
            assert sum(1 for _ in csv.reader(stream, delimiter=";")) == rows + 1
        baseline = process_time() - start
        start = process_time()
        found = preview(read_table(path, read.mapping), read.mapping, {"bench": book()})
        taken = process_time() - start
    assert len(found.jobs) == rows, found.problems or found.rows[:3]
    print(f"{rows:,} rows x {CHECKS} readings: {taken:.1f} s, {rows / taken:,.0f} rows a second")
    print(f"csv module alone: {baseline:.2f} s; ratio {taken / baseline:.0f}")


if __name__ == "__main__":
    main()
