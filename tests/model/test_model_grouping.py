from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from random_models import random_cases, random_model

from benchlore.model import Cases, model_of, named_check
from benchlore.model.grouping import group


def boards(model):
    """Three jobs: two alike with a hidden fault, one confirmed; checks 0 and 1 read condition 0."""
    return Cases(
        complaints=np.array([0, 0, 0]),
        faults=np.array([-1, -1, 1]),
        reading_jobs=np.array([0, 0, 1, 1, 2, 2]),
        reading_checks=np.array([0, 1, 1, 0, 0, 1]),
        reading_results=np.array([1, 0, 0, 1, 1, 0]),
        reading_values=np.zeros(6),
        attempt_jobs=np.array([], dtype=np.int64),
        attempt_fixes=np.array([], dtype=np.int64),
        attempt_outcomes=np.array([], dtype=np.int64),
        attempt_soaked=np.array([]),
    )


@pytest.fixture(scope="module")
def model():
    checks = [named_check("a", 0, np.eye(2)), named_check("b", 0, np.eye(2))]
    return model_of([0.5, 0.5], [np.eye(2)], checks)


def test_equal_readings_blocks_and_jobs_are_visited_once(model):
    groups = group([model], boards(model))
    assert groups.reading_checks.tolist() == [0, 1]
    assert groups.block_conditions.tolist() == [0]
    assert sorted(groups.blocks.items.tolist()) == [0, 1]
    assert groups.job_counts.tolist() == [2]


def test_confirmed_jobs_are_blocks_with_their_fault(model):
    groups = group([model], boards(model))
    assert groups.known.tolist() == [[0, 1]]
    assert groups.known_counts.tolist() == [1]
    assert groups.confirmed.tolist() == [[0, 1]]


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_nothing_is_lost_or_counted_twice(seed):
    model = random_model(seed)
    cases = random_cases([model, model], seed, digits=1)
    groups = group([model, model], cases)
    hidden = cases.faults < 0
    assert groups.job_counts.sum() + groups.silent == hidden.sum()
    assert groups.confirmed.sum() == (~hidden).sum()
    lengths = np.diff(groups.blocks.starts)
    of_hidden = sum(
        times * lengths[groups.jobs.items[start:end]].sum()
        for times, start, end in zip(
            groups.job_counts, groups.jobs.starts, groups.jobs.starts[1:], strict=False
        )
    )
    of_known = (groups.known_counts * lengths[groups.known[:, 0]]).sum()
    assert of_hidden + of_known == len(cases.reading_jobs)
    tried = (groups.job_counts * np.diff(groups.job_attempts.starts)).sum() + groups.known_attempts.sum()
    assert tried == len(cases.attempt_jobs)


def test_no_jobs_make_no_groups(model):
    nothing = Cases(**{f.name: np.array([], dtype=np.int64) for f in fields(Cases) if f.name != "ignored"})
    groups = group([model], nothing)
    assert groups.job_counts.size == groups.known_counts.size == groups.block_conditions.size == 0
