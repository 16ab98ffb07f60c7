from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchlore.money.errors import AmountError
from benchlore.money.fund import (
    Candidate,
    Chosen,
    ConflictError,
    Pot,
    choose,
    curve,
    highest_fee,
    how_often,
    margin,
    solved,
)


def knapsack(profits, weights):
    """Profits scaled so that each brings more than it costs; scaling moves no optimum."""
    return [
        Candidate(str(k + 1), p * 100.0, float(w))
        for k, (p, w) in enumerate(zip(profits, weights, strict=True))
    ]


@pytest.mark.parametrize(
    ("capacity", "weights", "profits", "optimum", "chosen"),
    [
        (
            165,
            [23, 31, 29, 44, 53, 38, 63, 85, 89, 82],
            [92, 57, 49, 68, 60, 43, 67, 84, 87, 72],
            309,
            (1, 2, 3, 4, 6),
        ),
        (170, [41, 50, 49, 59, 55, 57, 60], [442, 525, 511, 593, 546, 564, 617], 1735, (2, 4, 7)),
        (
            750,
            [70, 73, 77, 80, 82, 87, 90, 94, 98, 106, 110, 113, 115, 118, 120],
            [135, 139, 149, 150, 156, 163, 173, 184, 192, 201, 210, 214, 221, 229, 240],
            1458,
            (1, 3, 5, 7, 8, 9, 14, 15),
        ),
    ],
)
def test_published_knapsacks(capacity, weights, profits, optimum, chosen):
    """Kreher & Stinson, "Combinatorial Algorithms"; Martello & Toth, "Knapsack Problems"; J. Burkardt's knapsack_01 P01, P06, P07."""
    found = choose(knapsack(profits, weights), Pot(capacity))
    assert found.benefit == pytest.approx(100 * optimum)
    assert tuple(place + 1 for place in found.places) == chosen


def brute(candidates, pot):
    best = (-1.0, 0.0)
    for size in range(len(candidates) + 1):
        for places in combinations(range(len(candidates)), size):
            some = [candidates[k] for k in places]
            groups = [each.group for each in some if each.group]
            if (
                sum(each.cost for each in some) <= pot.budget + 1e-9
                and len(groups) == len(set(groups))
                and all(each.must for each in some if each.benefit <= each.cost)
                and {k for k, each in enumerate(candidates) if each.must} <= set(places)
                and all(
                    sum(each.hours for each in some if each.who == who) <= hours + 1e-9
                    for who, hours in pot.capacity.items()
                )
            ):
                value = sum(each.benefit for each in some), -sum(each.cost for each in some)
                best = max(best, value)
    return best


amounts = st.integers(0, 30).map(float)
drawn_candidates = st.lists(
    st.builds(
        Candidate,
        name=st.sampled_from("abc"),
        benefit=amounts,
        cost=amounts,
        hours=amounts,
        who=st.sampled_from(["ines", "teo", ""]),
        must=st.sampled_from([False, False, False, True]),
        group=st.sampled_from(["", "", "x", "y"]),
    ),
    max_size=8,
)
pots = st.builds(
    Pot,
    budget=st.integers(0, 90).map(float),
    capacity=st.fixed_dictionaries({"ines": amounts, "teo": amounts}),
)


@settings(max_examples=60, deadline=None)
@given(drawn_candidates, pots)
def test_the_best_set_is_that_of_all_sets(candidates, pot):
    expected = brute(candidates, pot)
    if expected[0] < 0:
        with pytest.raises(ConflictError):
            choose(candidates, pot)
        return
    found = choose(candidates, pot)
    assert (found.benefit, -found.cost) == pytest.approx(expected)


@settings(max_examples=25, deadline=None)
@given(drawn_candidates, pots, st.integers(0, 7))
def test_a_candidate_is_chosen_up_to_its_highest_fee_and_no_further(candidates, pot, place):
    candidates = [Candidate(**{**_fields(each), "must": False}) for each in candidates]
    if place >= len(candidates):
        return
    fee = highest_fee(candidates, pot, place)

    def best_at(cost):
        asked = Candidate(**{**_fields(candidates[place]), "cost": cost})
        others = [each for k, each in enumerate(candidates) if k != place]
        forced = Candidate(**{**_fields(asked), "must": True})
        return brute([*others, forced], pot)[0], brute(others, pot)[0]

    if fee is None:
        with_it, without = best_at(0.0)
        assert with_it < without  # even free, it would take the hours of something better
        return
    if fee > 0.01:
        with_it, without = best_at(fee - 0.01)
        assert with_it >= without - 1e-4
    if fee < candidates[place].benefit - 0.02:
        with_it, without = best_at(fee + 0.01)
        assert with_it < without + 1e-4


def _fields(candidate):
    return {name: getattr(candidate, name) for name in Candidate.__dataclass_fields__}


THREE = [
    Candidate("restarts", 900.0, 300.0, 40, "ines"),
    Candidate("no picture", 500.0, 200.0, 30, "teo"),
    Candidate("hums", 350.0, 150.0, 20, "ines"),
]


