"""What benches wrote of faults that the book does not know, as weak evidence of which are the same."""

import re
from collections import Counter
from collections.abc import Sequence
from math import log
from typing import Final

import numpy as np
from rapidfuzz import fuzz

from benchlore.jobs import UNLISTED, Job
from benchlore.model import FloatArray

SAME_WORDS, OTHER_WORDS = log(10), -log(2)
"""Log Bayes factors of texts that are the same and of texts that have nothing in common (our own choice).

Two benches rarely hit on the same words for two faults, but often have other words, or languages, for one.
"""

UNLIKE: Final = 50.0
"""A likeness of words, of 100, that any two texts may have by their letters alone."""

_UNSAYING = """
other others unknown unlisted else new misc sonstiges sonstige andere anderes unbekannt anders overig overige
onbekend autre autres inconnu otro otra otros desconocido altro sconosciuto annet andet annat ukjent ukendt
the a an of in on at and und oder der die das am im het de een van en op la le les el los di
"""

UNSAYING: Final = frozenset(_UNSAYING.split())
"""Words that say nothing of a fault."""


def words_of(job: Job) -> list[str]:
    """Return the words that a bench wrote of an unlisted fault, less those that say nothing.

    A text that goes with a known fault says what the bench believed and is not looked at.
    """
    if job.fault != UNLISTED:
        return []
    return [word for word in re.findall(r"\w+", job.fault_text.casefold()) if word not in UNSAYING]


def alike(jobs: Sequence[Job]) -> FloatArray:
    """Log Bayes factors of the texts that two jobs are of one fault, ``(N, N)``; 0 where one has no text."""
    texts = [" ".join(words_of(job)) for job in jobs]
    factors = np.zeros((len(texts), len(texts)))
    for i, first in enumerate(texts):
        for j, second in enumerate(texts):
            if first and second:
                share = max(0.0, fuzz.token_set_ratio(first, second) - UNLIKE) / (100 - UNLIKE)
                factors[i, j] = OTHER_WORDS + share * (SAME_WORDS - OTHER_WORDS)
    return factors


def shared_words(jobs: Sequence[Job]) -> tuple[str, ...]:
    """Return the words that stand in more than one job's text, the most frequent first."""
    counts = Counter(word for job in jobs for word in dict.fromkeys(words_of(job)))
    return tuple(
        sorted((word for word in counts if counts[word] > 1), key=lambda word: (-counts[word], word))
    )
