from dataclasses import replace

import numpy as np
import pytest

from benchlore.model import (
    Work,
    exact_densities,
    fix_of,
    information_lost,
    model_of,
    named_check,
    numeric_check,
)
from benchlore.procedure import band_losses, cannot_do, plan
from benchlore.procedure.pricing import instance_of
from benchlore.shop import Shop
from benchlore.units import Measure

SHOP = Shop(
    "Werkbank", "EUR", hour=60.0, waiting_hour=6.0, worth_otherwise=150.0, instruments=frozenset({"meter"})
)


def board():
    """A rail read by a meter and by a camera; two faults, an unlisted one, and a fix for each but the last."""
    volts = exact_densities(Measure.VOLTAGE, np.array([3.3, 2.9]), [0.2, 0.2], over=[0.002, 0.002])
    return model_of(
        [0.5, 0.45, 0.05],
        [[[0.95, 0.05], [0.1, 0.9], [0.5, 0.5]]],
        [
            numeric_check("volts", 0, volts, work=Work(0.2, equipment=("meter",))),
            named_check("glow", 0, [[0.9, 0.1], [0.1, 0.9]], work=Work(1.0, equipment=("camera", "meter"))),
        ],
        [
            fix_of("swap", [0.9, 0.0, 0.0], work=Work(20.0)),
            fix_of("reball", [0.0, 0.9, 0.0], work=Work(30.0, equipment=("bga",))),
            fix_of("patch", [0.0, 0.8, 0.0], work=Work(35.0)),
            fix_of("pray", [0.0, 0.0, 0.0], work=Work(1.0)),
        ],
    )


def test_what_cannot_be_done_stands_under_what_it_would_need():
    assert cannot_do(board(), SHOP) == {"needs camera": ("glow",), "needs bga": ("reball",)}


def test_a_fix_with_many_soaks_is_lacking_once():
    caught = np.full(3, 1 - np.exp(-32 / 40))
    rare = replace(board(), every=np.full(3, 40.0), detects=caught, retest=Work(2.0, waits=30.0))
    assert len({fix.soak for fix in instance_of(rare, SHOP).fixes}) > 1
    assert cannot_do(rare, SHOP) == {"needs camera": ("glow",), "needs bga": ("reball",)}


def test_a_fix_that_cures_nothing_is_not_the_shops_lack():
    assert "pray" not in {name for names in cannot_do(board(), SHOP).values() for name in names}


def test_only_checks_that_are_made_lose_by_their_bands():
    model = board()
    procedure = plan(model, SHOP)
    taken = sum(step.reach for step in procedure.steps if step.action == "volts")
    (loss,) = band_losses(model, procedure)
    assert (loss.check, loss.taken) == ("volts", pytest.approx(taken))
    marginal = model.fault_probabilities @ model.state_probabilities[0]
    assert loss.lost == pytest.approx(information_lost(model.checks[0], marginal / 2 + 0.25))
    assert 0 < loss.lost < 0.2


def test_a_procedure_of_one_return_loses_nothing():
    model = board()
    assert band_losses(model, plan(model, SHOP, steps=1)) == ()
