"""Odd jobs: tail probabilities hold, planted mistakes are found with their reason, sound boards are left alone."""

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from doubtful_boards import (
    FAULTS,
    board_model,
    cases_of,
    drawn_jobs,
    job_of,
    repaired_with,
    value_of,
    with_reading,
)
from pydantic import TypeAdapter
from scipy.stats import kstest, norm

from benchlore.jobs import Reading
from benchlore.model import (
    CasesError,
    Evidence,
    exact_densities,
    fault_log_likelihoods,
    model_of,
    numeric_check,
    posterior,
)
from benchlore.model import named_check as named
from benchlore.proof import Odd, Outlier, outliers_in
from benchlore.proof.joblogs import seen_in, without_blunders
from benchlore.proof.tails import by_fault, discrepancies, drawn_boards, tail, tails
from benchlore.units import Measure

MODEL = board_model()
SOUND = without_blunders(MODEL)


def found_in(jobs, model=MODEL):
    return outliers_in(model, cases_of(model, jobs), jobs, rng=np.random.default_rng(0))


def of_kind(outliers, kind):
    return {one.number: one for one in outliers if one.kind is kind}


def test_discrepancies_are_those_of_the_posterior():
    jobs = drawn_jobs(MODEL, 0, 30)
    for job, one in zip(jobs, seen_in(MODEL, cases_of(MODEL, jobs)), strict=True):
        place = {check.name: c for c, check in enumerate(MODEL.checks)}
        readings = [(place[r.check], r) for r in job.readings]
        evidence = Evidence(
            readings=tuple(
                (c, MODEL.checks[c].results.index(r.result)) for c, r in readings if r.result is not None
            ),
            values=tuple((c, r.value) for c, r in readings if r.value is not None),
        )
        assert by_fault(MODEL, one.logs)[0] == pytest.approx(fault_log_likelihoods(MODEL, evidence), abs=1e-9)
        expected = -posterior(MODEL, evidence).log_evidence
        assert discrepancies(MODEL, -1, one.logs) == pytest.approx([expected], abs=1e-9)


@pytest.mark.parametrize("deviations", [0.3, 1.0, 2.5])
def test_the_tail_of_one_normal_number_is_the_normal_tail(deviations):
    # Of one normal reading the discrepancy grows with the distance from the mean: P(|Z| > z) = 2 (1 - Phi(z)).
    check = numeric_check("volts", 0, exact_densities(Measure.VOLTAGE, [5.0], [0.2]))
    model = without_blunders(model_of([0.9, 0.1], [[[1.0], [1.0]]], [check]))
    job = job_of("1", (Reading("volts", 0, value=5.0 - deviations * 0.2),), "f0")
    (one,) = seen_in(model, cases_of(model, [job]))
    drawn = drawn_boards(model, -1, [0], 40_000, np.random.default_rng(0))
    expected = 2 * norm.sf(deviations)
    assert tail(model, -1, one.strict, drawn) == pytest.approx(
        expected, abs=4 * np.sqrt(expected * (1 - expected) / 40_000) + 1e-4
    )


@pytest.mark.parametrize("confirmed", [0.0, 1.0])
def test_tails_of_sound_boards_are_uniform(confirmed):
    jobs = drawn_jobs(SOUND, 1, 400, confirmed=confirmed)
    seen = seen_in(MODEL, cases_of(MODEL, jobs))
    found = tails(
        SOUND, [one.fault for one in seen], [one.strict for one in seen], 2_000, np.random.default_rng(0)
    )
    if confirmed == 0.0:
        assert kstest(found, "uniform").pvalue > 0.01
    # the smaller of two tails, doubled, is at most as often small as one of them would be
    assert kstest(found, "uniform", alternative="greater").pvalue > 0.01


def test_sound_boards_raise_few_alarms():
    alarms = [len(found_in(drawn_jobs(SOUND, seed, 200))) for seed in range(5)]
    assert sum(alarms) <= 2  # of 1000 jobs


