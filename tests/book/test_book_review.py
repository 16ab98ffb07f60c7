"""Rules that doubt a sound book: each hits where it should and nowhere else."""

from pathlib import Path

import pytest
from scipy import integrate, stats
from sorrel import changed

from benchlore.book import Density, density_of, read_book, review
from benchlore.book.review import RULES, SLOW_RULES
from benchlore.book.review.likeness import density_overlap
from benchlore.notation import Severity
from benchlore.units import Measure, parse_span


def test_the_sample_is_above_all_doubt(reviewed):
    assert reviewed() == []


def test_a_book_that_cannot_be_read_has_its_reading_problems_only(sample):
    read = read_book(sample.replace("reads: valve", "reads: vlave"))
    assert review(read) == read.problems


def test_rules_have_names_and_say_what_they_do():
    names = [rule.__name__ for rule in (*RULES, *SLOW_RULES)]
    assert len(set(names)) == len(names)
    assert all(rule.__doc__ for rule in (*RULES, *SLOW_RULES))


def test_findings_come_by_line(sample):
    found = review(
        read_book(changed(("takes: 9 min", "takes: 0 min"), ("licence: CC-BY-SA-4.0", "licence: none")))
    )
    assert [problem.rule for problem in found] == ["licence-unknown", "takes-no-time"]


VALVE = "causes: {valve: {stuck: 99 %}}"
OPEN = ("{takes: 5 min}", "{takes: 5 min, how: Unplug the battery., cautions: [lithium]}")
LISTEN = "how: Put an ear to the case."


