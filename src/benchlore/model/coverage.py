"""How much of the next board's probability belongs to faults that nobody has seen yet."""

from collections.abc import Iterable

LEAST_UNSEEN = 0.5
"""What unseen faults count for at the least: an expert without single sightings does not know everything."""


def unseen_share(counts: Iterable[float]) -> float:
    """Return the probability that the next board has a fault without a count among ``counts``.

    With ``n`` boards, ``f1`` faults seen once and ``f2`` seen twice, the coverage deficit of Chao & Jost
    (2012, "Coverage-based rarefaction and extrapolation", Ecology 93, equation 4a), a corrected form of
    Good's (1953) ``f1 / n``:

    ``(f1 / n) (n - 1) f1 / ((n - 1) f1 + 2 f2)``, or with ``f2 = 0``
    ``(f1 / n) (n - 1)(f1 - 1) / ((n - 1)(f1 - 1) + 2)``.

    Fractional counts are rounded to find ``f1`` and ``f2``. Without any boards the share is one.

    Examples
    --------
    >>> spiders = [46, 22, 17, 15, 15, 9, 8, 6, 6, 4, *[2] * 4, *[1] * 12]
    >>> round(1 - unseen_share(spiders), 6)
    0.928855
    """
    seen = [count for count in counts if count > 0]
    boards = sum(seen)
    if boards == 0:
        return 1.0
    once, twice = (sum(1 for count in seen if round(count) == times) for times in (1, 2))
    pairs, factor = (2 * twice, once) if twice else (2, once - 1)
    others = max(boards - 1, 0.0) * factor
    return once / boards * others / (others + pairs) if others > 0 else 0.0


def unseen_boards(counts: Iterable[float]) -> float:
    """Return the boards that the unseen faults count for: their share of ``n``, at least one half."""
    known = list(counts)
    return max(unseen_share(known) * sum(known), LEAST_UNSEEN)
