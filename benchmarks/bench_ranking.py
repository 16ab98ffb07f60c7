"""Posterior and one-step table of all checks, against two general Bayesian-network libraries.

The task is the one behind every "what next": given some readings, ``P(fault, result of check | readings)``
for every check that is not done. The libraries answer it with the same network (fault → conditions → checks)
and must give the same numbers; the script stops if they do not.

    python benchmarks/bench_ranking.py [--faults 200 --conditions 150 --checks 300 --results 4]
"""

import argparse
import logging
import statistics
import time
import warnings
from collections.abc import Callable

import numpy as np

from benchlore.model import Evidence, FloatArray, Model, model_of, named_check, posterior, result_table
from benchlore.model.reference import result_table_reference

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import pyagrum as gum
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.inference import VariableElimination
    from pgmpy.models import DiscreteBayesianNetwork

logging.disable(logging.WARNING)


def make_model(faults: int, conditions: int, checks: int, results: int, rng: np.random.Generator) -> Model:
    """Make a random model with three states a condition; every condition is read by some check."""
    states = [rng.dirichlet(np.full(3, 0.5), faults) for _ in range(conditions)]
    read = [c % conditions for c in range(checks)]
    tables = [rng.dirichlet(np.full(results, 0.5), 3) for _ in range(checks)]
    made = [named_check(f"c{c}", g, table) for c, (g, table) in enumerate(zip(read, tables, strict=True))]
    return model_of(rng.dirichlet(np.ones(faults)), states, made)


def agrum_network(model: Model) -> gum.BayesNet:
    """Build the network in code: pyAgrum's .bif reader is of single precision."""
    network = gum.BayesNet("model")
    network.add(gum.LabelizedVariable("f", "f", len(model.faults)))
    network.cpt("f")[:] = model.fault_probabilities.tolist()
    nodes = [("f", f"g{g}", rows) for g, rows in enumerate(model.state_probabilities)]
    nodes += [(f"g{check.condition}", f"c{c}", check.probabilities) for c, check in enumerate(model.checks)]
    for parent, name, table in nodes:
        network.add(gum.LabelizedVariable(name, name, table.shape[1]))
        network.addArc(parent, name)
        for value, row in enumerate(table):
            network.cpt(name)[{parent: value}] = row.tolist()
    return network


def agrum_joint(network: gum.BayesNet, evidence: Evidence, undone: list[int]) -> list[FloatArray]:
    """Ask for all joints in one inference (``evidenceImpact`` would be faster, but forgets the evidence)."""
    inference = gum.LazyPropagation(network)
    for c in undone:
        inference.addJointTarget({"f", f"c{c}"})
    inference.setEvidence({f"c{c}": r for c, r in evidence.readings})
    inference.makeInference()
    return [inference.jointPosterior({"f", f"c{c}"}).reorganize([f"c{c}", "f"]).toarray().T for c in undone]


def agrum_single(network: gum.BayesNet, evidence: Evidence, undone: list[int]) -> list[FloatArray]:
    """Ask for the chance of each result, then for the faults after each result."""
    inference = gum.LazyPropagation(network)
    inference.setEvidence({f"c{c}": r for c, r in evidence.readings})
    inference.makeInference()
    chances = [inference.posterior(f"c{c}").toarray() for c in undone]
    inference.setTargets({"f"})
    tables = []
    for c, chance in zip(undone, chances, strict=True):
        inference.addEvidence(f"c{c}", 0)
        rows = []
        for r, share in enumerate(chance):
            inference.chgEvidence(f"c{c}", r)
            inference.makeInference()
            rows.append(share * inference.posterior("f").toarray())
        inference.eraseEvidence(f"c{c}")
        tables.append(np.array(rows))
    return tables


def pgmpy_network(model: Model) -> DiscreteBayesianNetwork:
    """Build the same network for pgmpy."""
    network = DiscreteBayesianNetwork()
    network.add_node("f")
    network.add_cpds(TabularCPD("f", len(model.faults), model.fault_probabilities[:, None]))
    nodes = [("f", f"g{g}", rows) for g, rows in enumerate(model.state_probabilities)]
    nodes += [(f"g{check.condition}", f"c{c}", check.probabilities) for c, check in enumerate(model.checks)]
    for parent, name, table in nodes:
        network.add_edge(parent, name)
        network.add_cpds(TabularCPD(name, table.shape[1], table.T, [parent], [table.shape[0]]))
    return network


def pgmpy_joint(network: DiscreteBayesianNetwork, evidence: Evidence, undone: list[int]) -> list[FloatArray]:
    """One query of variable elimination for each check."""
    inference = VariableElimination(network)
    facts = {f"c{c}": r for c, r in evidence.readings}
    tables = []
    for c in undone:
        factor = inference.query([f"c{c}", "f"], evidence=facts, show_progress=False)
        tables.append(factor.values if factor.variables[0] != "f" else factor.values.T)
    return tables


def milliseconds(task: Callable[[], object], repeats: int) -> float:
    """Return the median time of a task."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        task()
        times.append(time.perf_counter() - start)
    return 1e3 * statistics.median(times)


def largest_difference(ours: FloatArray, theirs: list[FloatArray], undone: list[int]) -> float:
    """Return the largest difference between two tables."""
    return max(
        float(abs(ours[c, : len(table)] - table).max()) for c, table in zip(undone, theirs, strict=True)
    )


def main() -> None:
    """Run all and print the ratios."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    for name, size in (("faults", 200), ("conditions", 150), ("checks", 300), ("results", 4), ("read", 10)):
        parser.add_argument(f"--{name}", type=int, default=size)
    sizes = parser.parse_args()
    rng = np.random.default_rng(1)
    model = make_model(sizes.faults, sizes.conditions, sizes.checks, sizes.results, rng)
    done = rng.permutation(sizes.checks)[: sizes.read].tolist()
    evidence = Evidence(readings=tuple((c, int(rng.integers(sizes.results))) for c in done))
    undone = [c for c in range(sizes.checks) if c not in done]
    ours = result_table(model, evidence).joint
    result_table(model, evidence, parallel=True)
    fast = {
        "benchlore, one core": milliseconds(lambda: result_table(model, evidence), 200),
        "benchlore, all cores": milliseconds(lambda: result_table(model, evidence, parallel=True), 200),
        "benchlore's plain numpy": milliseconds(lambda: result_table_reference(model, evidence), 20),
    }
    agrum, pgmpy = agrum_network(model), pgmpy_network(model)
    general = {
        "pyAgrum LazyPropagation, joint targets": lambda: agrum_joint(agrum, evidence, undone),
        "pyAgrum LazyPropagation, result by result": lambda: agrum_single(agrum, evidence, undone),
        "pgmpy VariableElimination, joint queries": lambda: pgmpy_joint(pgmpy, evidence, undone),
    }
    print(f"posterior alone: {milliseconds(lambda: posterior(model, evidence), 200):9.3f} ms")
    for name, time_taken in fast.items():
        print(f"{name:45} {time_taken:9.3f} ms")
    for name, task in general.items():
        difference = largest_difference(ours, task(), undone)
        assert difference < 1e-9, f"{name} differs by {difference}"
        time_taken = milliseconds(task, 3)
        ratio = time_taken / fast["benchlore, one core"]
        print(f"{name:45} {time_taken:9.1f} ms, {ratio:6.0f} × one core; differs by {difference:.1e}")


if __name__ == "__main__":
    main()
