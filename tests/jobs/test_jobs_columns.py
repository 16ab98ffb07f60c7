from datetime import date
from math import inf, isnan

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from job_samples import changed, jobs, numbered

from benchlore.jobs import Attempt, Job, JobColumns, Outcome, Reading, Retest, Store


def as_jobs(columns: JobColumns) -> list[dict]:
    """Build from the arrays what they say of each job."""
    found = [
        {
            "complaint": columns.complaints[columns.complaint[place]],
            "fault": None if columns.fault[place] < 0 else columns.faults[columns.fault[place]],
            "outcome": columns.outcomes[columns.outcome[place]],
            "hands_on": none_or(columns.hands_on[place]),
            "waiting": none_or(columns.waiting[place]),
            "comeback": {-1: None, 0: False, 1: True}[int(columns.comeback[place])],
            "readings": [],
            "attempts": [],
        }
        for place in range(len(columns))
    ]
    for place, job in enumerate(columns.reading_job):
        result, value = columns.reading_result[place], columns.reading_value[place]
        found[job]["readings"].append(
            (
                columns.checks[columns.reading_check[place]],
                int(columns.reading_step[place]),
                None if result < 0 else columns.results[result],
                none_or(value),
            )
        )
    for place, job in enumerate(columns.attempt_job):
        found[job]["attempts"].append(
            (
                columns.fixes[columns.attempt_fix[place]],
                int(columns.attempt_step[place]),
                columns.retests[columns.attempt_retest[place]],
                none_or(columns.attempt_soaked[place]),
            )
        )
    return found


def none_or(value: float) -> float | None:
    return None if isnan(value) else float(value)


def said(job: Job) -> dict:
    return {
        "complaint": job.complaint,
        "fault": job.fault,
        "outcome": job.outcome,
        "hands_on": job.hands_on,
        "waiting": job.waiting,
        "comeback": job.comeback,
        "readings": [(each.check, each.step, each.result, each.value) for each in job.readings],
        "attempts": [(each.fix, each.step, each.retest, each.soaked) for each in job.attempts],
    }


def test_columns_say_what_the_jobs_of_the_board_say(place):
    records = [
        Job(
            "s",
            "2",
            "b",
            "dead",
            fault="f",
            readings=(Reading("y", 2, value=inf), Reading("x", 1, "low"), Reading("y", 3)),
        ),
        Job(
            "s",
            "1",
            "b",
            "restarts",
            opened=date(2026, 1, 1),
            hands_on=3.5,
            comeback=False,
            outcome=Outcome.RETURNED,
        ),
        Job(
            "r",
            "9",
            "b",
            "dead",
            comeback=True,
            waiting=0.0,
            attempts=(Attempt("fix", 2, Retest.GONE), Attempt("clean", 1)),
        ),
        changed(number="elsewhere"),
    ]
    with Store.open(place) as store:
        store.add(records)
        columns = store.columns("b")
    assert as_jobs(columns) == [said(records[2]), said(records[1]), said(records[0])]
    assert (columns.checks, columns.results, columns.fixes) == (("x", "y"), ("low",), ("clean", "fix"))
    assert columns.reading_job.tolist() == [2, 2, 2]


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(records=st.lists(jobs(), max_size=5, unique_by=lambda job: (job.shop, job.number)))
def test_columns_agree_with_the_jobs_one_by_one(records, tmp_path_factory):
    with Store.open(tmp_path_factory.mktemp("columns")) as store:
        store.add(
            [
                changed(**{name: getattr(job, name) for name in Job.__slots__ if name != "board"})
                for job in records
            ]
        )
        assert as_jobs(store.columns("halden-t4")) == [said(job) for job in store.jobs(board="halden-t4")]


def test_a_board_without_jobs_has_empty_columns(place):
    with Store.open(place) as store:
        columns = store.columns("nothing")
    assert len(columns) == 0
    assert (columns.faults, columns.checks, columns.reading_value.shape) == ((), (), (0,))
    assert columns.reading_value.dtype == np.float64


def test_columns_cannot_be_changed(tmp_path):
    with Store.open(tmp_path) as store:
        store.add(numbered(2))
        columns = store.columns("halden-t4")
    for name in ("fault", "hands_on", "reading_job", "reading_value", "attempt_step"):
        with pytest.raises(ValueError, match="read-only"):
            getattr(columns, name)[0] = 0
