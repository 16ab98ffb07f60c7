"""The demo's books, drawings and shops: sound, complete, and consistent with physics and with each other."""

import re
import xml.etree.ElementTree as ET
from functools import cache
from pathlib import Path

import pytest

from benchlore.book import Book, Hazard, read_book, review
from benchlore.shop import read_shop

DEMO = Path(__file__).resolve().parents[2] / "src" / "benchlore" / "demo"
BOARDS = ("halden-t4", "tornvik-mc2")
SVG = "{http://www.w3.org/2000/svg}"


@cache
def book_of(board: str) -> Book:
    read = read_book(
        (DEMO / "books" / board / "book.yaml").read_text(encoding="utf-8"), file=board, name=board
    )
    assert read.book is not None, read.problems
    return read.book


@pytest.mark.parametrize("board", BOARDS)
def test_review_has_nothing_to_say(board):
    folder = DEMO / "books" / board
    read = read_book((folder / "book.yaml").read_text(encoding="utf-8"), file=board, name=board)
    assert review(read, folder=folder) == ()


@pytest.mark.parametrize("board", BOARDS)
def test_a_book_is_of_a_size_worth_showing(board):
    book = book_of(board)
    assert 12 <= len(book.faults) <= 20
    assert 18 <= len(book.checks) <= 30
    assert 12 <= len(book.fixes) <= 20
    assert 8 <= len(book.conditions) <= 16
    assert sorted(each.about_every is None for each in book.complaints.values()) == [False, True]
    for complaint in book.complaints.values():
        assert complaint.seen is not None
        assert 40 <= complaint.seen.boards <= 80


@pytest.mark.parametrize("board", BOARDS)
def test_everything_teaches_and_has_other_names(board):
    book = book_of(board)
    for each in (*book.checks.values(), *book.fixes.values()):
        assert len(each.how) > 30, each.name
    for fault in book.faults.values():
        assert len(fault.notes) > 60, fault.name
    for each in (
        *book.checks.values(),
        *book.fixes.values(),
        *book.faults.values(),
        *book.complaints.values(),
    ):
        assert len(each.also) >= 3, each.name


@pytest.mark.parametrize("board", BOARDS)
def test_no_other_name_stands_for_two_things_of_a_kind(board):
    book = book_of(board)
    for kind in (book.checks, book.fixes, book.faults, book.complaints):
        names = [word.casefold() for each in kind.values() for word in {*each.also, each.title}]
        assert len(names) == len(set(names))


@pytest.mark.parametrize("board", BOARDS)
def test_every_fault_has_a_fix_and_every_fix_a_fault(board):
    book = book_of(board)
    assert {fault for fix in book.fixes.values() for fault in fix.cures} == set(book.faults)


@pytest.mark.parametrize("board", BOARDS)
def test_every_marked_place_hits_a_part_that_the_text_names(board):
    book, missed = book_of(board), []
    for each in (*book.checks.values(), *book.fixes.values()):
        if each.picture is None:
            continue
        assert each.picture.at is not None, each.name
        hit = parts_at(DEMO / "books" / board / each.picture.file, each.picture.at)
        if not any(said(part, f"{each.title} {each.how}".casefold()) for part in hit):
            missed.append(f"{each.name}: {each.picture.at} hits {hit}")
    assert missed == []


@pytest.mark.parametrize("board", BOARDS)
def test_a_drawing_stands_alone(board):
    for path in (DEMO / "books" / board).glob("*.svg"):
        root = ET.parse(path).getroot()
        assert root.tag == f"{SVG}svg"
        assert root.find(f"{SVG}title") is not None
        ids = [each.get("id") for each in root.iter() if each.get("id")]
        assert len(ids) == len(set(ids))
        assert not re.search(r"<script|href=|url\(|@import", path.read_text(encoding="utf-8"))


def test_hazards_are_named_where_they_are():
    tablet, controller = book_of("halden-t4"), book_of("tornvik-mc2")
    assert Hazard.LITHIUM in tablet.setups["case-open"].work.cautions
    assert Hazard.MAINS in controller.fixes["mend-charger"].work.cautions
    for book in (tablet, controller):
        for step in (*book.checks.values(), *book.fixes.values(), *book.setups.values()):
            if "hot-air" in step.work.equipment:
                assert Hazard.HOT_AIR in step.work.cautions, step.name
            if "soldering-iron" in step.work.equipment and step.name != "mend-charger":
                assert Hazard.HOT_SURFACE in step.work.cautions, step.name
            if re.search(r"\balcohol\b.{0,40}\bdr", step.how, re.IGNORECASE):
                assert Hazard.SOLVENT in step.work.cautions, step.name


def test_no_powered_reading_of_a_rail_before_its_resistance():
    for board, gate in (("halden-t4", "vsys-ohms"), ("tornvik-mc2", "bridge-ohms")):
        for check in book_of(board).checks.values():
            powered = {"bench-power", "load-pattern", "bench-36", "motor-stand"} & set(check.work.setups)
            if powered and check.measures == "voltage" and check.reads not in {"supply", "warmth"}:
                gates = {each.check for each in check.gates}
                assert gates & {gate, "vcore-ohms", "starts"}, check.name


# The arithmetic behind the books' numbers. Ohm's law and copper's resistivity of 1.7241e-8 ohm m at 20 °C
# (International Annealed Copper Standard); the rest is what the books' own texts state.


