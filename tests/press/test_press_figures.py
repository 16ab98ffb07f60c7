"""Marks stand where their numbers belong on the axis that the drawing itself shows."""

from types import SimpleNamespace

import pytest
from press_samples import picture
from svg_reading import axis, marks, middles, rectangles, words

from benchlore.press import Figure, draw_cumulative, draw_gains, draw_means, equipment_picture
from benchlore.press.figures import draw_figures
from benchlore.press.theme import LIGHT
from benchlore.press.values import Mark
from benchlore.proof import Estimate
from benchlore.units import counted

WIDTHS = pytest.mark.parametrize("width", ["wide", "narrow"])


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


def test_figures_are_told_in_words():
    picture = draw_gains([Figure("Ten readings", Estimate(3.4, 1.2, 6.1))], unit="EUR a job saved")
    assert "Ten readings: 3.40 (1.20 to 6.10) EUR a job saved." in picture.description


def test_a_value_of_a_distribution_is_written_with_its_own_unit():
    picture = draw_cumulative(
        [(1.0, 0.8), (2.0, 1.0)],
        [Mark("pays from", 1.0)],
        unit="shops",
        title="Chance",
        written=lambda at: counted(round(at), "shop"),
    )
    assert "Solid: pays from: 1 shop" in words(picture.wide)
    assert picture.description == "50 % are at most 1 shop. 90 % are at most 2 shops. pays from: 1 shop."


def test_figures_may_have_fewer_decimals_than_their_size_asks_for():
    shown = [Figure("a", Estimate(100.0, 98.12, 100.0))]
    assert "100 (98 to 100)" in words(draw_figures(shown, unit="%", title="Often", mark="bar", digits=0).wide)


def test_equipment_is_drawn_with_its_range_where_any_saves():
    def worth(name, saved):
        return SimpleNamespace(
            names=(name,), yearly=SimpleNamespace(saved=saved, low=saved / 2, high=saved * 2)
        )

    shop = SimpleNamespace(currency="EUR")
    single = (worth("camera", 120.0), worth("lamp", 0.0))
    values = SimpleNamespace(
        single=single, everything=None, shop=shop, is_skill=lambda name: name == "camera"
    )
    drawn = equipment_picture(values)
    assert "with their 90 % intervals" in drawn.wide
    assert "camera (skill): 120.00 (60.00 to 240.00) EUR." in drawn.wide
    assert equipment_picture(SimpleNamespace(single=single[1:], everything=None, shop=shop)) is None
