"""The whole proof on an invented board whose truth is known."""

import json
from dataclasses import replace

import pytest
from benches import SHOP, a_model, recorded_jobs

from benchlore.jobs import UNLISTED, Job, Outcome
from benchlore.procedure import plan
from benchlore.proof import (
    Against,
    Planning,
    ProofFormatError,
    Settings,
    Split,
    Standing,
    Subject,
    TooFewJobsError,
    Topic,
    Way,
    from_json,
    parts_of,
    prove,
    to_json,
)
from benchlore.proof.trial import usable_jobs

TRUTH = a_model(detects=0.9)
BOOK = a_model(weight=15, detects=0.9)
QUICKLY = Settings(folds=3, draws=4, seed=5)


def subject(jobs, book=BOOK, **kinds):
    return Subject((book,), 0, SHOP, tuple(jobs), **kinds)


@pytest.fixture(scope="module")
def jobs():
    return recorded_jobs(TRUTH, 8, 90, share=0.85, confirmed=0.8)


@pytest.fixture(scope="module")
def proof(jobs):
    return prove(subject(jobs), settings=QUICKLY, procedure=plan(BOOK, SHOP))


def test_a_proof_counts_its_jobs(proof, jobs):
    assert proof.recorded == 90
    assert sorted(proof.replay.jobs) == sorted((job.shop, job.number) for job in jobs)
    known = sum(job.fault is not None and not job.comeback for job in jobs)
    assert proof.confirmed == known == proof.faults.jobs
    assert proof.replay.faults_drawn == 90 - known
    assert sum(part.tested for part in proof.parts) == 90
    assert all(part.learned_from + part.tested == 90 for part in proof.parts)


def test_the_known_truth_lies_in_the_intervals(proof):
    """The procedure made from the truth costs about what the proof says of one made from 60 of its jobs."""
    own = proof.replay.of(Way.PROCEDURE)
    assert own.cost.low <= plan(TRUTH, SHOP).expected <= own.cost.high
    assert proof.coverage.known.low <= 0.95 <= proof.coverage.known.high
    assert proof.replay.of(Way.TOLD).more.high < 0
    assert proof.replay.of(Way.BENCH).more.low > 0


def test_percentages_learned_from_the_truth_hold(proof):
    assert proof.faults.test.p > 0.01
    assert proof.readings.test.p > 0.01
    assert proof.faults.log_score.gain.low > 0


def test_who_does_the_work_makes_no_difference(proof, jobs):
    def backwards(function, tasks):
        done = [function(task) for task in reversed(tasks)]
        yield from reversed(done)

    again = prove(subject(jobs), settings=QUICKLY, procedure=plan(BOOK, SHOP), run=backwards)
    assert again == proof


def test_another_seed_gives_other_figures(proof, jobs):
    other = prove(subject(jobs), settings=replace(QUICKLY, seed=6))
    assert other.replay.of(Way.PROCEDURE).cost != proof.replay.of(Way.PROCEDURE).cost
    assert other.sensitivity is None


def test_a_proof_survives_json(proof):
    data = json.loads(json.dumps(to_json(proof), allow_nan=False))
    assert from_json(data) == proof


@pytest.mark.parametrize(
    ("broken", "message"),
    [
        ({"proof": 2}, "format 1, found 2"),
        ([], "found 'list'"),
        ({"proof": 1, "board": "x"}, "complaint: expected Field required"),
    ],
)
def test_a_stored_proof_that_does_not_fit_is_refused(broken, message):
    with pytest.raises(ProofFormatError, match=message):
        from_json(broken)


@pytest.mark.parametrize("split", [Split.SHOP, Split.TIME])
def test_jobs_can_be_divided_otherwise(jobs, split):
    found = prove(subject(jobs), settings=replace(QUICKLY, split=split, draws=2))
    expected = {Split.SHOP: ["north", "south"], Split.TIME: 3}[split]
    names = [part.name for part in found.parts]
    assert (sorted(names) if split is Split.SHOP else len(names)) == expected


def test_a_book_with_fewer_checks_costs_more_on_the_same_jobs(jobs):
    older = replace(BOOK, checks=BOOK.checks[3:])
    against = Against("an older book", subject(jobs, older))
    found = prove(subject(jobs), settings=QUICKLY, against=against).difference
    assert found.jobs == 90
    assert found.other == "an older book"
    assert found.cost.low > 0


def test_a_book_does_not_differ_from_itself(jobs):
    against = Against("itself", subject(jobs))
    found = prove(subject(jobs), settings=replace(QUICKLY, draws=2), against=against).difference
    assert (found.cost.low, found.cost.value, found.cost.high) == (0.0, 0.0, 0.0)


def test_fewer_steps_cost_no_less(jobs):
    against = Against("at most 2 steps", subject(jobs, planning=Planning(steps=2)))
    found = prove(subject(jobs), settings=replace(QUICKLY, draws=2), against=against).difference
    assert found.cost.value > 0


def test_jobs_that_are_open_or_of_another_board_do_not_count(jobs):
    others = [
        replace(jobs[0], board="other"),
        replace(jobs[1], outcome=Outcome.OPEN),
        replace(jobs[2], complaint="x"),
    ]
    assert usable_jobs((BOOK,), [*others, jobs[3]]) == (jobs[3],)


def test_a_fault_that_the_book_does_not_list_counts_as_unlisted(jobs):
    (found,) = usable_jobs((BOOK,), [replace(jobs[0], fault="flux-residue")])
    assert found.fault == UNLISTED


@pytest.mark.parametrize("few", [0, 1])
def test_too_few_jobs_are_refused_with_what_is_needed(jobs, few):
    with pytest.raises(TooFewJobsError, match="a proof needs 2 or more; take in more jobs"):
        prove(subject(jobs[:few]), settings=QUICKLY)


def test_two_jobs_without_a_confirmed_fault_are_an_opinion():
    bare = [Job("s", f"{k}", "board", "complaint", outcome=Outcome.RETURNED) for k in range(2)]
    found = prove(subject(bare), settings=QUICKLY)
    assert found.standing.standing is Standing.OPINION
    assert found.faults is None
    assert found.replay.of(Way.BENCH) is None
    assert found.replay.drawn == 1.0
    assert (found.coverage.known.low, found.coverage.known.high) == (0.0, 1.0)
    assert "No held-out job has a confirmed fault." in [
        text for part in parts_of(found) for text in part.sentences
    ]


def test_jobs_that_all_have_one_fault_are_proven_with_wide_intervals(jobs):
    same = [replace(job, fault="joint") for job in jobs if job.fault == "joint"][:12]
    found = prove(subject(same), settings=QUICKLY)
    assert found.coverage.met == 1
    assert found.coverage.sample.low < 0.9
    assert found.standing.standing in {Standing.OPINION, Standing.TRIED}


def test_a_proof_tells_its_parts_in_order(proof):
    topics = [part.topic for part in parts_of(proof)]
    assert topics[:5] == [
        Topic.STANDING,
        Topic.COSTS,
        Topic.PERCENTAGES,
        Topic.COVERAGE,
        Topic.SENSITIVITY,
    ]
    assert topics[-1] is Topic.METHOD
    costs = parts_of(proof)[1]
    assert [row[0] for row in costs.table.rows] == [way.value for way in Way]
    assert any(
        text.startswith("Against what the recorded benches did, at this shop's rates, it saves")
        for text in costs.sentences
    )
