"""Equal evidence grouped together, so that learning visits each kind once.

A *reading* is a check with a result or a number; a *block* is all readings of one condition in one job. Given
the fault, blocks are independent: a job whose fault is confirmed falls apart into (block, fault) pairs,
of which many are equal; a job whose fault is hidden is a set of blocks and attempts.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from benchlore.model.cases import Cases
from benchlore.model.densities import to_scale
from benchlore.model.packed import IntArray
from benchlore.model.values import FloatArray, Model


class Lists(NamedTuple):
    """Lists of whole numbers, end to end: list ``k`` is ``items[starts[k]:starts[k + 1]]``."""

    starts: IntArray
    items: IntArray


class Tries(NamedTuple):
    """Distinct attempts: complaint, fix, outcome, and minutes of soak or ``nan``, each ``(T,)``."""

    complaints: IntArray
    fixes: IntArray
    outcomes: IntArray
    soaked: FloatArray


class Grouped(NamedTuple):
    """Cases in groups.

    ``reading_checks``, ``reading_results`` (-1: a number) and ``reading_ys`` (``inf``: over range) are
    ``(U,)``; ``blocks`` are lists of readings, of condition ``block_conditions`` ``(B,)``. ``known``
    ``(K, 2)`` are (block, fault) pairs, met ``known_counts`` ``(K,)`` times. ``tries`` are distinct attempts.
    ``jobs`` are lists of blocks and ``job_attempts`` of tries of jobs with a hidden fault and
    ``job_complaints`` ``(H,)``, met ``job_counts`` ``(H,)`` times. ``confirmed`` ``(M, F)`` counts confirmed
    faults, and ``known_attempts`` ``(T, F)`` the tries in their jobs. ``silent`` jobs say nothing at all.
    """

    reading_checks: IntArray
    reading_results: IntArray
    reading_ys: FloatArray
    blocks: Lists
    block_conditions: IntArray
    known: IntArray
    known_counts: FloatArray
    tries: Tries
    jobs: Lists
    job_attempts: Lists
    job_complaints: IntArray
    job_counts: FloatArray
    confirmed: FloatArray
    known_attempts: FloatArray
    silent: int


def group(models: Sequence[Model], cases: Cases) -> Grouped:
    """Group cases that fit the models (:func:`benchlore.model.cases.refuse_misfits`)."""
    model, jobs = models[0], len(cases.complaints)
    readings, table = _distinct_readings(model, cases)
    of_check = np.array([check.condition for check in model.checks], dtype=np.int64)
    conditions = of_check[cases.reading_checks]
    order = np.lexsort((readings, conditions, cases.reading_jobs))
    runs = _runs(cases.reading_jobs[order] * (of_check.max(initial=0) + 1) + conditions[order])
    block_of_run, blocks, first = _group_lists(
        Lists(runs, readings[order]), np.zeros(len(runs) - 1, np.int64)
    )
    run_jobs = cases.reading_jobs[order][runs[:-1]]
    hidden = cases.faults < 0
    codes, tries = _distinct_tries(cases)
    attempts = _attempts_of_jobs(cases, codes)
    known, known_counts = _known_pairs(model, cases, run_jobs, block_of_run)
    job_blocks = Lists(np.searchsorted(run_jobs, np.arange(jobs + 1)), block_of_run)
    silent = hidden & (np.diff(job_blocks.starts) == 0) & (np.diff(attempts.starts) == 0)
    members, jobs_blocks, job_attempts, times = _hidden_groups(
        cases, job_blocks, attempts, np.flatnonzero(hidden & ~silent)
    )
    checks, results, ys = table
    return Grouped(
        reading_checks=checks,
        reading_results=results,
        reading_ys=ys,
        blocks=blocks,
        block_conditions=conditions[order][runs[:-1]][first],
        known=known,
        known_counts=known_counts,
        tries=tries,
        jobs=jobs_blocks,
        job_attempts=job_attempts,
        job_complaints=cases.complaints[members],
        job_counts=times,
        confirmed=_confirmed(models, cases),
        known_attempts=_known_attempts(models, cases, codes, len(tries.fixes)),
        silent=int(silent.sum()),
    )


def _distinct_readings(model: Model, cases: Cases) -> tuple[IntArray, tuple[IntArray, IntArray, FloatArray]]:
    """Return each reading's place in a table of distinct ones, and that table (check, result, y)."""
    results, ys = cases.reading_results.copy(), np.zeros(len(cases.reading_results))
    for c, check in enumerate(model.checks):
        if check.densities is not None:
            mine = np.flatnonzero((cases.reading_checks == c) & (results < 0))
            ys[mine] = to_scale(check.densities, cases.reading_values[mine])
    lowest = ys == -np.inf
    results[lowest], ys[lowest] = 0, 0.0
    order = np.lexsort((ys, results, cases.reading_checks))
    columns = (cases.reading_checks[order], results[order], ys[order])
    new = np.zeros(len(order), dtype=np.bool_)
    new[:1] = True
    for column in columns:
        new[1:] |= column[1:] != column[:-1]
    places = np.empty(len(order), dtype=np.int64)
    places[order] = np.cumsum(new) - 1
    first = order[new]  # lexsort is stable: the first of each kind
    turn = np.argsort(first)
    table = (columns[0][new][turn], columns[1][new][turn], columns[2][new][turn])
    return _rank(turn)[places], table


