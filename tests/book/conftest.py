"""What reading or reviewing a changed copy of the sample book says."""

from collections.abc import Callable

import pytest
from sorrel import SAMPLE, changed

from benchlore.book import Book, read_book, review


@pytest.fixture
def sample() -> str:
    return SAMPLE


@pytest.fixture
def told() -> Callable[..., list[str]]:
    """Say what reading the changed sample finds."""
    return lambda *changes: [
        str(problem) for problem in read_book(changed(*changes), name="sorrel-p2").problems
    ]


@pytest.fixture
def book() -> Callable[..., Book]:
    """Read the changed sample, which must be sound."""

    def read(*changes: tuple[str, str]) -> Book:
        found = read_book(changed(*changes), name="sorrel-p2")
        assert found.problems == ()
        assert found.book is not None
        return found.book

    return read


@pytest.fixture
def reviewed() -> Callable[..., list[str]]:
    """Say what reviewing the changed sample finds."""
    return lambda *changes: [
        str(problem) for problem in review(read_book(changed(*changes), name="sorrel-p2"))
    ]
