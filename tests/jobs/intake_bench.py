"""A small book and the shortest way from a mapping and a table's text to a preview."""

from datetime import date
from pathlib import Path

from benchlore.book import Book, read_book
from benchlore.jobs import Job
from benchlore.jobs.intake import Preview, TableMapping, Verdict, preview, read_mapping, read_table

BOOK = """
book: 1
board: {name: Halden T4 main board, device: Halden T4 warehouse tablet}
licence: CC-BY-SA-4.0
currency: EUR
conditions:
  vsys: {at: C1201, states: [normal, shorted]}
  wet: {at: label, states: [normal, wet]}
checks:
  vsys-ohms:
    title: Main rail to ground
    reads: vsys
    how: Board off.
    measures: resistance
    takes: 2 min
    shows: {normal: 4.2 kohm ± 25 %, shorted: below 12 ohm}
    also: [VSYS Widerstand]
  vsys-volts:
    reads: vsys
    how: Bench supply on.
    measures: voltage
    takes: 2 min
    shows: {normal: 3.85 V ± 2 %, shorted: below 0.2 V}
    also: [VSYS Spannung]
  liquid-mark:
    reads: wet
    how: Look at the label.
    results: [wet, dry]
    takes: 1 min
    shows: {wet: {wet: 97 %}, normal: {wet: 6 %}}
    also: [Feuchte]
faults:
  l1204-joint:
    title: Cracked joint under inductor L1204
    causes: {vsys: {shorted: 85 %}}
    also: [kalte Lötstelle L1204]
  u7-corroded: {title: U7 corroded, causes: {wet: {wet: 85 %}}}
fixes:
  reflow-l1204: {title: Reflow L1204, cures: {l1204-joint: 92 %}, how: Flux., takes: 14 min}
  clean-u7: {title: Clean U7, cures: {u7-corroded: 60 %}, how: Brush., takes: 9 min}
complaints:
  restarts: {title: Restarts by itself, retest: {takes: 3 min}, also: [startet neu]}
  no-backlight: {title: No backlight, retest: {takes: 3 min}}
"""

OTHER_BOOK = """
book: 1
board: {name: Orme K2 logic board, device: Orme K2 scanner}
licence: CC-BY-SA-4.0
currency: EUR
conditions: {v33: {at: TP1, states: [normal, shorted]}}
checks:
  v33-ohms:
    reads: v33
    how: Board off.
    measures: resistance
    takes: 2 min
    shows: {normal: 1 kohm ± 25 %, shorted: below 12 ohm}
faults: {c5-short: {title: C5 shorted, causes: {v33: {shorted: 90 %}}}}
fixes: {replace-c5: {title: Replace C5, cures: {c5-short: 96 %}, how: Hot air., takes: 9 min}}
complaints: {dead: {title: Does not start, retest: {takes: 1 min}}}
"""


def book(text: str = BOOK, name: str = "halden-t4") -> Book:
    read = read_book(text, name=name)
    assert read.book is not None, read.problems
    return read.book


BOOKS = {"halden-t4": book(), "orme-k2": book(OTHER_BOOK, "orme-k2")}

START = "mapping: 1\nshop: Fennel Street\n"
NEEDED = START + "job: Job\nboard: {always: halden-t4}\ncomplaint: {always: restarts}\n"


def mapping_of(text: str) -> TableMapping:
    read = read_mapping(text, "mapping.yaml")
    assert read.mapping is not None, [str(problem) for problem in read.problems]
    return read.mapping


def look(
    folder: Path,
    mapping: str,
    table: str | bytes,
    *,
    stored: tuple[Job, ...] = (),
    today: date | None = None,
) -> Preview:
    path = folder / "jobs.csv"
    path.write_bytes(table if isinstance(table, bytes) else table.lstrip("\n").encode())
    return look_at(path, mapping, stored=stored, today=today)


def look_at(path: Path, mapping: str, *, stored: tuple[Job, ...] = (), today: date | None = None) -> Preview:
    meaning = mapping_of(mapping)
    found = preview(read_table(path, meaning), meaning, BOOKS, stored=stored, today=today)
    assert not found.problems, [str(problem) for problem in found.problems]
    return found


def verdicts(found: Preview) -> dict[int, Verdict]:
    return {row.row: row.verdict for row in found.rows}


def reasons(found: Preview, row: int) -> list[str]:
    return [str(reason) for each in found.rows if each.row == row for reason in each.reasons]