def test_what_more_would_buy_and_what_falls_first():
    pot = Pot(520.0)
    chosen = choose(THREE, pot)
    assert chosen == Chosen((0, 1), 1400.0, 500.0)
    beyond = margin(THREE, pot, chosen)
    assert (beyond.more, beyond.then.places) == (650.0, (0, 1, 2))
    assert beyond.less.places == (0, 2)
    everything = choose(THREE, Pot(1000.0))
    assert margin(THREE, Pot(1000.0), everything).more is None


def test_the_curve_rises_with_the_budget_and_ends_with_everything():
    found = curve(THREE, Pot(520.0))
    assert found[0].places == ()
    assert found[-1].places == (0, 1, 2)
    for sooner, later in pairwise(found):
        assert later.benefit > sooner.benefit
        assert later.cost > sooner.cost


def test_a_persons_hours_bind():
    assert choose(THREE, Pot(1000.0, {"ines": 45.0})).places == (0, 1)


@pytest.mark.parametrize("budget", [0.0, 149.0])
def test_a_budget_below_every_candidate_buys_nothing(budget):
    found = choose(THREE, Pot(budget))
    assert found == Chosen((), 0.0, 0.0)
    assert margin(THREE, Pot(budget), found).more == 150.0


def test_of_equal_candidates_the_first_is_taken():
    same = [Candidate(name, 10.0, 5.0) for name in "abcd"]
    assert choose(same, Pot(10.0)).places == (0, 1)
    assert choose(same[::-1], Pot(10.0)).places == (0, 1)


def test_what_brings_less_than_it_costs_is_left_out_unless_it_must_be_in():
    poor = Candidate("poor", 10.0, 50.0)
    assert choose([poor], Pot(100.0)).places == ()
    assert choose([Candidate("poor", 10.0, 50.0, must=True)], Pot(100.0)).places == (0,)


def test_a_conflict_says_what_conflicts():
    must = [
        Candidate("a", 10.0, 60.0, 10, "ines", must=True, group="one"),
        Candidate("b", 10.0, 70.0, 10, "ines", must=True, group="one"),
    ]
    with pytest.raises(ConflictError) as caught:
        choose(must, Pot(100.0, {"ines": 15.0}))
    assert caught.value.reasons == (
        "a, b cost 130.00, the budget is 100.00",
        "ines has 15 h and would need 20 h",
        "a and b exclude each other (either-or 'one')",
    )


def test_how_often_each_is_chosen_when_drawn_again():
    unsure = [
        Candidate("x", 100.0, 50.0, benefit_spread=0.5),
        Candidate("y", 100.0, 50.0, benefit_spread=0.5),
    ]
    often, conflicts = how_often(unsure, Pot(60.0), draws=100, seed=2)
    assert conflicts == 0
    assert often.sum() <= 1 + 1e-9
    assert often == pytest.approx([0.5, 0.5], abs=0.15)
    sure, _ = how_often(THREE, Pot(520.0), draws=5)
    np.testing.assert_array_equal(sure, [1, 1, 0])
    np.testing.assert_array_equal(often, how_often(unsure, Pot(60.0), draws=100, seed=2)[0])


@pytest.mark.parametrize(
    "make",
    [
        lambda: Candidate("x", 10, 5, -3),
        lambda: Candidate("x", float("nan"), 5),
        lambda: Candidate("x", 10, -5),
        lambda: Pot(-1),
        lambda: Pot(1, {"ines": -2}),
    ],
)
def test_negative_numbers_are_refused(make):
    with pytest.raises(AmountError, match="makes no sense here"):
        make()


def test_no_candidates_at_all():
    assert choose([], Pot(10.0)) == Chosen((), 0.0, 0.0)


# OR-Library, file mknap1, problem 1 (Petersen, Operations Research 15, 1967): six projects, ten limits.
PROFITS = (100, 600, 1200, 2400, 500, 2000)
WEIGHTS = (
    (8, 12, 13, 64, 22, 41),
    (8, 12, 13, 75, 22, 41),
    (3, 6, 4, 18, 6, 4),
    (5, 10, 8, 32, 6, 12),
    (5, 13, 8, 42, 6, 20),
    (5, 13, 8, 48, 6, 20),
    (0, 0, 0, 0, 8, 0),
    (3, 0, 4, 0, 8, 0),
    (3, 2, 4, 0, 8, 4),
    (3, 2, 4, 8, 8, 4),
)
ROOM = (80, 96, 20, 36, 44, 48, 10, 18, 22, 24)


def test_a_published_capital_budget_with_ten_limits():
    """Its optimum is 3800 with projects 2, 3 and 6, the second best 3700 with 3, 5 and 6."""
    profits = np.array(PROFITS, dtype=float)
    projects = [Candidate(str(number), profit, 0.0) for number, profit in enumerate(PROFITS, 1)]
    limits = [(np.array(row, dtype=float), -np.inf, room) for row, room in zip(WEIGHTS, ROOM, strict=True)]
    best = solved(-profits, limits, projects)
    assert (best, profits[list(best)].sum()) == ((1, 2, 5), 3800)
    not_the_best = (np.isin(np.arange(6), best).astype(float), -np.inf, 2.0)
    second = solved(-profits, [*limits, not_the_best], projects)
    assert (second, profits[list(second)].sum()) == ((2, 4, 5), 3700)
