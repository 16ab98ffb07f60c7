"""Forecasts to test with: right ones, too sure ones, and any at all."""

from collections.abc import Sequence

import numpy as np
from hypothesis import strategies as st

Forecasts = tuple[list[np.ndarray], list[int], np.ndarray]


def drawn(
    rng: np.random.Generator, count: int, *, jobs: int | None = None, power: float = 1.0, spread: float = 0.4
) -> Forecasts:
    """Outcomes drawn from true chances of 2 to 6 categories; forecasts are those to a power: 1 is right, 2 too sure."""
    forecasts, shown = [], []
    for _ in range(count):
        chances = rng.dirichlet(np.full(rng.integers(2, 7), spread))
        shown.append(int(rng.choice(len(chances), p=chances)))
        sharpened = (chances + 1e-12) ** power
        forecasts.append(sharpened / sharpened.sum())
    return forecasts, shown, np.arange(count) % (jobs or count)


@st.composite
def any_forecasts(draw: st.DrawFn, least: int = 1) -> Forecasts:
    """One to a dozen forecasts with probabilities of zero and ties among them."""
    count = draw(st.integers(least, 12))
    weights = st.lists(st.integers(0, 9), min_size=1, max_size=5).filter(any)
    forecasts = [np.array(row) / sum(row) for row in draw(st.lists(weights, min_size=count, max_size=count))]
    shown = [draw(st.integers(0, len(forecast) - 1)) for forecast in forecasts]
    return forecasts, shown, np.array(draw(st.lists(st.integers(0, 4), min_size=count, max_size=count)))


def reordered(forecasts: Forecasts, order: Sequence[int]) -> Forecasts:
    rows, shown, clusters = forecasts
    return [rows[place] for place in order], [shown[place] for place in order], clusters[list(order)]
