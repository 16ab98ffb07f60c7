"""Names and the nearest one."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlore.notation import did_you_mean, is_name, listed, nearest, quoted, shortened

NAMES = ["vsys-rail", "vsys-ohms", "vsys-volts", "interval", "case-open", "bench-supply"]


@pytest.mark.parametrize("text", ["a", "vsys", "vsys-ohms", "3v3-ohms", "a-1-b"])
def test_lower_case_with_hyphens_is_a_name(text):
    assert is_name(text)


@pytest.mark.parametrize(
    "text", ["", "A", "a b", "a_b", "-a", "a-", "a--b", "ä", "a/b", "..", "a\n", "x" * 61]
)
def test_anything_else_is_not(text):
    assert not is_name(text)


@pytest.mark.parametrize(
    ("meant", "near"),
    [
        ("vsys-rial", "vsys-rail"),
        ("Vsys Rail", "vsys-rail"),
        ("vsys_rail", "vsys-rail"),
        ("intervall", "interval"),
        ("caseopen", "case-open"),
        ("bench-suply", "bench-supply"),
        ("bench-sup", "bench-supply"),
    ],
)
def test_a_slip_finds_the_name_that_was_meant(meant, near):
    assert nearest(meant, NAMES) == near


@pytest.mark.parametrize("meant", ["", "thermal-camera", "zzz", "v" * 500])
def test_a_name_unlike_all_others_finds_none(meant):
    assert nearest(meant, NAMES) is None


def test_nothing_is_near_when_there_is_nothing():
    assert nearest("vsys", []) is None
    assert did_you_mean("vsys", []) == ""


def test_the_phrase_names_the_nearest_or_lists_the_few():
    assert did_you_mean("vsys-rial", NAMES) == "; did you mean 'vsys-rail'?"
    assert did_you_mean("zzz", ["red", "green"]) == "; there are 'red' and 'green'"
    assert did_you_mean("zzz", ["red"]) == "; there is 'red'"
    assert did_you_mean("zzz", [f"colour-{number}" for number in range(20)]) == ""


def test_names_make_a_phrase():
    assert [listed([]), listed(["a"]), listed(["a", "b", "c"]), listed(["a", "b"], "or")] == [
        "",
        "'a'",
        "'a', 'b' and 'c'",
        "'a' or 'b'",
    ]


def test_a_long_value_is_shortened_in_a_message():
    assert quoted("x\n  y") == "'x y'"
    assert shortened("x" * 100) == "x" * 59 + "…"


@given(st.text(max_size=30), st.lists(st.text(max_size=12), max_size=6))
def test_the_nearest_name_is_one_of_the_names(name, names):
    assert nearest(name, names) in {None, *names}


@given(
    st.from_regex(r"[a-z]{2,8}(-[a-z]{2,8})?", fullmatch=True),
    st.lists(st.from_regex("[a-z]{2,9}", fullmatch=True)),
)
def test_a_name_is_nearest_to_itself(name, others):
    assert nearest(name, [*others, name]) == name
