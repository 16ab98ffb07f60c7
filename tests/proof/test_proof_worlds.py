from dataclasses import replace

import numpy as np
import pytest
from benches import a_model, recorded_jobs

from benchlore.jobs import Attempt, Job, Outcome, Reading, Retest
from benchlore.model import Evidence, cases_from_jobs, posterior, results_of, retest_chances
from benchlore.proof import seeds
from benchlore.proof.worlds import boards_of, completed


def job(number="1", **kinds):
    return Job("north", number, "board", "complaint", outcome=Outcome.RETURNED, **kinds)


def many(count, **kinds):
    return [job(f"{k + 1}", **kinds) for k in range(count)]


def worlds(model, jobs, draws, seed=0):
    cases = cases_from_jobs([model], jobs)
    return [completed(model, cases, each) for each in seeds(seed, 0, draws)]


def test_what_was_recorded_stays_and_is_known():
    model = a_model()
    jobs = recorded_jobs(model, 3, 50, share=0.5)
    for world in worlds(model, jobs, 3):
        for k, each in enumerate(jobs):
            read = {reading.check: reading for reading in each.readings}
            for c, check in enumerate(model.checks):
                assert world.known_results[k, c] == (check.name in read)
                if check.name in read and check.densities is None:
                    assert check.results[world.results[k, c]] == read[check.name].result
                elif check.name in read:
                    assert world.values[k, c] == read[check.name].value


def test_a_confirmed_fault_stays_and_others_are_drawn_from_the_posterior():
    """Four standard errors around the posterior of jobs with two readings."""
    model = a_model()
    readings = (Reading("press", 0, "jumps"), Reading("warm", 1, "cold"))
    (found,) = worlds(model, [job("0", fault="plug"), *many(4000, readings=readings)], 1)
    assert found.fault[0] == 2
    assert found.fault_known.tolist() == [True, *[False] * 4000]
    expected = posterior(model, Evidence(((1, 1), (3, 0)))).faults
    shares = np.bincount(found.fault[1:], minlength=4) / 4000
    assert np.abs(shares - expected).max() < 4 * 0.5 / np.sqrt(4000)


def test_what_was_not_recorded_is_drawn_given_all_that_was():
    """Two checks share a condition: once one is green, the other is warm as often as the model says."""
    model = a_model()
    jobs = many(4000, readings=(Reading("look", 0, "green"),), fault="joint")
    warm = worlds(model, jobs, 1)[0].results[:, 3].mean()
    states = np.array([0.9 * 0.1, 0.1 * 0.9])
    expected = states / states.sum() @ [0.2, 0.7]
    assert abs(warm - expected) < 4 * 0.5 / np.sqrt(4000)


def test_a_recorded_number_is_read_in_whatever_bands_the_model_has():
    model = a_model()
    jobs = [job(readings=(Reading("rail", 0, value=3.31),)), job("2")]
    found = worlds(model, jobs, 5)
    boards = boards_of(found, model)
    band = results_of(model.checks[0], np.array([3.31]))[0]
    assert boards.results[:5, 0].tolist() == [band] * 5
    numbers = np.array([world.values[1, 0] for world in found])
    assert boards.results[5:, 0].tolist() == results_of(model.checks[0], numbers).tolist()
    assert boards.fault.reshape(2, 5)[1].tolist() == [world.fault[1] for world in found]


def test_a_band_that_was_recorded_instead_of_a_number_gets_numbers_inside_it():
    model = a_model()
    name = model.checks[0].results[0]
    for world in worlds(model, [job(readings=(Reading("rail", 0, name),), fault="joint")], 20):
        assert results_of(model.checks[0], world.values[:1, 0]).tolist() == [0]


def tried(outcome, fault="joint", comeback=None):
    attempt = Attempt("fix-joint", 0, outcome)
    ended = Outcome.REPAIRED if outcome is Retest.GONE else Outcome.RETURNED
    return replace(job(fault=fault, attempts=(attempt,), comeback=comeback), outcome=ended)


