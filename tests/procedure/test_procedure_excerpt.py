import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchlore.procedure import RELEASE, Cost, Done, Kind, Procedure, Step, solve_exact, trimmed
from benchlore.procedure.graph import Title, procedure_of
from random_instances import random_instance

TITLE = Title("board", "complaint", "shop", "EUR")
seeds = st.integers(0, 10_000)


def compiled(seed):
    instance = random_instance(np.random.default_rng(seed), (7, 5, 7, 5))
    return procedure_of(instance, solve_exact(instance), TITLE)


@given(seeds, st.sampled_from([0.0, 0.01, 0.1, 0.5]), st.sampled_from([None, 1, 4, 12]))
@settings(max_examples=16, deadline=None)
def test_an_excerpt_keeps_whole_ways_and_counts_what_leaves_them(seed, cut, most):
    procedure = compiled(seed)
    excerpt = trimmed(procedure, cut, most)
    kept = {step.number for step in excerpt.steps}
    assert 0 in kept
    assert most is None or len(kept) <= most
    assert not kept & excerpt.cut
    onwards = {to for step in excerpt.steps for to in step.branches.values() if to >= 0}
    assert onwards | {0} == kept | excerpt.cut
    assert all(step.reach >= cut for step in excerpt.steps[1:])
    ended = sum(
        step.reach * (1 if not step.branches else step.chances.get("gone", 0.0)) for step in excerpt.steps
    )
    returned = sum(
        step.reach * step.chances[result]
        for step in excerpt.steps
        for result, to in step.branches.items()
        if to in excerpt.cut and procedure.steps[to].kind is Kind.RETURN
    )
    assert ended + returned + excerpt.beyond >= 1 - 1e-9
    if cut == 0.0 and most is None:
        assert excerpt.steps == procedure.steps
        assert excerpt.beyond == 0.0


@given(seeds, st.integers(1, 20))
@settings(max_examples=20, deadline=None)
def test_one_step_more_adds_the_one_that_most_jobs_reach(seed, most):
    procedure = compiled(seed)
    excerpt, larger = trimmed(procedure, steps=most), trimmed(procedure, steps=most + 1)
    assert len(excerpt.steps) == min(most, len(procedure.steps))
    assert {step.number for step in excerpt.steps} <= {step.number for step in larger.steps}
    if excerpt.cut:
        most_reached = max(procedure.steps[number].reach for number in excerpt.cut)
        assert [step.reach for step in larger.steps if step not in excerpt.steps] == [most_reached]


def test_a_step_that_just_enough_jobs_reach_is_printed():
    procedure = compiled(8)
    reached = max((step for step in procedure.steps[1:]), key=lambda step: step.reach)
    assert reached.number in {step.number for step in trimmed(procedure, reached.reach).steps}
    assert len(trimmed(procedure, 1.1).steps) == 1


def step(number, kind, action, reach, branches, chances):
    return Step(number, kind, action, (), Cost(), 1.0, reach, branches, chances, ())


def test_a_way_out_names_what_all_ways_there_have_done():
    """look: red leads to weigh, green to smell and then to weigh; weigh leads to a fix, that to smoke."""
    check, fix = Kind.CHECK, Kind.FIX
    steps = (
        step(0, check, "look", 1.0, {"red": 2, "green": 1}, {"red": 0.5, "green": 0.5}),
        step(1, check, "smell", 0.5, {"yes": 2, "no": 4}, {"yes": 0.8, "no": 0.2}),
        step(2, check, "weigh", 0.9, {"light": 3, "heavy": 5}, {"light": 0.5, "heavy": 0.5}),
        step(3, fix, "glue", 0.45, {"still there": 5, "gone": RELEASE}, {"still there": 0.5, "gone": 0.5}),
        step(4, check, "listen", 0.1, {"a": 5, "b": 5}, {"a": 0.5, "b": 0.5}),
        step(5, check, "smoke", 0.55, {"a": 6, "b": 6}, {"a": 0.5, "b": 0.5}),
        step(6, Kind.RETURN, "", 0.55, {}, {}),
    )
    procedure = Procedure("b", "c", "s", "EUR", steps, 1.0, 1.0, "optimal", "", "")
    ways = {(way.step, way.result): way for way in trimmed(procedure, steps=2).exits}
    assert set(ways) == {(0, "green"), (2, "light"), (2, "heavy")}
    assert ways[0, "green"].known == ()
    assert ways[0, "green"].is_only_way
    assert ways[2, "light"].known == ()
    assert not ways[2, "light"].is_only_way
    assert ways[2, "light"].share == pytest.approx(0.45)
    three = {(way.step, way.result): way for way in trimmed(procedure, 0.5).exits}
    assert three[2, "light"].known == ()
    glued = trimmed(procedure, 0.2)
    assert {(way.step, way.result) for way in glued.exits} == {(1, "no")}
    assert glued.exits[0].known == (Done(check, "look", "green"),)
    assert glued.exits[0].is_only_way
    assert glued.beyond == pytest.approx(0.1)
