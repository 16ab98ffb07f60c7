"""What is kept in a library's ``compiled`` folder, and what it was made from.

All of it can be deleted: it is made anew when it is asked for.
"""

import json
import re
from collections.abc import Mapping
from dataclasses import fields, replace
from hashlib import sha256
from pathlib import Path
from typing import Any, Final

import numpy as np

import benchlore
from benchlore.jobs import JobColumns
from benchlore.library.folder import Library, make_folder
from benchlore.notation import FileTrouble, fingerprint, read_text, write_atomic
from benchlore.shop import Shop

MOST_COMPILED: Final = 1024**3

WHAT: Final = {
    "book": "the book",
    "jobs": "the recorded jobs",
    "shop": "the shop file",
    "benchlore": "benchlore",
}
"""What a compiled thing depends on, as messages name it."""


def stamp_of(library: Library, board: str, columns: JobColumns | None) -> dict[str, str]:
    """What models depend on: the book's text, the board's jobs, the program."""
    book = sha256(read_text(library.book_file(board)).encode()).hexdigest()
    return {"benchlore": benchlore.__version__, "book": book, "jobs": _digest_of_jobs(columns)}


def _digest_of_jobs(columns: JobColumns | None) -> str:
    digest = sha256()
    for field in fields(JobColumns) if columns is not None and len(columns) else ():
        value = getattr(columns, field.name)
        if field.name == "attempt_soaked" and np.isnan(value).all():
            continue  # what was made before anybody recorded a soak stays as new as it was
        digest.update(value.tobytes() if isinstance(value, np.ndarray) else repr(value).encode())
    return digest.hexdigest()


def digest_of_shop(shop: Shop) -> str:
    """A fingerprint of all that the shop file says, in whatever order it names boards and currencies."""
    worth, exchange = dict(sorted(shop.worth.items())), dict(sorted(shop.exchange.items()))
    return fingerprint(replace(shop, worth=worth, exchange=exchange))


def changed(made_from: Mapping[str, Any], now: Mapping[str, Any]) -> tuple[str, ...]:
    """Name what is no longer what it was when something was made."""
    return tuple(WHAT[key] for key in WHAT if made_from.get(key) != now[key])


ELSEWHERE: Final = "elsewhere"
"""Marks what was made from jobs of which the library has only those that were published."""


def was_learned_elsewhere(library: Library, board: str, complaint: str) -> bool:
    """Whether a complaint's kept model came with a bundle, and knows jobs that are not in the library."""
    try:
        return bool(read_json(library.compiled / board / complaint / "made-from.json").get(ELSEWHERE))
    except (FileTrouble, ValueError, AttributeError):
        return False


def procedure_folder(library: Library, board: str, complaint: str, shop: Shop) -> Path:
    """Where what was compiled for a complaint and a shop is kept."""
    slug = re.sub(r"[^a-z0-9]+", "-", shop.name.casefold()).strip("-") or "shop"
    return library.compiled / board / complaint / slug


def read_json(path: Path) -> Any:
    """Read a kept file; raises ``FileTrouble`` or ``ValueError``."""
    return json.loads(read_text(path, most=MOST_COMPILED))


def write_json(path: Path, data: Any) -> None:
    """Keep a file, whole or not at all; raises ``FileNotWritten``."""
    make_folder(path.parent)
    write_atomic(path, json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":")) + "\n")
