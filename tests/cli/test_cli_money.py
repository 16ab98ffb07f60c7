import pytest

HEAD = "device,complaint,board,category,jobs a year,source,gain,hours,fee,who,must,either-or\n"
TWO = (
    HEAD + "Brindle,hums,,,40,asked shops,50,20,1000,ines,,\nBrindle,dead,,,30,asked shops,60,30,2000,teo,,\n"
)


def test_a_quote_of_the_first_book(run, library):
    ran = run("quote", "my-board", "no-power", "--loss", "20")
    assert ran.code == 0, ran.err
    assert "What to charge for a repair" in ran.out
    assert "The distribution is exact" in ran.out
    assert max(map(len, ran.out.splitlines())) <= 80
    data = run("quote", "my-board", "no-power", "--json").data
    plan = run("show", "my-board", "no-power", "--json").data
    assert data["exact"]
    assert float(data["expected"]) == pytest.approx(plan["expected"], abs=0.005)
    assert isinstance(data["mean"], str)
    assert all(len(each["cost"].split(".")[1]) == 2 for each in data["quantiles"])


def test_the_page_of_a_quote_stands_alone(run, library):
    assert run("quote", "my-board", "no-power", "--page", "quote.html").code == 0
    text = (library / "quote.html").read_text(encoding="utf-8")
    assert "What a job costs in cash" in text
    assert text.count("<svg") == 2
    refused = run("quote", "my-board", "no-power", "--page", "nowhere/quote.html")
    assert (refused.code, "there is no such folder" in refused.err) == (1, True)


def test_research_on_a_device_without_a_book(run, library):
    """200 h at 45 for 60 a job, three a year: 15 shops at four years and 5 % (common practice, no source)."""
    asked = ("--hours", 200, "--rate", 45, "--gain", 60, "--jobs", 3, "--years", 4)
    data = run("research", *asked, "--json").data
    assert (data["pays"], data["least_shops"], data["value"]) == (False, 15, "-8361.73")
    assert run("research", *asked, "--shops", 15, "--json").data["pays"]
    assert "does not pay" in run("research", *asked).out


def test_research_without_a_gain_or_a_demand_says_what_is_missing(run, library):
    assert run("research").code == 2
    ran = run("research", "--gain", 60)
    assert ran.code == 1
    assert ran.err == (
        "benchlore: jobs a year: nobody says it; expected is a number (--jobs), for no dated job of this is "
        "recorded\n"
    )


def test_limits_of_a_table_of_candidates_are_written_in_digits_and_missing_columns_named_once(run, library):
    (library / "candidates.csv").write_text(TWO.replace("60", "1e13", 1), encoding="utf-8")
    ran = run("fund", "candidates.csv", "--budget", 2500)
    assert "is out of range; write a number from 0 to 1,000,000,000,000" in ran.err
    (library / "candidates.csv").write_text("name,board\nx,y\n", encoding="utf-8")
    ran = run("fund", "candidates.csv", "--budget", 2500)
    assert ran.err.count("the columns are") == 1
    assert "candidates.csv:1:1: error: no column 'device', 'complaint' or 'gain'; the columns are" in ran.err


def test_a_fund_plan(run, library):
    (library / "candidates.csv").write_text(TWO, encoding="utf-8")
    data = run("fund", "candidates.csv", "--budget", 2500, "--draws", 5, "--json").data
    assert data["chosen"] == {"candidates": ["Brindle, hums"], "cost": "1000.00", "benefit": "8658.95"}
    assert data["more_from"] == "3000.00"
    forced = run(
        "fund", "candidates.csv", "--budget", 2500, "--must", "Brindle, dead", "--draws", 5, "--json"
    ).data
    assert forced["chosen"]["candidates"] == ["Brindle, dead"]
    ran = run("fund", "candidates.csv", "--budget", 500, "--draws", 5)
    assert "the least fee is 1,000.00" in ran.out
    assert max(map(len, ran.out.splitlines())) <= 80


def test_what_must_be_funded_and_cannot_be_is_refused(run, library):
    (library / "candidates.csv").write_text(TWO.replace("teo,,", "teo,yes,"), encoding="utf-8")
    ran = run("fund", "candidates.csv", "--budget", 500)
    assert ran.code == 1
    assert "Brindle, dead cost 2,000.00, the budget is 500.00" in ran.err


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (",40,", ",,", "write them, with their source"),
        ("asked shops,50", ",50", "has no 'source'"),
        ("50,20,", "50,-20,", "write a number from 0"),
        ("50,20,", "50,,", "'hours' is empty"),
        ("50,20,", "fifty,20,", "'fifty' is no number"),
        ("ines,,", "ines,perhaps,", "neither yes nor no"),
        ("gain", "profit", "no column 'gain'"),
    ],
)
def test_mistakes_in_a_table_are_named_with_their_line(run, library, old, new, said):
    (library / "candidates.csv").write_text(TWO.replace(old, new, 1), encoding="utf-8")
    ran = run("fund", "candidates.csv", "--budget", 500)
    assert ran.code == 1
    assert said in ran.err
    assert "candidates.csv:" in ran.err
