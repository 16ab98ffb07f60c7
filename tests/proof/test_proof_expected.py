"""What was written and what was expected, as text."""

import numpy as np
import pytest
from doubtful_boards import cases_of, job_of

from benchlore.jobs import Reading
from benchlore.model import exact_densities, model_of, named_check, numeric_check
from benchlore.proof.expected import as_expected, as_written
from benchlore.proof.joblogs import seen_in
from benchlore.units import Measure

OHMS = numeric_check(
    "ohms",
    0,
    exact_densities(Measure.RESISTANCE, np.log([4200, 10]), [0.1, 0.1], over=[0.0, 0.9], log_normal=True),
)
LOOK = named_check("look", 0, [[0.6, 0.3, 0.1], [0.05, 0.05, 0.9]], results=("clean", "dusty", "green"))
MODEL = model_of(
    [0.5, 0.4, 0.1], [[[1, 0], [0, 1], [0.5, 0.5]]], [OHMS, LOOK], faults=("good", "torn", "unlisted")
)
READINGS = (Reading("ohms", 1, value=4.7, text="4,7"), Reading("look", 2, result="green"))


def expected(fault, check, left_out):
    job = job_of("1", READINGS, fault)
    (one,) = seen_in(MODEL, cases_of(MODEL, [job]))
    return as_expected(MODEL, one, check, left_out, np.random.default_rng(0))


def test_a_number_is_expected_in_the_span_of_nine_in_ten():
    # 4.2 kohm × exp(± 1.645 × 0.1)
    assert expected("good", 0, (0,)) == "3.6 kohm to 5 kohm"


def test_over_range_is_expected_where_it_is_likelier_than_a_number():
    assert expected("torn", 0, (0,)) == "OL"


def test_results_are_named_that_are_often_seen():
    assert expected("good", 1, (1,)) == "clean or dusty"
    assert expected("torn", 1, (1,)) == "green"


def test_other_readings_on_the_condition_say_what_to_expect():
    assert expected("unlisted", 0, (0,)) == "OL"  # for it looked green
    assert expected("unlisted", 0, (0, 1)) != "OL"
    assert expected(None, 1, (1,)) == "green"  # for 4.7 ohm is none of 4.2 kohm


@pytest.mark.parametrize(
    ("reading", "number", "result", "text"),
    [
        (Reading("ohms", 1, value=4.7, text="4,7"), 4.7, None, "4,7"),
        (Reading("ohms", 1, value=4700.0), 4700.0, None, "4.7 kohm"),
        (Reading("look", 1, result="green", text="grün"), None, 2, "grün"),
        (Reading("look", 1, result="green"), None, 2, "green"),
    ],
)
def test_a_reading_is_quoted_as_the_bench_wrote_it(reading, number, result, text):
    check = OHMS if reading.check == "ohms" else LOOK
    assert as_written(check, job_of("1", (reading,), None), number, result) == text


def test_of_two_readings_the_one_that_counts_is_quoted():
    readings = (Reading("ohms", 1, value=4.7, text="first"), Reading("ohms", 2, value=4.8, text="second"))
    assert as_written(OHMS, job_of("1", readings, None), 4.8, None) == "second"
