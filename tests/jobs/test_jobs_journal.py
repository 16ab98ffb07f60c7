from bench_samples import NINE
from hypothesis import given
from hypothesis import strategies as st

from benchlore.jobs import Entry, EntryKind, standing


def journal(*steps: str | int) -> list[Entry]:
    """Entries of remarks, and of undos where a place is given."""
    return [
        Entry("k", place, EntryKind.UNDO, {"to": step}, NINE, "", str(place))
        if isinstance(step, int)
        else Entry("k", place, EntryKind.NOTE, {"text": step}, NINE, "", str(place))
        for place, step in enumerate(steps, 1)
    ]


def texts(*steps: str | int) -> list[object]:
    return [entry.data["text"] for entry in standing(journal(*steps))]


def test_without_undos_everything_counts():
    assert texts("a", "b") == ["a", "b"]
    assert standing([]) == ()


def test_an_undo_leaves_the_job_as_it_stood_there():
    assert texts("a", "b", "c", 1) == ["a"]
    assert texts("a", "b", "c", 0) == []
    assert texts("a", "b", 1, "d") == ["a", "d"]


def test_an_undo_is_undone_by_one_to_the_place_before_it():
    assert texts("a", "b", "c", 1, 3) == ["a", "b", "c"]
    assert texts("a", "b", 1, "d", 2) == ["a", "b"]


def test_an_undo_to_an_undo_leaves_the_job_as_that_one_did():
    assert texts("a", "b", "c", 1, "d", 4) == ["a"]


@given(
    st.lists(st.text(max_size=3), max_size=6), st.lists(st.text(max_size=3), max_size=4), st.text(max_size=3)
)
def test_what_was_undone_might_as_well_never_have_been_entered(kept, undone, then):
    assert texts(*kept, *undone, len(kept), then) == [*kept, then]


@given(st.data())
def test_any_journal_stands_as_one_that_only_had_what_counts(data):
    steps: list[str | int] = []
    plain: list[list[str]] = [[]]
    for place in range(data.draw(st.integers(0, 12))):
        if place and data.draw(st.booleans()):
            to = data.draw(st.integers(0, place - 1))
            steps.append(to)
            plain.append(plain[to])
        else:
            steps.append(f"n{place}")
            plain.append([*plain[-1], f"n{place}"])
    assert texts(*steps) == plain[-1]
