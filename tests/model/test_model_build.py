from math import exp, log

import numpy as np
import pytest

from benchlore.book import density_of, read_book
from benchlore.model import UnknownComplaintError, build, unseen_boards
from benchlore.model.rows import kept_inside, stated_row, untouched_row
from benchlore.units import Chance, Measure, parse_span

TEXT = """
book: 1
board: {name: Halden T4 main board, device: Halden T4 warehouse tablet}
licence: CC-BY-SA-4.0
currency: EUR
people: {ines: {name: Ines Okafor}}
setups:
  case-open:   {title: Case open, takes: 6 min}
  shield-off:  {takes: 9 min, after: case-open, needs: [hot-air], ruins: 0.5 %, cautions: [hot air]}
  bench-power: {takes: 2 min, after: shield-off, needs: [bench-supply], cautions: [lithium]}
conditions:
  vsys:     {at: "VSYS, east pad of C1201", states: [normal, shorted, sagging], by chance: 4 %}
  watchdog: {at: restart interval, states: [irregular, fixed]}
checks:
  vsys-ohms:
    reads: vsys
    how: Board off. Black lead on shield, red lead on the east pad of C1201.
    measures: resistance
    takes: 2 min
    needs: [case-open, multimeter]
    shows: {normal: 4.2 kohm ± 25 %, shorted: below 12 ohm, sagging: like normal}
  vsys-volts:
    reads: vsys
    only after: {vsys-ohms: not shorted}
    how: Red lead on the east pad of C1201, bench supply at 3.85 V.
    measures: voltage
    takes: 3 min
    waits: 1 min
    needs: [bench-power, multimeter]
    cautions: [lithium]
    shows: {normal: 3.85 V ± 2 %, sagging: 3.4 V ± 6 %, shorted: below 0.2 V}
  interval:
    reads: watchdog
    how: Read the restart log.
    results: [even, uneven]
    takes: 1 min
    shows: {fixed: {even: 29 of 30}, irregular: {even: 6 %}}
  bench-look:
    reads: watchdog
    only after: {interval: uneven}
    how: Watch it.
    results: [even, uneven]
    takes: 1 min
    shows: {fixed: {even: 100 %}, irregular: {even: 0 %}}
faults:
  joint: {title: Cracked joint, causes: {vsys: {sagging: 85 %}}, about every: 12 min}
  short: {title: Shorted capacitor, causes: {vsys: {shorted: 19 of 20}}}
  sense: {title: Broken sense via, causes: {watchdog: {fixed: 70 %}}}
fixes:
  reflow:
    title: Reflow
    cures: {joint: 92 %, sense: 3 of 4}
    how: Hot air.
    takes: 14 min
    waits: 8 min
    needs: [shield-off, hot-air]
    ruins: 1 %
    cautions: [hot air]
    only after: [vsys-ohms]
    parts: [{title: Inductor, price: 0.90}, {title: Foil, price: 0.20}]
complaints:
  restarts:
    title: Restarts by itself
    intermittent: {about every: 25 min}
    retest: {how: Run the stress pattern., takes: 3 min, soak: 60 min}
    worth: 180
    seen: {boards: 60, faults: {joint: 19, sense: 8}, weight: 0.5}
  dead:
    title: Does not start
    retest: {how: Press the key., takes: 1 min}
"""


@pytest.fixture(scope="module")
def book():
    read = read_book(TEXT, name="halden-t4")
    assert read.book is not None, [str(problem) for problem in read.problems]
    return read.book


@pytest.fixture(scope="module")
def model(book):
    return build(book, "restarts")


def row(model, condition, fault):
    place = [c.name for c in model.conditions].index(condition)
    return model.states[place][model.faults.index(fault)]


def check(model, name):
    return next(one for one in model.checks if one.name == name)


def test_faults_are_the_books_in_order_and_unlisted_last(model):
    assert model.faults == ("joint", "short", "sense", "unlisted")
    assert model.title == "Halden T4 main board: Restarts by itself"


