"""What is published: whole, escaped, leading nowhere in vain, and true to the standards that it names."""

import csv
import json
import re
from datetime import datetime
from hashlib import sha256
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree as ET

import jsonschema
import pytest
from lxml import etree
from page_reading import elements, ids, is_outside, led_to, loaded, parsed, place_of
from site_samples import EVIL, NOW, SOURCE, files_in

from benchlore.book import CAUTIONS, GENERAL_CAUTION, Hazard
from benchlore.library import kept_procedure, sheet_of
from benchlore.press.site.structured import iso_duration, main_way

DATA = Path(__file__).parent / "data"
HOSTILE = "boards/harbour-3/no-power/index.html"
PROVEN = "boards/my-board/no-power/index.html"


@pytest.fixture(scope="module")
def files(out):
    return files_in(out)


@pytest.fixture(scope="module")
def pages(files):
    """Every page, parsed: a parse error of the HTML standard fails here."""
    return {path: parsed(content.decode()) for path, content in files.items() if path.endswith(".html")}


def text_of(tree):
    skipped = {"script", "style", "svg"}
    parts = []

    def gather(element):
        if not isinstance(element.tag, str) or element.tag.rpartition("}")[2] in skipped:
            parts.append(element.tail or "")
            return
        parts.append(element.text or "")
        for child in element:
            gather(child)
        parts.append(element.tail or "")

    gather(tree)
    return " ".join(" ".join(parts).split())


def structured(tree):
    return [
        json.loads(element.text)
        for element, tag in elements(tree)
        if tag == "script" and element.get("type") == "application/ld+json"
    ]


def test_every_expected_page_is_there(pages):
    assert sorted(pages) == [
        "boards/harbour-3/index.html",
        HOSTILE,
        "boards/my-board/index.html",
        PROVEN,
        "boards/my-board/no-power/proof.html",
        "changes.html",
        "credits.html",
        "index.html",
        "skills.html",
        "skills/ohms.html",
        "skills/zero.html",
    ]


def test_pages_are_well_formed_xml_too(files):
    for path, content in files.items():
        if path.endswith(".html"):
            ET.fromstring(content.decode())


def test_no_id_stands_twice_on_a_page(pages):
    for path, tree in pages.items():
        found = ids(tree)
        assert len(found) == len(set(found)), path


def test_every_link_leads_to_a_file_and_a_place_that_are_there(pages, files):
    for path, tree in pages.items():
        for address in [*led_to(tree), *loaded(tree)]:
            if is_outside(address) or address.startswith("data:"):
                continue
            target, place = place_of(path, address)
            assert target in files, f"{path}: {address}"
            if place:
                assert place in ids(pages[target]), f"{path}: {address}"


def test_drawings_lead_to_steps_that_are_there(pages):
    tree = pages[PROVEN]
    boxes = [
        e.get("href")
        for e, tag in elements(tree)
        if tag == "a" and (e.get("href") or "").startswith("#step-")
    ]
    assert boxes
    assert {box[1:] for box in boxes} <= set(ids(tree))


def test_nothing_is_asked_for_from_elsewhere(pages, files):
    for path, tree in pages.items():
        for address in loaded(tree):
            assert not is_outside(address) or address.startswith("data:"), f"{path}: {address}"
    for path, content in files.items():
        if path.endswith((".css", ".js")):
            assert not re.search(rb"url\(|@import|https?:", content), path


def test_links_that_leave_lead_to_licences_sources_and_people_alone(pages):
    for tree in pages.values():
        away = {address for address in led_to(tree) if is_outside(address)}
        assert {a for a in away if not a.startswith("https://quay.example/lib/")} <= {
            "https://spdx.org/licenses/CC-BY-SA-4.0.html",
            "https://orcid.org/0000-0002-1825-0097",
            SOURCE,
        }


def test_every_page_has_caution_licence_and_language(pages):
    for path, tree in pages.items():
        text = text_of(tree)
        assert GENERAL_CAUTION in text, path
        assert "CC-BY-SA-4.0" in text, path
        assert tree.get("lang") == "en"


def test_people_are_credited_on_every_page_about_a_board(pages):
    assert all(
        "Your name (investigation, writing)" in text_of(pages[path]) for path in pages if "my-board" in path
    )


