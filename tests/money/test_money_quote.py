from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from benchlore.money import (
    AmountError,
    JobCosts,
    break_even,
    decline_rule,
    expected_margin,
    job_costs,
    offer,
    ways_through,
)
from benchlore.procedure import CheckOption, Cost, FixOption, Instance, Kind, Title, simulate, solve_exact
from benchlore.procedure.graph import procedure_of
from random_instances import random_instance

TITLE = Title("board", "complaint", "shop", "EUR")


def planned(seed, size=(5, 3, 5, 4)):
    instance = random_instance(np.random.default_rng(seed), size, gates=0.3)
    return instance, procedure_of(instance, solve_exact(instance), TITLE)


def exact_costs(procedure, instance):
    return job_costs(procedure, instance, ways=ways_through(procedure, instance))


def enumerated(procedure, instance):
    """Every fault, state of every condition, reading and retest in turn: {(cost, released): chance}, from the definition."""
    found = {}

    def end(cost, released, chance):
        key = round(cost, 7), released
        found[key] = found.get(key, 0.0) + chance

    def walk(number, fault, states, cost, chance):
        if chance == 0:
            return
        step = procedure.steps[number]
        if step.kind is Kind.RETURN:
            end(cost, False, chance)
            return
        cost += replace(step.cost, comeback=0.0).total
        if step.kind is Kind.CHECK:
            check = next(each for each in instance.checks if each.name == step.action)
            g = check.condition
            known = {states[g]: 1.0} if g in states else dict(enumerate(instance.tables[g][fault]))
            for state, likely in known.items():
                for r, result in enumerate(check.results):
                    walk(
                        step.branches[result],
                        fault,
                        {**states, g: state},
                        cost,
                        chance * likely * check.table[state, r],
                    )
            return
        fix = next(each for each in instance.fixes if (each.name, each.soak) == (step.action, step.soak))
        cured, caught = fix.cures[fault], fix.detects[fault]
        end(cost, True, chance * cured)
        end(cost + instance.comeback, True, chance * (1 - cured) * (1 - caught))
        walk(step.branches["still there"], fault, states, cost, chance * (1 - cured) * caught)

    for fault, prior in enumerate(instance.prior):
        walk(0, fault, {}, 0.0, float(prior))
    return {key: chance for key, chance in found.items() if chance > 1e-14}


@pytest.mark.parametrize("seed", [0, 1])
def test_ways_are_the_same_whatever_an_hour_costs(seed):
    instance, procedure = planned(seed)

    def dearer(each):
        return replace(each, cost=replace(each.cost, hands_on=1.4 * each.cost.hands_on + 1))

    other = replace(
        instance, checks=tuple(map(dearer, instance.checks)), fixes=tuple(map(dearer, instance.fixes))
    )
    reused = job_costs(procedure, other, ways=ways_through(procedure, instance))
    anew = exact_costs(procedure, other)
    assert reused.cost == pytest.approx(anew.cost, abs=1e-12)
    assert reused.chance == pytest.approx(anew.chance, abs=1e-15)


@pytest.mark.parametrize("seed", [0, 1, 2, 3])
def test_the_distribution_is_that_of_all_boards_one_by_one(seed):
    instance, procedure = planned(seed)
    costs = exact_costs(procedure, instance)
    expected = enumerated(procedure, instance)
    found = {}
    for cost, chance, released in zip(costs.cost, costs.chance, costs.released, strict=True):
        key = round(float(cost), 7), bool(released)
        found[key] = found.get(key, 0.0) + float(chance)
    found = {key: chance for key, chance in found.items() if chance > 1e-14}
    assert found.keys() == expected.keys()
    for key, chance in expected.items():
        assert found[key] == pytest.approx(chance, abs=1e-12)


@pytest.mark.parametrize("seed", range(6))
def test_cash_and_what_returns_lose_are_the_procedures_expected_cost(seed):
    instance, procedure = planned(seed)
    costs = exact_costs(procedure, instance)
    assert costs.expected == pytest.approx(procedure.expected, abs=1e-9)
    lost = sum(step.reach * step.cost.lost_worth for step in procedure.steps)
    assert costs.mean == pytest.approx(procedure.expected - lost, abs=1e-9)
    assert costs.chance.sum() == pytest.approx(1, abs=1e-12)


