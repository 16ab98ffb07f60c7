"""How many of the finds among many looks are chance."""

from collections.abc import Sequence

import numpy as np

from benchlore.model import FloatArray


def shares_of_chance(surprises: Sequence[float]) -> FloatArray:
    """For each p-value the share of chance finds among all at most as large.

    Source: Y. Benjamini and Y. Hochberg, *JRSS B* 57 (1995) 289-300, as adjusted p-values.

    >>> shares_of_chance([0.04, 0.01, 0.5]).round(6).tolist()
    [0.06, 0.03, 0.5]
    """
    values = np.asarray(surprises, dtype=np.float64)
    order = np.argsort(values)
    raised = values[order] * (len(values) / np.arange(1, len(values) + 1))
    shares = np.empty_like(values)
    shares[order] = np.minimum(np.minimum.accumulate(raised[::-1])[::-1], 1.0)
    return shares