def test_a_skill_is_told_with_cautions_sources_and_people(pages):
    text = text_of(pages["skills/ohms.html"])
    assert "Ines Okafor (writing)" in text
    assert "A handbook" in text
    assert CAUTIONS[Hazard.MAINS] in text
    assert all("skills.html" in " ".join(led_to(tree)) for tree in pages.values())


def test_credits_name_roles_by_the_standard_and_count_the_jobs_of_shops_that_are_not_named(pages):
    text = text_of(pages["credits.html"])
    assert "Ines Okafor ORCID iD: https://orcid.org/0000-0002-1825-0097" in text
    assert "Writing – original draft" in text
    assert "Shops that are not named: 18 jobs" in text


def test_an_attack_in_a_book_is_text_on_every_page(pages, files):
    for path, tree in pages.items():
        scripts = [e for e, tag in elements(tree) if tag == "script" and not e.get("src")]
        assert {e.get("type") for e in scripts} <= {"application/ld+json", "application/json"}, path
        assert not [
            e for e, tag in elements(tree) if tag == "img" or any(name.startswith("on") for name in e.attrib)
        ]
    assert EVIL in text_of(pages[HOSTILE])
    assert b"<" not in files["looks/findable.js"]


def test_an_attack_in_structured_data_stays_a_text(pages):
    (how_to,) = structured(pages[HOSTILE])
    assert EVIL in how_to["name"]


def test_numbers_and_words_are_those_of_the_library(pages, quay):
    planned = kept_procedure(quay, "my-board", "no-power")
    sheet = sheet_of(planned.procedure, planned.book)
    text = text_of(pages[PROVEN])
    assert sheet.cost in text
    for step in sheet.steps:
        assert " ".join(step.title.split()) in text
        assert all(caution in text for caution in step.cautions)


def test_jumpers_stand_beside_their_fault_with_cautions(pages):
    text = text_of(pages[HOSTILE])
    assert "it carries 20 mA, and may drop 5 mV" in text
    after = text.split("it carries 20 mA", 1)[1]
    assert "Hot surface" in after[:400]


def test_a_procedure_can_be_printed_on_both_papers(pages, files):
    for paper in ("a4", "letter"):
        path = f"boards/my-board/no-power/sheet-{paper}.pdf"
        assert files[path].startswith(b"%PDF-")
        assert f"sheet-{paper}.pdf" in set(led_to(pages[PROVEN]))


def test_a_refused_book_is_listed_with_its_reasons(pages):
    text = text_of(pages["index.html"])
    assert "broken" in text
    assert "cannot read 'soon'" in text


def test_how_to_tells_the_most_likely_way(pages, quay):
    (how_to,) = structured(pages[PROVEN])
    planned = kept_procedure(quay, "my-board", "no-power")
    sheet = sheet_of(planned.procedure, planned.book)
    way = list(main_way(sheet))
    assert how_to["@context"] == "https://schema.org"
    assert how_to["@type"] == "HowTo"
    assert [step["name"] for step in how_to["step"]] == [step.title for step in way]
    assert [step["position"] for step in how_to["step"]] == list(range(1, len(way) + 1))
    assert (
        how_to["step"][0]["url"] == f"https://quay.example/lib/boards/my-board/no-power/#step-{way[0].number}"
    )
    assert how_to["license"] == "https://spdx.org/licenses/CC-BY-SA-4.0.html"
    for before, after in pairwise(way):
        likely = max(before.onward, key=lambda to: to.chance)
        assert likely.step == after.number


# What schema.org knows of each type (schema.org vocabulary, release 29; from memory): those of its own and those
# that it has from Thing, CreativeWork and ListItem, as far as they could be used here.
THING = {"name", "description", "url", "sameAs"}
WORK = THING | {
    "license",
    "creator",
    "inLanguage",
    "isAccessibleForFree",
    "text",
    "position",
    "encodingFormat",
}
SCHEMA_ORG = {
    "HowTo": WORK
    | {"estimatedCost", "performTime", "prepTime", "step", "supply", "tool", "totalTime", "yield"},
    "HowToStep": WORK,
    "HowToTool": THING | {"requiredQuantity", "item", "position"},
    "HowToSupply": THING | {"requiredQuantity", "item", "position", "estimatedCost"},
    "MonetaryAmount": THING | {"currency", "value", "minValue", "maxValue"},
    "Person": THING,
    "Dataset": WORK | {"distribution", "includedInDataCatalog", "variableMeasured"},
    "DataDownload": WORK | {"contentUrl", "contentSize"},
}


