"""The whole main job from the command line, on the demo library."""

import json
import os
import shlex
import subprocess
import sys
from pathlib import Path
from shutil import copytree

import pytest

from benchlore.cli import compare_text
from benchlore.jobs import Store
from benchlore.library import kept_procedure, open_library, overview
from benchlore.procedure import Effort
from benchlore.procedure import sampled as sampled_bounds
from benchlore.units import format_duration

QUICKLY = ("--effort", "quick")
SHORTLY = ("--nodes", "200")  # where any procedure will do
SOAKING = ("--nodes", "1000")  # enough to find that soaks pay


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """The demo library, made once, and what was told; tests that change it work on a copy.

    ``make test`` has made it while it compiled the kernels.
    """
    folder = tmp_path_factory.mktemp("demo") / "library"
    if made := os.environ.get("MADE_DEMO"):
        copytree(Path(made) / "library", folder)
        return folder, (Path(made) / "told.txt").read_text(encoding="utf-8")
    command = [sys.executable, "-c", "from benchlore.cli import main; main()", "demo", folder, *QUICKLY]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return folder, done.stdout


@pytest.fixture
def in_demo(demo, monkeypatch):
    monkeypatch.chdir(demo[0])
    return demo[0]


def test_demo_takes_in_plans_and_shows_every_complaint(demo):
    folder, out = demo
    assert out.count("Expected cost of a job:") == 1  # the first is printed whole, the others are listed
    for name in ("halden-t4 no-start", "halden-t4 restarts", "tornvik-mc2 no-drive", "tornvik-mc2 cuts-out"):
        assert name in out
    assert all(len(line) <= 80 for line in out.splitlines() if str(folder) not in line)
    with Store.open(folder) as store:
        assert all(150 <= count <= 300 for count in store.boards().values())
        assert len(store.boards()) == 2


def test_demo_again_goes_on_with_what_is_there_and_adds_nothing(run, demo):
    folder = demo[0]
    again = run("demo", folder, "--json", *QUICKLY)
    assert again.code == 0
    assert [taken["added"]["new"] for taken in again.data["taken"]] == [0, 0, 0, 0]


def test_demo_says_each_long_step_and_a_command_that_works_where_the_reader_stands(
    run, demo, tmp_path, monkeypatch
):
    monkeypatch.chdir(demo[0].parent)
    again = run("demo", demo[0].name, *QUICKLY)
    steps = again.err.splitlines()
    assert [step for step in steps if step.startswith("Planning")] == [
        "Planning halden-t4 no-start …",
        "Planning halden-t4 restarts …",
        "Planning tornvik-mc2 no-drive …",
        "Planning tornvik-mc2 cuts-out …",
    ]
    assert sum(step.startswith("Taking in ") for step in steps) == len(steps) - 4 == 4
    printed = next(line for line in again.out.splitlines() if " show " in line)
    assert printed == f"  benchlore --library {demo[0].name} show halden-t4 restarts"
    shown = run(*shlex.split(printed)[1:])
    assert shown.code == 0
    assert "Restarts by itself" in shown.out


def test_demo_leaves_a_strange_folder_alone(run, tmp_path):
    (tmp_path / "mine.txt").write_text("keep")
    refused = run("demo", tmp_path)
    assert refused.code == 1
    assert "'mine.txt' is in the way" in refused.err
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


def test_review_finds_nothing_to_remark(run, in_demo):
    reviewed = run("review", "--strict", "--json")
    assert reviewed.code == 0
    assert {file["what"]: file["problems"] for file in reviewed.data["files"]} == {
        "shop": [],
        "halden-t4": [],
        "tornvik-mc2": [],
        "skills/board-cleaning": [],
        "skills/resistance-to-ground": [],
        "skills/soaking": [],
        "skills/visual-inspection": [],
    }


def test_preview_says_what_is_refused_and_stores_nothing(run, in_demo):
    table = in_demo / "intake" / "werkbank-sued-tablets.csv"
    arguments = ("intake", table, "--mapping", table.with_suffix(".mapping.yaml"), "--preview")
    ran = run(*arguments)
    assert ran.code == 0
    assert "is not in the calendar" in " ".join(ran.out.split())
    assert "nothing was stored" in ran.out
    as_data = run(*arguments, "--json").data
    assert as_data["stored"] is False
    assert as_data["counts"]["refused"] == sum(row["verdict"] == "refused" for row in as_data["rows"]) > 0


