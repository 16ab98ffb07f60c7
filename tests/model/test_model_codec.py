import copy
import json
from contextlib import suppress

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from random_models import random_cases, random_evidence, random_model

from benchlore.model import (
    Gate,
    ModelFormatError,
    Setup,
    Work,
    from_json,
    learn,
    model_of,
    named_check,
    posterior,
    to_json,
)


def data_of(seed=0):
    return to_json(random_model(seed))


def put(data, path, value):
    """Return a copy of the data with one place changed; ``None`` as value takes the place out."""
    changed = copy.deepcopy(data)
    inner = changed
    for step in path[:-1]:
        inner = inner[step]
    if value is None:
        del inner[path[-1]]
    else:
        inner[path[-1]] = value
    return changed


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_a_model_comes_back_exactly(seed):
    model = random_model(seed, zeros=True)
    data = to_json(model)
    again = from_json(json.loads(json.dumps(data, allow_nan=False)))
    assert to_json(again) == data
    np.testing.assert_array_equal(again.prior, model.prior)
    for mine, theirs in zip(again.states, model.states, strict=True):
        np.testing.assert_array_equal(mine, theirs)
    evidence = random_evidence(model, seed)
    np.testing.assert_array_equal(posterior(again, evidence).faults, posterior(model, evidence).faults)


def test_a_learned_model_comes_back_exactly():
    model = random_model(4)
    (learned,), _ = learn([model], random_cases([model], 4))
    data = to_json(learned)
    assert to_json(from_json(json.loads(json.dumps(data, allow_nan=False)))) == data


def test_setups_work_gates_and_worth_come_back():
    work = Work(3.0, 1.0, 0.01, (0,), ("multimeter",))
    setup = Setup("case-open", "Case open", Work(6.0))
    first = named_check("a", 0, np.eye(2), work=work)
    second = named_check("b", 0, np.eye(2), gates=[Gate(0, (1,), 0, negated=True), Gate(0, (0, 1))])
    model = model_of(
        [1, 1], [np.eye(2)], [first, second], setups=[setup], worth=180.0, retest=Work(3.0, 60.0)
    )
    again = from_json(json.loads(json.dumps(to_json(model))))
    assert again.setups == (setup,)
    assert again.checks[0].work == work
    assert again.checks[1].gates == second.gates
    assert (again.worth, again.retest) == (180.0, Work(3.0, 60.0))


def test_arrays_that_come_back_are_read_only_and_contiguous():
    model = from_json(data_of())
    for array in (
        model.prior,
        model.detects,
        model.every,
        *model.states,
        *(check.counts for check in model.checks),
    ):
        assert not array.flags.writeable
        assert array.flags.c_contiguous


def test_the_data_says_what_it_is():
    data = data_of()
    assert (data["format"], data["version"]) == ("benchlore-model", 1)


