"""The site: pressed whole, and again with one book changed, on two cores.

Run: python benchmarks/bench_press.py [books [plans]]. Books of 15 faults, 12 checks and 15 fixes are made
from fixed seeds, each with one complaint. They are planned first (quick), which is timed by itself; where
fewer ``plans`` are asked for, the other books have the knowledge, and hence the procedure, of one of these
under names of their own, so that pressing them is the same work. Then the site is pressed into an empty
folder, with its sheets as PDF and the bench in each page, then again with nothing changed, then with one book
changed. The ratio is to the first press.
"""

import json
import sys
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from time import perf_counter

import numpy as np

from benchlore.library import Library, init_library, plan_complaint
from benchlore.library.compiled import stamp_of, write_json
from benchlore.library.workers import working
from benchlore.press.site import press_site
from benchlore.procedure import Effort

BOOKS, FAULTS, CONDITIONS, CHECKS = 500, 15, 8, 12
WORKERS = 2
NOW = datetime(2026, 1, 1, tzinfo=UTC)


def book_text(number: int, seed: int) -> str:
    """Write a book: each fault changes one to three conditions, each check reads one, each fix cures one."""
    rng = np.random.default_rng(seed)
    lines = [
        f"book: 1\nboard: {{name: Bench board {number}, device: Bench device {number}}}",
        "licence: CC0-1.0\ncurrency: EUR\npeople:\n  lo: {name: Lo Bench, roles: [writing]}",
        "setups:\n  case-open: {takes: 5 min, how: Four screws.}\nconditions:",
        *(
            f"  place-{g}: {{title: Place {g}, at: TP{g}, states: [normal, low, high]}}"
            for g in range(CONDITIONS)
        ),
        "checks:",
    ]
    for c in range(CHECKS):
        low, normal, high = np.sort(rng.uniform(0.2, 5.0, 3))
        lines.append(
            f"  volts-{c}:\n    title: Voltage {c}\n    reads: place-{c % CONDITIONS}\n"
            f"    how: Red lead on TP{c}.\n    measures: voltage\n"
            f"    takes: {rng.integers(1, 8)} min\n    needs: [case-open, multimeter]\n"
            f"    shows: {{normal: {normal:.2f} V ± 5 %, low: {low:.2f} V ± 8 %, high: {high:.2f} V ± 8 %}}"
        )
    lines.append("faults:")
    for f in range(FAULTS):
        hit = rng.choice(CONDITIONS, size=rng.integers(1, 4), replace=False)
        causes = ", ".join(
            f"place-{g}: {{{rng.choice(['low', 'high'])}: {rng.integers(60, 98)} %}}" for g in sorted(hit)
        )
        lines.append(
            f"  fault-{f}: {{title: Fault {f}, part: {{ref: U{f}, class: part}}, causes: {{{causes}}}}}"
        )
    lines.append("fixes:")
    lines += [
        f"  fix-{f}:\n    cures: {{fault-{f}: {rng.integers(80, 99)} %}}\n    how: Replace U{f}.\n"
        f"    takes: {rng.integers(8, 30)} min\n    needs: [case-open, soldering-iron]\n"
        f"    parts: [{{title: Part U{f}, price: {rng.uniform(0.1, 9):.2f}}}]\n    cautions: [hot surface]"
        for f in range(FAULTS)
    ]
    seen = ", ".join(
        f"fault-{f}: {count}" for f, count in enumerate(rng.multinomial(60, rng.dirichlet(np.ones(FAULTS))))
    )
    lines.append(
        "complaints:\n  dead:\n    title: Does not start\n    retest: {how: Press the key., takes: 2 min}\n"
        f"    worth: 120\n    seen: {{boards: 64, faults: {{{seen}}}}}"
    )
    return "\n".join(lines) + "\n"


def name_of(number: int) -> str:
    """Return a board's name."""
    return f"board-{number:04}"


def make_library(folder: Path, books: int, plans: int) -> Library:
    """Make a library of so many books, from so many seeds."""
    library = init_library(folder, title="Bench library", board="board-0000")
    for number in range(books):
        path = library.books / name_of(number) / "book.yaml"
        path.parent.mkdir(exist_ok=True)
        path.write_text(book_text(number, number % plans), encoding="utf-8")
    return library


def plan_board(library: Library, board: str) -> int:
    """Plan a board's complaint; return how many steps its procedure has."""
    return len(plan_complaint(library, board, "dead", effort=Effort.QUICK).procedure.steps)


def carry_over(library: Library, number: int, plans: int) -> None:
    """Keep for a board the procedure of the one with the same knowledge, as if it had been planned."""
    board, source = name_of(number), library.compiled / name_of(number % plans) / "dead"
    target = library.compiled / board / "dead"
    for path in sorted(source.glob("*/*.json")):
        data = json.loads(path.read_text(encoding="utf-8"))
        fresh = {"board": board} if path.name == "procedure.json" else stamp_of(library, board, None)
        write_json(target / path.relative_to(source), {**data, **fresh})


def timed(work: Callable[[], object]) -> float:
    """Return how long a piece of work takes, in seconds."""
    start = perf_counter()
    work()
    return perf_counter() - start


def main() -> None:
    """Print the figures."""
    books = int(sys.argv[1]) if len(sys.argv) > 1 else BOOKS
    plans = min(books, int(sys.argv[2])) if len(sys.argv) > 2 else books
    with tempfile.TemporaryDirectory() as folder:
        library, out = make_library(Path(folder) / "library", books, plans), Path(folder) / "out"
        start = perf_counter()
        with working(WORKERS) as run:
            steps = list(run(partial(plan_board, library), library.boards()[:plans]))
        took = perf_counter() - start
        for number in range(plans, books):
            carry_over(library, number, plans)
        print(
            f"{books} books of {FAULTS} faults on {WORKERS} cores; "
            f"{plans} procedures of {np.mean(steps):.0f} steps on average"
        )
        print(f"  planned (quick)            {took:>8.1f} s   {1000 * took / plans:>7.0f} ms a book")
        press = partial(press_site, library, out, now=NOW, workers=WORKERS)
        whole = timed(press)
        files = [path for path in out.rglob("*") if path.is_file()]
        size = sum(path.stat().st_size for path in files) / 2**20
        print(f"  pressed, {len(files):,} files, {size:,.0f} MiB")
        print(
            f"    whole                    {whole:>8.1f} s   {1000 * whole / books:>7.0f} ms a book   ratio"
        )
        changed = library.book_file("board-0000")
        for name, change in (
            ("nothing changed", ""),
            ("one book changed", "\n# Looked through once more.\n"),
        ):
            changed.write_text(changed.read_text(encoding="utf-8") + change, encoding="utf-8")
            again = timed(press)
            print(f"    again, {name:<17} {again:>8.1f} s   {'':>17} {again / whole:>8.3f}")


if __name__ == "__main__":  # a worker process imports this module too
    main()
