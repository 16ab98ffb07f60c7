import pytest
from press_samples import CURVE, picture
from svg_reading import marks, path_points, texts, words

from benchlore.press import Covered, draw_coverage
from benchlore.press.text import width_of
from benchlore.press.theme import LIGHT, NARROW
from benchlore.proof import Estimate

WIDTHS = pytest.mark.parametrize("width", ["wide", "narrow"])


def plot(svg, last):
    """The scales of both axes, from the edges of the plot; ``last`` is the number at its right end."""
    edges = marks(svg, "mark-rule role-mark", stroke=LIGHT.soft)
    foot = next(edge for edge in edges if edge.width)
    side = next(edge for edge in edges if not edge.width)
    return lambda x: foot.x + foot.width * x / last, lambda y: foot.y - abs(side.height) * y


@WIDTHS
def test_the_curve_runs_through_its_points_solid_then_dashed(width):
    svg = getattr(picture("coverage"), width)
    across, up = plot(svg, 150)
    solid, dashed = marks(svg, "mark-line", stroke=LIGHT.copper)
    assert (solid.get("stroke-dasharray"), dashed.get("stroke-dasharray")) == ("1,0", "6,4")
    for line, points in ((solid, CURVE[:3]), (dashed, CURVE[2:])):
        expected = [(across(point.boards), up(point.coverage.value)) for point in points]
        assert path_points(line) == [pytest.approx(point) for point in expected]


@WIDTHS
def test_the_band_is_the_interval_the_dot_is_now_and_the_goal_is_95_percent(width):
    svg = getattr(picture("coverage"), width)
    across, up = plot(svg, 150)
    (band,) = marks(svg, "mark-area")
    ends = {(round(x, 3), round(y, 3)) for x, y in path_points(band)}
    assert ends == {
        (round(across(point.boards), 3), round(up(edge), 3))
        for point in CURVE
        for edge in (point.coverage.low, point.coverage.high)
    }
    (dot,) = marks(svg, "mark-symbol")
    assert (dot.x, dot.y) == pytest.approx((across(60), up(0.8)))
    (goal,) = marks(svg, "mark-rule role-mark", stroke=LIGHT.teal)
    assert goal.y == pytest.approx(up(0.95))
    assert {"95 %", "60 boards: 80 %"} <= set(words(svg))


def test_present_and_end_are_told_in_words():
    assert picture("coverage").description == (
        "60 boards: 80 % (95 % interval 70 % to 90 %). 120 boards: 90 % (95 % interval 70 % to 100 %). The goal is 95 %."
    )


@pytest.mark.parametrize("present", [3, 5])
def test_one_point_is_a_dot_with_its_interval(present):
    picture = draw_coverage([Covered(3, Estimate(0.33, 0.05, 0.8))], present=present)
    assert len(marks(picture.wide, "mark-symbol")) == 1
    assert marks(picture.wide, "mark-line") == []
    assert ("3 boards: 33 %" in words(picture.wide)) == (present == 3)


def test_two_points_are_a_line():
    curve = [Covered(12, Estimate(0.55, 0.3, 0.8)), Covered(1, Estimate(0.1, 0.0, 0.8))]
    picture = draw_coverage(curve, present=12)
    (line,) = marks(picture.narrow, "mark-line")
    assert len(path_points(line)) == 2
    assert "Dashed" not in " ".join(words(picture.narrow))


def test_labels_of_many_boards_stay_on_the_drawing():
    curve = [Covered(boards, Estimate(0.5, 0.4, 0.6)) for boards in (0, 2_000_000)]
    svg = draw_coverage(curve, present=0).narrow
    last = next(text for text in texts(svg) if text.element.text == "2,000,000")
    assert last.x + width_of("2,000,000") / 2 <= NARROW + 0.01


def test_a_figure_that_is_no_number_is_refused():
    with pytest.raises(ValueError, match="nan cannot be drawn"):
        Covered(float("nan"), Estimate(0.5, 0.4, 0.6))
