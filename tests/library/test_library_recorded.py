"""Stored jobs and what today's model makes of them."""

from datetime import date
from math import inf

import pytest

from benchlore.jobs import Attempt, Job, Outcome, Reading, Retest, Search, Store
from benchlore.library import FixStep, NoJobError, ReadStep, find_jobs, learn_board, recorded_job
from benchlore.library.recorded import evidence_of_job, jobs_csv
from benchlore.model import Evidence, posterior

RAIL = Reading("rail-ohms", 1, value=3.0, text="3R")
JOB = Job("s", "1", "my-board", "no-power", date(2026, 3, 1), (RAIL,), outcome=Outcome.RETURNED)


def with_(**changes):
    from dataclasses import replace

    return replace(JOB, **changes)


@pytest.fixture
def model(library):
    return learn_board(library, "my-board").models["no-power"]


def record(library, job):
    with Store.open(library.store) as store:
        store.add([job])
    return recorded_job(library, job.shop, job.number)


def test_evidence_is_what_was_read_before_the_fix_that_cured(model):
    job = with_(
        readings=(RAIL, Reading("fuse-ohms", 4, value=inf)),
        attempts=(Attempt("replace-u2", 2, Retest.STILL_THERE), Attempt("replace-c5", 3, Retest.GONE)),
        outcome=Outcome.REPAIRED,
    )
    failed = [fix.name for fix in model.fixes].index("replace-u2")
    assert evidence_of_job(model, job) == Evidence(values=((0, 3.0),), failed=(failed,))


def test_a_fix_after_which_the_board_came_back_counts_as_failed(model):
    job = with_(attempts=(Attempt("replace-c5", 2, Retest.GONE),), outcome=Outcome.REPAIRED, comeback=True)
    assert evidence_of_job(model, job).failed == (0,)


def test_an_open_job_says_what_it_says(model):
    assert evidence_of_job(model, with_(outcome=Outcome.OPEN)) == Evidence(values=((0, 3.0),))


def test_suspects_are_the_models_own_posterior(library):
    told = record(library, JOB)
    model = learn_board(library, "my-board").models["no-power"]
    belief = posterior(model, Evidence(values=((0, 3.0),))).faults
    assert {each.fault: each.share for each in told.suspects} == dict(
        zip(model.faults, belief.tolist(), strict=True)
    )
    assert [each.share for each in told.suspects] == sorted(belief.tolist(), reverse=True)
    assert told.was_learned_from


def test_leanings_are_shares_of_the_likelihood(library):
    (step,) = record(library, JOB).steps
    assert isinstance(step, ReadStep)
    assert (step.title, step.wrote, step.understood) == ("Main rail to ground", "3R", "3 ohm")
    assert step.speaks_for[0].state == "shorted"
    assert sum(each.share for each in step.speaks_for) == pytest.approx(1)


def test_only_the_last_of_two_readings_of_a_check_counts(library):
    told = record(library, with_(readings=(RAIL, Reading("rail-ohms", 2, value=2200.0, text="2k2"))))
    first, second = told.steps
    assert not first.speaks_for
    assert {each.state for each in second.speaks_for if each.share > 0.1} == {"normal", "missing"}


def test_steps_stand_in_their_order_and_what_the_book_does_not_know_keeps_its_name(library):
    told = record(
        library,
        with_(
            readings=(Reading("x", 1, "odd"), Reading("fuse-ohms", 3, value=inf, text="OL")),
            attempts=(Attempt("y", 2),),
            complaint="hums",
        ),
    )
    unknown, fix, fuse = told.steps
    assert (unknown.title, unknown.understood, unknown.speaks_for) == ("x", "odd", ())
    assert fix == FixStep("y", "y", Retest.UNKNOWN)
    assert fuse.understood == "OL"
    assert told.unknown == "The book has no complaint 'hums'."
    assert told.complaint == "hums"


def test_a_job_that_there_is_not(library):
    for name in (("s", "1"), ("\0", "1")):
        with pytest.raises(NoJobError, match="there is no job"):
            recorded_job(library, *name)


def test_a_library_without_jobs_finds_and_exports_none(library):
    found = find_jobs(library, Search(), page=7)
    assert (found.total, found.stored, found.pages, found.lines) == (0, 0, 1, ())
    assert (
        "".join(jobs_csv(library, Search(), "attempts.csv"))
        == "shop,number,step,fix,retest,soaked_minutes\r\n"
    )
    assert not library.store.exists()


def test_a_page_beyond_the_last_is_the_last(library):
    with Store.open(library.store) as store:
        store.add([with_(number=str(number)) for number in range(7)])
    found = find_jobs(library, Search(), page=9, size=3)
    assert (found.page, found.pages, found.first, len(found.lines)) == (3, 3, 7, 1)
