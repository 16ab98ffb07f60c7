import shlex
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlore.cli.text import columns, command_lines, program, two_ends, wrapped


@given(
    st.text(alphabet=st.characters(codec="ascii", categories=["L", "Zs"]), max_size=300), st.integers(0, 8)
)
def test_wrapped_lines_fit_and_lose_no_word(text, indent):
    lines = wrapped(text, indent=indent)
    assert " ".join(" ".join(lines).split()) == " ".join(text.split()) or any(
        len(w) > 60 for w in text.split()
    )
    assert all(len(line) <= 80 for line in lines)


def test_two_ends_takes_a_second_line_when_both_do_not_fit():
    assert two_ends("left", "right", width=12) == ["left   right"]
    assert two_ends("a long left", "right", width=12) == ["a long left", "       right"]


def test_columns_align_each_to_its_side():
    assert columns([("a", "1"), ("bb", "10")], align="<>") == ["a    1", "bb  10"]


def test_columns_of_nothing_are_no_lines():
    assert columns([], align="<>") == []


@pytest.mark.parametrize(
    ("called", "found", "here", "elsewhere"),
    [
        ("benchlore", None, "benchlore", "benchlore"),
        ("/usr/bin/benchlore", "/usr/bin/benchlore", "benchlore", "benchlore"),
        (".venv/bin/benchlore", None, ".venv/bin/benchlore", "'{}/.venv/bin/benchlore'"),
    ],
)
def test_the_program_is_called_as_the_reader_called_it(tmp_path, monkeypatch, called, found, here, elsewhere):
    folder = tmp_path / "my shop"
    folder.mkdir()
    monkeypatch.chdir(folder)
    monkeypatch.setattr("sys.argv", [called])
    monkeypatch.setattr("shutil.which", lambda _: found)
    assert program() == here
    assert program(elsewhere=True) == elsewhere.format(folder)


def test_a_module_is_called_by_its_python(monkeypatch):
    monkeypatch.setattr("sys.argv", ["/somewhere/benchlore/__main__.py"])
    assert program() == f"{shlex.quote(sys.executable)} -m benchlore"


def test_words_before_a_command_are_not_quoted_again():
    assert command_lines(["show", "a b"], before="python -m benchlore", indent=2) == [
        "  python -m benchlore show 'a b'"
    ]


def test_a_per_cent_sign_stays_with_its_number_and_spaces_are_plain():
    assert wrapped("in 86 % (75 % to 94 %) of them", width=20) == ["in 86 % (75 % to", "94 %) of them"]
    assert "\u00a0" not in "".join(wrapped("1 % " * 100))


def test_a_path_longer_than_a_line_is_left_whole_where_that_is_asked():
    assert wrapped(f"{'x' * 90} is missing", whole=True) == ["x" * 90, "is missing"]
