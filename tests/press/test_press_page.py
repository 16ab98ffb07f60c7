import re
from html.parser import HTMLParser
from xml.etree import ElementTree as ET

import pytest
from jinja2 import UndefinedError
from press_samples import HOSTILE, picture

from benchlore.book import GENERAL_CAUTION
from benchlore.press import Column, ReportPage, Section, Table, report_html
from benchlore.press.page import environment
from benchlore.press.text import printable
from benchlore.press.theme import DARK, LIGHT, ROLES

HTML = "{http://www.w3.org/1999/xhtml}"
VOID = {"meta", "link", "br"}
COSTS = Table(
    "Cost of a job, in EUR",
    (Column("Way"), Column("mean", "number"), Column("jobs", "number")),
    (("This procedure", "51.18", "162"), ("The bench", "186.0 *", "1,162"), ("Fixes alone", "7", "–")),
)
REPORT = ReportPage(
    title="Proof: Halden T4",
    lead="On 163 jobs the procedure found the fault for 51.18 EUR a job.",
    sections=(
        Section("Costs", ("The jobs were split into five folds.",), picture("spreads"), COSTS, "In EUR."),
        Section("Forecasts", picture=picture("reliability")),
        Section(
            "Records", table=Table("To come", (Column("Record"),), ()), parts=(Section("More", ("Text.",)),)
        ),
        Section("One job", cautions=("Hot air burns skin.",)),
    ),
    facts=(("Board", "Halden T4 main board"),),
    cautions=("Lithium cell: unplug it.",),
    licence="This report may be used under CC-BY-SA-4.0.",
    credits=("Ines Okafor: investigation",),
)


def parsed(page=REPORT):
    return ET.fromstring(report_html(page))


def every(root, tag):
    return list(root.iter(HTML + tag))


def text_of(element):
    return " ".join("".join(element.itertext()).split())


class Nesting(HTMLParser):
    """Reads HTML as browsers do, without their forgiveness for what is not closed or closed twice."""

    def __init__(self):
        super().__init__()
        self.open = []

    def handle_starttag(self, tag, attrs):
        assert not (self.open and self.open[-1] == "p" and tag in {"p", "ul", "div", "table", "section"}), tag
        assert len(dict(attrs)) == len(attrs), f"{tag} has an attribute twice"
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, _attrs):
        assert tag in VOID or "svg" in self.open, tag

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def test_a_page_is_well_formed_as_html_and_as_xml():
    page = report_html(REPORT)
    assert page.startswith("<!DOCTYPE html>\n<html lang=")
    reader = Nesting()
    reader.feed(page)
    reader.close()
    assert reader.open == []
    assert parsed().get("lang") == "en"


def test_a_page_needs_nothing_from_elsewhere():
    page = report_html(REPORT)
    assert set(re.findall(r"https?://[^\"]*", page)) == {
        "http://www.w3.org/1999/xhtml",
        "http://www.w3.org/2000/svg",
    }
    assert "<script" not in page
    assert "@import" not in page
    assert "url(" not in page
    root = parsed()
    assert not {element.tag.rpartition("}")[2] for element in root.iter()} & {
        "script",
        "img",
        "iframe",
        "object",
    }
    targets = [element.get("href") for element in root.iter() if element.get("href")]
    assert all(target.startswith("#") or target == "data:," for target in targets)


def test_links_within_a_page_lead_to_places_that_are_there_once():
    root = parsed()
    places = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(set(places)) == len(places)
    for element in root.iter():
        if (element.get("href") or "").startswith("#"):
            assert element.get("href")[1:] in places
        if element.get("aria-labelledby"):
            assert element.get("aria-labelledby") in places


def test_a_page_has_its_landmarks_and_a_way_past_them():
    root = parsed()
    assert [len(every(root, tag)) for tag in ("header", "nav", "main", "footer", "h1")] == [1, 1, 1, 1, 1]
    first = root.find(HTML + "body")[0]
    assert (first.tag, first.get("href")) == (HTML + "a", "#main")
    assert [text_of(link) for link in every(every(root, "nav")[0], "a")] == [
        section.heading for section in REPORT.sections
    ]


def test_headings_go_down_one_level_at_a_time():
    levels = [
        int(element.tag[-1]) for element in parsed().iter() if re.fullmatch(HTML + "h[1-6]", element.tag)
    ]
    assert levels == [1, 2, 2, 2, 3, 2, 2]


def test_few_sections_need_no_contents():
    assert every(parsed(ReportPage("A", "B", REPORT.sections[:2])), "nav") == []