def centre(board: str, check: str, state: str) -> float:
    span = book_of(board).checks[check].spans[state]
    return (span.low + span.high) / 2 if span.centre is None else span.centre


def test_the_tablets_load_readings_follow_from_ohms_law():
    path = 0.010 + 0.009 + 0.014 + 0.012  # shunt, switch, choke, copper
    assert centre("halden-t4", "vsys-load", "normal") == pytest.approx(3.85 - 2 * path, rel=0.01)
    assert centre("halden-t4", "vsys-load", "sagging") == pytest.approx(3.85 - 2 * (path + 0.2), rel=0.01)
    assert centre("halden-t4", "plug-drop", "normal") == pytest.approx(2 * 0.006, rel=0.01)
    assert centre("halden-t4", "vsys-ripple", "rippling") == pytest.approx(2 * 0.12, rel=0.01)
    assert centre("halden-t4", "pack-load", "normal") == pytest.approx(3.85 * 0.06 / 2.26, rel=0.05)
    assert centre("halden-t4", "pack-load", "worn") == pytest.approx(3.85 * 0.27 / 2.47, rel=0.1)


def test_the_tablets_sense_line_reads_the_long_way_round_when_broken():
    assert centre("halden-t4", "sense-ohms", "unsensed") == pytest.approx(10 + 100, rel=0.01)
    assert centre("halden-t4", "vcore-load", "unsensed") == pytest.approx(0.90 - 8 * 0.014, rel=0.01)
    assert centre("halden-t4", "sda-volts", "held-low") == pytest.approx(1.8 * 600 / (600 + 2200), rel=0.05)


def test_the_controllers_throttle_leak_is_a_divider():
    rest, leak, pull_down, series = 0.85, 80e3, 100e3, 10e3
    normal = rest * pull_down / (pull_down + series)
    leaking = (rest / series + 5 / leak) / (1 / series + 1 / pull_down + 1 / leak)
    unplugged = 5 * pull_down / (pull_down + leak)
    assert centre("tornvik-mc2", "throttle-rest", "normal") == pytest.approx(normal, rel=0.01)
    assert centre("tornvik-mc2", "throttle-rest", "high") == pytest.approx(leaking, rel=0.02)
    span = book_of("tornvik-mc2").checks["throttle-unplugged"].spans["high"]
    assert span.low < unplugged < span.high


def test_the_controllers_power_readings_follow_from_ohms_law():
    assert centre("tornvik-mc2", "line-sag", "normal") == pytest.approx(15 * 0.018, rel=0.01)
    assert centre("tornvik-mc2", "phase-drop", "normal") == pytest.approx(15 * 0.0008, rel=0.01)
    assert centre("tornvik-mc2", "boot-volts", "normal") == pytest.approx(12 - 0.8, rel=0.01)
    assert centre("tornvik-mc2", "bulk-ripple", "dried") == pytest.approx(15 * 0.012 * 12, rel=0.05)


@pytest.mark.parametrize(("board", "fix", "length", "diameter"), [
    ("halden-t4", "jumper-sense", 0.040, 0.1e-3),
    ("tornvik-mc2", "jumper-kelvin", 0.015, 0.2e-3),
])  # fmt: skip
def test_a_jumper_wire_drops_no_more_than_it_may(board, fix, length, diameter):
    wire = book_of(board).fixes[fix].wire
    assert wire is not None
    assert wire.may_drop is not None
    resistance = 1.7241e-8 * length / (3.14159265 / 4 * diameter**2)
    assert wire.carries * resistance < wire.may_drop


@pytest.mark.parametrize(
    "path", [DEMO / "shop.yaml", *sorted((DEMO / "shops").glob("*.yaml"))], ids=lambda p: p.stem
)
def test_a_shop_file_is_sound_and_knows_only_what_the_books_know(path):
    read = read_shop(path.read_text(encoding="utf-8"), file=path.name)
    assert read.shop is not None
    described = {name for board in BOARDS for name in book_of(board).equipment}
    for problem in read.problems:
        assert any(f"'{name}'" in problem.message for name in described), problem
    assert read.shop.comeback is not None
    assert read.shop.comeback >= max([read.shop.worth_otherwise or 0, *read.shop.worth.values()])


def parts_at(path: Path, at: tuple[float, float]) -> list[str]:
    """Return the identifiers of the drawn parts that hold a place."""
    groups = [each for each in ET.parse(path).getroot().iter(f"{SVG}g") if each.get("id")]
    return [each.get("id", "") for each in groups if any(holds(shape, at) for shape in each)]


def holds(shape: ET.Element, at: tuple[float, float]) -> bool:
    size = {key: float(value) for key, value in shape.items() if re.fullmatch(r"-?[0-9.]+", value)}
    if shape.tag == f"{SVG}rect":
        return (
            size["x"] <= at[0] <= size["x"] + size["width"]
            and size["y"] <= at[1] <= size["y"] + size["height"]
        )
    if shape.tag == f"{SVG}circle":
        return (at[0] - size["cx"]) ** 2 + (at[1] - size["cy"]) ** 2 <= size["r"] ** 2
    return False


def said(part: str, text: str) -> bool:
    """Say whether a text names a part: ``J501-U`` as J501 or as the phases, ``input-field`` as the field."""
    words = {
        "J501-U": "u, v",
        "J501-V": "phase",
        "J501-W": "phase",
        "input-field": "field",
        "sticker": "sticker",
    }
    return words.get(part, part).casefold() in text or part.casefold() in text
