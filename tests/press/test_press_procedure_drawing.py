"""The drawing of a procedure: well-formed, complete, and the same for the same sheet."""

import re
from xml.etree import ElementTree as ET

import pytest

from benchlore.library import Onward, Sheet, SheetStep
from benchlore.press.procedure_drawing import draw_procedure
from benchlore.procedure import Kind

SVG = "{http://www.w3.org/2000/svg}"


def step(number, title, *onward, reach=1.0, kind=Kind.CHECK):
    return SheetStep(number, kind, title, reach, "some", (), "", "", (), "", "", onward)


def sheet(*steps):
    return Sheet("", steps, 0, 0.0, 0.02)


FORK = sheet(
    step(1, "Rail <b> & more", Onward("low", 0.7, 2, ""), Onward("high", 0.3, 3, "")),
    step(2, "Look", Onward("yes", 0.5, 3, ""), Onward("no", 0.5, None, "ask"), reach=0.7),
    step(
        3,
        "Fix: it",
        Onward("still there", 0.1, 4, "return"),
        Onward("gone", 0.9, None, "release"),
        kind=Kind.FIX,
    ),
    step(4, "Return the device", reach=0.1, kind=Kind.RETURN),
)


def drawn(which):
    return ET.fromstring(draw_procedure(which, title="Drawn", prefix="s-").svg)


def lines(root):
    """Each line's start, and how far across and down each of its pieces goes."""
    found = []
    for path in root.iter(f"{SVG}path"):
        for line in path.get("d").split("M")[1:]:
            start, *pieces = re.split("(?=[ch])", line)
            numbers = [[int(each) for each in re.findall(r"-?\d+", piece)] for piece in pieces]
            steps = [(each[-2], each[-1]) if len(each) > 1 else (each[0], 0) for each in numbers]
            found.append((tuple(map(int, start.split())), steps))
    return found


def test_every_step_but_a_return_is_a_box_that_links_to_it():
    links = [link.get("href") for link in drawn(FORK).iter(f"{SVG}a")]
    assert links == ["#s-1", "#s-2", "#s-3"]


def test_every_result_that_leads_on_has_a_line():
    assert len(lines(drawn(FORK))) == 3


def test_results_say_their_chance_and_where_they_lead():
    said = [end.text for end in drawn(FORK).iter(f"{SVG}tspan")]
    for part in ("70 % → 2", "50 % → ask", "10 % → return", "90 % → release"):
        assert part in said


def test_lines_lead_from_left_to_right():
    boxes = {link.get("href"): link.find(f"{SVG}rect") for link in drawn(FORK).iter(f"{SVG}a")}
    for (x, y), steps in lines(drawn(FORK)):
        assert any(x == int(box.get("x")) + int(box.get("width")) for box in boxes.values())
        assert all(across > 0 for across, _ in steps)
        end, low = x + sum(across for across, _ in steps), y + sum(down for _, down in steps)
        assert any(end == int(box.get("x")) and 0 < low - int(box.get("y")) < 30 for box in boxes.values())


def test_boxes_do_not_lie_on_each_other():
    many = sheet(
        step(1, "First", *(Onward(f"r{k}", 0.1, k, "") for k in range(2, 12))),
        *(step(k, "Next " * k, Onward("a", 1.0, None, "ask"), reach=0.1) for k in range(2, 12)),
    )
    boxes = [
        tuple(float(box.get(name)) for name in ("x", "y", "width", "height"))
        for box in drawn(many).iter(f"{SVG}rect")
    ]
    for k, (x, y, width, height) in enumerate(boxes):
        for x2, y2, width2, height2 in boxes[:k]:
            assert x + width <= x2 or x2 + width2 <= x or y + height <= y2 or y2 + height2 <= y


def test_the_drawing_is_as_large_as_what_it_holds():
    drawing = draw_procedure(FORK, title="Drawn", prefix="s-")
    for box in ET.fromstring(drawing.svg).iter(f"{SVG}rect"):
        assert float(box.get("x")) + float(box.get("width")) <= drawing.width
        assert float(box.get("y")) + float(box.get("height")) <= drawing.height


def test_equal_sheets_give_equal_drawings():
    assert draw_procedure(FORK, title="D", prefix="s-") == draw_procedure(FORK, title="D", prefix="s-")


@pytest.mark.parametrize("kind", list(Kind))
def test_one_step_alone_is_drawn(kind):
    alone = sheet(step(1, "Only", kind=kind))
    assert [link.get("href") for link in drawn(alone).iter(f"{SVG}a")] == ["#s-1"]


def test_names_cannot_break_out_of_the_drawing():
    evil = sheet(step(1, '"><script>x</script>', Onward("<i>\x00", 1.0, None, "ask")))
    text = draw_procedure(evil, title='"<b>', prefix="s-").svg
    assert "<script" not in text
    assert "<i>" not in text
    ET.fromstring(text)
