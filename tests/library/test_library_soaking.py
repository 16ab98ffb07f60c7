"""How long to soak, asked of a library."""

from datetime import UTC, date, datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchlore.book import Hazard, read_book
from benchlore.jobs import Attempt, Job, OpenJob, Outcome, Retest, Store
from benchlore.library import (
    Bench,
    NoRateError,
    ReadingError,
    RecordRefusedError,
    SoakAsked,
    cure_rates,
    init_library,
    learn_board,
    plan_soak,
    read_restarts,
    reading_of,
)
from benchlore.library.curing import _Board, _curve, _share
from benchlore.library.desk_belief import proves
from benchlore.notation import FileMissing, FileUnreadable
from benchlore.soak import Pattern, WordsError, cure_curve, find_kind, mean_of_intervals, record_of
from soak_book import BOOK, SUPERVISOR

NOW = datetime(2026, 11, 26, 20, tzinfo=UTC)
BOARD = "ferrol-p1"


@pytest.fixture(scope="module")
def pumps(tmp_path_factory):
    library = init_library(tmp_path_factory.mktemp("pumps") / "library", title="Pumps", board=BOARD)
    (library.books / BOARD / "book.yaml").write_text(BOOK)
    return library


@pytest.fixture(scope="module")
def log(tmp_path_factory):
    path = tmp_path_factory.mktemp("log") / "restarts.log"
    path.write_text(SUPERVISOR)
    return path


def test_without_a_record_a_soak_proves_what_the_bench_page_says(pumps):
    plan = plan_soak(pumps, BOARD, "restarts", SoakAsked(after="reflow-joint", soaked=45.0))
    model = learn_board(pumps, BOARD).models["restarts"]
    assert plan.after is not None
    assert {row.why for row in plan.after.rows} == {
        "the book's",
        "95 % sure to show it",
        "costs least",
        "done",
    }
    for row in plan.after.rows:
        page = proves(model, Bench(), [1], row.minutes)
        clean = row.verdict.clean
        assert (clean.cured, clean.overlooked, clean.clean) == pytest.approx(
            (page.cured, page.overlooked, page.clean), rel=1e-6
        )


def test_the_cheapest_soak_is_cheaper_than_its_neighbours(pumps):
    from benchlore.library.folder import sound_shop_of
    from benchlore.procedure import instance_of

    plan = plan_soak(pumps, BOARD, "restarts", SoakAsked(after="reflow-joint"))
    model, shop = learn_board(pumps, BOARD).models["restarts"], sound_shop_of(pumps)
    ends = instance_of(model, shop)

    def cost(minutes):
        page = proves(model, Bench(), [1], minutes)
        return shop.waiting_hour / 60 * minutes + (page.clean - page.cured * page.clean) * (
            ends.comeback - ends.give_up / 2
        )

    best = plan.after.cheapest
    assert best > 0
    assert cost(best) <= min(cost(best * 0.95), cost(best * 1.05))


def test_a_record_moves_the_suspects_and_the_rate(pumps, log):
    read = read_restarts(log, now=NOW)
    assert read.finding.pattern is Pattern.FIXED
    plan = plan_soak(pumps, BOARD, "restarts", SoakAsked(after="wire-timer"), record=read)
    assert (plan.reading.check, plan.reading.result) == ("rhythm", "even")
    timer = next(moved for moved in plan.suspects if moved.fault == "timer")
    assert timer.after > 0.75 > timer.before
    assert plan.typical == pytest.approx(3.0, rel=0.1)
    assert plan.clock == pytest.approx(3.0, rel=0.01)
    assert plan.after.cured == pytest.approx(0.9 * timer.after, rel=0.01)


def test_words_and_record_add_up(pumps, tmp_path):
    log = tmp_path / "restarts.log"
    minutes = np.cumsum(np.random.default_rng(2).exponential(20, 12))
    log.write_text("0.0\n" + "".join(f"{60 * minute:.1f}\n" for minute in minutes))
    read = read_restarts(log, now=NOW)
    assert read.finding.pattern is Pattern.RANDOM
    both = plan_soak(pumps, BOARD, "restarts", SoakAsked(says="twice a day"), record=read)
    record, words = (
        plan_soak(pumps, BOARD, "restarts", record=read),
        plan_soak(pumps, BOARD, "restarts", SoakAsked(says="twice a day")),
    )
    assert record.typical < both.typical < words.typical
    assert len(both.sources) == 2


