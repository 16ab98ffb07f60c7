"""What may be behind a board's improbable readings, found by trying.

Either readings are wrong (leaving out one, or two, makes the rest ordinary), or the fault is (the readings
are ordinary for another one), or the fault is none that the book knows. Of what would do, the likeliest is
named: so often a reading is a blunder and anything could have been written, so often a record names the wrong
fault, so often a fault is unlisted and could have shown anything.
"""

from dataclasses import dataclass
from enum import StrEnum
from math import exp, inf, log, pi
from typing import Final, NamedTuple

import numpy as np

from benchlore.jobs import Job
from benchlore.model import FloatArray, Model, retest_chances
from benchlore.model.densities import SLIP, to_scale
from benchlore.proof.expected import as_expected, as_written
from benchlore.proof.joblogs import Seen, reading_logs
from benchlore.proof.tails import Boards, Logs, by_fault, discrepancies, drawn_boards, tail

ORDINARY: Final = 0.01
"""Readings with at least this tail probability are ordinary: one sound job in a hundred has less."""

WRONG_FAULT: Final = 0.02
"""How often a record names the wrong fault (our own choice)."""

FAR_BETTER: Final = 20.0
"""Odds from which another fault explains the readings far better than the recorded one."""

MOST_ODDS: Final = 1e12
"""Odds beyond this are written as this."""

PUT_RIGHT: Final = 0.05
"""The tail probability that a number must give with its power of ten put right; a third of what the other
readings have is enough.
"""

POWERS: Final = (3, -3, 1, -1, 2, -2, 6, -6)
"""Powers of ten that slip: a forgotten k or m, a slipped decimal point, µ for M."""

TRIALS: Final = 2_000
"""Boards that a trial is compared with."""

TWO_NEED: Final = 6
"""Readings that a job needs for two of them to be called wrong."""


class Odd(StrEnum):
    """What is odd about a job, as far as can be told."""

    MISREAD = "mistyped or misread reading"
    WRONG_FAULT = "wrong fault recorded"
    NEW_FAULT = "may be a new fault"
    CANNOT_CURE = "cured by a fix that does not cure the fault"
    CAME_BACK = "came back after repair"


@dataclass(frozen=True, slots=True)
class Misreading:
    """A reading that does not fit the others.

    ``wrote`` is what the bench wrote, ``expected`` what the model expected instead, as text. Ten to the
    ``power`` times the number would be ordinary, if that is given. ``rest`` is the tail probability of the
    job's other readings.
    """

    check: str
    wrote: str
    expected: str
    power: int | None
    rest: float


@dataclass(frozen=True, slots=True)
class Rival:
    """A fault that explains a job's readings better than the recorded one: ``odds`` to one.

    Odds count how common the faults are and what the fixes did; ``surprise`` is the tail probability of the
    readings with this fault.
    """

    fault: str
    odds: float
    surprise: float


class Suspicion(NamedTuple):
    """What is likeliest behind one job, and what else would do and is not far less likely."""

    kind: Odd
    misread: tuple[Misreading, ...]
    rival: Rival | None


def suspicion(model: Model, strict: Model, one: Seen, job: Job, rng: np.random.Generator) -> Suspicion:
    """Try readings and faults; ``strict`` is the model without blunders."""
    drawn = drawn_boards(strict, one.fault, sorted(one.strict), TRIALS, rng)
    scores = {Odd.NEW_FAULT: _new_fault_score(model, strict, one)}
    misread, scores[Odd.MISREAD] = _misread(model, strict, one, job, drawn, rng)
    rival, scores[Odd.WRONG_FAULT] = _rival(model, strict, one, rng)
    kind = max(scores, key=lambda kind: scores[kind])
    enough = scores[kind] - log(FAR_BETTER)
    return Suspicion(
        kind,
        misread if scores[Odd.MISREAD] >= enough else (),
        rival if scores[Odd.WRONG_FAULT] >= enough else None,
    )


def _misread(
    model: Model, strict: Model, one: Seen, job: Job, drawn: Boards, rng: np.random.Generator
) -> tuple[tuple[Misreading, ...], float]:
    """Return the readings that may be wrong, and the score of that, minus infinity if there are none."""
    left_out = _left_out(model, strict, one, drawn)
    if not left_out:
        return (), -inf
    rest = tail(strict, one.fault, _without(one.strict, left_out), drawn)
    powers = tuple(_power(strict, one, c, left_out, drawn, min(PUT_RIGHT, rest / 3)) for c in left_out)
    misread = tuple(
        Misreading(
            check=model.checks[c].name,
            wrote=as_written(model.checks[c], job, one.numbers.get(c), one.results.get(c)),
            expected=as_expected(strict, one, c, left_out, rng),
            power=power,
            rest=rest,
        )
        for c, power in zip(left_out, powers, strict=True)
    )
    tried = float(_tried_logs(model, one)[one.fault]) if one.fault >= 0 else 0.0
    return misread, _misread_score(model, one, left_out, powers) + tried


def _new_fault_score(model: Model, strict: Model, one: Seen) -> float:
    """``log P(the fault is none of the listed ones, readings)``; nothing is known of what the fixes do to it.

    A number that is no state's says nothing for a new fault, so the model is the one without blunders.
    """
    unlisted = len(model.faults) - 1
    score = -float(discrepancies(strict, unlisted, one.strict)[0])
    if one.fault == unlisted:
        return score
    chance = max(float(model.fault_probabilities[unlisted]), 1e-12)
    if one.fault < 0:
        return score + log(chance)
    return score + log(WRONG_FAULT * chance) - _log_others(model, one.fault)