def test_simulated_jobs_have_the_same_distribution():
    """Dvoretzky, Kiefer & Wolfowitz: 10,000 draws stray further than 0.03 once in thirty million times."""
    instance, procedure = planned(4)
    costs = exact_costs(procedure, instance)
    jobs = simulate(procedure, instance, np.random.default_rng(0), 10_000)
    cash = np.sort(jobs.cost - np.where(jobs.released, 0.0, instance.give_up))
    for at in np.linspace(cash[0], cash[-1], 40) + 1e-6:
        exact = costs.chance[costs.cost <= at].sum()
        assert abs(np.searchsorted(cash, at) / len(cash) - exact) < 0.03


def test_a_procedure_too_large_to_unfold_is_simulated_and_says_so():
    instance, procedure = planned(4)
    exact, drawn = exact_costs(procedure, instance), job_costs(procedure, instance, ways=None, draws=50_000)
    assert exact.draws == 0
    assert drawn.draws == 50_000
    assert drawn.mean == pytest.approx(exact.mean, abs=5 * exact.deviation / np.sqrt(50_000))
    assert drawn.returned == pytest.approx(exact.returned, abs=0.02)
    assert ways_through(procedure, instance, most=1) is None


def costs_of(*atoms):
    cost, chance, released = zip(*atoms, strict=True)
    return JobCosts(np.array(cost), np.array(chance), np.array(released), 100.0)


THREE = costs_of((10.0, 0.5, True), (20.0, 0.2, False), (40.0, 0.3, True))


@pytest.mark.parametrize(
    ("fee", "asked", "margin", "loss"),
    [
        (0, 40, 0.8 * 40 - 0.5 * 10 - 0.2 * 20 - 0.3 * 40, 0.2),
        (0, 39.99, 0.8 * 39.99 - 21, 0.5),
        (20, 10, 8 + 4 - 21, 0.3),
        (19.99, 10, 8 + 0.2 * 19.99 - 21, 0.5),
    ],
)
def test_margin_and_chance_of_a_loss_by_hand(fee, asked, margin, loss):
    found = offer(THREE, fee=fee, asked=asked)
    assert found.margin == pytest.approx(margin)
    assert found.loss == pytest.approx(loss)


@pytest.mark.parametrize(
    ("fee", "target", "price"),
    [(0, 0.1, None), (0, 0.2, 40), (0, 0.5, 10), (20, 0.0, 40), (20, 0.3, 10), (20, 0.8, 0), (0, 1.0, 0)],
)
def test_the_least_price_that_keeps_the_chance_of_a_loss(fee, target, price):
    found = offer(THREE, fee=fee, asked=0, target=target)
    assert found.price == price
    assert found.least_loss == pytest.approx(0 if fee >= 20 else 0.2)


def test_at_its_break_even_price_a_job_earns_nothing():
    assert break_even(THREE, 0) == pytest.approx(21 / 0.8)
    assert expected_margin(THREE, break_even(THREE, 5), 5) == pytest.approx(0)
    assert break_even(costs_of((10.0, 1.0, False)), 0) is None


@pytest.mark.parametrize("seed", range(4))
def test_a_price_keeps_its_promise_and_a_cent_less_does_not(seed):
    instance, procedure = planned(seed)
    costs = exact_costs(procedure, instance)
    for fee in (0.0, 5.0, 1e6):
        for target in (0.05, 0.3, 0.7):
            price = offer(costs, fee=fee, asked=0, target=target).price
            if price is None:
                assert offer(costs, fee=fee, asked=1e9, target=target).loss > target
                continue
            assert offer(costs, fee=fee, asked=price, target=target).loss <= target + 1e-9
            assert price == 0 or offer(costs, fee=fee, asked=price - 0.01, target=target).loss > target


