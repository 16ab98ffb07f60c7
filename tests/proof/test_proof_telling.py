"""What is told of a proof, for findings that a small board hardly ever has."""

from dataclasses import replace

import pytest
from benches import SHOP, a_model, recorded_jobs

from benchlore.proof import (
    Estimate,
    Misreading,
    Odd,
    Outlier,
    Rival,
    Settings,
    Subject,
    Topic,
    Way,
    odd_text,
    parts_of,
    prove,
    tried_said,
)
from benchlore.proof.telling import _costs_less, _minutes


@pytest.fixture(scope="module")
def proof():
    jobs = recorded_jobs(a_model(), 8, 40)
    return prove(Subject((a_model(15),), 0, SHOP, tuple(jobs)), settings=Settings(folds=2, draws=2))


def odd(kind, **kinds):
    return Outlier("Quay", "17", kind, "via", 1e-5, 1e-3, **kinds)


@pytest.mark.parametrize(
    ("outlier", "text"),
    [
        (
            odd(Odd.MISREAD, misread=(Misreading("rail", "3,3", "3.2 V to 3.9 V", 3, 0.5),)),
            "via; rail reads '3,3' where 3.2 V to 3.9 V is expected, perhaps 1,000 times too small",
        ),
        (
            odd(Odd.MISREAD, misread=(Misreading("rail", "33", "3.2 V to 3.9 V", -1, 0.5),)),
            "via; rail reads '33' where 3.2 V to 3.9 V is expected, perhaps 10 times too large",
        ),
        (
            odd(Odd.MISREAD, misread=(Misreading("look", "green", "clean", None, 0.5),)),
            "via; look reads 'green' where clean is expected",
        ),
        (
            odd(Odd.WRONG_FAULT, rival=Rival("plug", 1200.0, 0.4)),
            "via, but its readings speak for plug, 1,200 to 1",
        ),
        (odd(Odd.NEW_FAULT), "via; no known fault explains its readings"),
        (
            odd(Odd.CANNOT_CURE, fix="wash"),
            "via, recorded as cured by wash, which the book says never cures it",
        ),
        (odd(Odd.CAME_BACK), "via, came back after the repair"),
    ],
)
def test_an_odd_job_is_told_with_its_reason(outlier, text):
    assert odd_text(outlier) == text


def test_many_odd_jobs_are_told_by_number(proof):
    many = replace(proof, outliers=(odd(Odd.CAME_BACK),) * 11)
    part = next(part for part in parts_of(many) if part.topic is Topic.ODD_JOBS)
    assert len(part.sentences) == 9
    assert part.sentences[-1] == "And 3 more."


def test_what_there_is_nothing_to_say_of_is_left_out(proof):
    bare = replace(proof, outliers=(), candidates=(), dependences=(), sensitivity=None)
    assert [part.topic for part in parts_of(bare)] == [
        Topic.STANDING,
        Topic.COSTS,
        Topic.PERCENTAGES,
        Topic.COVERAGE,
        Topic.METHOD,
    ]


@pytest.mark.parametrize(
    ("more", "text"),
    [
        (Estimate(6.1, 2.2, 9.8), "saves 6.10 EUR a job (95 % 2.20 to 9.80)"),
        (Estimate(-6.1, -9.8, -2.2), "costs 6.10 EUR a job more (95 % 2.20 to 9.80)"),
        (
            Estimate(1.0, -2.0, 4.0),
            "makes no clear difference in cost: 1.00 EUR a job less, but anything from 2.00 more to 4.00 less fits",
        ),
        (Estimate(0.0, 0.0, 0.0), "makes no clear difference in cost: none at all"),
    ],
)
def test_money_is_told_as_saved_or_lost_only_where_that_is_clear(more, text):
    assert _costs_less(more, "EUR") == text


@pytest.mark.parametrize(
    ("more", "text"),
    [
        (Estimate(6.1, 2.2, 9.8), "6.1 minutes less (95 % 2.2 to 9.8)"),
        (Estimate(-6.1, -9.8, -2.2), "6.1 minutes more (95 % 2.2 to 9.8)"),
        (
            Estimate(-1.0, -4.0, 2.0),
            "no clear difference in time: 1.0 minutes more, but anything from 4.0 more to 2.0 less fits",
        ),
    ],
)
def test_minutes_are_told_the_same_way(more, text):
    assert _minutes(more) == text


def test_a_promise_that_does_not_fit_is_said_so(proof):
    costs = {
        part.topic: part for part in parts_of(replace(proof, replay=replace(proof.replay, promised=5.0)))
    }
    assert "which does not fit" in " ".join(costs[Topic.COSTS].sentences)
    own = proof.replay.of(Way.PROCEDURE).cost.value
    fits = {part.topic: part for part in parts_of(replace(proof, replay=replace(proof.replay, promised=own)))}
    assert "a job, which fits." in " ".join(fits[Topic.COSTS].sentences)


def test_a_record_that_contradicts_the_book_is_said_so(proof):
    told = proof.replay.of(Way.TOLD)
    odd_told = replace(told, more=Estimate(3.0, 1.0, 5.0))
    accounts = tuple(odd_told if account is told else account for account in proof.replay.accounts)
    found = parts_of(replace(proof, replay=replace(proof.replay, accounts=accounts)))
    assert "The record contradicts the book" in " ".join(found[1].sentences)
    assert "The record contradicts the book" not in " ".join(parts_of(proof)[1].sentences)


def test_what_was_tried_is_not_the_procedure_itself(proof):
    assert tried_said(proof).startswith(
        "2 procedures, each made as this one but without a part of the jobs, were tried on that part: 40 jobs"
    )