def test_a_reject_file_can_be_mended_and_taken_in(run, in_demo, tmp_path):
    table = in_demo / "intake" / "werkbank-sued-tablets.csv"
    mapping = table.with_suffix(".mapping.yaml")
    previewed = run("intake", table, "-m", mapping, "--preview", "--json").data
    reasons = [reason for row in previewed["rows"] for reason in row["reasons"]]
    bad_date = next(reason["cell"] for reason in reasons if "calendar" in reason["message"])
    rejects = (in_demo / "rejects" / "werkbank-sued-tablets-refused.csv").read_text(encoding="utf-8-sig")
    mended = tmp_path / "mended.csv"
    mended.write_text(rejects.replace(f";{bad_date};", ";28.02.2026;"), encoding="utf-8")
    ran = run("intake", mended, "-m", mapping, "--rejects", tmp_path / "still.csv", "--json")
    assert ran.code == 0, ran.out
    assert ran.data["added"]["new"] == 1
    again = run("intake", mended, "-m", mapping, "--rejects", tmp_path / "still.csv", "--json")
    assert again.data["added"]["new"] == 0
    assert again.data["counts"]["already there"] >= 1


def test_show_prints_what_plan_kept(run, in_demo):
    planned = run("plan", "halden-t4", "restarts", "--json", *SHORTLY)
    shown = run("show", "halden-t4", "restarts", "--json")
    assert planned.code == shown.code == 0
    assert shown.data == {**planned.data, "stale": []}
    assert 0 < planned.data["bound"] <= planned.data["expected"]
    text = run("show", "halden-t4", "restarts").out
    assert f"{planned.data['expected']:.2f} EUR" in text
    assert max(map(len, text.splitlines())) <= 80


def test_show_says_when_the_book_changed_since(run, in_demo):
    book = in_demo / "books" / "tornvik-mc2" / "book.yaml"
    kept = book.read_text()
    assert run("plan", "tornvik-mc2", "no-drive", *SHORTLY).code == 0
    book.write_text(kept + "# a remark\n")
    try:
        shown = run("show", "tornvik-mc2", "no-drive")
        assert "the book changed since this was made; renew it with 'benchlore plan" in shown.err
        assert shown.code == 0
    finally:
        book.write_text(kept)


def test_compare_shows_two_shops_and_counts_in_one_currency_where_a_rate_is_stated(run, in_demo):
    arguments = ("plan", "tornvik-mc2", "no-drive", "--compare", "shops/fleet-depot.yaml", *SHORTLY)
    mine, other = run(*arguments, "--json").data
    assert (mine["currency"], other["currency"]) == ("EUR", "GBP")
    depot = (in_demo / "shops" / "fleet-depot.yaml").read_text()
    rate = float(depot.split("EUR:")[1].split("}")[0].split()[0])
    apart = abs(other["expected"] / rate - mine["expected"])
    text = run(*arguments).out
    assert mine["shop"] != other["shop"]
    assert [step["action"] for step in mine["steps"]] != [step["action"] for step in other["steps"]]
    assert run("show", "tornvik-mc2", "no-drive", "--json").data["shop"] == mine["shop"]
    for document in (mine, other):
        assert f"{document['expected']:.2f} {document['currency']}" in text
    assert f"{apart:.2f} EUR more" in " ".join(text.split())
    assert max(map(len, text.splitlines())) <= 80


