import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchlore.procedure import ProcedureFormatError, from_json, solve_exact, to_json
from benchlore.procedure.graph import Title, procedure_of
from random_instances import random_instance


def procedure(seed=0):
    instance = random_instance(np.random.default_rng(seed), (5, 3, 4, 3))
    return procedure_of(instance, solve_exact(instance), Title("board", "complaint", "A shop", "EUR"))


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=20, deadline=None)
def test_what_was_written_is_read_back_to_the_last_bit(seed):
    made = procedure(seed)
    assert from_json(json.loads(json.dumps(to_json(made), allow_nan=False))) == made


def test_the_text_says_what_it_is():
    data = to_json(procedure())
    assert (data["format"], data["version"]) == ("benchlore-procedure", 1)
    assert list(data["steps"][0]) == [
        "kind",
        "action",
        "soak",
        "setups",
        "cost",
        "expected",
        "reach",
        "branches",
        "suspects",
    ]


def changed(change):
    data = json.loads(json.dumps(to_json(procedure())))
    change(data)
    return data


@pytest.mark.parametrize(
    ("change", "place"),
    [
        (lambda d: d.update(format="other"), "format"),
        (lambda d: d.update(version=2), "version"),
        (lambda d: d.update(steps=[]), "steps"),
        (lambda d: d.pop("bound"), "bound"),
        (lambda d: d.update(surplus=1), "surplus"),
        (lambda d: d.update(expected=-1.0), "expected"),
        (lambda d: d["steps"][0].update(kind="dance"), "steps.0.kind"),
        (lambda d: d["steps"][0].update(reach=1.5), "steps.0.reach"),
        (lambda d: d["steps"][0]["branches"][0].update(to=0), "a later step"),
        (lambda d: d["steps"][0]["branches"][0].update(to=10_000), "a later step"),
        (lambda d: d["steps"][0]["branches"].append(d["steps"][0]["branches"][0]), "each result once"),
        (lambda d: d["steps"][0].update(branches=[]), "none after a return"),
    ],
)
def test_what_is_no_procedure_is_refused_with_the_place(change, place):
    with pytest.raises(ProcedureFormatError, match=place.replace(".", r"\.")):
        from_json(changed(change))


@given(
    st.recursive(
        st.none() | st.booleans() | st.floats() | st.integers() | st.text(),
        lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    )
)
def test_any_data_is_a_procedure_or_a_format_error(data):
    with pytest.raises(ProcedureFormatError):
        from_json(data)
