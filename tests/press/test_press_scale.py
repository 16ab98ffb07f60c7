"""The reading scale: bars, ticks and marks stand where the numbers say."""

import re
from math import exp, inf, log
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from benchlore.model import Check, Work
from benchlore.model.densities import densities_of
from benchlore.press.scale import SIDE, scale_of
from benchlore.units import Measure, parse_quantity

MANY = 1e9
"""Boards behind a density, so many that its predictive is the normal itself."""


def numeric(mean, sd, *, over=None, log_normal=False, measure=Measure.VOLTAGE, strength=MANY):
    overs = np.zeros(len(mean)) if over is None else over
    densities = densities_of(measure, mean, sd, overs, log_normal=log_normal, strength=strength)
    work = Work(takes=1.0, waits=0.0, ruins=0.0, setups=(), equipment=frozenset())
    return Check("c", "C", 0, ("a", "b"), work, np.ones((len(mean), 2)), densities=densities)


def drawn(scale, width=340, **more):
    return ET.fromstring(scale.svg(width, **more))


def of_class(root, name):
    return [element for element in root.iter() if element.get("class") == name]


def states(root):
    """The words of each state, which stand above the rules."""
    return [text.text for text in root.findall("text")]


def bars(root):
    """Left end and width of each bar."""
    (path,) = of_class(root, "bar")
    return [tuple(map(float, each)) for each in re.findall(r"M([\d.]+) \d+h([\d.]+)v\d+h-\2z", path.get("d"))]


def test_a_named_check_has_no_scale():
    work = Work(takes=1.0, waits=0.0, ruins=0.0, setups=(), equipment=frozenset())
    assert scale_of(Check("c", "C", 0, ("a",), work, np.ones((1, 1))), ["s"]) is None


def test_a_bar_holds_nineteen_of_twenty_readings_of_its_state():
    """The central 95 % of a normal: 1.96 deviations (any table of the normal distribution)."""
    scale = scale_of(numeric([3.3, 1.0], [0.05, 0.1]), ["normal", "low"])
    low, high = (scale.low + end * (scale.high - scale.low) for end in scale.bars[0].span)
    assert (low, high) == pytest.approx((3.3 - 1.96 * 0.05, 3.3 + 1.96 * 0.05), abs=1e-4)
    assert norm.cdf(high, 3.3, 0.05) - norm.cdf(low, 3.3, 0.05) == pytest.approx(0.95, abs=1e-4)


def test_few_boards_widen_a_bar():
    few, many = (scale_of(numeric([3.3], [0.05], strength=n), ["normal"]) for n in (5.0, MANY))
    assert few.high - few.low > 1.2 * (many.high - many.low)


def test_bars_are_drawn_where_they_are_laid_out():
    scale = scale_of(numeric([3.3, 1.0], [0.05, 0.1]), ["normal", "low"])
    for width in (340, 640):
        root = drawn(scale, width)
        inner = float(root.get("data-inner"))
        assert (inner, float(root.get("data-side"))) == (width - 2 * SIDE, SIDE)
        for bar, (x, wide) in zip(scale.bars, bars(root), strict=True):
            left, right = bar.span
            assert x == pytest.approx(SIDE + inner * left, abs=0.06)
            assert wide == pytest.approx(max(2.0, inner * (right - left)), abs=0.11)


def test_every_state_says_its_numbers():
    root = drawn(scale_of(numeric([3.3, 1.0], [0.05, 0.1]), ["normal", "low"]))
    assert states(root) == [
        "normal: 3.2 V to 3.4 V",
        "low: 800 mV to 1.2 V",
    ]
    assert root.get("aria-label") == "normal: 3.2 V to 3.4 V; low: 800 mV to 1.2 V"


def test_a_state_that_is_mostly_over_range_has_words_and_no_bar():
    check = numeric(
        [log(0.2), log(1e6)], [0.3, 1.0], over=[0.0, 0.9], log_normal=True, measure=Measure.RESISTANCE
    )
    scale = scale_of(check, ["normal", "open"])
    assert scale.bars[1].span is None
    root = drawn(scale)
    assert len(bars(root)) == 1
    assert states(root)[1] == "open: over range (OL)"
    assert scale.high < log(1e3)