def test_a_sampled_bound_is_printed_as_one_wherever_it_stands(run, in_demo, monkeypatch):
    monkeypatch.setattr(sampled_bounds, "WORK", dict.fromkeys(Effort, 1_000_000))
    arguments = ("plan", "tornvik-mc2", "no-drive", *SHORTLY)
    proven = run(*arguments, "--json").data
    sampled = run(*arguments, "--sample", "30", "--json").data
    assert proven["bound"] < sampled["bound"] < sampled["expected"]
    assert sampled["steps"] == proven["steps"]
    said = " ".join(run("show", "tornvik-mc2", "no-drive").out.split())
    assert f"no procedure costs less than {sampled['bound']:.2f} EUR (sampled: 99 % sure, from 3" in said
    assert " jobs that know their fault and all results; proven: " in said
    assert f"; proven: {proven['bound']:.2f}, {proven['bound_method']})." in said
    kept = kept_procedure(open_library(in_demo), "tornvik-mc2", "no-drive")
    beside = compare_text.lines(kept, kept)
    assert "\n".join(beside).count(f"{sampled['bound']:.2f} EUR, by a sample") == 2
    assert max(map(len, beside)) <= 80
    books = overview(open_library(in_demo)).books
    plans = {each.name: each.plan for book in books for each in book.complaints}
    assert plans["no-drive"].is_sampled
    assert not plans["no-start"].is_sampled


def test_next_moves_suspicion_and_says_why(run, in_demo):
    before = run("next", "halden-t4", "restarts", "--json").data["advice"]
    after = run("next", "halden-t4", "restarts", "ask-interval=even", "--json").data["advice"]
    suspects = [dict(map(tuple, advice["suspects"])) for advice in (before, after)]
    assert suspects[1]["supervisor-program"] > 2 * suspects[0]["supervisor-program"]
    assert sum(suspects[1].values()) == pytest.approx(1)
    assert "ask-interval" not in {option["action"] for option in after["options"]}
    expected = [option["expected"] for option in after["options"]]
    assert expected == sorted(expected)
    text = run("next", "halden-t4", "restarts", "ask-interval=even").out
    assert "Best next step" in text
    assert "Why" in text
    assert max(map(len, text.splitlines())) <= 80


def test_next_quotes_the_plan_while_the_job_is_on_it(run, in_demo):
    procedure = run("show", "halden-t4", "restarts", "--json").data
    first = procedure["steps"][0]
    on_it = run("next", "halden-t4", "restarts", "--json").data["advice"]["options"][0]
    assert (on_it["action"], on_it["expected"]) == (first["action"], procedure["expected"])
    assert on_it["method"] == "plan"
    likely = max(first["branches"], key=lambda branch: branch["chance"])
    then = procedure["steps"][likely["to"]]
    reading = f"{first['action']}={likely['result']}"
    after = run("next", "halden-t4", "restarts", reading, "--json").data["advice"]["options"][0]
    assert (after["action"], after["expected"]) == (then["action"], then["expected"])
    assert "quoted from the plan" in " ".join(run("next", "halden-t4", "restarts", reading).out.split())


def test_next_says_back_what_limits_the_job(run, in_demo):
    arguments = [
        "ask-interval=unclear",
        "--tried",
        "reflow-l1204",
        "--setup",
        "case-open",
        "--skip",
        "starts",
    ]
    arguments += ["--without", "multimeter", "--budget", "30"]
    ran = run("next", "halden-t4", "restarts", *arguments)
    text = " ".join(ran.out.split())
    for said in (
        "unclear",
        "fix: Reflow L1204",
        "still there",
        "Standing: Case open",
        "Not to be done here: starts.",
        "Missing today: multimeter.",
        "May still be spent: 30.00 EUR.",
        "Not proposed, for want of money:",
    ):
        assert said in text
    assert max(map(len, ran.out.splitlines())) <= 80
    data = run("next", "halden-t4", "restarts", *arguments, "--json").data
    assert (data["tried"], data["budget"], data["setups"]) == (["reflow-l1204"], 30.0, ["case-open"])
    spent = ("hands_on", "waiting", "setups", "parts", "retest")
    for option in data["advice"]["options"]:
        assert sum(option["cost"][part] for part in spent) <= 30.0
    assert data["advice"]["options"][-1]["expected"] >= data["advice"]["options"][0]["expected"]


def test_next_says_what_a_result_is_worth_and_moves(run, in_demo):
    text = " ".join(run("next", "halden-t4", "restarts").out.split())
    assert "Knowing it is worth" in text
    assert " → " in text


def test_next_cuts_no_title_that_has_room(run, in_demo):
    told = run("next", "halden-t4", "restarts").out
    outlook = told.partition("What it would do to the suspects\n")[2].partition("\n\n")[0]
    assert "   Cracked joint under inductor L1204 1" in outlook
    assert "…" not in outlook