def with_mistyped(count, factor, check="ohms"):
    """Sound jobs, of which the first few that show the check's first state show it ``factor`` times."""
    jobs = drawn_jobs(SOUND, 3, 200)
    least = {"ohms": 2000, "rail": 3.6}[check]
    hit = [j for j, job in enumerate(jobs) if (value_of(job, check) or 0) > least][:count]
    for j in hit:
        value = value_of(jobs[j], check)
        jobs[j] = with_reading(jobs[j], check, value=value * factor, text=f"so {value:.0f}")
    return jobs, {jobs[j].number for j in hit}


@pytest.mark.parametrize(
    ("check", "factor", "power"),
    [("ohms", 1000, -3), ("ohms", 1e6, -6), ("rail", 1000, -3), ("rail", 1e-3, 3), ("rail", 10, -1)],
)
def test_a_forgotten_prefix_is_found_and_put_right(check, factor, power):
    jobs, planted = with_mistyped(6, factor, check)
    misread = of_kind(found_in(jobs), Odd.MISREAD)
    assert set(misread) >= planted
    assert len(set(misread) - planted) <= 1
    for number in planted:
        (wrong,) = misread[number].misread
        assert (wrong.check, wrong.power) == (check, power)
        assert wrong.wrote.startswith("so ")
        assert wrong.rest > 0.01


def test_what_was_expected_is_the_span_of_nine_readings_in_ten():
    jobs, planted = with_mistyped(6, 1000)
    joint = next(job for job in jobs if job.number in planted and job.fault == "joint")
    (wrong,) = of_kind(found_in(jobs), Odd.MISREAD)[joint.number].misread
    # 4.2 kohm, log-normal with deviation 0.15: 4.2 k × exp(± 1.645 × 0.15), a little wider for the 3 % shorted
    assert wrong.expected in {"3.1 kohm to 5.3 kohm", "3.2 kohm to 5.3 kohm", "3.1 kohm to 5.4 kohm"}


def with_swapped(count):
    """Sound jobs, of which the first few confirmed ones name a fault that has nothing in common with theirs."""
    jobs = drawn_jobs(SOUND, 4, 200, share=1.0)
    hit = [j for j, job in enumerate(jobs) if job.fault in FAULTS[:4]][:count]
    true = {jobs[j].number: jobs[j].fault for j in hit}
    for j in hit:
        jobs[j] = replace(jobs[j], fault=FAULTS[(FAULTS.index(jobs[j].fault) + 2) % 4])
    return jobs, true


def test_a_wrong_fault_is_found_and_the_right_one_named():
    jobs, true = with_swapped(10)
    wrong = of_kind(found_in(jobs), Odd.WRONG_FAULT)
    assert len(set(wrong) & set(true)) >= 7
    assert len(set(wrong) - set(true)) <= 1
    # readings may by chance look like a third fault
    assert (
        sum(wrong[number].rival.fault == true[number] for number in set(wrong) & set(true)) >= len(wrong) - 1
    )
    assert all(one.rival.odds > 100 and one.rival.surprise >= 0.01 for one in wrong.values())


def test_a_fix_that_cured_speaks_for_the_recorded_fault():
    jobs, true = with_swapped(10)
    jobs = [repaired_with(job, f"fix-{job.fault}") if job.number in true else job for job in jobs]
    found = {one.number: one for one in found_in(jobs)}
    assert set(found) & set(true)
    for number in set(found) & set(true):
        # the complaint always shows, so no fault but the recorded one can have gone with that fix
        assert found[number].rival is None
        assert found[number].kind is not Odd.WRONG_FAULT


def new_fault_jobs(model, seed, count, recorded, upset=(2, 3, 5)):
    """Jobs on boards whose fault upsets conditions that no listed fault upsets together."""
    rows = [np.where(np.arange(5)[:, None] == 4, [[0.05, 0.95] if g in upset else [0.97, 0.03]], table)
            for g, table in enumerate(model.state_probabilities)]  # fmt: skip
    other = replace(model, states=tuple(row * 1e6 for row in rows), prior=np.array([0, 0, 0, 0, 1e6]))
    jobs = drawn_jobs(other, seed, count, share=1.0, confirmed=1.0)
    return [replace(job, number=f"new-{job.number}", fault=recorded) for job in jobs]


