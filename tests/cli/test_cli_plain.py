import json
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from math import inf, nan
from pathlib import Path

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from benchlore.cli.plain import plain


class Colour(StrEnum):
    COPPER = "copper"


@dataclass(frozen=True)
class Inner:
    values: tuple[float, ...]


@dataclass(frozen=True)
class Outer:
    inner: Inner
    names: frozenset[str]
    colour: Colour
    where: Path
    when: date


def test_values_become_plain_data_by_field():
    outer = Outer(Inner((1.5, inf)), frozenset({"b", "a"}), Colour.COPPER, Path("x/y"), date(2026, 2, 3))
    assert plain(outer) == {
        "inner": {"values": [1.5, "OL"]},
        "names": ["a", "b"],
        "colour": "copper",
        "where": "x/y",
        "when": "2026-02-03",
    }


def test_arrays_and_missing_numbers_have_a_json_form():
    assert plain({"a": np.array([1, 2]), "b": nan, "c": np.float64(0.5), 3: -inf}) == {
        "a": [1, 2],
        "b": None,
        "c": 0.5,
        "3": "-OL",
    }


@given(
    st.recursive(
        st.none() | st.booleans() | st.floats() | st.text() | st.integers(),
        lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner) | st.tuples(inner, inner),
    )
)
def test_whatever_is_plain_is_json(value):
    json.dumps(plain(value), allow_nan=False)