def test_where_the_return_is_best_next_says_what_would_change_that(run, in_demo, tmp_path):
    shop = tmp_path / "poor.yaml"
    shop.write_text(
        "shop: 1\nname: Poor bench\ncurrency: EUR\nhour: 52\nwaiting hour: 7\n"
        "instruments: [multimeter]\nskills: []\nworth: {otherwise: 20}\n"
    )
    asked = ("next", "halden-t4", "restarts", "ask-interval=uneven", "--shop", shop, "--skip", "ask-drop")
    text = " ".join(run(*asked).out.split())
    assert "return the device unrepaired" in text
    assert "What would have to be true to go on" in text
    worth = run(*asked, "--json").data["advice"]["go_on"]["worth"]
    assert f"A finished repair is worth at least {worth:.2f} EUR (now 20.00 EUR)." in text
    for amount, kind in ((worth * 1.01, False), (worth * 0.98, True)):
        shop.write_text(shop.read_text().split("worth:")[0] + f"worth: {{otherwise: {amount:.3f}}}\n")
        best = run(*asked, "--json").data["advice"]["options"][0]
        assert (best["kind"] == "return") is kind


def test_a_shop_where_waiting_is_dear_soaks_less(run, in_demo):
    def soaked(*shop):
        steps = run("plan", "tornvik-mc2", "cuts-out", *shop, "--json", *SOAKING).data["steps"]
        return sum(step["reach"] * step["soak"] for step in steps if step["kind"] == "fix")

    assert soaked("--shop", "shops/fleet-depot.yaml") < 0.7 * soaked()
    assert "Soak " in run("show", "tornvik-mc2", "cuts-out").out


def test_next_shows_each_fix_once_with_its_soak(run, in_demo):
    options = run("next", "halden-t4", "restarts", "--json").data["advice"]["options"]
    fixes = [option for option in options if option["kind"] == "fix"]
    assert len({option["action"] for option in fixes}) == len(fixes) > 1
    assert any(option["soak"] > 0 for option in fixes)


def way_to_a_soak(steps):
    """Find the nearest fix with a soak by results that have names: what was read, and the step."""
    open_ways = [((), steps[0])]
    for said, step in open_ways:
        if step["kind"] == "fix" and step["soak"] > 0:
            return said, step
        for branch in step["branches"] if step["kind"] == "check" else ():
            if not any(letter.isdigit() for letter in branch["result"]):
                done = f"{step['action']}={branch['result']}"
                open_ways.append(((*said, done), steps[branch["to"]]))
    raise AssertionError("no fix with a soak")


def test_next_quotes_the_soak_of_the_kept_plan(run, in_demo):
    asked = ("tornvik-mc2", "cuts-out")
    steps = run("plan", *asked, "--json", *SOAKING).data["steps"]
    said, step = way_to_a_soak(steps)
    best = run("next", *asked, *said, "--json").data["advice"]["options"][0]
    assert (best["method"], best["action"]) == ("plan", step["action"])
    assert (best["soak"], best["expected"]) == (step["soak"], step["expected"])
    text = " ".join(run("next", *asked, *said).out.split())
    assert f"Soak {format_duration(step['soak'])}, then try the complaint again" in text
    then = steps[next(branch["to"] for branch in step["branches"] if branch["result"] == "still there")]
    after = run("next", *asked, *said, "--tried", step["action"], "--json").data["advice"]["options"]
    assert (after[0]["method"], after[0]["action"]) == ("plan", then["action"])
    assert (after[0]["soak"], after[0]["expected"]) == (then["soak"], then["expected"])
    assert step["action"] not in {option["action"] for option in after}


