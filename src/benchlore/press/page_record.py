"""The record of a job that a page's bench writes: its columns, and the mapping that takes it in.

A record is a long table: the job's own facts stand on its first row, then come readings and fixes as they
were made, a row each.
"""

import json
from typing import Final

COLUMNS: Final = (
    "job",
    "opened",
    "technician",
    "board",
    "complaint",
    "outcome",
    "fault",
    "minutes at work",
    "minutes waiting",
    "notes",
    "step",
    "check",
    "reading",
    "fix",
    "retest",
    "minutes soaked",
)
"""The columns of a record, in order."""

_MAPPING: Final = """\
# What the columns of a record from a published page mean.

mapping: 1
shop: {shop}
layout: long
separator: ","
encoding: utf-8
dates: year first
decimal: either
blank: [unclear]

job: job
board: board
complaint: complaint
opened: opened
technician: technician
outcome: outcome
fault: {{column: fault, otherwise: unlisted}}
hands on: {{column: minutes at work, unit: min, per: job}}
waiting: {{column: minutes waiting, unit: min, per: job}}
notes: notes

step: step
reading: {{check: check, value: reading}}
fix:
  column: fix
  retest: {{column: retest, names: {{gone: gone, still there: still there, unknown: unknown}}}}
  soaked: {{column: minutes soaked, unit: min}}
"""


def mapping_text(shop: str) -> str:
    """Write the mapping for one shop's records; its name may hold any letter."""
    return _MAPPING.format(shop=shop if shop == "{shop}" else json.dumps(shop, ensure_ascii=False))
