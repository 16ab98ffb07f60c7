from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from desk_bench import BOARD, HARD, RESTARTS, bench_library, journal, viewed
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchlore.jobs import EntryKind as K
from benchlore.jobs import Retest
from benchlore.library import Bench, Companion, ask, companion_of
from benchlore.library.desk_belief import belief_of
from benchlore.model import Evidence
from benchlore.procedure import Adviser, Kind, Situation, worth_of

FUSE, OHMS = (
    (K.READING, {"check": "fuse-ohms", "text": "0R2"}),
    (K.READING, {"check": "rail-ohms", "text": "3 ohm"}),
)
VOLTS = (K.READING, {"check": "rail-volts", "text": "0.1 V"})
C5 = (K.FIX, {"fix": "replace-c5", "soak": 30})
U2 = (K.FIX, {"fix": "replace-u2", "soak": 30})
STILL, GONE = (K.RETEST, {"result": "still there"}), (K.RETEST, {"result": "gone"})
NOBODY_KNOWS = (K.RETEST, {"result": "unknown"})


@pytest.fixture(scope="module")
def library(tmp_path_factory):
    return bench_library(tmp_path_factory.mktemp("desk") / "library")


@pytest.fixture(scope="module")
def hard(library):
    return companion_of(library, BOARD, HARD)


@pytest.fixture(scope="module")
def restarts(library):
    return companion_of(library, BOARD, RESTARTS)


STEPS = st.one_of(
    st.builds(
        lambda check, text: (K.READING, {"check": check, "text": text}),
        st.sampled_from(["rail-ohms", "fuse-ohms"]),
        st.sampled_from(["0R2", "3 ohm", "2k2", "OL", "1 Mohm", "unclear"]),
    ),
    st.builds(
        lambda text: (K.READING, {"check": "rail-volts", "text": text}),
        st.sampled_from(["3.3 V", "0.1 V", "unclear"]),
    ),
    st.builds(
        lambda text: (K.READING, {"check": "fell", "text": text}), st.sampled_from(["dropped", "not-dropped"])
    ),
    st.builds(lambda name: (K.SKIP, {"name": name}), st.sampled_from(["fuse-ohms", "replace-f1"])),
    st.just((K.WITHOUT, {"equipment": "hot-air"})),
    st.just((K.SETUP, {"name": "case-open"})),
    st.builds(lambda fix: (K.FIX, {"fix": fix, "soak": 30}), st.sampled_from(["replace-c5", "replace-u2"])),
    st.sampled_from([STILL, GONE, NOBODY_KNOWS, (K.SOAK, {"minutes": 20})]),
    st.just((K.NOTE, {"text": "x"})),
)
JOURNALS = st.lists(STEPS, max_size=7)
MANY = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


def shares_of(view):
    return dict(zip(view.suspects, view.history[-1].shares, strict=True))


def state(view):
    """All of a view that does not tell places or time."""
    asked = view.asked and (view.asked.readings, view.asked.situation, view.asked.advice)
    due = view.due and (view.due.fix, view.due.before, view.due.planned.cured)
    return (
        view.bench,
        asked,
        due,
        view.cured,
        [replace(each, place=0) for each in view.readings],
        [replace(each, place=0) for each in view.tried],
        view.suspects,
        [replace(each, place=0) for each in view.history],
        view.spent.parts,
        view.ahead and view.ahead.to_finish,
    )


@MANY
@given(kept=JOURNALS, undone=JOURNALS, then=JOURNALS, again=st.booleans())
def test_what_was_undone_might_as_well_never_have_been_entered(restarts, kept, undone, then, again):
    back = (K.UNDO, {"to": len(kept)})
    undos = [back, (K.UNDO, {"to": len(kept) + len(undone)}), back] if again else [back]
    # The same minute for every entry: only a soak would tell how long ago it was.
    late = journal([*kept, *undone, *undos, *then])
    early = journal([*kept, *then])
    still = [replace(entry, at=late[0].at) for entry in late]
    assert state(viewed(restarts, tuple(still))) == state(
        viewed(restarts, tuple(replace(entry, at=late[0].at) for entry in early))
    )


