"""Jobs as a bench works through them: in its own habit, until it believes that it knows the fault."""

import math
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

import numpy as np

from demo_jobs.booktext import Asks, FixText, FloatArray
from demo_jobs.truth import World, state_row

_LEAST = 0.003
_TRIES = 3
_FIRST_DAY = date(2025, 2, 3)
_DAYS = 410
_KNOWN_AFTER = 75


@dataclass(frozen=True)
class Habit:
    """How one shop works on one complaint: the order of its checks, and how it decides."""

    checks: tuple[str, ...]
    sure: float
    pace: float
    soak: float
    skips: float
    writes: float
    cannot: frozenset[str]

    @staticmethod
    def of(shop: dict[str, Any], complaint: str) -> "Habit":
        """Take a habit from ``truth.yaml``."""
        return Habit(
            checks=tuple(shop["habits"][complaint]),
            cannot=frozenset(shop["cannot"]),
            **{key: shop[key] for key in ("sure", "pace", "soak", "skips", "writes")},
        )


@dataclass
class Drawn:
    """One job: what is true of it, and what the bench wrote down.

    ``log`` holds ``("check", name, reading)`` and ``("fix", name, "gone" | "still there")`` in order.
    ``cause`` is a fault of the book, an unlisted one, or ``None`` where the bench does not say.
    """

    board: str
    complaint: str
    true_fault: str
    opened: date
    technician: str
    log: list[tuple[str, str, str | float]] = field(default_factory=list)
    outcome: str = "returned"
    cause: str | None = None
    hands_on: float = 0.0
    waiting: float = 0.0
    comeback: bool | None = None


class Mind:
    """What a technician believes: the book's numbers, and Bayes' rule."""

    def __init__(self, world: World, complaint: str) -> None:
        self.book = world.believed
        self.faults = tuple(self.book.complaints[complaint].seen)
        counts = np.array(list(self.book.complaints[complaint].seen.values()), dtype=float)
        self.prior: FloatArray = counts / counts.sum()
        self.seen: dict[str, FloatArray] = {}

    def learn(self, check: str, reading: str | float) -> None:
        """Take a reading in: what each state of its condition would have made of it."""
        one = self.book.checks[check]
        like = np.array(
            [self._likelihood(check, state, reading) for state in range(len(self.book.states[one.reads]))]
        )
        self.seen[one.reads] = self.seen.get(one.reads, np.ones_like(like)) * like / like.max()

    def _likelihood(self, check: str, state: int, reading: str | float) -> float:
        one = self.book.checks[check]
        if isinstance(reading, str):
            return float(one.chances[state, one.results.index(reading)]) + _LEAST
        blunder = _LEAST if math.isinf(reading) else _LEAST / (abs(reading) + 0.01)
        return one.shown[state].density(reading) + blunder

    def beliefs(self) -> FloatArray:
        """Return the probability of each fault."""
        weights = self.prior.copy()
        for place, fault in enumerate(self.faults):
            causes = self.book.faults[fault].causes
            for condition, like in self.seen.items():
                row = state_row(
                    causes.get(condition), self.book.states[condition], self.book.by_chance[condition]
                )
                weights[place] *= row @ like
        beliefs: FloatArray = weights / weights.sum()
        return beliefs

    def top(self) -> tuple[str, float]:
        """Return the fault that is believed most, and how much."""
        beliefs = self.beliefs()
        place = int(beliefs.argmax())
        return self.faults[place], float(beliefs[place])

    def doubt(self, fix: FixText) -> None:
        """Believe less in what a fix should have cured."""
        for fault, cured in fix.cures.items():
            if fault in self.faults:
                self.prior[self.faults.index(fault)] *= 1 - cured

    def says(self, check: str, state: str, reading: str | float) -> bool:
        """Say whether a reading is taken for a state (or is that result)."""
        if reading == state:
            return True
        states = self.book.states[self.book.checks[check].reads]
        if state not in states:
            return False
        likes = [self._likelihood(check, place, reading) for place in range(len(states))]
        return likes.index(max(likes)) == states.index(state)


class Bench:
    """Works on one job after another."""

    def __init__(self, world: World, habit: Habit, random: np.random.RandomState) -> None:
        self.world, self.habit, self.random = world, habit, random

    def draw(self, complaint: str, technician: str) -> Drawn:
        """Draw a board and work on it."""
        fault = self.world.draw_fault(complaint, self.random)
        day = _FIRST_DAY + timedelta(days=int(self.random.randint(_DAYS)))
        day -= timedelta(days=max(0, day.weekday() - 4))
        job = Drawn(self.world.book.board, complaint, fault, day, technician)
        Work(self, job, Mind(self.world, complaint)).run()
        return job


