"""Plans of a new library: short sheets, what a shop lacks, and input that makes no sense or hardly any."""

import re
import shlex

import pytest

PLAN = ("plan", "my-board", "no-power")
SHOW = ("show", "my-board", "no-power")


def change(path, old, new):
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new))


@pytest.fixture
def shop(library):
    return library / "shop.yaml"


@pytest.fixture
def book(library):
    return library / "books" / "my-board" / "book.yaml"


def numbers_in(data):
    if isinstance(data, dict):
        return [number for value in data.values() for number in numbers_in(value)]
    if isinstance(data, list):
        return [number for value in data for number in numbers_in(value)]
    return [data] if isinstance(data, float) else []


def one_line(text):
    return " ".join(text.split())


def test_a_limited_procedure_says_what_the_limit_costs(run, library):
    free = run(*PLAN, "--json").data
    assert (free["limit"], free["unlimited"]) == (None, None)
    data = run(*PLAN, "--steps", "6", "--json").data
    assert len(data["steps"]) <= 6
    assert data["limit"] == 6
    assert data["unlimited"] == pytest.approx(free["expected"])
    assert data["expected"] > free["expected"]
    assert data["proof"] == "bounded"
    more = 100 * (data["expected"] / free["expected"] - 1)
    said = (
        f"Expected cost of a job: {data['expected']:.2f} EUR, limited to 6 steps, instead of "
        f"{free['expected']:.2f} EUR without the limit: {more:.1f} % more. Without the limit it is the proven optimum."
    )
    assert said in one_line(run(*PLAN, "--steps", "6").out)
    assert said in one_line(run(*SHOW).out)
    assert run(*SHOW, "--json").data["limit"] == 6


def test_a_limit_that_does_not_bind_is_said_to_cost_nothing(run, library):
    text = one_line(run(*PLAN, "--steps", "900").out)
    assert "optimal, proven. It fits the limit of 900 steps at no cost." in text


def test_commands_to_type_name_the_library_and_shop_file_that_were_named(run, library, monkeypatch):
    (library / "shop.yaml").rename(library / "our shop.yaml")
    monkeypatch.chdir(library.parent)
    asked = ("my-board", "no-power", "--shop", "library/our shop.yaml")
    planned = run("--library", "library", "plan", *asked)
    last = planned.out.splitlines()[-1]
    assert last == (
        "Print it with: benchlore --library library show my-board no-power --shop 'library/our shop.yaml'"
    )
    shown = run(*shlex.split(last.partition("benchlore ")[2]))
    assert shown.code == 0
    assert (
        "Not proven yet: benchlore --library library prove my-board no-power --shop 'library/our" in shown.out
    )
    file = library / "our shop.yaml"
    file.write_text(file.read_text().replace("hour: ", "hour: 1", 1))
    stale = run("--library", "library", "show", *asked)
    assert "renew it with 'benchlore --library library plan my-board no-power --shop" in stale.err
    monkeypatch.chdir(library)
    (library / "our shop.yaml").rename(library / "shop.yaml")
    assert run("plan", "my-board", "no-power").out.endswith(
        "Print it with: benchlore show my-board no-power\n"
    )


def test_a_single_step_is_a_return(run, library):
    data = run(*PLAN, "--steps", "1", "--json").data
    assert [step["kind"] for step in data["steps"]] == ["return"]
    assert data["expected"] == pytest.approx(100)
    assert "limited to 1 step, instead of" in one_line(run(*SHOW).out)


def test_a_sample_of_a_few_jobs_is_refused_and_what_is_proven_is_not_sampled(run, library):
    few = run(*PLAN, "--sample", "29")
    assert few.code == 2
    assert "--sample 29 says too little: 30 jobs or more" in one_line(few.err.replace("│", ""))
    assert run(*PLAN, "--sample=-1").code == 2
    assert run(*PLAN, "--sample", "30", "--json").data == run(*PLAN, "--json").data


