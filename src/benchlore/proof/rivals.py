"""What a procedure is compared with: procedures planned under drawn models, and other first steps.

All of it goes into one graph of evidence (:class:`benchlore.procedure.pool.Pool`), in which the choices of
different procedures can be mixed. What is planned under a drawn model is the whole job once, and the rest of
it again from each state that many jobs get to, so that one part of a procedure may change and all else stay.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from benchlore.model import Model, sample
from benchlore.procedure import (
    RELEASE,
    Adviser,
    Effort,
    Instance,
    Kind,
    Limits,
    Policy,
    Procedure,
    Situation,
    instance_of,
    solve_anytime,
)
from benchlore.procedure.anytime import NODES
from benchlore.procedure.costing import policy_of
from benchlore.procedure.policy import RETURN, ROOT, PolicyBuilder
from benchlore.procedure.pool import Done, Part, Pool, pool_of, weights_of
from benchlore.procedure.pricing import menu_of
from benchlore.procedure.remainder import remainder
from benchlore.procedure.walk import whole
from benchlore.proof.work import Run
from benchlore.shop import Shop

COMMON: Final = 0.03
"""Share of jobs from which on a state's rest is planned again under every drawn model."""

PART_OF_NODES: Final = 60
"""Such a rest gets this part of the effort's states."""

WHOLE_OF_NODES: Final = 2
"""A whole job under a drawn model gets this part of them; a first step's under the model itself gets all."""

FIRST_STEPS: Final = 6
"""First steps that are compared, the procedure's own among them."""

FIRST_DRAWS: Final = 2
"""Drawn models under which each of them is planned on."""

LEAST_NODES: Final = 20
"""States that are looked at for a rest, however rare."""

LEAF: Final = 1 << 12
"""States up to which a rest is solved exactly: a smaller table than a plan of its own would use."""


@dataclass(frozen=True, eq=False)
class Pricing:
    """How models become instances of one shape: one shop, one menu of soaks."""

    shop: Shop
    soaks: tuple[float, ...]

    def instance(self, model: Model) -> Instance:
        """Price a model."""
        return instance_of(model, self.shop, soaks=self.soaks)


def pricing_of(model: Model, shop: Shop, procedure: Procedure) -> Pricing:
    """The soaks that the model suggests and those that the procedure asks for."""
    asked = {step.soak for step in procedure.steps if step.kind is Kind.FIX}
    return Pricing(shop, tuple(sorted(asked | set(menu_of(model, shop)))))


@dataclass(frozen=True, eq=False)
class Compared:
    """``pool`` holds the procedure (its first policy) and all rivals.

    ``beginnings`` holds each first step compared with what follows it, all planned with the same effort; at
    its start the first choice is the procedure's own.
    """

    pool: Pool
    beginnings: Pool


