"""The shape that editors are told, as JSON Schema."""

from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from ruamel.yaml import YAML
from sorrel import changed

from benchlore.book import json_schema

MANUAL = Path(__file__).parents[2] / "docs" / "book.md"


def as_editors_read(text):
    """YAML 1.2 with its own types, as an editor's schema checker sees it."""
    return YAML(typ="safe", pure=True).load(text)


def objections(text):
    return [error.message for error in Draft202012Validator(json_schema()).iter_errors(as_editors_read(text))]


def test_the_schema_is_valid_and_names_its_dialect():
    schema = json_schema()
    Draft202012Validator.check_schema(schema)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"


def test_the_sample_and_the_manuals_book_are_accepted(sample):
    assert objections(sample) == []
    assert objections(MANUAL.read_text(encoding="utf-8").split("```yaml\n")[1].split("```")[0]) == []


@pytest.mark.parametrize(
    "change",
    [
        ("takes: 12 min", "take: 12 min"),
        ("book: 1", "book: 2"),
        ("reads: valve", "reads: The Valve"),
        ("measures: voltage", "measures: volts"),
        ("licence: CC-BY-SA-4.0\n", ""),
        ("results: [hum, silence]", "results: {hum: 1}"),
        ("{takes: 5 min}", "{takes: 5 min, cautions: [fire]}"),
    ],
)
def test_mistakes_are_objected_to(change):
    assert objections(changed(change))


@pytest.mark.parametrize(
    "change",
    [
        ("{rail-ohms: not shorted}", "[rail-ohms, {listen: hum}]"),
        ("{rail-ohms: not shorted}", "rail-ohms"),
        ("how: Both leads on J2.", "how: Both leads on J2.\n    picture: {file: x.svg, at: [1, 2.5]}"),
        ("how: Both leads on J2.", "how: Both leads on J2.\n    picture: x.svg"),
        ("title: No water", "title: No water\n    intermittent: 25 min"),
        ("takes: 5 min", "takes: 5, cautions: lithium"),
    ],
)
def test_short_ways_of_writing_are_accepted(change):
    assert objections(changed(change)) == []


def test_every_field_of_every_group_is_described():
    def groups(schema):
        yield schema["properties"]
        yield from (each["properties"] for each in schema["$defs"].values())

    silent = [
        name
        for group in groups(json_schema())
        for name, field in group.items()
        if not field.get("description")
    ]
    assert silent == []
    assert all(each["description"] for each in json_schema()["$defs"].values())


def test_every_key_is_explained_in_the_manual():
    schema = json_schema()
    keys = {name for each in (schema, *schema["$defs"].values()) for name in each["properties"]}
    manual = MANUAL.read_text(encoding="utf-8")
    assert [key for key in sorted(keys) if f"`{key}`" not in manual] == []


def test_every_instrument_skill_and_caution_is_listed_in_the_manual():
    from benchlore.book import STANDARD_INSTRUMENTS, STANDARD_SKILLS, Hazard

    manual = MANUAL.read_text(encoding="utf-8")
    names = [*STANDARD_INSTRUMENTS, *STANDARD_SKILLS, *Hazard]
    assert [name for name in names if f"`{name}`" not in manual] == []


def test_the_manuals_book_is_sound_and_above_doubt():
    from benchlore.book import read_book, review

    text = MANUAL.read_text(encoding="utf-8").split("```yaml\n")[1].split("```")[0]
    assert review(read_book(text, name="halden-t4")) == ()