@pytest.mark.parametrize(
    ("path", "value", "message"),
    [
        (("format",), "recipe", r"model, format: 'recipe' found, 'benchlore-model' expected"),
        (("version",), 2, r"model, version: '2' found, 1 expected"),
        (("version",), "1", r"model, version: '1' found"),
        (("board",), None, r"model, board: .* Field required expected"),
        (("colour",), "red", r"model, colour: 'red' found"),
        (("faults",), [], r"model, faults: '\[\]' found"),
        (("faults", 0, "prior"), -1.0, r"model, faults\[0\].prior: '-1.0' found, greater than or equal to 0"),
        (("faults", 0, "prior"), "12", r"model, faults\[0\].prior: '12' found, number expected"),
        (("faults", 0, "prior"), True, r"model, faults\[0\].prior: 'True' found"),
        (("faults", 0, "prior"), float("inf"), r"model, faults\[0\].prior: 'inf' found, a finite number"),
        (("faults", 0, "prior"), float("nan"), r"model, faults\[0\].prior: 'nan' found"),
        (("faults", 1, "detects"), 1.5, r"model, faults\[1\].detects: '1.5' found"),
        (("faults", 1, "every"), -5.0, r"model, faults\[1\].every: '-5.0' found"),
        (
            ("faults", 1, "name"),
            "f0",
            r"model, faults\[1\]: 'f0' found, a name that is not used before expected",
        ),
        (
            ("conditions", 0, "counts"),
            [[1.0]],
            r"model, conditions\[0\].counts: '1 rows' found, 5 rows expected",
        ),
        (("conditions", 0, "counts", 2), [1.0], r"model, conditions\[0\].counts\[2\]: '1 numbers' found"),
        (("conditions", 0, "states", 1), "s0", r"model, conditions\[0\].states\[1\]: 's0' found"),
        (("checks", 1, "condition"), 9, r"model, checks\[1\].condition: '9' found, a place below 4 expected"),
        (("checks", 1, "condition"), -1, r"model, checks\[1\].condition: '-1' found"),
        (("checks", 1, "counts"), [], r"model, checks\[1\].counts: '0 rows' found"),
        (("checks", 1, "results", 1), "r0", r"model, checks\[1\].results\[1\]: 'r0' found"),
        (
            ("checks", 1, "work", "setups"),
            [0],
            r"model, checks\[1\].work.setups\[0\]: '0' found, a place below 0",
        ),
        (("checks", 1, "work", "ruins"), 2.0, r"model, checks\[1\].work.ruins: '2.0' found"),
        (
            ("checks", 1, "gates"),
            [{"check": 9, "results": [0], "state": 0, "negated": False}],
            r"model, checks\[1\].gates\[0\].check: '9' found, a place below 7",
        ),
        (
            ("checks", 1, "gates"),
            [{"check": 2, "results": [9], "state": 0, "negated": False}],
            r"model, checks\[1\].gates\[0\].results\[0\]: '9' found",
        ),
        (
            ("checks", 1, "gates"),
            [{"check": 2, "results": [0], "state": 9, "negated": False}],
            r"model, checks\[1\].gates\[0\].state\[0\]: '9' found",
        ),
        (("checks", 0, "numbers", "measure"), "smell", r"model, checks\[0\].numbers.measure: 'smell' found"),
        (("checks", 0, "numbers", "scale", 0), 0.0, r"model, checks\[0\].numbers.scale\[0\]: '0.0' found"),
        (("checks", 0, "numbers", "mean"), [], r"model, checks\[0\].numbers.mean: '0 rows' found"),
        (("checks", 0, "numbers", "slip"), 0.0, r"model, checks\[0\].numbers.slip: '0.0' found"),
        (("checks", 0, "numbers", "edges"), [], r"model, checks\[0\].numbers.edges: '0 edges' found"),
        (("fixes", 0, "cures", 0), [1.0], r"model, fixes\[0\].cures\[0\]: "),
        (("fixes", 0, "cures"), [], r"model, fixes\[0\].cures: '0 rows' found"),
        (("retest", "setups"), [4], r"model, retest.setups\[0\]: '4' found"),
    ],
)
def test_data_that_is_no_model_is_refused_with_the_place(path, value, message):
    with pytest.raises(ModelFormatError, match=message):
        from_json(put(data_of(), path, value))


def test_edges_must_increase():
    data = data_of()
    edges = data["checks"][0]["numbers"]["edges"]
    assert len(edges) > 1
    data["checks"][0]["numbers"]["edges"] = edges[::-1]
    with pytest.raises(ModelFormatError, match=r"checks\[0\].numbers.edges\[1\]: .* found, more than"):
        from_json(data)


@pytest.mark.parametrize("data", [None, 3, "model", [], {}, {"format": "benchlore-model"}])
def test_anything_else_is_refused(data):
    with pytest.raises(ModelFormatError, match="build the model anew from its book"):
        from_json(data)


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=6,
)


@settings(max_examples=60, deadline=None)
@given(st.data(), json_values)
def test_a_broken_model_never_gives_anything_but_a_format_error(draw, value):
    data = data_of()
    places = [(key,) for key in data] + [("checks", 0, key) for key in data["checks"][0]]
    places += [("checks", 0, "numbers", key) for key in data["checks"][0]["numbers"]]
    path = draw.draw(st.sampled_from(places))
    if value is not None:
        with suppress(ModelFormatError):
            from_json(put(data, path, value))
