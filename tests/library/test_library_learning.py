"""How knowledge grows with the boards examined, from a library's jobs."""

import csv
from dataclasses import replace
from datetime import date, timedelta

import pytest

from benchlore.jobs import Job, Outcome, Store
from benchlore.library import (
    BookRefusedError,
    FundTerms,
    LearningTerms,
    NoComplaintError,
    NoCurveError,
    NoDemandError,
    fund_rows,
    init_library,
    learning_curve,
    learning_passages,
    plan_complaint,
    plan_fund,
)
from benchlore.money import AmountError
from benchlore.press import learning_html
from finished_jobs import finished_jobs

SPIDERS = [46, 22, 17, 15, 15, 9, 8, 6, 6, 4, *[2] * 4, *[1] * 12]
"""Spiders on girdled hemlocks: Ellison et al. 2010, as in Chao et al. 2014, Ecological Monographs 84, 45-67."""

MANY = """
book: 1
board: {{name: Brindle board, device: Brindle heater}}
licence: CC0-1.0
currency: EUR
conditions: {{rail: {{at: TP1, states: [normal, low]}}}}
checks:
  look: {{title: Rail, reads: rail, how: Look., results: [good, bad], takes: 1 min,
         shows: {{normal: {{good: 95 %}}, low: {{bad: 95 %}}}}}}
faults:
  f0: {{title: Fault 0, causes: {{rail: {{low: 95 %}}}}}}
{faults}
fixes:
  mend-0: {{title: Mend, cures: {{f0: 90 %}}, how: Solder., takes: 10 min}}
complaints:
  hums: {{title: Hums, retest: {{takes: 1 min}}, worth: 120}}
""".format(faults="\n".join(f"  f{k}: {{title: Fault {k}}}" for k in range(1, len(SPIDERS))))


@pytest.fixture(scope="module")
def library(tmp_path_factory):
    """40 jobs in a year on ``my-board``; on ``brindle`` as many boards a fault as spiders of a kind."""
    library = init_library(tmp_path_factory.mktemp("learning") / "library", title="Test", board="my-board")
    brindle = library.books / "brindle"
    brindle.mkdir()
    (brindle / "book.yaml").write_text(MANY, encoding="utf-8")
    faults = [f"f{k}" for k, count in enumerate(SPIDERS) for _ in range(count)]
    spiders = [
        Job("Quay", f"S{k}", "brindle", "hums", outcome=Outcome.RETURNED, fault=fault, hands_on=30.0)
        for k, fault in enumerate(faults)
    ]
    mine = [
        replace(job, opened=date(2025, 1, 1) + timedelta(days=9 * k))
        for k, job in enumerate(finished_jobs(40))
    ]
    with Store.open(library.store) as store:
        store.add([*mine, *spiders])
    return library


@pytest.fixture(scope="module")
def own(library):
    return learning_curve(library, "my-board", "no-power", terms=LearningTerms(shops=10), workers=1)


@pytest.fixture(scope="module")
def spiders(library):
    return learning_curve(library, "brindle", "hums", terms=LearningTerms(jobs=5), workers=1)


def test_the_curve_of_the_spiders_is_the_published_one(spiders):
    """Chao et al. 2014 and the vignette of Hsieh, Ma & Chao 2016: coverage 0.9289 at 168, 0.964 at 336."""
    coverage = {point.boards: point.coverage.value for point in spiders.points}
    assert coverage[0] == 0
    assert coverage[1] == pytest.approx(0.122327, abs=1e-5)
    assert coverage[168] == pytest.approx(0.928855, abs=1e-6)
    assert coverage[336] == pytest.approx(0.963570, abs=1e-5)
    assert [point.expected for point in spiders.points if point.boards in {168, 336}] == [False, True]
    assert all(point.coverage.low <= point.coverage.value <= point.coverage.high for point in spiders.points)


def test_hours_are_boards_times_the_recorded_time_of_one(spiders, own):
    assert (spiders.hours_per_board, own.hours_per_board) == (0.5, 1.5)
    assert all(point.hours == point.boards * 0.5 for point in spiders.points)
    assert "168 recorded jobs" in spiders.hours_from


def test_at_the_end_a_job_costs_what_its_procedure_does(library, own):
    planned = plan_complaint(library, "my-board", "no-power")
    at_present = next(point for point in own.points if point.boards == own.boards)
    assert at_present.cost == pytest.approx(planned.procedure.expected)
    assert own.points[0].cost == own.ignorant == 100.0
    costs = [point.cost for point in own.points]
    assert costs == sorted(costs, reverse=True)