def test_readings_may_be_typed_as_technicians_write_them(run, in_demo):
    ways = ["vsys-ohms=4k1", "vsys-ohms=4.1 kohm", "vsys-ohms=4100"]
    answers = [run("next", "halden-t4", "no-start", way, "--json").data for way in ways]
    assert answers[0] == answers[1] == answers[2]


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["next", "halden-t4", "restarts", "vsys-omhs=3"], "did you mean 'vsys-ohms'"),
        (["next", "halden-t4", "restarts", "vsys-ohms=3 bananas"], "bananas"),
        (["next", "halden-t4", "restarts", "ask-interval=purple"], "even or uneven"),
        (["next", "halden-t4", "restarts", "ask-interval=even", "ask-interval=even"], "read already"),
        (["next", "halden-t4", "restarts", "ask-interval=unclear", "ask-interval=even"], "read already"),
        (["next", "halden-t4", "restarts", "--tried", "nothing-such"], "no fix of that name"),
        (["next", "halden-t4", "restarts", "--setup", "nothing-such"], "no setup of that name"),
        (["plan", "halden-t4", "restrats"], "did you mean 'restarts'"),
        (["plan", "haldn-t4", "restarts"], "did you mean 'halden-t4'"),
        (["plan", "halden-t4", "restarts", "--shop", "no-such.yaml"], "no such file"),
        (["show", "halden-t4", "restarts", "--shop", "shops/fleet-depot.yaml"], "benchlore plan halden-t4"),
    ],
)
def test_content_that_cannot_be_is_refused_with_a_way_out(run, in_demo, arguments, message):
    refused = run(*arguments)
    assert refused.code == 1
    assert message in refused.err
    as_json = run(*arguments, "--json")
    assert as_json.code == 1
    assert message in as_json.data["error"]["message"]


@pytest.mark.parametrize(
    "arguments",
    [["next", "halden-t4", "restarts", "bla"], ["plan"], ["nonsense"], ["show", "a", "b", "--rare", "7"]],
)
def test_wrong_usage_ends_with_two(run, in_demo, arguments):
    assert run(*arguments).code == 2


def test_export_gives_every_job_back(run, in_demo, tmp_path):
    exported = run("export", tmp_path / "out", "--json")
    with Store.open(in_demo) as store:
        assert exported.data["jobs"] == store.count()
    assert len((tmp_path / "out" / "jobs.csv").read_text().splitlines()) >= exported.data["jobs"]


def test_demand_records_stay_apart_from_jobs(run, in_demo, tmp_path):
    columns = "id,data_provider,country,partner_product_category,product_category,product_category_id,brand,"
    columns += "year_of_manufacture,product_age,repair_status,repair_barrier_if_end_of_life,group_identifier,"
    columns += "event_date,problem"
    row = "quay_1,Quay Repairs,NLD,Tablet,Tablet,30,Halden,,,Fixed,,Quay,2025-04-01,restarts"
    (tmp_path / "events.csv").write_text(f"{columns}\n{row}\n", encoding="utf-8")
    with Store.open(in_demo) as store:
        before = store.count()
    assert run("demand", tmp_path / "events.csv", "--json").data["added"] == {
        "new": 1,
        "same": 0,
        "changed": 0,
    }
    assert "there already" in run("demand", tmp_path / "events.csv").out
    with Store.open(in_demo) as store:
        assert (store.count(), store.demand_count()) == (before, 1)


@pytest.mark.parametrize("content", [b"", b"a,b\n1,2\n", b"PK\x03\x04\0\0\n"])
def test_a_demand_file_that_is_refused_whole_is_said_so(run, in_demo, tmp_path, content):
    (tmp_path / "events.csv").write_bytes(content)
    refused = run("demand", tmp_path / "events.csv")
    assert refused.code == 1
    assert refused.out.endswith("\n\nNothing was taken in: the file was refused.\n")
    (tmp_path / "more.csv").write_bytes(content)
    assert run("demand", tmp_path).out.endswith("\nNothing was taken in: all 2 files were refused.\n")
    columns = "id,data_provider,country,partner_product_category,repair_status,event_date,problem"
    (tmp_path / "good.csv").write_text(f"{columns}\n1,Quay Repairs,NLD,Tablet,Fixed,2025-04-01,x\n,,,,,,\n")
    told = " ".join(run("demand", tmp_path).out.split())
    assert "0 rows refused, 2 files not read, or not to the end. They are kept apart" in told


def test_schema_is_json_schema(run):
    assert json.loads(run("schema").out)["$schema"].startswith("https://json-schema.org/")
    assert run("schema", "--shop").out != run("schema").out