# A rule's name, its severity, its words, and the changes to the sample after which it speaks.
HITS = [
    ("tells-nothing", "warning", "check 'listen' tells nothing: it shows the same in every state of 'hum'", [("quiet: {silence: 9 of 10}", "quiet: like humming")]),
    ("tells-nothing", "warning", "check 'valve-ohms' tells nothing: it shows the same in every state of 'valve'", [("stuck: above 1 Mohm", "stuck: like normal")]),
    ("tells-nothing", "warning", "check 'listen' tells nothing: it reads 'hum', which no fault changes", [(", hum: {humming: usually}", "")]),
    ("fault-invisible", "warning", "no check can see fault 'l2-coil'", [(VALVE, "notes: Leaks.")]),
    ("fault-invisible", "warning", "no check can see fault 'l2-coil'", [("stuck: above 1 Mohm", "stuck: like normal")]),
    ("readings-overlap", "warning", "check 'rail-volts' cannot decide between 'normal' and 'missing': their readings overlap by 64 %", [("missing: below 0.5 V", "missing: 4.92 V ± 4 %")]),
    ("faults-alike", "warning", "no check tells 'c3-short' and 'l2-coil' apart; add a check that only one of them changes", [(VALVE, "causes: {rail: {shorted: 97 %}}")]),
    ("faults-alike", "warning", "hardly any check tells (on 7 % of boards at most) 'c3-short' and 'l2-coil' apart", [(VALVE, "causes: {rail: {shorted: 90 %}}")]),
    ("faults-alike", "note", "the same fixes cure them, so nothing is lost", [(VALVE, "causes: {rail: {shorted: 97 %}}"), ("cures: {c3-short: 96 %}", "cures: {c3-short: 96 %, l2-coil: 9 %}"), ("cures: {l2-coil: 95 %}", "cures: {l2-coil: 95 %, c3-short: 9 %}")]),
    ("fault-without-fix", "warning", "no fix cures fault 'l2-coil'", [("cures: {l2-coil: 95 %}", "cures: {c3-short: 95 %}")]),
    ("fault-without-fix", "warning", "no fix cures fault 'l2-coil'", [("cures: {l2-coil: 95 %}", "cures: {l2-coil: 0 %}")]),
    ("cures-nothing", "warning", "fix 'replace-l2' cures nothing", [("cures: {l2-coil: 95 %}", "cures: {}")]),
    ("condition-unread", "warning", "no check reads condition 'valve'", [("reads: valve", "reads: rail"), ("{normal: 40 ohm ± 10 %, stuck: above 1 Mohm}", "{normal: 40 ohm ± 10 %, shorted: below 1 ohm, missing: like normal}")]),
    ("fault-never-seen", "note", "fault 'l2-coil' was seen under no complaint", [(", l2-coil: 11", "")]),
    ("nothing-seen", "note", "complaint 'no-flow' does not say which faults your boards had", [("    seen: {boards: 30, faults: {c3-short: 9, u4-dead: 6, l2-coil: 11}}\n", "")]),
    ("unused", "note", "nothing needs setup 'dry'", [("  shield-off:", "  dry: {takes: 1 h}\n  shield-off:")]),
    ("unused", "note", "nothing needs 'leak-jig'", [("needs: [leak-jig]", "needs: []")]),
    ("standard-anyway", "note", "'esr-meter' is in the standard list", [("leak-jig:", "esr-meter:"), ("[leak-jig]", "[esr-meter]")]),
    ("licence-unknown", "warning", "the licence 'CC-BY-SA' is no usual SPDX identifier; did you mean 'CC-BY-SA-4.0'?", [("CC-BY-SA-4.0", "CC-BY-SA")]),
    ("role-unknown", "warning", "'brewing' is none of the 14 roles of CRediT, in full or in short", [("roles: [investigation]", "roles: [brewing]")]),
    ("names-clash", "warning", "'5 v' means 'rail-ohms' and 'rail-volts'", [("reads: rail\n    how", "reads: rail\n    also: [5 V]\n    how"), ("reads: rail\n    only", "reads: rail\n    also: [5-v]\n    only")]),
    ("mains-without-caution", "error", "check 'listen' speaks of 'mains' and has no caution; add 'cautions: [mains]'", [(LISTEN, "how: Switch the mains on.")]),
    ("mains-without-caution", "error", "speaks of '230 V'", [(LISTEN, "how: Measure 230 V at J1.")]),
    ("mains-without-caution", "error", "speaks of '120 V AC'", [(LISTEN, "how: Measure 120 V AC at J1.")]),
    ("mains-without-caution", "error", "fix 'replace-l2' needs 'isolating-transformer'", [("[leak-jig]", "[leak-jig, isolating-transformer]")]),
    ("mains-without-caution", "error", "the retest of 'no-flow' speaks of 'Mains'", [("Open the tap.", "Mains on.")]),
    ("lithium-without-caution", "error", "check 'listen' speaks of 'battery' and has no caution; add 'cautions: [lithium]'", [(LISTEN, "how: Measure across the battery.")]),
    ("lithium-without-caution", "error", "speaks of 'battery'", [(LISTEN, "how: Unplug the battery and listen.")]),
    ("lithium-without-caution", "error", "speaks of 'Li-ion'", [(LISTEN, "how: Lift the Li-ion pack.")]),
    ("lithium-without-caution", "error", "speaks of 'cell'", [("at: the case", "at: plus of the cell")]),
    ("lithium-without-caution", "error", "speaks of 'Akku'", [(LISTEN, "how: Akku messen.")]),
    ("lithium-without-caution", "error", "needs 'spot-welder'", [("[leak-jig]", "[leak-jig, spot-welder]")]),
    ("hot-air-without-caution", "warning", "fix 'replace-l2' needs 'hot-air'", [("[leak-jig]", "[leak-jig, hot-air]")]),
    ("hot-air-without-caution", "warning", "speaks of 'Hot air'", [("Pull the old one off.", "Hot air 340 °C.")]),
    ("solvent-without-caution", "warning", "speaks of 'isopropyl'", [("Pull the old one off.", "Wash with isopropyl alcohol.")]),
    ("solvent-without-caution", "warning", "speaks of 'IPA'", [("Pull the old one off.", "Wash with IPA.")]),
    ("light-without-caution", "warning", "needs 'uv-lamp'", [("[leak-jig]", "[leak-jig, uv-lamp]")]),
    ("light-without-caution", "warning", "speaks of 'UV lamp'", [("Pull the old one off.", "Cure under the UV lamp.")]),
    ("no-place-to-probe", "warning", "check 'valve-ohms' measures resistance and does not say where", [("how: Both leads on J2.", "how: Measure it."), ("at: connector J2", "at: the valve")]),
    ("only-after-circle", "error", "'rail-ohms' and 'rail-volts' wait for each other and can never be done", [("reads: rail\n    how", "reads: rail\n    only after: rail-volts\n    how")]),
    ("only-after-circle", "error", "'rail-ohms' waits for itself and can never be done", [("reads: rail\n    how", "reads: rail\n    only after: rail-ohms\n    how")]),
    ("only-after-never-met", "error", "waits for 'rail-ohms: shorted' and for 'rail-ohms: not shorted', which cannot both be", [("{rail-ohms: not shorted}", "[{rail-ohms: shorted}, {rail-ohms: not shorted}]")]),
    ("only-after-never-met", "error", "waits for 'rail-ohms: normal' and for 'rail-ohms: shorted', which cannot both be", [("{rail-ohms: not shorted}", "[{rail-ohms: normal}, {rail-ohms: shorted}]")]),
    ("only-after-never-met", "error", "waits for 'listen: click', which no state ever gives", [("results: [hum, silence]", "results: [hum, silence, click]"), ("humming: {hum: 95 %}", "humming: {hum: 95 %, silence: 5 %, click: 0 %}"), ("{silence: 9 of 10}", "{silence: 90 %, hum: 10 %}"), ("{rail-ohms: not shorted}", "{rail-ohms: not shorted, listen: click}")]),
    ("only-after-cannot-tell", "warning", "check 'rail-volts' waits for 'missing', but 'rail-ohms' shows that like 'normal'", [("{rail-ohms: not shorted}", "{rail-ohms: not missing}")]),
    ("powered-before-resistance", "warning", "check 'rail-volts' puts power on 'rail', which may be shorted; add 'only after: {rail-ohms: not shorted}'", [("    only after: {rail-ohms: not shorted}\n", "")]),
    ("powered-before-resistance", "warning", "add a check of its resistance ('reads: valve')", [("[normal, stuck]", "[normal, shorted]"), ("stuck: 99 %", "shorted: 99 %"), ("Both leads on J2.\n    measures: resistance", "Both leads on J2.\n    measures: voltage"), ("normal: 40 ohm ± 10 %, stuck: above 1 Mohm", "normal: 3 V ± 10 %, shorted: below 1 V")]),
    ("takes-no-time", "warning", "fix 'replace-l2' takes no time at all", [("takes: 9 min", "takes: 0 min")]),
    ("takes-too-long", "warning", "8 d at work are more than a week day and night; is the unit right?", [("takes: 9 min", "takes: 8 d")]),
    ("takes-too-long", "warning", "8 d at work are more than a week", [("takes: 2 min}", "takes: 8 d}")]),
    ("takes-too-long", "warning", "8 d at work are more than a week", [("{takes: 5 min}", "{takes: 8 d}")]),
    ("soak-too-short", "warning", "after this retest 92 % of the boards that are not cured go home unnoticed; a soak of 1 h 15 min catches 95 of 100", [("title: No water", "title: No water\n    intermittent: 25 min")]),
    ("rhythm-unused", "warning", "fault 'l2-coil' says 'about every', but no complaint is intermittent", [(VALVE, VALVE + ", about every: 5 min")]),
    ("long-text", "note", "this is 1,600 characters long; a bench takes in 1,500 at most: make it several steps", [(LISTEN, "how: " + "x" * 1600)]),
    ("long-text", "note", "this is 90 characters long; a bench takes in 80 at most: shorten it", [("title: No water", "title: " + "x" * 90)]),
]  # fmt: skip


