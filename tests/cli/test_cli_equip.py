"""The commands that say what equipment and research bring."""

import re
from dataclasses import replace
from datetime import date, timedelta

import pytest

from benchlore.jobs import Store
from finished_jobs import finished_jobs


@pytest.fixture
def recorded(library):
    """The library of the current folder, with dated jobs."""
    jobs = [
        replace(job, opened=date(2025, 1, 1) + timedelta(days=30 * k))
        for k, job in enumerate(finished_jobs(12))
    ]
    with Store.open(library / "jobs.sqlite") as store:
        store.add(jobs)
    return library


def test_what_the_shop_lacks(run, recorded):
    shop = recorded / "shop.yaml"
    text = shop.read_text(encoding="utf-8")
    shop.write_text(text.replace("multimeter, bench-supply, ", ""), encoding="utf-8")
    (recorded / "prices.csv").write_text("equipment,price\nmultimeter,40\n", encoding="utf-8")
    ran = run("equip", "--prices", "prices.csv", "--workers", 1)
    assert ran.code == 0, ran.err
    assert "Buy first: multimeter" in ran.out
    assert max(map(len, ran.out.splitlines())) <= 80
    data = run("equip", "--prices", "prices.csv", "--workers", 1, "--json").data
    first = data["equipment"][0]
    assert (first["names"], first["price"], first["proven"]) == (["multimeter"], "40.00", True)
    assert float(first["value"]) == pytest.approx(float(first["most_price"]) - 40, abs=0.011)
    assert data["plans_made"] <= data["plans_asked"]


def test_where_nothing_is_lacking_no_column_is_empty_and_the_table_of_prices_is_answered(run, recorded):
    (recorded / "prices.csv").write_text("equipment,price\nmultimeter,40\n", encoding="utf-8")
    ran = run("equip", "--prices", "prices.csv", "--workers", 1)
    assert ran.code == 0, ran.err
    told = " ".join(ran.out.split())
    assert "The shop lacks nothing that a check or fix of these complaints needs: no purchase saves" in told
    assert "In the table, but the shop has it: multimeter." in told
    assert "  complaint           jobs a year\n" in ran.out


def test_a_mix_may_be_given_and_must_be_somewhere(run, library):
    refused = run("equip", "--workers", 1)
    assert (refused.code, "--jobs BOARD/COMPLAINT=N" in refused.err) == (1, True)
    assert run("equip", "--jobs", "my-board/no-power=12", "--workers", 1).code == 0
    assert run("equip", "--jobs", "my-board", "--workers", 1).code == 1


def test_when_to_stop(run, recorded):
    ran = run("learning", "my-board", "no-power", "--fund-rows", "rows.csv", "--workers", 1)
    assert ran.code == 0, ran.err
    assert "research pays up to" in ran.out
    assert re.search(
        r"^  boards +work {2,}coverage {2,}95 % interval {2,}a job {2,}value$", ran.out, re.MULTILINE
    )
    assert re.search(r" \d+ % to \d+ %  ", ran.out)
    assert max(map(len, ran.out.splitlines())) <= 80
    funded = run("fund", "rows.csv", "--budget", 100_000, "--draws", 2, "--json").data
    assert len(funded["chosen"]["candidates"]) == 1
    data = run("learning", "my-board", "no-power", "--workers", 1, "--json").data
    assert (data["source"], data["points"][0]["boards"], data["boards"]) == ("own", 0, 12)


def test_a_curve_without_figures_says_which(run, library):
    ran = run("learning", "pump", "hums", "--jobs", 3, "--worth", 90, "--workers", 1)
    assert (ran.code, "--like" in ran.err) == (1, True)
    assert run("learning", "pump", "hums", "--hours-per-board", -1).code == 2
    assert run("learning", "my-board", "no-power", "--fund-rows", "nowhere/rows.csv").code == 1
