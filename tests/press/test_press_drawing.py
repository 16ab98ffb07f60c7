import re
import subprocess
import sys
from dataclasses import astuple
from itertools import pairwise
from xml.etree import ElementTree as ET

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from press_samples import HOSTILE, LONG, WAYS_TO_DRAW, picture
from svg_reading import SVG, marks, texts, words

from benchlore.press import draw_means
from benchlore.press.drawing import axis_steps, decimals, ticks
from benchlore.press.text import amount, on_one_line, width_of
from benchlore.press.theme import LIGHT, NARROW, WIDE

WIDTHS = {"wide": WIDE, "narrow": NARROW}


def every(test):
    """Do a test with every drawing of every picture."""
    return pytest.mark.parametrize("width", WIDTHS)(pytest.mark.parametrize("kind", WAYS_TO_DRAW)(test))


@every
def test_a_drawing_is_well_formed_and_told_to_those_who_do_not_see_it(kind, width):
    svg = getattr(picture(kind), width)
    root = ET.fromstring(svg)
    assert root.get("role") == "img"
    assert [child.tag for child in root][:2] == [SVG + "title", SVG + "desc"]
    assert root[0].text == picture(kind).title
    assert root[1].text == picture(kind).description
    assert root[0].text
    assert root[1].text
    assert [element.get("role") for element in root.iter() if element.get("role")] == ["img"]


@every
def test_a_drawing_scales_and_needs_nothing_from_elsewhere(kind, width):
    svg = getattr(picture(kind), width)
    root = ET.fromstring(svg)
    *corner, across, high = map(float, root.get("viewBox").split())
    assert (corner, across) == ([0, 0], WIDTHS[width])
    assert high > 40
    assert (root.get("width"), root.get("height")) == ("100%", None)
    names = {name.rpartition("}")[2] for element in root.iter() for name in element.attrib}
    assert names.isdisjoint({"id", "href", "style", "clip-path"})
    assert {element.tag for element in root.iter()} <= {
        SVG + tag for tag in ("svg", "title", "desc", "g", "path", "line", "text")
    }
    assert re.findall(r"https?:[^\"]*", re.sub(r"<(title|desc)>.*?</\1>", "", svg)) == [
        "http://www.w3.org/2000/svg"
    ]


@every
def test_every_colour_of_a_drawing_is_of_the_palette(kind, width):
    svg = getattr(picture(kind), width)
    colours = {element.get(side) for element in ET.fromstring(svg).iter() for side in ("fill", "stroke")}
    assert colours <= {None, "none", *astuple(LIGHT)}


@every
def test_no_text_leaves_a_drawing(kind, width):
    svg = getattr(picture(kind), width)
    *_, across, high = map(float, ET.fromstring(svg).get("viewBox").split())
    for text in texts(svg):
        long = width_of(text.element.text)
        begins = text.x - long * {"start": 0, "middle": 0.5, "end": 1}[text.get("text-anchor")]
        assert begins >= -1, text.element.text
        assert begins + long <= across + 1, text.element.text
        assert 0 < text.y < high


@pytest.mark.parametrize("kind", ["hostile spreads", "hostile gains", "hostile belief"])
def test_hostile_names_are_text_and_nothing_else(kind):
    found = picture(kind)
    assert found.title == on_one_line(HOSTILE)
    for svg in (found.wide, found.narrow):
        assert "<script" not in svg
        assert "<script>alert('1')</script>".replace(" ", "") in "".join(words(svg)).replace(" ", "")


def test_a_long_name_is_wrapped_cut_and_told_in_full():
    found = picture("long gains")
    assert on_one_line(LONG) in found.description
    assert [word for word in words(found.narrow) if word.endswith("…")] != []
    assert any(word.startswith("The bench as it was recorded") for word in words(found.wide))


def test_equal_values_give_equal_bytes_in_another_process():
    script = "from press_samples import *; print(picture('spreads').wide, picture('belief').narrow)"
    again = subprocess.run(
        [sys.executable, "-c", script],
        capture_output=True,
        text=True,
        check=True,
        env={"PYTHONPATH": ":".join(sys.path)},
    )
    assert again.stdout == f"{picture('spreads').wide} {picture('belief').narrow}\n"


@pytest.mark.parametrize(
    ("kind", "says"),
    [
        ("no spreads", "No job has been costed yet"),
        ("no jobs", "No job has been costed yet"),
        ("no means", "No job has been costed yet"),
        ("no gains", "none has a worth"),
        ("no reliability", "No forecast has met its outcome yet"),
        ("no coverage", "No board with a confirmed fault yet"),
        ("no belief", "No reading was taken"),
    ],
)
def test_a_picture_without_values_says_why(kind, says):
    found = picture(kind)
    assert says in found.description
    assert says in " ".join(words(found.wide))
    assert marks(found.wide, "role-axis") == []


def test_a_title_of_ones_own_stands_in_place_of_the_usual():
    assert draw_means([], unit="EUR", title="Means of three shops").title == "Means of three shops"


@given(st.floats(-1e6, 1e6), st.floats(0, 1e6), st.integers(3, 8))
@example(0.0, 0.0, 5)
@example(1e6, 0.0, 5)
def test_ticks_are_few_even_and_span_the_interval(low, span, at_most):
    found = ticks(low, low + span, at_most=at_most)
    assert found[0] <= low + 1e-9
    assert found[-1] >= low + span - 1e-6 * max(1, abs(low + span))
    assert 2 <= len(found) <= at_most + 1
    steps = [after - before for before, after in pairwise(found)]
    assert steps == pytest.approx([steps[0]] * len(steps), rel=1e-3)


@pytest.mark.parametrize(
    ("low", "high", "expected", "digits"),
    [
        (0, 183, (0, 50, 100, 150, 200), 0),
        (-1, 5, (-2, 0, 2, 4, 6), 0),
        (0, 0.3, (0, 0.1, 0.2, 0.3), 1),
        (0, 1000, (0, 500, 1000), 0),
        (0, 0.02, (0, 0.005, 0.01, 0.015, 0.02), 3),
    ],
)
def test_ticks_are_round_numbers(low, high, expected, digits):
    assert ticks(low, high) == expected
    assert decimals(ticks(low, high)) == digits


@given(st.floats(0, 1e9), st.floats(60, 600))
def test_labels_of_an_axis_have_room(high, width):
    steps = axis_steps(0, high, width)
    room = width_of(amount(steps[-1], decimals(steps)))
    assert len(steps) * room <= width or len(steps) <= 3
