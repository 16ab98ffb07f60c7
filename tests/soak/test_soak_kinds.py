"""Kinds of records: each test against a published example or scipy, and how often chance is called a pattern."""

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats
from statsmodels.stats.multitest import multipletests

from benchlore.book import OTHERS, RECORD_KINDS
from benchlore.soak import (
    Covariate,
    NumberError,
    Pattern,
    RestartRecord,
    beat,
    dispersion,
    find_kind,
    holm,
    poisson_regression,
    rayleigh,
    record_of,
    spacing,
    tie,
)


def test_rayleigh_of_leaning_trees():
    # J. H. Zar, Biostatistical Analysis: n = 8, r = 0.825218, z = 5.448, 0.001 < P < 0.002.
    found = rayleigh(np.array([45, 55, 81, 96, 110, 117, 132, 154]) / 360)
    assert (found.length, found.phase * 360) == pytest.approx((0.825218, 98.9878), abs=1e-4)
    assert found.z == pytest.approx(5.447875, abs=1e-6)
    assert found.p == pytest.approx(0.001852, abs=1e-6)  # Greenwood and Durand's approximation


@pytest.mark.parametrize("n", [2, 3, 5, 9])
def test_the_exact_chance_of_even_intervals_is_what_draws_give(n):
    rng = np.random.default_rng(n)
    drawn = rng.standard_exponential((200_000, n))
    variations = drawn.std(axis=1) / drawn.mean(axis=1)
    level = 0.9 / np.sqrt(n - 1)
    one = drawn[np.argmin(abs(variations - level))]
    found = spacing(one)
    share = float((variations <= found.variation).mean())
    assert found.even == pytest.approx(share, abs=4 * np.sqrt(share / 200_000) + 1e-5)


def test_two_intervals_are_as_even_as_they_differ_little():
    # Two shares of a broken stick: the coefficient of variation is uniform.
    assert spacing(np.array([180.0, 182.0])).even == pytest.approx(2 / 362)


def test_many_random_intervals_are_neither_even_nor_uneven():
    found = spacing(np.random.default_rng(5).exponential(1.0, 600))
    assert found.even > 0.05 < found.uneven


def test_dispersion_is_scipys_chi_square():
    times = np.random.default_rng(2).uniform(0, 100, 40)
    found = dispersion(times, 100.0)
    counts = np.histogram(times, bins=found.windows, range=(0, 100))[0]
    assert found.bursts == pytest.approx(stats.chisquare(counts).pvalue)


def test_poisson_regression_is_statsmodels():
    rng = np.random.default_rng(4)
    x, exposure = rng.normal(size=60), rng.uniform(0.5, 3, 60)
    counts = rng.poisson(exposure * np.exp(0.3 + 0.7 * x)).astype(float)
    design = np.column_stack([np.ones(60), x])
    mine = poisson_regression(counts, exposure, design)
    theirs = sm.GLM(counts, design, family=sm.families.Poisson(), offset=np.log(exposure)).fit()
    assert mine.coefficients == pytest.approx(theirs.params, rel=1e-7)
    assert mine.deviance == pytest.approx(theirs.deviance, rel=1e-9)


def test_holm_is_statsmodels():
    values = np.random.default_rng(1).uniform(0, 0.2, 7).tolist()
    assert holm(values) == pytest.approx(multipletests(values, method="holm")[1])


def supervisor(rng, count=12):
    return record_of(np.cumsum(182 + rng.normal(0, 0.8, count)))


def test_a_supervisor_is_a_clock():
    found = find_kind(supervisor(np.random.default_rng(1)))
    assert found.pattern is Pattern.FIXED
    assert found.period == pytest.approx(182, abs=1)
    assert found.said[0].startswith("By a clock: every 3 min")


def test_a_clock_that_leaves_beats_out_is_a_clock():
    rng = np.random.default_rng(8)
    beats = np.flatnonzero(rng.random(60) < 0.5) + 1
    record = record_of(beats * 240.0 + rng.normal(0, 4, len(beats)))
    found = find_kind(record)
    assert found.pattern is Pattern.FIXED
    assert found.period == pytest.approx(240, rel=0.01)
    assert "some beats left out" in found.said[0]


def test_heat_that_builds_up_is_roughly_even():
    rng = np.random.default_rng(3)
    found = find_kind(record_of(np.cumsum(rng.gamma(12, 100, 25))))
    assert found.pattern is Pattern.ROUGH
    assert found.period == pytest.approx(1200, rel=0.2)


def test_events_in_heaps_are_bursts():
    rng = np.random.default_rng(6)
    times = np.concatenate(
        [start + rng.uniform(0, 60, 5) for start in (1000, 9000, 16000, 31000, 37000, 39000)]
    )
    assert find_kind(record_of(np.sort(times), 43_000.0)).pattern is Pattern.BURSTS


