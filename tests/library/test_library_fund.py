"""The kept table of candidates, and what is asked of a plan of it."""

import csv
import io

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchlore.jobs import Store
from benchlore.jobs.demand import DemandRecord
from benchlore.jobs.open_repair import read_open_repair
from benchlore.library import (
    COLUMNS,
    CandidatesRefusedError,
    FundTableChangedError,
    FundTerms,
    TermsRefusedError,
    candidates_csv,
    fund_file,
    fund_passages,
    fund_table,
    fund_terms,
    import_table,
    init_library,
    keep_terms,
    plan_fund,
    put_row,
    remove_row,
    terms_of,
    undo_table,
)

ROW = {
    "device": "Brindle mixer",
    "complaint": "hums",
    "jobs a year": "40",
    "source": "asked shops",
    "gain": "50",
    "hours": "20",
    "fee": "1000",
}
words = st.text(st.characters(categories=["L", "N", "P", "Zs"]), min_size=1, max_size=12).filter(str.strip)


@pytest.fixture(scope="module")
def shared(tmp_path_factory):
    return init_library(tmp_path_factory.mktemp("fund") / "library", title="Quay", board="my-board")


@pytest.fixture
def library(tmp_path):
    return init_library(tmp_path / "library", title="Quay", board="my-board")


def add(library, **cells):
    return put_row(library, None, ROW | cells, seen=fund_table(library).sha256)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(words, words, words), min_size=1, max_size=4))
def test_rows_come_back_as_they_were_put(shared, rows):
    fund_file(shared).unlink(missing_ok=True)
    for device, source, who in rows:
        table = add(shared, device=device, source=source, who=who)
    found = [(row["device"], row["source"], row["who"]) for row in table.rows]
    assert found == [tuple(" ".join(each.split()) for each in row) for row in rows]


def test_a_change_is_undone_and_the_undoing_too(library):
    add(library)
    two = add(library, complaint="dead")
    one = remove_row(library, 0, seen=two.sha256)
    assert [row["complaint"] for row in one.rows] == ["dead"]
    back = undo_table(library, seen=one.sha256)
    assert back.rows == two.rows
    assert undo_table(library, seen=back.sha256).rows == one.rows


def test_nobody_saves_over_what_they_have_not_seen(library):
    seen = fund_table(library).sha256
    add(library)
    with pytest.raises(FundTableChangedError, match="nothing was saved"):
        put_row(library, None, ROW, seen=seen)
    with pytest.raises(FundTableChangedError):
        remove_row(library, 7, seen=fund_table(library).sha256)
    assert len(fund_table(library).rows) == 1


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        ({"hours": "-20"}, "write a number from 0"),
        ({"jobs a year": ""}, "write them, with their source"),
        ({"gain": "1,000"}, "may be 1000 or 1.000"),
        ({"gain": "nan"}, "out of range"),
        ({"device": " "}, "'device' is empty"),
        ({"hours low": "10"}, "come together"),
        ({"jobs high": "30"}, "is not above"),
    ],
)
def test_a_row_with_a_mistake_is_not_kept(library, cells, said):
    before = add(library)
    with pytest.raises(CandidatesRefusedError, match=said):
        add(library, **cells)
    assert fund_table(library) == before


def test_a_table_is_brought_whole_or_not_at_all(library, tmp_path):
    before = add(library)
    path = tmp_path / "mine.csv"
    path.write_text("device;complaint;gain;jobs a year;source;hours\nLamp;dead;12,5;60;asked;30\n")
    found = import_table(library, path, seen=before.sha256)
    assert [(row["device"], row["gain"]) for row in found.rows] == [("Lamp", "12,5")]
    path.write_text(
        "device,complaint,gain,jobs a year,source,hours\nLamp,dead,1,60,,30\nLamp,hums,x,6,asked,3\n"
    )
    with pytest.raises(CandidatesRefusedError) as refused:
        import_table(library, path, seen=found.sha256)
    assert [problem.position.line for problem in refused.value.problems] == [2, 3]
    assert fund_table(library).sha256 == found.sha256
    (head, *_) = csv.reader(io.StringIO(candidates_csv(library)))
    assert tuple(head) == COLUMNS


