"""What a procedure's range of cost stems from."""

from dataclasses import replace

import numpy as np
import pytest
from sensitive_boards import SHOP, one_fix, random_board

from benchlore.model import sample
from benchlore.procedure import instance_of, plan
from benchlore.procedure.costing import expected_cost
from benchlore.proof import sensitivity_of


def hangs_on(model, **options):
    found = sensitivity_of(model, SHOP, plan(model, SHOP), **{"draws": 400, "rivals": 1, **options})
    return {(sway.of, sway.name, sway.fault): sway.share for sway in found.hangs_on}


def test_where_one_chance_is_all_that_is_unknown_the_whole_range_stems_from_it():
    """200 for each chance missed, times a Beta deviation; four standard errors of a variance of 400 draws."""
    assert hangs_on(one_fix(8, 3)) == {("fix", "swap", "dead"): pytest.approx(1.0, abs=4 * np.sqrt(2 / 400))}


@pytest.mark.parametrize("seed", range(2))
def test_the_shares_add_up_where_interactions_are_small(seed):
    """With many boards behind each row the cost is nearly linear in all rows together."""
    shares = hangs_on(random_board(seed, weight=2000.0), draws=500)
    assert sum(shares.values()) == pytest.approx(1.0, abs=0.15)


def test_shares_agree_with_drawing_one_unknown_alone():
    """Plainly: draw the rows of one unknown, leave all else at its expectation, and walk the procedure."""
    model = random_board(2, weight=20.0)
    procedure, shares = plan(model, SHOP), hangs_on(model, draws=800)
    rng = np.random.default_rng(3)
    all_of_it, alone = [], {"faults": [], "check": [], "condition": []}
    for _ in range(700):
        draw = sample(model, rng)
        rows = model.states[0].copy()
        rows[1] = draw.states[0][1] / draw.states[0][1].sum() * rows[1].sum()
        ways = {
            "faults": replace(model, prior=draw.prior),
            "check": replace(model, checks=(draw.checks[0], *model.checks[1:])),
            "condition": replace(model, states=(rows, *model.states[1:])),
        }
        all_of_it.append(expected_cost(procedure, instance_of(draw, SHOP)))
        for name, way in ways.items():
            alone[name].append(expected_cost(procedure, instance_of(way, SHOP)))
    total = np.var(all_of_it)
    keys = {"faults": ("", ""), "check": ("c0", ""), "condition": ("g0", "f1")}
    for name, key in keys.items():
        assert shares.get((name, *key), 0.0) == pytest.approx(np.var(alone[name]) / total, rel=0.2, abs=0.015)
    assert max(shares.values()) > 0.05
