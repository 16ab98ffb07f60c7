from math import inf, isnan, nan

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchlore.jobs import Attempt, Job, JobColumns, Outcome, Reading, Retest
from benchlore.model import (
    cases_from_columns,
    cases_from_jobs,
    exact_densities,
    fix_of,
    learn,
    model_of,
    named_check,
    numeric_check,
)
from benchlore.model.cases import refuse_misfits
from benchlore.units import Measure

CHECKS = [
    named_check("lamp", 0, np.eye(2), results=["lit", "dark"]),
    numeric_check("volts", 0, exact_densities(Measure.VOLTAGE, [3.3, 0.1], [0.1, 0.1])),
]
FIXES = [fix_of("reflow", [0.9, 0.0, 0.1]), fix_of("swap", [0.0, 0.8, 0.2])]
MODELS = [
    model_of(
        [5, 3, 2],
        [[[0.9, 0.1], [0.1, 0.9], [0.5, 0.5]]],
        CHECKS,
        FIXES,
        faults=["joint", "chip", "unlisted"],
        detects=0.9,
        complaint=name,
    )
    for name in ("restarts", "dead")
]

readings = st.builds(
    Reading,
    check=st.sampled_from(["lamp", "volts", "scope"]),
    step=st.integers(0, 6),
    result=st.sampled_from(["lit", "dark", "green", CHECKS[1].results[0]]) | st.none(),
    value=st.sampled_from([3.3, 0.0, inf, -inf]) | st.none(),
)
attempts = st.builds(
    Attempt,
    fix=st.sampled_from(["reflow", "swap", "pray"]),
    step=st.integers(0, 6),
    retest=st.sampled_from(Retest),
    soaked=st.sampled_from([None, 0.0, 60.0, -1.0, inf]),
)
jobs = st.builds(
    Job,
    shop=st.just("s"),
    number=st.just("1"),
    board=st.just("board"),
    complaint=st.sampled_from(["restarts", "dead", "hums"]),
    readings=st.lists(readings, max_size=5).map(tuple),
    attempts=st.lists(attempts, max_size=3).map(tuple),
    outcome=st.sampled_from(Outcome),
    fault=st.sampled_from(["joint", "chip", "unlisted", "gremlin"]) | st.none(),
    comeback=st.sampled_from([True, False, None]),
)


def encoded(values):
    names = tuple(sorted({value for value in values if value is not None}))
    codes = [-1 if value is None else names.index(value) for value in values]
    return names, np.array(codes, dtype=np.int32)


def columns_of(jobs, board="board"):
    """The jobs as the store's columns."""
    read = [(j, one) for j, job in enumerate(jobs) for one in job.readings]
    tried = [(j, one) for j, job in enumerate(jobs) for one in job.attempts]
    complaints, complaint = encoded([job.complaint for job in jobs])
    faults, fault = encoded([job.fault for job in jobs])
    checks, check = encoded([one.check for _, one in read])
    results, result = encoded([one.result for _, one in read])
    fixes, fix = encoded([one.fix for _, one in tried])
    return JobColumns(
        board=board,
        complaints=complaints,
        faults=faults,
        checks=checks,
        results=results,
        fixes=fixes,
        outcomes=tuple(Outcome),
        retests=tuple(Retest),
        complaint=complaint,
        fault=fault,
        outcome=np.array([list(Outcome).index(job.outcome) for job in jobs], dtype=np.int32),
        hands_on=np.full(len(jobs), nan),
        waiting=np.full(len(jobs), nan),
        comeback=np.array(
            [-1 if job.comeback is None else int(job.comeback) for job in jobs], dtype=np.int32
        ),
        reading_job=np.array([j for j, _ in read], dtype=np.int32),
        reading_check=check,
        reading_step=np.array([one.step for _, one in read], dtype=np.int64),
        reading_result=result,
        reading_value=np.array(
            [nan if one.value is None else one.value for _, one in read], dtype=np.float64
        ),
        attempt_job=np.array([j for j, _ in tried], dtype=np.int32),
        attempt_fix=fix,
        attempt_step=np.array([one.step for _, one in tried], dtype=np.int64),
        attempt_retest=np.array([list(Retest).index(one.retest) for _, one in tried], dtype=np.int32),
        attempt_soaked=np.array(
            [nan if one.soaked is None else one.soaked for _, one in tried], dtype=np.float64
        ),
    )


def said(cases):
    """What cases say, whatever the order of their rows."""
    rows = (cases.reading_jobs, cases.reading_checks, cases.reading_results, cases.reading_values)
    soaked = np.nan_to_num(cases.attempt_soaked, nan=-1.0)  # nan is unlike itself
    tried = (cases.attempt_jobs, cases.attempt_fixes, cases.attempt_outcomes, soaked)
    return (
        cases.complaints.tolist(),
        cases.faults.tolist(),
        sorted(zip(*(row.tolist() for row in rows), strict=True)),
        sorted(zip(*(row.tolist() for row in tried), strict=True)),
        cases.ignored,
    )


@settings(max_examples=60, deadline=None)
@given(st.lists(jobs, max_size=8))
def test_columns_say_what_the_jobs_say(some):
    cases = cases_from_columns(MODELS, columns_of(some))
    assert said(cases) == said(cases_from_jobs(MODELS, some))
    refuse_misfits(MODELS, cases)


def test_columns_of_another_board_are_ignored():
    job = Job(
        "s", "1", "board", "dead", outcome=Outcome.REPAIRED, readings=(Reading("lamp", 1, result="lit"),)
    )
    cases = cases_from_columns(MODELS, columns_of([job], board="other"))
    assert (cases.complaints.size, cases.reading_jobs.size) == (0, 0)
    assert cases.ignored == {"job of board 'other'": 1}


def test_columns_can_be_learned_from():
    job = Job(
        "s",
        "1",
        "board",
        "dead",
        outcome=Outcome.REPAIRED,
        fault="chip",
        readings=(Reading("volts", 1, value=0.1),),
    )
    (_, dead), report = learn(MODELS, cases_from_columns(MODELS, columns_of([job] * 3)))
    assert dead.prior[1] - MODELS[1].prior[1] == pytest.approx(3)
    assert report.jobs == 3
    assert not any(isnan(step) for step in report.bound)
