"""Curves of what a check reads in each state."""

import math
import re
from itertools import pairwise
from xml.etree import ElementTree as ET

import pytest

from benchlore.library import StateCurve
from benchlore.press.densities import draw_densities
from benchlore.press.theme import FONT_SIZE
from benchlore.units import Measure

SVG = "{http://www.w3.org/2000/svg}"


def curve(state, readings, peak, *, over=0.0):
    return StateCurve(state, over, tuple((x, math.exp(-(((x - peak) / peak) ** 2))) for x in readings))


LINEAR = [k / 10 for k in range(51)]
DECADES = [10 ** (k / 10) for k in range(51)]


def texts(picture):
    return [text.text for text in ET.fromstring(picture.wide).iter(f"{SVG}text")]


def test_each_state_is_named_and_over_range_is_told():
    curves = [curve("normal", LINEAR, 3.3), curve("open", LINEAR, 1.0, over=0.55)]
    said = texts(draw_densities(curves, Measure.VOLTAGE, logarithmic=False, title="Rail"))
    assert "normal" in said
    assert "open, 55 % over range" in said


def test_a_linear_scale_has_round_readings():
    said = texts(draw_densities([curve("a", LINEAR, 2.0)], Measure.VOLTAGE, logarithmic=False, title="Rail"))
    assert {"0 V", "1 V", "5 V"} <= set(said)


def test_a_logarithmic_scale_has_powers_of_ten_equally_far_apart():
    picture = draw_densities([curve("a", DECADES, 50.0)], Measure.RESISTANCE, logarithmic=True, title="R")
    lines = [float(x) for x in re.findall(r"M([\d.]+) 0V", picture.wide)]
    steps = [b - a for a, b in pairwise(lines)]
    assert len(lines) == 6
    assert steps == pytest.approx([steps[0]] * 5, abs=0.11)


def test_the_curve_stands_highest_at_its_peak():
    picture = draw_densities([curve("a", LINEAR, 2.5)], Measure.VOLTAGE, logarithmic=False, title="Rail")
    line = re.search(r'd="M([^"Z]*)" fill="none"[^>]*stroke-width="1.5"', picture.wide)[1]
    points = [tuple(map(float, point.split())) for point in line.split("L")]
    highest = min(points, key=lambda point: point[1])
    assert highest[0] == pytest.approx(points[-1][0] / 2, abs=1)


def test_the_picture_is_named_and_described_for_those_who_do_not_see_it():
    picture = draw_densities(
        [curve("a<b", LINEAR, 2.0)], Measure.VOLTAGE, logarithmic=False, title="Rail & co"
    )
    root = ET.fromstring(picture.narrow)
    assert root.find(f"{SVG}title").text == "Rail & co"
    assert root.find(f"{SVG}desc").text == "a<b: most often about 2 V."


def test_texts_have_their_own_size_wherever_the_picture_stands():
    picture = draw_densities([curve("a", LINEAR, 2.0)], Measure.VOLTAGE, logarithmic=False, title="Rail")
    for drawn in (picture.wide, picture.narrow):
        group = ET.fromstring(drawn).find(f"{SVG}g")
        assert group.get("font-size") == str(FONT_SIZE)
        assert len(list(group.iter(f"{SVG}text"))) == len(list(ET.fromstring(drawn).iter(f"{SVG}text")))
