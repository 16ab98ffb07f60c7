"""Markdown of a skills page to safe HTML.

The text is hostile until parsed: HTML in it is shown as text, links lead to the web (http, https), to
another page, or to a heading of this one; pictures are not shown. Syntax: CommonMark 0.31 and tables.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final
from urllib.parse import unquote, urlsplit

from markdown_it import MarkdownIt
from markdown_it.token import Token

_PAGE: Final = re.compile(r"[a-z0-9][a-z0-9-]*\.md(#[\w-]+)?")
_PLACE: Final = re.compile(r"#[\w-]+")
_HTML: Final = re.compile(r"<[A-Za-z/!?]")
MOST_NESTED: Final = 20


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading: its level from 2 on, its place in the page, its words."""

    level: int
    place: str
    title: str


@dataclass(frozen=True, slots=True)
class SkillLink:
    """A link as it was written, and the line of the text in which its paragraph begins."""

    target: str
    line: int
    is_refused: bool


@dataclass(frozen=True, slots=True)
class SkillText:
    """A page's text, set: HTML that may stand in a page as it is."""

    html: str
    headings: tuple[Heading, ...]
    links: tuple[SkillLink, ...]
    html_lines: tuple[int, ...]

    @property
    def places(self) -> frozenset[str]:
        """Where in the page a link can lead."""
        return frozenset(heading.place for heading in self.headings)


def skill_text(text: str) -> SkillText:
    r"""Set Markdown.

    >>> skill_text("Press *lightly*. <b>").html
    '<p>Press <em>lightly</em>. &lt;b&gt;</p>\n'
    >>> skill_text("[x](javascript:alert)").links[0].is_refused
    True
    """
    parser = _Parser("commonmark", {"html": False, "maxNesting": MOST_NESTED})
    parser.enable("table")
    parser.disable(["image", "html_block", "html_inline"])
    tokens = parser.parse(text)
    links = tuple(_links(tokens))
    headings = tuple(_headings(tokens))
    html = parser.renderer.render(tokens, parser.options, {})
    lines = tuple(number for number, line in enumerate(text.split("\n"), 1) if _HTML.search(line))
    return SkillText(html, headings, links, _outside_code(lines, tokens))


class _Parser(MarkdownIt):
    """Takes every link as one: they are judged afterwards, so that review can name the refused ones."""

    def validateLink(self, url: str) -> bool:  # noqa: ARG002, N802  the base class's signature
        """Take it."""
        return True


def is_allowed(target: str) -> bool:
    """Whether a link leads to the web, to another page of the skills, or to a place in this one."""
    if _PAGE.fullmatch(target) or _PLACE.fullmatch(target):
        return True
    if not target.isprintable() or "\\" in target:
        return False
    try:
        parts = urlsplit(target)
    except ValueError:
        return False
    return parts.scheme in {"http", "https"} and bool(parts.hostname) and "@" not in parts.netloc


def _links(tokens: Sequence[Token]) -> list[SkillLink]:
    """Judge the links; a refused one loses its address, a link to a page leads to the page as it is set."""
    found: list[SkillLink] = []
    for block in tokens:
        for token in block.children or ():
            if token.type != "link_open":
                continue
            target = unquote(str(token.attrs.get("href", "")))
            written = str(token.attrs.get("href", ""))
            allowed = is_allowed(written)
            found.append(SkillLink(target, block.map[0] + 1 if block.map else 1, is_refused=not allowed))
            token.attrs.pop("title", None)
            if not allowed:
                del token.attrs["href"]
            elif _PAGE.fullmatch(written):
                token.attrs["href"] = written.replace(".md", ".html", 1)
            elif not written.startswith("#"):
                token.attrs["rel"] = "noopener noreferrer"
    return found


def _headings(tokens: Sequence[Token]) -> list[Heading]:
    """Give every heading a place of its own; the page's title is the only heading of level 1."""
    found: list[Heading] = []
    taken = {"main"}  # every page has that already
    for start, inside, end in zip(tokens, tokens[1:], tokens[2:], strict=False):
        if start.type != "heading_open":
            continue
        level = max(int(start.tag[1]), 2)
        title = "".join(child.content for child in inside.children or () if child.type != "softbreak")
        base = re.sub(r"[\W_]+", "-", title.casefold()).strip("-") or "part"
        place = next(name for name in _numbered(base) if name not in taken)
        taken.add(place)
        start.tag = end.tag = f"h{level}"
        start.attrs["id"] = place
        found.append(Heading(level, place, title))
    return found


def _numbered(base: str) -> Sequence[str]:
    return [base, *(f"{base}-{number}" for number in range(2, 10_000))]


def _outside_code(lines: Sequence[int], tokens: Sequence[Token]) -> tuple[int, ...]:
    """Keep the lines that lie in no block of code, where '<' is what it is."""
    code = [token.map for token in tokens if token.type in {"fence", "code_block"} and token.map]
    return tuple(line for line in lines if not any(first < line <= last for first, last in code))
