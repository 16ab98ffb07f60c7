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
