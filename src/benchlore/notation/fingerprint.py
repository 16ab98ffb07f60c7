"""Fingerprints of values: equal where they say the same, by whatever version of the program they are made."""

import json
from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import MISSING, Field, fields, is_dataclass
from enum import Enum
from hashlib import sha256
from typing import Any, Final

DIGITS: Final = 9
"""Significant digits that count: machines, and versions of the libraries beneath, may differ beyond them."""


def fingerprint(value: object) -> str:
    """Digest (SHA-256, 64 hexadecimal digits) of all that a value says.

    ``value`` consists of dataclasses, mappings, sequences, sets, texts, bytes, numbers and ``None``. Fields
    that stand at their default say nothing, so that a field that a later version adds changes no fingerprint
    of what does without it. Sets have no order; mappings and sequences have theirs. Raises ``TypeError`` for
    anything else, whose text may not say all of it.
    """
    return sha256(json.dumps(_plain(value), separators=(",", ":")).encode()).hexdigest()


def _plain(value: Any) -> Any:
    """Say a value in lists, texts and ``None``, each with what it is, so that a text is no number."""
    if is_dataclass(value) and not isinstance(value, type):
        said = {
            each.name: getattr(value, each.name) for each in fields(value) if not _at_default(value, each)
        }
        return ["value", type(value).__name__, _plain(dict(sorted(said.items())))]
    if isinstance(value, Mapping):
        return ["map", [[_plain(key), _plain(each)] for key, each in value.items()]]
    if isinstance(value, AbstractSet):
        return ["set", sorted((_plain(each) for each in value), key=json.dumps)]
    return _simple(value.value if isinstance(value, Enum) else value)


def _simple(value: Any) -> Any:
    if value is None or isinstance(value, str | bool):
        return value
    if isinstance(value, bytes | bytearray | memoryview):
        return ["bytes", sha256(value).hexdigest()]
    if isinstance(value, int) or (isinstance(value, float) and value.is_integer()):
        return ["number", str(int(value))]
    if isinstance(value, float):
        return ["number", f"{value:.{DIGITS}g}"]
    if isinstance(value, Sequence):
        return ["list", [_plain(each) for each in value]]
    raise TypeError(f"no fingerprint of a {type(value).__name__}")


def _at_default(value: Any, each: Field[Any]) -> bool:
    made = each.default if each.default_factory is MISSING else each.default_factory()
    return made is not MISSING and bool(getattr(value, each.name) == made)