def nodes(value):
    if isinstance(value, dict):
        yield value
        for each in value.values():
            yield from nodes(each)
    elif isinstance(value, list):
        for each in value:
            yield from nodes(each)


def test_structured_data_uses_the_words_of_schema_org(pages):
    found = [node for tree in pages.values() for document in structured(tree) for node in nodes(document)]
    assert {node["@type"] for node in found} == SCHEMA_ORG.keys()
    for node in found:
        assert {key for key in node if not key.startswith("@")} <= SCHEMA_ORG[node["@type"]]


@pytest.mark.parametrize(("minutes", "text"), [(15, "PT15M"), (90, "PT1H30M"), (2100, "PT35H"), (0, "PT0M")])
def test_durations_are_written_as_iso_8601_does(minutes, text):
    # ISO 8601-1:2019, 5.5.2.2; PT15M as schema.org's totalTime shows it.
    assert iso_duration(minutes) == text


def test_a_board_offers_its_tables_as_a_dataset(pages, files):
    (dataset,) = structured(pages["boards/my-board/index.html"])
    assert dataset["@type"] == "Dataset"
    for each in dataset["distribution"]:
        assert each["contentUrl"].removeprefix("https://quay.example/lib/") in files


def test_tables_have_the_published_form_of_a_data_package(files):
    profile = json.loads((DATA / "datapackage-2.0.json").read_text())
    package = json.loads(files["boards/my-board/tables/datapackage.json"])
    jsonschema.validate(package, profile)
    for resource in package["resources"]:
        content = files[f"boards/my-board/tables/{resource['path']}"]
        assert resource["bytes"] == len(content)
        assert resource["hash"] == f"sha256:{sha256(content).hexdigest()}"
        head, *rows = csv.reader(content.decode().splitlines())
        assert head == [field["name"] for field in resource["schema"]["fields"]]
        keys = [tuple(row[head.index(name)] for name in resource["schema"]["primaryKey"]) for row in rows]
        assert rows
        assert len(set(keys)) == len(keys)
        for field, column in zip(resource["schema"]["fields"], zip(*rows, strict=True), strict=True):
            read = {"string": str, "number": float, "integer": int}[field["type"]]
            assert all(read(cell) is not None for cell in column if cell)


def test_the_profile_refuses_what_is_no_data_package():
    profile = json.loads((DATA / "datapackage-2.0.json").read_text())
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({"name": "x", "resources": [{"name": "x"}]}, profile)


def test_the_feed_is_atom(files):
    grammar = etree.RelaxNG(etree.parse(DATA / "atom.rng"))
    feed = etree.fromstring(files["feed.xml"])
    assert grammar.validate(feed), grammar.error_log
    atom = "{http://www.w3.org/2005/Atom}"
    found = [element.text for element in feed.iter(f"{atom}id")]
    assert len(set(found)) == 4  # the feed, an edition, two boards; RFC 4287, 4.2.6: permanent and unique
    assert {link.get("rel") for link in feed.findall(f"{atom}link")} == {"alternate", "self"}
    for updated in feed.iter(f"{atom}updated"):
        assert datetime.fromisoformat(updated.text) == NOW


def test_the_grammar_refuses_what_is_no_feed(files):
    grammar = etree.RelaxNG(etree.parse(DATA / "atom.rng"))
    assert not grammar.validate(etree.fromstring(files["feed.xml"].replace(b"updated>", b"changed>")))


def test_the_map_names_every_page_by_its_address(files, pages):
    # sitemaps.org protocol 0.9: urlset of url with loc, absolute, shorter than 2,048 characters, of one host.
    space = "{http://www.sitemaps.org/schemas/sitemap/0.9}"
    root = ET.fromstring(files["sitemap.xml"])
    assert root.tag == f"{space}urlset"
    locations = [url.find(f"{space}loc").text for url in root]
    assert len(locations) == len(pages)
    assert all(each.startswith("https://quay.example/lib/") and len(each) < 2048 for each in locations)
    canonical = {
        e.get("href")
        for tree in pages.values()
        for e, tag in elements(tree)
        if tag == "link" and e.get("rel") == "canonical"
    }
    assert canonical == set(locations)


def test_a_drawing_of_a_book_is_published_without_what_runs(out):
    (drawing,) = (out / "boards" / "harbour-3" / "pictures").glob("top-side-*.svg")
    assert drawing.read_text().strip() == (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 400 300"><rect width="400" height="300" fill="#fff" /></svg>'
    )
