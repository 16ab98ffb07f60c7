"""Candidates for new faults: what boards say together is exact, planted faults come out apart."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from doubtful_boards import board_model, cases_of, drawn_jobs, job_of
from pydantic import TypeAdapter
from scipy.special import gammaln
from scipy.stats import dirichlet_multinomial
from sklearn.metrics import adjusted_rand_score

from benchlore.jobs import UNLISTED
from benchlore.model import CasesError
from benchlore.proof import Candidate, Odd, Outlier, candidates_of
from benchlore.proof import groups as groups_module
from benchlore.proof.groups import agglomerate, shared
from benchlore.proof.joblogs import without_blunders
from benchlore.proof.texts import alike, shared_words, words_of

SOUND = without_blunders(board_model())


@pytest.mark.parametrize("counts", [(3, 0, 2), (1, 1, 1), (0, 7, 0)])
def test_states_that_are_known_follow_the_dirichlet_multinomial(counts):
    # scipy.stats.dirichlet_multinomial gives the counts in any order; one order is its share of them.
    alpha, n = np.array([0.4, 1.1, 2.0]), sum(counts)
    with np.errstate(divide="ignore"):
        logs = np.log(np.repeat(np.eye(3), counts, axis=0))
    orders = gammaln(n + 1) - gammaln(np.array(counts) + 1).sum()
    expected = dirichlet_multinomial.logpmf(counts, alpha, n) - orders
    found = shared(logs, alpha)
    assert found.log_evidence == pytest.approx(expected, abs=1e-10)
    assert found.states == pytest.approx((alpha + counts) / (alpha.sum() + n))


@pytest.mark.parametrize("seed", range(6))
def test_hidden_states_are_summed_out_as_if_one_by_one(seed):
    rng = np.random.default_rng(seed)
    boards, states = 5, int(rng.integers(1, 4))
    logs, alpha = rng.normal(0, 2, (boards, states)), rng.uniform(0.2, 2, states)
    total = 0.0
    for sequence in product(range(states), repeat=boards):
        counts = np.bincount(sequence, minlength=states)
        chance = (
            gammaln(alpha.sum())
            - gammaln(alpha.sum() + boards)
            + (gammaln(alpha + counts) - gammaln(alpha)).sum()
        )
        total += np.exp(chance + sum(logs[j, s] for j, s in enumerate(sequence)))
    assert shared(logs, alpha).log_evidence == pytest.approx(np.log(total), abs=1e-10)


def test_the_order_of_boards_does_not_matter():
    rng = np.random.default_rng(0)
    logs, alpha = rng.normal(0, 3, (12, 4)), np.array([0.5, 0.5, 1, 0.1])
    one, other = shared(logs, alpha), shared(logs[::-1], alpha)
    assert one.log_evidence == pytest.approx(other.log_evidence, abs=1e-9)
    assert one.states == pytest.approx(other.states)
    assert one.states.sum() == pytest.approx(1)


def test_a_state_of_count_zero_cannot_be():
    found = shared(np.log([[0.5, 0.2], [0.1, 0.3]]), np.array([2.0, 0.0]))
    assert found.log_evidence == pytest.approx(np.log(0.05))
    assert found.states.tolist() == [1, 0]
    assert shared(np.array([[-np.inf, 0.0]]), np.array([2.0, 0.0])).log_evidence == -np.inf


def test_readings_however_improbable_do_not_underflow():
    logs = np.tile([-900.0, -1000.0], (30, 1))
    assert shared(logs, np.array([1.0, 1.0])).log_evidence == pytest.approx(30 * -900 - np.log(31), abs=1e-6)


@pytest.mark.parametrize("seed", range(5))
def test_boards_beyond_counting_are_taken_nearly_as_well(seed, monkeypatch):
    rng = np.random.default_rng(seed)
    truth = rng.integers(0, 3, 25) % 2
    logs = np.log(np.where(truth[:, None] == np.arange(3), 0.8, 0.1))
    exact = shared(logs, np.full(3, 2 / 3))
    monkeypatch.setattr(groups_module, "MOST_COUNTS", 0)
    nearly = shared(logs, np.full(3, 2 / 3))
    assert nearly.log_evidence == pytest.approx(exact.log_evidence, abs=0.3)
    assert nearly.states == pytest.approx(exact.states, abs=0.1)


def test_what_fits_is_merged_and_what_does_not_stays_apart():
    # Two kinds of item; evidence is that of coins with an unknown chance: n! m! / (n + m + 1)! (Laplace).
    heads = (1, 1, 1, 1, 0, 0, 0, 0)

    def evidence(members):
        n, m = sum(heads[j] for j in members), sum(1 - heads[j] for j in members)
        return 3 * float(gammaln(n + 1) + gammaln(m + 1) - gammaln(n + m + 2))

    neutral = np.zeros((8, 8))
    assert agglomerate(8, evidence, neutral) == ((0, 1, 2, 3), (4, 5, 6, 7))
    assert len(agglomerate(8, evidence, neutral, concentration=1e6)) == 8
    assert len(agglomerate(8, evidence, np.full((8, 8), 50.0))) == 1
    assert agglomerate(0, evidence, np.zeros((0, 0))) == ()


def test_what_cannot_be_is_never_merged():
    assert agglomerate(2, lambda _: -np.inf, np.full((2, 2), 50.0)) == ((0,), (1,))


def unlisted_jobs(upset, seed, count, text, first=0):
    """Jobs recorded as no known fault, on boards that have these conditions upset."""
    rows = [
        np.where(np.arange(5)[:, None] == 4, [[0.05, 0.95] if g in upset else [0.97, 0.03]], table)
        for g, table in enumerate(SOUND.state_probabilities)
    ]
    other = replace(SOUND, states=tuple(row * 1e6 for row in rows), prior=np.array([0, 0, 0, 0, 1e6]))
    jobs = drawn_jobs(other, seed, count, share=0.95, confirmed=1.0)
    return [
        replace(job, number=f"{first + j:02d}", fault=UNLISTED, fault_text=text) for j, job in enumerate(jobs)
    ]


def grouped(jobs, candidates):
    """The group of each job; a job of no candidate is one of its own."""
    place = {job: k for k, one in enumerate(candidates) for job in one.jobs}
    return [place.get((job.shop, job.number), 100 + j) for j, job in enumerate(jobs)]


@pytest.mark.parametrize("seed", range(3))
def test_two_unlisted_faults_come_out_apart(seed):
    # Adjusted Rand index: Hubert & Arabie 1985, Journal of Classification 2, 193-218, by scikit-learn.
    jobs = unlisted_jobs((0, 3), 10 + seed, 8, "") + unlisted_jobs((2, 5), 20 + seed, 8, "", first=50)
    found = candidates_of(SOUND, cases_of(SOUND, jobs), jobs)
    assert adjusted_rand_score([0] * 8 + [1] * 8, grouped(jobs, found)) > 0.7


def test_a_candidate_says_what_it_is_like():
    jobs = unlisted_jobs((0, 3), 1, 8, "Other: antenna spring bent") + drawn_jobs(SOUND, 2, 40)[20:]
    jobs = [job for job in jobs if job.fault_text or job.fault != UNLISTED]
    (only,) = candidates_of(SOUND, cases_of(SOUND, jobs), jobs)
    assert (len(only.jobs), only.confirmed) == (8, 8)
    assert only.words == ("antenna", "bent", "spring")
    upset = {one.condition: one for one in only.signs if one.state == "s1"}
    assert set(upset) == {"g0", "g3"}
    assert all(one.probability > 0.5 > one.usual for one in upset.values())
    assert only.nearest in {"joint", "plug"}
    assert only.evidence > 2


def test_a_job_of_its_own_is_a_candidate_only_when_asked_for():
    jobs = unlisted_jobs((0, 3), 1, 1, "bent")
    cases = cases_of(SOUND, jobs)
    assert candidates_of(SOUND, cases, jobs) == ()
    (only,) = candidates_of(SOUND, cases, jobs, singles=True)
    assert (only.jobs, only.words) == ((("bench", "00"),), ())


def test_jobs_that_may_be_a_new_fault_join_those_that_are_confirmed():
    jobs = unlisted_jobs((0, 3), 1, 6, "")
    jobs[5] = replace(jobs[5], fault="via")
    odd = Outlier("bench", "05", Odd.NEW_FAULT, "via", 1e-4, 1e-3)
    cases = cases_of(SOUND, jobs)
    assert len(candidates_of(SOUND, cases, jobs)[0].jobs) == 5
    (only,) = candidates_of(SOUND, cases, jobs, outliers=[odd, replace(odd, number="01", kind=Odd.MISREAD)])
    assert (len(only.jobs), only.confirmed) == (6, 5)


def texts(*given):
    return [job_of(str(j), (), UNLISTED, fault_text=text) for j, text in enumerate(given)]


def test_the_same_words_speak_for_one_fault_and_other_words_hardly_against():
    factors = alike(texts("radio module M1901", "Module M1901 (radio)", "zzzz", "", "other"))
    assert factors[0, 1] == pytest.approx(np.log(10))
    assert factors[0, 2] == pytest.approx(-np.log(2))
    assert not factors[3:].any()


def test_words_tip_the_scales_where_readings_say_nothing():
    jobs = texts("antenna spring", "antenna spring", "cracked glass")
    (only,) = candidates_of(SOUND, cases_of(SOUND, jobs), jobs, concentration=2.0)
    assert [number for _, number in only.jobs] == ["0", "1"]


def test_words_of_a_known_fault_are_not_looked_at():
    assert words_of(job_of("1", (), "joint", fault_text="joint under L1")) == []
    assert words_of(texts("Sonstiges - Funkmodul M1901")[0]) == ["funkmodul", "m1901"]
    assert shared_words(texts("bent pin", "pin gone", "pin bent", "glass glass")) == ("pin", "bent")


def test_there_is_one_job_for_each_case():
    jobs = unlisted_jobs((0, 3), 1, 3, "")
    with pytest.raises(CasesError, match="2 found, 3 jobs, one for each case, expected"):
        candidates_of(SOUND, cases_of(SOUND, jobs), jobs[1:])


def test_candidates_go_to_json_and_back():
    jobs = unlisted_jobs((0, 3), 1, 5, "bent")
    found = candidates_of(SOUND, cases_of(SOUND, jobs), jobs)
    adapter = TypeAdapter(tuple[Candidate, ...])
    assert adapter.validate_json(adapter.dump_json(found)) == found
