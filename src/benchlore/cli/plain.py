"""Values as plain JSON data."""

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import date
from decimal import Decimal
from enum import Enum
from math import isfinite, isnan
from pathlib import Path
from typing import Any

import numpy as np


def plain(value: Any) -> Any:  # noqa: PLR0911  a case for each kind of value
    """Turn frozen values into what JSON has a form for; over range is ``"OL"``, no number is ``null``."""
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Enum):
        return plain(value.value)
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, np.ndarray):
        return plain(value.tolist())
    if isinstance(value, frozenset | set):
        return sorted(plain(item) for item in value)
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    return _scalar(value)


def _scalar(value: Any) -> Any:
    if isinstance(value, np.generic):
        return _scalar(value.item())
    if isinstance(value, float) and not isfinite(value):
        return None if isnan(value) else ("OL" if value > 0 else "-OL")
    if isinstance(value, date | Path | Decimal):
        return str(value)
    return value
