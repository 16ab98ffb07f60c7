"""What a technician types at the bench, turned into evidence."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isinf
from typing import Final

from benchlore.library.errors import ReadingError
from benchlore.model import Check, Evidence, Fix, Model, Setup
from benchlore.money import MOST_MONEY
from benchlore.notation import did_you_mean
from benchlore.procedure import Situation
from benchlore.shop import Shop
from benchlore.units import UnitError, format_quantity, parse_reading

UNCLEAR: Final = "unclear"
"""What is typed for a reading that tells nothing."""


@dataclass(frozen=True, slots=True)
class Bench:
    """Where a job stands, in names: ``readings`` are ``(check, text)`` as typed; the rest are names.

    ``failed`` are fixes after which the complaint was still there; ``setups`` stand already; ``skipped`` are
    checks and fixes that this bench will not do; ``without`` is equipment that it lacks today. The text
    ``unclear`` is a reading that tells nothing. ``budget`` is what may still be spent, in the shop's
    currency.
    """

    readings: tuple[tuple[str, str], ...] = ()
    failed: tuple[str, ...] = ()
    setups: tuple[str, ...] = ()
    skipped: tuple[str, ...] = ()
    without: tuple[str, ...] = ()
    budget: float | None = None


@dataclass(frozen=True, slots=True)
class ReadAs:
    """One reading as it was understood: the check's title and the reading in the program's own words."""

    check: str
    title: str
    text: str


def situation_of(model: Model, shop: Shop, bench: Bench) -> Situation:
    """Turn all that a technician says into where the job stands; raises ``ReadingError``."""
    if bench.budget is not None and not 0 <= bench.budget < MOST_MONEY:
        right = f"what may still be spent is an amount from 0 on, less than {MOST_MONEY:,.0f}"
        raise ReadingError(f"budget {bench.budget:,.15g}", right)
    unclear = tuple(
        dict.fromkeys(
            index
            for name, text in bench.readings
            if _is_unclear(model.checks[index := _place(name, model.checks, "check")], text)
        )
    )
    return Situation(
        evidence_of(model, bench),
        setups_of(model, bench.setups),
        unclear,
        skipped_of(model, bench.skipped),
        missing_of(model, shop, bench.without),
        bench.budget,
    )


def evidence_of(model: Model, bench: Bench) -> Evidence:
    """Turn names and texts into indices and numbers.

    Raises
    ------
    ReadingError
        If a name is not the model's, a check is read twice, or a reading cannot be understood.
    """
    results: list[tuple[int, int]] = []
    values: list[tuple[int, float]] = []
    seen: set[int] = set()
    for name, text in bench.readings:
        index = _place(name, model.checks, "check")
        if index in seen:
            raise ReadingError(
                f"{name}={text}", f"the check '{name}' was read already; give one reading for it"
            )
        seen.add(index)
        if _is_unclear(model.checks[index], text):
            continue
        _read(model.checks[index], index, text, results, values)
    failed = tuple(dict.fromkeys(_place(name, model.fixes, "fix") for name in bench.failed))
    return Evidence(tuple(results), tuple(values), failed)


def setups_of(model: Model, names: Sequence[str]) -> tuple[int, ...]:
    """Places of setups that stand already."""
    return tuple(_place(name, model.setups, "setup") for name in names)


def skipped_of(model: Model, names: Sequence[str]) -> tuple[str, ...]:
    """Names of checks and fixes that are not to be proposed; each must be one of the model's."""
    known: tuple[Check | Fix, ...] = (*model.checks, *model.fixes)
    return tuple(known[_place(name, known, "check or fix")].name for name in names)


def missing_of(model: Model, shop: Shop, names: Sequence[str]) -> tuple[str, ...]:
    """Equipment that is missing today; each name must be the shop's, or one that the book asks for."""
    parts: tuple[Setup | Check | Fix, ...] = (*model.setups, *model.checks, *model.fixes)
    known = sorted(shop.equipment | {name for part in parts for name in part.work.equipment})
    for name in names:
        if name not in known:
            raise ReadingError(
                name, f"there is no instrument or skill of that name{did_you_mean(name, known)}"
            )
    return tuple(names)


def read_as(model: Model, evidence: Evidence, unclear: Sequence[int] = ()) -> tuple[ReadAs, ...]:
    """Say how each reading was understood."""
    rows = [(index, model.checks[index].results[result]) for index, result in evidence.readings]
    rows += [(index, _printed(model.checks[index], value)) for index, value in evidence.values]
    rows += [(index, UNCLEAR) for index in unclear]
    return tuple(ReadAs(model.checks[i].name, model.checks[i].title, text) for i, text in sorted(rows))


def _place(text: str, things: Sequence[Setup | Check | Fix], what: str) -> int:
    """Find a thing by its name or, whatever the case, by its title."""
    names = [thing.name for thing in things]
    if text in names:
        return names.index(text)
    titled = [k for k, thing in enumerate(things) if thing.title.casefold() == text.casefold()]
    if len(titled) == 1:
        return titled[0]
    raise ReadingError(text, f"there is no {what} of that name{did_you_mean(text, names)}")


def _is_unclear(check: Check, text: str) -> bool:
    """Whether a reading says that it tells nothing; a result of that name is a result."""
    folded = text.strip().casefold()
    return folded == UNCLEAR and folded not in (result.casefold() for result in check.results)


def _read(
    check: Check, index: int, text: str, results: list[tuple[int, int]], values: list[tuple[int, float]]
) -> None:
    folded = [result.casefold() for result in check.results]
    if check.densities is not None and (text.casefold() not in folded or text.casefold() == "ol"):
        try:
            values.append((index, parse_reading(text, check.densities.measure)))
        except UnitError as error:
            raise ReadingError(f"{check.name}={text}", str(error)) from None
        return
    if text.casefold() not in folded:
        raise ReadingError(
            f"{check.name}={text}",
            f"'{check.name}' shows {' or '.join(check.results)}; write {UNCLEAR} if it told nothing",
        )
    results.append((index, folded.index(text.casefold())))


def _printed(check: Check, value: float) -> str:
    assert check.densities is not None
    return "OL" if isinf(value) else format_quantity(value, check.densities.measure)