def test_cautions_stand_first_on_the_page_and_in_their_section():
    root = parsed()
    notes = [element for element in root.iter() if element.get("role") == "note"]
    assert text_of(notes[0]) == f"Caution. {GENERAL_CAUTION} Lithium cell: unplug it."
    assert every(root, "main")[0][0] is notes[0]
    assert text_of(notes[1]) == "Caution. Hot air burns skin."
    section = next(section for section in every(root, "section") if notes[1] in list(section))
    assert section[0].tag == HTML + "h2"
    assert list(section).index(notes[1]) == 1


def test_every_page_has_the_general_caution_and_the_line_of_its_maker():
    root = parsed(ReportPage("A", "B", ()))
    assert GENERAL_CAUTION in text_of(root)
    assert text_of(every(root, "footer")[0]) == "Made with benchlore."


def test_licence_and_credits_stand_in_the_footer():
    footer = text_of(every(parsed(), "footer")[0])
    assert footer == (
        "Credits Ines Okafor: investigation This report may be used under CC-BY-SA-4.0. Made with benchlore."
    )


def test_tables_name_their_rows_and_columns():
    table = every(parsed(), "table")[0]
    assert text_of(every(table, "caption")[0]) == COSTS.caption
    heads = every(table, "th")
    assert [head.get("scope") for head in heads] == ["col"] * 3 + ["row"] * 3
    assert [head.get("class") for head in heads[:3]] == [None, "number", "number"]


def test_numbers_stand_in_line_at_their_points_and_are_read_as_written():
    rows = every(every(parsed(), "tbody")[0], "tr")
    seen = [[text_of(cell) for cell in row] for row in rows]
    assert [row[1] for row in seen] == ["51.18", "186.00 *", "7.00"]
    assert [row[2] for row in seen] == ["162", "1,162", "–"]
    unseen = [[text_of(pad) for pad in every(row, "span")] for row in rows]
    assert unseen == [[], ["0"], [".00"]]
    assert all(pad.get("aria-hidden") == "true" for pad in every(parsed(), "span"))


def test_a_table_without_rows_says_so():
    assert "Nothing to list yet." in text_of(every(parsed(), "table")[1])


def test_a_row_that_does_not_fit_its_table_is_refused():
    with pytest.raises(ValueError, match="table “Costs”: row 2 has 1 cells, not 2"):
        Table("Costs", (Column("Way"), Column("EUR")), (("a", "1"), ("b",)))


def test_pictures_stand_in_both_widths_under_their_title():
    figure = every(parsed(), "figure")[0]
    assert text_of(every(figure, "figcaption")[0]) == picture("spreads").title
    assert picture("spreads").wide in report_html(REPORT)
    assert picture("spreads").narrow in report_html(REPORT)


def test_hostile_text_is_escaped_wherever_it_stands():
    table = Table(
        HOSTILE, (Column(HOSTILE), Column(HOSTILE, "number")), ((HOSTILE, HOSTILE), (HOSTILE, "1.5<b>"))
    )
    section = Section(
        HOSTILE, (HOSTILE,), picture("hostile belief"), table, HOSTILE, (HOSTILE,), (Section(HOSTILE),) * 2
    )
    page = ReportPage(
        HOSTILE,
        HOSTILE,
        (section,) * 3,
        ((HOSTILE, HOSTILE),),
        (HOSTILE,),
        HOSTILE,
        (HOSTILE,),
        HOSTILE,
        '"><b>',
    )
    text = report_html(page)
    assert "<script" not in text
    assert "<b>" not in text
    root = ET.fromstring(text)
    assert every(root, "script") == []
    assert every(root, "h1")[0].text == printable(HOSTILE)
    assert root.get("lang") == '"><b>'


def test_both_colour_schemes_are_in_the_page_and_recolour_its_pictures():
    page = report_html(REPORT)
    light, dark = page.split("@media screen and (prefers-color-scheme: dark)", 1)
    for role in ROLES:
        assert f"--{role}: {getattr(LIGHT, role)};" in light
        assert f"--{role}: {getattr(DARK, role)};" in dark
    assert f'.picture [fill="{LIGHT.copper}"] {{ fill: var(--copper); }}' in page
    assert f'.picture [stroke="{LIGHT.teal}"] {{ stroke: var(--teal); }}' in page


def test_the_style_sheet_has_no_colour_beside_the_palette():
    style = environment().get_template("page.css").render()
    assert re.findall(r"#[0-9a-fA-F]{3,8}\b|rgba?\(|hsla?\(", style) == []
    assert set(re.findall(r"var\(--(\w+)\)", style)) <= set(ROLES)


def test_equal_reports_give_equal_text():
    assert report_html(REPORT) == report_html(REPORT)


def test_a_name_that_a_template_gets_wrong_is_an_error():
    with pytest.raises(UndefinedError, match="'nothing' is undefined"):
        environment().from_string("{{ nothing }}").render()
