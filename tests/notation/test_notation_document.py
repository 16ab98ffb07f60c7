"""YAML as the books use it."""

import io
import random
import re

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from ruamel.yaml import YAML

from benchlore.notation import Document, Position, load_yaml


def said(text: str) -> list[str]:
    return [str(problem) for problem in load_yaml(text, "b.yaml").problems]


@pytest.mark.parametrize(
    "scalar", ["4k7", "1e3", "0.50", "no", "on", "12:30", "0x10", "1_000", "true", ".inf", "0603"]
)
def test_a_scalar_stays_the_text_that_its_author_wrote(scalar):
    assert load_yaml(f"a: {scalar}", "b.yaml").data == {"a": scalar}


@pytest.mark.parametrize("scalar", ["", "~", "null"])
def test_an_empty_value_is_none_and_a_quoted_one_is_text(scalar):
    assert load_yaml(f"a: {scalar}\nb: '{scalar}'", "b.yaml").data == {"a": None, "b": scalar}


def test_every_key_and_list_item_has_its_place():
    document = load_yaml("a:\n  b: [x, y]\n  c:\n    - z\n", "b.yaml")
    places = document.positions.places
    assert places["a",] == Position(1, 1)
    assert places["a", "b"] == Position(2, 3)
    assert places["a", "b", 1] == Position(2, 10)
    assert places["a", "c", 0] == Position(4, 7)
    assert document.positions.of(("a", "b", 1, "deeper")) == Position(2, 10)


def test_a_byte_order_mark_is_dropped():
    assert load_yaml("\ufeffa: 1", "b.yaml") == Document(
        {"a": "1"}, load_yaml("a: 1", "b.yaml").positions, ()
    )


def test_texts_over_several_lines():
    assert load_yaml("a: |\n  one\n  two\nb: >\n  one\n  two\nc: one\n  two\n", "b.yaml").data == {
        "a": "one\ntwo\n",
        "b": "one two\n",
        "c": "one two",
    }


@pytest.mark.parametrize("text", ["", "# only a remark\n", "---\n"])
def test_an_empty_text_is_none_without_problems(text):
    document = load_yaml(text, "b.yaml")
    assert (document.data, document.problems) == (None, ())


def test_a_repeated_mark_is_spelt_out():
    assert load_yaml("a: &x {k: [1]}\nb: *x\n", "b.yaml").data == {"a": {"k": ["1"]}, "b": {"k": ["1"]}}


def test_a_name_that_stands_twice_is_a_problem_and_the_first_one_counts():
    document = load_yaml("a: 1\nb:\n  c: 1\n  c: 2\na: {d: 3, d: 4}\n", "b.yaml")
    assert document.data == {"a": "1", "b": {"c": "1"}}
    assert [str(problem) for problem in document.problems] == [
        "b.yaml:4:3: error: 'c' stands twice; line 3 has it already, and only that one counts [twice]",
        "b.yaml:5:11: error: 'd' stands twice; line 5 has it already, and only that one counts [twice]",
        "b.yaml:5:1: error: 'a' stands twice; line 1 has it already, and only that one counts [twice]",
    ]


@pytest.mark.parametrize(
    ("text", "place", "words"),
    [
        (
            "a: b: c",
            "1:5",
            r"a second ': ' where none is expected; put the text in quotes \(the line reads: a: b: c\)",
        ),
        ("a:\n  b: 1\n c: 2", "3:2", "indented differently from its neighbours, which begin on line 1"),
        ("a: 'x\nb: 1", "1:4", "quotes open here and never close"),
        ("a: [1, 2\nb: 3", "2:2", r"the list that '\[' opens on line 1 needs a ',' or a closing '\]'"),
        ("a: {k: 1]", "1:9", r"what '\{' opens on line 1 needs a ',' or a closing '\}'"),
        ("a: %5", "1:4", "a text cannot start with '%'; put it in quotes"),
        ("a: @x", "1:4", "a text cannot start with '@'"),
        ("a\nb: 1", "2:2", "line 1 is a name without ':'"),
        ("a:5\nb: 1", "2:2", "line 1 has no space after ':'"),
        ("a: 1\n  b: 2", "2:4", "indented as if it belonged to line 1, which already has a value"),
        ("a: 1\n- b", "2:1", "a list item where a name is expected"),
        ("a: - b", "1:4", "'- ' where no list is expected"),
        ("a: ? b", "1:4", r"a text cannot start with '\? '"),
        ("a: }", "1:4", "a value is missing here"),
        ("a: 'it's'", "1:8", "text after a closing quote"),
        ('a: "C:\\q"', "1:8", "use single quotes"),
        ("a: > 5 ohm", "1:6", "after '>' or '|' the text goes on below"),
        ("a: &", "1:5", "a text cannot start with '&'"),
        ("a: *x", "1:4", r"nothing above is marked '&x', so '\*x' cannot repeat it"),
        ("a: &x [*x]", "1:8", r"'\*x' stands inside what it repeats"),
        ("a: !!python/object:os.system x", "1:4", "the tag '!!python/object:os.system' is not allowed"),
        ("a: 1\n---\nb: 2", "2:1", "a second document starts here"),
        ("[a, b]: 1", "1:1", "a name is expected before ':'"),
        ("a: \x01", "1:4", r"an unprintable character \(U\+0001\) stands here"),
        ('a: "\\0"', "1:4", "an unprintable character"),
        ('a: "\\ud800"', "1:4", "an unprintable character"),
        (
            "My notes\n# a remark\n\na: 1",
            "1:1",
            "a text that is no 'name: value'; remove it, or put '# ' before",
        ),
        ("# x\n two\n lines\n\na: 1\nb: 2", "5:2", "line 3 is a name without ':'"),
        ("My notes\na: 1", "2:2", "line 1 is a name without ':'"),
        ("  a: 1\nb: 2", "2:1", "this line"),
        ('a: "\\UFFFFFFFF"', "1:1", "what follows here cannot be read"),
    ],
)
def test_bad_text_is_explained_in_plain_words(text, place, words):
    (problem,) = said(text)
    assert problem.startswith(f"b.yaml:{place}: error: ")
    assert re.search(words, problem), problem


