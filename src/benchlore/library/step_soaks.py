"""The soaks of a procedure: how long after each fix, and what a clean one proves there."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from benchlore.book import Book
from benchlore.library.desk_standing import fix_of
from benchlore.library.errors import NoRateError
from benchlore.library.soaking import SoakAsked, SoakPlan, SoakRow, soak_given
from benchlore.model import Model
from benchlore.procedure import Kind, Step
from benchlore.shop import Shop


@dataclass(frozen=True, eq=False)
class StepSoak:
    """A fix of a procedure and its soak: the step's number as sheets count, the fix's title, what it proves.

    ``plan`` is what ``benchlore soak plan`` would say with what is believed at the step.
    """

    number: int
    title: str
    row: SoakRow
    plan: SoakPlan


def step_soaks(book: Book, model: Model, shop: Shop, steps: Iterable[Step]) -> tuple[StepSoak, ...]:
    """Say of each fix step what its soak proves; empty where the complaint always shows."""
    return tuple(_soaks(book, model, shop, steps))


def _soaks(book: Book, model: Model, shop: Shop, steps: Iterable[Step]) -> Iterator[StepSoak]:
    places = {fault: place for place, fault in enumerate(model.faults)}
    for number, step in enumerate(steps, 1):
        if step.kind is not Kind.FIX:
            continue
        belief = np.zeros(len(model.faults))
        for fault, chance in step.suspects:
            belief[places[fault]] = chance
        fix = fix_of(model, step.action)
        uncured = belief * (1.0 - model.fixes[fix].cure_probabilities)
        try:
            plan = soak_given(book, model, shop, uncured, fix, SoakAsked(soaked=step.soak))
        except NoRateError:
            continue
        assert plan.after is not None  # a fix was given
        row = next(row for row in plan.after.rows if row.why == "done")
        yield StepSoak(number, plan.after.title, row, plan)
