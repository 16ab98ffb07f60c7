from math import inf, nan

import numpy as np
import pytest
from random_models import random_cases, random_model

from benchlore.jobs import Attempt, Job, Outcome, Reading, Retest
from benchlore.model import (
    Cases,
    CasesError,
    Tried,
    cases_from_jobs,
    exact_densities,
    fix_of,
    model_of,
    named_check,
    numeric_check,
)
from benchlore.model.cases import refuse_misfits
from benchlore.units import OL, Measure


@pytest.fixture(scope="module")
def models():
    """Complaints "restarts" and "dead"; a named check "lamp", a numeric one "volts"; fixes "reflow", "swap"."""
    checks = [
        named_check("lamp", 0, np.eye(2), results=["lit", "dark"]),
        numeric_check("volts", 0, exact_densities(Measure.VOLTAGE, [3.3, 0.1], [0.1, 0.1])),
    ]
    fixes = [fix_of("reflow", [0.9, 0.0, 0.0]), fix_of("swap", [0.0, 0.8, 0.0])]
    return [
        model_of(
            [5, 3, 2],
            [[[0.9, 0.1], [0.1, 0.9], [0.5, 0.5]]],
            checks,
            fixes,
            faults=["joint", "chip", "unlisted"],
            complaint=name,
        )
        for name in ("restarts", "dead")
    ]


def job(**fields):
    return Job(
        **(
            {"shop": "s", "number": "1", "board": "board", "complaint": "dead", "outcome": Outcome.REPAIRED}
            | fields
        )
    )


def readings_of(cases):
    return list(
        zip(
            cases.reading_checks.tolist(),
            cases.reading_results.tolist(),
            cases.reading_values.tolist(),
            strict=True,
        )
    )


def test_a_repaired_job_becomes_a_row_with_its_fault_and_complaint(models):
    cases = cases_from_jobs(models, [job(fault="chip"), job(complaint="restarts", fault="unlisted")])
    assert cases.complaints.tolist() == [1, 0]
    assert cases.faults.tolist() == [1, 2]


def test_nobody_confirmed_the_fault(models):
    assert cases_from_jobs(models, [job(outcome=Outcome.RETURNED)]).faults.tolist() == [-1]


def test_readings_are_results_or_numbers(models):
    readings = (Reading("lamp", 1, result="dark"), Reading("volts", 2, value=0.2))
    assert readings_of(cases_from_jobs(models, [job(readings=readings)])) == [(0, 1, 0.0), (1, -1, 0.2)]


def test_over_range_is_a_reading(models):
    cases = cases_from_jobs(models, [job(readings=(Reading("volts", 1, value=OL),))])
    assert readings_of(cases) == [(1, -1, inf)]


def test_a_band_may_be_read_in_place_of_a_number(models):
    band = models[0].checks[1].results[0]
    assert readings_of(cases_from_jobs(models, [job(readings=(Reading("volts", 1, result=band),))])) == [
        (1, 0, 0.0)
    ]


def test_what_was_read_after_the_repair_is_left_out(models):
    attempts = (Attempt("reflow", 2, Retest.STILL_THERE), Attempt("swap", 4, Retest.GONE))
    readings = (Reading("volts", 3, value=0.2), Reading("lamp", 5, result="lit"))
    cases = cases_from_jobs(models, [job(readings=readings, attempts=attempts)])
    assert readings_of(cases) == [(1, -1, 0.2)]
    assert cases.attempt_fixes.tolist() == [0, 1]
    assert cases.attempt_outcomes.tolist() == [Tried.FAILED, Tried.PASSED]
    assert cases.ignored == {"reading after the repair": 1}


def test_fixes_after_the_one_that_cured_are_left_out(models):
    attempts = (Attempt("swap", 1, Retest.GONE), Attempt("reflow", 2, Retest.GONE))
    assert cases_from_jobs(models, [job(attempts=attempts)]).attempt_fixes.tolist() == [1]


def test_the_last_fix_of_a_repaired_job_ends_it_even_without_a_retest(models):
    attempts, readings = (Attempt("swap", 1),), (Reading("lamp", 2, result="lit"),)
    repaired = cases_from_jobs(models, [job(attempts=attempts, readings=readings)])
    assert (readings_of(repaired), repaired.attempt_fixes.size) == ([], 0)
    returned = cases_from_jobs(models, [job(attempts=attempts, readings=readings, outcome=Outcome.RETURNED)])
    assert readings_of(returned) == [(0, 0, 0.0)]


