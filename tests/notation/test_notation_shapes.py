"""Shapes of text files, and their errors in plain words."""

from pydantic import Field

from benchlore.notation import Positions, Severity, load_yaml
from benchlore.notation.findings import Findings, in_order, way
from benchlore.notation.scalars import Minutes, Name, Names, Text
from benchlore.notation.shapes import Shape, aliases, read_shape, schema_of


class PegShape(Shape):
    """A peg."""

    takes: Minutes = Field(description="Time.", examples=["6 min"])
    from_: Text = Field("", description="Start.")


class BoxShape(Shape):
    """A box."""

    only_after: Names = Field((), description="Before.")
    peg: PegShape | None = Field(None, description="A peg.")
    pegs: dict[Name, PegShape] = Field(default_factory=dict, description="Pegs.")
    rows: tuple[PegShape, ...] = Field((), description="Rows.")


def said(text):
    document = load_yaml(text, "f.yaml")
    findings = Findings(document.positions)
    shape = read_shape(BoxShape, document.data, (), findings)
    assert (shape is None) == bool(findings.problems)
    return [str(problem).removeprefix("f.yaml:") for problem in findings.in_order()]


def test_fields_are_written_with_spaces():
    assert aliases(BoxShape) == ("only after", "peg", "pegs", "rows")
    assert aliases(PegShape) == ("takes", "from")
    assert said("only after: a\npeg: {takes: 1 min, from: x}") == []


def test_an_empty_value_is_absent():
    assert said("only after:\npeg:\npegs: ~") == []


def test_unknown_keys_are_told_at_any_depth_with_the_nearest_one():
    assert said("peg: {takes: 1, form: x}") == [
        "1:17: error: peg: unknown key 'form'; did you mean 'from'? [unknown-key]"
    ]
    assert said("pegs: {a: {takes: 1, zzz: x}}") == [
        "1:22: error: pegs › a: unknown key 'zzz'; there are 'takes' and 'from' [unknown-key]"
    ]
    assert said("rows: [{takes: 1, zzz: x}]") == [
        "1:19: error: rows › item 1: unknown key 'zzz'; there are 'takes' and 'from' [unknown-key]"
    ]


def test_a_mistyped_key_is_not_missing_besides():
    assert said("peg: {take: 1 min}") == [
        "1:7: error: peg: unknown key 'take'; did you mean 'takes'? [unknown-key]"
    ]


def test_a_piece_of_text_behind_a_comma_is_recognised():
    assert said("peg: {takes: 1, from: lift, then put it down}") == [
        "1:29: error: peg: unknown key 'then put it down'; a text with a comma in it needs quotes [unknown-key]"
    ]


def test_missing_keys_are_placed_at_their_group_or_where_they_are_empty():
    assert said("\npeg: {from: x}") == [
        "2:1: error: peg: 'takes' is missing; add it, such as 'takes: 6 min' [missing]"
    ]
    assert said("peg:\n  takes:\n") == [
        "2:3: error: peg: 'takes' is missing; add it, such as 'takes: 6 min' [missing]"
    ]


def test_wrong_kinds_are_told_with_what_stands_there():
    assert said("peg: x") == [
        "1:1: error: peg: names with values are expected here ('name: value'), not 'x' [bad-value]"
    ]
    assert said("pegs: [a]") == [
        "1:1: error: pegs: names with values are expected here ('name: value'), not a list [bad-value]"
    ]
    assert said("rows: {a: b}") == [
        "1:1: error: rows: a list is expected here, such as [first, second], not the names 'a' [bad-value]"
    ]
    assert said("pegs: {a: }") == [
        "1:8: error: pegs › a: names with values are expected here ('name: value'), not nothing [bad-value]"
    ]


def test_bad_names_are_told_at_the_name():
    assert said("pegs: {Peg A: {takes: 1}}") == [
        "1:8: error: pegs › Peg A: 'Peg A' is no name; use lower-case letters, digits and single hyphens; did you mean 'peg-a'? [bad-value]"
    ]


def test_findings_are_ordered_by_line_and_told_once():
    findings = Findings(Positions("f.yaml", load_yaml("a: 1\nb: 2", "f.yaml").positions.places))
    findings.warning(("b",), "r", "second")
    findings.error(("a",), "r", "first")
    findings.error(("a",), "r", "first")
    assert [problem.message for problem in findings.in_order()] == ["a: first", "b: second"]
    assert findings.has_errors
    assert in_order([]) == ()


def test_warnings_are_no_errors():
    findings = Findings(Positions("f.yaml"))
    findings.warning((), "r", "m")
    assert not findings.has_errors
    assert findings.problems[0].severity is Severity.WARNING


def test_the_way_to_a_value_is_in_words():
    assert way(("checks", "a", "needs", 0)) == "checks › a › needs › item 1"


def test_a_shape_describes_itself():
    schema = schema_of(BoxShape, "Box")
    assert schema["title"] == "Box"
    assert schema["properties"]["only after"]["description"] == "Before."
    assert schema["$defs"]["PegShape"]["title"] == "Peg"
    assert "title" not in schema["properties"]["peg"]
