from dataclasses import replace

import numpy as np
import pytest
from benches import a_model, recorded_jobs
from hypothesis import given, settings
from hypothesis import strategies as st

from benchlore.proof import OneShopError, Split, TooFewJobsError, UndatedError
from benchlore.proof.folds import folds_of

JOBS = recorded_jobs(a_model(), 1, 40, shops=("a", "b", "c"))


def divided(jobs, split, count=5, seed=0):
    return folds_of(jobs, "complaint", split, count, np.random.default_rng(seed))


@settings(max_examples=40, deadline=None)
@given(st.integers(2, 40), st.integers(2, 12), st.integers(0, 99))
def test_by_job_each_is_held_out_once_and_never_teaches_itself(jobs, count, seed):
    folds = divided(JOBS[:jobs], Split.JOB, count, seed)
    assert sorted(k for fold in folds for k in fold.test) == list(range(jobs))
    for fold in folds:
        assert not set(fold.train) & set(fold.test)
        assert len(fold.train) + len(fold.test) == jobs


def test_by_shop_a_shop_that_is_held_out_teaches_nothing():
    folds = divided(JOBS, Split.SHOP)
    assert sorted(fold.name for fold in folds) == ["a", "b", "c"]
    for fold in folds:
        assert {JOBS[k].shop for k in fold.test} == {fold.name}
        assert fold.name not in {JOBS[k].shop for k in fold.train}


def test_many_shops_are_held_out_together():
    jobs = recorded_jobs(a_model(), 1, 40, shops=tuple("abcdefg"))
    folds = divided(jobs, Split.SHOP, 3)
    assert len(folds) == 3
    assert sorted(k for fold in folds for k in fold.test) == list(range(40))


def test_by_time_only_what_was_opened_before_teaches():
    folds = divided(JOBS, Split.TIME, 4)
    assert len(folds) == 4
    for fold in folds:
        first = min(JOBS[k].opened for k in fold.test)
        assert max(JOBS[k].opened for k in fold.train) < first
    held_out = [k for fold in folds for k in fold.test]
    assert len(held_out) == len(set(held_out)) == 32


def test_jobs_of_one_day_are_never_divided_by_time():
    jobs = [replace(job, opened=JOBS[k // 20].opened) for k, job in enumerate(JOBS)]
    (fold,) = divided(jobs, Split.TIME)
    assert (len(fold.train), len(fold.test)) == (20, 20)


def test_a_last_day_that_has_nearly_all_jobs_is_held_out():
    jobs = [replace(job, opened=JOBS[min(k, 1)].opened) for k, job in enumerate(JOBS)]
    (fold,) = divided(jobs, Split.TIME)
    assert (len(fold.train), len(fold.test)) == (1, 39)


def test_other_complaints_teach_but_are_not_held_out():
    jobs = [replace(job, complaint="other") if k % 2 else job for k, job in enumerate(JOBS)]
    folds = divided(jobs, Split.JOB)
    assert all(jobs[k].complaint == "complaint" for fold in folds for k in fold.test)
    assert all(any(jobs[k].complaint == "other" for k in fold.train) for fold in folds)


def test_undated_jobs_do_not_teach_by_time():
    jobs = [replace(job, opened=None) if k % 4 == 0 else job for k, job in enumerate(JOBS)]
    for fold in divided(jobs, Split.TIME):
        assert all(jobs[k].opened is not None for k in [*fold.train, *fold.test])


def test_what_cannot_be_divided_says_what_is_needed():
    with pytest.raises(TooFewJobsError, match="'complaint': no finished jobs recorded, and a proof needs 2"):
        divided([], Split.JOB)
    with pytest.raises(TooFewJobsError, match="1 finished job recorded"):
        divided(JOBS[:1], Split.TIME)
    with pytest.raises(OneShopError, match="all jobs are of shop 'a'"):
        divided([replace(job, shop="a") for job in JOBS], Split.SHOP)
    with pytest.raises(UndatedError, match="0 of 40 jobs have a date"):
        divided([replace(job, opened=None) for job in JOBS], Split.TIME)
