from dataclasses import replace
from math import nan

import numpy as np
import pytest

from benchlore.model import Gate
from benchlore.procedure import (
    CheckOption,
    ComebackTooCheapError,
    Cost,
    FixOption,
    Instance,
    InvalidInstanceError,
    SetupOption,
    instance_from_dict,
    solve_exact,
)

SOUND = Instance(
    faults=("joint", "via"),
    prior=np.array([0.6, 0.4]),
    tables=(np.eye(2),),
    checks=(CheckOption("volts", 0, ("low", "high"), np.eye(2), Cost(hands_on=3.0)),),
    fixes=(FixOption("reflow", np.array([0.9, 0.0]), Cost(hands_on=10.0)),),
    setups=(SetupOption("open", Cost(setups=6.0), 1),),
    give_up=100.0,
    comeback=120.0,
)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"faults": (), "prior": np.ones(0)}, r"faults: 0 found, at least one fault"),
        ({"prior": np.array([0.6, 0.6])}, r"prior: 1\.2 found, a sum of 1"),
        ({"prior": np.array([1.4, -0.4])}, r"prior: \[1\.4, -0\.4\] found, probabilities"),
        ({"prior": np.array([nan, 1.0])}, r"prior: .*probabilities"),
        ({"prior": np.ones(1)}, r"prior: \(1,\) found, one number for each of 2 faults"),
        (
            {"fixes": (replace(SOUND.fixes[0], detects=np.array([0.5, 2.0])),)},
            r"fix 'reflow': \[0\.5, 2\.0\] found, a probability of detection for each fault",
        ),
        (
            {"fixes": (replace(SOUND.fixes[0], detects=np.ones(3)),)},
            r"fix 'reflow': .* a probability of detection for each fault",
        ),
        ({"fixes": (replace(SOUND.fixes[0], soak=-5.0),)}, r"fix 'reflow': -5\.0 found, a soak in minutes"),
        ({"fixes": SOUND.fixes * 2}, r"fix 'reflow': 0\.0 found, each soak once"),
        (
            {"fixes": (*SOUND.fixes, replace(SOUND.fixes[0], soak=30.0, cures=np.ones(2)))},
            r"fix 'reflow': 'soak 30\.0' found, the same cures, setups and gates as with its other soaks",
        ),
        (
            {"tables": (np.ones((3, 1)),)},
            r"condition 0: \(3, 1\) found, a row of states for each of 2 faults",
        ),
        ({"tables": (np.full((2, 2), 0.4),)}, r"condition 0: .* sum to 1"),
        ({"give_up": nan}, r"cost of return: nan found, a finite amount"),
        ({"comeback": -1.0, "give_up": 0.0}, r"cost of comeback: -1\.0 found"),
        (
            {"checks": (replace(SOUND.checks[0], condition=4),)},
            r"check 'volts': 4 found, one of 1 conditions",
        ),
        (
            {"checks": (replace(SOUND.checks[0], results=("a",)),)},
            r"check 'volts': \(2, 2\) found, a table of",
        ),
        ({"checks": (replace(SOUND.checks[0], table=np.full((2, 2), 0.4)),)}, r"check 'volts': .* sum to 1"),
        ({"checks": (replace(SOUND.checks[0], cost=Cost(waiting=-1.0)),)}, r"check 'volts': .* not negative"),
        (
            {"checks": (replace(SOUND.checks[0], setups=2),)},
            r"check 'volts': 2 found, setups of this problem",
        ),
        (
            {"checks": (replace(SOUND.checks[0], gates=(Gate(3, (0,)),)),)},
            r"only after: 3 found, one of 1 checks",
        ),
        (
            {"fixes": (replace(SOUND.fixes[0], gates=(Gate(0, (7,)),)),)},
            r"only after: \(7,\) found, results of",
        ),
        ({"fixes": (replace(SOUND.fixes[0], cures=np.array([1.2, 0.0])),)}, r"fix 'reflow': .* of cure"),
        ({"setups": (SetupOption("open", Cost(), 8),)}, r"setup 'open': 8 found, needs among the setups"),
        ({"setups": (SetupOption("open", Cost(), 1),) * 63}, r"setups: 63 found, at most 62"),
    ],
)
def test_what_makes_no_sense_is_refused_by_place(change, message):
    with pytest.raises(InvalidInstanceError, match=message):
        replace(SOUND, **change)