@pytest.mark.parametrize(("rule", "severity", "message", "changes"), HITS)
def test_a_rule_hits(rule, severity, message, changes):
    found = review(read_book(changed(*changes), name="sorrel-p2"))
    hits = [problem for problem in found if problem.rule == rule and message in problem.message]
    assert hits, [str(problem) for problem in found]
    assert hits[0].severity is Severity(severity)
    assert hits[0].position is not None


# A rule's name, and changes after which it still says nothing.
MISSES = [
    ("tells-nothing", [("stuck: above 1 Mohm", "stuck: 42 ohm ± 10 %")]),
    ("readings-overlap", [("missing: below 0.5 V", "missing: like normal")]),
    ("faults-alike", [(VALVE, "causes: {rail: {shorted: 97 %}, valve: {stuck: 60 %}}")]),
    ("faults-alike", [(VALVE, "notes: Leaks."), ("causes: {rail: {missing: 90 %}, hum: {humming: usually}}", "notes: Leaks too.")]),
    ("fault-never-seen", [("    seen: {boards: 30, faults: {c3-short: 9, u4-dead: 6, l2-coil: 11}}\n", "")]),
    ("names-clash", [("reads: rail\n    how", "reads: rail\n    also: [5 V, 5-v]\n    how")]),
    ("mains-without-caution", [(LISTEN, "how: Switch the mains on.\n    cautions: [mains]")]),
    ("mains-without-caution", [(LISTEN, "how: What remains of the domain is the main rail. Plug in the mains adapter.")]),
    ("mains-without-caution", [(LISTEN, "how: Measure 240 V DC; or 110 V at the boost output.")]),
    ("lithium-without-caution", [(LISTEN, "how: Measure across the battery.\n    cautions: [lithium]")]),
    ("lithium-without-caution", [(LISTEN, "how: Battery unplugged. Put an ear to the battery connector.")]),
    ("lithium-without-caution", [(LISTEN, "how: Without the battery.")]),
    ("lithium-without-caution", [(LISTEN, "how: Battery is still unplugged.")]),
    ("lithium-without-caution", [(LISTEN, "how: Note the battery level on the screen, with a battery-powered scope.")]),
    ("lithium-without-caution", [(LISTEN, "how: Cover the solar cell and the memory cells. Ask for the cell phone.")]),
    ("lithium-without-caution", [(LISTEN, "how: Change the alkaline battery.")]),
    ("lithium-without-caution", [OPEN, (LISTEN, "how: Board off, the battery beside it.\n    needs: [shield-off]")]),
    ("lithium-without-caution", [("Open the tap.", "Battery in. Lid shut.")]),
    ("hot-air-without-caution", [("[leak-jig]", "[leak-jig, hot-air], cautions: [hot air]")]),
    ("hot-air-without-caution", [("Pull the old one off.", "Use no hot air. Hot air melts the valve.")]),
    ("solvent-without-caution", [("Pull the old one off.", "Wash with alcohol., cautions: [solvent]")]),
    ("solvent-without-caution", [("Pull the old one off.", "An alcohol-free wipe.")]),
    ("light-without-caution", [("Pull the old one off.", "Mind UVLO and the laser-etched mark.")]),
    ("no-place-to-probe", [("how: Both leads on J2.", "how: Measure it.")]),
    ("no-place-to-probe", [("at: connector J2", "at: the valve")]),
    ("no-place-to-probe", [("how: Both leads on J2.", "how: Both leads on the valve's terminals."), ("at: connector J2", "at: the valve")]),
    ("only-after-never-met", [("{rail-ohms: not shorted}", "[{rail-ohms: not shorted}, {rail-ohms: not missing}]")]),
    ("powered-before-resistance", [("    only after: {rail-ohms: not shorted}\n", "    only after: listen\n"), (LISTEN, LISTEN + "\n    only after: rail-ohms")]),
    ("takes-too-long", [("takes: 9 min", "takes: 7 d, waits: 30 d")]),
    ("takes-no-time", [("takes: 9 min", "takes: 0 min, waits: 5 min")]),
    ("soak-too-short", [("takes: 2 min}", "takes: 2 min, soak: 75 min}"), ("title: No water", "title: No water\n    intermittent: 25 min")]),
    ("rhythm-unused", [(VALVE, VALVE + ", about every: 5 min"), ("title: No water", "title: No water\n    intermittent: 25 min")]),
]  # fmt: skip