def test_what_was_asked_is_kept_but_no_what_if(library):
    typed = {"budget": "5 000", "hours:ines": "120", "if:Lamp, dead": "in", "else": "1"}
    keep_terms(library, typed)
    assert fund_terms(library)["budget"] == "5 000"
    assert fund_terms(library)["hours:ines"] == "120"
    assert not {"if:Lamp, dead", "else"} & set(fund_terms(library))
    terms = terms_of(library, typed)
    assert (terms.budget, dict(terms.capacity), terms.must) == (5000.0, {"ines": 120.0}, ("Lamp, dead",))
    (fund_file(library).with_name("terms.json")).write_text("[")
    assert fund_terms(library)["seed"] == "1"


def test_every_mistake_in_what_is_asked_is_named(library):
    with pytest.raises(TermsRefusedError) as refused:
        terms_of(library, {"budget": "", "years": "2.5", "draws": "many", "hours:ines": "-3"})
    assert set(refused.value.wrong) == {"budget", "years", "draws", "hours:ines"}


def plan(library, **terms):
    return plan_fund(library, fund_file(library), FundTerms(**{"budget": 1000.0, "draws": 3, **terms}))


def test_why_each_candidate_is_in_or_out(library):
    add(library, **{"who": "ines", "either-or": "mixer"})
    add(library, **{"complaint": "hums louder", "gain": "20", "either-or": "mixer"})
    add(library, complaint="dead", gain="1", fee="900")
    add(library, complaint="smells", who="ines", hours="90", fee="1", gain="10")
    why = " ".join(fund_passages(plan(library, capacity={"ines": 40.0}), "EUR")[1].sentences)
    assert "Brindle mixer, hums: in; it brings 8.7 times its fee" in why
    assert "hums louder: out, because Brindle mixer, hums of the same either-or group" in why
    assert "dead: out, because it brings no more than it costs" in why
    assert "smells: out; ines has 20 h left beside the chosen, it needs 90 h" in why


OPEN_REPAIR = (
    "id,data_provider,country,partner_product_category,product_category,product_category_id,brand,"
    "year_of_manufacture,product_age,repair_status,repair_barrier_if_end_of_life,group_identifier,event_date,problem\n"
)
"""Open Repair Data Standard 0.3 (Open Repair Alliance, CC BY-SA 4.0): the columns in published order."""


def test_repair_events_of_others_stand_beside_the_plan_by_provider(library, tmp_path):
    categories = {"Kestrel": ["Kettle"] * 3 + ["Tablet"], "Norwick": ["Tablet"] * 2 + ["Lamp"] * 8}
    lines = [
        f"{who}_{n},{who},NZL,x,{what},1,,,,Fixed,,Harbour,2025-03-29,none\n"
        for who, all_of_them in categories.items()
        for n, what in enumerate(all_of_them)
    ]
    path = tmp_path / "events.csv"
    path.write_text(OPEN_REPAIR + "".join(lines))
    with Store.open(library.store) as store:
        store.add_demand([each for each in read_open_repair(path) if isinstance(each, DemandRecord)])
    add(library, category="tablet")
    add(library, complaint="dead")
    funded = plan(library)
    found = [(each.provider, each.events, each.share) for each in funded.elsewhere[0]]
    assert found == [("Kestrel", 1, 0.25), ("Norwick", 2, 0.2)]
    assert funded.elsewhere[1] == ()
    assert funded.rows[0].jobs == 40  # what others saw is no figure of the plan
    assert "Kestrel 25 %, Norwick 20 %" in [
        cell for row in fund_passages(funded, "EUR")[-1].table.rows for cell in row
    ]
