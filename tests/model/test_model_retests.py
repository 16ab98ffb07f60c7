"""How long a retest ran, against scipy's censored exponential, a textbook, and simulated benches."""

from dataclasses import replace
from math import exp, inf, nan

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from random_models import random_cases, random_evidence, random_model
from scipy import optimize, stats

from benchlore.model import (
    Cases,
    CasesError,
    Evidence,
    EvidenceError,
    Tried,
    Work,
    caught_chances,
    detection,
    fix_of,
    learn,
    model_of,
    posterior,
    retest_chances,
    uncured_chances,
)
from benchlore.model.cases import refuse_misfits
from benchlore.model.reference import joint_reference

seeds = st.integers(0, 2**32 - 1)
FAILED, PASSED, CAME_BACK = (np.array([kind]) for kind in Tried)


def intermittent(every, *, takes=3.0, waits=60.0, cures=(), prior=None):
    """A model whose complaint comes and goes, every so many minutes with each fault."""
    every = np.array(every, dtype=float)
    return model_of(
        np.ones(every.size) / every.size if prior is None else prior,
        [],
        fixes=[fix_of(f"a{a}", rho) for a, rho in enumerate(cures)],
        every=every,
        detects=-np.expm1(-(takes + waits) / every),
        retest=Work(takes, waits),
    )


def chance(model, outcome, soaked):
    return uncured_chances(model, outcome, np.array([soaked]))[0]


def with_retest(model, seed, *, takes=3.0, waits=60.0):
    """A random model with a mean time for each fault, and the retest that the book has for it."""
    every = np.random.default_rng(seed).uniform(10, 500, len(model.faults))
    detects = -np.expm1(-(takes + waits) / every)
    return replace(model, every=every, detects=detects, retest=Work(takes, waits))


# Chances of one retest.


def test_a_length_that_was_not_recorded_is_the_books():
    model = intermittent([20, 200])
    np.testing.assert_array_equal(chance(model, FAILED, nan), model.detects)
    np.testing.assert_array_equal(chance(model, PASSED, nan), 1 - model.detects)
    np.testing.assert_array_equal(chance(model, CAME_BACK, 50.0), 1.0)


@given(st.floats(0, 5000), st.floats(1, 1000), st.floats(1, 60))
def test_a_clean_retest_is_a_time_censored_on_the_right_and_a_failed_one_on_the_left(soaked, every, takes):
    # scipy.stats.expon: the survival function of what showed nothing so far, the distribution of what did.
    model = intermittent([every, 2 * every], takes=takes)
    for f, scale in enumerate((every, 2 * every)):
        clean, caught = (chance(model, outcome, soaked)[f] for outcome in (PASSED, FAILED))
        assert clean == pytest.approx(stats.expon.sf(soaked + takes, scale=scale), rel=1e-9, abs=1e-15)
        assert caught == pytest.approx(stats.expon.cdf(soaked + takes, scale=scale))


@given(st.floats(1, 1000))
def test_the_books_own_length_is_one_that_was_not_recorded(every):
    model = intermittent([every, 3 * every])
    for outcome in (FAILED, PASSED, CAME_BACK):
        np.testing.assert_allclose(chance(model, outcome, 60.0), chance(model, outcome, nan), atol=1e-12)
        near = chance(model, outcome, np.nextafter(60.0, 61.0))
        np.testing.assert_allclose(near, chance(model, outcome, nan), atol=1e-12)


def test_no_length_rules_a_fault_out():
    model = intermittent([0.5, 1e6], takes=0.0)
    assert (chance(model, PASSED, 20_000.0) > 0).all()
    assert (chance(model, FAILED, 0.0) > 0).all()


def test_of_a_complaint_that_always_shows_a_length_tells_nothing():
    model = model_of([0.5, 0.5], [], detects=1.0)
    for outcome in (FAILED, PASSED):
        np.testing.assert_array_equal(chance(model, outcome, 500.0), chance(model, outcome, nan))


@given(st.floats(0, 2000))
def test_detection_is_one_law_for_one_soak_and_for_many(soaked):
    model = intermittent([20, 200])
    np.testing.assert_allclose(
        caught_chances(model, np.array([soaked]))[0], detection(model, soaked), rtol=1e-12
    )
    assert detection(model, 60.0) is model.detects


