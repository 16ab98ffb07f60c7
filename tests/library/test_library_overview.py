import pytest

from benchlore.jobs import Job, Outcome, Store
from benchlore.library import expected_minutes, kept_procedure, overview, plan_complaint
from benchlore.library.errors import NoBookError
from benchlore.library.overview import book_overview


def only(library):
    (book,) = overview(library).books
    return book


def test_a_new_library_says_that_nothing_is_planned_or_proven(library):
    seen = overview(library)
    (book,) = seen.books
    assert (book.board, book.title, book.jobs, book.is_refused) == ("my-board", "my board", 0, False)
    (complaint,) = book.complaints
    assert (complaint.name, complaint.plan, complaint.proof) == ("no-power", None, None)
    assert seen.shop
    assert seen.trouble == ""


def test_a_plan_is_shown_until_it_is_stale_and_then_as_stale(library):
    planned = plan_complaint(library, "my-board", "no-power")
    plan = only(library).complaints[0].plan
    assert plan.expected == planned.procedure.expected
    assert plan.steps == len(planned.procedure.steps)
    assert plan.stale == ()
    path = library.book_file("my-board")
    path.write_text(path.read_text() + "\n# a remark\n")
    assert only(library).complaints[0].plan.stale == ("the book",)


def test_jobs_are_counted_by_complaint(library):
    jobs = [
        Job("Quay", str(k), "my-board", complaint, outcome=Outcome.RETURNED)
        for k, complaint in enumerate(["no-power", "no-power", "something else"])
    ]
    with Store.open(library.store) as store:
        store.add(jobs)
    assert (only(library).jobs, only(library).complaints[0].jobs) == (3, 2)


def test_minutes_times_rates_are_the_labour_in_the_expected_cost(library):
    """The same figure by two ways: minutes from the book at the shop's rates, and money from the steps."""
    planned = plan_complaint(library, "my-board", "no-power")
    hands_on, waiting = expected_minutes(planned.procedure, planned.book)
    shop = planned.shop
    labour = hands_on * shop.hour / 60 + waiting * shop.waiting_hour / 60
    steps = planned.procedure.steps
    costs = [(s.reach, s.cost) for s in steps]
    money = sum(reach * (c.hands_on + c.waiting + c.setups + c.retest) for reach, c in costs)
    assert labour == pytest.approx(money, rel=1e-12)
    assert labour > 0


def test_a_book_with_errors_is_listed_with_its_findings(library):
    library.book_file("my-board").write_text("book: 1\nboard: {}\n")
    book = only(library)
    assert book.is_refused
    assert book.errors > 0
    assert book.complaints == ()


def test_a_book_that_is_no_text_is_listed(library):
    library.book_file("my-board").write_bytes(b"\xff\xfe\x00")
    assert only(library).is_refused


def test_a_shop_with_errors_leaves_the_books_and_says_why(library):
    plan_complaint(library, "my-board", "no-power")
    library.shop_file.write_text("shop: 1\n")
    seen = overview(library)
    assert seen.shop is None
    assert "shop.yaml" in seen.trouble
    assert seen.books[0].complaints[0].plan is None


def test_what_is_kept_is_used_and_damage_to_it_does_not_matter(library):
    first = overview(library)
    (kept,) = library.compiled.rglob("overview-*.json")
    stamp = kept.stat().st_mtime_ns
    assert overview(library) == first
    assert kept.stat().st_mtime_ns == stamp
    kept.write_text('{"made_from": 1')
    assert overview(library) == first


def test_a_plan_of_steps_that_the_book_no_longer_has_counts_as_none(library):
    plan_complaint(library, "my-board", "no-power")
    path = library.book_file("my-board")
    path.write_text(path.read_text().replace("rail-ohms", "rail-resistance"))
    assert only(library).complaints[0].plan is None
    assert kept_procedure(library, "my-board", "no-power").stale == ("the book",)


def test_a_book_that_there_is_not(library):
    with pytest.raises(NoBookError, match="no book 'other'"):
        book_overview(library, "other")
