"""Time the reading of restart records against a plain loop over the same lines, and measure what is kept.

Run: python benchmarks/bench_soak.py [lines]. Prints seconds of one processor, lines a second, the ratio to
the loop, and the most memory that reading held; other work on the machine does not count.
"""

import sys
import tempfile
import tracemalloc
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from time import process_time

from benchlore.library import read_restarts
from benchlore.soak import LogLook, read_record

NOW = datetime(2026, 11, 26, tzinfo=UTC)
START = datetime(2026, 1, 1, tzinfo=UTC)
BOOT_EVERY = 1000


def log_lines(count: int) -> Iterator[str]:
    """Lines of a log, one in a thousand a restart."""
    for k in range(count):
        what = "kernel: BOOT cold" if k % BOOT_EVERY == 7 else "app: heartbeat ok, nothing to tell"
        yield f"{(START + timedelta(seconds=2 * k)).isoformat()} tablet {what}\n"


def list_lines(count: int) -> Iterator[str]:
    """Lines that are restarts, all of them."""
    yield from ((START + timedelta(seconds=20 * k)).isoformat() + "\n" for k in range(min(count, 1_000_000)))


def table_lines(count: int) -> Iterator[str]:
    """A table with a temperature, one row in a thousand a restart."""
    yield "time;what;temperature\n"
    for k in range(count):
        yield f"{2 * k}.0;{'restart' if k % BOOT_EVERY == 7 else ''};{20 + k % 30}\n"


def supply_lines(count: int) -> Iterator[str]:
    """A bench supply's log with a drop now and then."""
    yield "time;volts;current\n"
    for k in range(count):
        yield f"{k / 10};3.80;{0.01 if k % 50_000 > 49_985 else 0.45}\n"


def main() -> None:
    """Print the times."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    kinds = {
        "log, --match": (log_lines, LogLook(match="BOOT")),
        "list of times": (list_lines, LogLook()),
        "table": (table_lines, LogLook()),
        "supply": (supply_lines, LogLook()),
    }
    with tempfile.TemporaryDirectory() as folder:
        for name, (lines, look) in kinds.items():
            path = Path(folder) / "record"
            with path.open("w", encoding="utf-8") as stream:
                stream.writelines(lines(count))
            start = process_time()
            with path.open(encoding="utf-8") as stream:
                read = sum(1 for _ in stream)
            baseline = process_time() - start
            start = process_time()
            found = read_restarts(path, look, now=NOW)
            taken = process_time() - start
            print(
                f"{name}: {read:,} lines, {found.record.count:,} events: {taken:.2f} s, "
                f"{read / taken:,.0f} lines a second; plain loop {baseline:.2f} s, "
                f"ratio {taken / baseline:.0f}"
            )
    for size in (count // 4, count):
        tracemalloc.start()
        read_record(log_lines(size), LogLook(match="BOOT"), now=NOW)
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        print(f"most memory held while reading a log of {size:,} lines: {most / 2**20:.1f} MiB")


if __name__ == "__main__":
    main()