@pytest.mark.parametrize(("power", "pattern"), [(0.35, Pattern.RARER), (2.6, Pattern.OFTENER)])
def test_wearing_in_and_out(power, pattern):
    times = 10_000 * ((np.arange(24) + np.random.default_rng(2).uniform(0.2, 0.8, 24)) / 24) ** (1 / power)
    assert find_kind(record_of(times, 10_000.0)).pattern is pattern


def warm(words=(), seed=5):
    """An hour cool, an hour warm, and so on; five times as often when warm."""
    rng = np.random.default_rng(seed)
    hours = np.arange(0, 24 * 3600, 3600.0)
    is_warm = np.arange(24) % 2 == 1
    events = [
        h + rng.uniform(0, 3600)
        for h, hot in zip(hours, is_warm, strict=True)
        for _ in range(4 if hot else rng.random() < 0.7)
    ]
    values = is_warm.astype(float) if words else np.where(is_warm, 45.0, 20.0)
    return RestartRecord(np.sort(events), ((0.0, 24 * 3600.0),), (Covariate("case", hours, values, words),))


def test_a_rate_that_follows_the_temperature_is_tied_to_it():
    found = find_kind(warm())
    assert found.pattern is Pattern.TIED
    assert found.tie is not None
    assert (found.tie.from_, found.tie.to) == (20.0, 45.0)
    assert 2.5 < found.tie.factor < 12
    assert found.said[0].startswith("Tied to case:")


def test_a_rate_that_follows_a_word_is_tied_to_it():
    found = find_kind(warm(("cool", "warm")))
    assert found.tie is not None
    rates = dict(found.tie.levels)
    assert rates["warm"] > 2.5 * rates["cool"]


def test_a_tie_is_judged_by_the_likelihood_ratio_of_statsmodels():
    record = warm()
    found = tie(record, record.covariates[0])
    assert found is not None
    hours = np.arange(24)
    counts = np.histogram(record.events, bins=24, range=(0, 24 * 3600))[0]
    design = sm.add_constant(np.where(hours % 2 == 1, 45.0, 20.0))
    fit = sm.GLM(counts, design, family=sm.families.Poisson()).fit()
    assert found.statistic == pytest.approx(fit.null_deviance - fit.deviance, rel=1e-7)


def test_a_covariate_that_never_changes_tells_nothing():
    record = RestartRecord(
        np.arange(1.0, 9.0), ((0.0, 10.0),), (Covariate("x", np.array([0.0]), np.array([3.0])),)
    )
    assert tie(record, record.covariates[0]) is None


@pytest.mark.parametrize(("count", "draws"), [(3, 2000), (7, 400), (16, 200)])
def test_chance_is_called_a_pattern_as_seldom_as_stated(count, draws):
    rng = np.random.default_rng(count)
    found = [find_kind(record_of(np.sort(rng.uniform(0, 1000, count)), 1000.0)).pattern for _ in range(draws)]
    plain = {Pattern.RANDOM, Pattern.TOO_FEW}
    wrong = sum(pattern not in plain for pattern in found) / draws
    assert wrong <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / draws)
    assert sum(pattern is Pattern.FIXED for pattern in found) / draws <= wrong


def test_a_beat_is_seen_in_random_events_as_seldom_as_stated():
    rng = np.random.default_rng(9)
    found = [beat(np.sort(rng.uniform(0, 1000, 15))).p for _ in range(300)]
    assert np.mean(np.array(found) < 0.05) <= 0.075


def test_few_events_carry_their_warning():
    found = find_kind(record_of(np.array([10.0, 300.0, 350.0, 900.0]), 1000.0))
    assert "With 4 events only a strong pattern shows" in found.said[-1]
    alone = find_kind(record_of(np.array([10.0]), 1000.0))
    assert any(said.startswith("With 1 event only a strong pattern shows") for said in alone.said)


def test_a_record_without_events_is_too_few():
    found = find_kind(record_of(np.array([]), 3600.0))
    assert found.pattern is Pattern.TOO_FEW
    assert found.tests == ()


def test_time_off_is_no_interval_and_no_time_watched():
    record = RestartRecord(np.array([10.0, 20.0, 110.0, 130.0]), ((0.0, 30.0), (100.0, 140.0)))
    assert record.watched == 70
    assert record.intervals.tolist() == [10.0, 20.0]
    assert record.times.tolist() == [10.0, 20.0, 40.0, 60.0]


@pytest.mark.parametrize(
    "call",
    [
        lambda: spacing(np.array([1.0])),
        lambda: spacing(np.zeros(3)),
        lambda: rayleigh(np.array([0.1])),
        lambda: beat(np.arange(4.0)),
        lambda: dispersion(np.arange(7.0), 10.0),
    ],
)
def test_too_few_events_are_refused(call):
    with pytest.raises(NumberError):
        call()


def test_books_and_records_have_the_same_kinds():
    assert set(RECORD_KINDS) - {OTHERS} == set(Pattern) - {Pattern.TOO_FEW}
