"""What ``prove`` refuses, and what ``show`` says of it."""


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
