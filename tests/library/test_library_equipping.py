"""What equipment is worth, on the board that ``init`` writes, whose plans are exact."""

from dataclasses import replace
from datetime import date, timedelta
from itertools import combinations

import pytest

from benchlore.jobs import Store
from benchlore.library import (
    EquipTerms,
    NoBookError,
    NoComplaintError,
    NoDemandError,
    PricesRefusedError,
    equip_passages,
    init_library,
    learn_board,
    mix_of,
    value_instruments,
)
from benchlore.library.equip_costs import EquipmentCosts
from benchlore.library.folder import sound_shop_of
from benchlore.money import AmountError
from benchlore.procedure import Effort, plan
from benchlore.proof import in_turn
from finished_jobs import finished_jobs

BARE = ("[multimeter, bench-supply, soldering-iron, hot-air]", "[microscope]")


def dated(count, shop="Quay"):
    return [
        replace(job, opened=date(2025, 1, 1) + timedelta(days=9 * k))
        for k, job in enumerate(finished_jobs(count, shop))
    ]


@pytest.fixture(scope="module")
def bare(tmp_path_factory):
    """A library whose shop has next to nothing, with 40 jobs in a year of another shop."""
    library = init_library(tmp_path_factory.mktemp("bare") / "library", title="Test", board="my-board")
    text = library.shop_file.read_text(encoding="utf-8")
    library.shop_file.write_text(text.replace(*BARE), encoding="utf-8")
    with Store.open(library.store) as store:
        store.add(dated(40))
    return library


@pytest.fixture(scope="module")
def values(bare):
    prices = bare.folder / "prices.csv"
    lines = ("equipment,price,years", "hot-air,300,8", "multimeter,40,", "xray,40000,10", "microscope,500,5")
    prices.write_text("\n".join(lines), encoding="utf-8")
    return value_instruments(bare, terms=EquipTerms(prices=prices), workers=1)


def test_savings_are_those_of_planning_each_set_by_itself(bare, values):
    model = learn_board(bare, "my-board").models["no-power"]
    shop, jobs = sound_shop_of(bare), values.mix[0].demand.mean

    def cost(names):
        return plan(model, replace(shop, instruments=shop.instruments | set(names))).expected

    now = cost(())
    shown = [*values.single, *values.together, values.best_two, values.everything]
    assert len(values.single) == 4
    for value in shown:
        assert value.yearly.saved == pytest.approx(jobs * (now - cost(value.names)), abs=1e-6)
        assert value.is_exact


def test_more_equipment_never_costs_more_and_bounds_spare_plans(bare):
    model, shop = learn_board(bare, "my-board").models["no-power"], sound_shop_of(bare)
    costs = EquipmentCosts([model], shop, Effort.QUICK, in_turn)
    names = sorted(costs.needed[0])
    sets = [frozenset(each) for size in range(len(names) + 1) for each in combinations(names, size)]
    costs.find([frozenset(), frozenset(names)], "ends", lambda *_: None)
    costs.find(sets, "all", lambda *_: None)
    for less, more in combinations(sets, 2):
        if less <= more:
            assert costs.between(0, more).found <= costs.between(0, less).found
            assert costs.between(0, more).least <= costs.between(0, less).least + 1e-9
    assert costs.planned < costs.asked


def test_what_nothing_needs_saves_nothing_and_is_not_planned(values):
    assert (values.needless, values.owned) == (("xray",), ("microscope",))
    assert all("xray" not in value.names for value in values.single)


def test_multimeter_and_hot_air_pay_more_together(values):
    alone = {value.names[0]: value.yearly.saved for value in values.single}
    assert alone["multimeter"] == 0
    pair = next(value for value in values.together if value.names == ("hot-air", "multimeter"))
    assert pair.yearly.saved > alone["hot-air"]
    assert pair.price == 340


def test_a_price_says_when_it_is_back(values):
    bought = {value.names[0]: value for value in values.single if value.bought}
    hot_air = bought["hot-air"]
    assert (hot_air.years, bought["multimeter"].years) == (8, 5)
    assert hot_air.bought.payback == pytest.approx(300 / hot_air.yearly.saved)
    assert hot_air.bought.value == pytest.approx(
        hot_air.yearly.saved * 6.4632 - 300, rel=1e-4
    )  # 8 years, 5 %
    assert bought["multimeter"].bought.payback is None
    text = " ".join(sentence for passage in equip_passages(values) for sentence in passage.sentences)
    assert "Buy first: hot-air" in text


def test_a_shop_that_lacks_nothing_is_told_so(library):
    terms = EquipTerms(jobs=mix_of(["my-board/no-power=12"]))
    found = value_instruments(library, terms=terms, workers=1)
    assert (found.single, found.everything, found.best_two) == ((), None, None)
    assert "lacks nothing" in equip_passages(found)[0].sentences[0]


def test_the_shops_own_records_come_before_those_of_all(bare):
    with Store.open(bare.store) as store:
        store.add(dated(4, shop="my shop"))
    terms = EquipTerms(boards=("my-board",))
    assert value_instruments(bare, terms=terms, workers=1).mix[0].source == "4 jobs of its own"


def test_nobody_says_how_many_jobs_there_are(library):
    with pytest.raises(NoDemandError, match="--jobs BOARD/COMPLAINT=N"):
        value_instruments(library, workers=1)


@pytest.mark.parametrize("pair", ["my-board=3", "my-board/no-power", "a/b=-1", "a/b=many", "/b=1", "a/b=inf"])
def test_a_mix_that_says_nothing_is_refused(pair):
    with pytest.raises(AmountError, match="BOARD/COMPLAINT=N"):
        mix_of([pair])


def test_a_mix_of_what_is_not_there_is_refused(library):
    with pytest.raises(NoBookError, match=r"no book 'my-bord'.*my-board"):
        value_instruments(library, terms=EquipTerms(jobs={("my-bord", "x"): 1.0}), workers=1)
    with pytest.raises(NoComplaintError):
        value_instruments(library, terms=EquipTerms(jobs={("my-board", "x"): 1.0}), workers=1)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("thermal-camra,450,5", "2:1: .*did you mean 'thermal-camera'"),
        ("multimeter,-3,5", "out of range"),
        ("multimeter,,5", "'price' is empty"),
        ("multimeter,30,0", "whole years from 1"),
        ("multimeter,30,2.5", "whole years from 1"),
        ("multimeter,cheap,2", "'cheap' is no number"),
        (",30,2", "'equipment' is empty"),
        ("multimeter,30,2\nmultimeter,40,2", "3:1: .*has a price already"),
    ],
)
def test_mistakes_in_prices_are_named_with_their_line(library, line, said):
    prices = library.folder / "prices.csv"
    prices.write_text(f"equipment,price,years\n{line}\n", encoding="utf-8")
    with pytest.raises(PricesRefusedError, match=said):
        value_instruments(library, terms=EquipTerms(jobs={}, prices=prices), workers=1)
