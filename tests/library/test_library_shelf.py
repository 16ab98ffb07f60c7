"""The soak shelf: pauses, restarts, what is to go and what each further hour adds."""

import pytest
from desk_bench import BOARD, RESTARTS, at, bench_library, entry

from benchlore.jobs import EntryKind as K
from benchlore.library import Desk, EntryRefusedError
from benchlore.library.desk_clock import clock_of, trial_of

FIX = entry(1, K.FIX, 0, fix="replace-u2", soak=120)
SOAK = entry(2, K.SOAK, 10, minutes=120)


def soak_of(*entries, now):
    return trial_of((FIX, SOAK, *entries), at(now)).soak


def test_time_off_is_no_soak_and_moves_the_end():
    off, on = entry(3, K.POWER, 40, to="off"), entry(4, K.POWER, 100, to="on")
    assert soak_of(off, now=90).paused
    assert soak_of(off, now=90).ran == 30
    soak = soak_of(off, on, now=130)
    assert (soak.ran, soak.paused, soak.over, soak.until) == (60, False, False, at(190))
    assert soak_of(off, on, now=190).over
    assert soak_of(off, on, now=500).until == at(190)


def test_time_off_counts_as_no_waiting():
    entries = [entry(1, K.SOAK, 0, minutes=120), entry(2, K.POWER, 30, to="off")]
    assert clock_of(entries, at(90)).waiting == 30
    assert clock_of([*entries, entry(3, K.POWER, 90, to="on")], at(100)).waiting == 40


def test_a_restart_is_put_at_the_soak_that_was_done_by_then():
    off, on = entry(3, K.POWER, 40, to="off"), entry(4, K.POWER, 100, to="on")
    soak = soak_of(off, on, entry(5, K.RESTART, 130, ago=15), entry(6, K.RESTART, 131, ago=0), now=131)
    assert soak.shown == (45, 61)


def test_an_undo_inside_a_soak_lets_it_go_on():
    entries = [entry(1, K.SOAK, 0, minutes=120), entry(2, K.RESTART, 30, ago=0), entry(3, K.UNDO, 40, to=1)]
    assert clock_of(entries, at(100)).waiting == 100
    assert clock_of([*entries, entry(4, K.UNDO, 100, to=0)], at(200)).waiting == 100


@pytest.fixture(scope="module")
def library(tmp_path_factory):
    return bench_library(tmp_path_factory.mktemp("shelf") / "library")


class Job:
    """A job on the desk with a soak of two hours, begun at minute 10."""

    def __init__(self, desk):
        self.desk = desk
        self.key = desk.start(BOARD, RESTARTS, now=at(0)).key
        self.enter(0, K.FIX, fix="replace-u2", soak=120)
        self.enter(10, K.SOAK, minutes=120)

    def enter(self, minute, kind, **data):
        last = self.desk.view(self.key, at(minute)).last
        return self.desk.enter(
            self.key, kind, data, expected=last, token=f"token-{last}", by="Ines", now=at(minute)
        )

    def on_shelf(self, minute):
        return next((each for each in self.desk.shelf(at(minute)).boards if each.job.key == self.key), None)


@pytest.fixture
def job(library):
    with Desk(library) as desk:
        yield Job(desk)


def test_each_further_hour_adds_what_the_job_page_says(job):
    board = job.on_shelf(70)
    due = job.desk.view(job.key, at(70)).due
    assert (board.soaked, board.planned, board.left, board.state) == (60, 120, 60, "runs")
    assert [step for step, _ in board.ahead] == [0, 60, 120]
    assert board.cured == pytest.approx(due.sofar.cured)
    assert board.ahead[1][1] == pytest.approx(due.planned.cured)
    assert [chance for _, chance in board.curve] == sorted(chance for _, chance in board.curve)


def test_the_plan_on_the_shelf_proves_the_same(job):
    board = job.on_shelf(70)
    done = next(row for row in board.plan.after.rows if row.why == "done")
    # The plan counts the retest's own three minutes too, as the job page does.
    assert done.verdict.clean.cured == pytest.approx(board.cured)


def test_a_soak_rings_when_its_time_is_done_and_when_the_complaint_shows(job):
    assert not job.on_shelf(129).rings
    assert job.on_shelf(130).state == "over"
    job.enter(60, K.RESTART, ago=5)
    board = job.on_shelf(61)
    assert (board.state, board.soak.shown, board.cured, board.stands) == ("shown", (45,), 0.0, "go on")
    job.enter(62, K.UNDO, to=2)
    assert job.on_shelf(63).state == "runs"


def test_the_retest_ends_it(job):
    job.enter(130, K.RETEST, result="gone")
    assert job.on_shelf(131) is None


@pytest.mark.parametrize(
    ("kind", "data", "said"),
    [
        (K.RESTART, {"ago": 60}, "60 minutes ago the soak had not begun"),
        (K.RESTART, {"ago": -1}, "minutes from 0"),
        (K.POWER, {"to": "on"}, "the device is on already"),
        (K.POWER, {"to": "asleep"}, "where on or off is expected"),
    ],
)
def test_what_cannot_have_been_is_refused(job, kind, data, said):
    with pytest.raises(EntryRefusedError, match=said):
        job.enter(40, kind, **data)


def test_without_a_soak_nothing_of_one_can_be_noted(job):
    job.enter(20, K.RETEST, result="gone")
    with pytest.raises(EntryRefusedError, match="none runs"):
        job.enter(21, K.RESTART, ago=0)


def test_a_book_with_errors_leaves_its_board_on_the_shelf_without_figures(tmp_path):
    library = bench_library(tmp_path / "library")
    with Desk(library) as desk:
        Job(desk)
    library.book_file(BOARD).write_text("book: 1\n")
    with Desk(library) as desk:
        shelf = desk.shelf(at(60))
    assert (len(shelf.boards), len(shelf.unread)) == (0, 1)