@pytest.mark.parametrize(("rule", "changes"), MISSES)
def test_a_rule_does_not_cry_wolf(rule, changes):
    read = read_book(changed(*changes), name="sorrel-p2")
    assert read.book is not None, read.problems
    assert [str(problem) for problem in review(read) if problem.rule == rule] == []


def test_pictures_are_looked_for_only_in_a_given_folder(tmp_path):
    read = read_book(changed(("how: Both leads on J2.", "how: Both leads on J2.\n    picture: top.svg")))
    assert review(read) == ()
    (tmp_path / "topp.svg").write_text("<svg/>")
    (problem,) = review(read, folder=tmp_path)
    assert problem.message == "the picture 'top.svg' is not in the book's folder; did you mean 'topp.svg'?"
    (tmp_path / "top.svg").write_text("<svg/>")
    assert review(read, folder=tmp_path) == ()


def test_a_folder_that_is_not_there_holds_no_pictures():
    read = read_book(changed(("how: Both leads on J2.", "how: Both leads on J2.\n    picture: top.svg")))
    (problem,) = review(read, folder=Path("/nowhere"))
    assert "put it beside the book" in problem.message


def test_a_book_without_checks_or_fixes_is_doubted():
    text = "book: 1\nboard: {name: A, device: B}\nlicence: MIT\nfaults: {x: {}}\ncomplaints: {y: {retest: {takes: 1 min}}}"
    read = read_book(text)
    assert read.problems == ()
    assert {problem.rule for problem in review(read)} >= {
        "nothing-to-do",
        "fault-without-fix",
        "fault-invisible",
    }