def test_where_every_state_is_over_range_there_is_still_a_line():
    check = numeric(
        [log(10), log(20)], [0.3, 0.3], over=[0.9, 0.9], log_normal=True, measure=Measure.RESISTANCE
    )
    scale = scale_of(check, ["a", "b"])
    assert [bar.span for bar in scale.bars] == [None, None]
    root = drawn(scale, values=[10.0, inf])
    (rules,) = of_class(root, "rule")
    assert rules.get("d").count("M") == 2
    assert bars(root) == []
    assert len(of_class(root, "read")) == 1
    assert scale.low < log(10) < scale.high


def test_one_state_alone_is_drawn():
    scale = scale_of(numeric([3.3], [0.05]), ["normal"])
    assert scale.place(3.3) == pytest.approx(0.5)
    assert len(bars(drawn(scale))) == 1


def test_a_logarithmic_line_puts_the_geometric_mean_in_the_middle():
    check = numeric([log(10), log(1000)], [0.3, 0.3], log_normal=True, measure=Measure.RESISTANCE)
    scale = scale_of(check, ["a", "b"])
    assert scale.place(100.0) == pytest.approx(0.5)
    assert scale.place(1000.0) - scale.place(100.0) == pytest.approx(scale.place(100.0) - scale.place(10.0))


def test_over_range_lands_nowhere_and_what_is_beyond_lands_at_the_end():
    scale = scale_of(numeric([3.3], [0.05]), ["normal"])
    assert scale.place(inf) is None
    assert (scale.place(-100.0), scale.place(100.0)) == (0.0, 1.0)


def test_readings_are_marked_where_they_land():
    scale = scale_of(numeric([3.3, 1.0], [0.05, 0.1]), ["normal", "low"])
    (mark,) = of_class(drawn(scale, 340, values=[2.0]), "read")
    assert float(mark.get("d")[1:].split()[0]) == pytest.approx(SIDE + 320 * scale.place(2.0), abs=0.06)


def test_the_mark_that_a_script_moves_is_hidden_at_first():
    (mark,) = of_class(drawn(scale_of(numeric([3.3], [0.05]), ["normal"])), "lands")
    assert mark.get("hidden") is not None


@pytest.mark.parametrize(("log_normal", "mean"), [(False, [3.3, 1.0]), (True, [log(5), log(2e4)])])
def test_ticks_stand_at_the_numbers_that_they_name(log_normal, mean):
    measure = Measure.RESISTANCE if log_normal else Measure.VOLTAGE
    scale = scale_of(numeric(mean, [0.1, 0.1], log_normal=log_normal, measure=measure), ["a", "b"])
    assert len(scale.ticks) >= 3
    for at, text in scale.ticks:
        assert 0 <= at <= 1
        assert at == pytest.approx(scale.place(parse_quantity(text, measure)))


def test_names_of_states_never_become_markup():
    svg = scale_of(numeric([3.3], [0.05]), ["<script>&\"'"]).svg(340)
    assert "<script" not in svg
    assert "<script>&\"'" in drawn(scale_of(numeric([3.3], [0.05]), ["<script>&\"'"])).get("aria-label")


@given(
    mean=st.lists(st.floats(-6, 12), min_size=1, max_size=5),
    sd=st.floats(1e-3, 2),
    log_normal=st.booleans(),
    over=st.lists(st.sampled_from([0.0, 0.2, 0.9]), min_size=5, max_size=5),
)
def test_whatever_the_numbers_the_line_is_sound(mean, sd, log_normal, over):
    measure = Measure.RESISTANCE if log_normal else Measure.VOLTAGE
    check = numeric(mean, [sd] * len(mean), over=over[: len(mean)], log_normal=log_normal, measure=measure)
    scale = scale_of(check, [f"s{k}" for k in range(len(mean))])
    assert scale.low < scale.high
    ys = np.linspace(scale.low - 1, scale.high + 1, 20)
    places = [scale.place(exp(y) if log_normal else float(y)) for y in ys]
    assert places == sorted(places)
    assert all(0 <= bar.span[0] < bar.span[1] <= 1 for bar in scale.bars if bar.span)
    assert [at for at, _ in scale.ticks] == sorted(at for at, _ in scale.ticks)
    root = drawn(scale)
    assert all(0 <= x <= 340 for x, _ in bars(root))
