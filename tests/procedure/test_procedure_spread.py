"""The range of what the rest of a job costs, against the procedure's own optimum and against hand-made chances."""

import numpy as np
import pytest

from benchlore.library import Bench, companion_of, init_library, plan_complaint
from benchlore.library.bench import situation_of
from benchlore.procedure.spread import JOBS, Spread


@pytest.fixture(scope="module")
def companion(tmp_path_factory):
    library = init_library(tmp_path_factory.mktemp("spread") / "library", title="Quay", board="my-board")
    plan_complaint(library, "my-board", "no-power")
    return companion_of(library, "my-board", "no-power")


def spread(companion, bench, seed=1):
    situation = situation_of(companion.model, companion.shop, bench)
    return companion.adviser.spread(situation, np.random.default_rng(seed)), companion.adviser.advise(
        situation
    )


@pytest.mark.parametrize(
    "bench",
    [
        Bench(),
        Bench(readings=(("rail-ohms", "2k2"),)),
        Bench(readings=(("rail-ohms", "3R3"),), failed=("replace-c5",)),
        Bench(readings=(("fuse-ohms", "unclear"),), skipped=("replace-c5",)),
    ],
)
def test_its_mean_is_what_the_advice_expects(companion, bench):
    found, advice = spread(companion, bench)
    assert advice.method == "exact"
    error = found.costs.std(ddof=1) / np.sqrt(JOBS)
    assert abs(found.mean - advice.best.expected) < 4 * error + 1e-9


def test_the_same_seed_gives_the_same_range(companion):
    one, again, other = (spread(companion, Bench(), seed)[0] for seed in (1, 1, 2))
    assert np.array_equal(one.costs, again.costs)
    assert not np.array_equal(one.costs, other.costs)


def test_where_nothing_can_be_done_the_return_is_certain(companion):
    parts = [*companion.model.checks, *companion.model.fixes]
    found, advice = spread(companion, Bench(skipped=tuple(part.name for part in parts)))
    assert found.low == found.high == pytest.approx(advice.best.expected)


def test_eight_of_ten_lie_in_the_range():
    found = Spread(np.arange(101.0))
    assert (found.low, found.high, found.mean) == (10.0, 90.0, 50.0)
