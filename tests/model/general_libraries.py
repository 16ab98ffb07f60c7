"""A model as a network of two general Bayesian-network libraries: pyAgrum (LazyPropagation) and pgmpy.

A fix that was tried is a binary child of the fault; a raw number is likelihood evidence on its condition.
"""

import itertools
import warnings

import numpy as np

from benchlore.model import log_likelihoods

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # of the libraries' own making, while they are imported
    import pyagrum as gum
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.inference import VariableElimination
    from pgmpy.models import DiscreteBayesianNetwork


def tables_of(model):
    """Name, parent and table ``(parent's values, values)`` of each node, parents first."""
    yield "f", None, model.fault_probabilities[None, :]
    for g, rows in enumerate(model.state_probabilities):
        yield f"g{g}", "f", rows
    for c, check in enumerate(model.checks):
        yield f"c{c}", f"g{check.condition}", check.probabilities
    for a, fix in enumerate(model.fixes):
        shows = (1 - fix.cure_probabilities) * model.detects
        yield f"a{a}", "f", np.stack([shows, 1 - shows], axis=1)


def facts_of(evidence):
    """Evidence as values of nodes; of a fix, 0 is that the complaint was still there."""
    return {f"c{c}": r for c, r in evidence.readings} | {
        f"a{a}": outcome for outcome, fixes in enumerate((evidence.failed, evidence.passed)) for a in fixes
    }


def likelihoods_of(model, evidence):
    """Likelihood of the raw numbers for each state of the conditions that they tell of."""
    found = {}
    for c, value in evidence.values:
        check = model.checks[c]
        likelihood = np.exp(log_likelihoods(check, [value])[0])
        found[f"g{check.condition}"] = found.get(f"g{check.condition}", 1.0) * likelihood
    return found


def agrum_network(model):
    """The network in pyAgrum, built in code: its .bif reader is of single precision."""
    network = gum.BayesNet("model")
    for name, parent, table in tables_of(model):
        network.add(gum.LabelizedVariable(name, name, table.shape[1]))
        if parent:
            network.addArc(parent, name)
            for value, row in enumerate(table):
                network.cpt(name)[{parent: value}] = row.tolist()
        else:
            network.cpt(name)[:] = table[0].tolist()
    return network


def agrum_posterior(model, evidence):
    """``P(f | e)`` and the conditions' posteriors by pyAgrum, ``P(e)``."""
    inference = gum.LazyPropagation(agrum_network(model))
    for name, value in facts_of(evidence).items():
        inference.addEvidence(name, value)
    for name, likelihood in likelihoods_of(model, evidence).items():
        inference.addEvidence(name, likelihood.tolist())
    inference.makeInference()
    names = ["f", *(f"g{g}" for g in range(len(model.states)))]
    return [inference.posterior(name).toarray() for name in names], inference.evidenceProbability()


def pgmpy_network(model):
    """The network in pgmpy."""
    network = DiscreteBayesianNetwork()
    sizes = {}
    for name, parent, table in tables_of(model):
        sizes[name] = table.shape[1]
        network.add_node(name)
        if parent:
            network.add_edge(parent, name)
            cpd = TabularCPD(name, table.shape[1], table.T, evidence=[parent], evidence_card=[sizes[parent]])
        else:
            cpd = TabularCPD(name, table.shape[1], table.T)
        network.add_cpds(cpd)
    return network


def pgmpy_posterior(model, evidence):
    """``P(f | e)`` and the conditions' posteriors by pgmpy; raw numbers as virtual evidence."""
    inference = VariableElimination(pgmpy_network(model))
    virtual = [
        TabularCPD(name, len(likelihood), (likelihood / likelihood.sum())[:, None])
        for name, likelihood in likelihoods_of(model, evidence).items()
    ]
    names = ["f", *(f"g{g}" for g in range(len(model.states)))]
    return [
        inference.query(
            [name], evidence=facts_of(evidence), virtual_evidence=virtual or None, show_progress=False
        ).values
        for name in names
    ]


def brute_force(model, evidence):
    """``P(f, e)`` by summing over every joint state of all conditions, no shortcut taken."""
    sizes = [rows.shape[1] for rows in model.states]
    raw = {c: np.exp(log_likelihoods(model.checks[c], [value])[0]) for c, value in evidence.values}
    total = np.zeros(len(model.faults))
    for f, joint in itertools.product(range(len(model.faults)), itertools.product(*map(range, sizes))):
        chance = model.fault_probabilities[f]
        for g, s in enumerate(joint):
            chance *= model.state_probabilities[g][f, s]
        for c, r in evidence.readings:
            chance *= model.checks[c].probabilities[joint[model.checks[c].condition], r]
        for c, likelihood in raw.items():
            chance *= likelihood[joint[model.checks[c].condition]]
        for a in evidence.failed:
            chance *= (1 - model.fixes[a].cure_probabilities[f]) * model.detects[f]
        for a in evidence.passed:
            rho = model.fixes[a].cure_probabilities[f]
            chance *= rho + (1 - rho) * (1 - model.detects[f])
        total[f] += chance
    return total
