from dataclasses import replace

import numpy as np
import pytest
from benches import SHOP, a_model, recorded_jobs

from benchlore.jobs import Attempt, Job, Outcome
from benchlore.model import Setup, Work, cases_from_jobs
from benchlore.procedure import (
    Effort,
    Kind,
    Limits,
    Title,
    instance_of,
    knowing,
    plan,
    procedure_of,
    solve_exact,
)
from benchlore.proof import Way, seeds
from benchlore.proof.ways import HANDS_ON, MONEY, WAITING, bench_of, trip_of, trips
from benchlore.proof.worlds import boards_of, completed


def boards(model, jobs, draws=1, seed=0):
    cases = cases_from_jobs([model], jobs)
    return boards_of([completed(model, cases, each) for each in seeds(seed, 0, draws)], model)


def followed(model, shop, jobs, draws=1):
    return trips(
        model, shop, boards(model, jobs, draws), draws, effort=Effort.QUICK, limits=Limits(), steps=None
    )


def test_drawn_jobs_cost_in_every_way_what_that_way_promises():
    """Five standard errors, on jobs of which everything was drawn from the model."""
    model = a_model(detects=0.8)
    jobs = [Job("s", str(k), "board", "complaint", outcome=Outcome.RETURNED) for k in range(20_000)]
    done, procedure = followed(model, SHOP, jobs)
    assert tuple(done) == (Way.PROCEDURE, Way.FIXES, Way.TELLING, Way.TOLD)
    costs = done[Way.PROCEDURE].spent[:, 0, MONEY]
    assert abs(costs.mean() - procedure.expected) < 5 * costs.std() / np.sqrt(len(costs))
    instance = instance_of(model, SHOP)
    told = sum(chance * solve_exact(knowing(instance, f)).expected for f, chance in enumerate(instance.prior))
    costs = done[Way.TOLD].spent[:, 0, MONEY]
    assert abs(costs.mean() - told) < 5 * costs.std() / np.sqrt(len(costs))
    assert told < procedure.expected
    assert done[Way.PROCEDURE].drawn.sum() == done[Way.PROCEDURE].outcomes.sum()
    returned = sum(step.reach for step in procedure.steps if step.kind is Kind.RETURN)
    assert (~done[Way.PROCEDURE].released).mean() == pytest.approx(returned, abs=0.02)


def test_money_and_minutes_of_a_way_are_those_of_its_steps():
    model = replace(
        a_model(),
        setups=(Setup("open", "open", Work(6.0, 1.0)),),
        fixes=tuple(replace(fix, work=replace(fix.work, setups=(0,))) for fix in a_model().fixes),
    )
    jobs = [Job("s", "1", "board", "complaint", outcome=Outcome.RETURNED, fault="joint")]
    instance = instance_of(model, SHOP)
    known = knowing(instance, 0)
    procedure = procedure_of(known, solve_exact(known), Title("board", "complaint", "bench", "EUR"))
    given = boards(model, jobs)
    given = replace(given, cured=np.array([[True, False, False]]))
    trip = trip_of(procedure, model, instance_of(model, SHOP), given, 1)
    # open the case (6 + 1 waiting), fix-joint (20 + 4 waiting, 15 of parts), retest (5).
    assert trip.spent[0, 0].tolist() == pytest.approx([31.0 + 0.5 + 15.0, 31.0, 5.0])
    assert trip.released[0, 0]
    assert trip.cured[0, 0]
    assert trip.named[0, 0]


def test_a_soak_is_waiting_and_a_comeback_is_money():
    model = replace(a_model(detects=0.5), every=np.full(4, 60.0), detects=np.full(4, 0.5))
    jobs = [Job("s", "1", "board", "complaint", outcome=Outcome.RETURNED, fault="joint")]
    shop = replace(SHOP, comeback=900.0)
    procedure = plan(model, shop)
    given = replace(boards(model, jobs), cured=np.zeros((1, 3), dtype=bool), luck=np.ones((1, 3)))
    trip = trip_of(procedure, model, instance_of(model, shop), given, 1)
    soaks = {step.soak for step in procedure.steps if step.kind is Kind.FIX}
    assert min(soaks) > 0
    assert trip.spent[0, 0, WAITING] >= min(soaks)
    assert trip.spent[0, 0, MONEY] > 900.0
    assert trip.released[0, 0]
    assert not trip.cured[0, 0]


def test_the_bench_paid_for_time_parts_and_what_was_lost():
    model = a_model()
    attempts = (Attempt("fix-via", 0), Attempt("fix-plug", 1))
    job = Job("s", "1", "board", "complaint", hands_on=30.0, waiting=20.0, attempts=attempts)
    outcomes = [
        replace(job, outcome=Outcome.REPAIRED),
        replace(job, outcome=Outcome.RETURNED),
        replace(job, outcome=Outcome.RUINED),
        replace(job, outcome=Outcome.REPAIRED, comeback=True),
        replace(job, outcome=Outcome.REPAIRED, hands_on=None, waiting=None),
    ]
    shop = replace(SHOP, diagnostic_fee=25.0)
    bench = bench_of(model, shop, outcomes)
    spent = 30.0 + 2.0 + 19.0 + 23.0
    assert bench.spent[:, MONEY].tolist() == pytest.approx(
        [spent, spent + 95.0, spent + 120.0, spent + 180.0, 42.0]
    )
    assert bench.spent[:, HANDS_ON].tolist() == [30.0] * 4 + [0.0]
    assert bench.timed.tolist() == [True] * 4 + [False]
    assert bench.repaired.tolist() == [True, False, False, False, True]
    assert bench.came_back.tolist() == [False, False, False, True, False]
    assert bench.returned.tolist() == [False, True, True, False, False]


def test_recorded_results_lead_the_way_they_led_on_the_bench():
    """With every reading and no doubt about fixes, nothing is drawn and all completions agree."""
    model = a_model()
    jobs = [job for job in recorded_jobs(model, 5, 60, share=1.0) if len(job.attempts) == len(model.fixes)]
    done, _ = followed(model, SHOP, jobs, draws=4)
    trip = done[Way.PROCEDURE]
    assert trip.drawn.sum() == 0
    assert (trip.spent == trip.spent[:, :1]).all()