def test_boards_seen_are_prior_counts_times_their_weight(model):
    # 33 of 60 boards stayed unexplained, and no fault was seen once: half a board is still unseen
    np.testing.assert_allclose(model.prior, [9.5, 0, 4, 0.5 * (33 + unseen_boards([19, 8]))])


def test_a_fault_not_seen_with_the_complaint_has_no_prior(model):
    assert model.fault_probabilities[1] == 0


def test_nobody_has_counted_the_boards_of_a_complaint(book):
    np.testing.assert_allclose(build(book, "dead").prior, [1, 1, 1, 0.5])


def test_a_chance_has_ten_boards_behind_it_and_its_rest_goes_to_normal(model):
    # nothing is left for "shorted", but a book's probabilities stay two in a thousand from zero
    expected = np.array([0.15, 0.002, 0.85]) / 1.002
    np.testing.assert_allclose(row(model, "vsys", "joint"), 10 * expected)


def test_counted_boards_stand_behind_their_row(model):
    np.testing.assert_allclose(row(model, "vsys", "short"), 20 * np.array([0.05, 0.95, 0.002]) / 1.002)


def test_the_strength_of_a_bare_chance_can_be_chosen(book):
    assert build(book, "restarts", strength=4.0).states[0][0].sum() == pytest.approx(4)


def test_what_a_fault_does_not_cause_happens_by_chance(model):
    np.testing.assert_allclose(row(model, "vsys", "sense"), [9.6, 0.2, 0.2])


def test_the_rest_is_shared_where_no_state_is_normal(model):
    np.testing.assert_allclose(row(model, "watchdog", "sense"), [3, 7])


def test_an_unlisted_fault_looks_half_like_the_others_and_half_like_anything(book, model):
    # what the others look like is weighed by the mean prior of all complaints of the board
    restarts, dead = np.array([19, 0, 8]) / 27 * (13.5 / model.prior.sum()), np.array([1, 1, 1]) / 3.5
    weights = (restarts + dead) / (restarts + dead).sum()
    rows = np.array([row(model, "vsys", fault) for fault in model.faults[:3]])
    mean = weights @ (rows / rows.sum(axis=1, keepdims=True))
    np.testing.assert_allclose(row(model, "vsys", "unlisted"), 2 * (mean / 2 + 1 / 6))


def test_the_complaints_of_a_board_share_every_array_but_the_prior(book, model):
    other = build(book, "dead")
    for mine, theirs in zip(model.states, other.states, strict=True):
        np.testing.assert_array_equal(mine, theirs)
    for mine, theirs in zip(model.checks, other.checks, strict=True):
        np.testing.assert_array_equal(mine.counts, theirs.counts)
        assert mine.results == theirs.results
    for mine, theirs in zip(model.fixes, other.fixes, strict=True):
        np.testing.assert_array_equal(mine.cures, theirs.cures)


def test_named_results_have_the_books_chances(model):
    np.testing.assert_allclose(check(model, "interval").counts, [[0.6, 9.4], [29, 1]])


def test_a_hundred_per_cent_can_be_unlearned(model):
    np.testing.assert_allclose(check(model, "bench-look").probabilities, [[0.002, 0.998], [0.998, 0.002]])


def test_a_numeric_check_expects_what_the_spans_say(model):
    d = check(model, "vsys-ohms").densities
    shorted = density_of(parse_span("below 12 ohm", Measure.RESISTANCE), Measure.RESISTANCE)
    assert d.log_normal
    assert d.mean[1] == pytest.approx(shorted.mean)
    assert d.mean[0] == d.mean[2] == pytest.approx((log(4200 * 0.75) + log(4200 * 1.25)) / 2)
    np.testing.assert_allclose(d.kappa, 10)
    np.testing.assert_allclose(2 * d.shape, 10)
    assert d.scale[1] / d.shape[1] == pytest.approx(shorted.sd**2)
    np.testing.assert_allclose(d.over[1], [10 * (1 - shorted.over), 10 * shorted.over])


