from dataclasses import replace
from math import inf, nan

import numpy as np
import pytest

from benchlore.model import Gate, Setup, Work, fix_of, model_of, named_check
from benchlore.procedure import (
    ComebackTooCheapError,
    InvalidInstanceError,
    NoExchangeRateError,
    NoWorthError,
    instance_of,
)
from benchlore.shop import Shop

SHOP = Shop(
    "Bench", "EUR", hour=60.0, waiting_hour=6.0, worth_otherwise=200.0, instruments=frozenset({"meter"})
)


def board(*, checks=(), fixes=(), setups=(), **more):
    return model_of([0.7, 0.3], [np.eye(2)], checks, fixes, setups=setups, **more)


def look(work, gates=()):
    return named_check("look", 0, np.eye(2), work=work, gates=gates)


def test_a_check_costs_hands_waiting_and_risk():
    model = board(checks=[look(Work(takes=4.0, waits=10.0, ruins=0.01))])
    cost = instance_of(model, SHOP).checks[0].cost
    assert (cost.hands_on, cost.waiting, cost.risk) == (4.0, 1.0, 2.0)
    assert cost.total == 7.0


def test_a_fix_costs_its_parts_and_the_retest_with_its_soak_too():
    fix = fix_of("mend", [1.0, 0.0], work=Work(takes=12.0, waits=5.0, ruins=0.02), parts=3.5)
    model = board(fixes=[fix], retest=Work(takes=2.0, waits=60.0, ruins=0.01))
    cost = instance_of(model, SHOP).fixes[0].cost
    assert (cost.hands_on, cost.waiting, cost.parts, cost.retest) == (12.0, 0.5, 3.5, 8.0)
    assert cost.risk == pytest.approx(6.0)


def test_the_retests_setups_are_the_fixs_setups():
    setups = [Setup("open", "open", Work(6.0)), Setup("powered", "powered", Work(2.0, setups=(0,)))]
    model = board(fixes=[fix_of("mend", [1.0, 0.0])], setups=setups, retest=Work(2.0, setups=(1,)))
    instance = instance_of(model, SHOP)
    assert instance.fixes[0].setups == 0b11
    assert instance.setups_in(0b11) == ("open", "powered")
    assert instance.setup_cost(0b11).setups == 8.0


def test_a_setup_listed_before_what_it_stands_on_is_made_after_it():
    setups = [Setup("shield-off", "", Work(9.0, ruins=0.005, setups=(1,))), Setup("open", "", Work(6.0))]
    instance = instance_of(board(checks=[look(Work(1.0, setups=(0,)))], setups=setups), SHOP)
    assert instance.checks[0].setups == 0b11
    assert instance.setups_in(0b11) == ("open", "shield-off")
    assert instance.setup_cost(0b11).risk == pytest.approx(1.0)


def test_a_return_loses_the_worth_less_the_diagnostic_fee():
    assert instance_of(board(), SHOP).give_up == 200.0
    assert instance_of(board(), replace(SHOP, diagnostic_fee=35.0)).give_up == 165.0
    assert instance_of(board(), replace(SHOP, diagnostic_fee=500.0)).give_up == 0.0


def test_a_comeback_is_the_worth_and_an_hour_unless_the_shop_says():
    assert instance_of(board(), SHOP).comeback == 260.0
    assert instance_of(board(), replace(SHOP, comeback=210.0)).comeback == 210.0


def test_the_shops_word_on_the_worth_comes_before_the_books():
    model = board(worth=150.0)
    assert instance_of(model, replace(SHOP, worth={"board": 300.0})).give_up == 300.0
    assert instance_of(model, SHOP).give_up == 200.0
    assert instance_of(model, replace(SHOP, worth_otherwise=None)).give_up == 150.0


def test_the_books_amounts_are_exchanged():
    shop = Shop("Bank", "CHF", hour=60.0, waiting_hour=6.0, exchange={"EUR": 0.5})
    instance = instance_of(board(worth=150.0, fixes=[fix_of("mend", [1.0, 0.0], parts=8.0)]), shop)
    assert instance.give_up == 75.0
    assert instance.fixes[0].cost.parts == 4.0


