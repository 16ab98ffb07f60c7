"""A second solver and odd problems, written from the definition and sharing nothing with the package's kernels."""

from dataclasses import replace
from itertools import permutations
from math import prod

import numpy as np

from benchlore.model import Gate
from benchlore.procedure import CheckOption, Cost, FixOption, Instance, Mode, SetupOption


def brute_force(instance):
    """Least expected cost by recursion over evidence with normalised beliefs, in plain Python."""
    return _Recursion(instance).value(frozenset(), frozenset())


def cheapest_by_size(instance, most):
    """Least expected cost of all policies with at most 1, 2, … ``most`` nodes of their tree; what cannot happen is free."""
    return _SizedRecursion(instance, most).costs(frozenset(), frozenset())[1:]


def recursion_of(instance):
    """The same recursion, to be asked from any evidence: ``value(readings, failed)``."""
    return _Recursion(instance)


class _Recursion:
    def __init__(self, instance):
        self.instance = instance
        self.known = {}

    def value(self, readings, failed):
        """What a job costs from here: ``readings`` are (check, result), ``failed`` are fixes."""
        if (readings, failed) not in self.known:
            self.known[readings, failed] = self._value(readings, failed)
        return self.known[readings, failed]

    def _value(self, readings, failed):
        weights = self.belief(readings, failed)
        total = sum(weights)
        if total == 0 or (self.instance.mode is Mode.IDENTIFY and total - max(weights) <= 1e-12 * total):
            return 0.0
        return min([self.instance.give_up, *self.checks(readings, failed), *self.fixes(readings, failed)])

    def checks(self, readings, failed):
        total = sum(self.belief(readings, failed))
        for c, check in enumerate(self.instance.checks):
            if c not in dict(readings) and self.is_open(check, readings):
                cost = self.price(check, readings, failed)
                for r in range(len(check.results)):
                    after = frozenset({*readings, (c, r)})
                    cost += sum(self.belief(after, failed)) / total * self.value(after, failed)
                yield cost

    def fixes(self, readings, failed):
        weights = self.belief(readings, failed)
        total = sum(weights)
        for a, fix in enumerate(self.instance.fixes):
            tried = {self.instance.fixes[k].name for k in failed}
            if fix.name not in tried and self.is_open(fix, readings):
                detects = fix.detects
                slips = sum(w * (1 - fix.cures[f]) * (1 - detects[f]) for f, w in enumerate(weights))
                after = frozenset({*failed, a})
                still = sum(self.belief(readings, after))
                yield (
                    self.price(fix, readings, failed)
                    + slips / total * self.instance.comeback
                    + still / total * self.value(readings, after)
                )

    def belief(self, readings, failed):
        """``P(fault, evidence)`` of every fault, each from scratch."""
        return [self.weight(f, readings, failed) for f in range(len(self.instance.faults))]

    def weight(self, f, readings, failed):
        value = float(self.instance.prior[f])
        for g, table in enumerate(self.instance.tables):
            here = [
                (self.instance.checks[c], r) for c, r in readings if self.instance.checks[c].condition == g
            ]
            value *= sum(
                table[f, s] * prod(check.table[s, r] for check, r in here) for s in range(table.shape[1])
            )
        return value * prod(self.survives(self.instance.fixes[a], f) for a in failed)

    def survives(self, fix, f):
        return (1 - fix.cures[f]) * fix.detects[f]

    def is_open(self, option, readings):
        results = dict(readings)
        return not option.excluded and all(results.get(gate.check) in gate.results for gate in option.gates)

    def price(self, option, readings, failed):
        standing = self.instance.standing
        for done in (
            *(self.instance.checks[c] for c, _ in readings),
            *(self.instance.fixes[a] for a in failed),
        ):
            standing |= done.setups
        missing = option.setups & ~standing
        setups = [setup.cost.total for k, setup in enumerate(self.instance.setups) if missing >> k & 1]
        return option.cost.total + sum(setups)


class _SizedRecursion(_Recursion):
    """The same recursion for every number of nodes at most; costs are times the probability."""

    def __init__(self, instance, most):
        super().__init__(instance)
        self.most = most

    def costs(self, readings, failed):
        if (readings, failed) not in self.known:
            self.known[readings, failed] = self._costs(readings, failed)
        return self.known[readings, failed]

    def _costs(self, readings, failed):
        weights = self.belief(readings, failed)
        total = sum(weights)
        if total == 0 or (self.instance.mode is Mode.IDENTIFY and total - max(weights) <= 1e-12 * total):
            return [0.0] * (self.most + 1)
        best = [np.inf] + [total * self.instance.give_up] * self.most
        for own, onwards in self.actions(readings, failed):
            shares = [0.0] * self.most
            for child in onwards:
                after = self.costs(*child)
                shares = [min(shares[k - i] + after[i] for i in range(k + 1)) for k in range(self.most)]
            best = [best[0]] + [min(best[k], own + shares[k - 1]) for k in range(1, self.most + 1)]
        return best

    def actions(self, readings, failed):
        """Cost of each action by itself, and the states that follow."""
        weights = self.belief(readings, failed)
        for c, check in enumerate(self.instance.checks):
            if c not in dict(readings) and self.is_open(check, readings):
                onwards = [(frozenset({*readings, (c, r)}), failed) for r in range(len(check.results))]
                yield sum(weights) * self.price(check, readings, failed), onwards
        for a, fix in enumerate(self.instance.fixes):
            tried = {self.instance.fixes[k].name for k in failed}
            if fix.name not in tried and self.is_open(fix, readings):
                slips = sum(w * (1 - fix.cures[f]) * (1 - fix.detects[f]) for f, w in enumerate(weights))
                own = sum(weights) * self.price(fix, readings, failed) + slips * self.instance.comeback
                yield own, [(readings, frozenset({*failed, a}))]