def test_a_board_that_came_back_was_not_cured_and_its_fault_is_unsure(models):
    attempts, readings = (Attempt("swap", 1, Retest.GONE),), (Reading("lamp", 2, result="dark"),)
    cases = cases_from_jobs(models, [job(attempts=attempts, readings=readings, fault="chip", comeback=True)])
    assert cases.attempt_outcomes.tolist() == [Tried.CAME_BACK]
    assert cases.faults.tolist() == [-1]
    assert readings_of(cases) == [(0, 1, 0.0)]


def test_a_check_read_twice_counts_as_read_last(models):
    readings = (Reading("lamp", 3, result="dark"), Reading("lamp", 1, result="lit"))
    cases = cases_from_jobs(models, [job(readings=readings)])
    assert readings_of(cases) == [(0, 1, 0.0)]
    assert cases.ignored == {"earlier reading of check 'lamp'": 1}


@pytest.mark.parametrize(
    ("fields", "reason"),
    [
        ({"board": "other"}, "job of board 'other'"),
        ({"complaint": "hums"}, "job with unknown complaint 'hums'"),
        ({"outcome": Outcome.OPEN}, "job that is still open"),
    ],
)
def test_jobs_that_do_not_belong_are_counted(models, fields, reason):
    cases = cases_from_jobs(models, [job(**fields), job(**fields)])
    assert cases.complaints.size == 0
    assert cases.ignored == {reason: 2}


@pytest.mark.parametrize(
    ("fields", "reason"),
    [
        ({"fault": "gremlin"}, "unknown fault 'gremlin'"),
        ({"readings": (Reading("scope", 1, result="flat"),)}, "reading of unknown check 'scope'"),
        (
            {"readings": (Reading("lamp", 1, result="green"),)},
            "reading of check 'lamp' that it does not show",
        ),
        ({"readings": (Reading("lamp", 1, value=3.0),)}, "reading of check 'lamp' that it does not show"),
        ({"readings": (Reading("volts", 1, value=nan),)}, "reading of check 'volts' that it does not show"),
        ({"attempts": (Attempt("pray", 1, Retest.GONE),)}, "unknown fix 'pray'"),
    ],
)
def test_unknown_names_are_counted_and_the_job_is_kept(models, fields, reason):
    cases = cases_from_jobs(models, [job(**fields)])
    assert cases.complaints.size == 1
    assert cases.faults.tolist() == [-1]
    assert cases.ignored == {reason: 1}


def test_cases_from_jobs_fit_their_models(models):
    readings = (Reading("lamp", 1, result="dark"), Reading("volts", 2, value=0.2))
    cases = cases_from_jobs(models, [job(readings=readings, attempts=(Attempt("swap", 3, Retest.GONE),))])
    refuse_misfits(models, cases)
    refuse_misfits(models, cases_from_jobs(models, []))


@pytest.mark.parametrize(
    ("column", "change", "message"),
    [
        ("complaints", lambda x: x + 1, r"column complaints: 1 found, indices from 0 to 0 expected"),
        ("faults", lambda x: x - 1, r"column faults: -2 found"),
        ("faults", lambda x: x[:-1], r"column faults: .* whole numbers expected"),
        ("faults", lambda x: x.astype(float), r"column faults: .* whole numbers expected"),
        ("reading_checks", lambda x: x + 7, r"column reading_checks: \d+ found, indices from 0 to 6"),
        ("reading_results", lambda x: x + 3, r"column reading_results: \d found"),
        ("reading_results", lambda x: 0 * x - 1, r"a result of the named check 'c1' expected"),
        ("reading_values", lambda x: x[:-1], r"column reading_values: .* numbers expected"),
        ("reading_values", lambda x: x * nan, r"column reading_values: nan found"),
        ("attempt_outcomes", lambda x: x + 3, r"column attempt_outcomes: \d found, indices from 0 to 2"),
    ],
)
def test_columns_that_do_not_fit_are_refused(column, change, message):
    model = random_model(0)
    cases = random_cases([model], 0)
    columns = {name: getattr(cases, name) for name in Cases.__dataclass_fields__}
    with pytest.raises(CasesError, match=message):
        refuse_misfits([model], Cases(**columns | {column: change(columns[column])}))