@MANY
@given(steps=JOURNALS)
def test_the_advice_is_that_of_next_for_the_same_evidence(library, restarts, steps):
    view = viewed(restarts, journal(steps))
    assert (view.asked is None) == (view.due is not None or view.cured is not None)
    if view.asked is not None:
        assert view.asked.advice == restarts.ask(view.bench).advice
        assert view.ahead.to_finish == view.asked.advice.best.expected
        assert view.ahead.total == pytest.approx(view.spent.total + view.ahead.to_finish)
        last = shares_of(view)
        told = dict(view.asked.advice.suspects)
        assert last == pytest.approx({fault: told.get(fault, 0.0) for fault in last})


@MANY
@given(steps=JOURNALS)
def test_shares_sum_to_one_after_every_entry(restarts, steps):
    view = viewed(restarts, journal(steps))
    assert len(view.suspects) == 4
    assert view.history[0].place == 0
    for believed in view.history:
        assert sum(believed.shares) + believed.others == pytest.approx(1.0)
        assert min(believed.shares) >= 0


@MANY
@given(order=st.permutations([FUSE, OHMS, VOLTS, (K.READING, {"check": "fell", "text": "dropped"})]))
def test_the_order_of_readings_does_not_matter_for_the_belief(hard, order):
    expected = viewed(hard, journal([FUSE, OHMS, VOLTS, (K.READING, {"check": "fell", "text": "dropped"})]))
    found = viewed(hard, journal(order))
    assert shares_of(found) == pytest.approx(shares_of(expected))
    assert found.asked.advice.best.action == expected.asked.advice.best.action
    assert found.ahead.to_finish == pytest.approx(expected.ahead.to_finish)


def test_numbers_are_those_of_a_question_in_names(library, hard):
    view = viewed(
        hard,
        journal([FUSE, OHMS, (K.SKIP, {"name": "replace-u2"}), (K.SETUP, {"name": "case-open"}), C5, STILL]),
    )
    bench = Bench(
        (("fuse-ohms", "0R2"), ("rail-ohms", "3 ohm")), ("replace-c5",), ("case-open",), ("replace-u2",)
    )
    asked = ask(library, BOARD, HARD, bench)
    assert view.bench == bench
    assert view.asked.advice == asked.advice
    assert view.asked.readings == asked.readings


def test_a_check_that_is_made_again_counts_as_it_was_read_last(hard):
    view = viewed(hard, journal([OHMS, FUSE, (K.READING, {"check": "rail-ohms", "text": "2k2"})]))
    assert view.bench.readings == (("rail-ohms", "2k2"), ("fuse-ohms", "0R2"))
    assert [(taken.text, taken.replaced) for taken in view.readings] == [
        ("3 ohm", True),
        ("0R2", False),
        ("2k2", False),
    ]
    assert len(view.history) == 4


def test_while_a_retest_is_due_nothing_else_is_advised(hard):
    view = viewed(hard, journal([OHMS, C5]))
    assert (view.asked, view.cured) == (None, None)
    assert (view.due.fix, view.due.place, view.due.planned_soak, view.due.soak) == ("replace-c5", 2, 30, None)
    assert [tried.retest for tried in view.tried] == [Retest.UNKNOWN]


def test_what_would_follow_if_the_complaint_is_still_there_is_what_follows_then(hard):
    due = viewed(hard, journal([OHMS, C5])).due
    then = viewed(hard, journal([OHMS, C5, STILL]))
    assert due.otherwise.advice == then.asked.advice


@pytest.mark.parametrize("name", ["hard", "restarts"])
def test_the_rest_of_a_retest_costs_what_its_option_said_less_the_work_of_the_fix(request, name):
    companion = request.getfixturevalue(name)
    before = viewed(companion, journal([OHMS])).asked.advice
    option = next(option for option in before.options if option.action == "replace-c5")
    assert before.method == option.method == "exact"
    view = viewed(companion, journal([OHMS, (K.FIX, {"fix": "replace-c5", "soak": option.soak})]))
    cost, risk = option.cost, companion.model.fixes[0].work.ruins * worth_of(companion.model, companion.shop)
    work = cost.hands_on + cost.waiting + cost.setups + cost.parts + risk
    assert view.ahead.to_finish == pytest.approx(option.expected - work)
    assert view.ahead.total == pytest.approx(view.spent.total + view.ahead.to_finish)


