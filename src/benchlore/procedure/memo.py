"""What a search remembers of each state of evidence, in tables with a limit.

A state is found by a 64-bit sum of random words, one for each result and each failed fix (Zobrist, "A new
hashing method with application for game playing", 1970): the order in which evidence came does not matter.
"""

from typing import Final, NamedTuple, TypeAlias

import numpy as np
from numba import njit
from numpy.typing import NDArray

from benchlore.model import FloatArray
from benchlore.procedure.arrays import Arrays, BoolArray, IntArray
from benchlore.procedure.estimate import stop_cost
from benchlore.procedure.state import Problem, State

WordArray: TypeAlias = NDArray[np.uint64]

CHOICES: Final = 8
"""Actions that are remembered of each state, those with the best estimates."""

STOP: Final = -1
"""Action code of stopping: fixes alone, then the return."""

LAYERS: Final = 2
"""Values are kept twice: as actions are compared by (0), and with the rare ends searched more deeply (1)."""

USED: Final = 0
RANKED: Final = 1
ALLOWED: Final = 2
FULL: Final = 3
"""Places in ``counts``: states held, states ranked so far and at most, whether no more may be held."""

LEAF: Final = 4
"""Place in ``counts``: states of a table at most for which the kernel stops, to have what is left solved."""

SURE: Final = 0
"""The level of proven values: nothing remains to be looked for."""

MISSING: Final = -1
NO_ROOM: Final = -2

HOPELESS: Final = 0.2
"""In stopping a fix whose cure saves less than this share of its cost ends the sequence."""

ENTRY_BYTES: Final = 8 + 8 + LAYERS * (8 + 4 + 4) + CHOICES * (8 + 8 + 2) + 1 + 2 * 8
"""What a state takes, with its two slots."""

FIRST_ENTRIES: Final = 1 << 13
"""Room at first; it doubles when it is used up."""

SEED: Final = 20
"""Of the random words; any other does as well."""


class Memo(NamedTuple):
    """States by number, ``N`` at most; ``slots`` leads from a hash to a number, or -1.

    ``stop (N,)`` is the cost of stopping; ``value (N, 2)`` and ``action (N, 2)`` the best found in each layer
    and ``level (N, 2)`` the settings (a row) under which it was looked for, -1 if never. The actions worth
    following are ``choices (N, K)``, ``ranks (N,)`` of them (-1: not ranked yet), with their estimates
    ``guess`` and the cost ``found``, infinite if none was. All costs are times the probability of the state.
    """

    slots: IntArray
    key: WordArray
    stop: FloatArray
    value: FloatArray
    action: NDArray[np.int32]
    level: NDArray[np.int32]
    choices: NDArray[np.int16]
    guess: FloatArray
    found: FloatArray
    ranks: NDArray[np.int8]
    counts: IntArray
    check_words: WordArray
    fix_words: WordArray


def new_memo(arrays: Arrays, entries: int = FIRST_ENTRIES) -> Memo:
    """An empty memo with room for so many states."""
    rng = np.random.default_rng(SEED)
    top = np.iinfo(np.uint64).max
    words = rng.integers(0, top, (len(arrays.condition), arrays.shows.shape[2]), dtype=np.uint64)
    fix_words = rng.integers(0, top, len(arrays.fix_cost), dtype=np.uint64)
    return _sized(entries, np.zeros(5, dtype=np.int64), words, fix_words)


def _sized(entries: int, counts: IntArray, check_words: WordArray, fix_words: WordArray) -> Memo:
    return Memo(
        slots=np.full(1 << (2 * entries - 1).bit_length(), -1, dtype=np.int64),
        key=np.zeros(entries, dtype=np.uint64),
        stop=np.zeros(entries),
        value=np.zeros((entries, LAYERS)),
        action=np.full((entries, LAYERS), STOP, dtype=np.int32),
        level=np.full((entries, LAYERS), -1, dtype=np.int32),
        choices=np.zeros((entries, CHOICES), dtype=np.int16),
        guess=np.full((entries, CHOICES), np.inf),
        found=np.full((entries, CHOICES), np.inf),
        ranks=np.full(entries, -1, dtype=np.int8),
        counts=counts,
        check_words=check_words,
        fix_words=fix_words,
    )


PER_ENTRY: Final = slice(1, 10)
"""The arrays with a row for each state."""


def resized(memo: Memo, entries: int, kept: IntArray) -> Memo:
    """A memo with room for so many states, holding those of the old one that are named by number."""
    larger = _sized(entries, memo.counts, memo.check_words, memo.fix_words)
    for new, old in zip(larger[PER_ENTRY], memo[PER_ENTRY], strict=True):
        new[: len(kept)] = old[kept]
    larger.counts[USED] = len(kept)
    _reslot(larger)
    return larger


@njit(cache=True)
def _reslot(m: Memo) -> None:
    for entry in range(m.counts[USED]):
        m.slots[_slot_of(m, m.key[entry])] = entry


@njit(cache=True)
def _slot_of(m: Memo, key: int) -> int:
    """The slot that holds a key, or the free one where it belongs."""
    mask = np.uint64(len(m.slots) - 1)
    slot = np.uint64(key) & mask
    while m.slots[slot] >= 0 and m.key[m.slots[slot]] != key:
        slot = (slot + np.uint64(1)) & mask
    return int(np.int64(slot))


@njit(cache=True)
def key_of(m: Memo, digits: IntArray, failed: BoolArray) -> int:
    """The hash of a state of evidence."""
    key = np.uint64(0)
    for c in range(len(digits)):
        if digits[c] > 0:
            key += m.check_words[c, digits[c] - 1]
    for a in range(len(failed)):
        if failed[a]:
            key += m.fix_words[a]
    return key  # type: ignore[return-value]


@njit(cache=True)
def entry_of(p: Problem, m: Memo, state: State) -> int:
    """The number of a state, newly held if need be; ``MISSING`` if it may not, ``NO_ROOM`` if it cannot."""
    key = key_of(m, state.digits, state.failed)
    slot = _slot_of(m, key)
    if m.slots[slot] >= 0:
        return int(m.slots[slot])
    if m.counts[FULL] > 0:
        return MISSING
    entry = m.counts[USED]
    if entry == len(m.key):
        return NO_ROOM
    m.counts[USED] += 1
    m.slots[slot] = entry
    m.key[entry] = key
    cost, _ = stop_cost(p, state, HOPELESS, np.empty(len(state.failed), dtype=np.int64))
    m.stop[entry] = cost
    m.value[entry] = cost
    return int(entry)


@njit(cache=True)
def known_entry(m: Memo, state: State) -> int:
    """The number of a state, or ``MISSING``."""
    return int(m.slots[_slot_of(m, key_of(m, state.digits, state.failed))])
