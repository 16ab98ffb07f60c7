"""How much a procedure hangs on what is not known well."""

from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from multiprocessing import get_context

import numpy as np
import pytest
from pydantic import TypeAdapter
from sensitive_boards import SHOP, one_fix, random_board, two_twin_checks

from benchlore.model import Work
from benchlore.procedure import Kind, instance_of, plan
from benchlore.procedure.costing import expected_cost
from benchlore.proof import Sensitivity, sensitivity_of


def asked(model, **options):
    return sensitivity_of(model, SHOP, plan(model, SHOP), **{"draws": 60, "rivals": 3, **options})


def shuffled(function, tasks):
    """Do the last task first."""
    yield from reversed([function(task) for task in reversed(tasks)])


def test_the_cost_is_the_models_and_the_mean_of_the_draws_is_the_same():
    """Each check and fix is used once, so the expected cost is affine in every row: no bias on average."""
    model = random_board(3)
    found = asked(model, draws=600)
    assert found.cost.value == pytest.approx(expected_cost(plan(model, SHOP), instance_of(model, SHOP)))
    assert found.cost.low < found.cost.value < found.cost.high
    spread = (found.cost.high - found.cost.low) / 4
    assert np.mean(found.quantiles) == pytest.approx(found.cost.value, abs=5 * spread / np.sqrt(600))


def test_the_range_shrinks_as_the_root_of_the_records_grows():
    """A hundred times the counts, a tenth of the width: Dirichlet deviations fall as one over the root."""
    wide, narrow = (asked(random_board(5, weight=weight), draws=300).cost for weight in (100.0, 10_000.0))
    assert (wide.high - wide.low) / (narrow.high - narrow.low) == pytest.approx(10, rel=0.25)


def test_quantiles_rise_and_hold_the_range():
    found = asked(random_board(1))
    assert list(found.quantiles) == sorted(found.quantiles)
    assert len(found.quantiles) == 41
    assert (found.quantiles[1], found.quantiles[-2]) == pytest.approx((found.cost.low, found.cost.high))


def test_where_all_is_known_the_first_step_is_best_and_records_are_worth_nothing():
    found = asked(random_board(2, weight=1e6))
    assert found.first_step_best.value == 1.0
    assert found.first_step.share == 1.0
    assert found.records == ()
    assert found.worth_knowing_all.value == pytest.approx(0.0, abs=1e-3)


def test_of_two_checks_alike_each_is_best_about_half_the_time():
    found = asked(two_twin_checks(minutes=2.0), draws=400)
    twin = next(step for step in found.rivals if step.name in ("left", "right"))
    assert {found.first_step.name, twin.name} == {"left", "right"}
    assert found.first_step.share + twin.share > 0.95
    # Four standard errors of a fair coin: one honest run in sixteen thousand fails.
    assert abs(found.first_step.share - twin.share) < 8 * np.sqrt(0.25 / 400)


def test_returning_at_once_is_a_first_step_too():
    found = asked(one_fix(2, 8))
    assert (found.first_step.kind, found.first_step.name) == (Kind.RETURN, "")
    assert [step.name for step in found.rivals] == ["swap"]
    assert found.first_step.share + found.rivals[0].share == pytest.approx(1.0)


def test_records_of_one_unknown_are_worth_less_than_knowing_all():
    found = asked(random_board(4, weight=3.0), draws=200)
    assert found.records
    assert [one.worth.value for one in found.records] == sorted(
        (one.worth.value for one in found.records), reverse=True
    )
    assert all(one.worth.low > 0 for one in found.records)
    assert found.records[0].worth.value < found.worth_knowing_all.high
    assert len(found.records) <= found.looked_at


def test_more_records_are_worth_more():
    few, many = (asked(random_board(4, weight=3.0), draws=200, records=n) for n in (2, 20))
    worth = [{(r.of, r.action, r.fault): r.worth for r in found.records} for found in (few, many)]
    both = worth[0].keys() & worth[1].keys()
    assert both
    for one in both:
        slack = worth[0][one].high - worth[0][one].low + worth[1][one].high - worth[1][one].low
        assert worth[1][one].value > worth[0][one].value - slack


def test_equal_seeds_give_equal_figures_whoever_does_the_work():
    model = random_board(6, faults=3, checks=3, fixes=3)
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as workers:
        here, there, away = (
            asked(model, draws=25, rivals=2, run=run) for run in (map, shuffled, workers.map)
        )
    assert here == there == away
    assert asked(model, draws=25, rivals=2, seed=1) != here


def test_progress_rises_to_the_end():
    told = []
    asked(one_fix(3, 3), progress=told.append)
    assert told == sorted(told)
    assert told[-1] == 1.0
    assert len(told) > 10
    assert 0 < told[0] < 0.2


def test_a_report_goes_to_json_and_back():
    found = asked(random_board(4, weight=3.0))
    adapter = TypeAdapter(Sensitivity)
    assert adapter.validate_json(adapter.dump_json(found)) == found


def test_a_procedure_of_another_board_is_refused():
    model = two_twin_checks()
    renamed = replace(model, checks=tuple(replace(check, name=f"{check.name}-2") for check in model.checks))
    with pytest.raises(KeyError, match=r"left|right"):
        sensitivity_of(renamed, SHOP, plan(model, SHOP), draws=4, rivals=1)


def test_soaks_of_the_procedure_stay_on_the_menu_of_every_draw():
    model = replace(random_board(7), every=np.full(4, 30.0), retest=Work(2.0, waits=40.0))
    found = asked(model, draws=20)
    assert found.cost.value == pytest.approx(plan(model, SHOP).expected)
