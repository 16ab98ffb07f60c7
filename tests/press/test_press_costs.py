"""Marks stand where their numbers belong on the axis that the drawing itself shows."""

import pytest
from press_samples import FEW, MANY, picture
from svg_reading import marks, rectangles, words

from benchlore.press import Figure, Spread, draw_gains, draw_means, draw_spreads
from benchlore.press.theme import LIGHT
from benchlore.proof import Estimate

WIDTHS = pytest.mark.parametrize("width", ["wide", "narrow"])


def axis(svg):
    """The linear scale of a drawing, from its own tick labels: the function from a number to its place."""
    labels = marks(svg, "role-axis-label")
    lines = marks(svg, "mark-rule role-mark", stroke=LIGHT.faint)
    numbers = [float(label.element.text.replace(",", "").replace("−", "-")) for label in labels]
    first, last = min(line.x for line in lines), max(line.x for line in lines)
    return lambda number: first + (last - first) * (number - numbers[0]) / (numbers[-1] - numbers[0])


def middles(dots):
    return [dot.x for dot in dots]


@WIDTHS
def test_means_stand_at_their_numbers(width):
    figures = [Figure("A", Estimate(48.2, 44.1, 52.6)), Figure("B", Estimate(86.0, 77.9, 94.2))]
    svg = getattr(draw_means(figures, unit="EUR"), width)
    place = axis(svg)
    assert middles(marks(svg, "mark-symbol")) == pytest.approx([place(48.2), place(86.0)])
    for colour, low, high in ((LIGHT.copper, 44.1, 52.6), (LIGHT.teal, 77.9, 94.2)):
        (line,) = marks(svg, "mark-rule role-mark", stroke=colour)
        assert (line.x, line.x + line.width) == pytest.approx((place(low), place(high)))


@WIDTHS
def test_the_axis_has_its_labels_at_its_grid(width):
    svg = getattr(draw_means([Figure("A", Estimate(90.0, 30.0, 150.0))], unit="EUR"), width)
    labels = marks(svg, "role-axis-label")
    assert [label.element.text for label in labels] == ["0", "50", "100", "150"]
    place = axis(svg)
    assert [label.x for label in labels] == pytest.approx([place(at) for at in (0, 50, 100, 150)], abs=0.51)
    assert "EUR a job" in words(svg)


@WIDTHS
def test_gains_are_bars_from_zero_to_their_numbers(width):
    svg = getattr(picture("gains"), width)
    place = axis(svg)
    for bar, (low, high) in zip(rectangles(svg), [(0, 3), (-1, 0)], strict=True):
        ends = sorted((bar.x, bar.x + bar.width))
        assert ends == pytest.approx([place(low), place(high)])
    lines = marks(svg, "mark-rule role-mark", stroke=LIGHT.ink)
    assert [(line.x, line.x + line.width) for line in lines] == [
        pytest.approx((place(1), place(5))),
        pytest.approx((place(-2), place(0.5))),
    ]


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


def test_figures_are_told_in_words():
    picture = draw_gains([Figure("Ten readings", Estimate(3.4, 1.2, 6.1))], unit="EUR a job saved")
    assert "Ten readings: 3.40 (1.20 to 6.10) EUR a job saved." in picture.description


@pytest.mark.parametrize("number", [float("nan"), float("inf"), -float("inf")])
def test_what_has_no_place_on_an_axis_is_refused(number):
    with pytest.raises(ValueError, match=r"^This procedure: -?(nan|inf) cannot be drawn"):
        Spread("This procedure", (1.0, number))
    with pytest.raises(ValueError, match="cannot be drawn"):
        Figure("A", Estimate(1.0, 0.0, number))