def test_a_fix_that_was_seen_to_fail_fails_at_any_soak():
    for world in worlds(a_model(detects=0.4), [tried(Retest.STILL_THERE)], 20):
        assert not world.cured[0, 0]
        assert world.luck[0, 0] == 0.0
        assert world.known_fixes[0].tolist() == [True, False, False]


def test_a_fix_after_which_nothing_was_seen_may_not_have_cured():
    """It cured with 0.9 / (0.9 + 0.1 × 0.6); a board that it did not cure was lucky at that soak."""
    jobs = [replace(tried(Retest.GONE), number=str(k)) for k in range(4000)]
    (found,) = worlds(a_model(detects=0.4), jobs, 1)
    cured = found.cured[:, 0]
    assert abs(cured.mean() - 0.9 / 0.96) < 4 * 0.25 / np.sqrt(4000)
    assert found.luck[~cured, 0].min() >= 0.4


def test_a_board_that_came_back_was_not_cured_and_its_fault_is_open():
    found = worlds(a_model(detects=0.4), [tried(Retest.GONE, comeback=True)], 200)
    assert not any(world.cured[0, 0] for world in found)
    assert not found[0].fault_known[0]
    assert len({int(world.fault[0]) for world in found}) > 1


def test_a_cure_that_the_book_rules_out_is_believed_if_it_was_recorded():
    for world in worlds(a_model(), [tried(Retest.GONE, fault="plug")], 20):
        assert world.cured[0, 0]


def test_outcomes_of_a_fix_have_the_probabilities_of_the_retest():
    fixes, outcomes = np.zeros(3, dtype=np.int64), np.arange(3)
    factors = retest_chances(a_model(detects=0.4), fixes, outcomes, np.full(3, np.nan))
    assert factors[:, 0].tolist() == pytest.approx([0.1 * 0.4, 0.9 + 0.1 * 0.6, 0.1])


def test_a_retest_of_a_known_length_counts_by_it():
    """It cured with 0.9 / (0.9 + 0.1 exp(-(1 + 19) / 40)); what failed fails at any soak."""
    model = replace(a_model(detects=0.4), every=np.full(4, 40.0))
    long = [
        replace(each, attempts=(replace(each.attempts[0], soaked=19.0),))
        for each in (replace(tried(Retest.GONE), number=str(k)) for k in range(4000))
    ]
    (found,) = worlds(model, long, 1)
    cured, caught = found.cured[:, 0], 1 - np.exp(-20 / 40)
    assert abs(cured.mean() - 0.9 / (0.9 + 0.1 * (1 - caught))) < 4 * 0.25 / np.sqrt(4000)
    assert found.luck[~cured, 0].min() >= caught
    late = replace(tried(Retest.STILL_THERE), attempts=(Attempt("fix-joint", 0, Retest.STILL_THERE, 10.0),))
    assert worlds(model, [late], 1)[0].luck[0, 0] == 0.0


def test_worlds_differ_by_what_is_not_known_of_the_model():
    """A fault seen on few boards gets another share in every world, one seen on many does not."""
    spread = []
    for weight in (20, 1e6):
        model = a_model(weight)
        jobs = many(400)
        spread.append(np.std([(world.fault == 0).mean() for world in worlds(model, jobs, 60)]))
    assert spread[0] > 2 * spread[1]
    assert spread[1] == pytest.approx(np.sqrt(0.45 * 0.55 / 400), rel=0.35)


def test_equal_seeds_complete_jobs_alike():
    model = a_model(50)
    jobs = recorded_jobs(model, 3, 20, share=0.5)
    first, second = worlds(model, jobs, 1)[0], worlds(model, jobs, 1)[0]
    np.testing.assert_array_equal(first.results, second.results)
    np.testing.assert_array_equal(first.luck, second.luck)
