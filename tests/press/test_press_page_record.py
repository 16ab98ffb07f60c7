"""The record that a page's bench writes, taken in by the mapping that it writes beside it."""

import json
from datetime import UTC, datetime

from in_node import in_node

from benchlore.jobs import Attempt, Retest, Store
from benchlore.library import init_library, take_in
from benchlore.press.page_record import COLUMNS, mapping_text

BOARD, COMPLAINT = "quay-board", "no-power"
SOAKED = [
    {"kind": "fix", "fix": "replace-u2", "soak": 60, "at": "2026-03-04T09:00:00.000Z"},
    {"kind": "retest", "result": "still there", "at": "2026-03-04T09:05:00.000Z"},
    {"kind": "fix", "fix": "replace-c5", "soak": 60, "at": "2026-03-04T09:10:00.000Z"},
    {"kind": "soak", "minutes": 60, "at": "2026-03-04T09:12:00.000Z"},
    {"kind": "retest", "result": "still there", "at": "2026-03-04T09:37:30.000Z"},
    {"kind": "fix", "fix": "replace-f1", "soak": 60, "at": "2026-03-04T10:00:00.000Z"},
    {"kind": "soak", "minutes": 60, "at": "2026-03-04T10:00:00.000Z"},
    {"kind": "note", "text": "quiet so far", "at": "2026-03-04T10:20:00.000Z"},
    {"kind": "retest", "result": "gone", "at": "2026-03-04T11:30:00.000Z"},
    {"kind": "soak", "minutes": 30, "at": "2026-03-04T11:40:00.000Z"},
    {"kind": "retest", "result": "gone", "at": "2026-03-04T11:50:00.000Z"},
]


def record(folder, entries):
    """What the page's own script writes for these entries."""
    told = {"columns": COLUMNS, "board": BOARD, "complaint": COMPLAINT, "unclear": "unclear"}
    about = {"job": "7", "opened": "2026-03-04", "outcome": "repaired", "fault": "f1-open"}
    said = ", ".join(map(json.dumps, (told, about, entries)))
    run = f"console.log(JSON.stringify($record.recordText({said})));"
    return in_node(folder, run, ["record"])


def test_a_record_says_how_long_each_fix_soaked(tmp_path):
    """Not longer than was planned, up to the retest; two clean soaks of one fix add up."""
    library = init_library(tmp_path / "library", title="Quay bench", board=BOARD)
    (tmp_path / "record.csv").write_bytes(record(tmp_path, SOAKED).encode())
    (tmp_path / "mapping.yaml").write_text(mapping_text("Quay"), encoding="utf-8")
    now = datetime(2026, 3, 4, 12, tzinfo=UTC)
    taken = take_in(library, tmp_path / "record.csv", tmp_path / "mapping.yaml", now=now)
    assert taken.rejects is None
    with Store.open(library.store) as store:
        assert store.job("Quay", "7").attempts == (
            Attempt("replace-u2", 1, Retest.STILL_THERE),
            Attempt("replace-c5", 2, Retest.STILL_THERE, 25.5),
            Attempt("replace-f1", 3, Retest.GONE, 70.0),
        )