@pytest.mark.parametrize(
    "arguments", [(*PLAN, "--steps", "0"), (*SHOW, "--steps", "0"), (*PLAN, "--steps", "x")]
)
def test_no_steps_at_all_is_wrong_usage(run, library, arguments):
    assert run(*arguments).code == 2


def test_a_sheet_of_a_few_steps_says_where_to_ask_on_with_a_command_that_works(run, library):
    assert run(*PLAN).code == 0
    out = run(*SHOW, "--steps", "3").out
    assert max(map(len, out.splitlines())) <= 80
    assert len(re.findall(r"^ ?\d+\. ", out, flags=re.MULTILINE)) == 3
    assert re.search(r"Not printed: \d+ steps more\. \d+ % of jobs leave this sheet", one_line(out))
    blocks = re.findall(r"From here ask:\n((?:.*\\\n)*.*)\n", out)
    assert blocks
    for block in blocks:
        words = shlex.split(block.replace("\\\n", " "))
        assert words[:4] == ["benchlore", "next", "my-board", "no-power"]
        asked = run(
            *[
                word.replace("rail-ohms=READING", "rail-ohms=2k2")
                for word in words[1:]
                if "=READING" not in word or "rail-ohms" in word
            ]
        )
        assert asked.code == 0, asked.err
    assert "from here ask" in out


def test_the_whole_procedure_has_no_way_out(run, library):
    assert run(*PLAN).code == 0
    out = run(*SHOW, "--steps", "500").out
    assert "ask" not in out
    assert "Not printed" not in out


def test_a_band_may_be_typed_by_its_name(run, library):
    results = next(
        [branch["result"] for branch in step["branches"]]
        for step in run(*PLAN, "--json").data["steps"]
        if step["action"] == "rail-ohms"
    )
    asked = run("next", "my-board", "no-power", f"rail-ohms={results[0]}", "--json")
    assert asked.code == 0
    assert asked.data["readings"][0]["text"] == results[0]


def test_a_shop_without_any_instrument_returns_and_is_told_what_it_lacks(run, shop):
    change(shop, "instruments: [multimeter, bench-supply, soldering-iron, hot-air]", "instruments: []")
    data = run(*PLAN, "--json").data
    assert [step["kind"] for step in data["steps"]] == ["return"]
    for text in (one_line(run(*PLAN).out), one_line(run(*SHOW).out)):
        assert "Left out, because My shop cannot do it:" in text
        assert "rail-ohms, fuse-ohms: needs multimeter" in text
        assert "replace-f1: needs soldering-iron" in text


def test_a_shop_that_can_do_everything_reads_nothing_of_that(run, library):
    assert "Left out" not in run(*PLAN).out


def test_what_bands_lose_is_told_in_one_sentence(run, library):
    told = re.search(r"Its bands lose (\d+) % of what the numbers say", one_line(run(*PLAN).out))
    assert told
    assert 0 < int(told[1]) < 20


def test_a_full_waiting_room_gets_another_procedure(run, shop, book):
    """Where waiting costs nearly nothing a board is warmed first; where it is dear, nobody waits for that."""
    change(book, "  fuse-ohms:\n", "  warm-up:\n    reads: main-rail\n    results: [dark, lit]\n    how: Wait.\n"
           "    takes: 1 min\n    waits: 2 h\n"
           "    shows: {normal: {lit: 98 %}, shorted: {dark: 99 %}, missing: {dark: 98 %}}\n  fuse-ohms:\n")  # fmt: skip
    calm = run(*PLAN, "--json")
    assert calm.code == 0, calm.out
    change(shop, "waiting hour: 6", "waiting hour: 0")
    empty = run(*PLAN, "--json").data
    change(shop, "waiting hour: 0", "waiting hour: 400")
    full = run(*PLAN, "--json").data
    used = [{step["action"] for step in data["steps"]} for data in (empty, full)]
    assert "warm-up" in used[0]
    assert "warm-up" not in used[1]
    assert full["expected"] > empty["expected"]


