"""Draw the demo's jobs and write the three invented shops' tables.

    python tools/make_demo_jobs.py [FOLDER] [--seed NUMBER]

The folder is the demo's ``intake`` if none is named. The same seed gives the same bytes.
"""

import argparse
from pathlib import Path
from typing import Any

import numpy as np
from ruamel.yaml import YAML

from demo_jobs import long, wide
from demo_jobs.bench import Bench, Drawn, Habit
from demo_jobs.booktext import BookText, read_book_text
from demo_jobs.pen import Pen
from demo_jobs.truth import Bender
from demo_jobs.wide import Sheet

ROOT = Path(__file__).resolve().parent.parent
DEMO = ROOT / "src" / "benchlore" / "demo"
HERE = Path(__file__).resolve().parent / "demo_jobs"


def main() -> None:
    """Write the tables."""
    parser = argparse.ArgumentParser(description="Draw the demo's jobs.")
    parser.add_argument("folder", type=Path, nargs="?", default=DEMO / "intake")
    parser.add_argument("--seed", type=int, default=None, help="instead of the truth's own")
    asked = parser.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    for name, (content, _) in tables(asked.seed).items():
        (asked.folder / name).write_bytes(content)
        print(f"{asked.folder / name}: {len(content)} bytes")


def tables(seed: int | None = None) -> dict[str, tuple[bytes, Sheet]]:
    """Return each table's file name, its bytes, and the sheet that they hold."""
    return Shops(_load("truth.yaml"), _load("words.yaml"), seed).tables()


class Shops:
    """The three shops, their worlds, and one stream of chance for all of it."""

    def __init__(self, truth: dict[str, Any], words: dict[str, Any], seed: int | None) -> None:
        # The legacy generator's stream never changes from one numpy to the next; the new one's may.
        self.random = np.random.RandomState(truth["seed"] if seed is None else seed)
        self.shops, self.words = truth["shops"], words
        self.worlds = {
            board: Bender(_book(board), said, truth["bend"], self.random).world()
            for board, said in truth["boards"].items()
        }

    def tables(self) -> dict[str, tuple[bytes, Sheet]]:
        """Draw and write everything."""
        made: dict[str, tuple[bytes, Sheet]] = {}
        for board, name in (("halden-t4", "tablets"), ("tornvik-mc2", "raeder")):
            sheet = self._sued(board)
            made[f"werkbank-sued-{name}.csv"] = (wide.csv_bytes(sheet), sheet)
        sheet, groups = self._vuurtoren("halden-t4")
        made["vuurtoren-reparaties.xlsx"] = (wide.xlsx_bytes(sheet, groups), sheet)
        sheet = self._tidewater()
        made["tidewater-bench-log.csv"] = (long.csv_bytes(sheet), sheet)
        return made

    def _jobs(self, shop: str, board: str) -> list[Drawn]:
        """Draw one shop's jobs with one board, in the order in which they came in."""
        said, jobs = self.shops[shop], []
        people = said["technicians"]
        for complaint, count in said["jobs"][board].items():
            bench = Bench(self.worlds[board], Habit.of(said, complaint), self.random)
            jobs += [
                bench.draw(complaint, people[int(self.random.randint(len(people)))]) for _ in range(count)
            ]
        return long.by_day(jobs)

    def _checks(self, shop: str, board: str) -> list[str]:
        """Return the columns: each check of the shop's habits once, as the book orders them."""
        used = {check for habit in self.shops[shop]["habits"].values() for check in habit}
        return [check for check in self.worlds[board].book.checks if check in used]

    def _pen(self, language: str, *, comma: bool) -> Pen:
        return Pen(language, self.random, self.words["results"][language], comma=comma)

    def _wide(self, shop: str, board: str) -> wide.WideShop:
        words = self.words["shops"][shop]
        pen = self._pen(words["language"], comma=True)
        return wide.WideShop(self.worlds[board], self._checks(shop, board), pen, words)

    def _sued(self, board: str) -> Sheet:
        jobs = self._jobs("sued", board)
        letter = board[0].upper()
        return self._wide("sued", board).sheet(
            jobs, lambda place: f"{jobs[place].opened.year % 100}-{letter}{place + 101:04d}"
        )

    def _vuurtoren(self, board: str) -> tuple[Sheet, list[tuple[str, int]]]:
        sheet = self._wide("vuurtoren", board).sheet(
            self._jobs("vuurtoren", board), lambda place: f"VT{place + 311}"
        )
        width = len(self._checks("vuurtoren", board))
        return sheet, [("Ontvangst", 4), ("Metingen", width), ("Reparatie", 3), ("Tijd", 2), ("Nazorg", 2)]

    def _tidewater(self) -> Sheet:
        drawn = [job for board in self.shops["tidewater"]["jobs"] for job in self._jobs("tidewater", board)]
        return long.LongShop(self.worlds, self._pen("en", comma=False)).sheet(long.by_day(drawn))


def _book(board: str) -> BookText:
    return read_book_text(DEMO / "books" / board / "book.yaml")


def _load(name: str) -> dict[str, Any]:
    loaded: dict[str, Any] = YAML(typ="safe").load((HERE / name).read_text(encoding="utf-8"))
    return loaded


if __name__ == "__main__":
    main()
