"""A fingerprint tells values apart by what they say, and by nothing else."""

from collections.abc import Mapping
from copy import deepcopy
from dataclasses import dataclass, field, make_dataclass, replace
from enum import StrEnum

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlore.notation import fingerprint

PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text() | st.binary(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    max_leaves=12,
)


class Kind(StrEnum):
    """Fields of a book may be one of few words."""

    HOT = "hot"


@dataclass(frozen=True)
class Entry:
    """An entry of a book as a first version knows it."""

    name: str
    minutes: float = 5.0
    needs: frozenset[str] = frozenset()
    places: Mapping[str, str] = field(default_factory=dict)


Later = make_dataclass(
    "Entry",
    [
        ("colour", str, ""),
        ("minutes", float, 5.0),
        ("name", str, ""),
        ("needs", frozenset, frozenset()),
        ("people", tuple, ()),
        ("places", dict, field(default_factory=dict)),
    ],
)
"""The same entry as a later version knows it: more fields, in another order."""


@given(PLAIN)
def test_a_copy_has_the_same_fingerprint(value):
    assert fingerprint(deepcopy(value)) == fingerprint(value)


@given(PLAIN, PLAIN)
def test_only_what_says_the_same_has_the_same_fingerprint(one, other):
    assert fingerprint(one) != fingerprint(other) or near(one, other)


def near(one, other):
    """Whether two nested values differ at most in digits that do not count."""
    if isinstance(one, list):
        return len(one) == len(other) and all(map(near, one, other))
    if isinstance(one, dict):
        return list(one) == list(other) and all(map(near, one.values(), other.values()))
    return one == pytest.approx(other) if isinstance(one, int | float) else one == other


@pytest.mark.parametrize(
    "change",
    [{"name": "b"}, {"minutes": 6.0}, {"needs": frozenset({"meter"})}, {"places": {"A": "top"}}],
    ids=lambda change: next(iter(change)),
)
def test_every_field_counts(change):
    assert fingerprint(replace(Entry("a"), **change)) != fingerprint(Entry("a"))


def test_fields_that_a_later_version_adds_do_not_count_until_they_are_used():
    said = {"name": "a", "minutes": 6.0, "needs": frozenset({"meter", "iron"}), "places": {"A": "top"}}
    assert fingerprint(Later(**said)) == fingerprint(Entry(**said))
    assert fingerprint(Later(**said, colour="red")) != fingerprint(Entry(**said))


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ((1, 2), [1.0, 2.0]),
        ({"b", "a", "c"}, frozenset({"c", "b", "a"})),
        (Kind.HOT, "hot"),
        (-0.0, 0),
        (0.1 + 0.2, 0.3),
        (bytearray(b"x"), b"x"),
    ],
    ids=["list", "set", "enum", "zero", "digits", "bytes"],
)
def test_what_says_the_same_is_equal(one, other):
    assert fingerprint(one) == fingerprint(other)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("1", 1),
        (b"1", "1"),
        (None, "None"),
        (True, 1),
        ({}, []),
        (["a", "b"], ["b", "a"]),
        (["ab"], ["a", "b"]),
        ({"a": 1, "b": 2}, {"b": 2, "a": 1}),
        (0.3, 0.300000002),
        (10**400, 10**400 + 1),
        (float("inf"), float("-inf")),
        (Entry("a"), {"name": "a"}),
        ("\ud800", "\ud801"),
    ],
    ids=repr,
)
def test_what_differs_differs(one, other):
    assert fingerprint(one) != fingerprint(other)


def test_what_no_text_tells_whole_is_refused():
    with pytest.raises(TypeError, match="no fingerprint of a object"):
        fingerprint([object()])
