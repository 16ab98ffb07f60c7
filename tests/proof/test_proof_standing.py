from dataclasses import replace

import pytest
from benches import SHOP, a_model, recorded_jobs

from benchlore.proof import Estimate, Settings, Standing, Subject, Way, prove
from benchlore.proof.reliability import CalibrationTest
from benchlore.proof.standing import graded


@pytest.fixture(scope="module")
def proof():
    jobs = recorded_jobs(a_model(), 8, 60)
    return prove(Subject((a_model(15),), 0, SHOP, tuple(jobs)), settings=Settings(folds=2, draws=2))


def grade(
    proof,
    *,
    jobs=150,
    known=0.97,
    z=0.1,
    p=0.5,
    fixes=5.0,
    bench=5.0,
    gain=1.0,
    drawn=0.3,
    draws=20,
    promised=1e6,
    clock=1.1,
):
    """The grade of a proof in which everything speaks for the book but what is changed."""
    accounts = tuple(
        replace(account, more=Estimate(low + 1, low, low + 2))
        if (low := {Way.FIXES: fixes, Way.BENCH: bench}.get(account.way)) is not None
        else account
        for account in proof.replay.accounts
    )
    log_score = replace(proof.faults.log_score, gain=Estimate(gain + 0.2, gain, gain + 0.4))
    calibration = replace(proof.faults, test=CalibrationTest(0.2, 0.2, z, p), log_score=log_score)
    coverage = replace(proof.coverage, known=Estimate(0.99, known, 1.0))
    replay = replace(
        proof.replay,
        accounts=accounts,
        drawn=drawn,
        draws=draws,
        promised=promised,
        clock=Estimate(clock, clock - 0.05, clock + 0.05),
    )
    return graded(jobs, replay, calibration, coverage)


def test_a_book_for_which_everything_speaks_is_settled(proof):
    found = grade(proof)
    assert found.standing is Standing.SETTLED
    assert found.missing == ()


@pytest.mark.parametrize(
    ("changed", "standing", "asks"),
    [
        ({"jobs": 99}, Standing.SOUND, "100 held-out jobs"),
        ({"jobs": 29}, Standing.TRIED, "30 held-out jobs"),
        ({"jobs": 9}, Standing.OPINION, "10 held-out jobs"),
        ({"known": 0.89}, Standing.SOUND, "at least 90 %"),
        ({"known": 0.79}, Standing.TRIED, "at least 80 %"),
        ({"z": 2.5, "p": 0.02}, Standing.SOUND, "not surer of its suspects"),
        ({"z": 3.5, "p": 0.001}, Standing.TRIED, "not surer of its suspects"),
        ({"bench": -0.1}, Standing.SOUND, "less than what benches did"),
        ({"fixes": -0.1}, Standing.TRIED, "less than trying fixes"),
        ({"gain": -0.01}, Standing.TRIED, "readings make its forecasts better"),
        ({"drawn": 0.51}, Standing.TRIED, "at most half of the results"),
        ({"draws": 9}, Standing.TRIED, "at most half of the results"),
        ({"promised": 0.01}, Standing.TRIED, "no more than it promised"),
        ({"clock": 1.6}, Standing.SOUND, "the minutes that the book reckons"),
        ({"clock": 0.5}, Standing.SOUND, "the minutes that the book reckons"),
    ],
)
def test_each_ground_holds_back(proof, changed, standing, asks):
    found = grade(proof, **changed)
    assert found.standing is standing
    assert asks in " ".join(ground.asks for ground in found.missing)


def test_a_book_that_is_too_timid_is_not_held_back(proof):
    assert grade(proof, z=-4.0, p=0.001).standing is Standing.SETTLED


def test_a_book_without_a_calibration_test_is_tried_at_most(proof):
    found = graded(150, proof.replay, None, proof.coverage)
    assert found.standing is Standing.TRIED
    assert "not tested" in [ground.found for ground in found.missing]


def test_a_ground_that_is_missed_by_a_hair_says_so(proof):
    found = grade(proof, known=0.8985)
    assert [ground.found for ground in found.missing] == ["at least 89.8 %"]
