"""The steps of a book: everything that somebody does at the bench."""

from collections.abc import Iterator
from dataclasses import dataclass

from benchlore.book.values import Book, Work
from benchlore.notation import Key


@dataclass(frozen=True, slots=True)
class Step:
    """A setup, check, fix or retest: where it stands, what it is called in messages, what it says."""

    key: Key
    words: str
    text: str
    work: Work


def steps(book: Book) -> Iterator[Step]:
    """Yield all steps in the order of the book."""
    yield from setup_steps(book)
    for name, check in book.checks.items():
        place = book.conditions[check.reads].at
        yield Step(("checks", name), f"check '{name}'", _text(check.title, check.how, place), check.work)
    for name, fix in book.fixes.items():
        yield Step(("fixes", name), f"fix '{name}'", _text(fix.title, fix.how), fix.work)
    yield from retest_steps(book)


def setup_steps(book: Book) -> Iterator[Step]:
    """Yield the setups."""
    for name, setup in book.setups.items():
        yield Step(("setups", name), f"setup '{name}'", _text(setup.title, setup.how), setup.work)


def retest_steps(book: Book) -> Iterator[Step]:
    """Yield the retests of all complaints."""
    for name, complaint in book.complaints.items():
        key: Key = ("complaints", name, "retest")
        yield Step(key, f"the retest of '{name}'", complaint.retest_how, complaint.retest)


def works(book: Book) -> list[Work]:
    """Return the work of all steps."""
    return [step.work for step in steps(book)]


def _text(*parts: str) -> str:
    return ". ".join(part for part in parts if part)