def test_compare_says_what_the_money_goes_on_and_what_only_one_does(run, shop, tmp_path):
    other = tmp_path / "other.yaml"
    other.write_text(
        shop.read_text().replace("hot-air]", "]").replace(", ]", "]").replace("My shop", "Cold shop")
    )
    out = run(*PLAN, "--compare", other).out
    assert max(map(len, out.splitlines())) <= 80
    text = one_line(out)
    assert "Only My shop has: hot-air." in text
    assert re.search(r"Only at My shop, in this share of jobs: .*replace-c5 \(\d+ %\)", text)
    assert "hands-on" in text
    assert "the repair that is not sold" in text
    mine, theirs = run(*PLAN, "--compare", other, "--json").data
    assert {step["action"] for step in mine["steps"]} != {step["action"] for step in theirs["steps"]}


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("{missing: 80 %, shorted: 15 %}", "{missing: 80 %, shorted: 35 %}", "this adds up to 115 %"),
        ("f1-open: 4}}", "f1-open: 40}}", "the faults add up to 55, more than the 20 boards"),
        ("  case-open:\n    takes", "  lid:\n    after: [case-open]\n    takes: 1 min\n  case-open:\n    after: [lid]\n    takes", "wait for each other in a circle"),
        ("takes: 12 min", "takes: -12 min", "takes"),
        ("takes: 12 min", "takes: 1e999 min", "takes"),
    ],
)  # fmt: skip
def test_a_book_that_makes_no_sense_is_refused_with_its_line(run, book, old, new, message):
    change(book, old, new)
    reviewed = run("review", "my-board")
    assert reviewed.code == 1
    assert message in one_line(reviewed.out)
    planned = run(*PLAN)
    assert planned.code == 1
    assert re.search(r"book\.yaml:\d+:\d+: error", planned.err)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("worth: {otherwise: 120}", "worth: {otherwise: 1e12}", "'1e12' is out of range; write a number of zero or more, below 1e12"),
        ("worth: {otherwise: 120}", "worth: {otherwise: .inf}", "'.inf' is no number"),
        ("worth: {otherwise: 120}", "worth: {otherwise: unlimited}", "'unlimited' is no amount"),
        ("hour: 48 ", "hour: .nan ", "'.nan' is no number"),
        ("hour: 48 ", "hour: -3 ", "'-3' is out of range"),
    ],
)  # fmt: skip
def test_a_shop_that_makes_no_sense_is_refused_with_its_line(run, shop, old, new, message):
    change(shop, old, new)
    planned = run(*PLAN)
    assert planned.code == 1
    assert message in one_line(planned.err)
    assert re.search(r"shop\.yaml:\d+:\d+: error", planned.err)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("worth: {otherwise: 120}\ncomeback: 160", "worth: {otherwise: 9e11}\ncomeback: 9.9e11"),
        ("worth: {otherwise: 120}", "worth: {otherwise: 0}"),
        ("hour: 48 ", "hour: 0 "),
        ("waiting hour: 6", "waiting hour: 0"),
        ("waiting hour: 6", "waiting hour: 9e11"),
    ],
)
def test_extreme_rates_and_worths_are_planned_in_finite_numbers(run, shop, old, new):
    change(shop, old, new)
    planned = run(*PLAN, "--json")
    assert planned.code == 0, planned.out
    assert all(0 <= number < 1e13 for number in numbers_in(planned.data))
    assert planned.data["proof"] == "optimal"
    for text in (run(*PLAN).out, run(*SHOW).out):
        assert not re.search(r"\b(nan|inf)\b", text)


def test_checks_that_take_no_time_are_planned(run, book):
    book.write_text(re.sub(r"takes: [124] min", "takes: 0 min", book.read_text()))
    planned = run(*PLAN, "--json")
    assert planned.code == 0
    assert 0 < planned.data["expected"] < 100
