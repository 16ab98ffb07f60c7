"""A general decision library as a second opinion: influence diagrams solved by pyAgrum's LIMID inference.

In a diagram the last decision is one fix or the return. An instance says the same where no retest ever shows
the complaint again: then the fix ends the job, and what it did not cure comes back.
"""

import warnings

import numpy as np
import pytest

from benchlore.procedure import CheckOption, Cost, FixOption, Instance, SetupOption, solve_exact

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # of the library's own making; as errors they would crash its C++ part
    import pyagrum as gum

    gum.ShaferShenoyLIMIDInference(gum.InfluenceDiagram())  # this part is loaded at its first use

FIXES = 2
CASES = (0, 2, 3, 8, 9, 10, 12, 13, 14)
NEVER = 1e6
"""What an action costs in the diagram that the instance does not have, such as the same check twice."""


def case(seed, checks):
    """Three faults move one condition of three states; every check reads it, with one setup for all."""
    rng = np.random.default_rng(seed)
    options = tuple(
        CheckOption(
            f"c{c}",
            0,
            tuple(f"r{r}" for r in range(2 + c)),
            rng.dirichlet(np.full(2 + c, 0.2), size=3),
            Cost(hands_on=float(rng.uniform(0.5, 6))),
            setups=int(rng.integers(2)),
        )
        for c in range(checks)
    )
    return Instance(
        faults=("f0", "f1", "f2"),
        prior=rng.dirichlet(np.full(3, 4.0)),
        tables=(rng.dirichlet(np.full(3, 0.2), size=3),),
        checks=options,
        fixes=tuple(
            FixOption(
                f"a{a}",
                np.where(np.arange(3) == a, rng.uniform(0.8, 1.0), rng.uniform(0.0, 0.2, 3)),
                Cost(hands_on=float(rng.uniform(5, 40))),
                detects=np.zeros(3),
            )
            for a in range(FIXES)
        ),
        setups=(SetupOption("u", Cost(setups=float(rng.uniform(0, 4))), 1),),
        give_up=120.0,
        comeback=220.0,
    )


def diagram(instance):
    """Fault → state; each round decides on a check or none and shows a result; then a fix or the return."""
    rounds, none = len(instance.checks), len(instance.checks)
    most = max(len(check.results) for check in instance.checks)
    net = gum.InfluenceDiagram()
    net.addChanceNode(gum.LabelizedVariable("fault", "", 3))
    net.addChanceNode(gum.LabelizedVariable("state", "", 3))
    net.addArc("fault", "state")
    net.cpt("fault").fillWith(instance.prior.tolist())
    for f, row in enumerate(instance.tables[0]):
        net.cpt("state")[{"fault": f}] = row.tolist()
    for k in range(rounds):
        net.addDecisionNode(gum.LabelizedVariable(f"do{k}", "", none + 1))
        net.addChanceNode(gum.LabelizedVariable(f"shown{k}", "", most + 1))
        net.addArc("state", f"shown{k}")
        net.addArc(f"do{k}", f"shown{k}")
        for c in range(none + 1):
            for s in range(3):
                row = np.zeros(most + 1)
                if c == none:
                    row[most] = 1.0
                else:
                    row[: len(instance.checks[c].results)] = instance.checks[c].table[s]
                net.cpt(f"shown{k}")[{f"do{k}": c, "state": s}] = row.tolist()
        if k:
            net.addArc(f"shown{k - 1}", f"do{k}")
    net.addDecisionNode(gum.LabelizedVariable("act", "", FIXES + 1))
    net.addArc(f"shown{rounds - 1}", "act")
    _price(net, instance)
    return net


def _price(net, instance):
    rounds, none = len(instance.checks), len(instance.checks)
    net.addUtilityNode(gum.LabelizedVariable("checking", "", 1))
    net.addUtilityNode(gum.LabelizedVariable("ending", "", 1))
    for k in range(rounds):
        net.addArc(f"do{k}", "checking")
    for node in ("fault", "act"):
        net.addArc(node, "ending")
    for chosen in np.ndindex(*(none + 1,) * rounds):
        made = [c for c in chosen if c != none]
        cost = sum(instance.checks[c].cost.total for c in made)
        cost += instance.setups[0].cost.total * any(instance.checks[c].setups for c in made)
        cost += NEVER * (len(set(made)) < len(made))
        net.utility("checking")[{f"do{k}": c for k, c in enumerate(chosen)}] = [-cost]
    for f in range(3):
        for a, fix in enumerate(instance.fixes):
            cost = fix.cost.total + (1 - fix.cures[f]) * instance.comeback
            net.utility("ending")[{"fault": f, "act": a}] = [-cost]
        net.utility("ending")[{"fault": f, "act": FIXES}] = [-instance.give_up]


def theirs(instance):
    """Least expected cost of the diagram, every decision knowing all that went before."""
    net = diagram(instance)  # the inference does not keep it alive
    inference = gum.ShaferShenoyLIMIDInference(net)
    inference.addNoForgettingAssumption([*(f"do{k}" for k in range(len(instance.checks))), "act"])
    inference.makeInference()
    return -inference.MEU()["mean"]


@pytest.mark.parametrize("seed", CASES)
@pytest.mark.parametrize("checks", [1, 2])
def test_the_optimum_is_that_of_an_influence_diagram(seed, checks):
    instance = case(seed, checks)
    assert solve_exact(instance).expected == pytest.approx(theirs(instance), abs=1e-9)


def test_the_cases_are_worth_deciding():
    """Some end at once, some make one check, some make both."""
    policies = [solve_exact(case(seed, 2)).policy for seed in CASES]
    checks_made = {len(set(policy.action[(policy.action >= 0) & (policy.action < 2)])) for policy in policies}
    assert checks_made == {0, 1, 2}
