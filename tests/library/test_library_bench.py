from dataclasses import replace
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlore.library.bench import (
    Bench,
    evidence_of,
    missing_of,
    read_as,
    setups_of,
    situation_of,
    skipped_of,
)
from benchlore.library.errors import ReadingError
from benchlore.model import (
    Evidence,
    Setup,
    Work,
    exact_densities,
    fix_of,
    model_of,
    named_check,
    numeric_check,
)
from benchlore.procedure import Situation
from benchlore.shop import Shop
from benchlore.units import Measure

OHMS = exact_densities(Measure.RESISTANCE, [8.3, 1.6], [0.1, 1.0], log_normal=True)
MODEL = model_of(
    [0.6, 0.4],
    [[[1, 0], [0, 1]]],
    [
        numeric_check("ohms", 0, OHMS),
        named_check("look", 0, [[0.9, 0.1], [0.2, 0.8]], results=("clean", "wet")),
    ],
    [fix_of("dry", [0.9, 0.0])],
    setups=[Setup("open", "Case open", Work(5.0))],
    faults=("f0", "unlisted"),
)
SHOP = Shop("Shop", "EUR", hour=60, waiting_hour=6, instruments=frozenset({"meter"}))


def test_named_results_and_numbers_become_evidence():
    evidence = evidence_of(MODEL, Bench((("look", "wet"), ("ohms", "4k1")), failed=("dry",)))
    assert evidence.readings == ((1, 1),)
    assert evidence.values == ((0, 4100.0),)
    assert evidence.failed == (0,)


def test_a_check_may_be_called_by_its_title():
    model = replace(MODEL, checks=(replace(MODEL.checks[0], title="Main rail to ground"), MODEL.checks[1]))
    assert evidence_of(model, Bench((("main rail to ground", "4k1"),))).values == ((0, 4100.0),)


def test_results_are_known_whatever_their_case():
    assert evidence_of(MODEL, Bench((("look", "WET"),))).readings == ((1, 1),)


def test_over_range_is_a_reading():
    assert evidence_of(MODEL, Bench((("ohms", "OL"),))).values == ((0, inf),)


def test_what_was_read_is_said_back_in_the_books_order():
    evidence = evidence_of(MODEL, Bench((("look", "wet"), ("ohms", "OL"))))
    assert [(each.check, each.text) for each in read_as(MODEL, evidence)] == [("ohms", "OL"), ("look", "wet")]
    assert read_as(MODEL, evidence_of(MODEL, Bench((("ohms", "4100"),))))[0].text == "4.1 kohm"


@pytest.mark.parametrize(
    ("bench", "message"),
    [
        (Bench((("omhs", "3"),)), "no check of that name; did you mean 'ohms'"),
        (Bench((("look", "damp"),)), "shows clean or wet"),
        (Bench((("ohms", "3 bananas"),)), "bananas"),
        (Bench((("look", "wet"), ("look", "clean"))), "read already"),
        (Bench(failed=("drye",)), "no fix of that name; did you mean 'dry'"),
    ],
)
def test_what_means_nothing_is_refused_with_the_nearest_name(bench, message):
    with pytest.raises(ReadingError, match=message):
        evidence_of(MODEL, bench)


def test_setups_and_skips_must_be_the_models():
    assert setups_of(MODEL, ["open"]) == (0,)
    assert skipped_of(MODEL, ["look", "dry"]) == ("look", "dry")
    with pytest.raises(ReadingError, match="no setup of that name"):
        setups_of(MODEL, ["opne"])
    with pytest.raises(ReadingError, match="no check or fix of that name"):
        skipped_of(MODEL, ["lok"])


@given(st.text(), st.text())
def test_whatever_is_typed_is_evidence_or_a_reading_error(check, text):
    for name in (check, "ohms", "look"):
        try:
            evidence_of(MODEL, Bench(((name, text),)))
        except ReadingError as error:
            assert str(error)  # noqa: PT017  either outcome is right; another exception is not


def test_missing_equipment_must_be_known_to_shop_or_book():
    shop = Shop("Quay", "EUR", 60, 6, instruments=frozenset({"meter"}))
    assert missing_of(MODEL, shop, ["meter"]) == ("meter",)
    with pytest.raises(ReadingError, match="no instrument or skill of that name; did you mean 'meter'"):
        missing_of(MODEL, shop, ["metre"])


def test_a_long_text_is_not_echoed_whole():
    with pytest.raises(ReadingError) as caught:
        evidence_of(MODEL, Bench((("ohms", "9" * 5000 + "x"),)))
    assert len(str(caught.value)) < 600


def test_an_unclear_reading_is_no_evidence_and_is_said_back():
    bench = Bench((("look", "Unclear"), ("ohms", "unclear")), budget=40.0)
    situation = situation_of(MODEL, SHOP, bench)
    assert situation == Situation(unclear=(1, 0), budget=40.0)
    said = read_as(MODEL, situation.evidence, situation.unclear)
    assert [(each.check, each.text) for each in said] == [("ohms", "unclear"), ("look", "unclear")]


def test_a_check_cannot_be_unclear_and_read():
    with pytest.raises(ReadingError, match="read already"):
        situation_of(MODEL, SHOP, Bench((("look", "unclear"), ("look", "wet"))))


def test_a_result_that_is_named_unclear_is_a_result():
    named = named_check("look", 0, [[0.9, 0.1], [0.2, 0.8]], results=("clear", "unclear"))
    model = replace(MODEL, checks=(MODEL.checks[0], named))
    situation = situation_of(model, SHOP, Bench((("look", "unclear"),)))
    assert situation.evidence.readings == ((1, 1),)
    assert situation.unclear == ()


@pytest.mark.parametrize("budget", [-1.0, float("nan"), float("inf"), 1e12])
def test_a_budget_is_an_amount(budget):
    with pytest.raises(ReadingError, match="an amount from 0 on"):
        situation_of(MODEL, SHOP, Bench(budget=budget))


def test_all_that_a_bench_says_is_where_the_job_stands():
    bench = Bench((("look", "wet"),), ("dry",), ("open",), ("ohms",), ("meter",))
    assert situation_of(MODEL, SHOP, bench) == Situation(
        Evidence(((1, 1),), failed=(0,)), (0,), (), ("ohms",), ("meter",)
    )
