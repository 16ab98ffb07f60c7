"""Setups in the order of making them, and circles among them."""

from graphlib import TopologicalSorter

from hypothesis import given
from hypothesis import strategies as st

from benchlore.book.bench import Bench, circles

NAMES = st.sampled_from("abcdefg")
BEFORE = st.dictionaries(NAMES, st.lists(NAMES, max_size=3), max_size=7)


def test_what_comes_before_is_made_first_and_once():
    bench = Bench({"a": (), "b": ("a",), "c": ("a",), "d": ("b", "c")}, {})
    assert bench.closed(["d", "b"]) == ("a", "b", "c", "d")


def test_a_name_that_nobody_has_is_passed_over():
    assert Bench({"a": ("ghost",)}, {}).closed(["a", "spectre"]) == ("a",)


def test_a_long_chain_does_not_trip_over_its_length():
    chain = {f"s{number}": (f"s{number - 1}",) if number else () for number in range(5000)}
    assert Bench(chain, {}).closed(["s4999"])[0] == "s0"
    assert circles(chain) == []


def test_each_circle_is_named():
    assert circles({"a": ["b"], "b": ["a"], "c": ["c"], "d": ["a"]}) in (
        [("a", "b"), ("c",)],
        [("b", "a"), ("c",)],
        [("c",), ("a", "b")],
        [("c",), ("b", "a")],
    )


@given(BEFORE)
def test_there_is_a_circle_exactly_where_no_order_exists(before):
    # The standard library's topological sorter is the reference.
    known = {name: [each for each in names if each in before] for name, names in before.items()}
    try:
        tuple(TopologicalSorter(known).static_order())
    except ValueError:
        assert circles(known)
    else:
        assert circles(known) == []
        for name in known:
            order = Bench(known, {}).closed([name])
            assert order[-1] == name
            assert all(order.index(each) < order.index(outer) for outer in order for each in known[outer])


@given(BEFORE)
def test_closing_ends_even_in_a_circle(before):
    closed = Bench(before, {}).closed(before)
    assert set(closed) == set(before)
    assert len(closed) == len(set(closed))
