"""Credits: CRediT's roles, ORCID's check digit, people over books and pages, shops that allow to be named."""

from dataclasses import replace
from datetime import date

import pytest

from benchlore.book import ROLES, credit_role, read_book, role_address
from benchlore.jobs import Job, Store
from benchlore.library import Allowed, BookPeople, LibraryFileError, credits_of, open_library, public_names


def test_the_roles_are_those_of_the_standard():
    """ANSI/NISO Z39.104-2022, section 3: fourteen roles (credit.niso.org lists them, from memory)."""
    assert len(set(ROLES)) == 14
    assert role_address("Conceptualization") == "https://credit.niso.org/contributor-roles/conceptualization/"
    assert role_address("Writing – review & editing").endswith("/writing-review-editing/")


@pytest.mark.parametrize("role", ROLES)
def test_a_role_means_itself_however_its_dash_is_written(role):
    assert {
        credit_role(role),
        credit_role(role.upper()),
        credit_role(role.replace("–", "-").replace("&", "and")),
    } == {role}


@pytest.mark.parametrize(
    ("orcid", "is_sound"),
    [
        ("0000-0002-1825-0097", True),  # ORCID's own example (Josiah Carberry, support.orcid.org)
        ("0000-0001-5109-3700", True),  # ORCID's page on the structure of the identifier
        ("0000-0002-1694-233X", True),  # the same, with X for ten
        ("0000-0002-1825-0098", False),
        ("0000-0002-1694-2330", False),
        ("0000-0001-5019-3700", False),  # two digits exchanged
    ],
)
def test_an_orcid_is_taken_by_its_check_digit(library, orcid, is_sound):
    text = library.book_file("my-board").read_text()
    people = f"people:\n  a: {{name: A, roles: [writing], orcid: {orcid}}}\n"
    read = read_book(_with_people(text, people), name="my-board")
    assert (read.book is not None) == is_sound


def test_people_are_credited_over_books_and_pages(library):
    path = library.book_file("my-board")
    path.write_text(
        _with_people(
            path.read_text(),
            "people:\n  a: {name: Ada B, roles: [measuring, brewing], orcid: 0000-0002-1825-0097}\n",
        )
    )
    library.skills.mkdir()
    (library.skills / "looking.md").write_text(
        "---\nskill: 1\ntitle: Looking\nsources: [{title: X}]\npeople: {x: {name: Ada B, roles: [writing]}}\n---\n## A\n"
    )
    book = read_book(path.read_text(), name="my-board").book
    books = [BookPeople("my-board", book.board.title, tuple(book.people.values()))]
    (person,) = credits_of(library, books).people
    assert (person.name, person.orcid) == ("Ada B", "0000-0002-1825-0097")
    assert person.roles == ("Investigation", "Writing – original draft")
    assert [(each.kind, each.name, each.other) for each in person.contributions] == [
        ("book", "my-board", ("brewing",)),
        ("skill", "looking", ()),
    ]


def test_only_shops_that_allow_it_are_named(library):
    (library.folder / "library.yaml").write_text(
        "library: 1\nname: L\nlicence: CC0-1.0\nrecords:\n  One Ltd: {publish: yes, name: One}\n  Two: {publish: yes}\n  Three: {publish: no, name: Three}\n"
    )
    job = Job("One Ltd", "7", "my-board", "no-power", date(2026, 3, 4))
    with Store.open(library.store) as store:
        store.add([job, replace(job, shop="Two"), replace(job, shop="Three"), replace(job, shop="Four")])
    made = credits_of(open_library(library.folder), [])
    assert [(shop.name, shop.jobs) for shop in made.shops] == [("One", 1)]
    assert made.unnamed == 3


def test_names_given_once_are_given_again():
    allowed = {
        "B": Allowed(publish=True),
        "A": Allowed(publish=True),
        "C": Allowed(publish=True, name="Sea"),
        "D": Allowed(),
    }
    names = public_names(allowed)
    assert names == {"C": "Sea", "A": "shop-001", "B": "shop-002"}
    again = {names[shop]: each for shop, each in allowed.items() if each.publish}
    assert public_names(again) == {name: name for name in names.values()}


@pytest.mark.parametrize(
    "records",
    [
        "[a]",
        "{A: {publish: maybe}}",
        "{A: {pubish: yes}}",
        "{A: {publish: yes, name: X}, B: {publish: yes, name: X}}",
    ],
)
def test_records_that_cannot_be_understood_are_refused(library, records):
    (library.folder / "library.yaml").write_text(f"library: 1\nname: L\nrecords: {records}\n")
    with pytest.raises(LibraryFileError):
        open_library(library.folder)


def _with_people(text, people):
    lines = text.split("\n")
    start = next(n for n, line in enumerate(lines) if line.startswith("people:"))
    end = next(n for n in range(start + 1, len(lines)) if lines[n] and not lines[n].startswith((" ", "#")))
    return "\n".join([*lines[:start], people, *lines[end:]])
