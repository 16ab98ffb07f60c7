"""Values that technicians write: quantities, spans, chances. Numbers are in SI base units."""

from dataclasses import dataclass
from enum import StrEnum
from math import inf
from typing import Final, Literal

OL: Final = inf
"""The reading "over range", as meters show it. It is a reading, not a missing value."""


class Measure(StrEnum):
    """What a numeric check measures."""

    RESISTANCE = "resistance"
    VOLTAGE = "voltage"
    CURRENT = "current"
    DIODE_DROP = "diode drop"
    CAPACITANCE = "capacitance"
    INDUCTANCE = "inductance"
    FREQUENCY = "frequency"
    TIME = "time"
    TEMPERATURE = "temperature"
    COUNT = "count"


@dataclass(frozen=True, slots=True)
class Span:
    """The values that a state shows: ``4.2 kohm ± 25 %``, ``below 12 ohm``, ``3.1 to 3.4 V``, ``OL``.

    ``low`` and ``high`` are in the measure's SI unit; ``low`` is ``-inf`` for "below" and ``high`` is
    ``inf`` for "above". For ``around`` the centre is kept because ``low`` and ``high`` follow from it.
    """

    kind: Literal["around", "between", "below", "above", "over range"]
    low: float
    high: float
    centre: float | None = None


@dataclass(frozen=True, slots=True)
class Chance:
    """A probability as an expert states it, with the number of boards behind it where that was said.

    ``85 %`` has no ``of``; ``17 of 20`` is 0.85 of 20; ``usually`` takes its number from the published scale.
    """

    probability: float
    of: float | None = None
