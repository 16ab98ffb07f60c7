"""Quantities as technicians write them, read into plain numbers; imports nothing of benchlore.

Numbers are in SI base units (°C for temperatures), durations in minutes, chances between 0 and 1. Every
reader refuses what it cannot understand with a :class:`UnitError` that says what would be right.
"""

from benchlore.units.amounts import decimal_amount, decimals, minor_unit
from benchlore.units.chance import CHANCE_WORDS, parse_chance
from benchlore.units.duration import format_duration, format_roughly, parse_duration
from benchlore.units.errors import UnitError
from benchlore.units.quantity import format_quantity, parse_quantity, parse_reading
from benchlore.units.span import format_span, parse_span
from benchlore.units.symbols import example_of, spellings_of, unit_symbol
from benchlore.units.values import OL, Chance, Measure, Span
from benchlore.units.wording import counted, money, share

__all__ = [
    "CHANCE_WORDS",
    "OL",
    "Chance",
    "Measure",
    "Span",
    "UnitError",
    "counted",
    "decimal_amount",
    "decimals",
    "example_of",
    "format_duration",
    "format_quantity",
    "format_roughly",
    "format_span",
    "minor_unit",
    "money",
    "parse_chance",
    "parse_duration",
    "parse_quantity",
    "parse_reading",
    "parse_span",
    "share",
    "spellings_of",
    "unit_symbol",
]
