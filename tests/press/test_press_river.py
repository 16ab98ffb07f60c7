"""The belief river: its bands are as thick as the shares."""

import re
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlore.press.river import HEIGHT, NAME, TOP, river

NAMES = ["Joint", "Via"]
SHARES = [[0.5, 0.3], [0.1, 0.8], [0.04, 0.95]]
MOVED = ["At the start", "VSYS 3.4 V", "Look burnt"]


def points(path):
    numbers = [float(number) for number in re.findall(r"[\d.]+", path.get("d"))]
    return list(zip(numbers[::2], numbers[1::2], strict=True))


def bands(root):
    """For each band the thickness at every moment, and its lower edge."""
    found = []
    for path in root.iter("path"):
        corners = points(path)
        half = len(corners) // 2
        upper, lower = corners[:half], corners[half:][::-1]
        assert [x for x, _ in upper] == [x for x, _ in lower]
        found.append(([low - high for (_, high), (_, low) in zip(upper, lower, strict=True)], lower))
    return found


def test_bands_are_as_thick_as_the_shares_and_stand_on_each_other():
    (first, ground), (second, _) = bands(ET.fromstring(river(NAMES, SHARES, MOVED, 340)))
    assert first == pytest.approx([HEIGHT * row[0] for row in SHARES], abs=0.11)
    assert second == pytest.approx([HEIGHT * row[1] for row in SHARES], abs=0.11)
    assert ground == [(0.0, TOP + HEIGHT), (170.0, TOP + HEIGHT), (340.0, TOP + HEIGHT)]


def test_every_moment_has_a_line():
    root = ET.fromstring(river(NAMES, SHARES, MOVED, 340))
    assert [float(line.get("x1")) for line in root.iter("line")] == [0.0, 170.0, 340.0]


def test_letters_stand_inside_their_bands_where_these_are_widest():
    root = ET.fromstring(river(NAMES, SHARES, MOVED, 340))
    letters = {text.text: text for text in root.iter("text")}
    assert set(letters) == {"A", "B"}
    assert float(letters["A"].get("x")) == 12
    assert float(letters["B"].get("x")) == 328
    assert TOP + HEIGHT * 0.5 < float(letters["A"].get("y")) < TOP + HEIGHT


def test_a_band_too_thin_for_its_letter_has_none():
    thin = 0.9 * NAME / HEIGHT
    root = ET.fromstring(river(["Thin", "Thick"], [[thin, 0.5]] * 2, ["a", "b"], 340))
    assert [text.text for text in root.iter("text")] == ["B"]


def test_the_river_is_told_in_words():
    label = ET.fromstring(river(NAMES, SHARES, MOVED, 340)).get("aria-label")
    assert label == (
        "At the start: Joint 50 %, Via 30 %. VSYS 3.4 V: Via 80 %, Joint 10 %. Look burnt: Via 95 %, Joint 4 %"
    )


@pytest.mark.parametrize("shares", [[], [[0.5, 0.5]]])
def test_nothing_has_moved_before_the_first_reading(shares):
    assert river(NAMES, shares, MOVED[: len(shares)], 340) == ""


def test_texts_never_become_markup():
    svg = river(["<b>"], [[0.5], [0.6]], ['"><script>', "x"], 340)
    assert "<script>" not in svg
    assert "<b> 50 %" in ET.fromstring(svg).get("aria-label")


@given(
    st.integers(1, 6).flatmap(
        lambda n: st.lists(st.lists(st.floats(0, 1), min_size=n + 1, max_size=n + 1), min_size=2, max_size=12)
    )
)
def test_whatever_the_shares_no_band_leaves_the_picture(weights):
    rows = np.array(weights) + 1e-9
    shares = (rows / rows.sum(axis=1, keepdims=True))[:, :-1]
    names = [f"n{k}" for k in range(shares.shape[1])]
    root = ET.fromstring(river(names, shares.tolist(), ["m"] * len(shares), 340))
    found = bands(root)
    assert len(found) == len(names)
    for (thickness, lower), column in zip(found, shares.T, strict=True):
        assert thickness == pytest.approx(list(HEIGHT * column), abs=0.11)
        assert all(TOP - 0.06 <= y <= TOP + HEIGHT for _, y in lower)
