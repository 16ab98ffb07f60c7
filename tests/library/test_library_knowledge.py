import doctest
import importlib

import numpy as np
import pytest
from scipy import stats

from benchlore.book import UNLISTED
from benchlore.jobs import Job, Outcome, Store
from benchlore.library import knowledge, learn_board
from benchlore.library.knowledge import share_of
from benchlore.units import Measure


@pytest.fixture
def known(library):
    return knowledge(library, "my-board")


def test_the_interval_of_a_share_is_that_of_draws_from_the_dirichlet():
    """Against sampling: the marginal of a Dirichlet is Beta (Gelman et al. 2013, appendix A)."""
    counts = np.array([12.0, 5.0, 2.5])
    draws = np.random.default_rng(1).dirichlet(counts, size=200_000)
    for k, count in enumerate(counts):
        share = share_of(float(count), float(counts.sum()))
        low, high = np.quantile(draws[:, k], [0.025, 0.975])
        assert share.value == pytest.approx(draws[:, k].mean(), abs=2e-3)
        assert (share.low, share.high) == pytest.approx((low, high), abs=3e-3)


def test_the_interval_is_that_of_the_bayes_estimate_of_a_proportion():
    """8 of 10 with a uniform prior: Beta(9, 3), as scipy's own quantiles give it."""
    share = share_of(9.0, 12.0)
    assert (share.low, share.high) == pytest.approx(stats.beta.ppf([0.025, 0.975], 9, 3))


def test_the_example_of_a_share_gives_what_it_shows():
    assert doctest.testmod(importlib.import_module("benchlore.library.knowledge")) == (0, 2)


def test_a_share_of_nothing_and_of_all():
    assert share_of(0.0, 10.0).high == 0.0
    assert share_of(10.0, 10.0).low == 1.0


def test_faults_come_by_share_with_unlisted_among_them_and_sum_to_one(known):
    (complaint,) = known.complaints
    shares = [fault.share.value for fault in complaint.faults]
    assert shares == sorted(shares, reverse=True)
    assert sum(shares) == pytest.approx(1.0)
    assert UNLISTED in {fault.name for fault in complaint.faults}
    assert all(f.share.low <= f.share.value <= f.share.high for f in complaint.faults)


def test_the_experts_boards_add_up(known):
    (complaint,) = known.complaints
    assert sum(fault.seen for fault in complaint.faults) == complaint.seen


def test_confirmed_jobs_are_counted_and_untaught_ones_are_said(library):
    learn_board(library, "my-board")
    jobs = [
        Job("Quay", str(k), "my-board", "no-power", outcome=Outcome.REPAIRED, fault=fault)
        for k, fault in enumerate(["c5-short", "c5-short", UNLISTED, None])
    ]
    with Store.open(library.store) as store:
        store.add(jobs)
    known = knowledge(library, "my-board")
    (complaint,) = known.complaints
    assert {f.name: f.confirmed for f in complaint.faults if f.confirmed} == {"c5-short": 2, UNLISTED: 1}
    assert complaint.confirmed == 3
    assert (known.jobs, known.stored, known.stale) == (0, 4, ("the recorded jobs",))


def test_a_changed_book_is_known_from_the_book_alone(library):
    learn_board(library, "my-board")
    path = library.book_file("my-board")
    path.write_text(path.read_text() + "\n# a remark\n")
    assert knowledge(library, "my-board").stale == ()


def test_cells_are_the_chances_of_states(known):
    for row in known.effects:
        assert len(row.cells) == len(known.conditions)
        for cell in row.cells:
            assert sum(part for _, part in cell.states) == pytest.approx(1.0)
            assert cell.off == pytest.approx(1 - cell.states[0][1])
    short = next(row for row in known.effects if row.fault == "c5-short")
    assert max(cell.strongest[1] for cell in short.cells) > 0.5


def test_curves_rise_to_one_and_cover_their_means(known):
    check = next(check for check in known.checks if check.measure is Measure.RESISTANCE)
    assert check.is_logarithmic
    for curve in check.curves:
        readings = [reading for reading, _ in curve.points]
        assert readings == sorted(readings)
        assert max(height for _, height in curve.points) == pytest.approx(1.0)
