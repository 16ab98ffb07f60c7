"""A table with a row for each reading: the bench log of a shop where everybody types as they please."""

import csv
import io
from collections.abc import Sequence
from datetime import date

from demo_jobs.bench import Drawn
from demo_jobs.pen import Pen, column_unit
from demo_jobs.truth import World
from demo_jobs.wide import Sheet

HEADER = (
    *("Job", "In", "Gadget", "Complaint", "#", "Test", "Got", "Unit", "Did", "After", "Mins", "Soak"),
    *("Result", "Cause", "Back?", "Who", "Note"),
)
_DATES = ("{y}-{m:02}-{d:02}", "{d} {month} {y}", "{month} {d}, {y}")
_GADGETS = {
    "halden-t4": ("T4", "halden t4", "HALDEN T4", "t4 tablet"),
    "tornvik-mc2": ("MC2", "tornvik", "Tornvik MC2", "cargo ctrl"),
}
_OUTCOMES = {
    "repaired": ("fixed", "Fixed", "FIXED"),
    "returned": ("returned", "gave up"),
    "ruined": ("killed it",),
}
_AFTER = {"gone": ("ok", "OK", "all good"), "still there": ("nope", "same", "NOPE")}
_FIRST_JOB = 5107


class LongShop:
    """Writes one shop's jobs, a row for each reading and repair."""

    def __init__(self, worlds: dict[str, World], pen: Pen) -> None:
        self.worlds, self.pen = worlds, pen
        self.rows: list[list[str]] = []
        self.bad: dict[int, str] = {}

    def sheet(self, jobs: Sequence[Drawn]) -> Sheet:
        """Write the jobs; every fiftieth device is none of the library's."""
        for place, job in enumerate(jobs):
            self._job(str(_FIRST_JOB + place), job)
            if place % 50 == 24:
                self._toaster(f"T-{place}")
        self._spoil()
        return Sheet(list(HEADER), [list(row) for row in self.rows], self.bad)

    def _job(self, number: str, job: Drawn) -> None:
        """Write a job's rows: what is said of the job itself stands on its first or last row."""
        pen = self.pen
        lines = [self._line(job, entry) for entry in job.log] or [self._empty()]
        repeats = pen.happens(0.5)
        for place, line in enumerate(lines):
            line["#"] = str(place + 1)
            line["Job"] = number if repeats or place == 0 else ""
        self._times(lines, job)
        lines[0] |= {
            "In": pen.day(job.opened, _DATES),
            "Gadget": pen.one_of(_GADGETS[job.board]),
            "Complaint": self._complaint(job),
            "Who": job.technician,
        }
        for line in lines[1:]:
            line["Gadget"] = lines[0]["Gadget"] if line["Job"] else ""
        lines[-1] |= {
            "Result": pen.one_of(_OUTCOMES[job.outcome]),
            "Cause": self._cause(job),
            "Back?": ""
            if job.comeback is None
            else pen.one_of(("Y", "yes"))
            if job.comeback
            else pen.one_of(("N", "no")),
        }
        self.rows += [[line[name] for name in HEADER] for line in lines]

    def _empty(self) -> dict[str, str]:
        return dict.fromkeys(HEADER, "")

    def _line(self, job: Drawn, entry: tuple[str, str, str | float]) -> dict[str, str]:
        kind, name, what = entry
        line, book = self._empty(), self.worlds[job.board].book
        if kind == "fix":
            line["Did"] = self._called(book.fixes[name].called, book.fixes[name].title, job, 0.03)
            line["After"] = self.pen.one_of(_AFTER[str(what)])
            return line
        check = book.checks[name]
        line["Test"] = self._called(check.called, check.title, job, 0.05)
        if isinstance(what, str):
            line["Got"] = self.pen.result(what)
            return line
        unit = column_unit(check)
        text = self.pen.reading(what, unit)
        line["Got"], has_unit = text, not text.replace(".", "", 1).lstrip("-").isdigit()
        line["Unit"] = "" if has_unit or self.pen.happens(0.3) else unit
        return line

    def _called(self, called: tuple[str, ...], title: str, job: Drawn, slips: float) -> str:
        """Name a thing: one of the three technicians thinks in Spanish, and on bikes writes in it."""
        place = 1 if job.technician == "lupe" and job.board == "tornvik-mc2" else 2
        return self.pen.name((called[place], title), slips=slips)

    def _complaint(self, job: Drawn) -> str:
        one = self.worlds[job.board].book.complaints[job.complaint]
        return self._called(one.called, one.title, job, 0.0)

    def _cause(self, job: Drawn) -> str:
        if job.cause is None:
            return self.pen.one_of(("", "", "?"))
        unlisted, book = self.worlds[job.board].unlisted, self.worlds[job.board].book
        if job.cause in unlisted:
            return unlisted[job.cause].said["en"]
        return self._called(book.faults[job.cause].called, book.faults[job.cause].title, job, 0.06)

    def _times(self, lines: list[dict[str, str]], job: Drawn) -> None:
        """Share the job's minutes among its rows."""
        each = max(1, round(job.hands_on / len(lines)))
        for line in lines:
            line["Mins"] = str(each) if self.pen.happens(0.9) else f"{each} min"
        if job.waiting >= 1:
            lines[-1]["Soak"] = str(round(job.waiting))

    def _toaster(self, number: str) -> None:
        line = self._empty() | {
            "Job": number,
            "Gadget": "toaster",
            "Complaint": "no heat",
            "Who": "Dez",
            "#": "1",
        }
        self.rows.append(
            [(line | {"Test": "element", "Got": "OL", "Result": "fixed"})[name] for name in HEADER]
        )

    def _spoil(self) -> None:
        """Break rows of jobs that carry their number on every row, two of each kind."""
        pen = self.pen
        at = {name: place for place, name in enumerate(HEADER)}
        numbered = [
            place for place, row in enumerate(self.rows) if row[at["Job"]] and row[at["Gadget"]] != "toaster"
        ]
        kinds = {
            "date": [p for p in numbered if row_has(self.rows[p], at["In"]) and self._repeats(p)],
            "fault": [p for p in numbered if row_has(self.rows[p], at["Cause"])],
            "reading": [p for p in numbered if row_has(self.rows[p], at["Unit"])],
        }
        words = {
            "date": ("In", ("2026-02-30", "2025-13-04")),
            "fault": ("Cause", ("gremlins", "the usual")),
            "reading": ("Got", ("see pic", "meter died")),
        }
        for kind, places in kinds.items():
            column, texts = words[kind]
            for text, choice in zip(texts, pen.random.choice(len(places), 2, replace=False), strict=True):
                place = places[int(choice)]
                self.rows[place][at[column]] = text
                self.bad[place] = kind
        self._contradict(at, numbered)

    def _repeats(self, place: int) -> bool:
        return place + 1 < len(self.rows) and self.rows[place + 1][0] == self.rows[place][0]

    def _contradict(self, at: dict[str, int], numbered: list[int]) -> None:
        """Add a second ending to a job that ended otherwise."""
        ended = [place for place in numbered if self.rows[place][at["Result"]] in _OUTCOMES["repaired"]]
        row = self.rows[ended[len(ended) // 2]]
        again = self._empty() | {"Job": row[0], "Gadget": row[at["Gadget"]], "#": "99", "Result": "killed it"}
        self.bad[len(self.rows)] = "number"
        self.rows.append([(again | {"Note": "??"})[name] for name in HEADER])


def row_has(row: list[str], place: int) -> bool:
    """Say whether a cell holds something."""
    return row[place] not in {"", "?"}


def csv_bytes(sheet: Sheet) -> bytes:
    """Write the log as UTF-8 with commas."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(sheet.header)
    writer.writerows(sheet.rows)
    return text.getvalue().encode("utf-8")


def by_day(jobs: Sequence[Drawn]) -> list[Drawn]:
    """Return jobs in the order in which they came in."""

    def key(job: Drawn) -> date:
        return job.opened

    return sorted(jobs, key=key)
