from dataclasses import replace

import numpy as np
import pytest

from benchlore.model import fix_of, model_of, named_check
from benchlore.model import simulate as draw_boards
from benchlore.procedure import Boards, Effort, Kind, follow, instance_of, plan
from benchlore.shop import Shop

SHOP = Shop(
    name="bench",
    currency="EUR",
    hour=60.0,
    waiting_hour=0.0,
    worth_otherwise=100.0,
    comeback=150.0,
)


def a_model():
    return model_of(
        [0.5, 0.3, 0.2],
        [[[0.9, 0.1], [0.2, 0.8], [0.6, 0.4]], [[0.1, 0.9], [0.8, 0.2], [0.5, 0.5]]],
        [
            named_check("look", 0, [[0.95, 0.05], [0.1, 0.9]]),
            named_check("touch", 0, [[0.8, 0.2], [0.3, 0.7]]),
            named_check("smell", 1, [[0.9, 0.1], [0.2, 0.8]]),
        ],
        [fix_of("reflow", [0.9, 0.0, 0.0]), fix_of("replace", [0.3, 0.8, 0.0], parts=12.0)],
        detects=[1.0, 0.7, 1.0],
    )


def boards_of(model, count, seed):
    rng = np.random.default_rng(seed)
    drawn = draw_boards(model, rng, count)
    cures = np.array([fix.cure_probabilities for fix in model.fixes])
    shape = (count, len(model.fixes))
    return Boards(
        fault=drawn.faults,
        results=drawn.results,
        cured=rng.random(shape) < cures[:, drawn.faults].T,
        luck=rng.random(shape),
        known_results=np.zeros(drawn.results.shape, dtype=bool),
        known_fixes=np.zeros(shape, dtype=bool),
    )


def planned():
    model = a_model()
    instance, procedure = instance_of(model, SHOP), plan(model, SHOP, effort=Effort.QUICK)
    prices = np.array([[replace(step.cost, comeback=0.0).total] for step in procedure.steps])
    return model, instance, procedure, prices


def test_boards_drawn_from_the_model_cost_what_the_procedure_promises():
    """Five standard errors: one honest run in two million fails."""
    model, instance, procedure, prices = planned()
    followed = follow(procedure, instance, boards_of(model, 100_000, 1), prices)
    costs = followed.spent[:, 0] + instance.comeback * (followed.released & ~followed.cured)
    assert abs(costs.mean() - procedure.expected) < 5 * costs.std() / np.sqrt(len(costs))
    returned = sum(step.reach for step in procedure.steps if step.kind is Kind.RETURN)
    assert (~followed.released).mean() == pytest.approx(returned, abs=0.01)


def one_board(model, *, results, cured, luck=(0.5, 0.5), fault=0, known=True):
    return Boards(
        fault=np.array([fault]),
        results=np.array([results]),
        cured=np.array([cured]),
        luck=np.array([luck]),
        known_results=np.full((1, len(model.checks)), known),
        known_fixes=np.full((1, len(model.fixes)), known),
    )


def test_a_board_takes_the_way_of_its_own_results():
    model, instance, procedure, prices = planned()
    way, number = [], 0
    board = one_board(model, results=[0, 0, 1], cured=[False, False])
    shows = dict(zip([check.name for check in model.checks], [0, 0, 1], strict=True))
    while number >= 0:
        step = procedure.steps[number]
        way.append(number)
        if step.kind is Kind.RETURN:
            break
        if step.kind is Kind.CHECK:
            check = next(check for check in model.checks if check.name == step.action)
            number = step.branches[check.results[shows[step.action]]]
        else:
            number = step.branches["still there"]
    followed = follow(procedure, instance, board, prices)
    assert followed.last.tolist() == [way[-1]]
    assert followed.spent[0, 0] == pytest.approx(sum(prices[n, 0] for n in way))
    assert not followed.released[0]
    assert followed.outcomes.tolist() == [len(way) - 1]


def test_a_fix_that_does_not_cure_lets_the_board_go_home_where_the_retest_overlooks_it():
    model, instance, procedure, prices = planned()
    slipped = one_board(model, results=[1, 1, 0], cured=[False, False], luck=(0.99, 0.99), fault=1)
    followed = follow(procedure, instance, slipped, prices)
    assert followed.released[0]
    assert not followed.cured[0]
    caught = replace(slipped, luck=np.zeros((1, 2)))
    assert not follow(procedure, instance, caught, prices).released[0]


def test_it_counts_what_was_not_recorded():
    model, instance, procedure, prices = planned()
    known = one_board(model, results=[0, 0, 1], cured=[True, True])
    assert follow(procedure, instance, known, prices).drawn.tolist() == [0]
    drawn = replace(known, known_results=np.zeros((1, 3), dtype=bool))
    found = follow(procedure, instance, drawn, prices)
    checks = sum(1 for step in procedure.steps if step.kind is Kind.CHECK)
    assert 0 < found.drawn[0] <= min(checks, found.outcomes[0])
    unknown_fixes = replace(known, known_fixes=np.zeros((1, 2), dtype=bool))
    assert follow(procedure, instance, unknown_fixes, prices).drawn.tolist() == [1]
