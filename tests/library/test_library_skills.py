"""Skills pages: hostile text stays text, links lead where they may, review finds what is lacking."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchlore.library import read_skill, review_library, skill_text, skills_of
from benchlore.notation import Severity

HEAD = "---\nskill: 1\ntitle: Looking\nsources: [{title: A handbook}]\nhazards: [static]\n---\n"


def found(text, **options):
    read = read_skill(text, file="skills/looking.md", name="looking", **options)
    return [
        (str(problem.severity), problem.rule, problem.position.line if problem.position else 0)
        for problem in read.problems
    ]


def test_a_sound_page_is_read():
    skill = read_skill(HEAD + "\n## Light\n\nFrom the *side*.\n", file="x", name="looking").skill
    assert skill.title == "Looking"
    assert [str(hazard) for hazard in skill.hazards] == ["static"]
    assert skill.text.html == '<h2 id="light">Light</h2>\n<p>From the <em>side</em>.</p>\n'


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("no head", [("error", "no-head", 0)]),
        (HEAD.replace("sources: [{title: A handbook}]\n", "") + "## A\n", [("warning", "no-source", 2)]),
        (HEAD.replace("static", "dragons") + "## A\n", [("error", "bad-value", 5)]),
        (HEAD + "## A\n\n[x](gone.md)\n", [("error", "broken-link", 9)]),
        (HEAD + "## A\n\n[x](#b)\n", [("error", "broken-link", 9)]),
        (HEAD + "## A\n\n[x](javascript:alert(1))\n", [("error", "bad-link", 9)]),
        (HEAD + "## A\n\n[x](../../etc/passwd)\n", [("error", "bad-link", 9)]),
        (HEAD + "## A\n\n<b>x</b>\n", [("warning", "html", 9)]),
        (HEAD + "text\n", [("note", "no-heading", 6)]),
        (HEAD + "## A\n\n[x](other.md) [y](#a) [z](https://a.example/b?c=d)\n", []),
    ],
)
def test_review_finds_what_is_wrong_with_its_line(text, expected):
    assert found(text, known=frozenset({"other"})) == expected


@pytest.mark.parametrize(
    "target",
    [
        "javascript:alert(1)",
        "JaVaScRiPt:x",
        "data:text/html,x",
        "vbscript:x",
        "//a.example/x",
        "file:///etc/passwd",
        "/x.html",
        "../x.md",
        "https://u:p@a.example",
        "&#106;avascript:x",
        "x.md\\..",
        "http:x",
    ],
)
def test_a_link_that_leads_elsewhere_has_no_address(target):
    assert "href" not in skill_text(f"[x](<{target}>)").html


def test_html_and_pictures_are_never_passed_on():
    html = skill_text(
        '<script>x</script>\n\n<img src=x onerror=y>\n\n![a](https://a.example/p.png "t")\n\n[a]: <b>\n'
    ).html
    assert set(re.findall(r"<(/?\w+)", html)) <= {"p", "/p", "a", "/a"}
    assert "<img" not in html
    assert "<script" not in html


@settings(max_examples=150)
@given(
    st.text(
        alphabet=st.sampled_from(list("<>&\"'[]()!#*_`-:/\\ abjs.\n|~")) | st.characters(codec="utf-8"),
        max_size=80,
    )
)
def test_whatever_the_text_only_tags_of_ours_come_out(text):
    html = skill_text(text).html
    tags = re.findall(r"<(/?)(\w+)([^>]*)>", html)
    allowed = {
        "p",
        "a",
        "em",
        "strong",
        "code",
        "pre",
        "ul",
        "ol",
        "li",
        "blockquote",
        "hr",
        "br",
        "table",
        "thead",
        "tbody",
        "tr",
        "th",
        "td",
        *(f"h{n}" for n in range(2, 7)),
    }
    assert {name for _, name, _ in tags} <= allowed
    assert all(not re.search(r"\bon\w+=|style=\"(?!text-align)", rest) for _, _, rest in tags)


def test_headings_have_places_of_their_own_below_the_title():
    text = skill_text("# Same\n\n## Same\n\n### 漢字\n")
    assert [(each.level, each.place) for each in text.headings] == [(2, "same"), (2, "same-2"), (3, "漢字")]


def test_a_page_that_is_too_big_is_a_finding(library):
    library.skills.mkdir()
    (library.skills / "long.md").write_text(HEAD + "x" * 200_001)
    reviewed = review_library(library)[-1]
    assert reviewed.what == "skills/long"
    assert [(problem.rule, problem.severity) for problem in reviewed.problems] == [
        ("unreadable", Severity.ERROR)
    ]
    assert skills_of(library) == ()
