"""What a book brought: jobs led at the bench beside others, on the board that ``init`` writes."""

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from benchlore.jobs import Draft, EntryKind, OpenJob, Outcome, Store
from benchlore.library import NoBookError, impact_passages, prove_complaint, weigh_impact
from benchlore.library.impact_words import UNKNOWN
from benchlore.press import impact_html
from benchlore.proof import Settings, Way
from finished_jobs import finished_jobs

NOW = datetime(2026, 3, 1, 9, tzinfo=UTC)


def lead(store, job):
    """Keep a job at the bench from its start to its end."""
    key = f"k-{job.number}"
    store.open_job(OpenJob(key, job.shop, job.number, job.board, job.complaint, NOW))
    data = {"outcome": str(job.outcome), "fault": job.fault, "fault_text": "", "notes": ""}
    close = Draft(EntryKind.CLOSE, {**data, "hands_on": None, "waiting": None}, NOW, "Ana", key)
    store.close_job(key, close, job, expected=0)


def as_led(k, job):
    """Thirty minutes each; the last of them was ruined."""
    outcome = Outcome.RUINED if k == 9 else Outcome.REPAIRED
    return replace(
        job, number=f"led-{k}", hands_on=30.0 + k, outcome=outcome, opened=date(2026, 1 + k, 1) if k else None
    )


def as_own(k, job):
    """Ninety minutes each; a third of them went back."""
    given_up = k % 3 == 0
    return replace(
        job,
        hands_on=80.0 + k,
        outcome=Outcome.RETURNED if given_up else Outcome.REPAIRED,
        fault=None if given_up else job.fault,
        comeback=k == 1,
    )


@pytest.fixture
def recorded(library):
    jobs = finished_jobs(12)
    with Store.open(library.store) as store:
        store.add([as_own(k, job) for k, job in enumerate(jobs)])
        for k, job in enumerate(jobs[:10]):
            lead(store, as_led(k, job))
    return library


def text_of(report):
    return "\n".join(sentence for each in impact_passages(report) for sentence in each.sentences)


def test_led_jobs_are_compared_with_the_others(recorded):
    report = weigh_impact(recorded)
    assert (report.led.jobs, report.led.repaired, report.led.ruined) == (10, 9, 1)
    assert (report.own.jobs, report.own.repaired, report.own.returned, report.own.came_back) == (12, 7, 4, 1)
    measured = report.measured
    assert measured.repaired.value == pytest.approx(10 * (9 / 10 - 7 / 12))
    assert measured.hours.value == pytest.approx(10 * (85.5 - 34.5) / 60)
    assert measured.hours.low < measured.hours.value < measured.hours.high
    assert measured.money.value > measured.hours.value * report.hour  # fewer repairs are lost, too
    assert "3.2 more were repaired than would have been" in text_of(report)
    assert "8.5 bench hours saved" in text_of(report)


def test_only_led_jobs_since_the_day_count_and_those_without_a_day_are_told(recorded):
    report = weigh_impact(recorded, since=date(2026, 4, 1))
    assert (report.led.jobs, report.own.jobs, report.undated) == (7, 12, 1)
    assert "1 led job without a day of opening did not count" in text_of(report)
    late = weigh_impact(recorded, since=date(2027, 1, 1))
    assert (late.led.jobs, late.measured) == (0, None)
    assert UNKNOWN in text_of(late)


def test_equal_seeds_give_equal_figures(recorded):
    assert weigh_impact(recorded) == weigh_impact(recorded)
    assert weigh_impact(recorded, seed=2).measured.hours != weigh_impact(recorded).measured.hours


def test_without_jobs_it_says_what_is_missing_and_no_number(library):
    report = weigh_impact(library)
    assert (report.measured, report.expected) == (None, None)
    text = text_of(report)
    assert "at least 5 of both are needed" in text
    assert "'benchlore prove my-board no-power' makes one" in text


def test_without_minutes_boards_are_told_and_hours_are_not(library):
    jobs = finished_jobs(12)
    with Store.open(library.store) as store:
        store.add([replace(as_own(k, job), hands_on=None) for k, job in enumerate(jobs)])
        for k, job in enumerate(jobs[:10]):
            lead(store, as_led(k, job))
    report = weigh_impact(library)
    assert report.measured.repaired.value > 0
    assert (report.measured.hours, report.measured.money) == (None, None)
    assert "Hours and money cannot be told" in text_of(report)
    assert "minutes are on record of 10 led jobs and 0 others" in text_of(report)


def test_the_page_has_all_of_it_and_an_unknown_board_is_refused(recorded):
    html = impact_html(weigh_impact(recorded))
    assert "What is missing" in html
    assert "bench hours saved" in html
    with pytest.raises(NoBookError):
        weigh_impact(recorded, ["no-board"])


def test_a_kept_proof_says_what_the_procedure_would_have_saved(library):
    with Store.open(library.store) as store:
        store.add(finished_jobs(20))
    proved = prove_complaint(library, "my-board", "no-power", settings=Settings(folds=2, draws=2), workers=1)
    bench = proved.proof.replay.of(Way.BENCH)
    report = weigh_impact(library)
    assert report.measured is None
    assert report.expected.jobs == bench.jobs == 20
    assert report.expected.hours.value == pytest.approx(20 * bench.more_minutes.value / 60)
    assert report.expected.money.low == pytest.approx(20 * bench.more.low)
    text = text_of(report)
    assert "Not measured, but replayed: the 20 recorded jobs" in text
    assert "no proof is kept" not in text
    with Store.open(library.store) as store:
        store.add(finished_jobs(1, shop="Hill"))
    assert "changed since the proof was made: the recorded jobs" in text_of(weigh_impact(library))


def test_a_loss_is_called_a_loss(library):
    jobs = finished_jobs(12)
    with Store.open(library.store) as store:
        store.add(jobs)
        for k, job in enumerate(jobs[:8]):
            ended = Outcome.RETURNED if k < 4 else Outcome.REPAIRED
            lead(store, replace(job, number=f"led-{k}", hands_on=120.0 + k, outcome=ended, fault=None))
    text = text_of(weigh_impact(library))
    assert "4.0 fewer were repaired than would have been (95 %: " in text
    assert "4.5 bench hours lost (95 %: " in text
