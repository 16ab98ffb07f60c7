"""Field types that only fault books have."""

import pytest

from benchlore.book.fields import as_file_name, as_orcid, orcid_check_digit


@pytest.mark.parametrize("orcid", ["0000-0002-1825-0097", "0000-0001-5109-3700", "0000-0002-1694-233X"])
def test_identifiers_that_orcid_prints_as_examples_are_accepted(orcid):
    # ORCID help pages, "Structure of the ORCID identifier": sample identifiers, from memory.
    assert as_orcid(orcid) == orcid
    assert as_orcid(f"https://orcid.org/{orcid}") == orcid


def test_a_slip_in_any_digit_of_an_orcid_is_noticed():
    right = "0000-0002-1825-0097"
    for place, digit in enumerate(right):
        if digit != "-":
            wrong = right[:place] + str((int(digit) + 1) % 10) + right[place + 1 :]
            with pytest.raises(ValueError, match="its check digit is wrong"):
                as_orcid(wrong)


@pytest.mark.parametrize(
    "text", ["0000-0002-1825", "0000000218250097", "0000-0002-1825-009x", "٠000-0002-1825-0097", "x"]
)
def test_what_does_not_look_like_an_orcid_is_refused(text):
    with pytest.raises(ValueError, match="it looks like 0000-0002-1825-0097"):
        as_orcid(text)


def test_the_check_digit_may_be_an_x():
    assert orcid_check_digit("000000021694233") == "X"


@pytest.mark.parametrize("name", ["top.svg", "photos/top side.PNG", "a.b.jpg"])
def test_pictures_beside_the_book_are_accepted(name):
    assert as_file_name(name) == name


@pytest.mark.parametrize(
    "name",
    [
        "/etc/x.svg",
        "../x.svg",
        "a/../../x.svg",
        "C:\\x.svg",
        ".x.svg",
        "a/.git/x.svg",
        "x?.svg",
        "http://x/y.svg",
    ],
)
def test_what_leads_out_of_the_books_folder_is_refused(name):
    with pytest.raises(ValueError, match="no file in the book's folder"):
        as_file_name(name)


@pytest.mark.parametrize("name", ["top.pdf", "top", "top.svg.exe"])
def test_what_is_no_picture_is_refused(name):
    with pytest.raises(ValueError, match="no picture that can be shown"):
        as_file_name(name)
