from decimal import Decimal

import pytest

from benchlore.jobs import Store
from finished_jobs import finished_jobs


@pytest.fixture
def recorded(library):
    with Store.open(library / "jobs.sqlite") as store:
        store.add([*finished_jobs(12, "Quay"), *finished_jobs(3, "Lane")])
    return library


def test_credit_is_shared_and_the_pot_is_paid(run, recorded):
    ran = run("credit", "--pot", "250.01", "--csv", "paid.csv")
    assert ran.code == 0, ran.err
    assert "Who lowered the cost" in ran.out
    assert max(map(len, ran.out.splitlines())) <= 80
    data = run("credit", "my-board", "--pot", "250.01", "--json").data
    assert sum(Decimal(each["amount"]) for each in data["contributors"]) == Decimal("250.01")
    assert data["exact"]
    lines = (recorded / "paid.csv").read_text(encoding="utf-8").splitlines()
    assert [line.split(",")[0] for line in lines[1:]] == [each["name"] for each in data["contributors"]]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--pot", "0"), "above zero"),
        (("--pot=-3",), "above zero"),
        (("--pot", "1.005"), "whole number of 0.01"),
        (("--pot", "much"), "decimal point"),
        (("--orders", "5"), "even number"),
        (("no-board",), "no book"),
        (("--csv", "nowhere/paid.csv"), "there is no such folder"),
    ],
)
def test_what_makes_no_sense_is_refused(run, library, arguments, said):
    ran = run("credit", *arguments)
    assert (ran.code, said in ran.err) == (1, True), ran.err


def test_impact_says_what_is_missing(run, recorded):
    ran = run("impact", "--since", "2026-01-31", "--page", "impact.html")
    assert ran.code == 0, ran.err
    assert "No finished job opened since 2026-01-31 was led step by step." in ran.out
    assert "What is missing" in (recorded / "impact.html").read_text(encoding="utf-8")
    assert max(map(len, ran.out.splitlines())) <= 80
    data = run("impact", "my-board", "--json").data
    assert (data["measured"], data["expected"], data["own_way"]["jobs"]) == (None, None, 15)
    refused = run("impact", "--since", "yesterday")
    assert refused.code == 2
    assert "'yesterday' is no day; write a day such as 2026-11-28" in " ".join(refused.err.split())
    assert run("impact", "no-board").code == 1
