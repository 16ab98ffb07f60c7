"""``prove``, from a shop's table to the proof; what it refuses, and what ``show`` says of it."""

MAPPING = """
mapping: 1
shop: Quay
layout: wide
dates: year first
decimal: point
job: Job
board: {always: my-board}
complaint: {always: no-power}
hands on: {column: Minutes, unit: min}
outcome: {always: repaired}
fault: Cause
checks:
  Rail: {check: rail-ohms, unit: ohm}
  Fuse: {check: fuse-ohms, unit: ohm}
fixes: [Did]
"""
CAUSES = ("c5-short,replace-c5,4,0.2", "u2-dead,replace-u2,2200,0.2", "f1-open,replace-f1,2100,2e6")


def test_a_procedure_is_proven_on_jobs_that_it_was_not_made_from(run, library):
    rows = [f"{k},{90 + k},{CAUSES[k * 7 % 11 % 3]}" for k in range(30)]
    (library / "jobs.csv").write_text("Job,Minutes,Cause,Did,Rail,Fuse\n" + "\n".join(rows) + "\n")
    (library / "jobs.yaml").write_text(MAPPING)
    taken = run("intake", "jobs.csv", "--mapping", "jobs.yaml")
    assert taken.code == 0, taken.err + taken.out
    asked = ("prove", "my-board", "no-power")
    proved = run(*asked, "--folds", 2, "--draws", 2, "--workers", 1, "--page", "proof.html")
    assert proved.code == 0, proved.err
    assert all(len(line) <= 80 for line in proved.out.splitlines())
    assert "it saves" in proved.out
    assert "<svg" in (library / "proof.html").read_text()
    again = run(*asked, "--last")
    assert (again.out, again.err) == (proved.out, "")
    data = run(*asked, "--last", "--json").data
    assert data["stale"] == []
    assert {account["way"] for account in data["replay"]["accounts"]} >= {
        "this procedure",
        "as the bench did",
    }
    assert "Standing: " in run("show", "my-board", "no-power").out


def test_without_jobs_there_is_nothing_to_prove(run, library):
    refused = run("prove", "my-board", "no-power", "--workers", 1)
    assert refused.code == 1
    assert "no finished jobs recorded, and a proof needs 2 or more" in refused.err
    assert "benchlore intake" in refused.err


def test_a_proof_that_was_never_made_cannot_be_printed(run, library):
    run("plan", "my-board", "no-power")
    refused = run("prove", "my-board", "no-power", "--last")
    assert refused.code == 1
    assert "nothing is proven yet for my-board no-power" in refused.err
    assert "Not proven yet: benchlore prove my-board no-power" in run("show", "my-board", "no-power").out


def test_refusals_are_json_where_json_was_asked_for(run, library):
    refused = run("prove", "my-board", "no-power", "--workers", 1, "--json")
    assert refused.code == 1
    assert refused.data["error"]["kind"] == "TooFewJobsError"


def test_a_way_of_dividing_that_there_is_not_is_wrong_usage(run, library):
    assert run("prove", "my-board", "no-power", "--by", "weekday").code == 2
    assert run("prove", "my-board", "no-power", "--folds", 1).code == 2


def test_the_last_proof_cannot_be_changed_by_options(run, library):
    refused = run("prove", "my-board", "no-power", "--last", "--by", "shop", "--seed", 7)
    assert refused.code == 2
    assert "--by, --seed cannot change it" in " ".join(refused.err.split())


def test_a_page_that_cannot_be_written_is_said_before_the_work(run, library, tmp_path):
    refused = run("prove", "my-board", "no-power", "--page", tmp_path / "none" / "x.html")
    assert refused.code == 1
    assert "there is no such folder" in refused.err
