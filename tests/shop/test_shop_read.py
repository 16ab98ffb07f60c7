"""From a shop file's text to its values, and every mistake named."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from ruamel.yaml import YAML

from benchlore.notation import Severity
from benchlore.shop import Shop, json_schema, read_shop

SAMPLE = """\
shop: 1
name: Fennel Street Repairs
currency: EUR
hour: 48                 # what an hour of hands-on bench work costs
waiting hour: 6 EUR
instruments: [multimeter, bench-supply, hot-air]
skills: [fine-soldering]
worth: {halden-t4: 190, otherwise: 120}
diagnostic fee: 25
comeback: 260
exchange: {GBP: 1.17}
"""
MANUAL = Path(__file__).parents[2] / "docs" / "shop.md"


def changed(old, new):
    assert old in SAMPLE
    return SAMPLE.replace(old, new)


def said(text):
    return [str(problem).removeprefix("shop.yaml:") for problem in read_shop(text).problems]


def test_a_sound_file_becomes_a_shop():
    read = read_shop(SAMPLE)
    assert read.problems == ()
    assert read.shop == Shop(
        name="Fennel Street Repairs",
        currency="EUR",
        hour=48.0,
        waiting_hour=6.0,
        instruments=frozenset({"multimeter", "bench-supply", "hot-air"}),
        skills=frozenset({"fine-soldering"}),
        worth={"halden-t4": 190.0},
        worth_otherwise=120.0,
        diagnostic_fee=25.0,
        comeback=260.0,
        exchange={"GBP": 1.17},
    )


def test_the_least_that_a_file_may_hold():
    read = read_shop("shop: 1\nname: A\ncurrency: eur\nhour: 1\nwaiting hour: 0")
    assert read.shop == Shop("A", "EUR", 1.0, 0.0)


@pytest.mark.parametrize("money", ["48", "48.00", "48 EUR", "EUR 48", "48,00"])
def test_money_is_written_in_these_ways(money):
    read = read_shop(changed("hour: 48 ", f"hour: {money} "))
    assert read.shop is not None
    assert read.shop.hour == 48


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("bench-supply", "bench-suply", "6:27: warning: instruments › item 2: no standard instrument 'bench-suply'; did you mean 'bench-supply'?"),
        ("bench-supply", "gyro-stand", "6:27: warning: instruments › item 2: no standard instrument 'gyro-stand'; it counts only for books that describe it"),
        ("[fine-soldering]", "[fine-solder]", "7:10: warning: skills › item 1: no standard skill 'fine-solder'; did you mean 'fine-soldering'?"),
        ("hot-air]", "bga]", "6:41: error: instruments › item 3: 'bga' is a skill; move it to 'skills'"),
        ("[fine-soldering]", "[hot-air]", "7:10: error: skills › item 1: 'hot-air' is an instrument; move it to 'instruments'"),
        ("comeback: 260", "comeback: 164", "10:1: error: comeback: a comeback at 164 costs less than returning the board unrepaired (190 − 25 = 165 for 'halden-t4'), so that releasing bad boards would pay; write at least 165"),
        ("diagnostic fee: 25", "diagnostic fee: 130", "8:25: warning: worth › otherwise: the diagnostic fee of 130 is more than a finished repair at 120"),
        ("hour: 48 ", "hour: 48 GBP ", "4:1: error: hour: amounts of this file are in EUR, not GBP; convert it"),
        ("GBP: 1.17", "EUR: 1.17", "11:12: error: exchange › EUR: EUR is the shop's own currency; leave it out"),
        ("GBP: 1.17", "GBP: 0", "11:12: error: exchange › GBP: a number above zero is expected"),
        ("hour: 48 ", "hour: dear ", "4:1: error: hour: 'dear' is no amount; write it as 48, 48.50 or 48 EUR"),
        ("shop: 1", "shop: 2", "1:1: error: shop: this reads format 1; write 'shop: 1'"),
        ("currency: EUR", "currency: Euro", "3:1: error: currency: 'Euro' is no currency"),
        ("waiting hour", "wating hour", "5:1: error: unknown key 'wating hour'; did you mean 'waiting hour'?"),
        ("name: Fennel Street Repairs\n", "", "1:1: error: 'name' is missing; add it, such as 'name: Fennel Street Repairs'"),
        ("worth: {", "worth: {Halden: 3, ", "8:9: error: worth › Halden: 'Halden' is no name; use lower-case letters, digits and single hyphens; did you mean 'halden'?"),
    ],
)  # fmt: skip
def test_a_mistake_is_placed_and_explained(old, new, message):
    (problem,) = said(changed(old, new))
    assert problem.startswith(message)


def test_a_comeback_may_cost_exactly_what_returning_does():
    assert said(changed("comeback: 260", "comeback: 165")) == []
    assert said(changed("comeback: 260\n", "")) == []
    assert said(changed("worth: {halden-t4: 190, otherwise: 120}\n", "").replace("260", "1")) == []


def test_a_warning_does_not_refuse_the_shop_and_an_error_does():
    assert read_shop(changed("bench-supply", "gyro-stand")).shop is not None
    assert read_shop(changed("shop: 1", "shop: 2")).shop is None


def test_what_a_book_describes_is_known():
    text = changed("bench-supply", "gyro-stand")
    assert read_shop(text, described=["gyro-stand"]).problems == ()
    (problem,) = read_shop(changed("bench-supply", "gyro-stant"), described=["gyro-stand"]).problems
    assert "did you mean 'gyro-stand'?" in problem.message


def test_mistakes_hide_no_others():
    text = (
        changed("shop: 1", "shop: 2")
        .replace("comeback: 260", "comeback: 1")
        .replace("multimeter", "multimetre")
    )
    assert [problem.rule for problem in read_shop(text).problems] == [
        "bad-value",
        "unknown-name",
        "cheap-comeback",
    ]


@pytest.mark.parametrize("text", ["", "x", "[1]", "# nothing"])
def test_what_is_no_shop_file_is_told_so(text):
    assert "this is no shop file; it begins with 'shop: 1'" in said(text)[0]


def test_the_schema_accepts_what_is_read_and_describes_every_field():
    schema = json_schema()
    Draft202012Validator.check_schema(schema)
    data = YAML(typ="safe", pure=True).load(SAMPLE)
    assert list(Draft202012Validator(schema).iter_errors(data)) == []
    assert list(Draft202012Validator(schema).iter_errors({**data, "wating hour": 1}))
    assert all(field.get("description") for field in schema["properties"].values())


def test_the_manual_explains_every_key_and_its_sample_is_sound():
    manual = MANUAL.read_text(encoding="utf-8")
    assert [key for key in json_schema()["properties"] if f"`{key}`" not in manual] == []
    assert said(manual.split("```yaml\n")[1].split("```")[0]) == []


SCRAPS = st.sampled_from(
    ["1", "48", "EUR", "{a: 1}", "[a]", "", "~", "-1", "1e999", "nan", "&a", "*a", "a, b", "48 EUR", "'", "€"]
)


@given(st.lists(st.tuples(st.integers(0, 10), SCRAPS), max_size=5))
@settings(max_examples=200, deadline=None)
def test_no_changed_value_does_more_than_make_problems(changes):
    lines = SAMPLE.splitlines()
    for place, scrap in changes:
        lines[place] = f"{lines[place].split(':')[0]}: {scrap}"
    read = read_shop("\n".join(lines))
    assert (read.shop is None) == any(problem.severity is Severity.ERROR for problem in read.problems)


@given(st.text(max_size=60))
@settings(max_examples=100, deadline=None)
def test_no_text_at_all_does_more_than_make_problems(text):
    assert read_shop(text).shop is None
