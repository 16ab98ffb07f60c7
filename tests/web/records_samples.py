"""Jobs of the first book that a new library has, and sheets to take in."""

from datetime import UTC, date, datetime

from benchlore.jobs import IntakeRecord, Job, Outcome, Place, Store

SHOP = "Werkbank Süd/Nord"
"""A shop with all that an address has to be careful with."""


def job(number: str, **changes) -> Job:
    said = {
        "shop": SHOP,
        "board": "my-board",
        "complaint": "no-power",
        "opened": date(2026, 3, 1),
        "outcome": Outcome.REPAIRED,
        "hands_on": 25.0,
    }
    return Job(number=number, **{**said, **changes})


def stored(library, *jobs: Job) -> None:
    """Store jobs as a sheet's."""
    with Store.open(library.store) as store:
        places = {(each.shop, each.number): Place("March", row) for row, each in enumerate(jobs, 2)}
        intake = IntakeRecord(
            "march.xlsx", "ab" * 32, datetime(2026, 4, 1, 9, 30, tzinfo=UTC), "m.yaml", places=places
        )
        store.add(jobs, intake=intake)


MAPPING = """mapping: 1
shop: Quay Süd
job: Job
board: {always: my-board}
complaint: {always: no-power}
opened: Opened
outcome: {column: End, names: {done: repaired, back: returned}}
fault: Cause
checks:
  Rail (ohm): rail-ohms
fixes:
  - {column: Did, retest: {from: outcome}}
"""
"""What the columns of ``SHEET`` mean."""

SHEET = (
    "Job,Opened,Rail (ohm),Did,End,Cause,Colour\n"
    "1,2026-03-01,3R,replace C5,done,c5-short,red\n"
    "2,2026-03-02,lots,replace U2,done,u2-dead,blue\n"
    "3,2026-03-03,2k2,,back,,<b>green</b>\n"
    "4,soon,OL,replace F1,done,f1-open,\n"
)
"""Two good rows, and two that are refused: 2 for its reading, 4 for its day."""