def test_a_comeback_below_a_return_is_refused():
    with pytest.raises(ComebackTooCheapError, match=r"to at least 100\.00"):
        replace(SOUND, comeback=99.0)


def test_checks_that_wait_for_each_other_or_for_an_excluded_one_are_never_open():
    def check(name, *gates, excluded=""):
        return replace(
            SOUND.checks[0], name=name, gates=tuple(Gate(g, (0,)) for g in gates), excluded=excluded
        )

    waiting = replace(
        SOUND,
        checks=(
            check("a", 1),
            check("b", 0),
            check("c", excluded="done"),
            check("d", 2),
            check("e"),
            check("f", 4),
        ),
        fixes=tuple(replace(SOUND.fixes[0], name=f"on-{c}", gates=(Gate(c, (0,)),)) for c in range(6)),
    )
    assert waiting.open_checks == (4, 5)
    assert waiting.open_fixes == (4, 5)


PLAIN = {
    "faults": [{"id": "joint", "prior": 0.6}, {"prior": 0.4}],
    "setups": [{"minutes": 4, "after": [1]}, {"id": "open", "minutes": 6}],
    "conditions": [{"p": [[1, 0], [0, 1]]}],
    "checks": [{"condition": 0, "minutes": 3, "setups": [0], "p": [[1, 0], [0, 1]]}],
    "fixes": [
        {"id": "reflow", "cost": 10, "verify": 2, "rho": [0.9, 0], "gates": [{"check": 0, "results": [0]}]}
    ],
    "detect": [1, 1],
    "give_up": 100,
    "comeback": 120,
}


def test_the_plain_form_is_read_whole():
    instance = instance_from_dict(PLAIN)
    assert instance.faults == ("joint", "f1")
    assert instance.setups_in(0b11) == ("open", "u0")
    assert instance.checks[0].setups == 0b11
    assert instance.fixes[0].gates == (Gate(0, (0,)),)
    assert instance.fixes[0].cost == Cost(hands_on=10.0, retest=2.0)
    # 13 for setups and check; joint: 12, and one in ten goes back; via: goes back.
    assert solve_exact(instance).expected == pytest.approx(13 + 0.6 * (12 + 0.1 * 100) + 0.4 * 100)


def test_a_plain_fix_may_have_a_choice_of_soaks():
    soaks = [
        {"minutes": 0, "verify": 2, "detect": [0.5, 1]},
        {"minutes": 30, "verify": 5, "detect": [0.9, 1]},
    ]
    plain = {key: value for key, value in PLAIN["fixes"][0].items() if key != "verify"}
    short, long = instance_from_dict({**PLAIN, "fixes": [{**plain, "soaks": soaks}]}).fixes
    assert (short.name, short.soak, short.cost.retest) == ("reflow", 0.0, 2.0)
    assert (long.name, long.soak, long.cost.retest) == ("reflow", 30.0, 5.0)
    np.testing.assert_array_equal([short.detects, long.detects], [[0.5, 1], [0.9, 1]])
    assert short.gates == long.gates == (Gate(0, (0,)),)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"faults": [{"id": "f0"}]}, r"problem: \"no 'prior'\" found, all fields"),
        ({"checks": 3}, r"problem: .* the plain form"),
        (
            {"fixes": [{"cost": 1, "verify": 1, "rho": [0.5, 0.5], "setups": [9]}]},
            r"problem: .* the plain form",
        ),
        ({"faults": [{"prior": 0.6}, {"prior": 0.3}]}, r"prior: .* a sum of 1"),
    ],
)
def test_a_broken_plain_form_is_refused(change, message):
    with pytest.raises(InvalidInstanceError, match=message):
        instance_from_dict({**PLAIN, **change})