def test_a_record_by_a_clock_counts_whatever_the_customer_said(pumps, log):
    read = read_restarts(log, now=NOW)
    plan = plan_soak(pumps, BOARD, "restarts", SoakAsked(says="twice a day", after="wire-timer"), record=read)
    assert (plan.low, plan.high) == (pytest.approx(3.0, rel=0.05), pytest.approx(3.0, rel=0.05))
    # A few beats instead of three mean times between events.
    assert dict(plan.confidences)[0.95] < 1.3 * plan.clock
    assert dict(plan.confidences)[0.99] < 2.3 * plan.clock


def test_a_reading_that_was_given_is_not_overruled_by_the_record(pumps, log):
    asked = SoakAsked(readings=(("rhythm", "uneven"),))
    assert plan_soak(pumps, BOARD, "restarts", asked, record=read_restarts(log, now=NOW)).reading is None


def test_an_accelerated_soak_is_shorter_on_the_bench_and_proves_as_much(pumps):
    plain, fast = (
        plan_soak(pumps, BOARD, "restarts", SoakAsked(says="hourly", after="reflow-joint", factor=f))
        for f in (1.0, 4.0)
    )
    assert [t for _, t in fast.confidences] == pytest.approx([t / 4 for _, t in plain.confidences])
    sure = {
        plan.asked.factor: next(r for r in plan.after.rows if r.why.startswith("95"))
        for plan in (plain, fast)
    }
    assert sure[4.0].verdict.clean.cured == pytest.approx(sure[1.0].verdict.clean.cured)


def test_cautions_of_the_retest_go_with_the_plan(pumps):
    assert plan_soak(pumps, BOARD, "restarts").hazards == (Hazard.LITHIUM,)


def test_what_cannot_be_asked_is_refused(pumps):
    with pytest.raises(NoRateError, match="always shows: trying it once tells"):
        plan_soak(pumps, BOARD, "dead")
    with pytest.raises(ReadingError, match="no fix of that name"):
        plan_soak(pumps, BOARD, "restarts", SoakAsked(after="prayer"))
    with pytest.raises(WordsError, match="'blue' says no rate"):
        plan_soak(pumps, BOARD, "restarts", SoakAsked(says="blue"))


def test_a_hard_complaint_with_a_record_is_planned(pumps, log):
    assert plan_soak(pumps, BOARD, "dead", record=read_restarts(log, now=NOW)).typical < 4


def test_files_that_are_no_record_are_refused_with_name_and_line(tmp_path):
    path = tmp_path / "x.log"
    path.write_bytes(b"2026-11-26T10:00:00Z\n2026-11-26T10:00:00\n\xff\xfe")
    with pytest.raises(RecordRefusedError, match=r"x\.log:2: '2026-11-26T10:00:00' has no zone"):
        read_restarts(path, now=NOW)
    with pytest.raises(FileMissing):
        read_restarts(tmp_path / "none.log", now=NOW)
    with pytest.raises(FileUnreadable):
        read_restarts(tmp_path, now=NOW)


def test_bytes_that_are_no_text_do_not_stop_a_log(tmp_path):
    path = tmp_path / "x.log"
    path.write_bytes(b"2026-11-26 10:00 \xff\xfe\n2026-11-26 10:10 \x00\n")
    told = []
    assert read_restarts(path, now=NOW, report=lambda *row: told.append(row)).record.count == 1
    assert told[-1][1] == told[-1][2]


@pytest.mark.parametrize(
    ("times", "result"), [([180, 360, 540, 721], "even"), ([5, 40, 43, 175, 389, 712], "uneven"), ([], None)]
)
def test_a_finding_is_read_as_the_book_says(times, result):
    book = read_book(BOOK, name=BOARD).book
    read = reading_of(book, find_kind(record_of(times, 1500.0)))
    assert (read.result if read else None) == result