def mean_that_fits_best(soaked, outcomes, *, below=5000.0):
    """The mean time at which the retests' likelihood is largest."""

    def against(mean):
        return -np.log(uncured_chances(intermittent([mean, mean], takes=0.0), outcomes, soaked)[:, 0]).sum()

    return optimize.minimize_scalar(against, bounds=(20, below), method="bounded", options={"xatol": 1e-4}).x


def test_the_likelihood_of_retests_is_that_of_inspected_lifetimes_as_scipy_fits_it():
    """scipy.stats.CensoredData: what failed is censored on the left, what did not on the right."""
    rng = np.random.default_rng(7)
    soaked = rng.uniform(10, 600, 400).round(1)
    failed = rng.exponential(300.0, 400) <= soaked
    outcomes = np.where(failed, int(Tried.FAILED), int(Tried.PASSED))
    data = stats.CensoredData(left=soaked[failed], right=soaked[~failed])
    assert mean_that_fits_best(soaked, outcomes) == pytest.approx(stats.expon.fit(data, floc=0)[1], rel=1e-4)


def test_one_length_for_all_has_the_textbooks_estimate():
    """Of n boards inspected once, at s, x had failed: the mean is -s / ln(1 - x / n).

    W. Nelson, *Applied Life Data Analysis* (Wiley, 1982), chapter 9 on quantal-response data, from memory.
    """
    outcomes = np.array([Tried.FAILED] * 13 + [Tried.PASSED] * 27)
    assert mean_that_fits_best(np.full(40, 100.0), outcomes) == pytest.approx(
        -100.0 / np.log(1 - 13 / 40), rel=1e-5
    )


# In beliefs and in learning.


@settings(max_examples=20, deadline=None)
@given(seeds)
def test_the_books_own_length_changes_nothing(seed):
    model = with_retest(random_model(seed), seed)
    evidence = random_evidence(model, seed)
    told = replace(evidence, soaked=tuple((fix, 60.0) for fix in (*evidence.failed, *evidence.passed)))
    np.testing.assert_allclose(posterior(model, told).faults, posterior(model, evidence).faults, atol=1e-12)
    cases = random_cases([model], seed)
    (plain,), before = learn([model], cases)
    (learned,), after = learn([model], replace(cases, attempt_soaked=np.full(len(cases.attempt_jobs), 60.0)))
    np.testing.assert_allclose(learned.prior, plain.prior, rtol=1e-12)
    for mine, theirs in zip(learned.fixes, plain.fixes, strict=True):
        np.testing.assert_allclose(mine.cures, theirs.cures, rtol=1e-12)
    np.testing.assert_allclose(after.bound, before.bound, rtol=1e-12)


@settings(max_examples=20, deadline=None)
@given(seeds)
def test_beliefs_are_those_of_plain_products(seed):
    model = with_retest(random_model(seed), seed)
    evidence = random_evidence(model, seed)
    rng = np.random.default_rng(seed)
    soaked = tuple((fix, float(rng.uniform(0, 300))) for fix in (*evidence.failed, *evidence.passed))
    told = replace(evidence, soaked=soaked)
    joint, _ = joint_reference(model, told)
    found = posterior(model, told)
    np.testing.assert_allclose(found.faults, joint / joint.sum(), atol=1e-12)
    assert found.log_evidence == pytest.approx(np.log(joint.sum()))


def test_the_longer_a_clean_retest_the_likelier_a_cure():
    # Cured of those that pass: 0.8 / (0.8 + 0.2 exp(-(3 + s) / 120)).
    model = intermittent([120, 120], cures=[[0.8, 0.8]])
    learned = []
    for soaked in (0.0, 30.0, 120.0, 480.0, 5000.0):
        one = retest_chances(model, np.array([0]), PASSED, np.array([soaked]))[0, 0]
        assert 0.8 / one == pytest.approx(0.8 / (0.8 + 0.2 * exp(-(3 + soaked) / 120)))
        few = replace(model, fixes=(fix_of("a0", [0.8, 0.8], weight=10),))
        (after,), _ = learn([few], bench(100, soaked=soaked))
        learned.append(after.fixes[0].cure_probabilities[0])
    assert learned == sorted(learned)
    assert learned[-1] - learned[0] > 0.05


