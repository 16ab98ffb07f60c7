"""Units and prefixes: which spellings each measure accepts, and what they are worth in SI."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from fractions import Fraction
from functools import lru_cache
from types import MappingProxyType
from typing import Any, Final, NamedTuple

from benchlore.units.errors import UnitError, quote
from benchlore.units.values import Measure


class Scale(NamedTuple):
    """``SI value = number × factor + offset``, in exact fractions so that ``4.7 kohm`` is just 4700."""

    factor: Fraction = Fraction(1)
    offset: Fraction = Fraction(0)


MOST_READ: Final = 1e15
"""No bench reads more than this of anything, in SI units; whoever writes it slipped."""


def ten_to(power: int) -> Scale:
    """Return the scale of a decimal prefix."""
    return Scale(Fraction(10) ** power)


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

    ``symbols`` take prefixes, ``words`` also prefix words, ``others`` stand alone. ``letter`` may stand at
    the decimal point with no prefix (``4R7``, ``3V3``). ``prefixes`` are those that a bench meets: ``MA``
    is refused since whoever writes it means mA. No reading lies below ``lowest``, which is in SI units.
    """

    symbol: str
    symbols: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    prefixes: str = ""
    letter: str = ""
    others: Mapping[str, Scale] = field(default_factory=dict)
    example: str = ""
    lowest: float = 0.0


_CELSIUS, _KELVIN = Scale(), Scale(offset=Fraction("-273.15"))
_FAHRENHEIT = Scale(Fraction(5, 9), Fraction(-160, 9))
_MINUTE, _HOUR, _DAY = Scale(Fraction(60)), Scale(Fraction(3_600)), Scale(Fraction(86_400))
_VOLT = Unit(
    "V", ("V", "VDC", "VAC"), ("volt", "volts"), "numk", "V", example="3.3 V or 50 mV", lowest=-MOST_READ
)

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
            lowest=-MOST_READ,
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
            lowest=-273.15,
        ),
        Measure.COUNT: Unit(
            "",
            others=dict.fromkeys(("x", "×", "pcs", "pc", "times", "count", "counts"), Scale()),
            example="a plain number",
        ),
    }
)


def example_of(measure: Measure) -> str:
    """How a reading of a measure may be written: ``3.3 V or 50 mV``."""
    return UNITS[measure].example


def unit_symbol(measure: Measure) -> str:
    """Return the SI unit that values of ``measure`` are in, such as ``ohm`` or ``°C``; empty for a count."""
    return UNITS[measure].symbol


def _spellings(unit: Unit) -> Iterator[tuple[str, Scale]]:
    """Give each way to write a unit of one measure in symbols, in its right letter case."""
    for symbol in (*unit.symbols, *unit.words):
        yield symbol, Scale()
        for prefix in unit.prefixes:
            yield prefix + symbol, ten_to(PREFIXES[prefix])
    yield from unit.others.items()


def _worded(unit: Unit) -> Iterator[tuple[str, Scale]]:
    """Give each way to write a unit with its prefix in words, which no letter case can turn into another."""
    for word in unit.words:
        for name, prefix in _PREFIX_WORDS.items():
            if prefix in unit.prefixes:
                yield name + word, ten_to(PREFIXES[prefix])
    if unit.symbol == "ohm":
        yield from (
            ("kilohm", ten_to(3)),
            ("kilohms", ten_to(3)),
            ("megohm", ten_to(6)),
            ("megohms", ten_to(6)),
        )


def fold(spelling: str) -> str:
    """Lower the case of all but a leading ``m`` or ``M``, which differ by nine orders of magnitude."""
    return spelling[:1] + spelling[1:].lower() if spelling[:1] in {"m", "M"} else spelling.lower()


class _Table(NamedTuple):
    """The spellings of one measure: in their right case, with the case forgiven, and in words."""

    exact: Mapping[str, Scale]
    forgiven: Mapping[str, Scale]
    worded: Mapping[str, Scale]

    def find(self, written: str) -> Scale | None:
        return self.exact.get(written) or self.forgiven.get(fold(written)) or self.worded.get(written.lower())


_ALONE: Final = {
    Measure.TIME: "write min for minutes or ms for milliseconds",
    Measure.FREQUENCY: "write MHz for megahertz or mHz for millihertz",
}
"""What to write instead of a lone ``m`` where it could be either of two things."""


