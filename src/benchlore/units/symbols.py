"""Units and prefixes: which spellings each measure accepts, and what they are worth in SI."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import lru_cache
from types import MappingProxyType
from typing import Final, NamedTuple

from benchlore.units.errors import UnitError
from benchlore.units.values import Measure


class Scale(NamedTuple):
    """``SI value = number × 10**power × factor + offset``.

    The power of ten is kept apart because scaling a decimal text by it is exact, and multiplying is not.
    """

    power: int = 0
    factor: float = 1.0
    offset: float = 0.0


PREFIXES: Final[Mapping[str, int]] = MappingProxyType(
    {"f": -15, "p": -12, "n": -9, "u": -6, "m": -3, "k": 3, "M": 6, "G": 9, "T": 12}
)
"""Prefixes and their powers of ten (BIPM, SI Brochure, 9th edition 2019, table 7); ``u`` is micro."""

_PREFIX_WORDS: Final = {
    "femto": "f",
    "pico": "p",
    "nano": "n",
    "micro": "u",
    "milli": "m",
    "kilo": "k",
    "mega": "M",
    "giga": "G",
    "tera": "T",
}


@dataclass(frozen=True, slots=True)
class Unit:
    """How one measure is written.

    ``symbols`` take prefixes, ``words`` also prefix words, ``others`` stand alone. ``letters`` may stand at
    the decimal point with no prefix (``4R7``, ``3V3``). ``prefixes`` are those that a bench meets: ``MA``
    is refused since whoever writes it means mA.
    """

    symbol: str
    symbols: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    prefixes: str = ""
    letters: str = ""
    others: Mapping[str, Scale] = field(default_factory=dict)
    example: str = ""


_CELSIUS, _KELVIN = Scale(), Scale(0, 1.0, -273.15)
_FAHRENHEIT = Scale(0, 5 / 9, -160 / 9)
_MINUTE, _HOUR, _DAY = Scale(0, 60.0), Scale(0, 3600.0), Scale(0, 86_400.0)
_VOLT = Unit("V", ("V", "VDC", "VAC"), ("volt", "volts"), "numk", "V", example="3.3 V or 50 mV")

UNITS: Final[Mapping[Measure, Unit]] = MappingProxyType(
    {
        Measure.RESISTANCE: Unit(
            "ohm", ("ohm", "R", "ohms"), ("ohm", "ohms"), "numkMGT", "R", example="4.7 kohm, 4k7 or 470R"
        ),
        Measure.VOLTAGE: _VOLT,
        Measure.DIODE_DROP: _VOLT,
        Measure.CURRENT: Unit(
            "A",
            ("A", "ADC", "AAC"),
            ("amp", "amps", "ampere", "amperes"),
            "fpnumk",
            "A",
            example="470 mA or 1.5 A",
        ),
        Measure.CAPACITANCE: Unit("F", ("F",), ("farad", "farads"), "fpnum", "F", example="100 nF or 2u2"),
        Measure.INDUCTANCE: Unit("H", ("H",), ("henry", "henries", "henrys"), "pnum", "H", example="4.7 uH"),
        Measure.FREQUENCY: Unit("Hz", ("Hz",), ("hertz",), "umkMGT", example="32.768 kHz or 12 MHz"),
        Measure.TIME: Unit(
            "s",
            ("s",),
            ("second", "seconds"),
            "fpnum",
            others={"sec": Scale(), "secs": Scale()}
            | dict.fromkeys(("min", "mins", "minute", "minutes"), _MINUTE)
            | dict.fromkeys(("h", "hr", "hrs", "hour", "hours"), _HOUR)
            | dict.fromkeys(("d", "day", "days"), _DAY),
            example="20 ms, 1.5 s or 25 min",
        ),
        Measure.TEMPERATURE: Unit(
            "°C",
            others=dict.fromkeys(("°C", "C", "degC", "deg C", "celsius", "°", "degrees C"), _CELSIUS)
            | dict.fromkeys(("K", "kelvin"), _KELVIN)
            | dict.fromkeys(("°F", "F", "degF", "fahrenheit"), _FAHRENHEIT),
            example="85 °C or 358 K",
        ),
        Measure.COUNT: Unit(
            "",
            others=dict.fromkeys(("x", "×", "pcs", "pc", "times", "count", "counts"), Scale()),
            example="a plain number",
        ),
    }
)


def unit_symbol(measure: Measure) -> str:
    """Return the SI unit that values of ``measure`` are in, such as ``ohm`` or ``°C``; empty for a count."""
    return UNITS[measure].symbol


def _spellings(unit: Unit) -> Iterator[tuple[str, Scale]]:
    """Give each way to write a unit of one measure, in its right letter case."""
    for symbol in (*unit.symbols, *unit.words):
        yield symbol, Scale()
        for prefix in unit.prefixes:
            yield prefix + symbol, Scale(PREFIXES[prefix])
    for word in unit.words:
        for name, prefix in _PREFIX_WORDS.items():
            if prefix in unit.prefixes:
                yield name + word, Scale(PREFIXES[prefix])
    for prefix in unit.prefixes:
        yield prefix, Scale(PREFIXES[prefix])
    yield from unit.others.items()


def fold(spelling: str) -> str:
    """Lower the case of all but a leading ``m`` or ``M``, which differ by nine orders of magnitude."""
    return spelling[:1] + spelling[1:].lower() if spelling[:1] in {"m", "M"} else spelling.lower()


@lru_cache
def _tables(measure: Measure) -> tuple[dict[str, Scale], dict[str, Scale]]:
    """Return the spellings of one measure: exact ones, and those with the letter case forgiven."""
    exact = {spelling.replace(" ", ""): scale for spelling, scale in _spellings(UNITS[measure])}
    forgiven = {fold(spelling): scale for spelling, scale in exact.items()}
    for spelling, scale in exact.items():
        if len(spelling) > len("mega"):  # a word cannot be mistaken for another by its case
            forgiven["M" + spelling[1:].lower() if spelling[0] == "m" else fold(spelling)] = scale
    if measure is Measure.RESISTANCE:
        exact |= {"kilohm": Scale(3), "kilohms": Scale(3), "megohm": Scale(6), "megohms": Scale(6)}
    if measure is Measure.FREQUENCY:
        del forgiven["mhz"]  # "mhz" nearly always means MHz, so it may not quietly become millihertz
    if measure is Measure.TIME:
        del exact["m"], forgiven["m"]  # minutes or milli?
        forgiven |= {"Min": _MINUTE, "Mins": _MINUTE}
    return exact, forgiven


def code_power(letter: str, measure: Measure) -> int | None:
    """Return the power of ten of a letter at the decimal point, or ``None`` if it is no such letter."""
    unit = UNITS[measure]
    if not unit.letters and measure is not Measure.FREQUENCY:
        return None
    if letter.upper() in unit.letters or (letter == "ohm" and measure is Measure.RESISTANCE):
        return 0
    for prefix in unit.prefixes:
        if fold(prefix) == fold(letter):
            return PREFIXES[prefix]
    return None


def scale_of(spelling: str, measure: Measure, text: str) -> Scale:
    """Return what a unit is worth; ``text`` is the whole text, for the message if there is no such unit."""
    written = spelling.replace(" ", "").rstrip(".")
    exact, forgiven = _tables(measure)
    found = exact.get(written) or forgiven.get(fold(written))
    if found is None:
        raise UnitError(text, _advice(written, measure), f"unknown unit {spelling!r}")
    return found


def _advice(written: str, measure: Measure) -> str:
    """Say what a writer of an unknown unit probably meant."""
    exact, _ = _tables(measure)
    unit = UNITS[measure]
    if measure is Measure.TIME and written in {"m", "M"}:
        return "write min for minutes or ms for milliseconds"
    twins = [spelling for spelling in exact if spelling.lower() == written.lower()]
    if twins and written[:1] in {"m", "M"}:
        return f"m is milli and M is mega: did you mean {' or '.join(map(repr, twins))}?"
    for other in Measure:
        if other is not measure and (written in _tables(other)[0]) and len(written.lstrip("fpnumkMGT")) > 0:
            return f"that is a unit of {other}, and {measure} is expected: {unit.example}"
    near = get_close_matches(written.lower(), [spelling.lower() for spelling in exact], n=1, cutoff=0.6)
    if near:
        return f"did you mean {next(s for s in exact if s.lower() == near[0])!r}?"
    return f"write {measure} as {unit.example}"