def test_bands_are_named_and_counted(model):
    ohms = check(model, "vsys-ohms")
    assert ohms.results[0].startswith("below")
    assert ohms.results[-1] == "OL"
    assert ohms.has_over_range
    np.testing.assert_allclose(ohms.counts.sum(axis=1), 10)


def test_powered_readings_wait_until_a_short_is_ruled_out(model):
    (gate,) = check(model, "vsys-volts").gates
    ohms = model.checks[gate.check]
    assert ohms.name == "vsys-ohms"
    assert [ohms.results[r] for r in gate.results] == [
        name for name in ohms.results if name.startswith("above")
    ]
    assert (gate.state, gate.negated) == (1, True)


def test_a_gate_may_name_a_result(model):
    (gate,) = check(model, "bench-look").gates
    assert (gate.results, gate.state) == ((1,), None)


def test_a_gate_may_ask_for_any_reading(model):
    (gate,) = model.fixes[0].gates
    assert gate.results == tuple(range(len(model.checks[gate.check].results)))


def test_work_names_all_setups_in_the_order_in_which_to_make_them(model):
    work = check(model, "vsys-volts").work
    assert [model.setups[k].name for k in work.setups] == ["case-open", "shield-off", "bench-power"]
    assert (work.takes, work.waits, work.equipment) == (3, 1, ("multimeter",))
    assert [model.setups[k].name for k in model.setups[2].work.setups] == ["case-open", "shield-off"]


def test_cures_are_the_books_and_otherwise_impossible(model):
    fix = model.fixes[0]
    np.testing.assert_allclose(fix.cures, [[9.2, 0.8], [0, 10], [3, 1], [0, 10]])
    assert (fix.cure_probabilities[[1, 3]] == 0).all()


def test_parts_are_added_up(model):
    assert model.fixes[0].parts == pytest.approx(1.1)


def test_an_intermittent_complaint_shows_within_the_soak_or_not(model):
    # a Poisson process of one event in T minutes shows in t minutes with 1 - exp(-t/T); t is retest and soak
    np.testing.assert_allclose(model.detects, 1 - np.exp(-63 / np.array([12, 25, 25, 25])))
    assert (model.retest.takes, model.retest.waits) == (3, 60)
    np.testing.assert_array_equal(model.every, [12, 25, 25, 25])


def test_a_hard_complaint_always_shows(book):
    np.testing.assert_array_equal(build(book, "dead").detects, 1.0)
    np.testing.assert_array_equal(build(book, "dead").every, 0.0)


def test_worth_and_currency_are_the_books(book, model):
    assert (model.worth, model.currency) == (180, "EUR")
    assert build(book, "dead").worth is None


def test_an_unknown_complaint_is_named_with_the_known_ones(book):
    with pytest.raises(
        UnknownComplaintError, match="board 'halden-t4' has no complaint 'hums'; it has restarts, dead"
    ):
        build(book, "hums")


def test_every_array_is_read_only(model):
    for array in (model.prior, *model.states, model.detects, *(one.counts for one in model.checks)):
        assert not array.flags.writeable


def test_the_smallest_number_of_boards_stands_behind_a_row_of_several():
    chances = {"a": Chance(0.5, 40), "b": Chance(0.2, 20)}
    np.testing.assert_allclose(stated_row(["a", "b", "c"], chances, 10.0), [10, 4, 6])


def test_a_row_that_says_more_than_everything_is_scaled():
    np.testing.assert_allclose(stated_row(["a", "b"], {"a": Chance(0.9), "b": Chance(0.9)}, 10.0), [5, 5])


def test_one_state_is_certain():
    np.testing.assert_array_equal(untouched_row(1, 0.02, 10.0), [10])


def test_probabilities_are_kept_from_zero_and_one():
    np.testing.assert_allclose(kept_inside(np.array([1.0, 0.0])), [0.998, 0.002])
    assert exp(log(0.998)) < 1
