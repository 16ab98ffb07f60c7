"""From a book's text to values, and every mistake named."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sorrel import SAMPLE, changed

from benchlore.book import (
    Board,
    Condition,
    Gate,
    Hazard,
    Part,
    Person,
    Picture,
    Seen,
    Wire,
    Work,
    read_book,
    review,
)
from benchlore.notation import Position, Severity
from benchlore.units import Chance, Measure, Span


def test_a_sound_book_has_no_problems_and_its_header(book):
    sorrel = book()
    assert sorrel.board == Board("sorrel-p2", "Sorrel P2 main board", "Sorrel P2 pump controller", "C")
    assert (sorrel.licence, sorrel.currency) == ("CC-BY-SA-4.0", "EUR")
    assert sorrel.people == {"ada": Person("ada", "Ada Quill", ("investigation",))}


def test_without_a_name_one_is_made_of_the_title(sample):
    read = read_book(sample)
    assert read.book is not None
    assert read.book.board.name == "sorrel-p2-main-board"


def test_needs_are_split_into_setups_in_making_order_and_equipment(book):
    work = book().checks["rail-volts"].work
    assert work == Work(3.0, setups=("case-open", "shield-off"), equipment=("multimeter", "bench-supply"))


def test_a_setups_own_needs_and_after_come_before_it(book):
    setups = book(("  shield-off:", "  dry: {takes: 1 h, needs: [shield-off]}\n  shield-off:")).setups
    assert setups["shield-off"].work == Work(4.0, ruins=0.005, setups=("case-open",))
    assert setups["dry"].work == Work(60.0, setups=("case-open", "shield-off"))


def test_equipment_is_the_books_own_and_what_it_uses(book):
    assert list(book().equipment) == ["leak-jig", "bench-supply", "multimeter", "soldering-iron"]
    assert book().equipment["leak-jig"] == "Holds the board under water pressure."


def test_normal_is_the_first_state(book):
    condition = book(("[normal, stuck]", "[stuck, normal], by chance: 5 %")).conditions["valve"]
    assert condition == Condition("valve", "valve", "connector J2", ("normal", "stuck"), 0.05)


def test_spans_are_read_in_the_checks_measure_and_like_is_resolved(book):
    check = book().checks["rail-ohms"]
    assert check.measures is Measure.RESISTANCE
    assert check.spans["missing"] == check.spans["normal"] == Span("around", 1540.0, 2860.0, 2200.0)
    assert check.spans["shorted"] == Span("below", float("-inf"), 15.0)


def test_like_may_be_said_of_like(book):
    shows = book(
        ("shorted: below 15 ohm, missing: like normal", "shorted: like missing, missing: like normal")
    )
    assert len(set(shows.checks["rail-ohms"].spans.values())) == 1


def test_like_works_for_named_results(book):
    chances = book(("quiet: {silence: 9 of 10}", "quiet: like humming")).checks["listen"].chances
    assert chances["quiet"] == chances["humming"]


def test_a_row_is_filled_with_normal_first(book):
    assert book().faults["c3-short"].causes["rail"] == {
        "normal": Chance(pytest.approx(0.03)),
        "shorted": Chance(0.97),
        "missing": Chance(0.0),
    }


def test_a_row_without_normal_is_filled_evenly(book):
    changes = (
        ("[quiet, humming]", "[quiet, humming, howling]"),
        ("quiet: {silence: 9 of 10}", "quiet: {silence: 90 %}, howling: like humming"),
    )
    row = book(*changes, ("{humming: usually}", "{humming: 80 %}")).faults["u4-dead"].causes["hum"]
    assert [row[state].probability for state in ("quiet", "humming", "howling")] == pytest.approx(
        [0.1, 0.8, 0.1]
    )


def test_the_rest_of_a_counted_row_has_the_same_boards_behind_it(book):
    assert book().checks["listen"].chances["quiet"] == {
        "hum": Chance(pytest.approx(0.1), 10.0),
        "silence": Chance(0.9, 10.0),
    }


@pytest.mark.parametrize(
    ("written", "gates"),
    [
        ("{rail-ohms: not shorted}", [Gate("rail-ohms", "shorted", negated=True)]),
        ("{rail-ohms: normal, listen: hum}", [Gate("rail-ohms", "normal"), Gate("listen", "hum")]),
        ("rail-ohms", [Gate("rail-ohms")]),
        ("[rail-ohms, {listen: not hum}]", [Gate("rail-ohms"), Gate("listen", "hum", negated=True)]),
        ("{rail-ohms: }", [Gate("rail-ohms")]),
    ],
)
def test_only_after_can_be_written_in_these_ways(book, written, gates):
    assert list(book(("{rail-ohms: not shorted}", written)).checks["rail-volts"].gates) == gates


def test_fixes_have_parts_wires_and_pictures(book):
    fix = book(
        (
            "how: Pull the old one off.",
            "how: Lay it., picture: top.svg, wire: {from: pad 2, to: TP7, carries: 20 mA, may drop: 5 mV}",
        )
    ).fixes["replace-l2"]
    assert fix.wire == Wire("pad 2", "TP7", 0.02, 0.005)
    assert fix.picture == Picture("top.svg")
    assert book().fixes["replace-c3"].parts == (Part("10 µF", 0.2),)
    assert book(("price: 0.20", "price: 0.20 EUR")).fixes["replace-c3"].parts == (Part("10 µF", 0.2),)


def test_an_intermittent_complaint_soaks(book):
    complaint = book(
        (
            "retest: {how: Open the tap., takes: 2 min}",
            "intermittent: 25 min, \n    retest: {takes: 2 min, soak: 1 h}".replace(", \n", "\n"),
        )
    ).complaints["no-flow"]
    assert (complaint.about_every, complaint.retest) == (25.0, Work(2.0, waits=60.0))
    assert complaint.seen == Seen(30.0, {"c3-short": 9.0, "u4-dead": 6.0, "l2-coil": 11.0})


def test_cautions_forgive_hyphens_and_one_needs_no_list(book):
    assert book(("{takes: 5 min}", "{takes: 5 min, cautions: Hot-Air}")).setups[
        "case-open"
    ].work.cautions == (Hazard.HOT_AIR,)


def test_an_empty_value_is_as_good_as_none(book):
    assert book(("people:\n  ada: {name: Ada Quill, roles: [investigation]}", "people:")).people == {}


MISTAKES = [
    # (old, new, what stands where the problem is placed, message)
    ("reads: valve", "reads: vlave", "reads: vlave", "checks › valve-ohms › reads: no condition 'vlave'; did you mean 'valve'?"),
    ("takes: 12 min", "take: 12 min", "take: 12 min", "fixes › replace-c3: unknown key 'take'; did you mean 'takes'?"),
    (", takes: 12 min", "", "replace-c3: {cures: {c3-short: 96 %", "fixes › replace-c3: 'takes' is missing; add it, such as 'takes: 6 min'"),
    ("takes: 12 min", "takes: 12 mn", "takes: 12 mn", "fixes › replace-c3 › takes: unknown unit 'mn' in '12 mn'; write a duration such as 25 min"),
    ("[case-open, multimeter]", "[case-opn, multimeter]", "case-opn", "checks › rail-ohms › needs › item 1: no setup, instrument or skill 'case-opn'; did you mean 'case-open'?"),
    ("after: case-open", "after: case-opem", "after: case-opem", "setups › shield-off › after › item 1: no setup 'case-opem'; did you mean 'case-open'?"),
    ("{takes: 5 min}", "{takes: 5 min, after: shield-off}", "after: shield-off", "setups › case-open › after: 'case-open' and 'shield-off' wait for each other in a circle; take one 'after' or 'needs' away"),
    ("{takes: 5 min}", "{takes: 5 min, after: case-open}", "after: case-open", "setups › case-open › after: it waits for itself"),
    ("case-open: {takes", "hot-air: {takes", "hot-air: {takes: 5 min", "setups › hot-air: 'hot-air' is an instrument or skill too; give the setup another name"),
    ("shorted: 97 %", "shortd: 97 %", "shortd: 97 %", "faults › c3-short › causes › rail › shortd: no state 'shortd'; did you mean 'shorted'?"),
    ("shorted: 97 %", "shorted: 97", "shorted: 97", "a percentage without its sign in '97'; write 97 %"),
    ("shorted: 97 %", "shorted: 80 %, missing: 40 %", "rail: {shorted: 80 %", "faults › c3-short › causes › rail: this adds up to 120 %; all together can be 100 % at most"),
    ("shorted: 97 %", "shorted: 40 %, missing: 20 %, normal: 10 %", "rail: {shorted: 40 %", "this adds up to 70 % and leaves nothing out; say where the other 30 % go"),
    ("{rail: {missing: 90 %}", "{rial: {missing: 90 %}", "rial: {missing: 90 %", "faults › u4-dead › causes › rial: no condition 'rial'; did you mean 'rail'?"),
    ("{rail: {missing: 90 %}", "{rail: missing", "rail: missing", "faults › u4-dead › causes › rail: names with values are expected here ('name: value'), not 'missing'"),
    ("shorted: below 15 ohm, ", "", "shows: {normal: 2.2 kohm ± 30 %", "checks › rail-ohms › shows: nothing says what 'shorted' shows; add it, or 'shorted: like normal'"),
    ("shorted: below 15 ohm", "shorted: below 15 V", "shorted: below 15 V", "checks › rail-ohms › shows › shorted: 'V' is a unit of voltage, not of resistance"),
    ("shorted: below 15 ohm", "shorted: like shrted", "shorted: like shrted", "no state 'shrted'; did you mean 'shorted'?"),
    ("shorted: below 15 ohm", "shorted: like shorted", "shorted: like shorted", "checks › rail-ohms › shows › shorted: 'shorted' is said to be like itself"),
    ("shorted: below 15 ohm", "shorted: below -15 ohm", "shorted: below -15 ohm", "'below -15 ohm' cannot be: a resistance is more than zero"),
    ("{hum: 95 %}", "{hmm: 95 %}", "hmm: 95 %", "checks › listen › shows › humming › hmm: no result 'hmm'; did you mean 'hum'?"),
    ("{hum: 95 %}", "often", "humming: often", "how often each result shows is expected, such as {hum: 97 %}, not 'often'"),
    ("results: [hum, silence]", "results: [hum]", "results: [hum", "checks › listen › results: at least two results are expected"),
    ("results: [hum, silence]", "results: [hum, silence, hum]", "hum", "the result 'hum' stands twice"),
    ("results: [hum, silence]", "results: [hum, No Noise]", "No Noise", "'No Noise' is no name; use lower-case letters, digits and single hyphens; did you mean 'no-noise'?"),
    ("    results: [hum, silence]\n", "", "listen:", "checks › listen: either 'measures' (a number) or 'results' (named outcomes) is expected, not neither"),
    ("results: [hum, silence]", "results: [hum, silence]\n    measures: time", "listen:", "is expected, not both"),
    ("measures: voltage", "measures: volts", "measures: volts", "checks › rail-volts › measures: no measure 'volts'; write 'resistance', 'voltage', 'current',"),
    ("{rail-ohms: not shorted}", "{rail-ohm: not shorted}", "rail-ohm: not shorted", "checks › rail-volts › only after › rail-ohm: no check 'rail-ohm'; did you mean 'rail-ohms'?"),
    ("{rail-ohms: not shorted}", "{rail-ohms: not shored}", "rail-ohms: not shored", "no state or result of 'rail-ohms': 'shored'; did you mean 'shorted'?"),
    ("cures: {c3-short", "cures: {c3-shrot", "c3-shrot: 96 %", "fixes › replace-c3 › cures › c3-shrot: no fault 'c3-shrot'; did you mean 'c3-short'?"),
    ("price: 0.20", "price: 0.20 USD", "price: 0.20 USD", "fixes › replace-c3 › parts › item 1 › price: prices of this book are in EUR, not USD"),
    ("price: 0.20", "price: cheap", "price: cheap", "'cheap' is no amount; write it as 48, 48.50 or 48 EUR"),
    ("currency: EUR\n", "", "price: 0.20", "a price needs a currency; add 'currency: EUR'"),
    ("currency: EUR", "currency: Euro", "currency: Euro", "currency: 'Euro' is no currency; write its three-letter code, such as EUR"),
    ("l2-coil: {causes", "unlisted: {causes", "unlisted: {causes: {valve: {stuck: 99 %", "faults › unlisted: 'unlisted' stands for every fault that the book does not know; take another name"),
    ("l2-coil: 11}", "unlisted: 11}", "unlisted: 11", "boards beyond the sum of the other faults are unlisted by themselves; leave this out"),
    ("l2-coil: 11}", "l2-coil: 110}", "faults: {c3-short: 9", "the faults add up to 125, more than the 30 boards that were seen"),
    ("boards: 30", "boards: many", "boards: many", "complaints › no-flow › seen › boards: 'many' is no number"),
    ("book: 1", "book: 2", "book: 2", "book: this reads format 1; write 'book: 1'"),
    ("licence: CC-BY-SA-4.0\n", "", "book: 1", "'licence' is missing; add it, such as 'licence: CC-BY-SA-4.0'"),
    ("{name: Ada Quill, roles: [investigation]}", "{name: Ada Quill, orcid: 0000-0002-1825-0098}", "orcid: 0000-0002-1825-0098", "its check digit is wrong"),
    ("{name: Ada Quill, roles: [investigation]}", "Ada Quill", "ada: Ada Quill", "people › ada: names with values are expected here ('name: value'), not 'Ada Quill'"),
    ("how: Put an ear to the case.", "how:", "how:", "checks › listen: 'how' is missing; add it"),
    ("how: Put an ear to the case.", "how: [a, b]", "how: [a", "checks › listen › how: a text is expected, not a list"),
    ("how: Put an ear to the case.", "how: {a: b}", "how: {a: b", "a text is expected, not '{a: b}'; put it in quotes"),
    ("how: Open the tap.,", "how: Open the tap, then wait.,", "then wait.", "complaints › no-flow › retest: unknown key 'then wait.'; a text with a comma in it needs quotes"),
    ("takes: 2 min}", "takes: 2 min, soak: 1 h, waits: 1 h}", "waits: 1 h", "'soak' and 'waits' mean the same here; write one of them"),
    ("title: No water", "title: No water\n    intermittent: {about every: 0 min}", "about every: 0 min", "events are some time apart; write more than 0 min"),
    ("  valve-ohms:", "  Valve Ohms:", "Valve Ohms:", "checks › Valve Ohms: 'Valve Ohms' is no name; use lower-case letters, digits and single hyphens; did you mean 'valve-ohms'?"),
    ("how: Both leads on J2.", "how: Both leads on J2.\n    picture: ../x.svg", "picture: ../x.svg", "'../x.svg' is no file in the book's folder"),
    ("how: Both leads on J2.", "how: Both leads on J2.\n    picture: {file: x.svg, at: [1]}", "at: [1", "a place is two numbers"),
    ("how: Both leads on J2.", "how: Both leads on J2.\n    picture: x.pdf", "picture: x.pdf", "'x.pdf' is no picture that can be shown"),
    ("how: Both leads on J2.", "how: Both leads on J2.\n    cautions: [hotair]", "hotair", "no caution 'hotair'; did you mean 'hot air'?"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "at", "message"), MISTAKES)
def test_a_mistake_is_placed_and_explained(told, old, new, at, message):
    lines = changed((old, new)).splitlines()
    for problem in read_book("\n".join(lines)).problems:
        if message in problem.message and problem.position:
            assert lines[problem.position.line - 1][problem.position.column - 1 :].startswith(at)
            return
    pytest.fail(f"{message!r} is not among {told((old, new))}")


def test_a_mistake_makes_no_others(told):
    assert len(told(("states: [normal, stuck]", "states: [normal, stuck, Broken!]"))) == 1
    assert (
        len(
            told(
                (
                    "takes: 2 min\n    needs: [case-open, multimeter]",
                    "takes: 2 mn\n    needs: [case-open, multimeter]",
                )
            )
        )
        == 1
    )


def test_all_mistakes_are_told_at_once_and_by_line(told):
    found = told(
        ("licence: CC-BY-SA-4.0", "license: x"),
        ("reads: valve", "reads: vlave"),
        ("takes: 9 min", "takes: soon"),
        ("boards: 30", "boards: 3"),
    )
    lines = [int(line.split(":")[1]) for line in found]
    assert len(found) == 4
    assert lines == sorted(lines)


def test_a_book_with_an_error_has_no_values_but_its_positions(sample):
    read = read_book(sample.replace("reads: valve", "reads: vlave"))
    assert read.book is None
    assert read.positions.of(("checks", "valve-ohms", "reads")) == Position(33, 5)
    assert [problem.severity for problem in read.problems] == [Severity.ERROR]


@pytest.mark.parametrize("text", ["", "# nothing", "just a text", "[1, 2]"])
def test_what_is_no_book_is_told_so(text):
    (problem,) = read_book(text).problems
    assert "this is no fault book; it begins with 'book: 1'" in problem.message


def test_faults_and_complaints_are_wanted():
    found = " ".join(
        str(problem) for problem in read_book("book: 1\nboard: {name: a, device: b}\nlicence: MIT").problems
    )
    assert "'faults' is missing; add it" in found
    assert "'complaints' is missing; add it" in found


def test_a_section_that_is_no_group_of_names(told):
    found = told(
        ("instruments:\n  leak-jig: Holds the board under water pressure.", "instruments: [leak-jig]")
    )
    assert "instruments: names with values are expected here" in found[0]


WORDS = st.sampled_from(
    ["normal", "rail", "12 min", "97 %", "not x", "like normal", "{a: b}", "[a, b]", "{}", "[]", "", "~", "'x'", "1e999", "-1", "NaN", "*", "&a", "OL", "a, b", "{rail: {}}", "unlisted", "0", "€"]
)  # fmt: skip


@given(st.data())
@settings(max_examples=150, deadline=None)
def test_no_changed_value_does_more_than_make_problems(data):
    lines = SAMPLE.splitlines()
    for _ in range(data.draw(st.integers(1, 4))):
        place = data.draw(st.integers(0, len(lines) - 1))
        head = lines[place].split(":")[0]
        lines[place] = data.draw(st.sampled_from(["", f"{head}: ", f"{head}:\n      "])) + data.draw(WORDS)
    read = read_book("\n".join(lines))
    assert (read.book is None) == any(problem.severity is Severity.ERROR for problem in read.problems)
    assert set(review(read)) >= set(read.problems)


KEYS = st.sampled_from(
    ["book", "board", "licence", "setups", "conditions", "checks", "faults", "fixes", "complaints", "takes", "needs", "reads", "shows", "causes", "cures", "states", "only after", "retest", "seen", "intermittent", "wire", "parts", "picture", "at", "x"]
)  # fmt: skip
TREES = st.recursive(
    st.sampled_from(["1", "a", "x", "5 min", "50 %", "{", "2 of 3", "", "é"]) | st.none(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=5),
    max_leaves=25,
)


def flow(tree):
    if isinstance(tree, dict):
        return "{" + ", ".join(f"{key}: {flow(value)}" for key, value in tree.items()) + "}"
    if isinstance(tree, list):
        return "[" + ", ".join(flow(value) for value in tree) + "]"
    return "" if tree is None else f"'{tree}'"


@given(st.dictionaries(KEYS, TREES, max_size=8))
@settings(max_examples=200, deadline=None)
def test_no_tree_of_the_right_keys_does_more_than_make_problems(tree):
    text = "\n".join(f"{key}: {flow(value)}" for key, value in tree.items())
    read = read_book(text)
    assert read.problems
    assert all(str(problem).startswith("book.yaml") for problem in read.problems)


@given(st.text(max_size=60))
@settings(max_examples=150, deadline=None)
def test_no_text_at_all_does_more_than_make_problems(text):
    assert read_book(text).book is None
