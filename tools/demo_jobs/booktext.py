"""A fault book as plain numbers, read without the product and only as far as drawing jobs needs it."""

import math
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from ruamel.yaml import YAML

FloatArray = NDArray[np.float64]

_SCALE = {
    "mohm": 1e-3,
    "ohm": 1.0,
    "kohm": 1e3,
    "Mohm": 1e6,
    "mV": 1e-3,
    "V": 1.0,
    "mA": 1e-3,
    "A": 1.0,
    "s": 1.0,
    "min": 60.0,
    "h": 3600.0,
    "°C": 1.0,
}
_NUMBER = re.compile(r"([0-9.]+) ?([A-Za-z°]*)")


@dataclass(frozen=True)
class Shown:
    """What a measured check shows in one state: normal in ``y`` (a logarithm if ``log``), or over range."""

    mean: float
    sd: float
    log: bool
    over: float = 0.0

    def draw(self, random: np.random.RandomState) -> float:
        """Draw a reading."""
        over, y = random.random_sample() < self.over, self.mean + self.sd * random.standard_normal()
        if over:
            return math.inf
        return math.exp(y) if self.log else y

    def density(self, value: float) -> float:
        """Return the density at ``value``; at over range, its probability."""
        if math.isinf(value):
            return self.over
        if self.log and value <= 0:
            return 0.0
        y = math.log(value) if self.log else value
        height = math.exp(-0.5 * ((y - self.mean) / self.sd) ** 2) / (self.sd * math.sqrt(2 * math.pi))
        return (1 - self.over) * height / (value if self.log else 1.0)


@dataclass(frozen=True)
class Asks:
    """Minutes, setups and the chance of ruin of a setup, check or fix."""

    takes: float
    waits: float
    ruins: float
    setups: tuple[str, ...]


@dataclass(frozen=True)
class CheckText:
    """One check: ``chances`` is ``(states, results)`` for named results, ``shown`` is by state otherwise."""

    name: str
    reads: str
    asks: Asks
    called: tuple[str, ...]
    title: str
    results: tuple[str, ...] = ()
    chances: FloatArray = field(default_factory=lambda: np.zeros((0, 0)))
    measures: str = ""
    shown: tuple[Shown, ...] = ()
    gates: tuple[tuple[str, str, bool], ...] = ()


@dataclass(frozen=True)
class FixText:
    """One fix, with the faults that it cures and how often."""

    name: str
    title: str
    asks: Asks
    cures: dict[str, float]
    called: tuple[str, ...]
    gates: tuple[tuple[str, str, bool], ...] = ()


@dataclass(frozen=True)
class FaultText:
    """One fault: ``causes`` by condition and state; ``every`` is the time between events in minutes."""

    name: str
    title: str
    causes: dict[str, dict[str, float]]
    called: tuple[str, ...]
    every: float | None = None


@dataclass(frozen=True)
class ComplaintText:
    """One complaint, with the expert's counts."""

    name: str
    title: str
    called: tuple[str, ...]
    every: float | None
    retest: Asks
    boards: float
    seen: dict[str, float]


@dataclass(frozen=True)
class BookText:
    """All of a book that drawing jobs needs."""

    board: str
    setups: dict[str, Asks]
    states: dict[str, tuple[str, ...]]
    by_chance: dict[str, float]
    checks: dict[str, CheckText]
    faults: dict[str, FaultText]
    fixes: dict[str, FixText]
    complaints: dict[str, ComplaintText]


def read_book_text(path: Path) -> BookText:
    """Read a book that is known to be sound."""
    text: dict[str, Any] = YAML(typ="safe").load(path.read_text(encoding="utf-8"))
    bare = {name: _asks(one, {}) for name, one in text["setups"].items()}
    after = {name: one.get("after") for name, one in text["setups"].items()}
    chains = {name: _chain(name, after) for name in after}
    states = {name: tuple(one["states"]) for name, one in text["conditions"].items()}
    return BookText(
        board=path.parent.name,
        setups=bare,
        states=states,
        by_chance={name: chance(one.get("by chance", "2 %")) for name, one in text["conditions"].items()},
        checks={name: _check(name, one, chains, states) for name, one in text["checks"].items()},
        faults={name: _fault(name, one) for name, one in text["faults"].items()},
        fixes={name: _fix(name, one, chains) for name, one in text["fixes"].items()},
        complaints={name: _complaint(name, one) for name, one in text["complaints"].items()},
    )


def chance(text: str | float) -> float:
    """Read ``85 %``."""
    return float(str(text).removesuffix("%")) / 100


def minutes(text: str) -> float:
    """Read ``25 min`` or ``182 s`` in minutes."""
    return quantity(text) / 60


