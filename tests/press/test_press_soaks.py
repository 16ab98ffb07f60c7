"""Marks of soak pictures stand where their numbers belong."""

from functools import cache

import numpy as np
import pytest
from svg_reading import marks, path_points, rectangles, words

from benchlore.press import draw_record, draw_sequential
from benchlore.press.soaks import sequential_told
from benchlore.press.theme import LIGHT
from benchlore.press.time_plot import unit_of
from benchlore.soak import RestartRecord, SequentialTest, find_kind, power_law, record_of

RECORD = RestartRecord(np.array([600.0, 1200.0, 5000.0, 6000.0, 7900.0]), ((0.0, 1800.0), (3600.0, 9000.0)))
TEST = SequentialTest(1000, 100, 0.05, 0.05)


@cache
def recorded():
    return draw_record(RECORD, find_kind(RECORD))


@cache
def planned():
    return draw_sequential(TEST)


def across(svg):
    """From a time in the axis's unit to its place, by the labels of the axis."""
    labels = [
        mark for mark in marks(svg, fill=LIGHT.soft, text_anchor="middle") if mark.element.text[:1].isdigit()
    ]
    (first, low), (last, high) = (
        (mark.x, float(mark.element.text.replace(",", ""))) for mark in (labels[0], labels[-1])
    )
    return lambda time: first + (last - first) * (time - low) / (high - low)


@pytest.mark.parametrize("width", ["wide", "narrow"])
def test_each_event_has_its_mark_and_its_step(width):
    svg = getattr(recorded(), width)
    place = across(svg)
    rug = marks(svg, "mark-rule", stroke=LIGHT.copper)
    assert [mark.x for mark in rug] == pytest.approx([place(t / 60) for t in RECORD.events], abs=0.6)
    (climb,) = marks(svg, "mark-line", stroke=LIGHT.copper)
    corners = path_points(climb)
    assert len(corners) == 2 * RECORD.count + 2
    heights = sorted({round(y, 3) for _, y in corners}, reverse=True)
    assert np.diff(heights) == pytest.approx([heights[1] - heights[0]] * RECORD.count, abs=0.01)


def test_a_gap_is_shaded_and_told():
    svg = recorded().wide
    place = across(svg)
    (gap,) = rectangles(svg, fill=LIGHT.stone)
    assert gap.x == pytest.approx(place(30), abs=0.6)
    assert abs(gap.width) == pytest.approx(place(60) - place(30), abs=0.6)
    assert "Shaded: nobody watched." in " ".join(words(svg))


def test_a_trend_ends_at_the_number_of_events():
    record = record_of([5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478], 1500)
    svg = draw_record(record, find_kind(record), power_law(record.times / 60, 25.0)).wide
    (trend,) = marks(svg, "mark-line", stroke=LIGHT.teal)
    (climb,) = marks(svg, "mark-line", stroke=LIGHT.copper)
    assert path_points(trend)[-1] == pytest.approx(path_points(climb)[-1], abs=0.1)


def test_a_record_without_events_says_so():
    empty = record_of([], 3600.0)
    assert "No event in this record" in " ".join(words(draw_record(empty, find_kind(empty)).wide))


def test_many_events_are_drawn_as_some(monkeypatch):
    monkeypatch.setattr("benchlore.press.soaks.MOST_MARKS", 30)
    record = record_of(np.arange(1.0, 101.0), 101.0)
    picture = draw_record(record, find_kind(record))
    assert len(marks(picture.wide, "mark-rule", stroke=LIGHT.copper)) == 30
    assert "Marks: some of the events." in " ".join(words(picture.wide))


@pytest.mark.parametrize("width", ["wide", "narrow"])
def test_the_accept_line_begins_where_a_clean_soak_ends(width):
    svg = getattr(planned(), width)
    place = across(svg)
    (accept,) = marks(svg, "mark-line", stroke=LIGHT.teal)
    assert path_points(accept)[0][0] == pytest.approx(place(TEST.accept_time(0) / 60), abs=0.6)


def test_a_soak_stands_on_its_chart_in_words_too():
    picture = draw_sequential(TEST, 250.0, [50.0])
    assert picture.description.endswith("After 250 min with 1 event: go on.")
    assert sequential_told(TEST, 350.0, []).endswith("it may go home.")
    assert len(marks(picture.wide, "mark-line", stroke=LIGHT.copper)) == 1
    assert marks(planned().wide, "mark-line", stroke=LIGHT.copper) == []


def test_units_fit_the_length():
    assert [unit_of(minutes)[0] for minutes in (2, 90, 4000, 90_000)] == ["s", "min", "h", "d"]