def test_a_new_fault_that_was_recorded_as_a_listed_one_may_be_new():
    jobs = [*drawn_jobs(SOUND, 5, 150), *new_fault_jobs(SOUND, 6, 10, "joint")]
    kinds = Counter(one.kind for one in found_in(jobs) if one.number.startswith("new-"))
    assert kinds[Odd.NEW_FAULT] >= 7
    assert kinds.total() <= 10


def test_two_slips_in_one_job_are_told_apart_from_a_new_fault():
    jobs = drawn_jobs(SOUND, 3, 200, share=1.0)
    joint = next(j for j, job in enumerate(jobs) if job.fault == "joint" and value_of(job, "ohms") > 2000)
    for check in ("ohms", "rail"):
        jobs[joint] = with_reading(jobs[joint], check, value=value_of(jobs[joint], check) * 1e6)
    wrong = of_kind(found_in(jobs), Odd.MISREAD)[jobs[joint].number].misread
    assert {(one.check, one.power) for one in wrong} == {("ohms", -6), ("rail", -6)}


def test_a_job_with_few_readings_has_one_wrong_reading_at_most():
    jobs = drawn_jobs(SOUND, 3, 200, share=1.0)
    readings = tuple(Reading(check, 0, value=value) for check, value in (("ohms", 4.2e9), ("rail", 3e6)))
    jobs[0] = job_of("000", (*readings, Reading("press", 1, result="calm")), "plug")
    only = {one.number: one for one in found_in(jobs)}["000"]
    assert (only.kind, only.misread) == (Odd.NEW_FAULT, ())


def test_a_reading_that_cannot_be_is_found():
    table = [[1.0, 0.0], [0.0, 1.0]]
    model = model_of(
        [0.5, 0.4, 0.1], [[[1, 0], [0, 1], [0.5, 0.5]]] * 2, [named("a", 0, table), named("b", 1, table)]
    )
    readings = (Reading("a", 0, result="r0"), Reading("b", 1, result="r0"))
    jobs = [job_of(f"{j}", readings, "f0") for j in range(40)]
    jobs[7] = with_reading(jobs[7], "b", result="r1", text="rood")
    (only,) = found_in(jobs, model)
    assert (only.number, only.kind) == ("7", Odd.MISREAD)
    assert [(wrong.check, wrong.wrote, wrong.expected) for wrong in only.misread] == [("b", "rood", "r0")]


def test_a_fix_that_never_cures_the_recorded_fault_contradicts_the_record():
    jobs = drawn_jobs(SOUND, 0, 20, confirmed=1.0)
    joint = next(j for j, job in enumerate(jobs) if job.fault == "joint")
    jobs[joint] = repaired_with(jobs[joint], "fix-plug")
    (only,) = of_kind(found_in(jobs), Odd.CANNOT_CURE).values()
    assert (only.number, only.fault, only.fix) == (jobs[joint].number, "joint", "fix-plug")
    jobs[joint] = repaired_with(jobs[joint], "fix-joint")
    assert of_kind(found_in(jobs), Odd.CANNOT_CURE) == {}


def test_a_board_that_came_back_is_listed_whatever_its_readings():
    jobs = drawn_jobs(SOUND, 0, 20, confirmed=1.0)
    jobs[3] = replace(repaired_with(jobs[3], f"fix-{jobs[3].fault}"), comeback=True)
    (only,) = of_kind(found_in(jobs), Odd.CAME_BACK).values()
    assert (only.number, only.fault) == (jobs[3].number, jobs[3].fault)


def test_a_job_without_readings_surprises_nobody():
    jobs = [job_of("1", (), "joint"), job_of("2", (), None)]
    assert found_in(jobs) == ()
    assert found_in([]) == ()


def test_there_is_one_job_for_each_case():
    jobs = drawn_jobs(MODEL, 0, 5)
    with pytest.raises(CasesError, match="4 found, 5 jobs, one for each case, expected"):
        outliers_in(MODEL, cases_of(MODEL, jobs), jobs[1:], rng=np.random.default_rng(0))


def test_equal_chance_gives_equal_reports_that_go_to_json_and_back():
    jobs = [*with_mistyped(3, 1000)[0], *with_swapped(3)[0][:20]]
    found = found_in(jobs)
    assert found == found_in(jobs)
    adapter = TypeAdapter(tuple[Outlier, ...])
    assert adapter.validate_json(adapter.dump_json(found)) == found
