"""The world that the demo's jobs are drawn from: a fault book bent by ``truth.yaml``."""

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from demo_jobs.booktext import BookText, CheckText, ComplaintText, FaultText, FixText, FloatArray, Shown


@dataclass(frozen=True)
class Unlisted:
    """A fault that the book does not know, and what the shops say of it, by language."""

    fault: FaultText
    share: dict[str, float]
    said: dict[str, str]


@dataclass(frozen=True)
class World:
    """One board as it really is: a book with bent numbers, faults that it lacks, checks that err together."""

    believed: BookText
    book: BookText
    unlisted: dict[str, Unlisted]
    together: tuple[tuple[frozenset[str], float], ...]
    mistyped: float

    def fault(self, name: str) -> FaultText:
        """Return a fault, listed or not."""
        return self.unlisted[name].fault if name in self.unlisted else self.book.faults[name]

    def draw_fault(self, complaint: str, random: np.random.RandomState) -> str:
        """Draw the fault of a board with this complaint."""
        seen = self.book.complaints[complaint]
        weights = dict(seen.seen)
        for name, one in self.unlisted.items():
            weights[name] = one.share.get(complaint, 0.0) / 100 * sum(seen.seen.values())
        return list(weights)[choice(np.array(list(weights.values())), random)]

    def draw_states(self, fault: str, random: np.random.RandomState) -> dict[str, int]:
        """Draw the state of each condition on a board with this fault."""
        causes = self.fault(fault).causes
        return {
            name: choice(state_row(causes.get(name), states, self.book.by_chance[name]), random)
            for name, states in self.book.states.items()
        }

    def draw_misses(self, random: np.random.RandomState) -> frozenset[str]:
        """Draw which checks will all show the first state, whatever is there."""
        return frozenset().union(*(both for both, share in self.together if random.random_sample() < share))

    def read(self, check: str, state: int, random: np.random.RandomState) -> str | float:
        """Take a reading; now and then its decimal point slips when it is written down."""
        one = self.book.checks[check]
        if one.results:
            return one.results[choice(one.chances[state], random)]
        value = one.shown[state].draw(random)
        if one.measures == "temperature":
            return value
        slips = random.random_sample() < self.mistyped
        return abs(value) * (random.choice([10.0, 0.1]) if slips else 1.0)


def state_row(causes: dict[str, float] | None, states: tuple[str, ...], by_chance: float) -> FloatArray:
    """Return a fault's probabilities of a condition's states.

    What a row leaves out goes to ``normal``, or is shared by the states that it does not name; a condition
    that the fault says nothing of is odd by chance.
    """
    if causes is None:
        rest = by_chance / (len(states) - 1)
        return np.array([1 - by_chance, *(rest for _ in states[1:])])
    left = 1 - sum(causes.values())
    unnamed = [state for state in states if state not in causes]
    takers = ["normal"] if "normal" in unnamed else unnamed
    share = left / len(takers)
    return np.array([causes.get(state, share if state in takers else 0.0) for state in states])


@dataclass(frozen=True)
class Bender:
    """Bends a book: ``said`` is what the truth says of this board, ``sizes`` how far the rest moves."""

    book: BookText
    said: dict[str, Any]
    sizes: dict[str, Any]
    random: np.random.RandomState

    def world(self) -> World:
        """Bend the whole book into a world."""
        book = self.book
        low, high = self.sizes["by chance"]
        bent = replace(
            book,
            checks={name: self._check(one) for name, one in book.checks.items()},
            faults={name: self._fault(one) for name, one in book.faults.items()},
            fixes={name: self._fix(one) for name, one in book.fixes.items()},
            complaints={name: self._complaint(one) for name, one in book.complaints.items()},
            by_chance={
                name: share * self.random.uniform(low, high) for name, share in book.by_chance.items()
            },
        )
        return World(
            believed=book,
            book=bent,
            unlisted={name: _unlisted(name, one) for name, one in self.said["unlisted"].items()},
            together=tuple((frozenset(one["checks"]), one["miss"]) for one in self.said["together"]),
            mistyped=self.sizes["mistyped"],
        )

    def _chance(self, probability: float) -> float:
        safe = min(max(probability, 0.002), 0.998)
        odds = math.log(safe / (1 - safe)) + self.sizes["chance"] * self.random.standard_normal()
        return 1 / (1 + math.exp(-odds))

    def _complaint(self, one: ComplaintText) -> ComplaintText:
        return replace(one, seen={fault: self._count(fault, count) for fault, count in one.seen.items()})

    def _count(self, fault: str, count: float) -> float:
        factor = math.exp(self.sizes["prevalence"] * self.random.standard_normal())
        return count * float(self.said["prevalence"].get(fault, factor))

    def _fault(self, fault: FaultText) -> FaultText:
        causes = {
            condition: _no_more_than_all({state: self._chance(share) for state, share in row.items()})
            for condition, row in fault.causes.items()
        }
        return replace(fault, causes=causes)

    def _fix(self, fix: FixText) -> FixText:
        said = self.said["cures"].get(fix.name, {})
        return replace(fix, cures={fault: said.get(fault, self._chance(p)) for fault, p in fix.cures.items()})

    def _check(self, check: CheckText) -> CheckText:
        states = self.book.states[check.reads]
        if check.results:
            said = self.said["chances"].get(check.name, {})
            rows = [
                self._row(check, row, said.get(s, {})) for s, row in zip(states, check.chances, strict=True)
            ]
            return replace(check, chances=np.array(rows))
        moves = self.said["readings"].get(check.name, {})
        moved: dict[Shown, Shown] = {}
        for state, one in zip(states, check.shown, strict=True):
            moved.setdefault(one, self._moved(one, moves.get(state)))
        return replace(check, shown=tuple(moved[one] for one in check.shown))

    def _row(self, check: CheckText, row: FloatArray, said: dict[str, float]) -> FloatArray:
        """Bend each result's log-odds; what the truth states stands, and the others share the rest."""
        bent = np.array([self._chance(p) for p in row])
        fixed = {check.results.index(result): share for result, share in said.items()}
        free = [place for place in range(len(bent)) if place not in fixed]
        bent[free] *= (1 - sum(fixed.values())) / bent[free].sum()
        for place, share in fixed.items():
            bent[place] = share
        return bent

    def _moved(self, one: Shown, factors: list[float] | None) -> Shown:
        low, high = self.sizes["spread"]
        shift = self.sizes["centre"] * one.sd * self.random.standard_normal()
        widen = self.random.uniform(low, high)
        if factors is None:
            return replace(one, mean=one.mean + shift, sd=one.sd * widen)
        mean = one.mean + math.log(factors[0]) if one.log else one.mean * factors[0]
        return replace(one, mean=mean, sd=one.sd * factors[1])


def _unlisted(name: str, one: dict[str, Any]) -> Unlisted:
    return Unlisted(FaultText(name, name, one["states"], (), one.get("every")), one["share"], one["said"])


def _no_more_than_all(row: dict[str, float]) -> dict[str, float]:
    total = max(1.0, sum(row.values()) / 0.99)
    return {state: share / total for state, share in row.items()}


def choice(weights: FloatArray, random: np.random.RandomState) -> int:
    """Draw a place with the given weights."""
    steps = np.cumsum(weights)
    return int(
        np.searchsorted(steps, random.random_sample() * steps[-1], side="right").clip(0, len(steps) - 1)
    )
