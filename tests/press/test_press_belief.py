import pytest
from press_samples import STEPS, picture
from svg_reading import rectangles, words

from benchlore.press import Belief, draw_belief
from benchlore.press.theme import LIGHT, NARROW, SERIES, WIDE

WIDTHS = pytest.mark.parametrize(("width", "size"), [("wide", WIDE - 24), ("narrow", NARROW - 24)])


def bars(svg, colour):
    """Parts of bars in a colour as (left, width), without the swatch of the key."""
    return [(mark.x - 12, abs(mark.width)) for mark in rectangles(svg, fill=colour)][1:]


@WIDTHS
def test_parts_of_a_bar_are_the_shares_in_the_order_of_the_last_step(width, size):
    svg = getattr(picture("belief"), width)
    via, joint, cell = SERIES[:3]
    assert bars(svg, via) == [pytest.approx((0, 0.3 * size)), pytest.approx((0, 0.75 * size))]
    assert bars(svg, joint) == [
        pytest.approx((0.3 * size, 0.5 * size)),
        pytest.approx((0.75 * size, 0.25 * size)),
    ]
    assert bars(svg, cell) == [pytest.approx((0.8 * size, 0.15 * size))]
    assert bars(svg, LIGHT.stone) == [pytest.approx((0.95 * size, 0.05 * size))]


def test_the_key_names_each_suspect_by_letter_and_the_steps_follow_in_order():
    found = words(picture("belief").wide)
    assert {"A", "B", "C", "Via", "Joint", "Cell", "all others"} <= set(found)
    assert found.index("Before any reading") < found.index("VSYS under load: 3.4 V")
    assert {"A 30 %", "B 50 %", "A 75 %", "B 25 %"} <= set(found)


def test_steps_are_told_in_words():
    assert picture("belief").description == (
        "Before any reading: Joint 50 %, Via 30 %, Cell 15 %. VSYS under load: 3.4 V: Via 75 %, Joint 25 %."
    )


def test_many_suspects_are_the_strongest_five_and_the_others():
    shares = tuple((f"Fault {k}", (k + 1) / 55) for k in range(10))
    found = words(draw_belief([Belief("Before any reading", shares)]).wide)
    assert [word for word in found if word.startswith("Fault")] == [f"Fault {k}" for k in (9, 8, 7, 6, 5)]
    assert "all others" in found


def test_a_fault_called_all_others_is_still_a_fault():
    found = words(draw_belief([Belief("First", (("all others", 0.6),))]).wide)
    assert found.count("all others") == 2


def test_nobody_suspected_leaves_it_to_the_others():
    picture = draw_belief([Belief("First", ())])
    assert bars(picture.wide, LIGHT.stone) == [(0, WIDE - 24)]
    assert picture.description == "First: no suspect."


@pytest.mark.parametrize("shares", [(("A", 0.7), ("B", 0.4)), (("A", -0.1),)])
def test_shares_that_are_none_are_refused(shares):
    with pytest.raises(ValueError, match="First: shares of suspects are from 0 to 1"):
        Belief("First", shares)


def test_a_step_does_not_change_what_came_before():
    assert bars(draw_belief(STEPS[:1]).wide, SERIES[0]) == [pytest.approx((0, 0.5 * (WIDE - 24)))]
