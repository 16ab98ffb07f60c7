"""Shapley values: what each player is worth to all of them together.

``φ_i = Σ_{S ∌ i} |S|! (n − |S| − 1)! / n! · (v(S ∪ {i}) − v(S))``, the one rule whose shares sum to ``v(N)``,
are equal for players who bring the same to everybody, nothing for who brings nothing, and add up over games
(Shapley 1953, "A value for n-person games"). A coalition is a bit mask: bit ``i`` is player ``i``.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import comb

import numpy as np

from benchlore.model import FloatArray
from benchlore.procedure.arrays import IntArray


@dataclass(frozen=True, eq=False)
class Shares:
    """What each of ``n`` players is worth, ``(n,)``, with standard errors, ``(n,)``: zeros if exact."""

    worth: FloatArray
    errors: FloatArray


def shapley_values(values: FloatArray) -> FloatArray:
    """The exact Shapley values ``(n,)`` of a game given by what each coalition is worth, ``(2**n,)``.

    ``values[0]`` is what nobody is worth; the shares sum to ``values[-1] − values[0]``.

    >>> shapley_values(np.array([0.0, 0.0, 0.0, 1.0])).tolist()
    [0.5, 0.5]
    """
    players = len(values).bit_length() - 1
    masks = np.arange(len(values))
    sizes = np.bitwise_count(masks)
    weights = np.array([1 / (players * comb(players - 1, size)) for size in range(players)])
    shares = np.zeros(players)
    for player in range(players):
        without = masks[masks >> player & 1 == 0]
        gains = values[without | 1 << player] - values[without]
        shares[player] = weights[sizes[without]] @ gains
    return shares


def with_a_key(values: FloatArray) -> FloatArray:
    """The game in which nothing is worth anything without one more player, who becomes the last.

    Without that player every coalition is worth 0, with them what ``values`` says, ``(2**n,)`` to
    ``(2**(n + 1),)``.
    """
    return np.concatenate([np.zeros_like(values), values])


def drawn_orders(players: int, orders: int, rng: np.random.Generator) -> IntArray:
    """Draw orders in which players join, each followed by its reverse, ``(orders, players)``.

    A reverse makes late who was early, and so takes out some of the chance (Mitchell, Cooper, Frank & Holmes
    2022, "Sampling permutations for Shapley value estimation", JMLR 23). ``orders`` is even.
    """
    pairs = [rng.permutation(players) for _ in range(orders // 2)]
    joined = [order for drawn in pairs for order in (drawn, drawn[::-1])]
    return np.array(joined, dtype=np.int64).reshape(len(joined), players)


def coalitions_of(orders: IntArray) -> tuple[int, ...]:
    """All coalitions that form on the way through orders, each once, the smallest first."""
    masks = _prefixes(orders).ravel().tolist()
    return tuple(sorted(set(masks), key=lambda mask: (int(mask).bit_count(), mask)))


def _prefixes(orders: IntArray) -> IntArray:
    """The coalitions of each order from nobody to everybody, ``(orders, players + 1)``."""
    bits = np.left_shift(1, orders)
    return np.concatenate([np.zeros((len(orders), 1), dtype=np.int64), np.cumsum(bits, axis=1)], axis=1)


def covered_among(values: Mapping[int, float]) -> dict[int, float]:
    """The least game that never loses by a further player: the best of a coalition's parts that are known.

    Who stands together may use what some of them found by themselves.
    """
    masks, found = np.array(list(values), dtype=np.int64), np.array(list(values.values()))
    return {mask: float(found[masks & ~mask == 0].max()) for mask in values}


def shares_with_a_key(orders: IntArray, values: Mapping[int, float]) -> Shares:
    """Estimate the shares of ``n`` players and, last, of one without whom nothing is worth anything.

    The key player's place in an order is not drawn: all ``n + 1`` places are averaged. At the ``j``-th place
    of the others a player brings something in the ``j`` of them in which the key is there already. So

    ``φ_i = E[j_i / (n + 1) · (v(S_j) − v(S_{j − 1}))]``,  ``φ_key = E[Σ_j v(S_j)] / (n + 1)``,

    which sum to ``v(N)`` in every order. Errors are those of the means of pairs (see :func:`drawn_orders`).

    Parameters
    ----------
    orders
        Orders of the players but the key, ``(orders, n)``, in pairs.
    values
        What each coalition of :func:`coalitions_of` is worth with the key.
    """
    count, players = orders.shape
    worth = np.array([[values[mask] for mask in row] for row in _prefixes(orders).tolist()])
    gains = np.diff(worth, axis=1) * np.arange(1, players + 1) / (players + 1)
    shares = np.zeros((count, players + 1))
    np.put_along_axis(shares, orders, gains, axis=1)
    shares[:, players] = worth.mean(axis=1)
    pairs = shares.reshape(count // 2, 2, players + 1).mean(axis=1)
    errors = (
        pairs.std(axis=0, ddof=1) / np.sqrt(len(pairs)) if len(pairs) > 1 else np.full(players + 1, np.inf)
    )
    return Shares(shares.mean(axis=0), errors)


def summed(parts: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Add up worths and, as independent ones, their standard errors."""
    return sum(worth for worth, _ in parts), float(np.sqrt(sum(error**2 for _, error in parts)))
