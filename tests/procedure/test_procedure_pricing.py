from dataclasses import replace

import pytest

from benchlore.model import Gate, Setup, Work, fix_of, model_of, named_check
from benchlore.procedure import (
    ComebackTooCheapError,
    InvalidInstanceError,
    NoExchangeRateError,
    NoWorthError,
    instance_of,
    plan,
)
from benchlore.shop import Shop

SHOP = Shop(
    "Quay",
    "EUR",
    hour=60.0,
    waiting_hour=6.0,
    instruments=frozenset({"meter"}),
    worth={"board": 200.0},
    diagnostic_fee=30.0,
)


def model(**changes):
    """One fault, a check and a fix behind two setups; minutes are euros at this shop's hourly rate."""
    made = model_of(
        [0.9, 0.1],
        [[[1, 0], [0, 1]]],
        [named_check("look", 0, [[0.9, 0.1], [0.2, 0.8]], work=Work(3.0, 20.0, 0.01, (0,), ("meter",)))],
        [fix_of("mend", [0.9, 0.0], work=Work(10.0, 5.0, 0.02, (0, 1)), parts=4.0)],
        setups=[
            Setup("open", "open", Work(6.0, ruins=0.005)),
            Setup("clear", "clear", Work(9.0, setups=(0,))),
        ],
        retest=Work(2.0, 60.0),
        faults=("worn", "unlisted"),
    )
    return replace(made, **changes)


def test_minutes_risk_parts_and_retest_become_money():
    instance = instance_of(model(), SHOP)
    look, mend = instance.checks[0].cost, instance.fixes[0].cost
    assert (look.hands_on, look.waiting, look.risk) == pytest.approx((3.0, 2.0, 2.0))
    assert (mend.hands_on, mend.waiting, mend.parts, mend.risk) == pytest.approx((10.0, 0.5, 4.0, 4.0))
    assert mend.retest == pytest.approx(2.0 + 6.0)
    assert instance.setups[0].cost.total == pytest.approx(6.0 + 1.0)


def test_a_setup_brings_those_that_must_stand_before_it():
    instance = instance_of(model(), SHOP)
    assert instance.setups[1].needs == 0b11
    assert instance.fixes[0].setups == 0b11
    assert instance.setups_in(0b11) == ("open", "clear")


def test_a_return_loses_the_worth_less_the_fee_and_a_comeback_an_hour_more_than_the_worth():
    instance = instance_of(model(), SHOP)
    assert instance.give_up == pytest.approx(170.0)
    assert instance.comeback == pytest.approx(260.0)
    assert instance_of(model(), replace(SHOP, comeback=300.0)).comeback == 300.0
    assert instance_of(model(), replace(SHOP, diagnostic_fee=500.0)).give_up == 0.0


def test_the_worth_is_the_shops_for_this_board_then_for_others_then_the_books():
    book = model(worth=90.0)
    assert instance_of(book, SHOP).give_up == 170.0
    assert instance_of(book, replace(SHOP, worth={}, worth_otherwise=120.0)).give_up == 90.0
    assert instance_of(book, replace(SHOP, worth={})).give_up == 60.0
    with pytest.raises(NoWorthError, match="write the price that the shop charges under 'worth'"):
        instance_of(model(), replace(SHOP, worth={}))


def test_the_books_prices_are_changed_at_the_shops_rate():
    dollars = model(currency="USD", worth=100.0)
    changed = instance_of(dollars, replace(SHOP, worth={}, exchange={"USD": 0.5}))
    assert changed.fixes[0].cost.parts == pytest.approx(2.0)
    assert changed.give_up == pytest.approx(20.0)
    with pytest.raises(NoExchangeRateError, match=r"write .exchange: \{USD:"):
        instance_of(dollars, SHOP)


def test_what_the_shop_lacks_is_left_out_with_the_reason():
    bare = replace(SHOP, instruments=frozenset())
    gated = replace(model().fixes[0], gates=(Gate(0, (0,)),))
    instance = instance_of(model(fixes=(gated,)), bare)
    assert instance.checks[0].excluded == "needs meter"
    assert instance.fixes[0].excluded == "only after 'look', which cannot be done"
    assert instance_of(model(), SHOP).checks[0].excluded == ""


@pytest.mark.parametrize(
    ("change", "error"),
    [
        ({"comeback": 100.0}, ComebackTooCheapError),
        ({"hour": -1.0}, InvalidInstanceError),
        ({"hour": float("nan")}, InvalidInstanceError),
        ({"waiting_hour": float("inf")}, InvalidInstanceError),
        ({"worth": {"board": float("inf")}}, InvalidInstanceError),
        ({"worth": {"board": -5.0}}, InvalidInstanceError),
    ],
)
def test_rates_that_make_no_sense_are_refused(change, error):
    with pytest.raises(error):
        instance_of(model(), replace(SHOP, **change))


def test_a_shop_that_owns_nothing_still_gets_a_procedure():
    poor = replace(SHOP, instruments=frozenset(), worth={"board": 20.0})
    procedure = plan(model(), poor)
    assert procedure.proof == "optimal"
    assert procedure.steps[0].kind == "return"
    assert procedure.expected == 0.0


def test_a_plan_says_for_whom_and_how_it_was_made():
    small = plan(model(), SHOP)
    assert (small.board, small.complaint, small.shop, small.currency) == ("board", "complaint", "Quay", "EUR")
    assert (small.proof, small.method, small.bound) == ("optimal", "exact sweep", small.expected)
    large = plan(model(), SHOP, memory=0)
    assert large.proof == "bounded"
    assert large.bound <= small.expected + 1e-9 <= large.expected + 2e-9
    assert 0.0 <= large.gap < 1.0