def job(number, *attempts, opened=date(2026, 1, 1), fault="joint", **more):
    tried = tuple(Attempt(fix, step, retest) for step, (fix, retest) in enumerate(attempts, start=1))
    return Job(
        "a", number, BOARD, "restarts", opened, attempts=tried, outcome=Outcome.REPAIRED, fault=fault, **more
    )


def test_cure_rates_come_from_retests_and_comebacks(tmp_path):
    library = init_library(tmp_path / "library", title="Pumps", board=BOARD)
    (library.books / BOARD / "book.yaml").write_text(BOOK)
    assert cure_rates(library, BOARD) == ()
    gone, there = ("reflow-joint", Retest.GONE), ("reflow-joint", Retest.STILL_THERE)
    jobs = [
        *(job(f"good {k}", gone) for k in range(6)),
        job("not at once", there, gone),
        job("back", gone, comeback=True),
        job("back once", gone, comeback=True),
        job("other", ("wire-timer", Retest.GONE), fault="timer", opened=date(2026, 6, 1)),
        job("wrong fix", ("wire-timer", Retest.STILL_THERE)),
        job("nobody knows", gone, fault=None),
    ]
    with Store.open(library.store) as store:
        store.add(jobs)
        again = OpenJob(
            "k",
            "a",
            "again",
            BOARD,
            "restarts",
            datetime(2026, 2, 10, tzinfo=UTC),
            comeback_of=("a", "back once"),
        )
        store.open_job(again)
    joint, timer = sorted(cure_rates(library, BOARD), key=lambda rate: rate.fix)
    assert (joint.boards, joint.at_once, joint.later, joint.undated) == (10, 1, 2, 1)
    # At once 1 of 10, after 40 days 1 of 9, and one without a date by day 151: by day 30 a fifth of it, roughly.
    mean = mean_of_intervals(np.array([40.0, 0, *[151.0] * 7]), np.array([40.0, 151, *[np.inf] * 7]))
    by = [-np.expm1(-days / mean) / -np.expm1(-151 / mean) for days in (30, 40, 90)]
    assert 0.1 < by[0] < 0.3
    assert joint.shares[0][1] == pytest.approx(0.9 - by[0] / 10, abs=0.002)
    before = 0.9 - by[1] / 10  # nobody leaves before day 151, so that each board counts a tenth
    assert joint.shares[1][1] == pytest.approx(before - 0.1 - (by[2] - by[1]) / 10, abs=0.002)
    # It may have come by day 30, or not; by day 90 it was the last of 9 or of 8 boards, or has not come.
    early = cure_curve(np.array([0.0, 30.0, *[40.0] * 8]), np.array([1.0, 1.0, *[0.0] * 8]))
    assert joint.shares[0][2] == pytest.approx(early.at(30.0)[1])
    late = cure_curve(np.array([0.0, 40.0, *[151.0] * 8]), np.array([1.0, 1.0, *[0.0] * 8]))
    assert joint.shares[1][3] == pytest.approx(late.at(90.0)[2])
    assert (joint.stated, timer.boards, timer.shares[0][1:]) == (0.8, 1, (1.0, 0.0, 1.0))


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_limits_hold_wherever_a_comeback_without_a_date_came(seed):
    """No days that they may have come on give other limits by more than a hundredth; the estimate lies between.

    Some board is followed to the end: where all came back, the exact limit of the last of them takes over. A
    hundredth, because the variance of few boards depends a little on who was still followed.
    """
    rng = np.random.default_rng(seed)
    boards = [
        _Board(float(rng.integers(1, 60)), came=bool(came), undated=bool(came and rng.random() < 0.5))
        for came in rng.random(int(rng.integers(2, 14))) < 0.5
    ]
    boards.append(_Board(float(rng.integers(1, 60)), came=True, undated=True))
    boards.append(_Board(60.0, came=False))
    now, low, high = _share(boards, _curve(boards, (board.days for board in boards)), 30.0)
    assert low <= now <= high
    for _ in range(20):
        days = [rng.uniform(0, board.days) if board.undated else board.days for board in boards]
        _, lowest, highest = _curve(boards, days).at(30.0)
        assert low <= lowest + 0.01
        assert highest <= high + 0.01
