"""The next step from random places of random jobs, with full reasons: how long a technician waits.

A board of 200 faults, 150 conditions, 300 checks of 4 results and 150 fixes is prepared once; then a few
hundred positions are asked, with 0 to 40 readings, 0 to 3 fixes that failed, checks skipped and an instrument
missing. Beside it, in the same run, pyAgrum ranks the same checks by the information in their results, which
is only a part of the answer (see ``bench_ranking.py``), and must agree on it.

With ``--intermittent`` the complaint comes and goes, so that every fix has a choice of soaks.

    python benchmarks/bench_next.py [--positions 300 --faults 200 --conditions 150 --checks 300 --results 4]
"""

import argparse
import time
from dataclasses import replace

import numpy as np

from bench_ranking import agrum_joint, agrum_network
from benchlore.model import (
    Evidence,
    Fix,
    FloatArray,
    Model,
    Setup,
    Work,
    fix_of,
    model_of,
    named_check,
    result_table,
)
from benchlore.procedure import Adviser, Kind, Situation
from benchlore.shop import Shop

TOOLS = ("meter", "scope", "camera", "hot-air")
SHOP = Shop("Shop", "EUR", hour=60.0, waiting_hour=6.0, worth_otherwise=150.0, instruments=frozenset(TOOLS))


def make_model(
    faults: int, conditions: int, checks: int, results: int, fixes: int, rng: np.random.Generator
) -> Model:
    """Make a random board: a few conditions are moved by each fault, three states each, two setups."""
    states = [_rows(faults, rng) for _ in range(conditions)]
    made = [
        named_check(f"c{c}", c % conditions, rng.dirichlet(np.full(results, 0.5), 3), work=_work(rng, 2, 12))
        for c in range(checks)
    ]
    return model_of(
        rng.dirichlet(np.full(faults, 0.7)),
        states,
        made,
        [_fix(a, faults, rng) for a in range(fixes)],
        setups=[Setup("open", "open", Work(6.0)), Setup("bare", "bare", Work(9.0, setups=(0,)))],
        detects=np.where(rng.random(faults) < 0.3, rng.uniform(0.6, 0.95, faults), 1.0),
    )


def coming_and_going(model: Model, rng: np.random.Generator) -> Model:
    """Let every fault show in a rhythm of its own, and the book soak for an hour."""
    every = rng.uniform(15, 60, len(model.faults))
    retest = Work(3.0, waits=60.0)
    detects = -np.expm1(-(retest.takes + retest.waits) / every)
    return replace(model, retest=retest, every=every, detects=detects)


def _rows(faults: int, rng: np.random.Generator) -> FloatArray:
    """Nine faults in ten leave a condition as it mostly is."""
    rows = np.tile(rng.dirichlet([20.0, 1.0, 1.0]), (faults, 1))
    moved = rng.random(faults) < 0.1
    rows[moved] = rng.dirichlet([0.5, 1.0, 1.0], int(moved.sum()))
    return rows


def _work(rng: np.random.Generator, least: float, most: float) -> Work:
    equipment = (str(rng.choice(TOOLS)),) if rng.random() < 0.6 else ()
    setups = ((), (0,), (0, 1))[int(rng.integers(3))]
    return Work(float(rng.uniform(least, most)), setups=setups, equipment=equipment)


def _fix(index: int, faults: int, rng: np.random.Generator) -> Fix:
    cures = np.zeros(faults)
    cures[index % (faults - 1)] = rng.uniform(0.85, 1.0)
    cures[rng.integers(faults - 1, size=2)] = rng.uniform(0.75, 1.0, 2)
    return fix_of(f"a{index}", cures, work=_work(rng, 8, 40), parts=float(rng.uniform(0, 15)))


def draw_situation(model: Model, rng: np.random.Generator) -> Situation:
    """Draw a fault, what some checks show on it, and what was tried and left out."""
    fault = int(rng.choice(len(model.faults), p=model.fault_probabilities))
    states = [int(rng.choice(rows.shape[1], p=rows[fault])) for rows in model.state_probabilities]
    done = rng.permutation(len(model.checks))[: int(rng.integers(41))].tolist()
    readings = tuple(
        (c, _drawn(model.checks[c].probabilities[states[model.checks[c].condition]], rng)) for c in done
    )
    curing = [a for a, fix in enumerate(model.fixes) if fix.cure_probabilities[fault] == 0]
    failed = tuple(rng.permutation(curing)[: int(rng.integers(4))].tolist())
    return Situation(
        Evidence(readings, failed=failed),
        unclear=tuple(c for c in rng.permutation(len(model.checks))[:2].tolist() if c not in done),
        skipped=tuple(f"c{c}" for c in rng.integers(len(model.checks), size=int(rng.integers(4)))),
        without=(str(rng.choice(TOOLS)),) if rng.random() < 0.3 else (),
    )


