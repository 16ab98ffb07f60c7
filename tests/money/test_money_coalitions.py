"""Procedures compiled from some of the jobs, priced under the model of all of them."""

import numpy as np
import pytest

from benchlore.library import init_library
from benchlore.library.folder import sound_book_of, sound_shop_of
from benchlore.model import build
from benchlore.money import Coalition, coalition_costs, cost_of_declining, taught
from benchlore.money.coalitions import on_bands_of
from benchlore.procedure import Effort, instance_of, plan
from finished_jobs import finished_jobs


@pytest.fixture(scope="module")
def asked(tmp_path_factory):
    library = init_library(tmp_path_factory.mktemp("some") / "library", title="T", board="my-board")
    book, shop = sound_book_of(library, "my-board").book, sound_shop_of(library)
    models = tuple(build(book, name) for name in book.complaints)
    jobs = tuple(finished_jobs(40))
    return models, taught(models, jobs), jobs, shop


def costs(asked, jobs):
    models, full, _, shop = asked
    return coalition_costs(Coalition(models, full, tuple(jobs), (0,), shop, Effort.QUICK))[0]


def test_all_jobs_cost_what_their_own_plan_costs(asked):
    _, full, jobs, shop = asked
    assert costs(asked, jobs) == pytest.approx(plan(full[0], shop).expected, rel=1e-9)


def test_no_part_of_the_jobs_beats_the_optimum_of_all(asked):
    _, full, jobs, shop = asked
    best, declined = costs(asked, jobs), cost_of_declining(full[0], shop)
    rng = np.random.default_rng(2)
    for count in (0, 1, 3, 10, 25):
        some = rng.choice(len(jobs), count, replace=False)
        cost = costs(asked, [jobs[k] for k in some])
        assert cost >= best - 1e-9
        assert cost < declined


def test_a_model_on_other_bands_has_their_results_and_keeps_what_it_believes(asked):
    models, full, jobs, shop = asked
    own = taught(models, jobs[:3])[0]
    moved = on_bands_of(own, full[0])
    assert [check.results for check in moved.checks] == [check.results for check in full[0].checks]
    for check, before in zip(moved.checks, own.checks, strict=True):
        assert check.densities is before.densities
        np.testing.assert_allclose(check.counts.sum(axis=1), before.counts.sum(axis=1))
    np.testing.assert_array_equal(moved.prior, own.prior)
    assert instance_of(moved, shop).checks[0].results == instance_of(full[0], shop).checks[0].results
