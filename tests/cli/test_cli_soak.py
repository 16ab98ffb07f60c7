"""The commands about soaks, on a small board."""

import re

import pytest

from benchlore.units import format_roughly
from soak_book import BOOK, SUPERVISOR

BOARD = "ferrol-p1"


@pytest.fixture
def pumps(run, tmp_path, monkeypatch):
    folder = tmp_path / "pumps"
    assert run("init", folder, "--board", BOARD).code == 0
    (folder / "books" / BOARD / "book.yaml").write_text(BOOK)
    log = folder / "restarts.log"
    log.write_text(SUPERVISOR)
    monkeypatch.chdir(folder)
    return folder


def test_a_record_is_told_and_drawn(run, pumps):
    ran = run("soak", "record", "restarts.log", "--picture", "restarts.svg")
    assert ran.code == 0
    assert "restarts.log: 11 events" in ran.out
    assert "By a clock: every 3 min" in ran.out
    assert max(map(len, ran.out.splitlines())) <= 80
    assert (pumps / "restarts.svg").read_text().startswith("<svg")
    shown = run("soak", "record", "restarts.log", "--json").data
    assert shown["finding"]["pattern"] == "fixed"
    assert len(shown["events"]) == 11


def test_a_record_with_ambiguous_dates_asks_for_their_order(run, pumps):
    (pumps / "us.log").write_text("03/04/2026 10:00\n03/04/2026 11:00\n04/04/2026 12:00\n")
    refused = run("soak", "record", "us.log")
    assert refused.code == 1
    assert "us.log:1: '03/04/2026 10:00' can be day first or month first" in refused.err
    assert "--dates" in refused.err
    assert run("soak", "record", "us.log", "--dates", "day-first").code == 0
    assert run("soak", "record", "us.log", "--dates", "noon-first").code == 2


def test_a_plan_tells_all_and_fits_the_terminal(run, pumps):
    ran = run(
        *("soak", "plan", BOARD, "restarts", "--record", "restarts.log", "--says", "every few minutes"),
        *(
            "--after",
            "wire-timer",
            "--soaked",
            "20 min",
            "--factor",
            "2",
            "--boards",
            "4",
            "--picture",
            "soak.svg",
        ),
    )
    assert ran.code == 0, ran.err
    for text in (
        'The customer: "every few minutes"',
        "The record: 11 events",
        "rhythm=even",
        "It comes by a clock",
        "After 'Wire the supervisor', cured with",
        "costs least",
        "back in 90 d",
        "an hour counts as 2 hours of use",
        "4 boards side by side",
        "Caution! Lithium cell",
    ):
        assert text in ran.out
    assert max(map(len, ran.out.splitlines())) <= 80
    assert (pumps / "soak.svg").exists()


def test_a_plan_as_data_has_the_same_numbers(run, pumps):
    data = run("soak", "plan", BOARD, "restarts", "--after", "reflow-joint", "--json").data
    text = run("soak", "plan", BOARD, "restarts", "--after", "reflow-joint").out
    assert data["after"]["fix"] == "reflow-joint"
    assert f"{100 * data['after']['cured']:.0f} %" in text
    assert [row[0] for row in data["confidences"]] == [0.8, 0.9, 0.95, 0.99]


def test_long_waits_are_whole_minutes_in_words_and_exact_as_data(run, pumps):
    asked = ("soak", "plan", BOARD, "restarts")
    minutes = [row[1] for row in run(*asked, "--json").data["confidences"]]
    assert any(minute != round(minute) for minute in minutes)
    told = run(*asked).out
    assert f"95 % {format_roughly(minutes[2])}" in " ".join(told.split())
    assert not re.search(r"(?:h|[1-9]\d min) \d+ s\b", told)


def test_a_plan_without_a_fix_says_what_one_would_add(run, pumps):
    assert "With --after FIX" in run("soak", "plan", BOARD, "restarts").out


@pytest.mark.parametrize(
    ("arguments", "code", "message"),
    [
        (("--says", "blue"), 1, "'blue' says no rate; write it as"),
        (("--after", "prayer"), 1, "no fix of that name"),
        (("--record", "none.log"), 1, "there is no such file"),
        (("--after", "wire-timer", "--soaked", "long"), 2, "cannot read 'long'"),
        (("rhythm",), 2, "CHECK=READING"),
    ],
)
def test_what_cannot_be_asked_is_refused_in_plain_words(run, pumps, arguments, code, message):
    refused = run("soak", "plan", BOARD, "restarts", *arguments)
    assert refused.code == code
    assert message in " ".join(refused.err.replace("│", " ").split())


def test_cures_without_jobs_say_what_to_do(run, pumps):
    ran = run("soak", "cures", BOARD)
    assert ran.code == 0
    assert "No finished job" in ran.out
    assert run("soak", "cures", BOARD, "--json").data == {"board": BOARD, "fixes": []}
