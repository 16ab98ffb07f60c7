"""The worth of readings by affine features, against a two-level simulation of the same.

The plain way walks every choice of the pool under each drawn model of the unknown's rows, then draws
outcomes, weighs those costs by how well each model foretold the outcome, and plans anew. Both answer for the
same pool of procedures. The plain way scores what it chose by the same draws, so it tends to be higher; the
script stops where the two are further apart than four standard errors of both together.

    python benchmarks/bench_sensitivity.py [--faults 10 --checks 12 --draws 200 --plain 5]
"""

import argparse
from dataclasses import replace
from time import perf_counter

import numpy as np

from benchlore.model import FloatArray, Model, Work, fix_of, model_of, named_check
from benchlore.procedure import Effort, Instance, plan
from benchlore.procedure.pool import cheapest, costs_of, followed, weights_of
from benchlore.procedure.walk import whole
from benchlore.proof import in_turn, seeds, sensitivity_of
from benchlore.proof.drawn import Drawn, drawn_of
from benchlore.proof.records_worth import check_records
from benchlore.proof.rivals import compared, pricing_of
from benchlore.proof.unknowns import Basis
from benchlore.shop import Shop

SHOP = Shop("bench", "EUR", hour=60.0, waiting_hour=0.0, worth_otherwise=200.0, comeback=280.0)
RECORDS = 10
ERRORS = 4


def board(faults: int, checks: int, seed: int = 1) -> Model:
    """Draw a board of which little is known: six boards behind each row."""
    rng = np.random.default_rng(seed)
    conditions = (checks + 1) // 2
    states = [rng.dirichlet(np.full(2, 0.4), faults) for _ in range(conditions)]
    looks = [
        named_check(
            f"check-{c}",
            c % conditions,
            [[0.9, 0.1], [0.15, 0.85]],
            work=Work(float(rng.uniform(2, 12))),
            weight=6.0,
        )
        for c in range(checks)
    ]
    cures = [np.where(np.arange(faults) == a, 0.85, 0.0) for a in range(faults - 1)]
    fixes = [
        fix_of(f"fix-{a}", rho, work=Work(float(rng.uniform(15, 50))), weight=6.0)
        for a, rho in enumerate(cures)
    ]
    return model_of(rng.dirichlet(np.full(faults, 2.0)), states, looks, fixes, weight=6.0)


def plain(basis: Basis, drawn: Drawn, check: int, fault: int, rng: np.random.Generator) -> FloatArray:
    """What each of the simulated outcomes saves, one for each draw."""
    pool, condition = basis.pool, int(basis.arrays.condition[check])
    rows, shows = drawn.table[:, condition, fault], drawn.shows[:, check]
    results = np.einsum("ks,ksr->kr", rows, shows)
    walked = []
    for row, shown in zip(rows, shows, strict=True):
        arrays = whole(substituted(basis.instance, fault, check, row, shown))
        walked.append(costs_of(pool, arrays, weights_of(pool, arrays)))
    by_draw, saved = np.array(walked), []
    for k in range(len(rows)):
        counts = rng.multinomial(RECORDS, results[k] / results[k].sum())
        likely = np.exp(counts @ np.log(np.maximum(results, 1e-300)).T)
        costs = likely @ by_draw / likely.sum()
        saved.append(costs[basis.now].sum() - costs[followed(pool, cheapest(pool, costs).chosen[0])].sum())
    return np.array(saved)


def substituted(instance: Instance, fault: int, check: int, row: FloatArray, shown: FloatArray) -> Instance:
    """Return the instance with one fault's row of states and one check's rows from a draw."""
    option = instance.checks[check]
    tables, checks = list(instance.tables), list(instance.checks)
    table = tables[option.condition].copy()
    table[fault] = row
    tables[option.condition] = table
    checks[check] = replace(option, table=shown)
    return replace(instance, tables=tuple(tables), checks=tuple(checks))


def main() -> None:
    """Print times, figures and the ratio."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--faults", type=int, default=10)
    parser.add_argument("--checks", type=int, default=12)
    parser.add_argument("--draws", type=int, default=200)
    parser.add_argument("--plain", type=int, default=5, help="unknowns that the plain way answers for")
    options = parser.parse_args()
    model = board(options.faults, options.checks)
    procedure = plan(model, SHOP, effort=Effort.QUICK)
    sensitivity_of(model, SHOP, procedure, draws=4, rivals=1)  # the kernels are compiled first
    start = perf_counter()
    found = sensitivity_of(model, SHOP, procedure, draws=options.draws)
    print(f"all of it: {perf_counter() - start:.1f} s, {found.looked_at} unknowns looked at")
    pricing = pricing_of(model, SHOP, procedure)
    both = compared(model, procedure, pricing, seeds(0, 0, 8), effort=Effort.QUICK, run=in_turn)
    drawn = drawn_of(model, pricing, both, seeds(0, 1, options.draws), in_turn)
    basis = Basis(both.pool, pricing.instance(model))
    print(f"{len(both.pool.action)} choices at {len(both.pool.parent)} states")
    start = perf_counter()
    worth = {(c, f): w for c in range(options.checks) for f, w in check_records(basis, c, drawn, RECORDS)}
    fast = (perf_counter() - start) / len(worth)
    best = sorted(worth, key=lambda one: -worth[one].value)[: options.plain]
    rng, slow = np.random.default_rng(0), 0.0
    for check, fault in best:
        start = perf_counter()
        saved = plain(basis, drawn, check, fault, rng)
        slow += (perf_counter() - start) / len(best)
        ours, error = worth[check, fault], saved.std() / len(saved) ** 0.5
        print(
            f"  check {check}, fault {fault}: {ours.value:.4f} ({ours.low:.4f} to {ours.high:.4f}), "
            f"plain {saved.mean():.4f} ± {error:.4f}"
        )
        if abs(saved.mean() - ours.value) > ERRORS * (error + (ours.high - ours.low) / 4):
            raise SystemExit("the two disagree")
    print(f"  {fast * 1000:.1f} ms against {slow * 1000:.0f} ms for one unknown; ratio {slow / fast:.0f}")


if __name__ == "__main__":
    main()