def test_every_line_that_is_indented_with_a_tab_is_named():
    assert said("a:\n\tb: 1\n\tc: 2\n") == [
        "b.yaml:2:1: error: a tab at the start of the line; indent with spaces only [tab]",
        "b.yaml:3:1: error: a tab at the start of the line; indent with spaces only [tab]",
    ]


def test_depth_is_limited():
    assert "more than 40 levels" in said("a: " + "[" * 60)[0]
    assert said("a: " + "[" * 39 + "]" * 39) == []


def test_the_size_of_a_text_is_limited():
    assert said("# x\n" * 600_000) == ["b.yaml: error: the text is larger than 2 MB; split it [too-large]"]


def test_a_monstrous_line_is_refused_before_it_is_parsed():
    assert said("a: 1\nb: " + "!" * 30_000) == [
        "b.yaml:2:1: error: the line is longer than 20,000 characters; break it [too-large]"
    ]


def test_repeats_cannot_multiply_without_end():
    bomb = "a0: &a0 [x, x]\n" + "".join(f"a{n}: &a{n} [*a{n - 1}, *a{n - 1}]\n" for n in range(1, 60))
    assert "more than 200,000 values, repeats included" in said(bomb)[0]


def test_a_message_never_carries_a_whole_long_value():
    assert len(said("a: 1\n" + "k" * 5_000 + ": 1\n" + "k" * 5_000 + ": 2\n")[0]) < 250


PIECES = st.sampled_from(
    [
        "a",
        "b: ",
        "- ",
        "\n",
        "  ",
        "\t",
        "[",
        "]",
        "{",
        "}",
        ",",
        "'",
        '"',
        "#",
        "&x ",
        "*x",
        "!t ",
        "|",
        ">",
        "%",
        "?",
        ": ",
        "---\n",
        "\\",
        "\ufeff",
        "±",
        "\u2028",
        "<<",
        "%YAML 1.1\n",
    ]
)


@given(st.lists(PIECES, max_size=40).map("".join))
@example("%YAML 1.9\n---\na")
@example("? ? ?")
@settings(max_examples=400, deadline=None)
def test_no_scrap_of_yaml_does_more_than_make_problems(text):
    document = load_yaml(text, "b.yaml")
    for problem in document.problems:
        assert str(problem).startswith("b.yaml")


@given(st.text(max_size=80))
@settings(max_examples=200, deadline=None)
def test_no_text_at_all_does_more_than_make_problems(text):
    load_yaml(text, "b.yaml")


PLAIN = st.recursive(
    st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=12) | st.none(),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.from_regex("[a-z]{1,6}", fullmatch=True), inner, max_size=3)
    ),
    max_leaves=10,
)


@given(st.dictionaries(st.from_regex("[a-z]{1,6}", fullmatch=True), PLAIN, min_size=1, max_size=4))
@settings(max_examples=150, deadline=None)
def test_what_a_yaml_writer_writes_is_read_back(data):
    writer = YAML(typ="safe", pure=True)
    writer.default_flow_style = False  # its flow style leaves '?0' without the quotes that it needs there
    writer.width = 10_000
    stream = io.StringIO()
    writer.dump(data, stream)
    document = load_yaml(stream.getvalue(), "b.yaml")
    assert (document.problems, document.data) == ((), data)


def test_equal_texts_give_equal_documents():
    lines = [f"k{number}: {random.Random(number).random()}" for number in range(50)]
    assert load_yaml("\n".join(lines), "b.yaml") == load_yaml("\n".join(lines), "b.yaml")