def test_research_stops_where_it_is_worth_most(own):
    best = max(point.value for point in own.points)
    assert own.stop.value == best == own.at(own.stop.place).value
    assert own.alone.place <= own.stop.place
    beyond = own.at(own.stop.place).next_hour
    assert beyond < own.rate


def test_a_device_without_a_book_goes_by_like_boards(library, own):
    terms = LearningTerms(jobs=3, worth=220, like=("my-board",))
    found = learning_curve(library, "pump", "no-power", terms=terms, workers=1)
    assert (found.source, found.like, found.ignorant) == ("pooled", (("my-board", "no-power", 40),), 200.0)
    assert [point.coverage for point in found.points] == [point.coverage for point in own.points]
    assert [p.cost for p in found.points] == pytest.approx([2 * p.cost for p in own.points])
    assert learning_passages(found)[0].sentences[0].startswith("Pooled: pump has too few boards")


def test_pooled_curves_lie_between_those_that_they_are_made_of(library, own, spiders):
    found = learning_curve(library, "pump", "leaks", terms=LearningTerms(jobs=3, worth=100), workers=1)
    assert {board for board, _, _ in found.like} == {"my-board", "brindle"}
    assert found.points[-1].boards <= 80, "as far as all of them reach"
    for point in found.points[1:]:
        ends = [
            next(p.coverage.value for p in curve.points if p.boards >= point.boards)
            for curve in (own, spiders)
        ]
        assert point.coverage.low <= point.coverage.value <= max(ends)


def test_its_rows_are_an_either_or_group_that_fund_takes(library, own, tmp_path):
    table = tmp_path / "rows.csv"
    table.write_text(fund_rows(own), encoding="utf-8")
    rows = list(csv.DictReader(table.read_text(encoding="utf-8").splitlines()))
    assert len({row["either-or"] for row in rows}) == 1
    hours = [float(row["hours"]) for row in rows]
    assert hours == sorted(set(hours))
    funded = plan_fund(library, table, FundTerms(budget=1e6, draws=2))
    (place,) = funded.chosen.places
    chosen = funded.candidates[place]
    assert chosen.hours == own.at(own.stop.place).hours, (
        "with enough money the plan stops where the curve says"
    )
    assert chosen.benefit - chosen.cost == pytest.approx(own.stop.value, rel=1e-5)


def test_the_page_has_both_pictures(own):
    text = learning_html(own)
    assert text.count("<svg") == 4
    assert "Cost of a job as boards are examined" in text


def test_without_boards_like_or_not_there_is_no_curve(tmp_path):
    library = init_library(tmp_path / "library", title="Test", board="my-board")
    asked = LearningTerms(jobs=3)
    with pytest.raises(NoCurveError, match="take in jobs, or name books with --like"):
        learning_curve(library, "my-board", "no-power", terms=asked, workers=1)
    with Store.open(library.store) as store:
        store.add(finished_jobs(1))
    with pytest.raises(NoCurveError, match="fewer than 2"):
        learning_curve(library, "my-board", "no-power", terms=asked, workers=1)
    with pytest.raises(NoComplaintError):
        learning_curve(library, "my-board", "hums", terms=asked, workers=1)


def test_a_book_with_errors_is_no_like_book(tmp_path):
    library = init_library(tmp_path / "library", title="Test", board="my-board")
    with Store.open(library.store) as store:
        store.add(finished_jobs(3))
    (library.books / "torn").mkdir()
    (library.books / "torn" / "book.yaml").write_text("book: 1\n", encoding="utf-8")
    asked = LearningTerms(jobs=3, worth=90)
    found = learning_curve(library, "pump", "hums", terms=asked, workers=1)
    assert found.like == (("my-board", "no-power", 3),)
    with pytest.raises(BookRefusedError):
        learning_curve(library, "pump", "hums", terms=replace(asked, like=("torn",)), workers=1)


def test_what_nobody_says_is_asked_for(library):
    with pytest.raises(NoDemandError, match="--jobs"):
        learning_curve(library, "brindle", "hums", workers=1)


@pytest.mark.parametrize(
    "terms",
    [{"hours": -1.0}, {"rate": -1.0}, {"jobs": -3.0}, {"worth": float("nan")}, {"shops": -1.0}, {"years": 0}],
)
def test_numbers_without_sense_are_refused_before_the_work(library, terms):
    with pytest.raises(AmountError, match="makes no sense"):
        learning_curve(library, "my-board", "no-power", terms=LearningTerms(**terms), workers=1)