def quantity(text: str) -> float:
    """Read ``4.2 kohm`` in SI units (°C for a temperature)."""
    match = _NUMBER.fullmatch(str(text).strip())
    if match is None:
        raise ValueError(f"no quantity: {text!r}")
    return float(match[1]) * _SCALE[match[2]] if match[2] else float(match[1])


def shown(text: str, measure: str) -> Shown:
    """Read what a state shows; the stated limits hold about 95 of 100 readings."""
    if text == "OL":
        return Shown(0.0, 1.0, log=False, over=0.97)
    if text.startswith("below "):
        return Shown(math.log(quantity(text[6:]) / 6), 0.8, log=True)
    if text.startswith("above "):
        return Shown(math.log(quantity(text[6:]) * 8), 0.8, log=True, over=0.6)
    if "±" in text:
        centre, _, spread = text.partition(" ± ")
        return _around(centre, spread, measure)
    low, high = _ends(text)
    if low > 0 and high / low > 3:
        return Shown(math.log(low * high) / 2, math.log(high / low) / 4, log=True)
    return Shown((low + high) / 2, (high - low) / 4, log=False)


def _around(centre: str, spread: str, measure: str) -> Shown:
    middle = quantity(centre)
    half = middle * chance(spread) if spread.endswith("%") else quantity(spread)
    if measure == "resistance" or half / middle >= 0.4:
        return Shown(math.log(middle), math.log1p(half / middle) / 2, log=True)
    return Shown(middle, half / 2, log=False)


def _ends(text: str) -> tuple[float, float]:
    low, high = text.split(" to ")
    unit = high.split()[1]
    return quantity(low if " " in low else f"{low} {unit}"), quantity(high)


def _chain(name: str, after: dict[str, str | None]) -> tuple[str, ...]:
    before = after[name]
    return (*(_chain(before, after) if before else ()), name)


def _asks(one: dict[str, Any], chains: dict[str, tuple[str, ...]]) -> Asks:
    wanted = [step for need in one.get("needs", ()) for step in chains.get(need, ())]
    return Asks(
        takes=minutes(one["takes"]),
        waits=minutes(one.get("waits", one.get("soak", "0 min"))),
        ruins=chance(one.get("ruins", "0 %")),
        setups=tuple(dict.fromkeys(wanted)),
    )


def _called(one: dict[str, Any]) -> tuple[str, ...]:
    return tuple(str(word) for word in one["also"])


def _gates(one: dict[str, Any]) -> tuple[tuple[str, str, bool], ...]:
    gates = one.get("only after", {})
    return tuple(
        (name, str(state).removeprefix("not "), "not " in str(state)) for name, state in gates.items()
    )


def _check(
    name: str,
    one: dict[str, Any],
    chains: dict[str, tuple[str, ...]],
    states: dict[str, tuple[str, ...]],
) -> CheckText:
    shows, all_states = one["shows"], states[one["reads"]]
    results, measure = tuple(str(each) for each in one.get("results", ())), one.get("measures", "")
    plain = {state: shown(said, measure) for state, said in shows.items() if measure and "like" not in said}
    like = {state: said.removeprefix("like ") for state, said in shows.items() if measure and "like" in said}
    return CheckText(
        name=name,
        reads=one["reads"],
        asks=_asks(one, chains),
        called=_called(one),
        title=one.get("title", name),
        results=results,
        chances=np.array([_row(shows[state], results) for state in all_states])
        if results
        else np.zeros((0, 0)),
        measures=measure,
        shown=tuple(plain[like.get(state, state)] for state in all_states) if measure else (),
        gates=_gates(one),
    )


def _row(said: dict[str, str], results: tuple[str, ...]) -> list[float]:
    """Spread what a row leaves out evenly over the results that it does not name."""
    named = {str(result): chance(text) for result, text in said.items()}
    rest = (1 - sum(named.values())) / max(1, len(results) - len(named))
    return [named.get(result, rest) for result in results]


def _fault(name: str, one: dict[str, Any]) -> FaultText:
    causes = {
        condition: {state: chance(text) for state, text in row.items()}
        for condition, row in one["causes"].items()
    }
    every = minutes(one["about every"]) if "about every" in one else None
    return FaultText(name, one["title"], causes, _called(one), every)


def _fix(name: str, one: dict[str, Any], chains: dict[str, tuple[str, ...]]) -> FixText:
    cures = {fault: chance(text) for fault, text in one["cures"].items()}
    return FixText(name, one["title"], _asks(one, chains), cures, _called(one), _gates(one))


def _complaint(name: str, one: dict[str, Any]) -> ComplaintText:
    every = minutes(one["intermittent"]["about every"]) if "intermittent" in one else None
    seen = one["seen"]
    return ComplaintText(
        name,
        one["title"],
        _called(one),
        every,
        _asks(one["retest"], {}),
        seen["boards"],
        dict(seen["faults"]),
    )
