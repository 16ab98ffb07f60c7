"""Checks that depend on each other although the model says that they do not.

Given the fault, checks on different conditions are independent, and checks on one condition are given its
state. Both are tested on the boards whose fault is confirmed; ``docs/proof.md`` has method and limits.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations, pairwise
from typing import Final, NamedTuple

import numpy as np
from scipy.special import softmax

from benchlore.model import Cases, Check, FloatArray, Model, choose
from benchlore.model.packed import IntArray
from benchlore.proof.chance_finds import shares_of_chance
from benchlore.proof.dependence_kernels import shuffles, table_information
from benchlore.proof.joblogs import check_logs, results_in

FALSE_SHARE: Final = 0.05
"""At most this share of what is called found is expected to be chance."""

FEWEST_BOARDS: Final = 20
"""A pair of checks that fewer boards with a confirmed fault show is not tested."""

LEAST: Final = 200
"""Permutations that even an unremarkable pair gets, for the mean that its effect is corrected by."""


class Between(StrEnum):
    """Which independence of the model a pair of checks puts to the test."""

    CONDITIONS = "different conditions"
    READINGS = "one condition"


@dataclass(frozen=True, slots=True)
class Dependence:
    """A pair of checks that was tested.

    ``bits`` is their mutual information given the fault, ``excess_bits`` what of it lies above the mean under
    independence, ``p`` the tail probability, ``q`` the share of chance finds among all pairs that are as
    remarkable (Benjamini & Hochberg 1995). ``found`` says whether ``q`` is at most ``FALSE_SHARE`` and
    ``proposal`` what to do then, as a sentence.
    """

    between: Between
    checks: tuple[str, str]
    conditions: tuple[str, str]
    boards: int
    bits: float
    excess_bits: float
    p: float
    q: float
    found: bool
    proposal: str


class _Pair(NamedTuple):
    """Results of two checks on the boards that show both, ordered by fault; see the kernels for the rest."""

    checks: tuple[int, int]
    jobs: IntArray
    first: IntArray
    second: IntArray
    starts: IntArray
    sizes: IntArray


def dependence_of(
    model: Model,
    cases: Cases,
    *,
    rng: np.random.Generator,
    permutations: int = 20_000,
    fewest: int = FEWEST_BOARDS,
) -> tuple[Dependence, ...]:
    """Test every pair of checks for dependence that the model does not explain, the most remarkable first.

    Parameters
    ----------
    model
        Learned; boards whose confirmed fault is ``unlisted`` are left out, for that is no one fault.
    cases
        Jobs of the model's complaint.
    rng
        Where chance comes from.
    permutations
        At most so many for a pair. A pair that is settled sooner gets fewer (Besag & Clifford 1991).
    fewest
        Boards with a confirmed fault that must show both checks.

    Returns
    -------
    tuple
        All pairs that were tested, also those in which nothing was found.
    """
    results = results_in(model, cases)
    tested: list[tuple[Between, _Pair, float, float, float]] = []
    for pair in _pairs(model, cases, results, fewest):
        seen = float(table_information(pair.first, pair.second, pair.starts, pair.sizes))
        if model.checks[pair.checks[0]].condition == model.checks[pair.checks[1]].condition:
            mean, p = _beyond_the_state(model, cases, pair, seen, rng, LEAST * 5)
            tested.append((Between.READINGS, pair, seen, mean, p))
        else:
            made, beyond, mean = shuffles(*pair[2:], permutations, LEAST, rng)
            tested.append((Between.CONDITIONS, pair, seen, mean, (1 + beyond) / (1 + made)))
    return _reported(model, tested)


def _reported(
    model: Model, tested: Sequence[tuple[Between, _Pair, float, float, float]]
) -> tuple[Dependence, ...]:
    """Correct for looking at many pairs, each kind of test for itself."""
    out: list[Dependence] = []
    for kind in Between:
        rows = [row[1:] for row in tested if row[0] is kind]
        shares = shares_of_chance([row[-1] for row in rows])
        for (pair, seen, mean, p), q in zip(rows, shares, strict=True):
            first, second = (model.checks[c] for c in pair.checks)
            out.append(
                Dependence(
                    between=kind,
                    checks=(first.name, second.name),
                    conditions=(
                        model.conditions[first.condition].name,
                        model.conditions[second.condition].name,
                    ),
                    boards=len(pair.first),
                    bits=seen,
                    excess_bits=seen - mean,
                    p=p,
                    q=float(q),
                    found=bool(q <= FALSE_SHARE),
                    proposal=_proposal(model, kind, first, second),
                )
            )
    return tuple(sorted(out, key=lambda one: (one.q, one.p, -one.excess_bits, one.checks)))


def _proposal(model: Model, kind: Between, first: Check, second: Check) -> str:
    if kind is Between.CONDITIONS:
        return (
            f"Give '{first.name}' and '{second.name}' one condition: boards with the same fault that differ "
            f"in '{first.name}' differ in '{second.name}' too."
        )
    place = model.conditions[first.condition].name
    return (
        f"Give condition '{place}' one more state: '{first.name}' and '{second.name}' depend on each other "
        f"more than its states explain."
    )


def _pairs(model: Model, cases: Cases, results: IntArray, fewest: int) -> Iterator[_Pair]:
    """Yield the pairs with enough boards in which both checks vary under some fault."""
    listed = (cases.faults >= 0) & (cases.faults < len(model.faults) - 1)
    order = np.argsort(cases.faults, kind="stable")
    order = order[listed[order]]
    for pair in combinations(range(len(model.checks)), 2):
        both = order[(results[order][:, pair] >= 0).all(axis=1)]
        if len(both) < fewest:
            continue
        first, second = (np.ascontiguousarray(results[both, c]) for c in pair)
        starts = np.append(np.unique(cases.faults[both], return_index=True)[1], len(both))
        sizes = np.array([len(model.checks[c].results) for c in pair], dtype=np.int64)
        if _can_vary(first, second, starts):
            yield _Pair(pair, both, first, second, starts, sizes)


def _can_vary(first: IntArray, second: IntArray, starts: IntArray) -> bool:
    """Whether both columns take two values in some stratum; otherwise every shuffle is the same."""
    parts = [slice(*ends) for ends in pairwise(starts)]
    return any(np.ptp(first[part]) > 0 and np.ptp(second[part]) > 0 for part in parts)


def _beyond_the_state(
    model: Model, cases: Cases, pair: _Pair, seen: float, rng: np.random.Generator, draws: int
) -> tuple[float, float]:
    """Return the mean information of results drawn anew from the model, and the tail probability of ``seen``.

    Each draw takes every board's state from its posterior given fault and readings, and the two results from
    their states: a posterior predictive check (Gelman, Meng & Stern 1996).
    """
    states = _state_posterior(model, cases, pair)
    drawn = choose(np.broadcast_to(states, (draws, *states.shape)), rng)
    first, second = (choose(model.checks[c].probabilities[drawn], rng) for c in pair.checks)
    values = np.array(
        [table_information(x, y, pair.starts, pair.sizes) for x, y in zip(first, second, strict=True)]
    )
    return float(values.mean()), float((1 + (values >= seen - 1e-9).sum()) / (1 + draws))


def _state_posterior(model: Model, cases: Cases, pair: _Pair) -> FloatArray:
    """``P(state | fault, all readings on the condition)`` of the pair's boards, ``(boards, S)``."""
    g = model.checks[pair.checks[0]].condition
    with np.errstate(divide="ignore"):
        rows = np.log(model.state_probabilities[g][cases.faults[pair.jobs]])
    place = np.full(len(cases.faults), -1)
    place[pair.jobs] = np.arange(len(pair.jobs))
    for check, jobs, logs in check_logs(model, cases):
        if model.checks[check].condition == g:
            here = place[jobs] >= 0
            rows[place[jobs[here]]] += logs[here]
    rows[np.isneginf(rows).all(axis=1)] = 0.0  # no state allows what was read: any may be
    posterior: FloatArray = softmax(rows, axis=1)
    return posterior
