"""Skills pages: what a technician has to be able to do on any board, as Markdown files with a small head.

A page lies in the library's folder ``skills``; between two lines ``---`` its head says in YAML what it is
called, where its claims come from, who wrote it, under which licence, and which hazards it has.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Final
from urllib.parse import urlsplit

from pydantic import Field

from benchlore.book import LICENCES, Hazard, Person, credit_role
from benchlore.book.shape import Hazards, PersonShape
from benchlore.library.errors import NoSkillError
from benchlore.library.folder import Library
from benchlore.library.skill_text import SkillText, skill_text
from benchlore.notation import FileTrouble, Position, Problem, Severity, is_name, load_yaml, quoted, read_text
from benchlore.notation.findings import Findings
from benchlore.notation.scalars import FilledText, Name, Text, described
from benchlore.notation.shapes import Shape, read_shape

FORMAT: Final = "1"
LARGEST: Final = 200_000
"""The most bytes of a page: about seventy printed ones."""

_HEAD: Final = re.compile(r"\A---[ \t]*\n(.*?)^---[ \t]*$\n?", re.DOTALL | re.MULTILINE)


@dataclass(frozen=True, slots=True)
class Basis:
    """What a claim rests on: a standard, a handbook, a page; ``address`` is ``""`` where it has none."""

    title: str
    address: str = ""


@dataclass(frozen=True, slots=True)
class Skill:
    """A skills page; ``name`` is its file's, without the ending."""

    name: str
    title: str
    licence: str
    sources: tuple[Basis, ...]
    people: Mapping[str, Person]
    hazards: tuple[Hazard, ...]
    text: SkillText


@dataclass(frozen=True, slots=True)
class ReadSkill:
    """What reading a page gave: ``skill`` is ``None`` where any problem is an error."""

    skill: Skill | None
    problems: tuple[Problem, ...]


def _format(value: object) -> str:
    if value != FORMAT:
        raise ValueError(f"this reads format 1; write 'skill: {FORMAT}'")
    return FORMAT


def as_web_address(value: object) -> str:
    """Return an address on the web."""
    text = str(value or "")
    parts = urlsplit(text)
    if parts.scheme not in {"http", "https"} or not parts.hostname or not text.isprintable() or " " in text:
        raise ValueError(f"{quoted(text)} is no address on the web; it begins with 'https://'")
    return text


class BasisShape(Shape):
    """What the page's claims rest on."""

    title: FilledText = Field(description="What it is called, as one would ask for it.")
    address: Annotated[str, *described(as_web_address, {"type": "string"})] = Field(
        "", description="Where it stands on the web, if it does."
    )


class SkillShape(Shape):
    """The head of a skills page."""

    skill: Annotated[str, *described(_format, {"const": 1})] = Field(description="The format's version, 1.")
    title: FilledText = Field(description="What the page teaches.")
    licence: Text = Field("", description="Its licence; the library's own where it is left out.")
    sources: tuple[BasisShape, ...] = Field((), description="What its claims rest on.")
    people: dict[Name, PersonShape] = Field(default_factory=dict, description="Who is credited for it.")
    hazards: Hazards = Field((), description="How the work can hurt.")


def skill_names(library: Library) -> tuple[str, ...]:
    """Names of a library's skills pages, sorted."""
    return tuple(sorted(path.stem for path in library.skills.glob("*.md") if path.is_file()))


def read_skill(text: str, *, file: str, name: str, known: frozenset[str] = frozenset()) -> ReadSkill:
    """Read a page; whatever the text is, the answer is a page or problems. ``known`` are all pages' names."""
    head = _HEAD.match(text)
    if head is None:
        message = "a page begins with a head between two lines '---'; see 'benchlore' docs, skills"
        return ReadSkill(None, (Problem(file, None, "no-head", message),))
    document = load_yaml(f"\n{head[1]}", file)  # one line for '---', so that places are the file's own
    findings = Findings(document.positions, list(document.problems))
    if not isinstance(document.data, dict):
        findings.error((), "no-head", "the head has no names with values; it begins with 'skill: 1'")
        return ReadSkill(None, findings.in_order())
    shape = read_shape(SkillShape, document.data, (), findings)
    body = skill_text(text[head.end() :])
    before = text[: head.end()].count("\n")
    _check_body(body, before, known | {name}, findings)
    if not is_name(name):
        findings.error((), "file-name", f"{quoted(name)} is no name; use small letters, digits and '-'")
    if shape is None:
        return ReadSkill(None, findings.in_order())
    _check_head(shape, findings)
    skill = Skill(
        name=name,
        title=shape.title,
        licence=shape.licence,
        sources=tuple(Basis(each.title, each.address) for each in shape.sources),
        people={n: Person(n, each.name, each.roles, each.orcid) for n, each in shape.people.items()},
        hazards=shape.hazards,
        text=body,
    )
    return ReadSkill(None if findings.has_errors else skill, findings.in_order())


def skill_of(library: Library, name: str) -> ReadSkill:
    """Read one of a library's pages; a file that cannot be read is a problem like others."""
    known = skill_names(library)
    if name not in known:
        raise NoSkillError(name, known)
    path = library.skills / f"{name}.md"
    file = library.shown(path)
    try:
        text = read_text(path, most=LARGEST)
    except FileTrouble as trouble:
        return ReadSkill(None, (Problem(file, None, "unreadable", str(trouble)),))
    return read_skill(text, file=file, name=name, known=frozenset(known))


def skills_of(library: Library) -> tuple[Skill, ...]:
    """Return a library's sound pages in the order of their titles."""
    read = (skill_of(library, name).skill for name in skill_names(library))
    return tuple(sorted((each for each in read if each), key=lambda each: (each.title.casefold(), each.name)))


def _check_head(shape: SkillShape, findings: Findings) -> None:
    if not shape.sources:
        message = "no source is named; list under 'sources' what the claims rest on, or say 'common practice'"
        findings.warning((), "no-source", message)
    if shape.licence and shape.licence not in LICENCES:
        message = f"{quoted(shape.licence)} is no licence that is known here; write its SPDX identifier"
        findings.warning(("licence",), "unknown-licence", message)
    for name, person in shape.people.items():
        for place, role in enumerate(person.roles):
            if credit_role(role) is None:
                message = f"{quoted(role)} is none of the 14 roles of CRediT (NISO Z39.104-2022)"
                findings.warning(("people", name, "roles", place), "unknown-role", message)


def _check_body(body: SkillText, before: int, known: frozenset[str], findings: Findings) -> None:
    for link in body.links:
        target = link.target.partition("#")
        line = before + link.line
        if link.is_refused:
            message = f"the link to {quoted(link.target)} is left out; links lead to https:// or another page"
            _add(findings, line, "bad-link", message, Severity.ERROR)
        elif target[0].endswith(".md") and target[0].removesuffix(".md") not in known:
            message = f"there is no page {quoted(target[0])} in this library's skills"
            _add(findings, line, "broken-link", message, Severity.ERROR)
        elif not target[0] and target[2] not in body.places:
            message = f"this page has no heading {quoted('#' + target[2])}"
            _add(findings, line, "broken-link", message, Severity.ERROR)
    if not body.headings:
        _add(findings, before, "no-heading", "the page has no headings ('## …')", Severity.NOTE)
    for number in body.html_lines:
        _add(findings, before + number, "html", "HTML is shown as text; use Markdown", Severity.WARNING)


def _add(findings: Findings, line: int, rule: str, message: str, severity: Severity) -> None:
    findings.problems.append(
        Problem(findings.positions.file, Position(max(line, 1), 1), rule, message, severity)
    )