def test_over_many_jobs_the_price_comes_down_to_the_break_even():
    prices = [offer(THREE, fee=0, asked=0, target=0.3, jobs=n).price for n in (5, 50, 500)]
    assert all(later < sooner for sooner, later in pairwise(prices))
    assert prices[-1] == pytest.approx(21 / 0.8, abs=1.0)
    assert prices[-1] > 21 / 0.8


def test_chances_over_two_jobs_are_those_counted_out():
    """36 pairs of the three atoms by hand: a loss at 40 means two returns, or one with a repair of 40."""
    found = offer(THREE, fee=0, asked=40, jobs=2, seed=3)
    assert found.loss == pytest.approx(0.2 * 0.2 + 2 * 0.2 * 0.3, abs=0.02)
    again = offer(THREE, fee=0, asked=40, jobs=2, seed=3)
    assert again == found


@pytest.mark.parametrize(
    "wrong", [{"fee": -1.0}, {"asked": float("nan")}, {"target": 1.5}, {"jobs": 0}, {"asked": -0.01}]
)
def test_amounts_that_make_no_sense_are_refused(wrong):
    with pytest.raises(AmountError, match="makes no sense here"):
        offer(THREE, **{"fee": 0.0, "asked": 10.0, **wrong})


@pytest.mark.parametrize("seed", range(5))
def test_planned_for_its_price_a_procedure_needs_no_stops(seed):
    """Least cost with the worth lost by a return is most margin at a price of that worth (algebra)."""
    instance, procedure = planned(seed)
    fee = 7.0
    price = instance.give_up + fee
    rule = decline_rule(procedure, instance, ways_through(procedure, instance), price=price, fee=fee)
    assert rule.stops == ()
    assert rule.margin == pytest.approx(price - procedure.expected, abs=1e-9)
    assert rule.margin == pytest.approx(
        expected_margin(exact_costs(procedure, instance), price, fee), abs=1e-9
    )


def test_stopping_never_earns_less_and_everything_stops_where_nothing_is_paid():
    instance, procedure = planned(2)
    costs = exact_costs(procedure, instance)
    for price in (0.0, 20.0, 60.0, 150.0):
        rule = decline_rule(procedure, instance, ways_through(procedure, instance), price=price, fee=0.0)
        assert rule.margin >= expected_margin(costs, price, 0.0) - 1e-9
    nothing = decline_rule(procedure, instance, ways_through(procedure, instance), price=0.0, fee=0.0)
    assert nothing.declined
    first = procedure.steps[0]
    assert nothing.margin == pytest.approx(-replace(first.cost, lost_worth=0.0).total)


def test_a_dear_second_fix_is_stopped_before_at_a_low_price_by_hand():
    """The first fix costs 5 and cures three in four; the second 30 and cures the rest: stop before it below 30."""
    instance = Instance(
        faults=("a", "b"),
        prior=np.array([0.75, 0.25]),
        tables=(np.ones((2, 1)),),
        checks=(CheckOption("look", 0, ("seen",), np.ones((1, 1)), Cost(hands_on=1.0)),),
        fixes=(
            FixOption("first", np.array([1.0, 0.0]), Cost(hands_on=5.0)),
            FixOption("second", np.array([0.0, 1.0]), Cost(parts=30.0)),
        ),
        setups=(),
        give_up=100.0,
        comeback=100.0,
    )
    procedure = procedure_of(instance, solve_exact(instance), TITLE)
    rule = decline_rule(procedure, instance, ways_through(procedure, instance), price=29.0, fee=0.0)
    assert [(stop.action, stop.reach, stop.margin) for stop in rule.stops] == [
        ("second", pytest.approx(0.25), pytest.approx(-1.0))
    ]
    assert rule.margin == pytest.approx(0.75 * 29 - 5)
    assert not rule.declined
    assert (
        decline_rule(procedure, instance, ways_through(procedure, instance), price=31.0, fee=0.0).stops == ()
    )
    assert decline_rule(procedure, instance, ways_through(procedure, instance), price=6.0, fee=0.0).declined
