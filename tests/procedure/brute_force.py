"""A second, independent solver: plain recursion over evidence, from scratch, with nothing of the product's planner.

It takes the public fields of an ``Instance`` and computes every belief anew from the whole evidence.
"""

from functools import cache

MOST_PROBABLE = 1e-15


def brute_force_cost(instance) -> float:  # noqa: C901  one closure reads like the definition
    """The least expected cost of any procedure, by trying every action at every evidence."""
    faults = range(len(instance.faults))
    checks, fixes = instance.checks, instance.fixes

    def weight(f, done, failed):
        """P(f, evidence): done is ((check, result), ...), failed a frozenset of fixes."""
        total = float(instance.prior[f])
        for g, table in enumerate(instance.tables):
            mine = [(c, r) for c, r in done if checks[c].condition == g]
            if mine:
                by_state = 0.0
                for s in range(table.shape[1]):
                    term = float(table[f, s])
                    for c, r in mine:
                        term *= float(checks[c].table[s, r])
                    by_state += term
                total *= by_state
        for a in failed:
            total *= (1 - float(fixes[a].cures[f])) * float(instance.detects[f])
        return total

    def standing(done, failed):
        mask = instance.standing
        for c, _ in done:
            mask |= checks[c].setups
        for a in failed:
            mask |= fixes[a].setups
        return mask

    def price(option, mask):
        missing = option.setups & ~mask
        setups = sum(instance.setups[k].cost.total for k in range(len(instance.setups)) if missing >> k & 1)
        return option.cost.total + setups

    def is_open(option, done):
        results = dict(done)
        return not option.excluded and all(
            gate.check in results and results[gate.check] in gate.results for gate in option.gates
        )

    @cache
    def value(done, failed):
        weights = [weight(f, done, failed) for f in faults]
        reach = sum(weights)
        if reach <= MOST_PROBABLE:
            return 0.0
        best = instance.give_up
        mask = standing(done, failed)
        for c, check in enumerate(checks):
            if c in dict(done) or not is_open(check, done):
                continue
            cost = price(check, mask)
            for r in range(len(check.results)):
                after = tuple(sorted((*done, (c, r))))
                chance = sum(weight(f, after, failed) for f in faults) / reach
                cost += chance * value(after, failed) if chance > 0 else 0.0
            best = min(best, cost)
        for a, fix in enumerate(fixes):
            if a in failed or not is_open(fix, done):
                continue
            cost = price(fix, mask)
            for f in faults:
                slip = (1 - float(fix.cures[f])) * (1 - float(instance.detects[f]))
                cost += weights[f] / reach * slip * instance.comeback
            after = failed | {a}
            chance = sum(weight(f, done, after) for f in faults) / reach
            cost += chance * value(done, after) if chance > 0 else 0.0
            best = min(best, cost)
        return best

    return value((), frozenset())