def _log_others(model: Model, fault: int) -> float:
    return log(max(1 - float(model.fault_probabilities[fault]), 1e-12))


def _left_out(model: Model, strict: Model, one: Seen, drawn: Boards) -> tuple[int, ...]:
    """Return the readings, one or else two, without which the rest is ordinary; none if that does not do."""
    out: tuple[int, ...] = ()
    for most in (1, TWO_NEED):
        if len(one.strict) < most:
            return ()
        trials = [(*out, c) for c in one.strict if c not in out]
        rest = {trial: tail(strict, one.fault, _without(one.strict, trial), drawn) for trial in trials}
        enough = [trial for trial in trials if rest[trial] >= ORDINARY]
        if enough:
            return max(enough, key=lambda trial: _misread_score(model, one, trial))
        out = max(trials, key=lambda trial: rest[trial])
    return ()


def _without(logs: Logs, checks: tuple[int, ...]) -> dict[int, FloatArray]:
    return {c: here for c, here in logs.items() if c not in checks}


def _misread_score(
    model: Model, one: Seen, checks: tuple[int, ...], powers: tuple[int | None, ...] = (None, None)
) -> float:
    """``log P(these are blunders, and all readings)``, given the fault if there is one."""
    score = -float(discrepancies(model, one.fault, _without(one.logs, checks))[0])
    for c, power in zip(checks, powers, strict=False):
        score += log(SLIP)
        if power is None:
            score += _anything(model, one, c)
        else:
            score += _scaled_score(model, one, c, power, checks) - log(len(POWERS))
    return score


def _anything(model: Model, one: Seen, c: int) -> float:
    """Log-probability of what a blunder writes: any result, or a number from a Cauchy density."""
    d = model.checks[c].densities
    if d is None or c not in one.numbers:
        return -log(len(model.checks[c].results))
    far = (float(to_scale(d, one.numbers[c])) - d.slip_mean) / d.slip_sd
    return -log(pi * d.slip_sd) - float(np.log1p(min(far**2, 1e300))) if np.isfinite(far) else log(SLIP)


def _scaled_score(model: Model, one: Seen, c: int, power: int, left_out: tuple[int, ...]) -> float:
    """Log-density of a number that was written ``10**-power`` times what it is, given those that stay."""
    rest = _without(one.logs, left_out)
    scaled = rest | {c: reading_logs(model, c, -1, np.array([one.numbers[c] * 10.0**power]))}
    gain = discrepancies(model, one.fault, rest) - discrepancies(model, one.fault, scaled)
    return float(gain[0]) + _stretch(model, c, power)


def _stretch(model: Model, c: int, power: int) -> float:
    """What a density gains where its scale is stretched; a logarithmic scale only shifts."""
    d = model.checks[c].densities
    return 0.0 if d is None or d.log_normal else power * log(10)


def _power(
    strict: Model, one: Seen, c: int, left_out: tuple[int, ...], drawn: Boards, least: float
) -> int | None:
    """Return the likeliest power of ten with which the readings' tail probability is ``least``, if any."""
    value = one.numbers.get(c)
    if value is None or not np.isfinite(value) or value == 0:
        return None
    rest = _without(one.strict, left_out)
    fitting = [
        power
        for power in POWERS
        if tail(strict, one.fault, rest | {c: _at(strict, c, value * 10.0**power)}, drawn) >= least
    ]
    return max(fitting, key=lambda power: _scaled_score(strict, one, c, power, left_out), default=None)


def _at(model: Model, c: int, value: float) -> FloatArray:
    return reading_logs(model, c, -1, np.array([value]))


def _rival(model: Model, strict: Model, one: Seen, rng: np.random.Generator) -> tuple[Rival | None, float]:
    """Return the likeliest other listed fault if it is far better and ordinary, and its score."""
    if one.fault < 0:
        return None, -inf
    with np.errstate(divide="ignore"):
        scores = by_fault(model, one.logs)[0] + _tried_logs(model, one) + np.log(model.fault_probabilities)
    listed = [f for f in range(len(model.faults) - 1) if f != one.fault]
    best = max(listed, key=lambda f: float(scores[f]), default=-1)
    if best < 0 or scores[best] == -inf:
        return None, -inf
    ahead = min(float(scores[best] - scores[one.fault]), log(MOST_ODDS))
    if ahead < log(FAR_BETTER):
        return None, -inf
    surprise = tail(strict, best, one.strict, drawn_boards(strict, best, sorted(one.strict), TRIALS, rng))
    if surprise < ORDINARY:
        return None, -inf
    score = float(scores[best]) + log(WRONG_FAULT) - _log_others(model, one.fault)
    return Rival(model.faults[best], exp(ahead), surprise), score


def _tried_logs(model: Model, one: Seen) -> FloatArray:
    """``log P(what became of the fixes | f)``, shape ``(F,)``."""
    if not one.attempts:
        return np.zeros(len(model.faults))
    fixes, outcomes, soaked = (np.array(column) for column in zip(*one.attempts, strict=True))
    with np.errstate(divide="ignore"):
        total: FloatArray = np.log(retest_chances(model, fixes, outcomes, soaked)).sum(axis=0)
    return total
