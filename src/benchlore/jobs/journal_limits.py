"""How large an open job and its journal may be, and what they may hold; the rest is refused whole."""

import json
from dataclasses import fields
from math import isfinite
from typing import Final

from benchlore.jobs.errors import BenchUnstorable
from benchlore.jobs.journal import Draft, OpenJob
from benchlore.jobs.storable import is_plain

LONGEST_NAME: Final = 200
"""Characters of a key, a token, a number, a name of a shop, board, complaint or person."""

LONGEST_TEXT: Final = 2_000
"""Characters of what a customer said, of a device's label, of a reading as typed."""

LONGEST_NOTE: Final = 10_000
"""Characters of a remark."""

MOST_ENTRIES: Final = 5_000
"""Entries of one journal."""

_TEXTS: Final = {"said": LONGEST_TEXT, "device": LONGEST_TEXT}
_FIELDS: Final = {"text": LONGEST_NOTE, "notes": LONGEST_NOTE, "fault_text": LONGEST_NOTE}
_MOST_FIELDS: Final = 16
_LARGEST: Final = 2**53
"""Whole numbers up to here are the same in every reader of JSON (RFC 8259, section 6)."""


def check_open_job(job: OpenJob) -> None:
    """Pass an open job that can be kept; raises ``BenchUnstorable``."""
    for each in fields(job):
        value = getattr(job, each.name)
        if isinstance(value, str):
            _check_text(f"the job's {each.name}", value, _TEXTS.get(each.name, LONGEST_NAME))
    for text in job.comeback_of or ():
        _check_text("the earlier job", text, LONGEST_NAME)
    if not job.key:
        raise BenchUnstorable("the job's key", "is empty")
    if job.opened.tzinfo is None:
        raise BenchUnstorable("the moment of opening", "has no time zone")


def check_draft(draft: Draft) -> None:
    """Pass an entry that can be kept; raises ``BenchUnstorable``."""
    _check_text("the entry's author", draft.by, LONGEST_NAME)
    _check_text("the entry's token", draft.token, LONGEST_NAME)
    if not draft.token:
        raise BenchUnstorable("the entry's token", "is empty")
    if draft.at.tzinfo is None:
        raise BenchUnstorable("the entry's moment", "has no time zone")
    if len(draft.data) > _MOST_FIELDS:
        raise BenchUnstorable("the entry", f"has {len(draft.data)} fields; {_MOST_FIELDS} are the most")
    for name, value in draft.data.items():
        _check_text("the name of a field", name, LONGEST_NAME)
        _check_field(name, value)


def data_text(draft: Draft) -> str:
    """Print an entry's data: JSON in the order of names."""
    return json.dumps(dict(draft.data), ensure_ascii=False, sort_keys=True, allow_nan=False)


def _check_field(name: str, value: object) -> None:
    if isinstance(value, str):
        _check_text(f"the field '{name}'", value, _FIELDS.get(name, LONGEST_TEXT))
    elif isinstance(value, float) and not isfinite(value):
        raise BenchUnstorable(f"the field '{name}'", "is not a finite number")
    elif isinstance(value, int) and abs(value) > _LARGEST:
        raise BenchUnstorable(f"the field '{name}'", "is too large a number")
    elif not isinstance(value, str | int | float | None) or isinstance(value, bool):
        raise BenchUnstorable(f"the field '{name}'", "is neither a text nor a number")


def _check_text(what: str, text: str, most: int) -> None:
    if len(text) > most:
        raise BenchUnstorable(what, f"has {len(text):,} characters; {most:,} are the most")
    if not is_plain(text):
        raise BenchUnstorable(what, "holds a NUL character or half a character; remove it")