def cheapest_order(chances, costs):
    """Least expected cost of trying fixes in a fixed order, each curing its own fault: all orders are tried."""
    return min(
        sum(costs[a] * (1 - sum(chances[b] for b in order[:k])) for k, a in enumerate(order))
        for order in permutations(range(len(chances)))
    )


def odd_instance(rng):
    """A tiny problem with everything that may go wrong: zeros, sure things, free actions, gates, shared conditions."""
    faults, conditions, checks, fixes = (int(rng.integers(low, 4)) for low in (1, 1, 0, 0))

    def rows(count, width):
        table = rng.dirichlet(np.full(width, 0.4), size=count)
        table[rng.random(table.shape) < 0.3] = 0.0
        table[table.sum(axis=1) == 0] = np.eye(width)[0]
        return table / table.sum(axis=1, keepdims=True)

    def cost(scale):
        return float(rng.choice([0.0, rng.uniform(0, scale)]))

    def gates(count):
        if count and rng.random() < 0.4:
            return (Gate(int(rng.integers(count)), tuple({int(r) for r in rng.integers(0, 2, size=2)})),)
        return ()

    widths = [int(rng.integers(1, 4)) for _ in range(conditions)]
    options = []
    for c in range(checks):
        g = int(rng.integers(conditions))
        table = rows(widths[g], int(rng.integers(2, 4)))
        names = tuple(f"r{r}" for r in range(table.shape[1]))
        excluded = "needs a scope" if rng.random() < 0.1 else ""
        options.append(
            CheckOption(
                f"c{c}", g, names, table, Cost(hands_on=cost(10)), int(rng.integers(4)), gates(c), excluded
            )
        )
    prior = rng.dirichlet(np.full(faults, 0.7))
    prior[rng.random(faults) < 0.2] = 0.0
    prior = prior / prior.sum() if prior.sum() > 0 else np.eye(faults)[0]
    give_up = cost(100)
    moves = tuple(rows(faults, width) for width in widths)
    works = [
        FixOption(
            f"a{a}",
            np.where(rng.random(faults) < 0.5, rng.choice([1.0, 0.7], size=faults), 0.0),
            Cost(hands_on=cost(30), retest=cost(5)),
            int(rng.integers(4)),
            gates(checks),
        )
        for a in range(fixes)
    ]
    setups = (SetupOption("u0", Cost(setups=cost(8)), 1), SetupOption("u1", Cost(setups=cost(8)), 3))
    detects = rng.choice([0.0, 0.5, 1.0], size=faults)
    return Instance(
        faults=tuple(f"f{f}" for f in range(faults)),
        prior=prior,
        tables=moves,
        checks=tuple(options),
        fixes=tuple(replace(fix, detects=detects) for fix in works),
        setups=setups,
        give_up=give_up,
        comeback=give_up + cost(50),
        standing=int(rng.integers(4)),
    )


def identification(prior, outcomes, costs=None):
    """Test sequencing: ``outcomes[test][state]`` is the outcome's number; perfect tests, unit costs if none are given."""
    count = len(prior)
    checks = []
    for t, row in enumerate(outcomes):
        table = np.eye(max(row) + 1)[list(row)]
        names = tuple(f"r{r}" for r in range(table.shape[1]))
        cost = Cost(hands_on=1.0 if costs is None else costs[t])
        checks.append(CheckOption(f"t{t + 1}", 0, names, table, cost))
    return Instance(
        faults=tuple(f"s{k}" for k in range(count)),
        prior=np.asarray(prior, dtype=float),
        tables=(np.eye(count),),
        checks=tuple(checks),
        fixes=(),
        setups=(),
        give_up=1e6,
        comeback=1e6,
        mode=Mode.IDENTIFY,
    )


def fixes_in_order(chances, costs, cures=None):
    """Troubleshooting without checks: fix ``a`` cures fault ``a``, or the faults in ``cures[a]``; all retests are sure."""
    count = len(chances)
    groups = cures or [[a] for a in range(len(costs))]
    return Instance(
        faults=tuple(f"f{k}" for k in range(count)),
        prior=np.asarray(chances, dtype=float),
        tables=(),
        checks=(),
        fixes=tuple(
            FixOption(f"a{a + 1}", np.isin(np.arange(count), group).astype(float), Cost(hands_on=cost))
            for a, (group, cost) in enumerate(zip(groups, costs, strict=True))
        ),
        setups=(),
        give_up=1e6,
        comeback=1e6,
    )
