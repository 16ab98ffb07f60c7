"""Jobs for the tests of the store: one to change by hand, and arbitrary ones."""

from dataclasses import replace
from datetime import date
from math import inf
from typing import Any

from hypothesis import strategies as st

from benchlore.jobs.values import UNLISTED, Attempt, Job, Outcome, Reading, Retest

JOB = Job(
    shop="Quay Street Bench",
    number="Q-1041",
    board="halden-t4",
    complaint="restarts",
    opened=date(2026, 3, 31),
    readings=(
        Reading("vsys-ohms", 1, value=4180.0, text="4k18"),
        Reading("interval", 2, result="uneven", text="irregular"),
        Reading("coil-ohms", 3, value=inf, text="OL"),
    ),
    attempts=(Attempt("reflow-l1204", 4, Retest.GONE, 180.0),),
    outcome=Outcome.REPAIRED,
    fault="l1204-joint",
    fault_text="kalte Lötstelle L1204",
    hands_on=25.0,
    waiting=8.5,
    comeback=False,
    technician="Ines",
    notes="Dropped on its corner.",
    extra={"shelf": "7", "colour": "µ-grey"},
)


def changed(**changes: Any) -> Job:
    """Return the sample job with other fields."""
    return replace(JOB, **changes)


def numbered(count: int, **changes: Any) -> list[Job]:
    """Return jobs with numbers of their own."""
    return [changed(number=f"Q-{number:05}", **changes) for number in range(count)]


def texts() -> st.SearchStrategy[str]:
    """Texts with what breaks files: quotes, commas, line ends, formulas, other scripts; no NUL."""
    awkward = st.sampled_from(
        [
            "'",
            '"',
            "=1+1",
            " =A1",
            "'=x",
            "a,b",
            "a\r\nb",
            "\r",
            "\n",
            "OL",
            "-3",
            "@",
            "Ω µ 漢 😀",
            "\t+1",
            "＝",
        ]
    )
    return st.one_of(
        st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=8), awkward
    )


def numbers() -> st.SearchStrategy[float]:
    return st.floats(allow_nan=False)


def few_names() -> st.SearchStrategy[str]:
    return st.sampled_from(["a", "b", "c"])


def readings(names: st.SearchStrategy[str], words: st.SearchStrategy[str]) -> st.SearchStrategy[Reading]:
    steps = st.integers(0, 4)
    return st.builds(Reading, names, steps, st.none() | words, st.none() | numbers(), st.just("") | words)


def attempts(names: st.SearchStrategy[str]) -> st.SearchStrategy[Attempt]:
    return st.builds(Attempt, names, st.integers(0, 4), st.sampled_from(Retest), st.none() | numbers())


def jobs(shop: str | None = None, number: str | None = None) -> st.SearchStrategy[Job]:
    """Arbitrary jobs, of one identity if it is given."""
    return st.builds(
        Job,
        shop=texts() if shop is None else st.just(shop),
        number=texts() if number is None else st.just(number),
        board=texts(),
        complaint=texts(),
        opened=st.none() | st.dates(),
        readings=st.lists(readings(texts(), texts()), max_size=4).map(tuple),
        attempts=st.lists(attempts(texts()), max_size=3).map(tuple),
        outcome=st.sampled_from(Outcome),
        fault=st.none() | texts(),
        fault_text=texts(),
        hands_on=st.none() | numbers(),
        waiting=st.none() | numbers(),
        comeback=st.none() | st.booleans(),
        technician=texts(),
        notes=texts(),
        extra=st.dictionaries(texts(), texts(), max_size=3),
    )


def alike_jobs() -> st.SearchStrategy[Job]:
    """Records of one job out of few words, so that two of them often agree."""
    words = st.sampled_from(["x", "y"])
    few = st.sampled_from([1.0, 2.0])
    reading = st.builds(
        Reading, few_names(), st.integers(0, 3), st.none() | words, st.none() | few, st.just("") | words
    )
    return st.builds(
        Job,
        shop=st.just("s"),
        number=st.just("1"),
        board=st.just("b"),
        complaint=st.just("c"),
        opened=st.sampled_from([None, date(2026, 1, 1)]),
        readings=st.lists(reading, max_size=3).map(tuple),
        attempts=st.lists(
            st.builds(Attempt, few_names(), st.integers(0, 3), st.sampled_from(Retest), st.none() | few),
            max_size=2,
        ).map(tuple),
        outcome=st.sampled_from([Outcome.OPEN, Outcome.REPAIRED]),
        fault=st.sampled_from([None, UNLISTED, "f"]),
        fault_text=st.sampled_from(["", "words"]),
        hands_on=st.none() | few,
        waiting=st.none() | few,
        comeback=st.sampled_from([None, False]),
        technician=st.sampled_from(["", "Ines"]),
        notes=st.sampled_from(["", "Dropped", "Dropped on its corner"]),
        extra=st.dictionaries(few_names(), st.just("v"), max_size=2),
    )
