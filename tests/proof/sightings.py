"""Boards to test coverage with: a published sample, communities of faults, and any sample at all."""

import numpy as np
from hypothesis import strategies as st

# Spiders on girdled hemlocks, Ellison et al. 2010, as analysed in Chao et al. 2014, Ecological Monographs 84, 45-67,
# and Hsieh, Ma & Chao 2016, Methods in Ecology and Evolution 7, 1451-1456.
SPIDERS = [46, 22, 17, 15, 15, 9, 8, 6, 6, 4, *[2] * 4, *[1] * 12]

# Boards of each fault: a few, or two or more; none was met, one, or many.
any_sizes = st.lists(st.integers(1, 12), min_size=0, max_size=10)


def normalised(weights) -> np.ndarray:
    return np.asarray(weights, dtype=float) / np.sum(weights)


COMMUNITIES = {
    "a few faults and rare ones": normalised([50, 30, 15, 1, 1, 1, 1, 1]),
    "a core and a tail": normalised([30, 20, 15, 10, 8, *[1] * 17]),
    "each half as frequent": normalised(0.5 ** np.arange(20)),
    "each three quarters as frequent": normalised(0.75 ** np.arange(30)),
    "one over the rank": normalised(1 / np.arange(1, 41)),
    "all alike": normalised(np.ones(25)),
    "three and dust": normalised([400, 250, 150, *[1] * 200]),
}


def met(rng: np.random.Generator, community: np.ndarray, boards: int) -> tuple[list[int], float]:
    """Boards of each fault that was met, and the share of boards whose fault was not."""
    sizes = rng.multinomial(boards, community)
    return sizes[sizes > 0].tolist(), float(community[sizes == 0].sum())
