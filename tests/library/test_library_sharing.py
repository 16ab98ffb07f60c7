"""Credit on the board that ``init`` writes: a book of one person, and shops that record."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest

from benchlore.jobs import Store
from benchlore.library import (
    By,
    CreditTerms,
    Gave,
    NoBookError,
    credit_csv,
    credit_passages,
    init_library,
    share_credit,
)
from benchlore.money import AmountError
from finished_jobs import finished_jobs

TERMS = CreditTerms(pot=Decimal("100.01"))


def recorded(library, jobs):
    with Store.open(library.store) as store:
        store.add(jobs)


def by_name(report):
    return {each.name: each for each in report.contributors}


def shop_jobs(shop, count, technician=""):
    return [
        replace(job, technician=technician, opened=date(2025, 1, 1) + timedelta(days=10 * k))
        for k, job in enumerate(finished_jobs(count, shop))
    ]


@pytest.fixture(scope="module")
def library(tmp_path_factory):
    library = init_library(tmp_path_factory.mktemp("credit") / "library", title="T", board="my-board")
    recorded(library, [*shop_jobs("Quay", 40, "Ana"), *shop_jobs("=Lane", 8, "Bo")])
    return library


@pytest.fixture(scope="module")
def report(library):
    return share_credit(library, terms=TERMS, workers=1)


def test_shares_sum_to_what_all_save_and_the_pot_is_paid(report):
    saved = sum(each.saved for board in report.boards for each in board.complaints)
    assert report.worth == pytest.approx(saved, rel=1e-12)
    assert saved > 0
    assert sum(each.share for each in report.contributors) == pytest.approx(1.0)
    assert sum(each.amount for each in report.contributors) == TERMS.pot
    assert all(each.worth >= 0 and each.amount >= 0 for each in report.contributors)
    assert report.is_exact
    assert report.boards[0].coalitions == 4


def test_records_lower_the_cost_and_the_shop_with_more_of_them_has_more(report):
    found = by_name(report)
    complaint = report.boards[0].complaints[0]
    assert complaint.by_all < complaint.by_book < complaint.declined
    assert found["Quay"].worth >= found["=Lane"].worth > 0
    assert (found["Quay"].jobs, found["=Lane"].jobs) == (40, 8)
    assert complaint.a_year == pytest.approx(48 / (390 + 91.3125) * 365.25 * 2, rel=0.01)


def test_what_was_compiled_is_kept(library, report):
    told = []
    again = share_credit(library, terms=CreditTerms(), workers=1, report=lambda *at: told.append(at[1]))
    assert told == [4]
    assert [each.worth for each in again.contributors] == [each.worth for each in report.contributors]
    assert all(each.amount is None for each in again.contributors)


def test_drawn_orders_are_near_the_exact_shares(library, report):
    drawn = share_credit(library, terms=CreditTerms(most_exact=0, orders=40, seed=2), workers=1)
    assert not drawn.is_exact
    assert drawn.worth == pytest.approx(report.worth)
    exact = by_name(report)
    for each in drawn.contributors:
        assert abs(each.worth - exact[each.name].worth) <= 4 * each.error + 1e-9
    assert "orders drawn" in str(credit_passages(drawn))


def test_technicians_are_told_apart(library):
    names = {
        each.name
        for each in share_credit(library, terms=CreditTerms(by=By.TECHNICIAN), workers=1).contributors
    }
    assert {"Ana (Quay)", "Bo (=Lane)"} < names


def test_the_csv_is_safe_in_a_spreadsheet_and_sums_to_the_pot(report):
    lines = credit_csv(report).splitlines()
    assert lines[0].startswith("contributor,orcid,gave")
    assert any(line.startswith("'=Lane,") for line in lines)
    assert sum(Decimal(line.split(",")[-2]) for line in lines[1:]) == TERMS.pot


def test_equal_contributors_get_the_same(tmp_path):
    library = init_library(tmp_path / "library", title="T", board="my-board")
    recorded(library, [*shop_jobs("North", 20), *shop_jobs("South", 20)])
    report = share_credit(library, terms=CreditTerms(pot=Decimal("0.05")), workers=1)
    north, south = by_name(report)["North"], by_name(report)["South"]
    assert north.worth == pytest.approx(south.worth, rel=1e-9)
    assert north.amount - south.amount in (Decimal(0), Decimal("0.01"))


def test_without_jobs_everything_is_the_book_s(tmp_path):
    library = init_library(tmp_path / "library", title="T", board="my-board")
    report = share_credit(library, terms=TERMS, workers=1)
    assert {each.gave for each in report.contributors} == {Gave.BOOK}
    assert sum(each.amount for each in report.contributors) == TERMS.pot
    text = str(credit_passages(report))
    assert "all of it is the books'" in text
    assert "no job has a day" in text


def test_what_makes_no_sense_is_refused(library):
    with pytest.raises(NoBookError):
        share_credit(library, ["no-board"])
    with pytest.raises(AmountError, match="even number"):
        CreditTerms(orders=7)


def test_work_that_was_stopped_goes_on_where_it_was(tmp_path):
    library = init_library(tmp_path / "library", title="T", board="my-board")
    recorded(library, shop_jobs("Quay", 5))

    def stop(*at):
        if at[1] == 1:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        share_credit(library, workers=1, report=stop)
    told = []
    alone = share_credit(library, workers=1, report=lambda *at: told.append(at[1]))
    assert told == [1, 2]
    drawn = share_credit(library, terms=CreditTerms(most_exact=0), workers=1)
    for one, other in zip(alone.contributors, drawn.contributors, strict=True):
        assert one.worth == pytest.approx(other.worth)