def test_nobody_says_the_worth():
    shop = replace(SHOP, worth_otherwise=None)
    with pytest.raises(
        NoWorthError, match=r"worth of|is worth; write .* 'worth' in the shop file.* fault book"
    ):
        instance_of(board(), shop)


@pytest.mark.parametrize(
    ("model", "what"),
    [
        (board(fixes=[fix_of("mend", [1.0, 0.0], parts=8.0)]), "the part price of fix 'mend'"),
        (board(worth=150.0), "the worth of a finished repair"),
    ],
)
def test_a_missing_rate_is_asked_for_only_where_it_is_needed(model, what):
    bare = Shop("Bank", "CHF", hour=60.0, waiting_hour=6.0, worth_otherwise=200.0)
    shop = bare if model.worth is None else replace(bare, worth_otherwise=None)
    with pytest.raises(
        NoExchangeRateError, match=rf"{what} is in EUR, but the shop counts in CHF .*exchange"
    ):
        instance_of(model, shop)
    assert instance_of(board(fixes=[fix_of("mend", [1.0, 0.0])]), bare).give_up == 200.0


def test_a_comeback_cheaper_than_a_return_is_refused():
    with pytest.raises(ComebackTooCheapError, match=r"costs 150\.00, less than the 200\.00 .* 'comeback'"):
        instance_of(board(), replace(SHOP, comeback=150.0))


@pytest.mark.parametrize("amount", [inf, nan, -1.0])
@pytest.mark.parametrize("field", ["hour", "waiting_hour", "worth_otherwise"])
def test_amounts_that_are_none_are_refused(field, amount):
    with pytest.raises(InvalidInstanceError, match=r"finite amount that is not negative expected"):
        instance_of(board(), replace(SHOP, **{field: amount}))


def test_what_the_shop_has_no_equipment_for_is_excluded_with_the_reason():
    setups = [Setup("bath", "bath", Work(5.0, equipment=("ultrasonic-bath",)))]
    checks = [
        named_check("image", 0, np.eye(2), work=Work(1.0, equipment=("camera", "meter"))),
        named_check("rinse", 0, np.eye(2), work=Work(1.0, setups=(0,))),
        named_check("after-image", 0, np.eye(2), gates=[Gate(0, (1,))]),
        named_check("plain", 0, np.eye(2), work=Work(1.0, equipment=("meter",))),
    ]
    fixes = [
        fix_of("mend", [1.0, 0.0], gates=[Gate(2, (0,))]),
        fix_of("talk", [0.0, 0.0]),
        fix_of("solder", [1.0, 0.0], work=Work(1.0, equipment=("hot-air",))),
    ]
    instance = instance_of(board(checks=checks, fixes=fixes, setups=setups), SHOP)
    assert [check.excluded for check in instance.checks] == [
        "needs camera",
        "needs ultrasonic-bath",
        "only after 'image', which cannot be done",
        "",
    ]
    assert [fix.excluded for fix in instance.fixes] == [
        "only after 'after-image', which cannot be done",
        "cures no fault of this complaint",
        "needs hot-air",
    ]
    assert instance.open_checks == (3,)
    assert instance.open_fixes == ()


def test_no_fix_can_be_tried_without_the_retests_equipment():
    model = board(fixes=[fix_of("mend", [1.0, 0.0])], retest=Work(2.0, equipment=("load",)))
    assert instance_of(model, SHOP).fixes[0].excluded == "the retest needs load"


def test_skills_count_as_equipment():
    model = board(checks=[look(Work(1.0, equipment=("fine-soldering",)))])
    assert instance_of(model, SHOP).checks[0].excluded == "needs fine-soldering"
    assert instance_of(model, replace(SHOP, skills=frozenset({"fine-soldering"}))).checks[0].excluded == ""