def compared(
    model: Model,
    procedure: Procedure,
    pricing: Pricing,
    seeds: Sequence[np.random.SeedSequence],
    *,
    effort: Effort,
    run: Run,
) -> Compared:
    """Plan the rivals, one for each seed."""
    instance = pricing.instance(model)
    own = policy_of(procedure, instance)
    alone = pool_of(own, (), instance)
    nodes = max(1, NODES[effort] // WHOLE_OF_NODES)
    drawn = list(run(_rival, [_Rival(model, pricing, seed, nodes, alone) for seed in seeds]))
    firsts = _first_steps(model, pricing.shop, instance, own, [first for first, _ in drawn])
    tasks = [
        _First(model, pricing, seed, nodes, code) for code in firsts for seed in (None, *seeds[:FIRST_DRAWS])
    ]
    begun = [part for parts in run(_begun, tasks) for part in parts]
    followed = [part for code in firsts for part in _followed_by(own, instance, code)]
    stubs = [Part(frozenset(), _stub(instance, code)) for code in firsts]
    return Compared(
        pool_of(own, [*stubs, *(part for _, parts in drawn for part in parts), *begun], instance),
        pool_of(stubs[0].policy, [*stubs[1:], *begun, *followed], instance),
    )


@dataclass(frozen=True, eq=False)
class _Rival:
    model: Model
    pricing: Pricing
    seed: np.random.SeedSequence
    nodes: int
    alone: Pool


def _rival(task: _Rival) -> tuple[int, list[Part]]:
    """Plan under a drawn model; return the first action, and the parts."""
    instance = task.pricing.instance(sample(task.model, np.random.default_rng(task.seed)))
    policy = _planned(instance, task.nodes)
    rest = max(1, task.nodes * WHOLE_OF_NODES // PART_OF_NODES)
    states = _common_states(task)
    parts = _rests(task.alone, instance, dict.fromkeys(states, rest))
    return int(policy.action[0]), [Part(frozenset(), policy), *parts]


def _common_states(task: _Rival) -> list[int]:
    """States of the procedure, but the start, that many jobs get to and that do not end the job."""
    pool = task.alone
    reach = weights_of(pool, whole(task.pricing.instance(task.model))).faults.sum(axis=1)
    common = (reach >= COMMON) & (pool.action[pool.taken] >= 0)
    return [n for n in np.flatnonzero(common).tolist() if n > 0]


def _rests(pool: Pool, instance: Instance, nodes: Mapping[int, int]) -> Iterator[Part]:
    """Plan the rest of the job from some states of a pool, with so many states looked at for each."""
    weights = weights_of(pool, whole(instance))
    for n, most in nodes.items():
        left = remainder(instance, pool.done[n], weights.faults[n], weights.seen[n])
        if left is not None:
            yield Part(_done_at(pool, n), _planned(left, most, leaf=LEAF))


def _done_at(pool: Pool, state: int) -> Done:
    row = pool.done[state]
    return frozenset((action, int(row[action])) for action in np.flatnonzero(row >= 0).tolist())


def _planned(instance: Instance, nodes: int, *, leaf: int | None = None) -> Policy:
    """Search without bounds: what is looked for is a policy."""
    limits, none = Limits(nodes=nodes), iter(())
    if leaf is None:
        return solve_anytime(instance, limits=limits, bounds=none).policy
    return solve_anytime(instance, limits=limits, bounds=none, leaf_states=leaf).policy


def _first_steps(
    model: Model, shop: Shop, instance: Instance, own: Policy, drawn: Sequence[int]
) -> tuple[int, ...]:
    """The procedure's own, then what drawn models begin with, then what the next step ranks highest."""
    codes = {(Kind.CHECK, check.name, 0.0): c for c, check in enumerate(instance.checks)}
    for a, fix in enumerate(instance.fixes):
        codes[Kind.FIX, fix.name, fix.soak] = len(instance.checks) + a
    options = Adviser(model, shop).advise(Situation(), reasons=False).options
    ranked = [
        RETURN if option.kind is Kind.RETURN else codes[option.kind, option.action, option.soak]
        for option in options
    ]
    often = [code for code, _ in Counter(drawn).most_common()]
    order = dict.fromkeys([int(own.action[0]), *often, *ranked])
    return tuple(order)[:FIRST_STEPS]


def _stub(instance: Instance, code: int) -> Policy:
    """Take one action, then return the board whatever it shows."""
    builder = PolicyBuilder()
    if code == RETURN:
        builder.add(RETURN)
        return builder.build()
    is_check = code < len(instance.checks)
    results = len(instance.checks[code].results) if is_check else 2
    node = builder.add(code, results)
    for result in range(results if is_check else 1):
        builder.add(RETURN, 0, node, result)
    return builder.build()


def _followed_by(own: Policy, instance: Instance, code: int) -> Iterator[Part]:
    """The procedure itself after a first step, without that step where it would come again.

    So what the procedure owes to a longer search helps every first step.
    """
    checks = len(instance.checks)
    if code == int(own.action[0]):
        yield Part(frozenset(), own)
    elif code >= checks:
        name = instance.fixes[code - checks].name
        same = {checks + a for a, fix in enumerate(instance.fixes) if fix.name == name}
        yield Part(frozenset({(code, 0)}), _without(own, same, 0))
    elif code >= 0:
        for result in range(len(instance.checks[code].results)):
            yield Part(frozenset({(code, result)}), _without(own, {code}, result))


def _without(policy: Policy, actions: set[int], result: int) -> Policy:
    """The policy where some actions were done before, with a result."""
    builder = PolicyBuilder()
    stack = [(0, ROOT, 0)]
    while stack:
        node, parent, way = stack.pop()
        onwards = policy.next_of(node)
        if int(policy.action[node]) in actions:
            stack.append((onwards[result], parent, way))
            continue
        new = builder.add(int(policy.action[node]), len(onwards), parent, way)
        after = [(target, new, k) for k, target in enumerate(onwards) if target != RELEASE]
        stack += reversed(after)
    return builder.build()


@dataclass(frozen=True, eq=False)
class _First:
    model: Model
    pricing: Pricing
    seed: np.random.SeedSequence | None
    nodes: int
    code: int


def _begun(task: _First) -> list[Part]:
    """Plan on from each result of a first step: under the model, or under a drawn one."""
    under = task.model if task.seed is None else sample(task.model, np.random.default_rng(task.seed))
    instance = task.pricing.instance(under)
    pool = pool_of(_stub(instance, task.code), (), instance)
    # A result that few boards show needs fewer states for an equally good plan of the whole.
    reach = weights_of(pool, whole(instance)).faults.sum(axis=1)
    nodes = task.nodes * (WHOLE_OF_NODES if task.seed is None else 1)
    shares = {n: max(LEAST_NODES, int(nodes * reach[n])) for n in range(1, len(reach))}
    return list(_rests(pool, instance, shares))