def _drawn(chances: FloatArray, rng: np.random.Generator) -> int:
    return int(rng.choice(len(chances), p=chances))


def seconds(adviser: Adviser, situation: Situation, *, reasons: bool) -> tuple[float, float]:
    """Time one answer: by the clock, and the processor's time alone (others may use the machine too)."""
    start, used = time.perf_counter(), time.process_time()
    adviser.advise(situation, reasons=reasons)
    return time.perf_counter() - start, time.process_time() - used


def row(name: str, times: list[tuple[float, float]]) -> str:
    """Print medians and 99th percentiles in milliseconds."""
    middle, high = np.percentile(1e3 * np.array(times), [50, 99], axis=0)
    return (
        f"{name:42} p50 {middle[0]:7.1f} ms  p99 {high[0]:7.1f} ms   "
        f"processor: {middle[1]:7.1f} and {high[1]:7.1f} ms   ({len(times)} positions)"
    )


def agrum_bits(model: Model, situations: list[Situation], adviser: Adviser) -> list[tuple[float, float]]:
    """Let pyAgrum rank the checks at some positions by information; return its times.

    Raises
    ------
    AssertionError
        If its tables are not ours.
    """
    network, times = agrum_network(model), []
    for situation in situations:
        evidence = Evidence(situation.evidence.readings)
        done = {c for c, _ in evidence.readings}
        undone = [c for c in range(len(model.checks)) if c not in done]
        start, used = time.perf_counter(), time.process_time()
        tables = agrum_joint(network, evidence, undone)
        bits = {c: _bits(table) for c, table in zip(undone, tables, strict=True)}
        times.append((time.perf_counter() - start, time.process_time() - used))
        ours = result_table(model, evidence).joint
        assert all(abs(ours[c] - table).max() < 1e-9 for c, table in zip(undone, tables, strict=True))
        for option in adviser.advise(Situation(evidence)).options:
            if option.kind is Kind.CHECK:
                assert abs(option.information - bits[int(option.action[1:])]) < 1e-9
    return times


def _bits(joint: FloatArray) -> float:
    apart = joint.sum(axis=1, keepdims=True) * joint.sum(axis=0, keepdims=True)
    ratio = np.divide(joint, apart, out=np.ones_like(joint), where=joint > 0)
    return float((joint * np.log2(ratio)).sum())


def main() -> None:
    """Ask everything and print the times."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    sizes = (("positions", 300), ("faults", 200), ("conditions", 150), ("checks", 300), ("results", 4))
    for name, size in (*sizes, ("fixes", 150)):
        parser.add_argument(f"--{name}", type=int, default=size)
    parser.add_argument("--intermittent", action="store_true")
    given = parser.parse_args()
    rng = np.random.default_rng(1)
    model = make_model(given.faults, given.conditions, given.checks, given.results, given.fixes, rng)
    model = coming_and_going(model, rng) if given.intermittent else model
    situations = [draw_situation(model, rng) for _ in range(given.positions)]
    medians = []
    for worth in (400.0, 150.0, 30.0):
        print(f"a finished repair is worth {worth:.0f}")
        adviser, median = ask_all(model, replace(SHOP, worth_otherwise=worth), situations)
        medians.append(median)
    theirs = agrum_bits(model, situations[:5], adviser)
    print(row("pyAgrum LazyPropagation, information alone", theirs))
    ratios = [float(np.median([used for _, used in theirs])) / median for median in medians]
    print(f"ratios to the three medians, processor time: {', '.join(f'{ratio:.0f}' for ratio in ratios)}")


def ask_all(model: Model, shop: Shop, situations: list[Situation]) -> tuple[Adviser, float]:
    """Ask for the next step everywhere, print the times, return the median of processor time."""
    start = time.perf_counter()
    adviser = Adviser(model, shop)
    print(f"preparing the board: {1e3 * (time.perf_counter() - start):.0f} ms, once")
    for situation in situations[:20]:
        adviser.advise(situation)
    bare = [seconds(adviser, situation, reasons=False) for situation in situations]
    full = [seconds(adviser, situation, reasons=True) for situation in situations]
    kinds = [adviser.advise(situation).best.kind for situation in situations]
    print(row("next step", bare))
    print(row("next step with all reasons", full))
    for kind in Kind:
        if times := [t for t, k in zip(full, kinds, strict=True) if k is kind]:
            print(row(f"  where it is a {kind.value}", times))
    return adviser, float(np.median([used for _, used in full]))


if __name__ == "__main__":
    main()
