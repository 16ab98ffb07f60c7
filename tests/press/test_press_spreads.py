"""Marks stand where their numbers belong on the axis that the drawing itself shows."""

import pytest
from press_samples import FEW, MANY, picture
from svg_reading import axis, marks, middles, rectangles, words

from benchlore.press import Spread, draw_spreads
from benchlore.press.theme import LIGHT
from benchlore.proof import Estimate

WIDTHS = pytest.mark.parametrize("width", ["wide", "narrow"])


@WIDTHS
def test_bars_of_a_distribution_are_shares_of_its_jobs(width):
    svg = getattr(picture("spreads"), width)
    place = axis(svg)
    bars = rectangles(svg, fill=LIGHT.copper)
    jobs = [jobs_in(bar, place) for bar in bars]
    assert sum(jobs) == len(MANY.values)
    heights = [abs(bar.height) / count for bar, count in zip(bars, jobs, strict=True)]
    assert heights == pytest.approx([heights[0]] * len(bars))
    assert {round(bar.width, 6) for bar in bars} == {round(bars[0].width, 6)}
    assert len({round(max(bar.y, bar.y + bar.height), 6) for bar in bars}) == 1


def jobs_in(bar, place):
    return sum(bar.x - 1e-6 <= place(value) < bar.x + bar.width - 1e-6 for value in MANY.values)


@WIDTHS
def test_few_jobs_are_rings_at_their_costs_with_median_and_mean(width):
    svg = getattr(picture("spreads"), width)
    place = axis(svg)
    rings = marks(svg, "mark-symbol", stroke=LIGHT.teal)
    assert middles(rings) == pytest.approx([place(value) for value in FEW.values])
    medians = marks(svg, "mark-rule role-mark", stroke=LIGHT.ink)
    assert middles(medians) == pytest.approx([place(76.5), place(50)])
    means = marks(svg, "mark-symbol", stroke=LIGHT.paper)
    assert middles(means) == pytest.approx([place(76.5), place(50)])


def test_one_job_without_a_mean_is_one_ring():
    picture = draw_spreads([Spread("This procedure", (61.4,))], unit="EUR")
    assert len(marks(picture.wide, "mark-symbol")) == 1
    assert picture.description == "This procedure: 1 job, median 61.40, from 61.40 to 61.40 EUR."
    assert "interval" not in " ".join(words(picture.wide))


def test_jobs_that_cost_nothing_have_a_place():
    picture = draw_spreads([Spread("This procedure", (0.0, 0.0))], unit="EUR")
    assert middles(marks(picture.wide, "mark-symbol")) == [12, 12]


def test_ways_without_jobs_are_told_and_not_drawn():
    picture = draw_spreads([Spread("This procedure", ()), FEW], unit="EUR")
    assert "This procedure: no job." in picture.description
    assert "This procedure" not in words(picture.wide)


def test_a_first_way_without_jobs_leaves_its_colour_unused():
    svg = draw_spreads([Spread("This procedure", ()), FEW, MANY], unit="EUR").wide
    assert marks(svg, "role-mark", fill=LIGHT.copper) == []
    assert len(marks(svg, "mark-symbol", stroke=LIGHT.teal)) == len(FEW.values)


def test_large_amounts_are_printed_whole_and_fit():
    way = Spread("This procedure", (18_500_000.0, 31_000_000.0), Estimate(24_750_000.0, 1.5, 90_000_000.0))
    picture = draw_spreads([way], unit="IRR")
    assert "24,750,000 (2 to 90,000,000)" in words(picture.wide)
    labels = marks(picture.narrow, "role-axis-label")
    assert [label.element.text for label in labels] == ["0", "50,000,000", "100,000,000"]