@pytest.mark.parametrize(
    ("measure", "first", "second"),
    [
        (Measure.VOLTAGE, "3.85 V ± 2 %", "3.4 V ± 6 %"),
        (Measure.VOLTAGE, "3.3 V ± 10 %", "3.1 V ± 4 %"),
        (Measure.RESISTANCE, "4.2 kohm ± 25 %", "below 5 kohm"),
        (Measure.RESISTANCE, "10 to 20 ohm", "15 to 18 ohm"),
        (Measure.RESISTANCE, "above 1 Mohm", "OL"),
    ],
)
def test_the_overlap_is_the_integral_of_the_smaller_density(measure, first, second):
    # Definition of the overlapping coefficient, integrated numerically with scipy.
    one, other = (density_of(parse_span(text, measure), measure) for text in (first, second))
    low = min(one.mean - 9 * one.sd, other.mean - 9 * other.sd)
    high = max(one.mean + 9 * one.sd, other.mean + 9 * other.sd)

    def smaller(x):
        return min(stats.norm.pdf(x, one.mean, one.sd), stats.norm.pdf(x, other.mean, other.sd))

    points = [
        one.mean,
        other.mean,
        one.mean - one.sd,
        one.mean + one.sd,
        other.mean - other.sd,
        other.mean + other.sd,
    ]
    integral = integrate.quad(smaller, low, high, points=points, limit=500)[0]
    exact = integral * (1 - max(one.over, other.over)) + min(one.over, other.over)
    assert density_overlap(one, other) == pytest.approx(exact, abs=1e-6)


def test_the_overlap_of_two_equal_normals_one_sd_apart():
    # 2 Φ(−|d| / 2), d = 1: 0.6171 (Inman and Bradley, Communications in Statistics 18, 1989, equal variances).
    one, other = (
        Density(log=False, mean=0.0, sd=1.0, over=0.0),
        Density(log=False, mean=1.0, sd=1.0, over=0.0),
    )
    assert density_overlap(one, other) == pytest.approx(2 * stats.norm.cdf(-0.5))