def test_a_soak_that_shows_nothing_makes_the_rest_cheaper_and_a_release_risks_a_comeback_only(restarts):
    soaking = [OHMS, C5, (K.SOAK, {"minutes": 60})]
    rest = [viewed(restarts, journal(soaking), minutes=3 + t).ahead.to_finish for t in (0, 20, 40, 60)]
    assert all(one > other for one, other in pairwise(rest))
    gone = viewed(restarts, journal([*soaking, GONE]))
    assert gone.ahead.to_finish == pytest.approx((1 - gone.cured.cured) * restarts.instance.comeback)
    assert viewed(restarts, journal(soaking), closed=True).ahead is None


def test_readings_on_a_board_that_may_be_cured_are_no_evidence_until_the_complaint_is_back(hard):
    held = [OHMS, C5, (K.READING, {"check": "rail-ohms", "text": "2k2"}), GONE]
    gone = viewed(hard, journal([*held, FUSE]))
    assert gone.bench.readings == (("rail-ohms", "3 ohm"),)
    assert [taken.after for taken in gone.readings] == [False, True, True]
    back = viewed(hard, journal([*held, FUSE, STILL]))
    assert back.bench.readings == (("rail-ohms", "2k2"), ("fuse-ohms", "0R2"))
    assert [taken.after for taken in back.readings] == [False, False, False]
    assert back.bench.failed == ("replace-c5",)
    assert [(row.place, row.kind) for row in back.history] == [
        (0, None),
        (1, Kind.CHECK),
        (6, Kind.FIX),
        (3, Kind.CHECK),
        (5, Kind.CHECK),
    ]


def test_a_complaint_that_is_still_there_says_that_no_fix_so_far_has_cured(hard):
    view = viewed(hard, journal([C5, U2, STILL]))
    assert view.bench.failed == ("replace-c5", "replace-u2")
    assert [tried.retest for tried in view.tried] == [Retest.STILL_THERE] * 2


def test_a_fix_whose_retest_told_nothing_is_not_proposed_again(hard):
    view = viewed(hard, journal([C5, NOBODY_KNOWS]))
    assert view.asked is not None
    assert view.bench == Bench(setups=("case-open",), skipped=("replace-c5",))
    assert "replace-c5" not in {option.action for option in view.asked.advice.options}


def test_a_closed_job_is_given_no_advice(hard):
    view = viewed(hard, journal([OHMS, C5]), closed=True)
    assert (view.asked, view.due, view.ahead) == (None, None, None)


def test_what_the_book_does_not_know_is_kept_and_named(hard):
    strange = [
        (K.READING, {"check": "no-such", "text": "1"}),
        (K.READING, {"check": "rail-ohms", "text": "3 V"}),
        (K.SKIP, {"name": "no-such"}),
        (K.WITHOUT, {"equipment": "no-such"}),
        (K.SETUP, {"name": "no-such"}),
        (K.FIX, {"fix": "no-such", "soak": 0}),
        STILL,
    ]
    view = viewed(hard, journal([*strange, FUSE]))
    assert [unread.entry.place for unread in view.unread] == [1, 2, 3, 4, 5, 6]
    assert "no check of that name" in view.unread[0].reason
    assert view.bench == viewed(hard, journal([FUSE])).bench
    due = viewed(hard, journal(strange[:6])).due
    assert (due.fix, due.title, due.before) == ("no-such", "no-such", 0.0)


def test_evidence_that_no_fault_allows_is_set_aside_as_advice_does(hard):
    # Only one fault is possible, and its fix always cures it; that fix failed.
    model = hard.model
    always = replace(model.fixes[0], cures=np.tile([1.0, 0.0], (len(model.faults), 1)))
    prior = np.where(np.arange(len(model.faults)) == 0, 1.0, 0.0)
    odd = replace(model, fixes=(always, *model.fixes[1:]), prior=prior)
    evidence = Evidence(values=((0, 3.0),), failed=(0,))
    advice = Adviser(odd, hard.shop).advise(Situation(evidence))
    assert advice.set_aside == ("replace-c5",)
    assert dict(advice.suspects) == {odd.faults[0]: pytest.approx(1.0)}
    assert belief_of(odd, evidence) == pytest.approx(prior)


