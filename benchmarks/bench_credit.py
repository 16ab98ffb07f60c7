"""How near drawn orders come to exact shares, and how many coalitions they save compiling.

Run: python benchmarks/bench_credit.py [games]. Random games of ten contributors and a book, from fixed
seeds: records save ever less the more of them there are, with a search's noise on top, made monotone as
credit is. Errors are root mean squares over contributors, as a share of all that is worth; ratios are over
plain orders in which the book's place is drawn too.
"""

import sys
from typing import Final

import numpy as np

from benchlore.money import (
    coalitions_of,
    covered_among,
    drawn_orders,
    shapley_values,
    shares_with_a_key,
    with_a_key,
)

CONTRIBUTORS: Final = 10
ORDERS: Final = (12, 24, 48, 96)
GAMES: Final = 40


def game(seed: int) -> np.ndarray:
    """What each coalition is worth with the book: most of it by the book, the rest by ever more records."""
    rng = np.random.default_rng(seed)
    masks = np.arange(2**CONTRIBUTORS)
    records = rng.lognormal(3, 1, CONTRIBUTORS)
    jobs = sum((masks >> k & 1) * each for k, each in enumerate(records))
    worth = 1.0 - 0.3 / (1.0 + jobs / 20.0) + rng.normal(0, 0.005, len(masks))
    best = covered_among(dict(enumerate(worth.tolist())))
    return np.array([best[mask] for mask in masks.tolist()])


def plain(values: np.ndarray, orders: int, rng: np.random.Generator) -> np.ndarray:
    """Estimate shares from orders of all players, the book among them."""
    whole, shares = with_a_key(values), np.zeros(CONTRIBUTORS + 1)
    for _ in range(orders):
        order = rng.permutation(CONTRIBUTORS + 1)
        masks = np.concatenate([[0], np.cumsum(1 << order)])
        shares[order] += np.diff(whole[masks]) / orders
    return shares


def main() -> None:
    """Print one line for each number of orders."""
    games = int(sys.argv[1]) if len(sys.argv) > 1 else GAMES
    print(f"{games} games of {CONTRIBUTORS} contributors; exact: {2**CONTRIBUTORS} coalitions")
    print("orders  coalitions  fewer  error    plain    ratio  stated/real")
    for orders in ORDERS:
        off, stated, other, compiled = [], [], [], []
        for seed in range(games):
            values = game(seed)
            exact = shapley_values(with_a_key(values))
            drawn = drawn_orders(CONTRIBUTORS, orders, np.random.default_rng(seed))
            found = shares_with_a_key(drawn, dict(enumerate(values.tolist())))
            off.append((found.worth - exact) / values[-1])
            stated.append(found.errors / values[-1])
            other.append((plain(values, orders, np.random.default_rng(seed)) - exact) / values[-1])
            compiled.append(len(coalitions_of(drawn)))
        real, rough = (float(np.sqrt(np.mean(np.square(each)))) for each in (off, other))
        said, mean = float(np.sqrt(np.mean(np.square(stated)))), float(np.mean(compiled))
        print(
            f"{orders:6}  {mean:10.0f}  {2**CONTRIBUTORS / mean:4.1f}x  {real:.4%}  {rough:.4%}  "
            f"{rough / real:5.1f}  {said / real:11.2f}"
        )


if __name__ == "__main__":
    main()
