"""Long work in pieces: who does them is passed in, and what comes out is the same whoever does."""

from collections.abc import Callable, Iterator, Sequence
from typing import Protocol, TypeAlias, TypeVar

import numpy as np

Told: TypeAlias = Callable[[str, int, int], None]
"""Told the stage of the work, how much of it is done, and how much there is."""

Task = TypeVar("Task")
Result = TypeVar("Result")


class Run(Protocol):
    """Apply a function to each task and yield the results in the order of the tasks.

    The function is one of a module and tasks can be pickled, so that other processes can do them.
    """

    def __call__(self, function: Callable[[Task], Result], tasks: Sequence[Task]) -> Iterator[Result]:
        """Do the tasks."""


def in_turn(function: Callable[[Task], Result], tasks: Sequence[Task]) -> Iterator[Result]:
    """Do one task after the other, here."""
    yield from map(function, tasks)


def all_told(results: Iterator[Result], stage: str, total: int, told: Told) -> list[Result]:
    """Collect results, and tell of each."""
    told(stage, 0, total)
    found = []
    for result in results:
        found.append(result)
        told(stage, len(found), total)
    return found


def untold(stage: str, done: int, total: int) -> None:
    """Tell nobody."""


def seeds(seed: int, stage: int, count: int) -> list[np.random.SeedSequence]:
    """A seed for each task of a stage, independent of all others and of who does the task."""
    return np.random.SeedSequence(seed, spawn_key=(stage,)).spawn(count)


def generator(seed: int, stage: int) -> np.random.Generator:
    """The random generator of a stage that is one piece of work."""
    return np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(stage,)))