def test_money_is_the_clock_at_the_shops_rates_and_the_parts_of_fixes(hard):
    steps = journal([(K.CLOCK, {"to": "hands-on"}), OHMS, C5, STILL, U2, (K.SOAK, {"minutes": 10})])
    view = viewed(hard, steps, minutes=100)
    shop = hard.shop
    assert (view.clock.hands_on, view.clock.waiting) == (5, 10)
    assert view.spent.hands_on == pytest.approx(5 / 60 * shop.hour)
    assert view.spent.waiting == pytest.approx(10 / 60 * shop.waiting_hour)
    # As the book prices them: a capacitor and a converter.
    assert view.spent.parts == pytest.approx(0.20 + 2.80)
    assert view.spent.total == pytest.approx(view.spent.hands_on + view.spent.waiting + 3.00)


def test_stop_is_advised_where_the_return_is_best(hard):
    cheap = companion_with(hard, worth=1.0)
    assert viewed(cheap, ()).stop
    assert viewed(cheap, ()).ahead.to_finish == viewed(cheap, ()).ahead.returned
    assert not viewed(hard, ()).stop


def companion_with(companion, *, worth):
    shop = replace(companion.shop, worth={BOARD: worth}, comeback=None, diagnostic_fee=0.0)
    return Companion(companion.book, companion.model, shop, Adviser(companion.model, shop))


def test_a_clean_soak_proves_what_bayes_says(restarts):
    view = viewed(restarts, journal([OHMS, C5, (K.SOAK, {"minutes": 40})]), minutes=3 + 25)
    model = restarts.model
    belief = shares_of(view)
    cures = dict(zip(model.faults, model.fixes[0].cure_probabilities.tolist(), strict=True))
    assert model.fixes[0].name == "replace-c5"
    cured = sum(belief[f] * cures[f] for f in belief)
    # The complaint comes every 20 minutes on average; the retest itself takes 3 minutes.
    for proven, minutes in ((view.due.sofar, 25), (view.due.planned, 40)):
        silent = np.exp(-(minutes + 3) / 20)
        assert proven.minutes == minutes
        assert proven.overlooked == pytest.approx(silent)
        assert proven.cured == pytest.approx(cured / (cured + (1 - cured) * silent))
    assert view.due.before == pytest.approx(cured)
    assert (view.due.soak.ran, view.due.soak.minutes, view.due.soaked) == (25, 40, 25)


def test_a_clean_soak_proves_what_simulated_boards_show(restarts):
    """Boards are drawn: a fault, cured or not, and the first event of a Poisson process."""
    view = viewed(restarts, journal([OHMS, C5, (K.SOAK, {"minutes": 30}), GONE]), minutes=50)
    minutes = view.cured.minutes
    assert minutes == 1
    rng = np.random.default_rng(20261125)
    model, boards = restarts.model, 400_000
    shares = np.array([shares_of(view)[f] for f in model.faults])
    faults = rng.choice(len(shares), size=boards, p=shares / shares.sum())
    cured = rng.random(boards) < model.fixes[0].cure_probabilities[faults]
    silent = cured | (rng.exponential(20.0, boards) > minutes + 3)
    assert view.cured.cured == pytest.approx(cured[silent].mean(), abs=4 * 0.5 / np.sqrt(silent.sum()))


def test_a_longer_clean_soak_proves_more(restarts):
    proven = [
        viewed(restarts, journal([C5, (K.SOAK, {"minutes": 500})]), minutes=2 + t).due.sofar.cured
        for t in (0, 10, 60, 240, 500)
    ]
    assert all(one < other for one, other in pairwise(proven))
    assert proven[-1] > 1 - 1e-9


def test_for_a_hard_complaint_the_retest_alone_proves_the_cure(hard):
    due = viewed(hard, journal([C5])).due
    assert due.before < 1
    assert (due.sofar.cured, due.sofar.overlooked, due.sofar.clean) == (1.0, 0.0, pytest.approx(due.before))


def test_two_fixes_before_one_retest_cure_together(restarts):
    model = restarts.model
    due = viewed(restarts, journal([C5, U2])).due
    missed = np.prod([1 - fix.cure_probabilities for fix in model.fixes[:2]], axis=0)
    assert due.before == pytest.approx(1 - model.fault_probabilities @ missed)


def test_suspects_are_the_strongest_of_the_whole_job_not_of_the_moment(hard):
    view = viewed(hard, journal([FUSE, OHMS]))
    highest = {f: max(row.shares[k] for row in view.history) for k, f in enumerate(view.suspects)}
    assert sorted(highest, key=lambda fault: -highest[fault]) == list(view.suspects)