class Work:
    """One job on the bench."""

    def __init__(self, bench: Bench, job: Drawn, mind: Mind) -> None:
        self.bench, self.job, self.mind = bench, job, mind
        self.world, self.habit, self.random = bench.world, bench.habit, bench.random
        self.states = self.world.draw_states(job.true_fault, self.random)
        self.missed = self.world.draw_misses(self.random)
        self.setups: set[str] = set()
        self.readings: dict[str, str | float] = {}
        self.tried: list[str] = []
        self.is_over = False

    def run(self) -> None:
        """Look and mend until the board leaves."""
        for check in self._order():
            if self.is_over:
                break
            if self._may(self.world.book.checks[check].gates):
                self._look(check)
                self._mend(self.habit.sure)
        for _ in range(_TRIES):
            self._mend(0.3)
        self._close()

    def _order(self) -> list[str]:
        """Return the habit with a few checks left out and a few neighbours exchanged."""
        order = [check for check in self.habit.checks if self._happens(1 - self.habit.skips)]
        for place in range(1, len(order)):
            if self._happens(0.08):
                order[place - 1], order[place] = order[place], order[place - 1]
        return order

    def _happens(self, share: float) -> bool:
        return bool(self.random.random_sample() < share)

    def _may(self, gates: tuple[tuple[str, str, bool], ...]) -> bool:
        return all(
            check in self.readings and self.mind.says(check, state, self.readings[check]) is not negated
            for check, state, negated in gates
        )

    def _spend(self, asks: Asks) -> None:
        """Add the minutes of a step and of the setups that it still needs."""
        new = [name for name in asks.setups if name not in self.setups]
        self.setups.update(new)
        for one in (*(self.world.book.setups[name] for name in new), asks):
            self.job.hands_on += one.takes * self.habit.pace * math.exp(0.22 * self.random.standard_normal())
            self.job.waiting += one.waits * math.exp(0.15 * self.random.standard_normal())

    def _look(self, check: str) -> None:
        one = self.world.book.checks[check]
        self._spend(one.asks)
        state = 0 if check in self.missed else self.states[one.reads]
        reading = self.world.read(check, state, self.random)
        self.readings[check] = reading
        self.mind.learn(check, reading)
        if self._happens(self.habit.writes):
            self.job.log.append(("check", check, reading))

    def _mend(self, sure: float) -> None:
        """Try the fix for the fault that is believed, if it is believed enough."""
        fault, belief = self.mind.top()
        if self.is_over or belief < sure or len(self.tried) >= _TRIES:
            return
        fix = self._fix_for(fault)
        if fix is None:
            self.is_over = belief > 0.8
            return
        self.tried.append(fix.name)
        self._spend(fix.asks)
        if self._happens(1.5 * fix.asks.ruins):
            self.job.outcome, self.is_over = "ruined", True
            self.job.log.append(("fix", fix.name, "still there"))
            return
        self._try_again(fix, fault)

    def _fix_for(self, fault: str) -> FixText | None:
        able = [
            fix
            for fix in self.world.believed.fixes.values()
            if fault in fix.cures
            and fix.name not in self.tried
            and fix.name not in self.habit.cannot
            and self._may(fix.gates)
        ]
        # The cheaper one first, if it cures at all often: that is how people work.
        good = [fix for fix in able if fix.cures[fault] >= 0.45] or able
        return min(good, key=lambda fix: fix.asks.takes, default=None)

    def _try_again(self, fix: FixText, believed: str) -> None:
        complaint = self.world.book.complaints[self.job.complaint]
        soak = complaint.retest.waits * self.habit.soak * math.exp(0.3 * self.random.standard_normal())
        self.job.hands_on += complaint.retest.takes * self.habit.pace
        cured = self._happens(self.world.book.fixes[fix.name].cures.get(self.job.true_fault, 0.0))
        every = self.world.fault(self.job.true_fault).every or complaint.every
        shows = not cured and (every is None or self._happens(1 - math.exp(-soak / every)))
        self.job.waiting += 0.4 * soak if shows else soak
        self.job.log.append(("fix", fix.name, "still there" if shows else "gone"))
        if shows:
            self.mind.doubt(fix)
            return
        self.is_over = True
        self.job.outcome = "repaired"
        self.job.cause = (self.job.true_fault if cured else believed) if self._happens(0.94) else None
        self.job.comeback = self._comes_back(cured=cured)

    def _comes_back(self, *, cured: bool) -> bool | None:
        """Say whether the device returned; of a recent job nobody knows yet."""
        back = self._happens(0.01 if cured else 0.93)
        is_old = (_FIRST_DAY + timedelta(days=_DAYS) - self.job.opened).days > _KNOWN_AFTER
        return back if is_old or (back and self._happens(0.6)) else None

    def _close(self) -> None:
        """End a job that no fix ended: a few finds are written down all the same."""
        job = self.job
        if job.outcome != "returned":
            return
        fault, belief = self.mind.top()
        if job.true_fault in self.world.unlisted:
            if self._happens(0.65):
                job.cause = job.true_fault
                job.hands_on += 40 * math.exp(0.3 * self.random.standard_normal())
                if not self.tried:
                    job.outcome = "repaired"
        elif fault == job.true_fault and belief > 0.6 and self._happens(0.5):
            job.cause = fault