def bench(jobs, *, soaked, outcomes=None):
    """Jobs with the first fault confirmed, the first fix tried, and its retest."""
    none = np.empty(0, dtype=np.int64)
    return Cases(
        complaints=np.zeros(jobs, dtype=np.int64),
        faults=np.zeros(jobs, dtype=np.int64),
        reading_jobs=none,
        reading_checks=none,
        reading_results=none,
        reading_values=np.empty(0),
        attempt_jobs=np.arange(jobs),
        attempt_fixes=np.zeros(jobs, dtype=np.int64),
        attempt_outcomes=np.full(jobs, int(Tried.PASSED)) if outcomes is None else outcomes,
        attempt_soaked=np.broadcast_to(np.asarray(soaked, dtype=float), (jobs,)),
    )


def simulated_bench(rng, *, cured=0.7, every=240.0, takes=3.0, jobs=120):
    """What retests of very different lengths show, and how long each ran: minutes or overnight."""
    planned = rng.choice([5.0, 15.0, 60.0, 960.0], jobs)
    shows = np.where(rng.random(jobs) < cured, inf, rng.exponential(every, jobs))
    failed = shows <= planned + takes
    outcomes = np.where(failed, int(Tried.FAILED), int(Tried.PASSED))
    return bench(jobs, soaked=np.where(failed, np.maximum(0, shows - takes), planned), outcomes=outcomes)


def errors_of_the_cure_rate(benches=30):
    """Root mean square error of the learned cure rate, with lengths and with the book's soak for all."""
    errors = []
    for seed in range(benches):
        cases = simulated_bench(np.random.default_rng(seed))
        model = intermittent([240, 240], waits=60.0)
        model = replace(model, fixes=(fix_of("a0", [0.5, 0.5], weight=2),))
        found = []
        for soaked in (cases.attempt_soaked, np.full(len(cases.faults), nan)):
            (learned,), _ = learn([model], replace(cases, attempt_soaked=soaked), iterations=200)
            found.append(learned.fixes[0].cure_probabilities[0] - 0.7)
        errors.append(found)
    return np.sqrt(np.mean(np.square(errors), axis=0)), np.mean(errors, axis=0)


def test_recorded_lengths_recover_a_cure_rate_that_the_books_soak_misses():
    (with_lengths, without), _ = errors_of_the_cure_rate()
    assert with_lengths < 0.6 * without


@pytest.mark.parametrize("seen", ["at once", "at the end"])
@pytest.mark.parametrize("every", [(15.0, 300.0), (60.0, 240.0), (10.0, 2000.0)])
def test_a_failures_length_tells_faults_apart_whenever_it_was_seen(seen, every):
    """Mean log score of the true fault, over boards that failed in soaks of minutes up to overnight.

    It is never below that of the book's soak for all. Taken as the very time at which it showed itself, the
    same minutes mislead where somebody looked only at the end.
    """
    rng, takes = np.random.default_rng(4), 3.0
    model = intermittent(every, takes=takes, waits=60.0)
    fault, planned = rng.choice(2, 20_000), rng.choice([5.0, 15.0, 60.0, 960.0], 20_000)
    shows = rng.exponential(np.array(every)[fault])
    failed = shows <= planned + takes
    fault, planned, shows = fault[failed], planned[failed], shows[failed]
    soaked = np.maximum(0.0, shows - takes) if seen == "at once" else planned
    outcomes = np.full(len(soaked), int(Tried.FAILED))

    def score(likelihoods):
        beliefs = likelihoods / likelihoods.sum(axis=1, keepdims=True)
        return np.log(beliefs[np.arange(len(fault)), fault]).mean()

    books = score(np.broadcast_to(model.detects, (len(fault), 2)))
    by_then = score(uncured_chances(model, outcomes, soaked))
    at_that_time = score(np.exp(-soaked[:, None] / model.every) / model.every + 1e-200)
    assert by_then > books + 0.05
    assert seen == "at once" or at_that_time < books - 1.0


@pytest.mark.parametrize("wrong", [-1.0, inf])
def test_minutes_that_are_none_are_refused(wrong):
    model = intermittent([60, 60], cures=[[0.8, 0.8]])
    with pytest.raises(CasesError, match=r"column attempt_soaked: .*minutes from 0 on"):
        refuse_misfits([model], bench(2, soaked=wrong))
    with pytest.raises(CasesError, match="attempt_soaked"):
        refuse_misfits([model], replace(bench(2, soaked=1.0), attempt_soaked=np.zeros(3)))
    with pytest.raises(EvidenceError, match="minutes of soak from 0 on"):
        posterior(model, Evidence(passed=(0,), soaked=((0, wrong),)))