def _runs(keys: IntArray) -> IntArray:
    """Return where each run of equal keys starts, and the length."""
    if not len(keys):
        return np.zeros(1, dtype=np.int64)
    return np.concatenate([[0], np.flatnonzero(keys[1:] != keys[:-1]) + 1, [len(keys)]]).astype(np.int64)


def _group_lists(lists: Lists, roots: IntArray) -> tuple[IntArray, Lists, IntArray]:
    """Return each list's group (equal root and items), the groups' lists, and a member of each group.

    Walks all lists at once, one item further each time: a node is a distinct beginning of a list.
    """
    lengths = np.diff(lists.starts)
    nodes = roots.copy()
    base = int(lists.items.max(initial=0)) + 1
    free = int(roots.max(initial=0)) + 1
    for k in range(int(lengths.max(initial=0))):
        longer = np.flatnonzero(lengths > k)
        distinct, inverse = np.unique(
            nodes[longer] * base + lists.items[lists.starts[longer] + k], return_inverse=True
        )
        nodes[longer] = free + inverse
        free += len(distinct)
    _, first, groups = np.unique(nodes, return_index=True, return_inverse=True)
    # In the order in which lists first show them, as readings are: what belongs together lies side by side
    # in memory, which makes the expectation step twice as fast.
    order = np.argsort(first)
    return _rank(order)[groups], _select(lists, first[order]), first[order]


def _rank(order: IntArray) -> IntArray:
    """Return each item's place in an order: the inverse permutation."""
    rank = np.empty_like(order)
    rank[order] = np.arange(len(order))
    return rank


def _select(lists: Lists, chosen: IntArray) -> Lists:
    """Return the chosen lists."""
    lengths = np.diff(lists.starts)[chosen]
    starts = np.concatenate([[0], np.cumsum(lengths)]).astype(np.int64)
    within = np.arange(starts[-1]) - np.repeat(starts[:-1], lengths)
    return Lists(starts, lists.items[np.repeat(lists.starts[:-1][chosen], lengths) + within])


def _distinct_tries(cases: Cases) -> tuple[IntArray, Tries]:
    """Return each attempt's place in a table of distinct ones, and that table."""
    minutes, soaks = np.unique(cases.attempt_soaked, return_inverse=True)
    kinds = (cases.complaints[cases.attempt_jobs], cases.attempt_fixes, cases.attempt_outcomes, soaks)
    sizes = tuple(int(kind.max(initial=0)) + 1 for kind in kinds)
    codes, places = np.unique(np.ravel_multi_index(kinds, sizes), return_inverse=True)
    # In rows of their own: numba compiles the kernels that take them once more for views with gaps.
    complaints, fixes, outcomes, soaked = np.stack(np.unravel_index(codes, sizes))
    return places, Tries(complaints, fixes, outcomes, minutes[soaked])


def _attempts_of_jobs(cases: Cases, codes: IntArray) -> Lists:
    order = np.lexsort((codes, cases.attempt_jobs))
    starts = np.searchsorted(cases.attempt_jobs[order], np.arange(len(cases.complaints) + 1))
    return Lists(starts, codes[order])


def _known_pairs(
    model: Model, cases: Cases, run_jobs: IntArray, block_of_run: IntArray
) -> tuple[IntArray, FloatArray]:
    faults = cases.faults[run_jobs]
    keys, counts = np.unique(
        block_of_run[faults >= 0] * len(model.faults) + faults[faults >= 0], return_counts=True
    )
    pairs = np.stack(np.divmod(keys, len(model.faults)), axis=1)
    return pairs, counts.astype(np.float64)


def _hidden_groups(
    cases: Cases, blocks: Lists, attempts: Lists, hidden: IntArray
) -> tuple[IntArray, Lists, Lists, FloatArray]:
    """Group jobs by complaint, attempts and blocks: a member, the blocks, the attempts, the size of each."""
    mine = _select(attempts, hidden)
    by_attempts, _, _ = _group_lists(mine, cases.complaints[hidden])
    groups, job_blocks, first = _group_lists(_select(blocks, hidden), by_attempts)
    times = np.bincount(groups, minlength=len(first)).astype(np.float64)
    return hidden[first], job_blocks, _select(mine, first), times


def _confirmed(models: Sequence[Model], cases: Cases) -> FloatArray:
    counts = np.zeros((len(models), len(models[0].faults)))
    known = cases.faults >= 0
    np.add.at(counts, (cases.complaints[known], cases.faults[known]), 1.0)
    return counts


def _known_attempts(models: Sequence[Model], cases: Cases, codes: IntArray, tries: int) -> FloatArray:
    counts = np.zeros((tries, len(models[0].faults)))
    faults = cases.faults[cases.attempt_jobs]
    known = faults >= 0
    np.add.at(counts, (codes[known], faults[known]), 1.0)
    return counts
