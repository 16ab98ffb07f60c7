"""What bounds and reductions spare when equipment is valued: time beside planning every set by itself.

Run: python benchmarks/bench_equip.py. The first board of ``init`` for a bench that has but a microscope, in
one process: all sets of what it lacks, and all sets of that with three things that nothing needs.
"""

import tempfile
from dataclasses import replace
from itertools import combinations
from pathlib import Path
from time import process_time

from benchlore.library import init_library, learn_board
from benchlore.library.equip_costs import EquipmentCosts
from benchlore.library.folder import sound_shop_of
from benchlore.library.progress import silent
from benchlore.model import Model
from benchlore.procedure import Effort, plan
from benchlore.proof import in_turn
from benchlore.shop import Shop

ROUNDS = 5
NEEDLESS = ("xray", "laser", "thermal-camera")


def compare(model: Model, shop: Shop, names: list[str]) -> None:
    """Time both on all sets of the names, and print the ratio."""
    sets = [frozenset(each) for size in range(len(names) + 1) for each in combinations(names, size)]
    start = process_time()
    for _ in range(ROUNDS):
        costs = EquipmentCosts([model], shop, Effort.QUICK, in_turn)
        costs.find([frozenset(), frozenset(names)], "", silent)
        costs.find(sets, "", silent)
    spared = (process_time() - start) / ROUNDS
    start = process_time()
    plain = [
        plan(model, replace(shop, instruments=shop.instruments | each), effort=Effort.QUICK).expected
        for each in sets
    ]
    every = process_time() - start
    same = all(
        abs(costs.between(0, each).found - cost) < 1e-6 for each, cost in zip(sets, plain, strict=True)
    )
    print(f"{len(sets)} sets: {costs.planned} plans in {spared:.3f} s, every one {every:.3f} s")
    print(f"ratio {every / spared:.1f}; the same costs: {same}")


def main() -> None:
    """Compare with and without what nothing needs."""
    with tempfile.TemporaryDirectory() as folder:
        library = init_library(Path(folder) / "library", title="Bench", board="my-board")
        model = learn_board(library, "my-board").models["no-power"]
        shop = replace(sound_shop_of(library), instruments=frozenset({"microscope"}))
        lacking = sorted(EquipmentCosts([model], shop, Effort.QUICK, in_turn).needed[0])
        plan(model, replace(shop, instruments=shop.instruments | set(lacking)))  # compile
        compare(model, shop, lacking)
        compare(model, shop, [*lacking, *NEEDLESS])


if __name__ == "__main__":
    main()
