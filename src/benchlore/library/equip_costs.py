"""What complaints cost a shop by what it adds to its equipment, with as few plans as that takes.

More equipment never costs more, since every procedure stays possible. So a plan bounds others: no set costs
less than the least of a larger one, and none more than what was found for a smaller one. Where the two meet
nothing is planned, nor where the same checks and fixes are left to choose from.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from benchlore.library.progress import Report
from benchlore.model import Model
from benchlore.procedure import Effort, instance_of, plan
from benchlore.procedure.arrays import reduced
from benchlore.procedure.pricing import lacking_of
from benchlore.proof import Run
from benchlore.shop import Shop

CLOSED: Final = 1e-6
"""How near two bounds must come, as a share, to be one cost."""

Names = frozenset[str]
_Kept = tuple[tuple[int, ...], tuple[int, ...]]
"""The checks and the fixes that can matter."""


@dataclass(frozen=True, slots=True)
class Between:
    """The cost of a job: no procedure costs less than ``least``, one is known that costs ``found``."""

    least: float
    found: float

    @property
    def is_proven(self) -> bool:
        """Whether the two are one."""
        return self.found - self.least <= CLOSED * max(1.0, self.found)


@dataclass(frozen=True, eq=False)
class _Task:
    model: Model
    shop: Shop
    effort: Effort


def _planned(task: _Task) -> Between:
    procedure = plan(task.model, task.shop, effort=task.effort)
    return Between(min(procedure.bound, procedure.expected), procedure.expected)


class EquipmentCosts:
    """Costs of a job of each model's complaint, by the names that are added to a shop.

    ``sets`` are what single checks and fixes lack, by model, and ``needed`` all of it. ``planned`` is how
    many plans were made, ``asked`` how many costs were asked for.
    """

    def __init__(self, models: Sequence[Model], shop: Shop, effort: Effort, run: Run) -> None:
        self._models, self._shop, self._effort, self._run = tuple(models), shop, effort, run
        self.sets = tuple(tuple(map(Names, lacking_of(model, shop))) for model in self._models)
        self.needed = tuple(Names().union(*sets) for sets in self.sets)
        self._known: list[dict[Names, Between]] = [{} for _ in self._models]
        self._by_kept: list[dict[_Kept, Between]] = [{} for _ in self._models]
        self.planned = self.asked = 0

    def find(self, sets: Iterable[Names], stage: str, report: Report) -> None:
        """Plan what the bounds leave open, for every complaint with each of the sets added."""
        wanted = [(k, names) for names in sets for k in range(len(self._models))]
        self.asked += len(wanted)
        tasks: dict[tuple[int, _Kept], list[Names]] = {}
        for k, names in dict.fromkeys((k, names & self.needed[k]) for k, names in wanted):
            if names in self._known[k] or self._is_closed(k, names):
                continue
            kept = self._kept(k, names)
            if kept in self._by_kept[k]:
                self._known[k][names] = self._by_kept[k][kept]
            else:
                tasks.setdefault((k, kept), []).append(names)
        self.planned += len(tasks)
        report(stage, 0, len(tasks))
        for done, ((k, kept), found) in enumerate(zip(tasks, self._plans(tasks), strict=True)):
            self._by_kept[k][kept] = found
            self._known[k].update(dict.fromkeys(tasks[k, kept], found))
            report(stage, done + 1, len(tasks))

    def between(self, k: int, names: Names) -> Between:
        """What is known of a complaint's cost with these added, once none and all of them were asked for."""
        names = names & self.needed[k]
        known = self._known[k].items()
        found = min(each.found for others, each in known if others <= names)
        least = max(each.least for others, each in known if others >= names)
        return Between(min(least, found), found)

    def _is_closed(self, k: int, names: Names) -> bool:
        known = self._known[k]
        return Names() in known and self.needed[k] in known and self.between(k, names).is_proven

    def _kept(self, k: int, names: Names) -> _Kept:
        left = reduced(instance_of(self._models[k], with_added(self._shop, names)))
        return left.checks, left.fixes

    def _plans(self, tasks: dict[tuple[int, _Kept], list[Names]]) -> Iterator[Between]:
        return self._run(
            _planned,
            [
                _Task(self._models[k], with_added(self._shop, sets[0]), self._effort)
                for (k, _), sets in tasks.items()
            ],
        )


def with_added(shop: Shop, names: Names) -> Shop:
    """The shop with more on its bench; what it can do counts the same way."""
    return replace(shop, instruments=shop.instruments | names)
