import pytest
from press_samples import GROUPS, picture
from svg_reading import marks, rectangles, words

from benchlore.press import Forecasts, draw_reliability
from benchlore.press.theme import LIGHT
from benchlore.proof import proportion

WIDTHS = pytest.mark.parametrize("width", ["wide", "narrow"])


def square(svg):
    """The scales of both axes, from the frame of the plot."""
    edges = marks(svg, "mark-rule role-mark", stroke=LIGHT.soft)
    left = next(edge for edge in edges if edge.width == 0)
    foot = next(edge for edge in edges if edge.width)
    bottom = max(left.y, left.y + left.height)
    return lambda x: left.x + x * foot.width, lambda y: bottom - y * abs(left.height)


@WIDTHS
def test_dots_stand_at_forecast_and_observed_share_with_their_interval(width):
    svg = getattr(picture("reliability"), width)
    across, up = square(svg)
    dots = marks(svg, "mark-symbol")
    lines = marks(svg, "mark-rule role-mark", stroke=LIGHT.copper)
    for dot, line, group in zip(dots, lines, GROUPS, strict=True):
        assert (dot.x, dot.y) == pytest.approx((across(group.mean), up(group.observed.value)))
        assert line.x == pytest.approx(across(group.mean))
        assert sorted((line.y, line.y + line.height)) == pytest.approx(
            [up(group.observed.high), up(group.observed.low)]
        )


@WIDTHS
def test_the_plot_is_square_and_its_counts_stand_under_its_dots(width):
    svg = getattr(picture("reliability"), width)
    across, up = square(svg)
    assert across(1) - across(0) == pytest.approx(up(0) - up(1))
    bars = rectangles(svg, fill=LIGHT.copper)
    assert [bar.x + bar.width / 2 for bar in bars] == pytest.approx([across(0.1), across(0.75)])
    assert abs(bars[0].height) == pytest.approx(2 * abs(bars[1].height))
    assert {"40", "20", "Forecast", "Came true"} <= set(words(svg))


def test_one_group_is_a_dot_told_in_words():
    picture = draw_reliability([Forecasts(0.4, proportion(1, 1), 1)])
    assert len(marks(picture.wide, "mark-symbol")) == 1
    assert picture.description == (
        "1 forecast in 1 group. Of 1 forecast of about 40 %, 100 % came true (95 % interval 21 % to 100 %)."
    )


def test_counts_that_would_run_into_each_other_are_left_out():
    crowd = [Forecasts(0.5 + k / 1000, proportion(1, 2), 1000 + k) for k in range(5)]
    assert [word for word in words(draw_reliability(crowd).narrow) if word.startswith("1,00")] == ["1,000"]


def test_a_group_of_no_forecasts_is_refused():
    with pytest.raises(ValueError, match="one forecast or more, not 0"):
        Forecasts(0.4, proportion(0, 0), 0)