def _bare(measure: Measure) -> str:
    """Return the prefixes that may stand without a unit."""
    prefixes = UNITS[measure].prefixes
    return prefixes.replace("m", "") if measure in _ALONE else prefixes


@lru_cache
def _table(measure: Measure) -> _Table:
    unit = UNITS[measure]
    exact = {spelling.replace(" ", ""): scale for spelling, scale in _spellings(unit)}
    bare = {prefix: ten_to(PREFIXES[prefix]) for prefix in _bare(measure)}
    worded = dict(_worded(unit)) | {
        name.lower(): scale for name, scale in unit.others.items() if len(name) > 2
    }
    forgiven = {fold(spelling): scale for spelling, scale in (bare | exact).items()}
    if measure is Measure.FREQUENCY:
        del forgiven["mhz"]  # "mhz" nearly always means MHz, so it may not quietly become millihertz
    return _Table(bare | exact, forgiven, worded)


def spellings_of(measure: Measure) -> dict[str, Any]:
    """Return how units of a measure are spelt, for readers and writers in other languages than this one.

    ``symbol`` takes the ``prefixes``. ``exact`` are spellings in their right letter case, which :func:`fold`
    forgives but for ``refused``; ``worded`` are in lower case, ``code`` are letters that may stand at the
    decimal point. A power of ten is given as its exponent, any other unit as factor and offset. Readings lie
    between ``lowest`` and ``most``.
    """
    table, letters = _table(measure), "RVAfpnumkMGTrvaPNUKgt"
    code = {letter: scale for letter in letters if (scale := code_scale(letter, measure)) is not None}
    kinds = {"exact": table.exact, "worded": table.worded, "code": code}
    refused = sorted({fold(spelling) for spelling in table.exact} - table.forgiven.keys())
    found: dict[str, Any] = {
        kind: {spelling: _plain(scale) for spelling, scale in scales.items()}
        for kind, scales in kinds.items()
    }
    unit = UNITS[measure]
    limits = {"lowest": unit.lowest, "most": MOST_READ}
    return found | {"refused": refused, "symbol": unit.symbol, "prefixes": unit.prefixes} | limits


def _plain(scale: Scale) -> int | list[float]:
    for power in range(-15, 13):
        if scale == ten_to(power):
            return power
    return [float(scale.factor), float(scale.offset)]


def code_scale(letter: str, measure: Measure) -> Scale | None:
    """Return the scale of a letter that stands at the decimal point, or ``None`` if it may not."""
    unit = UNITS[measure]
    if letter.upper() == unit.letter or (letter == "ohm" and measure is Measure.RESISTANCE):
        return Scale()
    if unit.letter or measure is Measure.FREQUENCY:
        for prefix in _bare(measure):
            if fold(prefix) == fold(letter):
                return ten_to(PREFIXES[prefix])
    return None


def scale_of(spelling: str, measure: Measure, text: str) -> Scale:
    """Return what a unit is worth; ``text`` is the whole text, for the message if there is no such unit."""
    written = spelling.replace(" ", "").rstrip(".")
    found = _table(measure).find(written)
    if found is None:
        raise UnitError(text, _advice(written, measure), _complaint(written, spelling, measure))
    return found


def _complaint(written: str, spelling: str, measure: Measure) -> str:
    """Say what is wrong with a unit: it is another measure's, or nobody's."""
    for other in Measure:
        if other is not measure and written not in PREFIXES and _table(other).find(written):
            return f"{quote(spelling)} is a unit of {other}, not of {measure},"
    return f"unknown unit {quote(spelling)}"


def _advice(written: str, measure: Measure) -> str:
    """Say what the writer of a wrong unit probably meant."""
    exact = _table(measure).exact
    if measure in _ALONE and written in {"m", "M"}:
        return _ALONE[measure]
    twins = [spelling for spelling in exact if spelling.lower() == written.lower()]
    if twins and written[:1] in {"m", "M"}:
        return f"m is milli and M is mega: did you mean {' or '.join(map(repr, twins))}?"
    whole = {spelling.lower(): spelling for spelling in exact if spelling not in PREFIXES}
    near = get_close_matches(written.lower(), whole, n=1, cutoff=0.7)
    return f"did you mean {whole[near[0]]!r}?" if near else f"write {measure} as {UNITS[measure].example}"
